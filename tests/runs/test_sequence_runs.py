"""Sequences on a supply with a wire: what follows from which order, and what a seed repeats."""

import math

import numpy as np
import pytest

import weldsim
from weldsim.parts.trigger import Trigger
from weldsim.runs.sequence_runs import FREE, IN_THE_TUBE, STUCK, Sequencer, timers
from weldsim.scenario.vary import vary

SPOT = Trigger(spot_time=0.4, burn_back=0.08, held=3.0)


@pytest.fixture(scope="module")
def shed():
    """The shed at 60 % of its dial."""
    return Sequencer(weldsim.read("toroid_shed"), dial=0.6)


@pytest.fixture(scope="module")
def motored():
    """The same with a feed motor that coasts."""
    return Sequencer(vary(weldsim.read("toroid_shed"), {"feed_motor.reel_fill": "60 %"}), dial=0.6)


def ends(maker, burn_back, trials=6):
    """Wire ends and how they ended."""
    table = Trigger(spot_time=0.4, burn_back=burn_back, held=3.0)
    pulses = [maker.run(seed=2, trial=trial, trigger=table).pulses[0] for trial in range(trials)]
    return np.median([pulse.wire_end for pulse in pulses]), [pulse.ending for pulse in pulses]


def test_a_trial_depends_on_seed_and_number_alone(shed):
    """Energy of the fourth spot is the same before and after others; another seed gives another."""
    first = shed.run(seed=5, trial=3, trigger=SPOT).pulses[0]
    shed.run(seed=5, trial=1, trigger=SPOT)
    again = shed.run(seed=5, trial=3, trigger=SPOT).pulses[0]
    assert (first.energy, first.wire_end, first.first_arc) == (again.energy, again.wire_end, again.first_arc)
    assert shed.run(seed=6, trial=3, trigger=SPOT).pulses[0].energy != first.energy


@pytest.mark.slow
@pytest.mark.parametrize("maker", ["shed", "motored"])
def test_burn_back_shortens_the_wire_end(maker, request):
    """No burn-back sticks, some leaves a free end, much burns into the tube; in between longer means shorter.

    With either feeder: the arc outlasts the feed longer and melts more (by the order of events).
    """
    maker = request.getfixturevalue(maker)
    found = [ends(maker, time) for time in (0.0, 0.06, 0.1, 0.4)]
    lengths = [length for length, _ in found]
    assert lengths[0] > lengths[1] > lengths[2] > lengths[3]
    assert found[0][1].count(STUCK) >= 4
    assert found[1][1].count(FREE) >= 5
    assert found[3][1].count(IN_THE_TUBE) >= 5


@pytest.mark.slow
def test_the_wire_that_overruns_sticks(motored):
    """A brake on the motor lets less wire come after the stop: the end is shorter than coasting (common practice)."""
    scenario = vary(motored.scenario, {"feed_motor.brake_resistance": "0.2 ohm"})
    braked, _ = ends(Sequencer(scenario, dial=0.6), 0.03)
    coasting, _ = ends(motored, 0.03)
    assert braked < coasting - 0.5e-3


def test_no_volts_no_arc():
    """At a delay where nothing conducts no arc burns, and the wire stands in the work."""
    pulse = Sequencer(weldsim.read("toroid_shed"), delay=178.0).run(seed=1, trial=0, trigger=SPOT).pulses[0]
    assert math.isnan(pulse.first_arc)
    assert pulse.ending == STUCK


def test_spot_from_the_arc(shed):
    """A timer that counts from the arc makes the arc last spot time and burn-back, whenever it struck.

    30 ms: bank and choke burn on after the power, and an arc may be lost once.
    """
    table = Trigger(spot_time=0.3, burn_back=0.05, held=3.0, spot_from="arc", timer_spread=0.0)
    pulses = [shed.run(seed=1, trial=trial, trigger=table).pulses[0] for trial in range(5)]
    assert max(pulse.first_arc for pulse in pulses) - min(pulse.first_arc for pulse in pulses) > 5e-3
    for pulse in pulses:
        assert pulse.arc_time == pytest.approx(0.35, abs=0.03)
        assert pulse.power[1] - pulse.power[0] == pytest.approx(0.35 + pulse.first_arc, abs=1e-9)


def test_stitches(shed):
    """Three stitches are three pulses with an arc each; each starts from the wire end that the last one left."""
    table = Trigger(held=1.6, stitch_on=0.4, stitch_off=0.2, burn_back=0.06, timer_spread=0.0)
    sequence = shed.run(seed=1, trial=0, trigger=table)
    assert len(sequence.pulses) == 3
    assert all(math.isfinite(pulse.first_arc) for pulse in sequence.pulses)
    assert sequence.pulses[1].power == pytest.approx((0.6, 1.06))


def test_a_synchronised_timer_counts(shed):
    """The same number of half cycles in every spot, from zero crossing to zero crossing; a free one varies by some."""
    counted = Trigger(spot_time=0.3, held=3.0, timer="mains-synchronised")
    spots = [shed.run(seed=1, trial=trial, trigger=counted) for trial in range(6)]
    assert len({spot.pulses[0].half_cycles for spot in spots}) == 1
    for spot in spots:
        crossing = (spot.pulses[0].power[0] + spot.phase * 0.02) / 0.01
        assert crossing == pytest.approx(round(crossing), abs=1e-6)
        assert spot.plan.feed[0][1] == pytest.approx(spot.plan.power[0][1] - 0.05, abs=1e-9)


def test_timers_of_a_free_timer():
    """Its times are within their spread, differ from trial to trial, and those of a counting one are as written."""
    table = Trigger(spot_time=0.5, timer_spread=0.1)
    times = [timers(1, trial, table).spot_time for trial in range(20)]
    assert min(times) >= 0.45
    assert max(times) <= 0.55
    assert len(set(times)) == 20
    assert timers(1, 0, Trigger(spot_time=0.5, timer="mains-synchronised")).spot_time == 0.5


def test_recorded_waves(shed):
    """A recorded sequence holds a row for every tick until the wire rests, with the feed beside it."""
    sequence = shed.run(seed=1, trial=0, trigger=SPOT, recorded=True)
    assert sequence.signals[0] == "output.current"
    assert sequence.wave[-1, 0] == pytest.approx(sequence.length, abs=2e-3)
    assert sequence.feed[:, 1].max() == pytest.approx(shed.speeds["weld"], rel=0.02)
    assert sequence.feed[-1, 1] < 1e-3


@pytest.mark.slow
def test_a_motor_on_the_weld_output_waits_for_it():
    """Fed from the terminals the motor stands until the power is on, and slows when the arc pulls the volts down."""
    settings = {"feed_motor.reel_fill": "60 %", "feed_supply.kind": "weld output", "feed_supply.control": "open loop"}
    maker = Sequencer(vary(weldsim.read("toroid_shed"), settings), dial=0.6)
    sequence = maker.run(seed=1, trial=0, trigger=Trigger(held=1.2, power_delay=0.1))
    time, feed = sequence.feed.T
    assert feed[time < 0.1].max() == 0.0
    assert feed.max() > 1.1 * np.mean(feed[(time > 0.9) & (time < 1.1)])
