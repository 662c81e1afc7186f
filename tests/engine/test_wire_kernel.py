"""The compiled wire process does the arithmetic of the documented rules, one by one."""

import math

import numpy as np
import pytest

from weldsim.engine import wire_kernel as kernel
from weldsim.parts import arc_rules, drop_rules, short_rules, wire_rules
from weldsim.parts.wire import Wire, constants
from weldsim.runs.wire_runs import PLACES

WIRE = constants(Wire(diameter=0.9e-3))
TICK = 25e-6
SAME = 1e-12  # the same arithmetic twice: rounding only


def array() -> np.ndarray:
    """Constants in the kernel's order."""
    values = np.zeros(kernel.CONSTANTS)
    values[: len(PLACES)] = [getattr(WIRE, name) for name in PLACES]
    values[[kernel.HEAT_TAU, kernel.DROP_LIMIT, kernel.GAP_RISE_TIME]] = (
        WIRE.heat_tau,
        WIRE.drop_limit,
        WIRE.gap_rise_time,
    )
    return values


def fresh(condition: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """State, counters and tallies of a wire in a condition, 1.2 mm above the work, fed at its weld speed."""
    state, count = np.zeros(17), np.zeros(20, np.int64)
    state[0], state[1], state[7], count[0], count[6] = 1.2e-3, WIRE.feed, 1.0, condition, 1
    return state, count, np.zeros(10)


@pytest.mark.parametrize("melted", [0.0, 0.1e-3, 0.6e-3, 3e-3])
def test_drop(melted):
    """Reach of a drop, as a cap and as a sphere, with its spread."""
    state, _, _ = fresh(kernel.BURNING)
    state[6], state[7] = melted, 1.1
    drop = drop_rules.drop_diameter(melted, WIRE.diameter)
    said = {"base": WIRE.reach_base, "growth": WIRE.reach_growth, "spread": 1.1}
    assert kernel.drop_reach(state, array()) == pytest.approx(
        drop_rules.drop_reach(drop, WIRE.diameter, **said), rel=SAME
    )


def test_extension_resistance():
    """Contact tube and hot extension in series."""
    state, _, _ = fresh(kernel.BURNING)
    state[12] = 4e-3
    length = wire_rules.extension_length(WIRE.height, state[0])
    told = wire_rules.extension_resistance(length, resistivity=WIRE.resistivity_hot, section=WIRE.section)
    assert kernel.extension_resistance(state, array()) == pytest.approx(4e-3 + told, rel=SAME)


@pytest.mark.parametrize("time", [0.05e-3, 0.2e-3, 0.99e-3, 2.5e-3, 5e-3])
def test_reignition(time):
    """Voltage that brings a lost arc back, before, within and after the time in which it may."""
    state, _, _ = fresh(kernel.OUT)
    state[9] = time
    factor = arc_rules.reignition_factor(
        time,
        dead_time=WIRE.dead_time,
        first=WIRE.reignite_first,
        later=WIRE.reignite_later,
        later_time=WIRE.reignite_time,
        lost_time=WIRE.reignite_lost,
    )
    told = arc_rules.reignition_voltage(state[0], factor, offset=WIRE.arc_voltage, gradient=WIRE.arc_gradient)
    found = kernel.needed_voltage(state, array())
    assert found == told or found == pytest.approx(told, rel=SAME)


def test_a_tick_of_burning():
    """Gap, melted length and remembered heat after a tick at 120 A."""
    state, count, told = fresh(kernel.BURNING)
    state[16] = 2e4
    kernel.move(state, count, array(), 120.0, TICK, told)
    square = wire_rules.lagging_square(2e4, 120.0, time=TICK, time_constant=WIRE.heat_tau)
    speed = wire_rules.melting_speed(
        120.0, WIRE.height - 1.2e-3, alpha=WIRE.melt_alpha, beta=WIRE.melt_beta, square=square
    )
    assert state[16] == pytest.approx(square, rel=SAME)
    assert state[6] == pytest.approx(speed * TICK, rel=SAME)
    assert state[0] == pytest.approx(1.2e-3 + wire_rules.gap_rate(speed, WIRE.feed) * TICK, rel=SAME)


def test_a_tick_of_bridge():
    """Neck of a bridge after a tick at 200 A."""
    state, count, told = fresh(kernel.BRIDGED)
    state[5] = 0.7
    kernel.move(state, count, array(), 200.0, TICK, told)
    rate = short_rules.bridge_drain_rate(200.0, base=WIRE.drain_base, pinch=WIRE.drain_current)
    assert state[5] == pytest.approx(0.7 - rate * TICK, rel=SAME)


def test_a_tick_of_touch():
    """Heat of spot and extension after a tick at 200 A."""
    state, count, told = fresh(kernel.TOUCHING)
    state[4], state[2] = 0.3, 0.2
    kernel.move(state, count, array(), 200.0, TICK, told)
    spot = short_rules.spot_heat_rate(
        200.0, 0.2, section=0.3 * WIRE.section, action=WIRE.action, time_constant=WIRE.spot_tau
    )
    extension = short_rules.extension_heat_rate(200.0, section=WIRE.section, action=WIRE.action)
    assert state[2] == pytest.approx(0.2 + spot * TICK, rel=SAME)
    assert state[3] == pytest.approx(extension * TICK, rel=SAME)


def test_a_heavy_drop_falls():
    """A drop at its limit leaves, and the arc burns on."""
    state, count, told = fresh(kernel.BURNING)
    state[0] = 8e-3
    state[6] = 1.001 * WIRE.drop_limit**3 / (1.5 * WIRE.diameter**2)
    kernel.move(state, count, array(), 60.0, TICK, told)
    assert state[6] == 0.0
    assert count[0] == kernel.BURNING


def test_extension_parts_the_farther_the_slower():
    """The gap of an extension that melts lies between half its range's share of slowness and that plus half of it."""
    gaps = []
    for contact in (5e-3, 0.5):
        state, count, told = fresh(kernel.TOUCHING)
        state[3], state[4], state[13] = 1.0, 0.9, contact
        kernel.move(state, count, array(), 150.0, TICK, told)
        assert count[0] == kernel.BURNING
        low, high = (
            short_rules.gap_after_extension(
                contact + TICK, draw, low=WIRE.gap_long_low, high=WIRE.gap_long_high, rise_time=WIRE.gap_rise_time
            )
            for draw in (0.0, 1.0)
        )
        assert low <= state[0] <= high
        gaps.append(state[0])
    assert gaps[0] < gaps[1]


def test_feed_of_the_motor():
    """Euler's step of the kernel stays within 1e-3 of the exact run-up (25 us against 60 ms, over 60 ms)."""
    state, count, told = fresh(kernel.CLEAR)
    state[0], state[1], count[6] = 1.0, 0.0, 0
    ticks = round(60e-3 / TICK)
    for _ in range(ticks):
        kernel.move(state, count, array(), 0.0, TICK, told)
    exact = wire_rules.feed_speed(0.0, WIRE.run_in, time=ticks * TICK, time_constant=WIRE.motor_tau)
    assert state[1] == pytest.approx(exact, rel=1e-3)
    assert math.isfinite(state[0])
