"""A gate that comes and goes on a device that conducts changes no equation: nothing begins anew there."""

import numpy as np
import pytest

import weldsim
from weldsim.engine import kernel
from weldsim.runs.perform import record

SIGNALS = ("primary.current", "output.current", "bank.voltage")


@pytest.fixture(scope="module")
def driven():
    """A garage supply at half dial, its thyristors driven by a train of pulses and by one long pulse."""
    scenario = weldsim.read("garage_60hz")
    held = weldsim.vary(scenario, {"phase_control.pulse_kind": "held"})
    return [record(one, dial=0.5, duration=0.1) for one in (scenario, held)]


def test_a_train_gives_the_current_of_one_long_pulse(driven):
    """Both conduct from the first pulse on: every sample is the same to rounding over some thousand pulses, 1e-9."""
    train, held = (recording.trace for recording in driven)
    begin, end = train.span
    first, second = (trace.sample(SIGNALS, begin, spacing=(end - begin) / 5000, count=5000) for trace in (train, held))
    largest = np.abs(second).max(axis=1, keepdims=True)
    assert (np.abs(first - second) <= 1e-9 * largest).all()


def test_read_outs_see_no_pulses(driven):
    """A train is logged pulse by pulse; what is read out runs through, so it has as many pieces as with one pulse."""
    train, held = (recording.trace for recording in driven)
    assert len(train.time) > 4 * len(held.time)
    assert len(train.pieces().time) == len(held.pieces().time)
    for trace in (train, held):
        peaks, squares = trace.groups("primary.current", np.zeros(len(trace.time), dtype=np.int64))
        low, high = trace.extremes(["primary.current"])[0][0]
        assert peaks[0] == pytest.approx(max(-low, high), rel=1e-9)  # two searches, each to 1e-12 of full scale
        begin, end = trace.span
        assert squares[0] == pytest.approx(trace.integrals().rms("primary.current") ** 2 * (end - begin), rel=1e-9)


RC_DIAC = {
    "phase_control.dial_kind": "rc-diac",
    "phase_control.dial": 0.6,
    "phase_control.timing_resistance_at_0": "250 kohm",
    "phase_control.timing_resistance_at_100": "5 kohm",
}


@pytest.mark.parametrize(("name", "changes"), [("garage_60hz", {}), ("benchmark_b", RC_DIAC)])
def test_what_is_run_through_goes_on_from_where_it_was(name, changes):
    """Where a piece is no beginning, the solution of the piece before leads to its state; a jump is one.

    1e-10 of the largest value of each state: rounding of the products, and of the clock that is set anew.
    """
    trace = record(weldsim.vary(weldsim.read(name), changes), duration=0.06).trace
    scale = np.abs(trace.state).max(axis=0)
    y, z = np.zeros_like(trace.state[0]), np.zeros_like(trace.state[0])
    jumped = 0
    for p in range(1, len(trace.time)):
        kernel.leap(trace.tables.rungs, trace.mode[p - 1], trace.state[p - 1], trace.time[p] - trace.time[p - 1], y, z)
        if (np.abs(y - trace.state[p]) <= 1e-10 * scale).all():
            continue
        assert trace.begins[p]
        jumped += 1
    assert jumped
    assert not trace.begins.all()
