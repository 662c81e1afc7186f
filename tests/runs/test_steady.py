"""The settled state: shooting against plain stepping, one more period, and the derivative behind the Newton steps."""

import numpy as np
import pytest

import weldsim
from weldsim.runs.steady import full_scale, settle
from weldsim.runs.supply import Supply


def one_period(supply, state, signature, *, begin=0.0, delay):
    """One period on the mains clock from a state, as exact pieces."""
    stepper = supply.stepper(state, signature, (begin, begin + supply.period), delay=delay)
    stepper.run_to(begin + supply.period)
    return stepper.trace()


@pytest.fixture(params=["benchmark_a", "benchmark_b", "toroid_shed_boost"])
def supply(request):
    """A supply that has run nothing yet."""
    return Supply(weldsim.read(request.param))


def test_shooting_finds_what_plain_stepping_settles_to(supply):
    """Newton steps and hundreds of plain periods end in the same state, and no more periods are simulated for it."""
    delay = supply.delay()
    shot, plain = (settle(supply, delay=delay, shooting=shooting) for shooting in (True, False))
    count = len(supply.system.states)
    scale = full_scale(one_period(supply, plain.state, plain.signature, delay=delay), supply.system.states)

    assert shot.periodic
    assert plain.periodic
    assert shot.signature == plain.signature
    assert shot.periods <= plain.periods
    assert plain.newton_steps == 0
    # Plain stepping stops at changes of 1e-9 a period and is off by that over (1 - 0.88), its slowest multiplier.
    assert np.abs((shot.state - plain.state)[:count] / scale).max() < 1e-8


@pytest.mark.parametrize("name", ["benchmark_a", "benchmark_b"])
def test_shooting_saves_periods(name):
    """A bank that follows slowly (multipliers of 0.76 and 0.88) is settled with at most half the periods."""
    supply = Supply(weldsim.read(name))
    shot, plain = (settle(supply, delay=supply.delay(), shooting=shooting) for shooting in (True, False))

    assert shot.newton_steps >= 1
    assert shot.periods <= 0.5 * plain.periods
    # The largest change of a plain period falls by the multiplier each time: 25 + ln(1e9) / -ln(multiplier) periods
    # and the 50 of one more round bound their number.
    assert plain.periods <= 75 + 50 + np.log(1e-9) / np.log(shot.multiplier)


def test_one_more_period_returns_to_the_settled_state(supply):
    """From the settled state, ten periods in a supply of its own end where they began."""
    delay = supply.delay()
    found = settle(supply, delay=delay)
    other, count = Supply(supply.scenario, 200), len(supply.system.states)
    scale = full_scale(one_period(supply, found.state, found.signature, delay=delay), supply.system.states)
    state = found.state
    for _ in range(10):
        trace = one_period(other, state, found.signature, delay=delay)
        state = trace.end_state[: len(state)].copy()

    assert 0.0 <= found.residual < 1e-9  # what settled means
    # ten times that residual, and the 1e-9 by which steps of another length locate switchings elsewhere
    assert np.abs((state - found.state)[:count] / scale).max() < 1e-8


def test_settled_at_another_mains_voltage(supply):
    """The mains' tolerance reaches the settled state: the factor 1.1 equals a scenario with a tenth more volts."""
    scenario, delay = supply.scenario, supply.delay()
    higher = Supply(weldsim.vary(scenario, {"mains.voltage": 1.1 * scenario.mains.voltage}))
    ours, theirs, plain = (
        settle(supply, delay=delay, mains_factor=1.1),
        settle(higher, delay=delay),
        settle(supply, delay=delay),
    )
    bank = supply.system.states.index("bank.voltage")

    # 1e-8 as between shooting and plain stepping
    np.testing.assert_allclose(ours.state, theirs.state, rtol=0, atol=1e-8 * np.abs(theirs.state).max())
    assert ours.state[bank] > 1.02 * plain.state[bank]


def test_what_has_not_settled_is_given_up():
    """Stepped plainly, a bank of 2 F on 0.11 ohm (0.2 s) has not settled after a hundred periods, and that is told."""
    changes = {"load.kind": "resistor", "load.resistance": "0.11 ohm", "bank.capacitance": "2 F"}
    supply = Supply(weldsim.vary(weldsim.read("benchmark_a"), changes))
    found = settle(supply, delay=90.0, patience=50, shooting=False)

    assert not found.periodic
    assert found.residual > 1e-9
    assert 50 < found.periods < 150  # 50 a round


def test_a_supply_without_load_settles():
    """Benchmark B without load fills its bank and then repeats, held by the diodes' leakage alone."""
    supply = Supply(weldsim.vary(weldsim.read("benchmark_b"), {"load": "absent"}))
    found = settle(supply, delay=90.0, patience=100)

    assert found.periodic


@pytest.mark.parametrize(
    ("name", "begin"),
    [
        ("benchmark_a", 0.0),
        ("benchmark_a", 0.4),
        ("benchmark_b", 0.0),
        ("benchmark_b", 0.0283),
        ("benchmark_b", 0.4),
        ("toroid_shed_boost", 0.0437),  # friction elements, saturating choke, boost, ideal source with a lead
    ],
)
def test_derivative_of_a_period_against_finite_differences(name, begin):
    """Each column of the monodromy matrix is the difference of two disturbed periods over their distance.

    From a moment of the approach, or (0.0) from the settled state.  Where a friction element slides, the map has a
    kink and no derivative; the moment chosen for the supply with hysteresis has none on its way.
    """
    supply = Supply(weldsim.read(name))
    delay, count = supply.delay(), len(supply.system.states)
    if begin:
        stepper = supply.from_rest(begin, delay=delay)
        stepper.run_to(begin)
        trace = stepper.trace()
        state, signature = trace.end_state.copy(), trace.signatures[trace.end_mode]
    else:
        found = settle(supply, delay=delay)
        state, signature = found.state, found.signature
    trace = one_period(supply, state, signature, begin=begin, delay=delay)
    scale = full_scale(trace, supply.system.states)
    ours = trace.derivative() * scale / scale[:, None]
    theirs, step = np.zeros((count, count)), 1e-5
    for column in range(count):
        ends = []
        for sign in (1.0, -1.0):
            moved = state.copy()
            moved[column] += sign * step * scale[column]
            ends.append(one_period(supply, moved, signature, begin=begin, delay=delay).end_state[:count])
        theirs[:, column] = (ends[0] - ends[1]) / (2.0 * step * scale)

    assert len(trace.time) > 10  # corrections at switchings are in it
    assert np.abs(ours).max() > 0.1  # and it is no matrix of zeros
    # Quanta of 6 ps leave 1e-10 of full scale over steps of 1e-5: 1e-5; the curvature is below that while
    # the device conducts (blocked, a current forced through its 200 kohm is hundreds of volts).
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-4)
