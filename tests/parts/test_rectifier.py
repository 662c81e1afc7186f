"""The rectifier: diodes in series, reverse voltage."""

from weldsim.parts.rectifier import Rectifier, diodes_in_series, reverse_voltage


def test_diodes_in_the_way():
    """Two in a bridge, one behind a centre-tap."""
    assert diodes_in_series(Rectifier()) == 2
    assert diodes_in_series(Rectifier(kind="centre-tap")) == 1


def test_reverse_voltage():
    """A bridge's diode holds the crest, a centre-tap's twice the crest, less a conducting diode."""
    assert reverse_voltage(Rectifier(threshold=0.0), 40.0) == 40.0
    assert reverse_voltage(Rectifier(kind="centre-tap", threshold=1.0), 40.0) == 79.0
    assert reverse_voltage(Rectifier(threshold=1.0), 0.0) == 0.0
