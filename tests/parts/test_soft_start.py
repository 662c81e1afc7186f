"""Soft starts: the relay's times and bounces, rules of the first firings, what each kind needs."""

import pytest

from weldsim.parts.soft_start import (
    KINDS,
    USED,
    SoftStart,
    contact_times,
    firing_delays,
    needed_resistance,
    skips_soft_start,
)

LIMITER = {"kind": "ntc", "resistance": 10.0, "beta": 3000.0, "dissipation": 17e-3}


def relay(**values):
    """A series resistor of 22 ohm that a relay bypasses after 0.1 s."""
    return SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1, **values)


def test_a_clean_contact_closes_once():
    """Without bounces there is one contact; without a relay there is none."""
    assert contact_times(relay()) == [(0.1, True)]
    assert contact_times(SoftStart(**LIMITER, cooling_time=90.0)) == []


@pytest.mark.parametrize("count", [1, 2, 5])
def test_bounces(count):
    """The contact closes first after the delay and last when the bounce time is over, and alternates in between.

    Open times halve from bounce to bounce as the docstring says; rounding only.
    """
    times = contact_times(relay(bounce_count=count, bounce_time=4e-3))
    assert [closed for _, closed in times] == [True, *[False, True] * count]
    assert times[0][0] == 0.1
    assert times[-1][0] == pytest.approx(0.104, abs=1e-15)
    open_for = [times[k + 1][0] - times[k][0] for k in range(1, len(times), 2)]
    assert open_for == sorted(open_for, reverse=True)
    assert open_for[1:] == pytest.approx([0.5 * one for one in open_for[:-1]], rel=1e-9)
    assert sum(open_for) == pytest.approx(2e-3, rel=1e-9)


def test_a_quick_press_finds_the_relay_closed():
    """Only a pause shorter than the release of the relay takes the soft start away; without a relay none does."""
    assert skips_soft_start(relay(release_time=0.4), pause=0.399)
    assert not skips_soft_start(relay(release_time=0.4), pause=0.4)
    assert not skips_soft_start(SoftStart(**LIMITER, cooling_time=90.0), pause=0.0)


def test_needed_resistance():
    """325 V behind 25 ohm is 13 A (by hand); a loop of 5 ohm leaves 20 ohm; a weak mains needs none."""
    assert needed_resistance(325.0, peak=13.0) == 25.0
    assert needed_resistance(325.0, peak=13.0, loop_resistance=5.0) == 20.0
    assert needed_resistance(325.0, peak=13.0, loop_resistance=30.0) == 0.0


def test_ramp():
    """From 170 to 50 deg in 4 half cycles: steps of 30 deg (by hand), then the dial's; cut to what is asked for."""
    ramp = SoftStart(kind="ramp", half_cycles=4)
    assert firing_delays(ramp, 50.0, count=6) == [170.0, 140.0, 110.0, 80.0, 50.0, 50.0]
    assert firing_delays(ramp, 50.0, count=2) == [170.0, 140.0]
    assert firing_delays(ramp, 50.0, count=0) == []


def test_a_ramp_never_fires_before_the_dial():
    """A dial of 150 deg is not reached from 120 deg: there is nothing to soften."""
    assert firing_delays(SoftStart(kind="ramp", half_cycles=3, start_delay=120.0), 150.0, count=4) == [150.0] * 4


@pytest.mark.parametrize(
    ("soft_start", "first"),
    [
        (SoftStart(kind="first fire", first_delay=90.0), 90.0),
        (SoftStart(kind="first fire", polarity="opposite"), 30.0),
        (relay(), 30.0),
        (SoftStart(**LIMITER, cooling_time=90.0), 30.0),
    ],
    ids=["own delay", "polarity alone", "resistor", "ntc"],
)
def test_only_the_first_firing_differs(soft_start, first):
    """One own delay, then the dial's; the other kinds leave the firing as it is."""
    assert firing_delays(soft_start, 30.0, count=3) == [first, 30.0, 30.0]


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"kind": "resistor", "bypass_delay": 0.1}, "resistance"),
        ({"kind": "resistor", "resistance": 22.0}, "bypass_delay"),
        ({"kind": "ntc", "resistance": 10.0, "dissipation": 17e-3, "cooling_time": 90.0}, "beta"),
        ({"kind": "ntc", "resistance": 10.0, "beta": 3000.0, "cooling_time": 90.0}, "dissipation"),
        (LIMITER, "heat_capacity"),
        ({**LIMITER, "heat_capacity": 1.5, "cooling_time": 90.0}, "heat_capacity"),
        ({"kind": "ramp"}, "half_cycles"),
        ({"kind": "first fire"}, "first_delay"),
        (
            {"kind": "resistor", "resistance": 22.0, "bypass_delay": 0.1, "bounce_count": 2, "bounce_time": 0.0},
            "bounce",
        ),
    ],
)
def test_faults(values, place):
    """What a kind lacks or what says nothing is named at its field, and alone."""
    assert [name.startswith(place) for name, _ in SoftStart(**values).faults()] == [True]


@pytest.mark.parametrize(
    "values",
    [
        {"kind": "resistor", "resistance": 22.0, "bypass_delay": 0.1, "bounce_count": 3},
        {**LIMITER, "cooling_time": 90.0},
        {**LIMITER, "heat_capacity": 1.5, "bypass_delay": 0.5},
        {"kind": "ramp", "half_cycles": 10},
        {"kind": "first fire", "first_delay": 60.0, "polarity": "opposite"},
    ],
)
def test_sound_soft_starts(values):
    """Each kind with what it needs has no fault, and no field of it is idle."""
    soft_start = SoftStart(**values)
    assert soft_start.faults() == []
    assert set(values) <= {"kind", *USED[soft_start.kind]}


def test_every_field_serves_some_kind():
    """The table of used fields names each kind and each field of the dataclass, and nothing else."""
    names = set(SoftStart.__dataclass_fields__) - {"kind"}
    assert set(USED) == set(KINDS)
    assert {name for fields in USED.values() for name in fields} == names
