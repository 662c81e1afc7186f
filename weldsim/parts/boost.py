"""The boost circuit: a small second source of higher voltage that strikes and holds the arc.  Two kinds:

    winding:  boost winding --- own bridge --- ballast (resistor or choke) ---> output or bank
    choke:    second winding on the output choke --- own bridge --- ballast resistor ---> output

A blocking diode may stand in the main lead between choke and terminal, so that the boost cannot lift the bank; it then
carries the whole weld current.
"""

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class Boost:
    """Table [boost]: kind, winding, own bridge, ballast, where it feeds, blocking diode."""

    kind: str = units.choice(
        ("winding", "choke"), doc="extra transformer winding, or second winding on the output choke"
    )
    turns: int | None = units.count(doc="winding: turns of the boost winding", low=1, high=100_000, default=None)
    voltage: float | None = units.quantity(
        "voltage", doc="winding: no-load voltage, rms, instead of turns", low="0.1 V", high="1 kV", default=None
    )
    resistance: float = units.quantity("resistance", doc="of the boost winding", low=0.0, high="100 ohm", default=0.0)
    leakage_inductance: float = units.quantity(
        "inductance", doc="of the boost winding alone", low=0.0, high="1 H", default=0.0
    )
    shared_leakage_inductance: float = units.quantity(
        "inductance", doc="winding: mutual with the main secondary's leakage", low=0.0, high="1 H", default=0.0
    )
    threshold: float = units.quantity(
        "voltage", doc="diode threshold of the boost bridge", low=0.0, high="10 V", default=0.75
    )
    slope: float = units.quantity(
        "resistance", doc="diode slope of the boost bridge", low=0.0, high="10 ohm", default=20e-3
    )
    leakage_resistance: float = units.quantity(
        "resistance", doc="of a blocked diode of the boost bridge", low="100 ohm", high="1000 Mohm", default="1 Mohm"
    )
    rated_voltage: float | None = units.quantity(
        "voltage", doc="reverse rating of its diodes", low="10 V", high="10 kV", default=None
    )
    ballast_resistance: float = units.quantity(
        "resistance", doc="ballast resistor", low=0.0, high="100 Mohm", default=0.0
    )
    ballast_inductance: float = units.quantity("inductance", doc="ballast choke", low=0.0, high="10 H", default=0.0)
    ballast_on_choke: bool = units.flag(
        doc="winding: the ballast is a second winding on the output choke", default=False
    )
    choke_turns: int | None = units.count(
        doc="turns of the second winding on the output choke", low=1, high=100_000, default=None
    )
    choke_ratio: float | None = units.ratio(
        doc="second winding over main winding of the output choke", low=1e-3, high=1e3, default=None
    )
    feeds: str = units.choice(("output", "bank"), doc="winding: where the boost is led to", default="output")
    blocking_diode: bool = units.flag(doc="a diode in the main lead between choke and terminal", default=False)
    blocking_threshold: float = units.quantity(
        "voltage", doc="threshold of the blocking diode", low=0.0, high="10 V", default=0.75
    )
    blocking_slope: float = units.quantity(
        "resistance", doc="slope of the blocking diode", low=0.0, high="10 ohm", default=1.2e-3
    )
    blocking_leakage_resistance: float = units.quantity(
        "resistance", doc="of the blocking diode when it blocks", low="100 ohm", high="1000 Mohm", default="50 kohm"
    )
    blocking_rated_voltage: float | None = units.quantity(
        "voltage", doc="reverse rating of the blocking diode", low="10 V", high="10 kV", default=None
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other or are missing for the kind."""
        found = []
        if self.kind == "winding":
            if (self.turns is None) == (self.voltage is None):
                found.append(("turns", "give turns or voltage of the boost winding, one of them"))
            if self.ballast_on_choke and self.ballast_inductance:
                found.append(("ballast_inductance", "the ballast is on the output choke already (ballast_on_choke)"))
        on_choke = self.kind == "choke" or self.ballast_on_choke
        if on_choke and (self.choke_turns is None) == (self.choke_ratio is None):
            found.append(("choke_ratio", "give choke_ratio or choke_turns of the second winding, one of them"))
        if self.kind == "choke" and self.feeds == "bank":
            found.append(("feeds", 'a winding on the choke feeds the output; "bank" belongs to kind "winding"'))
        return found


def no_load_voltage(boost: Boost, *, volts_per_turn: float) -> float:
    """No-load voltage of a boost winding.

    Parameters
    ----------
    boost : Boost
        The table, of kind "winding" [-].
    volts_per_turn : float
        Primary voltage over primary turns, rms [V].

    Returns
    -------
    float
        Voltage, rms [V].

    Notes
    -----
    Derived here: windings on one core share its flux, so their voltages are as their turns; leakage drops nothing at
    no load.

    Examples
    --------
    >>> round(no_load_voltage(Boost(kind="winding", turns=27), volts_per_turn=230 / 130), 2)
    47.77
    """
    return boost.voltage if boost.voltage is not None else (boost.turns or 0) * volts_per_turn


def choke_turns_ratio(boost: Boost, *, main_turns: int | None) -> float | None:
    """Second winding of the output choke over its main winding.

    Parameters
    ----------
    boost : Boost
        The table [-].
    main_turns : int or None
        Turns of the choke's main winding [1].

    Returns
    -------
    float or None
        Ratio [1]; None where it is not given or the main turns are not known.

    Examples
    --------
    >>> choke_turns_ratio(Boost(kind="choke", choke_turns=60), main_turns=20)
    3.0
    """
    if boost.choke_ratio is not None:
        return boost.choke_ratio
    if boost.choke_turns is None or not main_turns:
        return None
    return boost.choke_turns / main_turns
