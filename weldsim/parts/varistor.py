"""A varistor (surge arrester of metal oxide) across the primary, behind the phase control.

            slope                  i = sgn(v) max(|v| / leakage, (|v| - clamp) / slope)
    o---+-----------+---o
        |  varistor |          below the clamp voltage a leakage, beyond it a steep straight line,
    o---+-----------+---o      alike in both directions

A real one bends over several decades of current; the straight line is right at two currents, and the choice of them is
that of clamp voltage and slope: the voltage at 1 mA, and the rise from it to a data sheet's clamping current.
"""

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class Varistor:
    """Table [varistor]: its line and what heat it bears."""

    clamp_voltage: float = units.quantity(
        "voltage", doc="where it begins to conduct; a data sheet's voltage at 1 mA", low="1 V", high="10 kV"
    )
    slope: float = units.quantity(
        "resistance", doc="slope resistance beyond its clamp voltage", low=0.0, high="1 kohm", default="5 ohm"
    )
    leakage_resistance: float = units.quantity(
        "resistance", doc="below its clamp voltage", low="2 kohm", high="1000 Mohm", default="10 Mohm"
    )
    rated_energy: float | None = units.quantity(
        "energy", doc="heat that one half cycle may put in", low="1 mJ", high="1000 kJ", default=None
    )
    rated_power: float | None = units.quantity(
        "power", doc="mean heat that it bears for ever", low="1 mW", high="1 kW", default=None
    )


def voltage_at(varistor: Varistor, current: float) -> float:
    """Voltage across it at a current, the smaller of leakage's and line's.

    Parameters
    ----------
    varistor : Varistor
        The table [-].
    current : float
        Current of either sign [A].

    Returns
    -------
    float
        Voltage of the same sign [V].

    Notes
    -----
    ``min(leakage_resistance |i|, clamp_voltage + slope |i|)``.  Good at the two currents that clamp voltage and slope
    were chosen from; between them a real one, which follows a power law, lies up to a third higher.

    Examples
    --------
    A disc of 430 V at 1 mA that a data sheet lets through 710 V at 50 A:

    >>> voltage_at(Varistor(clamp_voltage=430.0, slope=5.6), 50.0)
    710.0
    >>> voltage_at(Varistor(clamp_voltage=430.0, slope=5.6), -1e-5)
    -100.0

    References
    ----------
    Derived here; the disc's two figures are from memory, usual for 275 V ac and 14 mm.
    """
    size = abs(current)
    volts = min(varistor.leakage_resistance * size, varistor.clamp_voltage + varistor.slope * size)
    return volts if current >= 0.0 else -volts
