"""Readings of the finished set, by hand: copper that is warm, a body that cools and was heated."""

import math

import pytest

from weldsim.parts.bench_set import cooling_of, resistance_to_air, temperature_by_resistance


@pytest.mark.parametrize(("ratio", "celsius"), [(1.0, 20.0), (1.2, 70.9), (1.393, 120.0), (0.8, -30.9)])
def test_copper_by_the_rule_of_its_inferred_zero(ratio: float, celsius: float):
    """R ~ 234.5 + T for copper (IEC 60034-1, from memory): our 0.00393 per kelvin at 20 degC is within 0.1 K of it."""
    assert temperature_by_resistance(ratio * 0.4, cold=0.4, at=20.0) == pytest.approx(celsius, abs=0.1)


def test_the_cold_reading_may_be_warm():
    """From 20 to 50 degC and on to 80 is from 20 to 80."""
    fifty = 0.4 * (234.5 + 50.0) / 254.5
    assert temperature_by_resistance(0.4 * (234.5 + 80.0) / 254.5, cold=fifty, at=50.0) == pytest.approx(80.0, abs=0.1)


def test_what_does_not_cool_has_no_time():
    """Constant readings: their temperature, and a time constant without end."""
    assert cooling_of([0.0, 60.0, 120.0], [50.0, 50.0, 50.0], air=20.0) == (pytest.approx(50.0), math.inf)


def test_long_heating_is_power_times_resistance():
    """After ten time constants: dT = P R, to 5e-5; at once: dT = P t / C with C = tau / R."""
    assert resistance_to_air(50.0, 100.0, duration=6000.0, time_constant=600.0) == pytest.approx(0.5, rel=5e-5)
    assert resistance_to_air(1e-3, 100.0, duration=0.01, time_constant=1000.0) == pytest.approx(1.0, rel=1e-5)
