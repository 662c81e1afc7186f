"""The thermistor against a printed table, a general integrator, and the limits that can be solved by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from weldsim.errors import ScenarioError
from weldsim.parts.soft_start import SoftStart
from weldsim.parts.thermistor import (
    resistance_ladder,
    thermistor_cooled,
    thermistor_resistance,
    thermistor_settled,
    thermistor_warmed,
)

# An inrush limiter as data sheets describe it (from memory, 70 %): 10 ohm, B 3000 K, 17 mW/K, 90 s.
LIMITER = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
CAPACITY = 17e-3 * 90.0


def integrated(temperature, *, i2t, duration):
    """Temperature and heat by a general integrator, from the heat balance written out once more."""

    def slopes(_, state):
        heat = i2t / duration * 10.0 * math.exp(3000.0 * (1.0 / (state[0] + 273.15) - 1.0 / 298.15))
        return [(heat - 17e-3 * (state[0] - 25.0)) / CAPACITY, heat]

    done = solve_ivp(slopes, (0.0, duration), [temperature, 0.0], method="DOP853", rtol=1e-11, atol=1e-10)
    return done.y[:, -1]


# Resistance of a sensor of 10 kohm with B(25/85) = 3435 K: a maker's table (from memory, 85 %), [degC], [ohm].
TABLE = [(0.0, 27_280.0), (25.0, 10_000.0), (50.0, 4160.0), (85.0, 1451.0)]


@pytest.mark.parametrize(("temperature", "resistance"), TABLE)
def test_printed_table(temperature, resistance):
    """A maker's table of a sensor within 6 %: B is fitted at 25 and 85 degC, and 5 % less of it at 0 degC is 5.4 %."""
    sensor = SoftStart(kind="ntc", resistance=10e3, beta=3435.0, dissipation=2e-3, cooling_time=15.0)
    assert thermistor_resistance(sensor, temperature=temperature) == pytest.approx(resistance, rel=0.06)
    if temperature in (25.0, 85.0):
        assert thermistor_resistance(sensor, temperature=temperature) == pytest.approx(resistance, rel=1e-3)


def test_cooling():
    """After one time constant 1/e of the rise is left, after none all of it, after very many nothing (by hand)."""
    assert thermistor_cooled(LIMITER, 125.0, pause=90.0) == pytest.approx(25.0 + 100.0 / math.e, rel=1e-12)
    assert thermistor_cooled(LIMITER, 125.0, pause=0.0) == 125.0
    assert thermistor_cooled(LIMITER, 125.0, pause=1e5) == pytest.approx(25.0, abs=1e-9)
    twice = thermistor_cooled(LIMITER, thermistor_cooled(LIMITER, 125.0, pause=2.0), pause=3.0)
    assert twice == pytest.approx(thermistor_cooled(LIMITER, 125.0, pause=5.0), rel=1e-12)


def test_heat_capacity_is_cooling_time_times_dissipation():
    """17 mW/K for 90 s is 1.53 J/K: either way of giving it cools alike."""
    other = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, heat_capacity=1.53)
    assert thermistor_cooled(other, 125.0, pause=33.0) == pytest.approx(thermistor_cooled(LIMITER, 125.0, pause=33.0))


@pytest.mark.parametrize(
    ("temperature", "i2t", "duration"),
    [(25.0, 2.0, 0.01), (25.0, 450.0, 0.01), (25.0, 2.0, 1e-4), (160.0, 0.5, 0.01), (25.0, 9.0 * 300.0, 300.0)],
    ids=["20 A peak", "300 A peak", "spike", "warm", "minutes"],
)
def test_warming_as_a_general_integrator(temperature, i2t, duration):
    """Temperature and heat as scipy's eighth-order integrator gives them: 1e-5 of the rise, as promised."""
    theirs = integrated(temperature, i2t=i2t, duration=duration)
    ours = thermistor_warmed(LIMITER, temperature, i2t=i2t, duration=duration)
    rise = abs(theirs[0] - temperature)
    assert ours.temperature == pytest.approx(theirs[0], abs=1e-5 * rise)
    assert ours.energy == pytest.approx(theirs[1], rel=2e-5)


def test_no_current_is_cooling():
    """With i2t = 0 the closed form of cooling comes out, and no heat went in; 1e-6 for the steps."""
    resting = thermistor_warmed(LIMITER, 140.0, i2t=0.0, duration=40.0)
    assert resting.temperature == pytest.approx(thermistor_cooled(LIMITER, 140.0, pause=40.0), rel=1e-6)
    assert resting.energy == pytest.approx(0.0, abs=1e-4)  # of 63 J given off: the same steps


def test_small_short_pulse_by_hand():
    """A pulse so small that the resistance stays: heat = i2t R, rise = heat / C; 1e-3 as the rise is 0.0065 K."""
    done = thermistor_warmed(LIMITER, 25.0, i2t=1e-3, duration=1e-3)
    assert done.energy == pytest.approx(1e-3 * 10.0, rel=1e-3)
    assert done.temperature - 25.0 == pytest.approx(1e-2 / CAPACITY, rel=1e-3)


@given(st.floats(0.1, 50.0))
def test_settled(current):
    """The root of the heat balance as scipy brackets it, and where a long current ends up."""

    def balance(temperature):
        resistance = 10.0 * math.exp(3000.0 * (1.0 / (temperature + 273.15) - 1.0 / 298.15))
        return current**2 * resistance - 17e-3 * (temperature - 25.0)

    assert thermistor_settled(LIMITER, current=current) == pytest.approx(brentq(balance, 25.0, 2e6), rel=1e-9)


def test_long_current_settles():
    """3 A for half an hour, 20 time constants: the settled temperature; 1e-6 for e^-20 and the steps."""
    done = thermistor_warmed(LIMITER, 25.0, i2t=9.0 * 1800.0, duration=1800.0)
    assert done.temperature == pytest.approx(thermistor_settled(LIMITER, current=3.0), rel=1e-6)


def test_quick_presses_find_it_hot():
    """The trade's complaint: at once after 3 A for a while it is some percent of its cold resistance, a minute later
    still less than half.
    """
    hot = thermistor_settled(LIMITER, current=3.0)
    again = thermistor_resistance(LIMITER, temperature=thermistor_cooled(LIMITER, hot, pause=1.0))
    later = thermistor_resistance(LIMITER, temperature=thermistor_cooled(LIMITER, hot, pause=60.0))
    assert again < 0.05 * 10.0
    assert again < later < 0.5 * 10.0


def test_ladder():
    """Even ratios between the ambient and the hottest resistance."""
    steps = resistance_ladder(LIMITER, hottest=170.0, count=12)
    assert (steps[0], steps[-1]) == pytest.approx((10.0, thermistor_resistance(LIMITER, temperature=170.0)))
    ratios = [after / before for before, after in zip(steps[:-1], steps[1:], strict=True)]
    assert ratios == pytest.approx([ratios[0]] * 11)
    assert math.sqrt(1.0 / ratios[0]) - 1.0 < 0.165  # as the docstring says


def test_wrong_questions():
    """A resistor is no thermistor, and no time is no current."""
    resistor = SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1)
    with pytest.raises(ScenarioError, match="no thermistor"):
        thermistor_resistance(resistor, temperature=25.0)
    with pytest.raises(ScenarioError, match="needs time"):
        thermistor_warmed(LIMITER, 25.0, i2t=1.0, duration=0.0)
