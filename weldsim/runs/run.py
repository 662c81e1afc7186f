"""The handover sheet between simulation and studies: a finished recording.

A ``Run`` holds the sampled waveforms, and beside them what no sampling can spoil: the switch log, the energy ledger and
the table of exact figures.  Nothing here opens a file or draws; see ``weldsim.runs.files`` and ``weldsim.figures``.
"""

import contextlib
import difflib
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import field
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from weldsim.errors import WeldsimError
from weldsim.frozen import dataclass

if TYPE_CHECKING:
    from weldsim.scenario.document import Scenario

CLOSED = 1e-6  # of the energy moved: as much may lack in a ledger before its run is doubted
SPIKED = {"plug.voltage", "phase_control.voltage"}  # by a switch without snubber
LITTLE = 1e-3  # [J] less says nothing of a supply

Event = tuple[float, str, str, str]  # (time [s], element, segment left, segment entered)
Ledger = dict[str, dict[str, float] | float]  # part -> role -> J; "stored" and "residual" may be plain numbers
Table = dict[str, tuple[float, str]]  # name -> (exact figure, unit)


@dataclass(frozen=True)
class ScenarioText:
    """The scenario of a run whose kept text this version cannot read: the text itself, unjudged."""

    title: str
    text: str
    source: str


@dataclass(frozen=True, eq=False)
class Run:
    """A recording: waveforms over ``time`` [s], switchings, energies [J], exact figures, and how it was made.

    ``run["choke.current"]`` gives a waveform; samples are read-only.  The table and the ledger come from the exact
    solution and are never recomputed from samples.
    """

    scenario: "Scenario | ScenarioText"
    time: np.ndarray
    signals: dict[str, np.ndarray]
    units: dict[str, str]
    labels: dict[str, str] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    ledger: Ledger = field(default_factory=dict)
    table: Table = field(default_factory=dict)
    provenance: dict[str, Any] = field(default_factory=dict)  # "command", "created": text; "versions": name -> text
    window: tuple[float, float] = (0.0, 0.0)  # [s] the part that table and ledger speak of

    def __post_init__(self) -> None:
        """Refuse columns that do not belong together, and seal the samples."""
        time = _sealed(self.time, np.float64)
        signals = {name: _sealed(values) for name, values in self.signals.items()}
        for name, values in {"time": time, **signals}.items():
            if values.ndim != 1 or len(values) != len(time):
                raise WeldsimError(
                    f"'{name}' has shape {values.shape}, but there are {len(time)} times",
                    place="run",
                    advice="give every signal one value per time",
                )
        missing = [name for name in signals if name not in self.units]
        if missing:
            raise WeldsimError(f"no unit is given for '{missing[0]}'", place="run", advice="give every signal its unit")
        object.__setattr__(self, "time", time)
        object.__setattr__(self, "signals", signals)

    def __repr__(self) -> str:
        """One line: what a notebook shows of a run, whose contents would fill pages."""
        of, length = self.scenario.source or self.scenario.title, float(self.time[-1]) if len(self.time) else 0.0
        return (
            f"<Run of {of}: {len(self.signals)} waveforms, {len(self.time)} samples up to {length:.4g} s, "
            f"{len(self.events)} switchings, {len(self.table)} exact figures>"
        )

    def __getitem__(self, name: str) -> np.ndarray:
        """The samples of one signal."""
        return self.signals[known_name(name, self.signals)]

    def __contains__(self, name: object) -> bool:
        """Whether a signal of this name was recorded."""
        return name in self.signals

    def __iter__(self) -> Iterator[str]:
        """The names of the signals, in their order."""
        return iter(self.signals)

    @property
    def doubt(self) -> str | None:
        """In words, why the figures of the run are not to be trusted; None where its energy ledger closes to 1e-6."""
        residual, moved = self.ledger.get("residual", 0.0), 0.0
        for part, entry in self.ledger.items():
            entries = entry.values() if isinstance(entry, dict) else [entry] if part == "stored" else []
            moved += sum(abs(energy) for energy in entries)
        if not isinstance(residual, float) or abs(residual) <= CLOSED * max(moved, LITTLE):
            return None
        return (
            f"The energy ledger does not close: {residual:.3g} J of the {moved:.4g} J that moved are unaccounted for, "
            f"a share of {abs(residual) / max(moved, LITTLE):.1g}. Do not trust figures of this run more closely than "
            "that. Cause: values too far apart for 16 digits, such as a winding of very few volts, a loss or leakage "
            "resistance of very many ohms, or currents that no such supply carries. Assumed: nothing is lost that no "
            "part of the scenario takes."
        )

    @property
    def assumed(self) -> list[str]:
        """What a reader of its table and waveforms should know, in words; empty where there is nothing."""
        control = getattr(self.scenario, "phase_control", None)  # none of a text without a scenario
        if control is None or control.snubber_capacitance is not None or not SPIKED & self.units.keys():
            return []
        return [
            "No snubber: where the switch breaks off its holding current without any capacitance beside it, it throws "
            "spikes of nanoseconds, up to kilovolts, at itself and at the plug. No real circuit has them: read no "
            "extreme of those volts, nor a single sample that stands far out."
        ]

    def unit(self, name: str) -> str:
        """The unit of a signal."""
        return self.units[known_name(name, self.signals)]

    def label(self, name: str) -> str:
        """What a plot axis calls a signal; its name where no label was given."""
        return self.labels.get(known_name(name, self.signals)) or name

    def figure(self, name: str) -> float:
        """One exact figure of the table, such as "output.current.mean"."""
        return self.table[known_name(name, self.table, what="figure")][0]

    def between(self, t0: float, t1: float) -> "Run":
        """The samples and switchings from t0 to t1 [s], both included; without table and ledger (the whole's)."""
        if not t0 < t1:
            raise WeldsimError(
                f"from {t0:g} s to {t1:g} s is no span of time",
                place="run.between",
                advice="give the earlier moment first",
            )
        first = np.searchsorted(self.time, t0, side="left")
        last = np.searchsorted(self.time, t1, side="right")
        return Run(
            scenario=self.scenario,
            time=self.time[first:last],
            signals={name: values[first:last] for name, values in self.signals.items()},
            units=self.units,
            labels=self.labels,
            events=[event for event in self.events if t0 <= event[0] <= t1],
            provenance=self.provenance,
            window=(t0, t1),
        )


def _sealed(values: Any, dtype: Any = None) -> np.ndarray:
    """The values as a read-only array of floats, without a copy where they are one already."""
    array = np.asarray(values, dtype)
    if not np.issubdtype(array.dtype, np.floating):
        array = array.astype(np.float64)
    view = array.view()
    view.flags.writeable = False
    return view


def known_name(name: str, known: Sequence[str] | dict[str, Any], *, what: str = "signal") -> str:
    """The name itself if it is known; otherwise an error that gives the nearest ones."""
    if name in known:
        return name
    near = difflib.get_close_matches(str(name)[:80], list(known), n=3, cutoff=0.5)
    advice = "did you mean " + " or ".join(f"'{one}'" for one in near) + "?" if near else _there_are(list(known), what)
    raise WeldsimError(f"there is no {what} '{str(name)[:80]}'", place="run", advice=advice)


def _there_are(names: list[str], what: str) -> str:
    """A sentence that lists some of the names."""
    if not names:
        return f"no {what} was recorded"
    return "there are " + ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def stamp(command: str, *, weldsim_version: str) -> dict[str, Any]:
    """Provenance of a run made now: the command, the moment (UTC) and the versions of what computes and writes it."""
    versions = {"weldsim": weldsim_version, **_versions()}
    return {"command": command, "created": datetime.now(UTC).isoformat(timespec="seconds"), "versions": versions}


@cache
def _versions() -> dict[str, str]:
    """Versions of the libraries, looked up once, from the names of the folders that tell what is installed.

    The library for it takes as long to load as a short run: it is asked for what is not found so.
    """
    there: dict[str, str] = {}
    for folder in sys.path:
        with contextlib.suppress(OSError):
            told = [
                name.removesuffix(".dist-info") for name in os.listdir(folder or ".") if name.endswith(".dist-info")
            ]
            there = {**dict(name.split("-", 1) for name in told if "-" in name), **there}
    return {library: there.get(library) or _asked_for(library) for library in ("numpy", "scipy", "numba", "h5py")}


def _asked_for(library: str) -> str:
    """Version of an installed library, as its own folder tells it."""
    from importlib import metadata

    try:
        return metadata.version(library)
    except metadata.PackageNotFoundError:
        return "not installed"
