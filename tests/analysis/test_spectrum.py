"""Displacement of fundamentals."""

import numpy as np
import pytest

from weldsim.analysis.spectrum import displacement_factor


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, 150.0])
def test_the_cosine_of_the_angle_between_them(angle):
    """Whichever comes first (by definition; 1e-15: rounding)."""
    voltage, turn = 325.0 * np.exp(0.3j), np.exp(1j * np.radians(angle))
    for current in (10.0 * voltage * turn, 10.0 * voltage / turn):
        assert displacement_factor(voltage, current) == pytest.approx(np.cos(np.radians(angle)), abs=1e-15)


def test_no_fundamental():
    """Without a fundamental there is no displacement: not a number; below zero where power flows back."""
    assert np.isnan(displacement_factor(0j, 1j))
    assert displacement_factor(325 + 0j, -2 + 0j) == -1.0
