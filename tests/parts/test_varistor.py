"""The varistor: its two straight lines, alike in both directions."""

import pytest

from weldsim.parts.varistor import Varistor, voltage_at

DISC = Varistor(clamp_voltage=430.0, slope=5.6, leakage_resistance=10e6)


def test_leakage_below_the_clamp_voltage():
    """At a microampere it is 10 Mohm: 10 V, with the current's sign; at no current there is no voltage."""
    assert voltage_at(DISC, 1e-6) == pytest.approx(10.0)
    assert voltage_at(DISC, -1e-6) == pytest.approx(-10.0)
    assert voltage_at(DISC, 0.0) == 0.0


def test_line_beyond_the_clamp_voltage():
    """430 V at 1 mA and 710 V at 50 A are the data sheet figures that its line was put through (from memory)."""
    assert voltage_at(DISC, 1e-3) == pytest.approx(430.0, rel=1e-4)  # 5.6 mV of slope
    assert voltage_at(DISC, 50.0) == pytest.approx(710.0)
    assert voltage_at(DISC, -50.0) == pytest.approx(-710.0)


def test_without_a_slope_it_holds_its_voltage():
    """The ideal limit: a slope of nothing gives the clamp voltage at any current beyond the leakage."""
    assert voltage_at(Varistor(clamp_voltage=430.0, slope=0.0), 1000.0) == 430.0
