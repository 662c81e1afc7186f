"""How long it may weld: windings and heat sinks whose losses, and what they bear, have closed forms."""

from weldsim.scenario.reading import read_text
from weldsim.studies import duty
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

TABLE = "warming"
READ_AS = {  # column of the row -> quantity of the table
    "heat": "heat",
    "settled": "settled",
    "lasts": "time to the limit",
    "duty": "duty",
    "rest": "rest before a minute",
}

WINDINGS = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
ratio = "10:1"
primary_resistance = "0.5 ohm"
secondary_resistance = "10 mohm"
[load]
kind = "resistor"
resistance = "{load!r} ohm"
[cooling]
ambient = "{air!r} degC"
winding_to_air = "{cooling!r} K/W"
winding_time = "{tau!r} s"
winding_limit = "{limit!r} degC"
"""
SINK = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
dial = "0 %"
delay_at_0 = "{alpha!r} deg"
delay_at_100 = "150 deg"
pulse_width = "1 ms"
threshold = "1 V"
slope = "12 mohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "{load!r} ohm"
[cooling]
ambient = "{air!r} degC"
device_to_air = "{cooling!r} K/W"
device_time = "{tau!r} s"
sink_limit = "{limit!r} degC"
"""


def windings() -> list[Row]:
    """Copper of a transformer that feeds a resistor; it takes more as it warms."""
    return side_by_side("duty of windings", references(TABLE, "windings"), _measure_windings)


def heat_sinks() -> list[Row]:
    """A device with threshold and slope that controls a resistor."""
    return side_by_side("duty of a heat sink", references(TABLE, "heat_sinks"), _measure_sink)


def _measure_windings(condition: str) -> dict[str, Reading]:
    return _told(WINDINGS.format(**numbers_in(condition)))


def _measure_sink(condition: str) -> dict[str, Reading]:
    return _told(SINK.format(**numbers_in(condition)))


def _told(text: str) -> dict[str, Reading]:
    """The row of the part that the text gives a cooling."""
    rows = duty.ask(read_text(text, source="proof")).rows or []
    part = next(row for row in rows if row["kind"] == "part" and row["known"] == "given")
    return {quantity: Reading(part[name]) for name, quantity in READ_AS.items()}
