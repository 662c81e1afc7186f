"""Breakers: the band in which they trip at once."""

import pytest

from weldsim.parts.protection import Breaker, instantaneous_band, magnetic_multiples


@pytest.mark.parametrize(
    ("curve", "current", "band"), [("B", 16.0, (48.0, 80.0)), ("C", 16.0, (80.0, 160.0)), ("D", 16.0, (160.0, 320.0))]
)
def test_bands_of_the_standard(curve, current, band):
    """IEC 60898-1 as makers' manuals give it: B16 may trip from 48 A and must from 80 A, D16 from 160 and 320 A."""
    assert instantaneous_band(Breaker(curve=curve, current=current)) == band


def test_own_band():
    """A thermal-magnetic breaker takes the multiples it is given."""
    breaker = Breaker(curve="thermal-magnetic", current=30.0, magnetic_low=8.0, magnetic_high=14.0)
    assert instantaneous_band(breaker) == (240.0, 420.0)


def test_fuse_has_no_magnetic_band():
    """A fuse melts; it has nothing that acts at once."""
    assert instantaneous_band(Breaker(curve="gG", current=16.0)) is None
    assert magnetic_multiples(Breaker(curve="gG", current=16.0)) is None
    pretended = Breaker(curve="gG", current=16.0, magnetic_low=5.0, magnetic_high=10.0)
    assert "no magnetic part" in pretended.faults()[0][1]
    assert instantaneous_band(pretended) is None


@pytest.mark.parametrize(
    ("curve", "multiples"),
    [
        ("B", (3.0, 4.0, 5.0)),
        ("C", (5.0, 7.5, 10.0)),
        ("D", (10.0, 15.0, 20.0)),
        ("thermal-magnetic", (8.0, 11.0, 14.0)),
    ],
)
def test_multiples(curve, multiples):
    """Edges of IEC 60898-1 (thermal-magnetic: common practice, no published source) with their mean between them."""
    assert magnetic_multiples(Breaker(curve=curve, current=20.0)) == multiples


def test_faults():
    """One edge alone, or edges the wrong way round, are contradictions."""
    assert Breaker(curve="B", current=16.0).faults() == []
    assert Breaker(curve="B", current=16.0, magnetic_low=3.0).faults()[0][0] == "magnetic_low"
    assert "above" in Breaker(curve="B", current=16.0, magnetic_low=9.0, magnetic_high=3.0).faults()[0][1]
