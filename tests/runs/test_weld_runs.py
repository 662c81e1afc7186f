"""Welds in parts: the same as in one piece, gates driven throughout, and means of squares that are right."""

import json
import subprocess
import sys

import numpy as np
import pytest

import weldsim
from weldsim.errors import QuestionError
from weldsim.runs.weld_runs import Weld, WeldPart, mean_squares, weld_parts
from weldsim.runs.wire_runs import CONDITIONS, WireRun, WireSupply


@pytest.fixture(scope="module")
def supply():
    """A bundled supply with its wire."""
    return WireSupply(weldsim.read("scenarios/toroid_shed_boost.toml"))


def test_parts_are_the_weld_in_one_piece(supply):
    """Two and a half seconds in three parts are, sample by sample, one run of that length (1e-9: same arithmetic)."""
    weld = Weld(supply, delay=90.0)
    parts = list(weld.parts(2.5))
    phase = float(weld.run.count[18]) * supply.library.quantum / supply.period
    whole = WireRun(supply, seed=1, trial=0, delay=90.0, length=2.5, phase=phase, every=1)
    whole.run(stop_when_struck=False)
    rows = whole.record[: int(whole.count[12])]
    second, all_of_it = round(1.0 / supply.tick), round(2.5 / supply.tick)
    joined = {name: np.concatenate([part.signals[name] for part in parts]) for name in supply.recorded}
    assert [len(part.time) for part in parts] == [second, second, second // 2]
    np.testing.assert_allclose(np.concatenate([part.time for part in parts]), rows[:all_of_it, 0], rtol=0, atol=1e-9)
    for k, name in enumerate(supply.recorded):
        np.testing.assert_allclose(joined[name], rows[:all_of_it, 3 + k], rtol=0, atol=1e-9)


def test_gate_is_driven_in_every_part(supply):
    """Primary current flows in each of five parts; the commands of the first do not reach beyond it."""
    for part in Weld(supply, delay=90.0).parts(5.0):
        assert np.abs(part.signals["primary.current"][-1000:]).max() > 1.0


def test_the_currents_of_a_short_are_counted_to_its_end():
    """Largest current and rise of the process, charge and energy, against the samples of the same weld, put together
    here: a change lies on a sample that is still as before it, an arc may be lost in the tick before.  Peak and charge
    to rounding; of the energy the process takes each tick from its own beginning, the samples straight between them:
    3e-3 (samples times their ticks, as if each stood for what follows, are 8e-3 off).
    """
    weld = Weld(WireSupply(weldsim.read("toroid_shed")), delay=90.0)
    parts = list(weld.parts(3.0))
    condition, during = (np.concatenate([getattr(part, of) for part in parts]) for of in ("condition", "during"))
    amperes, volts = (np.concatenate([part.signals[f"output.{of}"] for part in parts]) for of in ("current", "voltage"))
    assert (during[1:] == condition[:-1]).all()
    tick, told = weld.supply.tick, weld.run.told
    shorted = np.isin(during, [CONDITIONS.index("touching"), CONDITIONS.index("bridged")])
    rises = np.diff(amperes, prepend=0.0) / tick
    assert told[0] == pytest.approx(amperes[shorted].max(), rel=1e-12)
    assert told[0] > 1.01 * amperes[shorted & (condition != CONDITIONS.index("burning"))].max()  # it is the last one
    assert told[1] == pytest.approx(rises[shorted].max(), rel=1e-9)
    halves = 0.5 * (amperes + np.concatenate([[0.0], amperes[:-1]]))
    burning = during == CONDITIONS.index("burning")
    assert (told[6], told[2]) == pytest.approx((tick * halves[shorted].sum(), tick * halves[burning].sum()), rel=1e-9)
    changed = np.concatenate([[True], during[1:] != during[:-1]])
    opening = np.where(changed, volts, np.concatenate([[0.0], volts[:-1]]))
    assert told[3] == pytest.approx(tick * float(halves @ (0.5 * (opening + volts))), rel=3e-3)


def made_up(time):
    """A part with a plug voltage of 325 sin(100 pi t)."""
    nothing = np.zeros(len(time))
    clear = nothing.astype(np.int8)
    return WeldPart(time, clear, clear, nothing, {"plug.voltage": 325.0 * np.sin(100.0 * np.pi * time)})


def test_mean_squares_go_on_over_the_borders_of_parts():
    """Each half period of a sine has the rms of its closed form, peak over sqrt 2 (1e-12), however it is cut."""
    time = np.arange(0, 10_001) * 25e-6
    parts = [made_up(time[:333]), made_up(time[333:5000]), made_up(time[5000:])]
    rms = np.sqrt(np.concatenate(list(mean_squares(parts, ticks=400))))
    assert len(rms) == 25
    np.testing.assert_allclose(rms, 325.0 / np.sqrt(2.0), rtol=1e-12)
    fine = np.concatenate(list(mean_squares(parts, ticks=20)))
    assert len(fine) == 500
    np.testing.assert_allclose(fine.reshape(-1, 20).mean(axis=1), 0.5 * 325.0**2, rtol=1e-12)


def test_the_plug_sees_the_weld():
    """At the plug the voltage of 230 V lies by a few volts below it while welding, and above 80 % of it."""
    parts = weld_parts(weldsim.read("scenarios/toroid_shed_boost.toml"), seconds=1.5, delay=90.0)
    rms = np.sqrt(np.concatenate(list(mean_squares(parts, ticks=100))))
    assert len(rms) in (149, 150)
    assert 0.8 * 230.0 < rms[-20:].mean() < 229.5


def test_no_length_is_refused():
    """A weld of no seconds is refused with advice."""
    with pytest.raises(QuestionError, match="says nothing"):
        next(weld_parts(weldsim.read("scenarios/toroid_shed.toml"), seconds=0.0))


def test_memory_of_a_streamed_weld_does_not_grow(tmp_path):
    """The second 40 s of a weld into a file, joined to one file at its end, take less memory than the first, and less
    than a quarter of what their samples would take if they were held.

    Samples: rows and columns counted in the file, 8 bytes each.  A quarter, because the system's allocator keeps some
    pages that were given back.
    """
    place = tmp_path / "weld.h5"
    command = [sys.executable, "-m", "tests.bench.streamed_weld", "80", str(place)]
    done = subprocess.run(command, capture_output=True, check=True, text=True, timeout=300)
    found = json.loads(done.stdout)
    run = weldsim.open_run(place)
    held = 8e-6 * (len(run.time) // 2) * (1 + len(run.signals))
    early, half, late = (found[when]["memory"] for when in ("early", "half", "late"))
    assert held > 15.0  # MB: the weld is long enough to tell
    assert late - half < 0.25 * held
    assert late - half <= half - early + 1.0  # MB: a reading of the operating system is no finer
