"""Readings of the other parts on the bench: a choke under bias, a bank that is discharged, a socket that is loaded.

    choke:   U = R i + L di/dt at a step       bank:  i = C du/dt, and a step of R i       socket:  U0 - U = R I

Source: the laws of the parts themselves, derived here; the ways of measuring are common practice.
"""

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class ChokeReading:
    """One row: a step of volts on the choke, and how fast its current rises where it passes some amperes."""

    current: float = units.quantity("current", doc="at which the rise was read", low=0.0, high="100 kA")
    voltage: float = units.quantity("voltage", doc="across the choke at that moment", low="1 mV", high="1 kV")
    rise: float = units.quantity("current_rate", doc="rise of the current there", low="1 A/s", high="1000 A/us")


@dataclass(frozen=True, kw_only=True)
class BankReading:
    """One row: the bank gives a steady current for a time, its volts drop at once and then fall evenly."""

    current: float = units.quantity("current", doc="that it gave", low="1 mA", high="10 kA")
    time: float = units.quantity("time", doc="for how long", low="1 us", high="10000 s")
    fall: float = units.quantity("voltage", doc="volts lost in that time", low="1 mV", high="2 kV")
    step: float | None = units.quantity(
        "voltage", doc="volts lost at once when the current began", low=0.0, high="2 kV", default=None
    )


@dataclass(frozen=True, kw_only=True)
class SocketReading:
    """One row: volts at the socket without and with a heater of so many amperes."""

    current: float = units.quantity("current", doc="of the heater", low="10 mA", high="1 kA")
    without: float = units.quantity("voltage", doc="without it, rms", low="1 V", high="1 kV")
    loaded: float = units.quantity("voltage", doc="with it, rms", low="1 V", high="1 kV")


def choke_inductance(row: ChokeReading, resistance: float = 0.0) -> float:
    """Incremental inductance at the current of a reading: ``(U - R i) / (di/dt)``.

    Parameters
    ----------
    row : ChokeReading
        The reading [-].
    resistance : float
        Of the winding [ohm].

    Returns
    -------
    float
        Inductance [H]; none is left, 0, where the resistance takes all the volts.

    Notes
    -----
    Core loss makes the very first rise steeper: read behind it.

    Examples
    --------
    >>> round(1e3 * choke_inductance(ChokeReading(current=100.0, voltage=12.4, rise=40e3), 4e-3), 6)
    0.3
    """
    return max(row.voltage - resistance * row.current, 0.0) / row.rise


def bank_capacitance(row: BankReading) -> float:
    """Capacitance of a bank by a steady current: ``I t / U``.

    Parameters
    ----------
    row : BankReading
        The reading [-].

    Returns
    -------
    float
        Capacitance [F].

    Examples
    --------
    >>> round(bank_capacitance(BankReading(current=20.0, time=0.03, fall=10.0)), 6)
    0.06
    """
    return row.current * row.time / row.fall


def bank_resistance(row: BankReading) -> float | None:
    """Series resistance of a bank by the step of its volts: ``U / I``.

    Parameters
    ----------
    row : BankReading
        The reading [-].

    Returns
    -------
    float or None
        Resistance [ohm]; None where no step was read.

    Examples
    --------
    >>> bank_resistance(BankReading(current=20.0, time=0.03, fall=10.0, step=0.06))
    0.003
    """
    return None if row.step is None else row.step / row.current


def loop_resistance(row: SocketReading) -> float:
    """Resistance of the mains up to the socket: ``(U0 - U) / I``.

    Parameters
    ----------
    row : SocketReading
        The reading [-].

    Returns
    -------
    float
        Resistance of the whole loop [ohm]; 0 where the volts did not fall.

    Notes
    -----
    A heater's current is in step with the volts: the inductance of the loop hardly shows.  Mains wander by as much as
    the fall within seconds: take turns several times.

    Examples
    --------
    >>> round(loop_resistance(SocketReading(current=8.7, without=231.5, loaded=228.4)), 4)
    0.3563
    """
    return max(row.without - row.loaded, 0.0) / row.current
