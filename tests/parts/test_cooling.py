"""Bodies that warm and cool: against scipy's integration of the same heat balance, closed forms, limit cases."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as any_of
from scipy.integrate import solve_ivp

from weldsim.parts.cooling import Body, Cooling, capacity, growth, winding_mass
from weldsim.parts.transformer import Transformer, winding_resistance

PLAIN = Body(0.0, 100.0, 20.0, 0.0, 1.0, 600.0, 25.0, 100.0)  # 100 K above the air without a pause, limit at 75 K
COPPER = Body(200.0, 15.0, 20.0, 0.00393, 0.5, 780.0, 25.0, 130.0)
bodies = any_of.builds(
    Body,
    copper=any_of.floats(0.0, 800.0),
    fixed=any_of.floats(1.0, 300.0),
    cold=any_of.floats(0.0, 60.0),
    growth=any_of.sampled_from([0.0, 0.00393]),
    to_air=any_of.floats(0.05, 2.0),
    time=any_of.floats(30.0, 3000.0),
    ambient=any_of.floats(-10.0, 45.0),
    limit=any_of.floats(70.0, 180.0),
)


def integrated(body, begin, spans):
    """The heat balance by a general integrator: spans of (seconds, welding); the temperature after each."""
    found = []
    for seconds, welding in spans:

        def rate(_, state, welding=welding):
            """dT/dt of C dT/dt = P (1 + a (T - T_cold)) + P_iron - (T - T_air) / R, C from the time constant."""
            heat = body.copper * (1.0 + body.growth * (state - body.cold)) + body.fixed if welding else 0.0
            return (heat - (state - body.ambient) / body.to_air) * body.to_air / body.time

        done = solve_ivp(rate, (0.0, seconds), [begin], rtol=1e-10, atol=1e-9)
        begin = done.y[0, -1]
        found.append(begin)
    return found


@given(bodies, any_of.floats(20.0, 120.0), any_of.floats(1.0, 2000.0), any_of.booleans())
def test_after_is_the_heat_balance(body, begin, seconds, welding):
    """Temperature after a while of welding or rest (1e-6 of it: the integrator's tolerance over many steps)."""
    (told,) = integrated(body, begin, [(seconds, welding)])
    assert body.after(seconds, begin, welding=welding) == pytest.approx(told, rel=1e-6, abs=1e-5)


@given(bodies)
def test_it_settles_where_heat_is_given_away(body):
    """Settled, the balance is nothing; nothing settles where copper takes more than the air takes away."""
    if math.isinf(body.settled):
        assert body.to_air * body.growth * body.copper >= 1.0
        return
    heat = body.copper * (1.0 + body.growth * (body.settled - body.cold)) + body.fixed
    assert heat == pytest.approx((body.settled - body.ambient) / body.to_air, rel=1e-9)


@given(bodies)
def test_the_time_to_the_limit_leads_there(body):
    """Welding from cold for that time ends at the limit; less than a settled temperature is reached, more never."""
    lasts = body.time_to(body.limit, body.ambient)
    if math.isinf(lasts):
        assert body.settled <= body.limit
    else:
        assert body.after(lasts, body.ambient) == pytest.approx(body.limit, rel=1e-7)
    rest = body.rest_to(0.5 * (body.ambient + body.limit), body.limit)
    assert body.after(rest, body.limit, welding=False) == pytest.approx(0.5 * (body.ambient + body.limit), rel=1e-9)


def test_classical_warming():
    """1 - 1/e of the rise after a time constant; to 3/4 of it takes ln 4 time constants (closed forms)."""
    assert PLAIN.after(600.0, 25.0) == pytest.approx(25.0 + 100.0 * (1.0 - math.exp(-1.0)))
    assert PLAIN.time_to(100.0, 25.0) == pytest.approx(600.0 * math.log(4.0))
    assert PLAIN.rest_to(50.0, 100.0) == pytest.approx(600.0 * math.log(3.0))
    assert math.isinf(PLAIN.rest_to(20.0, 100.0))
    assert PLAIN.time_to(90.0, 95.0) == 0.0


@pytest.mark.parametrize("duty", [0.1, 0.35, 0.8])
def test_cycles_settle_at_the_textbooks_peak(duty):
    """Rise (1 - e^-a) / (1 - e^-(a+b)) of the settled one, a and b weld and rest over the time constant."""
    a, b = duty * 600.0 / PLAIN.time, (1.0 - duty) * 600.0 / PLAIN.time
    told = 25.0 + 100.0 * (1.0 - math.exp(-a)) / (1.0 - math.exp(-a - b))
    assert PLAIN.hottest(duty, 600.0) == pytest.approx(told)


def test_cycles_of_copper_settle_where_many_cycles_lead():
    """Thirty cycles by the integrator; what is left after them is e^-(30 x 600 s / some 1100 s)."""
    many = integrated(COPPER, 25.0, [(0.3 * 600.0, True), (0.7 * 600.0, False)] * 30)
    assert COPPER.hottest(0.3, 600.0) == pytest.approx(many[-2], rel=1e-5)


def test_duty_is_where_the_peak_meets_the_limit():
    """Short cycles: limit over settled rise (75 of 100 K); ten minutes: less; below the limit without a pause: all."""
    assert PLAIN.duty(1.0) == pytest.approx(0.75, abs=1e-3)
    assert PLAIN.duty(600.0) < 0.75
    assert PLAIN.hottest(PLAIN.duty(600.0), 600.0) == pytest.approx(100.0)
    assert dataclasses.replace(PLAIN, limit=125.0).duty(600.0) == 1.0


def test_what_is_needed_just_holds():
    """A heat sink of the size that is asked for reaches its limit at that duty and no more."""
    size = PLAIN.needed(0.35, 600.0)
    assert dataclasses.replace(PLAIN, to_air=size).hottest(0.35, 600.0) == pytest.approx(100.0)
    assert PLAIN.needed(1.0, 600.0) == pytest.approx(0.75)  # 75 K over 100 W


def test_copper_that_runs_away():
    """800 W that grow by 0.39 % per kelvin against 0.5 K/W: a kelvin more brings 3.1 W and takes 2 W away."""
    hot = dataclasses.replace(COPPER, copper=800.0)
    assert math.isinf(hot.settled)
    assert 0.0 < hot.time_to(130.0, 25.0) < 780.0
    assert 0.0 < hot.duty(600.0) < 0.3


def test_windings_grow_as_copper_does():
    """Annealed copper: 0.00393 per kelvin of the value at 20 degC; from 20 to 100 degC 1.314 times."""
    assert growth(20.0, conductor="copper") == pytest.approx(0.00393, rel=1e-3)
    cold, warm = (
        winding_resistance(Transformer(ratio=8.0, primary_resistance=0.1, winding_temperature=temperature), "primary")
        for temperature in (20.0, 100.0)
    )
    assert warm / cold == pytest.approx(1.0 + 80.0 * growth(20.0, conductor="copper"))


def test_metal_of_the_windings():
    """100 turns of 0.5 m and 2 mm2, 10 of 0.6 m and 20 mm2 copper: 220 cm3 of 8.9 g/cm3; unknown without dimensions."""
    known = Transformer(
        primary_turns=100, secondary_turns=10, primary_wire_section=2e-6, secondary_wire_section=20e-6,
        primary_turn_length=0.5, secondary_turn_length=0.6,
    )  # fmt: skip
    assert winding_mass(known) == pytest.approx(220e-6 * 8900.0)
    assert winding_mass(Transformer(ratio=8.0, primary_resistance=0.1)) is None
    assert capacity(1.0, conductor="copper") == pytest.approx(385.0, rel=0.01)  # J/(kg K), of tables


def test_limits_below_the_air_are_told():
    """Each by its key."""
    assert [name for name, _ in Cooling(ambient=50.0, cutout=45.0, sink_limit=50.0).faults()] == [
        "sink_limit",
        "cutout",
    ]
    assert Cooling().faults() == []


def test_more_duty_is_warmer():
    """And a longer cycle at the same duty too."""
    warm = [COPPER.hottest(duty, 600.0) for duty in np.linspace(0.05, 1.0, 20)]
    assert np.all(np.diff(warm) > 0.0)
    assert COPPER.hottest(0.3, 1200.0) > COPPER.hottest(0.3, 600.0)
