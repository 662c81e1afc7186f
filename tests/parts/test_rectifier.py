"""The rectifier: diodes in series, reverse voltage, heat."""

import pytest

from weldsim.parts.rectifier import Rectifier, diode_loss, diodes_in_series, reverse_voltage


def test_diodes_in_the_way():
    """Two in a bridge, one behind a centre-tap."""
    assert diodes_in_series(Rectifier()) == 2
    assert diodes_in_series(Rectifier(kind="centre-tap")) == 1


def test_reverse_voltage():
    """A bridge's diode holds the crest, a centre-tap's twice the crest, less a conducting diode."""
    assert reverse_voltage(Rectifier(threshold=0.0), 40.0) == 40.0
    assert reverse_voltage(Rectifier(kind="centre-tap", threshold=1.0), 40.0) == 79.0
    assert reverse_voltage(Rectifier(threshold=1.0), 0.0) == 0.0


def test_loss_of_a_published_example():
    """Data-sheet example: 0.85 V, 35 mohm, 8 A rms of full sine (mean 0.900316 of it): 8.3622 W, rounded."""
    assert diode_loss(Rectifier(threshold=0.85, slope=35e-3), 0.900316 * 8.0, 8.0) == pytest.approx(8.3622, abs=1e-4)
