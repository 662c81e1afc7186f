"""Loads: conventional lines, defaults of a kind, contradictions."""

import pytest

from weldsim.parts.load import KINDS, USED, Load, arc_voltage, load_line, short_resistance


@pytest.mark.parametrize(
    ("process", "current", "voltage"), [("MIG", 120.0, 20.0), ("MMA", 80.0, 23.2), ("TIG", 100.0, 14.0)]
)
def test_conventional_load_lines(process, current, voltage):
    """IEC 60974-1: 80 A at 23.2 V stands in a maker's manual; the other two follow from the lines (memory, 93 %)."""
    offset, slope, _ = load_line(process)
    assert offset + slope * current == pytest.approx(voltage)


def test_defaults_of_a_kind():
    """An arc line begins at 14 V, a short has 1 mohm, unless written otherwise."""
    assert arc_voltage(Load(kind="arc line")) == 14.0
    assert arc_voltage(Load(kind="arc line", voltage=18.0)) == 18.0
    assert short_resistance(Load(kind="short")) == 1e-3
    assert short_resistance(Load(kind="short", resistance=0.0)) == 0.0


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"kind": "resistor"}, "resistance"),
        ({"kind": "battery", "voltage": 12.0}, "resistance"),
        ({"kind": "battery", "resistance": 0.01}, "voltage"),
        ({"kind": "shorted arc", "short_duration": 12e-3, "short_period": 12e-3}, "short_duration"),
        ({"kind": "arc line", "falling_voltage": 22.0}, "falling_current"),
        ({"kind": "arc line", "falling_current": 10.0}, "falling_voltage"),
        ({"kind": "arc line", "falling_current": 10.0, "falling_voltage": 14.0}, "falling_voltage"),
    ],
)
def test_faults(values, place):
    """What a kind needs or cannot be is named at its field."""
    assert [name for name, _ in Load(**values).faults()] == [place]


def test_falling_part_above_the_line_is_sound():
    """22 V at no current falling to 14.5 V at 10 A falls."""
    assert Load(kind="arc line", falling_current=10.0, falling_voltage=22.0).faults() == []


def test_every_kind_knows_its_fields():
    """The list of fields used covers all kinds and names only fields that exist."""
    assert set(USED) == set(KINDS)
    for kind, names in USED.items():
        assert all(hasattr(Load(kind=kind), name) for name in names)
