"""Readings of the finished set: its leads, how its copper cools, its switch-on peaks, its output.

    leads:  R = U / I      copper:  R ~ 1 + a (T - 20 degC)      cooling:  T - T_air = (T_0 - T_air) exp(-t / tau)
    heating with P for a time t:    T_0 - T_air = P R_air (1 - exp(-t / tau))

Source: Ohm's law and the heat balance of one body, any textbook; the ways of measuring are common practice.
"""

import math
from collections.abc import Sequence

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.cable import warm_factor

DRIFT = 0.005  # of a resistance, by which one meter may drift while a winding cools (common practice)


@dataclass(frozen=True, kw_only=True)
class LeadReading:
    """One row: weld leads with torch and clamp pressed together, a steady current, volts at the set's own terminals."""

    current: float = units.quantity("current", doc="through the leads", low="0.1 A", high="10 kA")
    voltage: float = units.quantity("voltage", doc="at the terminals", low="0.1 mV", high="1 kV")


@dataclass(frozen=True, kw_only=True)
class WarmReading:
    """One row: resistance of the primary by direct current, some time after it was switched off warm."""

    time: float = units.quantity("time", doc="since the current stopped", low=0.0, high="86400 s")
    resistance: float = units.quantity("resistance", doc="of the primary", low="1 uohm", high="10 kohm")


@dataclass(frozen=True, kw_only=True)
class PeakReading:
    """One row: the transformer alone, secondary open, switched onto the mains by a plain switch at random."""

    peak: float = units.quantity("current", doc="largest of the primary", low=0.0, high="100 kA")


@dataclass(frozen=True, kw_only=True)
class OutputReading:
    """One row: the set on a resistor, settled."""

    voltage: float = units.quantity(
        "voltage", doc="at the resistor, mean (rms without a rectifier)", low="0.1 V", high="1 kV"
    )
    current: float = units.quantity("current", doc="through it likewise", low="0.1 A", high="10 kA")
    dial: float | None = units.quantity("fraction", doc="position of the dial", low=0.0, high=1.0, default=None)
    delay: float | None = units.quantity("angle", doc="or its delay", low=0.0, high=180.0, default=None)


def lead_resistance(row: LeadReading) -> float:
    """Resistance of the whole weld loop: ``U / I``.

    Parameters
    ----------
    row : LeadReading
        The reading [-].

    Returns
    -------
    float
        Resistance, contacts included [ohm].

    Examples
    --------
    >>> round(lead_resistance(LeadReading(current=80.0, voltage=0.72)), 6)
    0.009
    """
    return row.voltage / row.current


def temperature_by_resistance(resistance: float, *, cold: float, at: float, conductor: str = "copper") -> float:
    """Mean temperature of a winding by its resistance.

    Parameters
    ----------
    resistance : float
        Now [ohm].
    cold : float
        What it was at a known temperature [ohm].
    at : float
        That temperature [degC].
    conductor : str
        "copper" or "aluminium" [-].

    Returns
    -------
    float
        Temperature [degC].

    Notes
    -----
    The mean of the winding: its hottest place is some 10 K above it.  Readings of one meter: what it shows too much,
    it shows both times.

    Examples
    --------
    >>> round(temperature_by_resistance(0.5, cold=0.4, at=20.0), 2)
    83.61

    References
    ----------
    IEC 60974-1 measures windings so, by the change of resistance (from memory).
    """
    slope = warm_factor(21.0, conductor=conductor) - 1.0
    return 20.0 + (resistance / cold * warm_factor(at, conductor=conductor) - 1.0) / slope


def cooling_of(times: Sequence[float], temperatures: Sequence[float], *, air: float) -> tuple[float, float]:
    """Temperature at the moment of switching off, and the time constant: a line through the logarithms.

    Parameters
    ----------
    times : sequence of float
        Since the current stopped [s].
    temperatures : sequence of float
        Of the winding, all above the air's [degC].
    air : float
        Of the air [degC].

    Returns
    -------
    tuple of float
        Temperature [degC], time constant [s]; the latter infinite where nothing cools.

    Notes
    -----
    One body.  A winding on heavy iron gives its heat to the iron first: early readings then fall faster than later
    ones, and what holds for hours is the time constant of the later ones.

    Examples
    --------
    >>> [round(one, 3) for one in cooling_of([0.0, 600.0], [80.0, 20.0 + 60.0 * math.exp(-1.0)], air=20.0)]
    [80.0, 600.0]
    """
    logarithms = [math.log(one - air) for one in temperatures]
    mean_time, mean = sum(times) / len(times), sum(logarithms) / len(logarithms)
    spread = sum((time - mean_time) ** 2 for time in times)
    slope = sum((time - mean_time) * (one - mean) for time, one in zip(times, logarithms, strict=True)) / spread
    if slope >= 0.0:
        return air + math.exp(mean), math.inf
    return air + math.exp(mean - slope * mean_time), -1.0 / slope


def resistance_to_air(rise: float, power: float, *, duration: float, time_constant: float) -> float:
    """Thermal resistance of a body that was heated for a time: ``(T - T_air) / (P (1 - exp(-t / tau)))``.

    Parameters
    ----------
    rise : float
        Temperature above the air's at the end [K].
    power : float
        Heat, mean over that time [W].
    duration : float
        For how long [s].
    time_constant : float
        Of the body [s].

    Returns
    -------
    float
        Thermal resistance [K/W].

    Examples
    --------
    >>> round(resistance_to_air(60.0, 100.0, duration=600.0, time_constant=600.0), 4)
    0.9492
    """
    return rise / (power * -math.expm1(-duration / time_constant))
