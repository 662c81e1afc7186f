"""The bank: energy, bleeding, ripple rating."""

import pytest

from weldsim.parts.capacitors import Bank, bleed_time, ripple_rating, stored_energy


def test_energy():
    """0.1 F at 40 V: 80 J (by definition)."""
    assert stored_energy(0.1, 40.0) == pytest.approx(80.0)


@pytest.mark.parametrize(("end", "time"), [(60.0, 6.32901), (12.0, 41.7366)])
def test_bleeding(end, time):
    """0.1 F, 220 ohm, from 80 V (computed with 30 digits elsewhere, six printed)."""
    assert bleed_time(0.1, 220.0, start=80.0, end=end) == pytest.approx(time, rel=2e-6)


def test_resistor_that_the_standard_asks_for():
    """0.1 F at 80 V down to 60 V in 5 s needs 173.8 ohm (IEC 60204-1 example, computed elsewhere, four digits)."""
    assert bleed_time(0.1, 173.8, start=80.0, end=60.0) == pytest.approx(5.0, rel=3e-4)


def test_nothing_to_bleed():
    """A bank below the end voltage is there already."""
    assert bleed_time(0.1, 220.0, start=50.0, end=60.0) == 0.0


def test_ripple_rating_is_per_can():
    """Four cans of 20 A carry 80 A; no rating, no answer."""
    assert ripple_rating(Bank(capacitance=0.06, cans=4, rated_ripple_current=20.0)) == 80.0
    assert ripple_rating(Bank(capacitance=0.06)) is None
