"""The capacitor bank behind the rectifier: capacitance with a series resistance, and the resistor that bleeds it.

+ o----+-------+
       |       |
    [resist.] [bleed]
       |       |
      === C    |
- o----+-------+
"""

import math

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class Bank:
    """Table [bank]: all cans together, as they stand between the rails."""

    capacitance: float = units.quantity("capacitance", doc="of the whole bank", low="1 nF", high="100 F")
    resistance: float = units.quantity(
        "resistance", doc="series resistance of the whole bank", low=0.0, high="10 ohm", default=0.0
    )
    bleed_resistance: float | None = units.quantity(
        "resistance", doc="resistor across the bank", low="0.1 ohm", high="10 Mohm", default=None
    )
    rated_voltage: float | None = units.quantity(
        "voltage", doc="voltage rating of the bank", low="1 V", high="2 kV", default=None
    )
    rated_ripple_current: float | None = units.quantity(
        "current", doc="ripple rating of one can, rms", low="1 mA", high="1 kA", default=None
    )
    cans: int = units.count(doc="number of cans in parallel", low=1, high=10_000, default=1)


def ripple_rating(bank: Bank) -> float | None:
    """Ripple current that the whole bank may carry for ever.

    Parameters
    ----------
    bank : Bank
        The table [-].

    Returns
    -------
    float or None
        Rating, rms [A]; None where the table gives none.

    Notes
    -----
    Cans in parallel share by their resistance; equal cans, equal leads assumed.

    Examples
    --------
    >>> ripple_rating(Bank(capacitance=0.06, cans=4, rated_ripple_current=20.0))
    80.0
    """
    return None if bank.rated_ripple_current is None else bank.cans * bank.rated_ripple_current


def stored_energy(capacitance: float, voltage: float) -> float:
    """Energy in a charged bank.

    Parameters
    ----------
    capacitance : float
        Capacitance [F].
    voltage : float
        Voltage [V].

    Returns
    -------
    float
        Energy [J].

    Examples
    --------
    >>> stored_energy(0.1, 40.0)
    80.0
    """
    return 0.5 * capacitance * voltage * voltage


def bleed_time(capacitance: float, resistance: float, *, start: float, end: float) -> float:
    """Time in which a resistor bleeds a bank from one voltage to another.

    Parameters
    ----------
    capacitance : float
        Capacitance [F].
    resistance : float
        Bleed resistance [ohm].
    start : float
        Voltage at the beginning [V].
    end : float
        Voltage at the end, above zero [V].

    Returns
    -------
    float
        Time; zero where the bank starts below the end [s].

    Notes
    -----
    ``R C ln(start / end)``; leakage of the capacitors and of the blocked rectifier, which help a little, are left out,
    and so is what a leaking triac feeds in.

    Examples
    --------
    >>> round(bleed_time(0.1, 220.0, start=80.0, end=60.0), 5)
    6.32901

    References
    ----------
    Derived here; the example was computed with 30 digits elsewhere.
    """
    return resistance * capacitance * math.log(start / end) if start > end else 0.0
