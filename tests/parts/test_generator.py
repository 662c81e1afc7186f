"""Generators: impedance by rating, regulator and sag in their limits."""

import math

import pytest

from weldsim.parts.generator import (
    Generator,
    felt_load,
    generator_inductance,
    generator_resistance,
    regulated_excitation,
)


def test_impedance_goes_with_the_rating():
    """Half the rating has twice the impedance, twice the voltage four times (per-unit rule); written values stand."""
    small, large = Generator(rating=2500.0), Generator(rating=5000.0)
    assert generator_resistance(small, voltage=230.0) == pytest.approx(2.0 * generator_resistance(large, voltage=230.0))
    assert generator_resistance(large, voltage=460.0) == pytest.approx(4.0 * generator_resistance(large, voltage=230.0))
    reactance = 2.0 * math.pi * 60.0 * generator_inductance(large, voltage=230.0, frequency=60.0)
    assert reactance == pytest.approx(0.089 * 230.0**2 / 5000.0)  # the same share at every frequency
    written = Generator(rating=5000.0, resistance=0.6, inductance=3e-3)
    assert generator_resistance(written, voltage=120.0) == 0.6
    assert generator_inductance(written, voltage=120.0, frequency=60.0) == 3e-3


def test_a_regulator_stops_at_its_ceiling_and_none_does_nothing():
    """Long with too little voltage it stands at its ceiling; at the rated voltage it rests; without one none."""
    slow = Generator(rating=5000.0, ceiling=1.3)
    assert regulated_excitation(slow, 1.25, seen=0.5, duration=10.0) == 1.3
    assert regulated_excitation(slow, 1.1, seen=1.0, duration=10.0) == 1.1
    assert regulated_excitation(Generator(rating=5000.0, regulator="none"), 1.0, seen=0.5, duration=10.0) == 1.0


def test_the_load_is_felt_within_a_tenth_of_a_second():
    """A first-order lag of 80 ms (common practice): a fifth of a second gives 92 %, and it goes as it came."""
    assert felt_load(0.0, load=1.0, duration=0.2) == pytest.approx(1.0 - math.exp(-2.5))
    assert felt_load(1.0, load=0.0, duration=0.2) == pytest.approx(math.exp(-2.5))
