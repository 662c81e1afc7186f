"""Readings of a transformer: what contradicts itself or is missing for any value."""

import pytest

from weldsim.parts.bench_parts import ChokeReading
from weldsim.parts.readings import NoLoadReading, Readings, ShortReading

IDLE = NoLoadReading(voltage=230.0, current=0.4, power=30.0, secondary_voltage=28.0)
SHORTED = ShortReading(voltage=10.0, current=10.0, power=90.0)


def test_sound_readings_have_no_fault():
    """Rows that rise, watts below volt-amperes, a ratio."""
    below = NoLoadReading(voltage=115.0, current=0.1)
    assert Readings(no_load=(below, IDLE), short_circuit=(SHORTED,)).faults() == []


@pytest.mark.parametrize(
    ("readings", "place", "fact"),
    [
        (Readings(), "no_load", "missing"),
        (Readings(short_circuit=(SHORTED,)), "no_load", "does not tell the ratio"),
        (Readings(no_load=(NoLoadReading(voltage=230.0, current=0.4),)), "no_load", "no row has a secondary_voltage"),
        (
            Readings(no_load=(NoLoadReading(voltage=230.0, current=0.4, power=97.0, secondary_voltage=28.0),)),
            "no_load",
            "row 1: 97 W are more than 230 V times 0.4 A",
        ),
        (
            Readings(choke=tuple(ChokeReading(current=amps, voltage=1.0, rise=1e3) for amps in (50.0, 20.0))),
            "choke",
            "row 2 lies below row 1",
        ),
        (
            Readings(no_load=(IDLE, NoLoadReading(voltage=200.0, current=0.5))),
            "no_load",
            "row 2 lies below row 1",
        ),
        (
            Readings(no_load=(IDLE, NoLoadReading(voltage=250.0, current=0.3))),
            "no_load",
            "row 2 lies below row 1",
        ),
        (
            Readings(no_load=(NoLoadReading(voltage=230.0, current=0.4, secondary_voltage=28.0, test_voltage=15.0),)),
            "test_turns",
            "of so many turns",
        ),
        (
            Readings(
                no_load=(IDLE,), short_circuit=(ShortReading(voltage=10.0, current=10.0),), primary_resistance=0.4
            ),
            "secondary_resistance",
            "without the watts",
        ),
    ],
)
def test_what_is_wrong_is_told_at_its_place(readings: Readings, place: str, fact: str):
    """Each fault with its field and its row."""
    assert any(where == place and fact in what for where, what in readings.faults()), readings.faults()
