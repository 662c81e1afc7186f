"""Breakers under welding and pauses: duty-cycle closed forms, limits, the points of the standard."""

import math

import pytest

from weldsim.errors import WeldsimError
from weldsim.parts.breaker_curves import EDGES, heat_after, longest_current, trip_heat, trip_time
from weldsim.parts.breaker_cycles import (
    cycle_heat,
    fusing_currents,
    longest_current_in_cycles,
    trip_time_in_cycles,
)
from weldsim.parts.protection import Breaker

B16 = Breaker(curve="B", current=16.0)
# Time constant of the fastest B breaker [s]: 1.13 In held for ever, 2.55 In trips in 1 s, IEC 60898-1.
TAU = 1.0 / math.log(2.55**2 / (2.55**2 - 1.13**2))


@pytest.mark.parametrize(
    ("duty", "tau", "hottest", "allowed"),
    [
        (0.1, 300.0, 0.209641, 2.18405),
        (0.1, 1200.0, 0.123950, 2.84038),
        (0.2, 600.0, 0.286764, 1.86740),
        (0.35, 300.0, 0.582208, 1.31057),
        (0.35, 3600.0, 0.369106, 1.64598),
        (0.6, 600.0, 0.713769, 1.18364),
    ],
)
def test_settled_cycles_are_those_of_one_time_constant(duty, tau, hottest, allowed):
    """Hottest over continuous and the current allowed over the continuous one, for a 10 min cycle of a time constant.

    Computed with 30 digits (table of duty cycles with one time constant); the breaker's own time constant is another,
    so the cycle is scaled by it.  Tolerance: the digits of the table.
    """
    cycle = 600.0 * TAU / tau
    assert cycle_heat(B16, duty=duty, cycle=cycle, edge="fastest") == pytest.approx(hottest, abs=1e-6)
    found = longest_current_in_cycles(B16, duty=duty, cycle=cycle, edge="fastest")
    assert found / longest_current(B16, edge="fastest") == pytest.approx(allowed, abs=1e-5)


def test_short_cycles_heat_by_duty_and_long_ones_not_at_all_less():
    """Limits: cycles far shorter than the time constant count by their duty, far longer ones like no pause at all."""
    assert cycle_heat(B16, duty=0.35, cycle=1e-3, edge="middle") == pytest.approx(0.35, rel=1e-4)
    assert cycle_heat(B16, duty=0.35, cycle=1e5, edge="middle") == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize("edge", EDGES)
def test_what_holds_in_cycles_is_sharp(edge):
    """Half a percent above the current that holds for ever trips in the end, half a percent below never does."""
    most = longest_current_in_cycles(B16, duty=0.35, cycle=20.0, edge=edge) / 16.0
    assert math.isinf(trip_time_in_cycles(B16, 0.995 * most, duty=0.35, cycle=20.0, edge=edge))
    assert 0.0 < trip_time_in_cycles(B16, 1.005 * most, duty=0.35, cycle=20.0, edge=edge) < 1e5


def test_a_trip_in_the_first_weld_knows_no_pause():
    """A current that trips within the first weld trips at the same time as without pauses."""
    assert trip_time_in_cycles(B16, 2.55, duty=0.5, cycle=600.0, edge="slowest") == pytest.approx(60.0)
    assert trip_time_in_cycles(B16, 2.55, duty=0.5, cycle=600.0, edge="slowest") == trip_time(B16, 2.55, edge="slowest")


def test_a_warm_breaker_trips_in_the_first_weld_of_cycles_that_hold_for_ever():
    """0.5 % below what holds for ever in cycles from cold, begun with the heat of 0.875 In: the lag is stepped here.

    Found by explicit steps of h' = (m^2 - h) / tau in this test, tau read off one second of cooling.
    """
    for edge, duty in (("slowest", 0.35), ("middle", 0.02)):
        multiple = 0.995 * longest_current_in_cycles(B16, duty=duty, cycle=600.0, edge=edge) / 16.0
        tau, step, heat, time = (
            -1.0 / math.log(heat_after(B16, 1.0, multiple=0.0, duration=1.0, edge=edge)),
            1e-3,
            0.875**2,
            0.0,
        )
        while heat < trip_heat(B16, edge=edge):
            heat, time = heat + step * (multiple**2 - heat) / tau, time + step
            assert time < duty * 600.0
        begun = {"duty": duty, "cycle": 600.0, "edge": edge}
        # 1 %: steps of a thousandth of a second
        assert trip_time_in_cycles(B16, multiple, heat=0.875**2, **begun) == pytest.approx(time, rel=0.01)
        assert math.isinf(trip_time_in_cycles(B16, multiple, **begun))


@pytest.mark.parametrize(
    ("rating", "holds", "melts"), [(4.0, 1.5, 1.9), (10.0, 1.5, 1.9), (16.0, 1.25, 1.6), (32.0, 1.25, 1.6)]
)
def test_fuses_have_conventional_currents(rating, holds, melts):
    """gG links: 1.25 and 1.6 times the rating from 16 A, 1.5 and 1.9 below (IEC 60269-1, from memory, 90 %)."""
    assert fusing_currents(Breaker(curve="gG", current=rating)) == (holds * rating, melts * rating)


def test_no_duty_is_refused():
    """A duty of nothing, or of more than all, makes no cycle."""
    for duty in (0.0, 1.5):
        with pytest.raises(WeldsimError, match="makes no cycle"):
            cycle_heat(B16, duty=duty, cycle=600.0, edge="middle")
