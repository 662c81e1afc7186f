"""A gate that comes and goes on a device that conducts changes no equation: nothing begins anew there."""

import dataclasses

import numba
import numpy as np
import pytest

import weldsim
from weldsim.engine import layout
from weldsim.engine.doors import door
from weldsim.engine.library import ModeLibrary
from weldsim.runs.perform import record
from weldsim.runs.supply import Supply, supply_of

SIGNALS = ("primary.current", "output.current", "bank.voltage")
LENGTH = 0.02 if bool(numba.config.DISABLE_JIT) else 0.1  # [s]: uncompiled, a tenth takes half a minute


@pytest.fixture(scope="module")
def driven():
    """A garage supply at half dial, its thyristors driven by a train of pulses and by one long pulse."""
    scenario = weldsim.read("garage_60hz")
    held = weldsim.vary(scenario, {"phase_control.pulse_kind": "held"})
    return [record(one, dial=0.5, duration=0.05) for one in (scenario, held)]


def test_a_train_gives_the_current_of_one_long_pulse(driven):
    """Both conduct from the first pulse on: every sample is the same to rounding over hundreds of pulses, 1e-9."""
    train, held = (recording.trace for recording in driven)
    begin, end = train.span
    first, second = (trace.sample(SIGNALS, begin, spacing=(end - begin) / 5000, count=5000) for trace in (train, held))
    largest = np.abs(second).max(axis=1, keepdims=True)
    assert (np.abs(first - second) <= 1e-9 * largest).all()


def test_read_outs_see_no_pulses(driven):
    """Pulses on a latched device are run over, and what is read out runs through: as many pieces as with one pulse.

    Logged are three changes more a half cycle at most: latched by its first pulse, and the gate that it has at its end.
    """
    train, held = (recording.trace for recording in driven)
    half_cycles = 12
    assert len(train.time) <= len(held.time) + 3 * half_cycles
    assert len(train.pieces().time) == len(held.pieces().time)
    for trace in (train, held):
        peaks, squares = trace.groups("primary.current", np.zeros(len(trace.time), dtype=np.int64))
        low, high = trace.extremes(["primary.current"])[0][0]
        assert peaks[0] == pytest.approx(max(-low, high), rel=1e-9)  # two searches, each to 1e-12 of full scale
        begin, end = trace.span
        assert squares[0] == pytest.approx(trace.integrals().rms("primary.current") ** 2 * (end - begin), rel=1e-9)


@pytest.mark.parametrize("device", ["triac", "thyristor pair"])
@pytest.mark.parametrize("latching", ["0.12 A", "1 A", "3 A"])
def test_pulses_run_over_are_pulses_stopped_at(device, latching):
    """Whether a run stops at the pulses that a latched device does not notice, or runs over them, is no matter.

    3 A is reached late and lost early, so that pulses fall on either side; 1e-9 of full scale, as for any cut.
    """
    changes = {"phase_control.device": device, "phase_control.latching_current": latching}
    supply = supply_of(weldsim.vary(weldsim.read("garage_60hz"), changes))
    stopping = tuple(dataclasses.replace(event, idle=()) for event in supply.system.events)
    stopped = Supply(supply.scenario)
    stopped.library = ModeLibrary(dataclasses.replace(supply.system, events=stopping))
    traces = []
    for one in (supply, stopped):
        stepper = one.stepper(*one.system.start(), (0.0, LENGTH), delay=100.0)
        stepper.run_to(LENGTH)
        traces.append(stepper.trace())
    over, at = traces
    assert len(at.time) > len(over.time) + 3000 * LENGTH  # of some 11500 pulses a second
    count = round(LENGTH / 2e-5)
    first, second = (trace.sample(SIGNALS, 0.0, spacing=2e-5, count=count) for trace in (over, at))
    largest = np.abs(second).max(axis=1, keepdims=True)
    assert (np.abs(first - second) <= 1e-9 * largest).all()


def test_the_gate_is_as_last_told_wherever_a_run_stops():
    """At any moment of a train the device's segment has the gate that the last command gave it."""
    supply = supply_of(weldsim.vary(weldsim.read("garage_60hz"), {"phase_control.device": "triac"}))
    stepper = supply.stepper(*supply.system.start(), (0.0, 0.1), delay=100.0)
    times, events = stepper.schedule_time.copy(), stepper.schedule_event.copy()
    ons = {number for number, event in enumerate(supply.system.events) if event.name.endswith(" on")}
    element = [one.name for one in supply.system.elements].index("phase_control")
    moments = np.sort(np.random.default_rng(4).uniform(0.05, 0.1, 200))
    latched = 0
    for moment in moments:
        stepper.run_to(moment)
        name = supply.system.elements[element].segments[supply.library.signatures[stepper.control[1]][element]]
        last = events[np.searchsorted(times, stepper.control[0]) - 1]
        assert name.startswith(("gated", "ready")) == (last in ons)
        latched += name.endswith("_latched")
    assert latched > 20  # conducts for some two thirds of the time, with its gate on for some third of that


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
    trace = record(weldsim.vary(weldsim.read(name), changes), duration=0.04).trace
    scale = np.abs(trace.state).max(axis=0)
    y, z = np.zeros_like(trace.state[0]), np.zeros_like(trace.state[0])
    jumped = 0
    for p in range(1, len(trace.time)):
        span = trace.time[p] - trace.time[p - 1]
        door("kernel", "leap")(trace.tables.rungs, trace.mode[p - 1], trace.state[p - 1], span, y, z)
        if (np.abs(y - trace.state[p]) <= 1e-10 * scale).all():
            continue
        assert trace.begins[p]
        jumped += 1
    assert jumped
    assert not trace.begins.all()


@pytest.mark.parametrize("device", ["triac", "thyristor pair"])
def test_guards_of_a_twin_lead_where_its_own_equations_say(device):
    """What shares its equations with another mode is told at once where its guards lead: as when assembled in full."""
    supply = supply_of(weldsim.vary(weldsim.read("garage_60hz"), {"phase_control.device": device}))
    supply.library = library = ModeLibrary(supply.system)
    stepper = supply.stepper(*supply.system.start(), (0.0, 0.04), delay=100.0)
    stepper.run_to(0.04)
    twins = np.flatnonzero(
        library.tables.about[: len(library.signatures), layout.TWIN] != np.arange(len(library.signatures))
    )
    bare = dataclasses.replace(supply.system, guard_targets=None)  # a system that tells it by assembling
    elsewhere = 0
    for twin in twins:
        known, whole = library.equations[twin], supply.system.assemble(library.signatures[twin])
        assert (known.guard_targets == whole.guard_targets).all()
        assert (bare.leads(library.signatures[twin]) == whole.guard_targets).all()
        assert (known.guard_elements == whole.guard_elements).all()
        assert (known.guard_rows == whole.guard_rows).all()
        first = library.equations[int(library.tables.about[twin, layout.TWIN])]
        elsewhere += bool((known.guard_targets != first.guard_targets).any())
    assert elsewhere > 0
