"""Readings of a transformer on the bench: what was measured, and how far each instrument may be off.

Everything is read at the primary side, with sinusoidal volts of the mains frequency: without load from low to high
volts, with the secondary shorted at few volts, and both windings by direct current.  Nothing here enters a run.

Source: the tests are those of any textbook of transformers; doubts of hand-held meters are common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from weldsim import units

PLAY = 1.05  # watts above volts times amperes by more than this are no reading


@dataclass(frozen=True, kw_only=True)
class NoLoadReading:
    """One row without load: volts and amperes of the primary (rms), and what else was read at them."""

    voltage: float = units.quantity("voltage", doc="at the primary, rms", low="0.1 V", high="10 kV")
    current: float = units.quantity("current", doc="of the primary, true rms", low="1 uA", high="10 kA")
    power: float | None = units.quantity("power", doc="into the primary", low=0.0, high="1000 kW", default=None)
    secondary_voltage: float | None = units.quantity(
        "voltage", doc="at the open secondary, of one half for a centre-tap", low="1 mV", high="10 kV", default=None
    )
    test_voltage: float | None = units.quantity(
        "voltage", doc="of the test turns", low="1 mV", high="10 kV", default=None
    )


@dataclass(frozen=True, kw_only=True)
class ShortReading:
    """One row with the secondary shorted: volts, amperes and watts of the primary."""

    voltage: float = units.quantity("voltage", doc="at the primary, rms", low="1 mV", high="10 kV")
    current: float = units.quantity("current", doc="of the primary, rms", low="1 mA", high="10 kA")
    power: float | None = units.quantity("power", doc="into the primary", low=0.0, high="1000 kW", default=None)


@dataclass(frozen=True, kw_only=True)
class Readings:
    """Table [readings]: what `identify` makes a transformer's values of."""

    no_load: tuple[NoLoadReading, ...] | None = units.rows(
        NoLoadReading, doc="nothing connected to the secondary, from low to high volts", shortest=1
    )
    short_circuit: tuple[ShortReading, ...] | None = units.rows(
        ShortReading, doc="secondary shorted by a thick strap, few volts at the primary", shortest=1
    )
    primary_resistance: float | None = units.quantity(
        "resistance", doc="of the primary by direct current, four wires", low="1 uohm", high="1 kohm", default=None
    )
    secondary_resistance: float | None = units.quantity(
        "resistance",
        doc="of the secondary likewise, of one half for a centre-tap",
        low="1 uohm",
        high="100 ohm",
        default=None,
    )
    winding_temperature: float = units.quantity(
        "temperature", doc="of the windings at all these readings", low=-50.0, high=200.0, default=20.0
    )
    test_turns: int | None = units.count(
        doc="turns of thin wire wound around the core for the reading", low=1, high=10_000, default=None
    )
    section: float | None = units.quantity(
        "area", doc="iron cross section, by ruler", low="1 mm2", high="1 m2", default=None
    )
    path_length: float | None = units.quantity(
        "length", doc="mean length of the iron path, by ruler", low="1 mm", high="10 m", default=None
    )
    mass: float | None = units.quantity("mass", doc="of the iron", low="1 g", high="10000 kg", default=None)
    voltage_doubt: float = units.quantity("fraction", doc="how far volts may be off", low=0.0, high=0.5, default=0.01)
    current_doubt: float = units.quantity("fraction", doc="how far amperes may be off", low=0.0, high=0.5, default=0.02)
    power_doubt: float = units.quantity("fraction", doc="how far watts may be off", low=0.0, high=0.5, default=0.03)
    resistance_doubt: float = units.quantity(
        "fraction", doc="how far resistances may be off", low=0.0, high=0.5, default=0.03
    )

    def faults(self) -> list[tuple[str, str]]:
        """What is missing for any value at all, and rows that contradict themselves or each other."""
        found = []
        if self.no_load is None and self.short_circuit is None:
            found.append(("no_load", "missing: give rows of no_load, of short_circuit, or both"))
        rows: tuple[NoLoadReading, ...] = self.no_load or ()
        shorted: tuple[ShortReading, ...] = self.short_circuit or ()
        found += _watts("no_load", rows) + _watts("short_circuit", shorted)
        for number in range(2, len(rows) + 1):
            before, after = rows[number - 2], rows[number - 1]
            if after.voltage <= before.voltage or after.current < before.current:
                fact = f"row {number} lies below row {number - 1}: list them from low to high volts; amperes rise too"
                found.append(("no_load", fact))
        if self.test_turns is None and any(row.test_voltage is not None for row in rows):
            found.append(("test_turns", "missing: test_voltage is that of so many turns"))
        if rows and all(row.secondary_voltage is None for row in rows):
            found.append(("no_load", "no row has a secondary_voltage: the ratio needs it"))
        if self.short_circuit is not None and self.no_load is None:
            found.append(("no_load", "missing: a short circuit alone does not tell the ratio"))
        if self.short_circuit is not None and all(row.power is None for row in self.short_circuit):
            for name in ("primary_resistance", "secondary_resistance"):
                if getattr(self, name) is None:
                    found.append((name, "missing: without the watts of the short circuit, both resistances are needed"))
        return found


def _watts(place: str, rows: Sequence[NoLoadReading | ShortReading]) -> list[tuple[str, str]]:
    """Rows with more watts than volts times amperes."""
    return [
        (place, f"row {number}: {row.power:.4g} W are more than {row.voltage:.4g} V times {row.current:.4g} A")
        for number, row in enumerate(rows, start=1)
        if row.power is not None and row.power > PLAY * row.voltage * row.current
    ]
