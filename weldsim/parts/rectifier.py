"""The welding rectifier: four diodes as a bridge, or two on a centre-tapped winding.

       bridge                             centre-tap (two equal secondary halves)
    ac o--+--|>|--+--o +               half 1 o--|>|--+--o +
          +--|<|--+--o -  (and so on)  half 2 o--|>|--+
                                       tap    o-----------o -

Each diode is straight pieces: leakage below the threshold, threshold plus slope above it.
"""

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class Rectifier:
    """Table [rectifier]: kind, diode line and ratings of one diode."""

    kind: str = units.choice(("bridge", "centre-tap"), doc="how the diodes are joined", default="bridge")
    threshold: float = units.quantity("voltage", doc="diode threshold voltage", low=0.0, high="10 V", default=0.75)
    slope: float = units.quantity("resistance", doc="diode slope resistance", low=0.0, high="10 ohm", default=1.5e-3)
    leakage_resistance: float = units.quantity(
        "resistance", doc="of a blocked diode", low="100 ohm", high="1000 Mohm", default="50 kohm"
    )
    fault: str = units.choice(("none", "one diode shorted", "one diode open"), doc="what is broken", default="none")
    rated_current: float | None = units.quantity(
        "current", doc="mean current rating of a diode", low="0.1 A", high="10 kA", default=None
    )
    rated_voltage: float | None = units.quantity(
        "voltage", doc="repetitive reverse voltage rating of a diode", low="10 V", high="10 kV", default=None
    )
    surge_current: float | None = units.quantity(
        "current", doc="half-cycle surge rating of a diode", low="1 A", high="100 kA", default=None
    )
    i2t: float | None = units.quantity("i2t", doc="I2t rating of a diode", low=1.0, high=1e8, default=None)


def diodes_in_series(rectifier: Rectifier) -> int:
    """Number of diodes the current passes one after the other.

    Parameters
    ----------
    rectifier : Rectifier
        The table [-].

    Returns
    -------
    int
        Two for a bridge, one for a centre-tap [1].

    Examples
    --------
    >>> diodes_in_series(Rectifier(kind="centre-tap"))
    1
    """
    return {"bridge": 2, "centre-tap": 1}[rectifier.kind]


def reverse_voltage(rectifier: Rectifier, crest: float, *, bank: float = 0.0) -> float:
    """Highest voltage that a blocked diode has to hold.

    Parameters
    ----------
    rectifier : Rectifier
        The table [-].
    crest : float
        Crest of the secondary voltage; of one half for a centre-tap [V].
    bank : float, optional
        What stands behind the rectifier, where something else lifts it above what it gives itself [V].

    Returns
    -------
    float
        Reverse voltage [V].

    Notes
    -----
    Bridge: the crest less one conducting diode; centre-tap: both halves less one diode.  Before a bank that a boost has
    lifted no diode conducts: one of a centre-tap holds the bank and its own half, one of a bridge all of the bank, if
    the others leak more than it does (of equal ones each holds half of bank and crest).  Ringing of leakage inductance
    with stray capacitance at turn-off is not in it: makers and builders double the figure (common practice).

    Examples
    --------
    >>> round(reverse_voltage(Rectifier(), 41.2), 2), round(reverse_voltage(Rectifier(kind="centre-tap"), 41.2), 2)
    (40.45, 81.65)
    >>> round(reverse_voltage(Rectifier(kind="centre-tap"), 41.2, bank=66.0), 2)
    107.2
    """
    behind = max(crest - rectifier.threshold, bank, 0.0)
    return {"bridge": 0.0, "centre-tap": crest}[rectifier.kind] + behind
