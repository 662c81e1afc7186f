"""A transformer's values from readings on the bench, and how far each may be off.

How far: every instrument in turn reads as much more and less as it may, everything is worked out again, and what each
changes adds up as the root of the sum of squares, upward and downward apart.

Source: JCGM 100:2008 (uncertainty in measurement; from memory) for adding up squares; ``bench_tests.py`` for the rest.
"""

import math
import statistics
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from weldsim.frozen import dataclass
from weldsim.parts.bench_set import DRIFT
from weldsim.parts.bench_tests import (
    Impedance,
    air_inductance,
    behind_the_winding,
    peak_curve,
    series_impedance,
    without_magnetising,
)
from weldsim.parts.cable import warm_factor
from weldsim.parts.hysteresis import loop_area
from weldsim.parts.readings import NoLoadReading, Readings
from weldsim.parts.steel import FRICTION_SHARES

SATURATED = 1.95  # [T] flux density beyond which only air is left: any transformer steel, within 0.1 T (from memory)
WORKING = 1.3  # times the flux at mains voltage, likewise, where section or turns are not known (common practice)
USUAL = 1.4  # [T] at mains voltage, where section or turns are not known: how far friction reaches (likewise)
AIR = 2.5  # times the leakage of both windings: the winding as a coil of air, where nobody measured iron (likewise)
LEAST_BEND = 3.0  # the last piece read has at least so many times the inductance of air
WANDER = 0.7  # [V] by which the mains may move between two readings of a socket (common practice)
NEW = 1.02  # times the flux of the last reading: a corner as near as that is the same


@dataclass(frozen=True)
class Guess:
    """How much of what no reading tells: factors on the flux linkage of saturation and on the inductance beyond; more
    of the iron loss that goes with the volts; the primary's share of the leakage, and of a resistance that was not read
    by direct current on either side.
    """

    saturation: float = 1.0
    air: float = 1.0
    eddy: float = 0.0
    leakage: float = 0.5
    copper: float = 0.5


@dataclass(frozen=True)
class Identified:
    """A transformer and its core as the readings have it; None where they say nothing.

    Resistances at 20 degC.  ``curve`` holds peak flux linkages and currents of the primary [V.s, A]; the first ``read``
    of them come from readings, what follows was assumed.  ``frictions`` are (limit [A], reach [V.s]) of the elements
    that make the loss which goes with the flux.
    """

    ratio: float
    primary_turns: float | None
    winding: Impedance | None  # both, seen from the primary, at the temperature of the readings
    primary_resistance: float | None
    secondary_resistance: float | None
    direct: float | None  # both resistances by direct current, seen from the primary, likewise
    primary_leakage: float | None
    secondary_leakage: float | None
    leakage_squared: (
        float  # of both [H2], seen from the primary; below 0 where the resistance read exceeds the impedance
    )
    leakage_share: float  # of the primary
    curve: tuple[tuple[float, float], ...]
    read: int
    loss_resistance: float | None
    saturated_inductance: float
    frictions: tuple[tuple[float, float], ...]
    iron_loss: float  # [W] at mains voltage

    @property
    def magnetising_inductance(self) -> float:
        """Of the first piece of the curve [H]."""
        flux, current = self.curve[0]
        return flux / current if current > 0.0 else math.inf

    @property
    def saturation(self) -> float:
        """Flux linkage at which the piece beyond the curve would meet no current [V.s]."""
        flux, current = self.curve[-1]
        return flux - current * self.saturated_inductance


def identify(readings: Readings, *, frequency: float, mains_voltage: float, guess: Guess | None = None) -> Identified:
    """Work out the values.

    Parameters
    ----------
    readings : Readings
        The table, with rows without load [-].
    frequency : float
        Of the mains [Hz].
    mains_voltage : float
        At which the transformer will work; the loss is taken from the reading next to it [V].
    guess : Guess, optional
        Factors on what is assumed [1].

    Returns
    -------
    Identified
        The values [SI].

    Notes
    -----
    Leakage is put on both sides alike, seen from one of them: no reading tells it apart.  What the magnetising branch
    takes of the short circuit's current is taken off, by the readings without load.  Resistances of the short circuit,
    where watts were read, count before those by direct current and are shared out in their proportion.  Of the iron
    loss ``eddy_share`` becomes a resistor, the rest friction elements in the proportions of transformer steel.

    Examples
    --------
    >>> from weldsim.parts.readings import ShortReading
    >>> bench = Readings(
    ...     no_load=(NoLoadReading(voltage=240.0, current=0.8, power=72.0, secondary_voltage=24.0),),
    ...     short_circuit=(ShortReading(voltage=10.0, current=10.0, power=80.0),),
    ...     primary_resistance=0.4, secondary_resistance=4e-3)
    >>> found = identify(bench, frequency=50.0, mains_voltage=240.0)
    >>> round(found.ratio, 2), round(found.primary_resistance, 3), round(1e6 * found.secondary_leakage, 2)
    (9.99, 0.401, 9.58)

    References
    ----------
    As ``bench_tests.py``.
    """
    guess = guess or Guess()
    rows, omega = readings.no_load or (), 2.0 * math.pi * frequency
    ratio = _ratio(rows, [row.voltage for row in rows])
    admittance, squared = 0j, 0.0
    for _ in range(3):  # the drop in the primary is a small part of its volts, what the iron takes shorted likewise
        winding, share, squared = _windings(readings, ratio, guess=guess, admittance=admittance)
        primary, shares = _shared(readings, ratio, winding, share=share)
        seen = [_seen(row, rows, primary) for row in rows]
        ratio = _ratio(rows, [own for own, _ in seen])
        admittance = _admittance(rows, seen)
    turns = _turns(readings, [own for own, _ in seen])
    cold = 1.0 / warm_factor(readings.winding_temperature)
    leakage = None if winding is None else winding.reactance / omega
    working = math.sqrt(2.0) * mains_voltage / omega
    near = min(range(len(rows)), key=lambda k: (rows[k].power is None, abs(rows[k].voltage - mains_voltage)))
    volts, loss = seen[near]
    eddy = min(max(readings.eddy_share + guess.eddy, 0.0), 1.0)
    resistance = volts**2 / (eddy * loss) if eddy * loss > 0.0 else math.inf
    scale = turns * readings.section if turns is not None and readings.section is not None else working / USUAL
    peaks = [math.sqrt(2.0) * own / omega for own, _ in seen]
    frictions = _frictions((1.0 - eddy) * loss / frequency, peak=peaks[near], scale=scale)
    amps = [(row.current, own / resistance) for row, (own, _) in zip(rows, seen, strict=True)]
    curve = peak_curve(_rising([(flux, *pair) for flux, pair in zip(peaks, amps, strict=True)]), frictions)
    air = guess.air * _air(readings, turns, leakage, curve)
    end = _end(readings, turns, curve, working=working, factor=guess.saturation)
    return Identified(
        ratio,
        turns,
        winding,
        None if shares is None else shares[0] * cold,
        None if shares is None else shares[1] * cold / ratio**2,
        _direct(readings, ratio),
        None if leakage is None else share.imag * leakage,
        None if leakage is None else (1.0 - share.imag) * leakage / ratio**2,
        squared / omega**2,
        share.imag,
        (*curve, *end),
        len(curve),
        resistance if math.isfinite(resistance) else None,
        air,
        frictions,
        loss * (mains_voltage / rows[near].voltage) ** 2,
    )


def _frictions(energy: float, *, peak: float, scale: float) -> tuple[tuple[float, float], ...]:
    """Elements that lose so much in a cycle at a peak flux linkage; ``scale`` is the flux linkage of a tesla [V.s]."""
    of_one = [(share, reach * scale) for share, reach in FRICTION_SHARES]
    area = loop_area(of_one, peak)
    if not energy > 0.0 or not area > 0.0 or not scale > 0.0:  # no loss was read, flux too small, mains of no volts
        return ()
    return tuple((share * energy / area, reach) for share, reach in of_one)


def _ratio(rows: tuple[NoLoadReading, ...], volts: list[float]) -> float:
    """The median of what the rows with a secondary voltage tell."""
    return statistics.median(
        primary / row.secondary_voltage
        for row, primary in zip(rows, volts, strict=True)
        if row.secondary_voltage is not None
    )


def _turns(readings: Readings, volts: list[float]) -> float | None:
    """Turns of the primary by the volts of the test turns."""
    if readings.test_turns is None:
        return None
    told = [
        readings.test_turns * primary / row.test_voltage
        for row, primary in zip(readings.no_load or (), volts, strict=True)
        if row.test_voltage is not None
    ]
    return statistics.median(told) if told else None


def _direct(readings: Readings, ratio: float) -> float | None:
    """Both resistances by direct current, seen from the primary; None without one of them."""
    if readings.primary_resistance is None or readings.secondary_resistance is None:
        return None
    return readings.primary_resistance + ratio**2 * readings.secondary_resistance


def _windings(
    readings: Readings, ratio: float, *, guess: Guess, admittance: complex
) -> tuple[Impedance | None, complex, float]:
    """Both windings in series, seen from the primary; its share of resistance and reactance; the latter squared."""
    first = readings.primary_resistance
    second = None if readings.secondary_resistance is None else ratio**2 * readings.secondary_resistance
    direct = _direct(readings, ratio)
    if readings.short_circuit is None:
        return None, complex(0.5, guess.leakage), 0.0
    row = max(readings.short_circuit, key=lambda one: (one.power is not None, one.current))
    both = series_impedance(row.voltage, row.current, power=row.power, resistance=direct)
    share = guess.copper
    if first is not None and second is not None:
        share = first / (first + second)
    elif first is not None and both.resistance > 0.0:
        share = min(first / both.resistance, 1.0)
    elif second is not None and both.resistance > 0.0:
        share = max(1.0 - second / both.resistance, 0.0)
    alone = without_magnetising(both, share=complex(share, guess.leakage), admittance=admittance)
    known = row.power / row.current**2 if row.power is not None else direct or 0.0
    squared = (row.voltage / row.current) ** 2 - known**2 + alone.reactance**2 - both.reactance**2
    return alone, complex(share, guess.leakage), squared


def _shared(
    readings: Readings, ratio: float, winding: Impedance | None, *, share: complex
) -> tuple[Impedance, tuple[float, float] | None]:
    """The primary alone, and the resistance of either side, both seen from the primary."""
    if winding is not None:
        own, reactance = share.real * winding.resistance, share.imag * winding.reactance
        return Impedance(own, reactance), (own, winding.resistance - own)
    first, second = readings.primary_resistance, readings.secondary_resistance
    both = None if first is None or second is None else (first, ratio**2 * second)
    return Impedance(first or 0.0, 0.0), both


def _admittance(rows: tuple[NoLoadReading, ...], seen: list[tuple[float, float]]) -> complex:
    """Of the magnetising branch at the few volts of a short circuit: the least of the readings without load [1/ohm]."""
    told = [complex(loss / own**2, row.current / own) for row, (own, loss) in zip(rows, seen, strict=True)]
    return complex(min(y.real for y in told), -min(math.sqrt(max(y.imag**2 - y.real**2, 0.0)) for y in told))


def _seen(row: NoLoadReading, rows: tuple[NoLoadReading, ...], primary: Impedance) -> tuple[float, float]:
    """Volts of the flux and watts of the iron of one row; watts that were not read by the nearest of them."""
    told = [other for other in rows if other.power is not None]
    power = 0.0
    if told:
        near = min(told, key=lambda other: abs(other.voltage - row.voltage))
        assert near.power is not None
        power = near.power * (row.voltage / near.voltage) ** 2
    return behind_the_winding(row.voltage, row.current, power=power, winding=primary)


def _rising(points: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """The points whose flux rises."""
    kept: list[tuple[float, float, float]] = []
    for point in points:
        if not kept or point[0] > kept[-1][0]:
            kept.append(point)
    return kept


def _air(readings: Readings, turns: float | None, leakage: float | None, curve: list[tuple[float, float]]) -> float:
    """Inductance of the primary beyond saturation: by ruler, else from the leakage; well below the last piece's."""
    before = curve[-2] if len(curve) > 1 else (0.0, 0.0)
    rise = curve[-1][1] - before[1]
    last = (curve[-1][0] - before[0]) / rise / LEAST_BEND if rise > 0.0 else math.inf
    if turns is not None and readings.section is not None and readings.path_length is not None:
        return min(air_inductance(turns, readings.section, readings.path_length), last)
    if leakage:
        return min(AIR * leakage, last)
    return last if math.isfinite(last) else 1e-3


def _end(
    readings: Readings, turns: float | None, curve: list[tuple[float, float]], *, working: float, factor: float
) -> list[tuple[float, float]]:
    """Where the core is saturated through, with the slope of the last piece that was read; nothing beyond it."""
    if turns is not None and readings.section is not None:
        full = SATURATED * turns * readings.section
    else:
        full = WORKING * working
    full *= factor
    before, last = curve[-2] if len(curve) > 1 else (0.0, 0.0), curve[-1]
    if full <= NEW * last[0]:
        return []
    return [(full, last[1] + (last[1] - before[1]) / (last[0] - before[0]) * (full - last[0]))]


def variants(readings: Readings) -> Iterator[tuple[str, Readings, Readings]]:
    """Every instrument in turn, as the readings would be with it off by what it may, downward and upward.

    Parameters
    ----------
    readings : Readings
        The table [-].

    Yields
    ------
    tuple
        Name of the instrument, readings below, readings above [-].

    Notes
    -----
    The two volts of a socket are one meter's, whose error they share; but the mains wander between them.

    Examples
    --------
    >>> one = Readings(no_load=(NoLoadReading(voltage=240.0, current=0.8, secondary_voltage=24.0),))
    >>> [name for name, _, _ in variants(one)]
    ['volts without load', 'amperes without load', 'volts of the secondary']
    """
    for table, column, name, doubt in _INSTRUMENTS:
        rows = getattr(readings, table) or ()
        if any(getattr(row, column) is not None for row in rows):
            share = getattr(readings, f"{doubt}_doubt")
            below, above = (
                _with(readings, table, tuple(_scaled(row, column, factor) for row in rows))
                for factor in (1.0 - share, 1.0 + share)
            )
            yield name, below, above
    share = readings.resistance_doubt
    for part in ("primary", "secondary", "choke"):
        field = f"{part}_resistance"
        if getattr(readings, field) is not None:
            below, above = (_scaled(readings, field, factor) for factor in (1.0 - share, 1.0 + share))
            if part == "primary":  # read by the same meter, cold and warm
                below, above = (
                    _warm(one, factor, factor) for one, factor in ((below, 1.0 - share), (above, 1.0 + share))
                )
            yield f"resistance of the {part}", below, above
    if readings.warm_up is not None:
        down, up = 1.0 - DRIFT, 1.0 + DRIFT
        yield "drift of the meter while it cools", _warm(readings, down, up), _warm(readings, up, down)
    if readings.heating_power is not None:
        share = readings.power_doubt
        yield (
            "watts of the heat",
            *(_scaled(readings, "heating_power", factor) for factor in (1.0 - share, 1.0 + share)),
        )
    if readings.socket is not None:
        below, above = (
            _with(readings, "socket", tuple(_with(row, "without", row.without + off) for row in readings.socket))
            for off in (-WANDER, WANDER)
        )
        yield "wandering of the mains", below, above


_INSTRUMENTS = (  # table, column, name, kind of doubt
    ("no_load", "voltage", "volts without load", "voltage"),
    ("no_load", "current", "amperes without load", "current"),
    ("no_load", "power", "watts without load", "power"),
    ("no_load", "secondary_voltage", "volts of the secondary", "voltage"),
    ("no_load", "test_voltage", "volts of the test turns", "voltage"),
    ("short_circuit", "voltage", "volts of the short circuit", "voltage"),
    ("short_circuit", "current", "amperes of the short circuit", "current"),
    ("short_circuit", "power", "watts of the short circuit", "power"),
    ("choke", "voltage", "volts at the choke", "voltage"),
    ("choke", "rise", "rises at the choke", "rise"),
    ("bank", "current", "amperes of the bank", "current"),
    ("bank", "fall", "volts of the bank", "voltage"),
    ("bank", "step", "steps of the bank", "voltage"),
    ("socket", "current", "amperes of the heater", "current"),
    ("leads", "voltage", "volts at the leads", "voltage"),
    ("leads", "current", "amperes of the leads", "current"),
)


def _warm(readings: Readings, first: float, last: float) -> Readings:
    """The readings of a winding that cools, times a factor that goes evenly from the first to the last."""
    rows = readings.warm_up or ()
    factors = (first + (last - first) * number / max(len(rows) - 1, 1) for number in range(len(rows)))
    scaled = tuple(_scaled(row, "resistance", factor) for row, factor in zip(rows, factors, strict=True))
    return _with(readings, "warm_up", scaled or None)


def _scaled(row: Any, column: str, factor: float) -> Any:
    """A row, or the table, with one value changed, where it has one."""
    value = getattr(row, column)
    return row if value is None else _with(row, column, value * factor)


def _with(row: Any, column: str, value: Any) -> Any:
    return replace(row, **{column: value})
