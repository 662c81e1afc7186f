"""Power switched by a trigger: what the gate is given, counted by hand, and energy on a resistor in closed form."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import weldsim
from weldsim.parts.trigger import Trigger, firings
from weldsim.runs import spot_runs
from weldsim.runs.commands import event_numbers
from weldsim.runs.first_fire import FirstFire
from weldsim.runs.power import power_commands, settled_delay, switched
from weldsim.runs.spot_runs import Condition, LoadBench, spots_under
from weldsim.runs.supply import supply_of
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary

DIMMER = """\
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
off_resistance = "1000 Mohm"
pulse_width = "0.5 ms"
[load]
kind = "resistor"
resistance = "23 ohm"
"""


def one_half_cycle(delay):
    """Energy of a half cycle on 23 ohm [J]: u^2 / R / 2 f x (1 - a / pi + sin 2a / 2 pi) (integral of sin^2)."""
    a = math.radians(delay)
    return 230.0**2 / 23.0 / 100.0 * (1.0 - a / math.pi + math.sin(2.0 * a) / (2.0 * math.pi))


@pytest.fixture(scope="module")
def dimmer():
    """A resistor behind a triac without losses."""
    return read_text(DIMMER)


@given(begin=st.floats(0.0, 0.05), length=st.floats(0.02, 0.5), delay=st.floats(20.0, 150.0))
@settings(max_examples=40, deadline=None)
def test_half_cycles_fired(dimmer, begin, length, delay):
    """As many half cycles are driven as firing angles lie in the span, and every pulse that begins also ends."""
    system = supply_of(dimmer).system
    span = (begin, begin + length)
    commands, (count,), _ = power_commands(dimmer, system, delay=delay, spans=(span,))
    assert count == firings(span, delay=delay, frequency=50.0, phase=0.0)
    numbers = event_numbers(system)
    ons = [time for time, event in commands if event == numbers["gate on"]]
    offs = [time for time, event in commands if event == numbers["gate off"]]
    assert len(ons) == len(offs) == count
    assert all(off - on == pytest.approx(0.5e-3) for on, off in zip(ons, offs, strict=True))


@pytest.mark.parametrize("delay", [40.0, 90.0, 120.0])
def test_energy_of_a_counted_spot(dimmer, delay):
    """A synchronised spot of 0.3 s on a resistor is 30 half cycles of the closed form at any phase: it repeats exactly.

    1e-4: the leak of the blocked switch and the gate's latching.
    """
    bench = LoadBench(dimmer, dial=None, delay=delay)
    trigger = Trigger(spot_time=0.3, burn_back=0.0, timer="mains-synchronised")
    spots = [bench.spot(seed=1, trial=trial, trigger=trigger)[0] for trial in range(6)]
    assert {spot.half_cycles for spot in spots} == {30}
    for spot in spots:
        assert spot.energy == pytest.approx(30.0 * one_half_cycle(delay), rel=1e-4)


def test_energy_of_free_spots_is_within_one_half_cycle(dimmer):
    """A free timer of 0.304 s gives 30 or 31 half cycles by the phase, each whole: what is fired ends at its zero."""
    bench = LoadBench(dimmer, dial=None, delay=90.0)
    trigger = Trigger(spot_time=0.304, burn_back=0.0, timer_spread=0.0)
    spots = [bench.spot(seed=1, trial=trial, trigger=trigger)[0] for trial in range(12)]
    assert {spot.half_cycles for spot in spots} == {30, 31}
    for spot in spots:
        assert spot.energy == pytest.approx(spot.half_cycles * one_half_cycle(90.0), rel=1e-4)


def test_a_ramp_begins_anew_with_each_span(dimmer):
    """Two spans with a ramp of 4 from 170 deg to 90 deg: each has the energy of 170, 150, 130, 110, 90 ... deg."""
    bench = LoadBench(dimmer, dial=None, delay=90.0)
    trigger = Trigger(spot_time=0.1, burn_back=0.0, timer="mains-synchronised")
    spot = bench.spot(seed=1, trial=0, trigger=trigger, rule=FirstFire("ramp", ramp=4))[0]
    wanted = sum(one_half_cycle(delay) for delay in (170.0, 150.0, 130.0, 110.0)) + 6 * one_half_cycle(90.0)
    assert spot.energy == pytest.approx(wanted, rel=2e-3)  # a pulse at 170 deg latches late or not at all
    system = supply_of(dimmer).system
    spans = ((0.0, 0.1), (0.5, 0.6))
    commands, counts, _ = power_commands(dimmer, system, delay=90.0, spans=spans, rule=FirstFire("ramp", ramp=4))
    assert counts == [10, 10]
    first, second = ([time - begin for time, _ in commands if begin <= time < end] for begin, end in spans)
    assert first == pytest.approx(second, abs=1e-9)


@pytest.mark.parametrize(("polarity", "turned"), [("opposite", -1), ("same", 1)])
def test_first_firings_keep_the_polarity_asked_for(dimmer, polarity, turned, monkeypatch):
    """From span to span, and from spot to spot: at random half of them would not (told by the odd and even half cycles
    of their gate pulses).
    """
    rule, system = FirstFire("first fire", angle=90.0, polarity=polarity), supply_of(dimmer).system
    numbers = event_numbers(system)

    def signs(table, span):
        """Polarity of the first and the last half cycle in which a pulse begins."""
        on = table[(table[:, 1] == numbers["gate on"]) & (span[0] <= table[:, 0]) & (table[:, 0] < span[1]), 0]
        halves = np.floor(100.0 * on + 1e-7)[[0, -1]]
        return (1 - 2 * (halves % 2.0)).tolist()

    spans = tuple((begin, begin + 0.05) for begin in (0.0, 0.211, 0.422, 0.635, 0.846))
    table, _, last = power_commands(dimmer, system, delay=60.0, spans=spans, rule=rule)
    fired = [signs(table, span) for span in spans]
    assert all(first == turned * before for (_, before), (first, _) in itertools.pairwise(fired))
    assert last == fired[-1][1]
    again, _, _ = power_commands(dimmer, system, delay=60.0, spans=spans[:1], rule=rule, last_polarity=-1)
    assert signs(again, spans[0])[0] == -turned
    given = []
    monkeypatch.setattr(
        spot_runs, "power_commands", lambda *of, **what: given.append(power_commands(*of, **what)) or given[-1]
    )
    bench, trigger = LoadBench(dimmer, dial=None, delay=60.0), Trigger(spot_time=0.05, burn_back=0.0)
    list(spots_under(bench, Condition("train", rule=rule, pause=0.5), trigger=trigger, count=6, seed=1))
    fired = [signs(table, (0.0, 1.0)) for table, _, _ in given]
    assert len(fired) == 6
    assert all(first == turned * before for (_, before), (first, _) in itertools.pairwise(fired))


def test_mains_factor_goes_with_its_square(dimmer):
    """Mains +10 % on a resistor: 21 % more energy (Joule)."""
    bench = LoadBench(dimmer, dial=None, delay=90.0)
    trigger = Trigger(spot_time=0.1, burn_back=0.0, timer="mains-synchronised")
    low, high = (bench.spot(seed=1, trial=0, trigger=trigger, mains_factor=factor)[0].energy for factor in (1.0, 1.1))
    assert high / low == pytest.approx(1.21, rel=1e-4)


def test_a_contactor_where_there_is_no_phase_control():
    """Without a phase control the primary is switched whole: 0.2 s on 23 ohm, synchronised, are 20 full half cycles."""
    plain = vary(read_text(DIMMER), {"phase_control": "absent"})
    bench = LoadBench(plain, dial=None, delay=None)
    assert "contactor" in bench.remark
    trigger = Trigger(spot_time=0.2, burn_back=0.0, timer="mains-synchronised")
    spot = bench.spot(seed=1, trial=0, trigger=trigger)[0]
    assert spot.half_cycles == 20
    assert spot.energy == pytest.approx(20.0 * one_half_cycle(0.0), rel=1e-3)  # its own drop of 0.1 mohm, its opening


def test_a_dial_with_rc_and_diac_keeps_its_delay():
    """The delay found in place of the dial is that at which the rig conducts: it gives the same output within 5 %.

    5 %: its two polarities differ by the diac's asymmetry, the delay in its place does not.
    """
    rig = weldsim.read("school_spot")
    found = settled_delay(rig, None)
    same, remark = switched(rig)
    assert "RC and diac" in remark
    table = [weldsim.perform(one, start="steady").table["output.voltage.mean"][0] for one in (rig, same)]
    assert 20.0 < found < 150.0
    assert table[0] == pytest.approx(table[1], rel=0.05)


HALVING = {"soft_start.kind": "resistor", "soft_start.resistance": "23 ohm", "soft_start.contact_resistance": "0 ohm"}


@pytest.mark.parametrize(("delay", "halves"), [("0.1 s", 10), ("10 s", 20)])
def test_a_series_soft_start_by_hand(dimmer, delay, halves):
    """As much resistance again in series leaves a quarter of the heat to the load, until the relay closes.

    By hand: 20 half cycles of full conduction, of which the first ``halves`` at half the volts.  1e-3: the switch's own
    drop of 0.1 mohm and its opening.
    """
    slow = vary(dimmer, HALVING | {"soft_start.bypass_delay": delay})
    bench = LoadBench(slow, dial=None, delay=0.0)
    trigger = Trigger(spot_time=0.2, burn_back=0.0, timer="mains-synchronised")
    spot = bench.spot(seed=1, trial=0, trigger=trigger)[0]
    assert spot.energy == pytest.approx((20 - 0.75 * halves) * one_half_cycle(0.0), rel=1e-3)


def test_a_contact_that_lets_go_late_softens_nothing(dimmer):
    """Released after 0.5 s, a relay is still closed after a pause of 0.1 s and open after one of a second (by hand)."""
    slow = vary(dimmer, HALVING | {"soft_start.bypass_delay": "0.1 s", "soft_start.release_time": "0.5 s"})
    bench = LoadBench(slow, dial=None, delay=0.0)
    trigger = Trigger(spot_time=0.2, burn_back=0.0, timer="mains-synchronised")
    _, leave = bench.spot(seed=1, trial=0, trigger=trigger)
    for pause, softened in ((0.1, 0), (1.0, 10)):
        spot = bench.spot(seed=1, trial=1, trigger=trigger, after=leave(pause))[0]
        assert spot.energy == pytest.approx((20 - 0.75 * softened) * one_half_cycle(0.0), rel=1e-3)
