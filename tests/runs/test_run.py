"""The recording sheet: names that are known, samples that cannot be changed, parts that belong together."""

import subprocess
import sys
from importlib import metadata

import numpy as np
import pytest

import weldsim
from tests.runs.samples import LABELS, NAMES, a_run
from weldsim.errors import WeldsimError
from weldsim.runs.run import _versions, stamp


def test_signals_by_name():
    """A run gives its signals by name, lists them in order and knows their units and labels."""
    run = a_run()

    assert list(run) == list(NAMES)
    assert "choke.current" in run
    assert "weld.current" not in run
    assert run["choke.current"][0] == 170.0  # 130 + 40 cos 0
    assert (run.unit("choke.current"), run.label("choke.current")) == ("A", "choke current")


def test_label_falls_back_to_the_name():
    """A signal without a label is called by its name."""
    labels = {name: text for name, text in LABELS.items() if name != "choke.current"}

    assert a_run(labels=labels).label("choke.current") == "choke.current"


@pytest.mark.parametrize(
    ("wrong", "right"),
    [("chocke.current", "choke.current"), ("output.volts", "output.voltage"), ("core.flux", "core.flux_linkage")],
)
def test_unknown_name_gives_the_nearest(wrong, right):
    """A misspelt signal fails with the nearest names, wherever it is asked for."""
    for ask in (a_run().__getitem__, a_run().unit, a_run().label):
        with pytest.raises(WeldsimError, match=f"'{right}'") as caught:
            ask(wrong)
        assert wrong in str(caught.value)


def test_unknown_name_far_from_all_lists_what_there_is():
    """A name near to nothing is answered with the names there are."""
    with pytest.raises(WeldsimError, match="there are output.voltage, choke.current, core.flux_linkage"):
        a_run()["zzz"]
    with pytest.raises(WeldsimError, match="no signal was recorded"):
        a_run(signals={})["choke.current"]


def test_exact_figures_by_name():
    """Exact figures are given by name, and a misspelt one fails with the nearest."""
    assert a_run().figure("output.current.mean") == 127.650056
    with pytest.raises(WeldsimError, match=r"no figure 'output\.current\.maen'.*'output\.current\.mean'"):
        a_run().figure("output.current.maen")


def test_samples_cannot_be_changed():
    """Samples are read-only, and the arrays handed in stay writable for their owner."""
    time = np.arange(3) * 0.1
    run = a_run(time=time, signals={"choke.current": np.array([1, 2, 3])})

    with pytest.raises(ValueError, match="read-only"):
        run["choke.current"][0] = 5
    with pytest.raises(ValueError, match="read-only"):
        run.time[0] = 5
    time[0] = -1.0
    assert run["choke.current"].dtype == np.float64  # whole numbers became floats


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"time": np.arange(5.0)}, "'output.voltage' has shape"),
        ({"time": np.zeros((2, 2))}, "'time' has shape"),
        ({"units": {}}, "no unit is given for 'output.voltage'"),
    ],
)
def test_parts_that_do_not_belong_together(changes, words):
    """Columns of unlike length, tables in place of columns and signals without unit are refused."""
    with pytest.raises(WeldsimError, match=words):
        a_run(**changes)


def test_between_takes_both_ends():
    """A span holds the samples and switchings at both of its ends, and none outside."""
    part = a_run(rows=101, step=1e-3).between(0.020, 0.050)

    assert len(part.time) == 31  # 20, 21 ... 50 ms, counted by hand
    assert part.time[[0, -1]] == pytest.approx([0.020, 0.050], abs=1e-12)  # rounding of the products
    assert [event[0] for event in part.events] == [0.02, 0.05]
    assert part["choke.current"].shape == (31,)
    assert (part.table, part.ledger, part.window) == ({}, {}, (0.020, 0.050))


def test_between_outside_the_recording_is_empty():
    """A span that the recording does not reach gives no samples, and a span that runs backward is an error."""
    assert len(a_run().between(5.0, 6.0).time) == 0
    for span in [(0.2, 0.1), (0.1, 0.1), (float("nan"), 1.0)]:
        with pytest.raises(WeldsimError, match="no span of time"):
            a_run().between(*span)


def test_stamp_names_command_moment_and_versions():
    """The stamp of a run holds the command, a moment in UTC and the installed version of every library behind it."""
    mark = stamp("weldsim preview x.toml", weldsim_version="9.8")

    assert mark["command"] == "weldsim preview x.toml"
    assert mark["created"].endswith("+00:00")
    assert mark["versions"]["weldsim"] == "9.8"
    assert mark["versions"]["numpy"] == np.__version__  # what numpy says of itself, not its metadata
    for library in ("scipy", "numba", "h5py"):
        assert mark["versions"][library] == metadata.version(library)


def test_versions_of_libraries_that_lie_elsewhere_are_asked_for(monkeypatch):
    """A library that no folder of the path tells of is asked for otherwise, and may not be installed."""
    monkeypatch.setattr("sys.path", ["/there/is/no/such/folder"])
    monkeypatch.setattr(metadata, "version", lambda name: {"numpy": "9.9"}.get(name) or _unknown(name))
    _versions.cache_clear()
    try:
        assert _versions() == {
            "numpy": "9.9",
            "scipy": "not installed",
            "numba": "not installed",
            "h5py": "not installed",
        }
    finally:
        _versions.cache_clear()


def _unknown(name: str) -> str:
    raise metadata.PackageNotFoundError(name)


def test_importing_a_run_loads_no_file_library():
    """The sheet itself needs neither h5py nor matplotlib, nor does the module that opens files until it opens one."""
    probe = (
        "import sys, weldsim.runs.run, weldsim.runs.files, weldsim.runs.segments, weldsim.studies.answer;"
        "print([name for name in ('h5py', 'matplotlib', 'numba', 'scipy') if name in sys.modules])"
    )

    loaded = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True).stdout

    assert loaded.strip() == "[]"


def test_a_run_is_shown_in_one_line():
    """A notebook that ends in a run prints what there is of it, not its contents."""
    run = a_run()
    told = repr(run)
    assert "\n" not in told
    assert len(told) < 200
    assert f"{len(run.signals)} waveforms, {len(run.time)} samples" in told


BARE_SWITCH = """
title = "A switch without a snubber behind an inductive socket"
[mains]
voltage = "230 V"
frequency = "50 Hz"
inductance = "1 mH"
[phase_control]
pulse_kind = "held"
holding_current = "50 mA"
off_resistance = "200 kohm"
[load]
kind = "resistor"
resistance = "10 ohm"
"""


def test_spikes_of_a_switch_without_snubber_are_told():
    """What breaks off its holding current in an inductance throws that current times its blocked resistance (1 %, the
    volts of the mains beside them); a run says so of itself, with a snubber there is neither.
    """
    bare = weldsim.read_text(BARE_SWITCH)
    run = weldsim.perform(bare, delay=90.0, duration=0.06, window=0.04)
    assert run.figure("phase_control.voltage.max") == pytest.approx(0.05 * 200e3, rel=1e-2)
    assert "spikes" in "".join(run.assumed)
    snubber = {"phase_control.snubber_resistance": "100 ohm", "phase_control.snubber_capacitance": "100 nF"}
    kept = weldsim.perform(weldsim.vary(bare, snubber), delay=90.0, duration=0.06, window=0.04)
    assert kept.figure("phase_control.voltage.max") < 2.0 * 325.3
    assert not kept.assumed
