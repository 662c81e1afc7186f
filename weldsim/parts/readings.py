"""Readings on the bench: what was measured of a transformer, of other parts and of the finished set, and how far each
instrument may be off.

The transformer is read at the primary side, with sinusoidal volts of the mains frequency: without load from low to high
volts, with the secondary shorted at few volts, and both windings by direct current.  Nothing here enters a run.

Source: the tests are those of any textbook of transformers; doubts of hand-held meters are common practice.
"""

from collections.abc import Iterator, Sequence

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.bench_parts import BankReading, ChokeReading, SocketReading
from weldsim.parts.bench_set import LeadReading, OutputReading, PeakReading, WarmReading

LISTS = ("no_load", "short_circuit", "choke", "bank", "socket", "leads", "warm_up", "switch_on", "output")
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
    """Table [readings]: what `identify` makes the values of a transformer, other parts and the finished set of."""

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
    eddy_share: float = units.quantity(
        "fraction",
        doc="share of the iron loss that goes with the volts; the rest goes with the flux",
        low=0.0,
        high=1.0,
        default=0.5,
    )
    choke: tuple[ChokeReading, ...] | None = units.rows(
        ChokeReading, doc="rise of the choke's current at a step, from low to high current", shortest=1
    )
    choke_resistance: float | None = units.quantity(
        "resistance", doc="of the choke by direct current", low=0.0, high="1 kohm", default=None
    )
    bank: tuple[BankReading, ...] | None = units.rows(
        BankReading, doc="the bank gives a steady current for a time", shortest=1
    )
    socket: tuple[SocketReading, ...] | None = units.rows(
        SocketReading, doc="volts at the socket without and with a heater", shortest=1
    )
    leads: tuple[LeadReading, ...] | None = units.rows(
        LeadReading, doc="weld leads, torch pressed onto the clamp", shortest=1
    )
    warm_up: tuple[WarmReading, ...] | None = units.rows(
        WarmReading,
        doc="the primary cools, from early to late; its cold resistance was read in the same air",
        shortest=3,
    )
    heating_power: float | None = units.quantity(
        "power",
        doc="heat of the windings before, mean: watts with shorted secondary",
        low="0.1 W",
        high="1000 kW",
        default=None,
    )
    heating_time: float | None = units.quantity(
        "time", doc="for how long they were heated so, from cold", low="1 s", high="86400 s", default=None
    )
    switch_on: tuple[PeakReading, ...] | None = units.rows(
        PeakReading,
        doc="peaks of the transformer alone, secondary open, a plain switch at random, all of them",
        shortest=5,
    )
    output: tuple[OutputReading, ...] | None = units.rows(
        OutputReading, doc="the set on resistors, at its dial or at others", shortest=1
    )
    voltage_doubt: float = units.quantity("fraction", doc="how far volts may be off", low=0.0, high=0.5, default=0.01)
    current_doubt: float = units.quantity("fraction", doc="how far amperes may be off", low=0.0, high=0.5, default=0.02)
    power_doubt: float = units.quantity("fraction", doc="how far watts may be off", low=0.0, high=0.5, default=0.03)
    rise_doubt: float = units.quantity(
        "fraction", doc="how far a rise read off a trace may be off", low=0.0, high=0.5, default=0.05
    )
    resistance_doubt: float = units.quantity(
        "fraction", doc="how far resistances may be off", low=0.0, high=0.5, default=0.03
    )

    def faults(self) -> list[tuple[str, str]]:
        """What is missing for any value at all, and rows that contradict themselves or each other."""
        if all(getattr(self, name) is None for name in LISTS):
            return [("no_load", f"missing: give rows of {', '.join(LISTS[:-1])} or {LISTS[-1]}")]
        return [
            *_watts("no_load", self.no_load or ()),
            *_watts("short_circuit", self.short_circuit or ()),
            *_falling("no_load", [(row.voltage, row.current) for row in self.no_load or ()], "volts"),
            *_falling("choke", [(row.current, 0.0) for row in self.choke or ()], "current"),
            *_falling("warm_up", [(row.time, -row.resistance) for row in self.warm_up or ()], "times, as it cools"),
            *_all_in_the_copper(self.choke or (), self.choke_resistance or 0.0),
            *_lacking(self),
            *_cooling(self),
            *_output(self.output or ()),
        ]


def _falling(place: str, rows: Sequence[tuple[float, float]], rising: str) -> list[tuple[str, str]]:
    """Rows whose first figure does not rise, or whose second falls."""
    return [
        (place, f"row {number} lies below row {number - 1}: list them from low to high {rising}")
        for number, (before, after) in enumerate(zip(rows, rows[1:], strict=False), start=2)
        if after[0] <= before[0] or after[1] < before[1]
    ]


def _all_in_the_copper(rows: Sequence[ChokeReading], resistance: float) -> list[tuple[str, str]]:
    """Rows of a choke whose volts its resistance takes alone: no inductance is left."""
    return [
        ("choke", f"row {number}: {row.voltage:.4g} V are no more than choke_resistance takes at {row.current:.4g} A")
        for number, row in enumerate(rows, start=1)
        if row.voltage <= resistance * row.current
    ]


def _lacking(readings: Readings) -> Iterator[tuple[str, str]]:
    """What the readings of a transformer need beside them."""
    rows, shorted = readings.no_load or (), readings.short_circuit
    if readings.test_turns is None and any(row.test_voltage is not None for row in rows):
        yield "test_turns", "missing: test_voltage is that of so many turns"
    if rows and all(row.secondary_voltage is None for row in rows):
        yield "no_load", "no row has a secondary_voltage: the ratio needs it"
    if shorted is None:
        return
    if not rows:
        yield "no_load", "missing: a short circuit alone does not tell the ratio"
    if all(row.power is None for row in shorted):
        for name in ("primary_resistance", "secondary_resistance"):
            if getattr(readings, name) is None:
                yield name, "missing: without the watts of the short circuit, both resistances are needed"


def _cooling(readings: Readings) -> Iterator[tuple[str, str]]:
    """What the readings of a winding that cools need beside them."""
    if (readings.heating_power is None) != (readings.heating_time is None):
        lacking = "heating_time" if readings.heating_time is None else "heating_power"
        yield lacking, "missing: heat is told by power and time together"
    if readings.warm_up is None:
        return
    cold = readings.primary_resistance
    if cold is None:
        yield "primary_resistance", "missing: a winding's temperature is told by its cold resistance"
        return
    for number, row in enumerate(readings.warm_up, start=1):
        if row.resistance <= cold:
            text = f"row {number}: {row.resistance:.4g} ohm are no more than the {cold:.4g} ohm of the cold primary"
            yield "warm_up", text


def _output(rows: Sequence[OutputReading]) -> Iterator[tuple[str, str]]:
    """Rows that say the setting twice."""
    for number, row in enumerate(rows, start=1):
        if row.dial is not None and row.delay is not None:
            yield "output", f"row {number}: give the dial or the delay, not both"


def _watts(place: str, rows: Sequence[NoLoadReading | ShortReading]) -> list[tuple[str, str]]:
    """Rows with more watts than volts times amperes."""
    return [
        (place, f"row {number}: {row.power:.4g} W are more than {row.voltage:.4g} V times {row.current:.4g} A")
        for number, row in enumerate(rows, start=1)
        if row.power is not None and row.power > PLAY * row.voltage * row.current
    ]
