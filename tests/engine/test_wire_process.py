"""The wire process on a supply without a bank, whose current ends in every half cycle: arcs lost and brought back."""

import dataclasses

import numpy as np
import pytest

import weldsim
from tests.engine.told import reignition_voltage
from weldsim.engine import wire_layout
from weldsim.errors import SimulationError
from weldsim.parts.wire import Wire
from weldsim.runs.wire_runs import WireRun, WireSupply


def pulsating(**wire):
    """A bridge straight onto the leads, and a wire that touches at once and parts at a small spot."""
    scenario = weldsim.vary(
        weldsim.read("benchmark_b"),
        {"bank": "absent", "choke": "absent", "load": "absent", "phase_control.pulse_kind": "held"},
    )
    held = {"first_gap_low": 0.0, "first_gap_high": 0.0, "spot_low": 0.05, "spot_high": 0.05, **wire}
    return WireSupply(dataclasses.replace(scenario, wire=Wire(**held)))


def recorded(supply, length, **options):
    """A run, and its record tick by tick: time, condition, gap, current, voltage."""
    run = WireRun(supply, seed=1, trial=0, length=length, every=1, **{"delay": 20.0, **options})
    run.run(stop_when_struck=False)
    rows = run.record[: int(run.count[12])]
    return run, rows[:, :5].T


@pytest.fixture(scope="module")
def easy():
    """A cool short arc that comes back easily: 8 V and little more, so that each half cycle brings it back."""
    supply = pulsating(
        arc_voltage=8.0, arc_gradient=200.0, falling_voltage=2.0, reignite_first=1.2, reignite_later=1.4, feed=0.0,
        run_in_feed=0.0, melting_alpha=1e-5, melting_beta=0.0, reignite_lost=20e-3,
    )  # fmt: skip
    return supply, *recorded(supply, 0.05)


def test_an_arc_ends_with_its_current_and_comes_back_with_the_volts(easy):
    """Lost only when the current has ended, brought back only above the documented re-ignition voltage, as counted.

    What came back and died below the least current of an arc is no arc: it is not counted, and the gap cools on.
    """
    supply, run, (_, condition, gap, current, voltage) = easy
    lost = np.flatnonzero((condition[:-1] == wire_layout.BURNING) & (condition[1:] == wire_layout.OUT)) + 1
    back = np.flatnonzero((condition[:-1] == wire_layout.OUT) & (condition[1:] == wire_layout.BURNING)) + 1
    assert np.abs(current[lost]).max() < 0.01  # 10 kohm of an open gap are left
    wire = supply.constants
    ends = {int(begin): next((int(end) for end in lost if end > begin), len(current)) for begin in back}
    lived = [
        begin
        for begin, end in ends.items()
        if end == len(current) or current[begin + 1 : end].max(initial=0.0) >= wire.least_current
    ]
    died = [ends[begin] for begin in ends if begin not in lived]
    gone = [int(one) for one in lost if one not in died]
    assert len(gone) == run.outcome().losses >= 3
    assert len(lived) == run.outcome().reignitions >= 3
    assert died
    for k in np.flatnonzero(condition[:-1] == wire_layout.OUT) + 1:
        since = k - max(one for one in gone if one < k)
        told = reignition_voltage(wire, gap=gap[k], time=since * supply.tick)
        assert (abs(voltage[k]) > told) == (condition[k] == wire_layout.BURNING)


def test_what_is_told_of_a_weld_is_in_its_record(easy):
    """Seconds out, in contact, charge and greatest current of the contact: sums over the record, tick by tick.

    A row has the condition that begins with it and the current at the end of the one before: the contact lasts from
    its own row to that of the arc behind it, where its current is greatest.
    """
    supply, run, (_, condition, _, current, _) = easy
    outcome = run.outcome()
    assert outcome.out == pytest.approx(np.sum(condition == wire_layout.OUT) * supply.tick)
    assert outcome.touching == pytest.approx(np.sum(condition == wire_layout.TOUCHING) * supply.tick)
    touching = condition[:-1] == wire_layout.TOUCHING
    assert outcome.peak_current == current[1:][touching].max() > current[:-1][touching].max()
    charge = np.sum((0.5 * (current[1:] + current[:-1]))[touching]) * supply.tick
    assert run.told[6] == pytest.approx(charge)


def test_an_arc_is_struck_when_it_has_burnt_for_the_documented_time():
    """Struck at the start of a span that is hardly ever out: here the ring of judgements is a tenth as long.

    The trial ends there: an arc that never goes out is struck with its first tick.
    """
    supply = pulsating(arc_voltage=8.0, arc_gradient=200.0, feed=0.0, run_in_feed=0.0, melting_alpha=1e-5)
    run = WireRun(supply, seed=1, trial=0, delay=20.0, length=0.05, every=1)
    run.ring = np.zeros(20, np.int64)  # 2 ms instead of 0.3 s: within one half cycle
    assert run.run() == wire_layout.TRIAL_OVER
    condition = run.record[: int(run.count[12]), 1]
    first = int(np.argmax(condition == wire_layout.BURNING))
    assert run.outcome().struck
    assert run.outcome().time_to_arc == pytest.approx(first * supply.tick)
    assert len(condition) == first + 20


def test_a_full_log_and_a_long_tally_of_losses(easy):
    """A log that is too short changes no figure; an arc lost over a thousand times a second ends with a sentence."""
    supply, whole, _ = easy
    run = WireRun(supply, seed=1, trial=0, delay=20.0, length=0.05, every=1)
    run.stepper._new_log(12)
    run.run(stop_when_struck=False)
    assert (run.record == whole.record).all()
    assert repr(run.outcome()) == repr(whole.outcome())  # a figure that is none (nan) equals itself in words
    run = WireRun(supply, seed=1, trial=0, delay=20.0, length=0.05)
    run.count[7] = 2000
    with pytest.raises(SimulationError, match="lost more than a thousand times"):
        run.run(stop_when_struck=False)


def test_an_arc_with_a_memory_ends_below_its_hold_limit():
    """On a current that ends every half cycle the memory lets go where it falls below a fifth of the limit.

    What is left then ends within a tick: 200 V against some 12 uH of leads take 2 A in 0.1 us.
    """
    supply = pulsating(arc_memory="Cassie and Mayr", arc_voltage=10.0, feed=0.0, run_in_feed=0.0, melting_alpha=1e-5)
    run, (_, condition, _, current, _) = recorded(supply, 0.0125)
    lost = np.flatnonzero((condition[:-1] == wire_layout.BURNING) & (condition[1:] == wire_layout.OUT)) + 1
    assert len(lost) == 1
    assert abs(current[lost[0]]) < 0.01
    assert current[lost[0] - 1] > 0.2 * supply.constants.falling_current
