"""Exact waveforms of phase-controlled iron-transformer welding supplies.

The public names below are fetched on first use, so that ``import weldsim`` costs next to nothing:

* ``read``, ``read_text``: a scenario file, or its text, becomes a ``Scenario``;
* ``vary``: the same scenario with some values changed;
* ``perform``: a scenario becomes a ``Run``, the recorded waveforms;
* ``perform_to_file``: the same for a long run, straight into a file, in constant memory;
* ``save_run``, ``open_run``: a run to and from an HDF5 file;
* ``sweep``: many variants of a scenario put to one of them; ``prove``: every comparison with numbers from elsewhere;
* ``preview``, ``characteristic``, ``inrush``, ``drill``, ``strike``, ``breaker``, ``lead`` and the other commands'
  names: the questions, each a function ``ask(scenario, ...)`` that gives an ``Answer``;
* ``page``, ``draw``: an answer's or a run's text and picture, as the command prints and draws them.
"""

import importlib

__version__ = "0.1.0"

_PLACES = {
    "WeldsimError": "weldsim.errors:WeldsimError",
    "read": "weldsim.scenario.reading:read",
    "read_text": "weldsim.scenario.reading:read_text",
    "vary": "weldsim.scenario.vary:vary",
    "perform": "weldsim.runs.perform:perform",
    "perform_to_file": "weldsim.runs.streaming:perform_to_file",
    "open_run": "weldsim.runs.files:open_run",
    "save_run": "weldsim.runs.files:save_run",
    "preview": "weldsim.studies.preview:ask",
    "characteristic": "weldsim.studies.characteristic:ask",
    "setting": "weldsim.studies.setting:ask",
    "share": "weldsim.studies.share:ask",
    "inrush": "weldsim.studies.inrush:ask",
    "drill": "weldsim.studies.press_drill:ask",
    "strike": "weldsim.studies.strike:ask",
    "breaker": "weldsim.studies.breaker:ask",
    "duty": "weldsim.studies.duty:ask",
    "feed": "weldsim.studies.feed:ask",
    "sequence": "weldsim.studies.sequence:ask",
    "spot": "weldsim.studies.spot:ask",
    "lead": "weldsim.studies.lead:ask",
    "mains": "weldsim.studies.mains:ask",
    "generator": "weldsim.studies.generator:ask",
    "meters": "weldsim.studies.meters:ask",
    "identify": "weldsim.studies.identify:ask",
    "compare": "weldsim.studies.compare:ask",
    "taps": "weldsim.studies.taps:ask",
    "prove": "weldsim.studies.prove:ask",
    "weld": "weldsim.studies.weld:ask",
    "choke": "weldsim.studies.choke:ask",
    "sweep": "weldsim.studies.sweep:ask",
    "draw": "weldsim.cli.shown:draw",
    "page": "weldsim.cli.shown:page",
}

__all__ = [
    "WeldsimError",
    "__version__",
    "breaker",
    "duty",
    "characteristic",
    "choke",
    "compare",
    "draw",
    "drill",
    "feed",
    "generator",
    "identify",
    "inrush",
    "lead",
    "mains",
    "meters",
    "open_run",
    "page",
    "perform",
    "perform_to_file",
    "preview",
    "prove",
    "read",
    "read_text",
    "save_run",
    "sequence",
    "setting",
    "share",
    "spot",
    "strike",
    "taps",
    "sweep",
    "vary",
    "weld",
]


def __getattr__(name: str) -> object:
    """Fetch a public name from the module it lives in, once."""
    if name not in _PLACES:
        raise AttributeError(f"module 'weldsim' has no public name {name!r}; there are {', '.join(__all__)}")
    module, _, attribute = _PLACES[name].partition(":")
    value = getattr(importlib.import_module(module), attribute)
    if attribute == "ask" and name != "prove":  # what the command line understands, its keywords do too
        doors = importlib.import_module("weldsim.cli.by_keyword")
        value = doors.sweep_by_keyword(value) if name == "sweep" else doors.by_keyword(name, value)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_PLACES])
