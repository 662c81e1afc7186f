"""The compiled wire process does the arithmetic of the documented rules, each over its range.

Both sides are written apart (``parts/*_rules.py`` in words and formulas, the kernel on arrays); a rule that changes on
one side only is found here.  Currents are straight lines over a tick, so the kernel's squares are exact.
"""

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as any_of

from tests.engine.told import reignition_voltage
from weldsim.engine import wire_layout
from weldsim.engine.doors import door
from weldsim.parts import arc_rules, drop_rules, short_rules, wire_rules
from weldsim.parts.wire import Wire, WireConstants, constants
from weldsim.runs.wire_places import constant_array

TICK = 100e-6
SAME = 1e-9  # the same arithmetic in another order: rounding only

currents = any_of.floats(0.0, 600.0)
gaps = any_of.floats(0.1e-3, 8e-3)
wires = any_of.builds(
    Wire,
    kind=any_of.just("solid steel"),
    gas=any_of.sampled_from(["CO2", "argon mix"]),
    polarity=any_of.sampled_from(["positive", "negative"]),
    diameter=any_of.floats(0.6e-3, 1.2e-3),
    extension=any_of.floats(8e-3, 20e-3),
    falling_voltage=any_of.floats(2.0, 30.0),
) | any_of.builds(Wire, kind=any_of.just("self-shielded"), diameter=any_of.floats(0.8e-3, 0.9e-3))
rule = partial(door, "wire_kernel")  # of the compiled process, by its name


def fresh(wire: WireConstants, condition: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """State, counters and tallies of a wire in a condition, 1.2 mm above the work, fed at its weld speed."""
    state, count = np.zeros(wire_layout.STATES), np.zeros(20, np.int64)
    state[0], state[1], state[7], count[0], count[6] = 1.2e-3, wire.feed, 1.0, condition, 1
    return state, count, np.zeros(10)


def mean_square(first: float, last: float) -> float:
    """Mean square of a straight line."""
    return (first * first + first * last + last * last) / 3.0


@given(wires, any_of.floats(0.0, 30e-3), any_of.floats(0.7, 1.3))
def test_drop(table, melted, spread):
    """Diameter and reach of a drop, as a cap and as a sphere, with its spread."""
    wire = constants(table)
    state, _, _ = fresh(wire, wire_layout.BURNING)
    state[6], state[7] = melted, spread
    drop = drop_rules.drop_diameter(melted, wire.diameter)
    told = drop_rules.drop_reach(drop, wire.diameter, base=wire.reach_base, growth=wire.reach_growth, spread=spread)
    assert rule("drop_diameter")(state, constant_array(wire)) == pytest.approx(drop, rel=SAME)
    assert rule("drop_reach")(state, constant_array(wire), drop) == pytest.approx(told, rel=SAME)


@given(wires, any_of.floats(0.0, 25e-3), any_of.floats(0.0, 1.0))
def test_extension_resistance(table, gap, warmth):
    """Contact tube and extension in series, cold, warm and hot; none left once the gap has reached the tube."""
    wire = constants(table)
    state, _, _ = fresh(wire, wire_layout.BURNING)
    state[0], state[12], state[17] = gap, 4e-3, warmth
    told = wire_rules.extension_resistance(
        wire_rules.extension_length(wire.height, gap),
        resistivity=wire_rules.extension_resistivity(warmth, cold=wire.resistivity_cold, hot=wire.resistivity_hot),
        section=wire.section,
    )
    assert rule("extension_resistance")(state, constant_array(wire)) == pytest.approx(4e-3 + told, rel=SAME)


@given(wires, any_of.floats(0.0, 6e-3), gaps)
def test_reignition(table, time, gap):
    """Voltage that brings a lost arc back, before, within and after the time in which it may, and never below the top
    of the falling part.
    """
    wire = constants(table)
    state, _, _ = fresh(wire, wire_layout.OUT)
    state[0], state[9] = gap, time
    told = reignition_voltage(wire, gap=gap, time=time)
    found = rule("needed_voltage")(state, constant_array(wire))
    assert found == told or found == pytest.approx(told, rel=SAME)
    assert found >= wire.arc_voltage + wire.arc_gradient * gap + wire.falling_voltage * (1.0 - SAME)


@given(wires, any_of.floats(0.0, 20e-3), gaps)
def test_an_arc_below_its_least_current(table, time, gap):
    """It is over at the tick nearest to the time that the rule gives, and then driven to nothing by more volts than a
    supply has.
    """
    wire = constants(table)
    state, count, _ = fresh(wire, wire_layout.BURNING)
    state[0], state[23] = gap, time
    over = time > 0.0 and not arc_rules.lives_on(time + 0.5 * TICK, dead_time=wire.dead_time)
    assert bool(rule("fades")(state, constant_array(wire), TICK)) == over
    wanted = np.zeros(3)
    rule("electrical")(state, count, constant_array(wire), 0.1, TICK, np.array([10e-3]), wanted)
    assert (wanted[1] == wire_layout.OFF_VOLTAGE) == over


def test_a_gap_cools_on_until_its_arc_lives():
    """Time since the loss goes on in an arc that came back and has not reached its least current; else it stays 0."""
    for since, then in ((0.0, 0.0), (1e-3, 1e-3 + TICK)):
        state, count, told = fresh(constants(None), wire_layout.BURNING)
        state[0], state[9] = 3e-3, since
        rule("move")(state, count, constant_array(constants(None)), 0.1, 0.1, TICK, told)
        assert state[9] == pytest.approx(then, rel=SAME)


@given(wires, currents, currents, any_of.floats(0.0, 9e4))
def test_a_tick_of_burning(table, first, last, square):
    """Gap, drop, melted length and remembered heat after a tick of arc."""
    wire = constants(table)
    state, count, told = fresh(wire, wire_layout.BURNING)
    state[0], state[16] = 3e-3, square
    rule("move")(state, count, constant_array(wire), first, last, TICK, told)
    root = math.sqrt(mean_square(first, last))
    heard = wire_rules.lagging_square(square, root, time=TICK, time_constant=wire.heat_tau)
    length = wire_rules.extension_length(wire.height, 3e-3)
    speed = wire_rules.melting_speed(
        0.5 * (first + last), length, alpha=wire.melt_alpha, beta=wire.melt_beta, square=heard
    )
    assert state[16] == pytest.approx(heard, rel=SAME)
    assert state[6] == state[15] == pytest.approx(speed * TICK, rel=SAME)
    assert state[0] == pytest.approx(3e-3 + wire_rules.gap_rate(speed, wire.feed) * TICK, rel=SAME)


@given(wires, currents, gaps, any_of.floats(0.0, 1.0))
def test_a_burning_arc_asks_for_its_voltage(table, current, gap, warmth):
    """Level of the segment and added voltage together are the arc's rule and the resistances in front of it."""
    wire = constants(table)
    state, count, _ = fresh(wire, wire_layout.BURNING)
    state[0], state[12], state[17] = gap, 4e-3, warmth
    array, wanted = constant_array(wire), np.zeros(3)
    rule("electrical")(state, count, array, current, TICK, np.array([10e-3, 30e-3, 90e-3]), wanted)
    arc = arc_rules.burning_voltage(
        current, gap, offset=wire.arc_voltage, gradient=wire.arc_gradient, slope=wire.arc_resistance
    )
    series = rule("extension_resistance")(state, array)
    assert wanted[0] == wire_layout.ARC
    assert array[wire_layout.ARC_LEVEL] * current + wanted[1] == pytest.approx(
        arc + series * current, rel=SAME, abs=1e-9
    )


@given(wires, any_of.floats(0.0, 1.0), currents)
def test_a_bridge_and_its_resistance(table, neck, current):
    """A bridge that necks has the rule's resistance, on whichever level of the element."""
    wire = constants(table)
    state, count, _ = fresh(wire, wire_layout.BRIDGED)
    state[5], state[8], levels = neck, wire.bridge_resistance, np.array([10e-3, 30e-3, 90e-3])
    array, wanted = constant_array(wire), np.zeros(3)
    rule("electrical")(state, count, array, current, TICK, levels, wanted)
    told = rule("extension_resistance")(state, array) + short_rules.bridge_resistance(neck, wire.bridge_resistance)
    level = levels[(int(wanted[0]) - wire_layout.CONTACT) // 10]
    assert level * current + wanted[1] == pytest.approx(told * current, rel=SAME, abs=1e-9)


@given(wires, currents, currents, any_of.floats(0.5, 1.0))
def test_a_tick_of_bridge(table, first, last, neck):
    """Neck of a bridge after a tick; where it has gone, the gap is the rule's."""
    wire = constants(table)
    state, count, told = fresh(wire, wire_layout.BRIDGED)
    state[5], state[10] = neck, 0.7e-3
    rule("move")(state, count, constant_array(wire), first, last, TICK, told)
    rate = short_rules.bridge_drain_rate(
        math.sqrt(mean_square(first, last)), base=wire.drain_base, pinch=wire.drain_current
    )
    assert state[5] == pytest.approx(neck - rate * TICK, abs=SAME)
    if state[5] <= 0.0:
        assert count[0] == wire_layout.BURNING
        assert state[0] == pytest.approx(short_rules.gap_after_bridge(1.2e-3 - wire.feed * TICK, 0.7e-3), rel=SAME)


def test_a_bridge_that_the_wire_runs_through_becomes_a_touch():
    """A gap that closes before the neck has gone: solid contact, counted as a stub."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.BRIDGED)
    state[0], state[5] = 1e-6, 1.0
    rule("move")(state, count, constant_array(wire), 50.0, 50.0, TICK, told)
    assert (count[0], count[13], count[5]) == (wire_layout.TOUCHING, 1, 1)


def test_a_neck_that_has_gone_leaves_an_arc():
    """The last thousandth of a neck drains within a tick: an arc on the gap that the rule says, with a new drop."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.BRIDGED)
    state[5], state[6], state[10] = 1e-3, 2e-3, 0.7e-3
    rule("move")(state, count, constant_array(wire), 100.0, 120.0, TICK, told)
    assert (count[0], count[6], state[6]) == (wire_layout.BURNING, 2, 0.0)
    assert state[0] == pytest.approx(short_rules.gap_after_bridge(1.2e-3 - wire.feed * TICK, 0.7e-3), rel=SAME)
    assert (told[4], told[5]) == (120.0, 120.0)


@pytest.mark.parametrize(("short_of", "condition"), [(1e-5, wire_layout.BURNING), (-1e-5, wire_layout.BRIDGED)])
def test_a_drop_bridges_when_it_reaches_the_pool(short_of, condition):
    """An arc 10 um longer than its drop reaches burns on, one 10 um shorter becomes a bridge of full neck."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.BURNING)
    state[1], state[6] = 0.0, 3e-3
    drop = drop_rules.drop_diameter(3e-3, wire.diameter)
    state[0] = short_of + drop_rules.drop_reach(
        drop, wire.diameter, base=wire.reach_base, growth=wire.reach_growth, spread=1.0
    )
    array = constant_array(wire)
    array[wire_layout.FEED] = 0.0
    rule("move")(state, count, array, 0.0, 0.0, TICK, told)
    assert count[0] == condition
    if condition == wire_layout.BRIDGED:
        assert (state[5], state[8], count[14]) == (1.0, wire.bridge_resistance, 1)
        assert wire.gap_bridge_low <= state[10] <= wire.gap_bridge_high


def test_a_wire_without_a_drop_runs_into_the_work():
    """Nothing has melted yet and the gap is gone: solid contact, no bridge."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.BURNING)
    state[0] = 1e-7
    rule("move")(state, count, constant_array(wire), 0.0, 0.0, TICK, told)
    assert (count[0], count[5], count[14]) == (wire_layout.TOUCHING, 1, 0)


@given(wires, currents, any_of.floats(0.05, 0.4), any_of.floats(0.0, 0.5))
def test_a_tick_of_touch(table, current, share, heat):
    """Heat of spot and extension after a tick, the spot against its rule to second order of the tick."""
    wire = constants(table)
    state, count, told = fresh(wire, wire_layout.TOUCHING)
    state[4], state[2] = share, heat
    rule("move")(state, count, constant_array(wire), current, current, TICK, told)
    said = {"section": share * wire.section, "action": wire.action, "time_constant": wire.spot_tau}
    rate = short_rules.spot_heat_rate(current, heat, **said)
    slower = short_rules.spot_heat_rate(current, heat + rate * TICK, **said)
    extension = short_rules.extension_heat_rate(current, section=wire.section, action=wire.action)
    reached = heat + 0.5 * (rate + slower) * TICK
    assert state[2] == pytest.approx(reached, abs=abs(rate) * (TICK / wire.spot_tau) ** 2 * TICK + SAME)
    assert state[3] == pytest.approx(extension * TICK, rel=SAME)
    assert state[17] == pytest.approx(min(extension * TICK, 1.0), rel=SAME)


@pytest.mark.parametrize("current", [150.0, 250.0, 400.0])
def test_a_spot_parts_when_its_closed_form_says(current):
    """Contact time of a spot of 10 % at steady current against the closed form, to one tick."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.TOUCHING)
    state[4], ticks = 0.1, 0
    while count[0] == wire_layout.TOUCHING:
        rule("move")(state, count, constant_array(wire), current, current, TICK, told)
        ticks += 1
    told_time = short_rules.clearing_time(current, 0.1 * wire.section, action=wire.action, time_constant=wire.spot_tau)
    assert 0.0 <= ticks * TICK - told_time < TICK
    assert wire.gap_spot_low <= state[0] <= wire.gap_spot_high


def test_a_spot_never_parts_below_its_least_current_and_the_wire_gives_way():
    """1 % below the least clearing current nothing parts in the time that the stub takes; then a new spot is drawn."""
    wire = constants(Wire(feed=8.0 / 60.0))
    least = short_rules.least_clearing_current(0.1 * wire.section, action=wire.action, time_constant=wire.spot_tau)
    state, count, told = fresh(wire, wire_layout.TOUCHING)
    state[4], ticks = 0.1, 0
    while count[13] == 0:
        rule("move")(state, count, constant_array(wire), 0.99 * least, 0.99 * least, TICK, told)
        ticks += 1
        assert count[0] == wire_layout.TOUCHING
    assert short_rules.gives_way(ticks * TICK * wire.feed, wire.stub_length)
    assert not short_rules.gives_way((ticks - 2) * TICK * wire.feed, wire.stub_length)
    assert state[4] != 0.1


@pytest.mark.parametrize("factor", [0.999, 1.001])
def test_a_heavy_drop_falls(factor):
    """A drop at its limit leaves, below it stays; the arc burns on."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.BURNING)
    state[0] = 8e-3
    state[6] = factor * wire.drop_limit**3 / (1.5 * wire.diameter**2)
    falls = drop_rules.drop_falls(drop_rules.drop_diameter(state[6], wire.diameter), wire.drop_limit)
    rule("move")(state, count, constant_array(wire), 0.0, 0.0, TICK, told)
    assert (state[6] == 0.0) == falls
    assert count[0] == wire_layout.BURNING


@pytest.mark.parametrize("contact", [5e-3, 0.05, 0.5])
def test_extension_parts_the_farther_the_slower(contact):
    """The gap of an extension that melts lies where the rule puts it for draws of 0 and 1."""
    wire = constants(None)
    for trial in range(20):
        state, count, told = fresh(wire, wire_layout.TOUCHING)
        state[3], state[4], state[13], count[4] = 1.0, 0.9, contact, trial
        rule("move")(state, count, constant_array(wire), 150.0, 150.0, TICK, told)
        assert count[0] == wire_layout.BURNING
        low, high = (
            short_rules.gap_after_extension(
                contact + TICK, draw, low=wire.gap_long_low, high=wire.gap_long_high, rise_time=wire.gap_rise_time
            )
            for draw in (0.0, 1.0)
        )
        assert low <= state[0] <= high


@pytest.mark.parametrize(("established", "time"), [(False, 0.0), (True, 0.0), (True, 0.02), (True, 0.2)])
def test_feed_of_the_motor(established, time):
    """Speed and way of the motor are the exact lag towards what the rule asks for; nothing before its delay."""
    wire = constants(None)
    state, count, told = fresh(wire, wire_layout.CLEAR)
    array = constant_array(wire)
    array[wire_layout.FEED_DELAY], array[wire_layout.RELEASE] = 0.01, 0.15
    state[0], state[1], count[6], count[9] = 1.0, 0.02, established, round(time / TICK)
    rule("move")(state, count, array, 0.0, 0.0, TICK, told)
    wanted = wire_rules.feed_wanted(wire.run_in, wire.feed, established=established, released=time >= 0.15)
    wanted = 0.0 if time < 0.01 else wanted
    told_speed = wire_rules.feed_speed(0.02, wanted, time=TICK, time_constant=wire.motor_tau)
    assert state[1] == pytest.approx(told_speed, rel=SAME)
    assert 1.0 - state[0] == pytest.approx(0.5 * (0.02 + told_speed) * TICK, rel=1e-5)  # mean of the ends: 2nd order


def test_draws_are_even_and_belong_to_seed_trial_event_and_purpose():
    """10,000 numbers have the mean and spread of an even distribution (3 sigma: 0.009, 0.002), and another one for any
    other key.
    """
    found = []
    for trial in range(2500):
        for purpose in (wire_layout.GAP_DRAW, wire_layout.SPOT_DRAW):
            for event in (3, 4):
                count = np.zeros(20, np.int64)
                count[2], count[3], count[4] = event, 7, trial
                found.append(rule("uniform")(count, purpose, 0.0, 1.0))
    assert np.mean(found) == pytest.approx(0.5, abs=0.009)
    assert np.var(found) == pytest.approx(1.0 / 12.0, abs=0.003)
    assert len(set(found)) == len(found)
