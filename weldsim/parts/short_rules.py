"""How a short circuit clears, or does not: a cold touch, the extension that melts, the liquid bridge, the stub.

"Heat" is the action integral so far over the one that melts: 1 parts the metal.  "Neck" is the section of a bridge over
what it was at first: 0 parts it.  Which rule parts the contact decides how long a gap it leaves.  A bridge whose gap
closes before its neck has gone becomes a touch of solid wire: stubbing, from too little current in the short, too much
choke, or too fast a wire.  Plain arithmetic on plain numbers, as in ``wire_rules.py``.
"""

import math

LEAST_NECK = (
    0.1  # [1] below it the bridge's resistance is held; the last tenth goes in some tens of microseconds (assumed)
)


def drawn(low: float, high: float, draw: float) -> float:
    """A value of a range that is drawn evenly: contact resistance, contact spot, gap after a bridge or a hot spot.

    Parameters
    ----------
    low, high : float
        Ends of the range, in any unit [unit of the value].
    draw : float
        Random number from 0 to 1 [1].

    Returns
    -------
    float
        Value [unit of the value].

    Notes
    -----
    Even, as no distribution is known.

    Examples
    --------
    >>> round(drawn(2e-3, 20e-3, 0.5), 6)
    0.011

    References
    ----------
    Common practice, no published source: ranges of the table [wire].
    """
    return low + (high - low) * draw


def spot_heat_rate(current: float, heat: float, *, section: float, action: float, time_constant: float) -> float:
    """How fast the contact spot of a cold touch heats.

    Parameters
    ----------
    current : float
        Through the touch [A].
    heat : float
        So far: 0 cold, 1 molten [1].
    section : float
        Of the spot: a random share of the wire's [m2].
    action : float
        Action integral that melts the metal [A2 s/m4].
    time_constant : float
        In which a warm spot cools into the cold metal around it [s].

    Returns
    -------
    float
        Rate of the heat [1/s].

    Notes
    -----
    ``i^2 / (action section^2) - heat / time_constant``.  A real spot cools in ``section / (pi x 8 mm2/s)``: 1 ms at 5 %
    of a 0.8 mm wire, 8 ms at 40 %; one time constant stands for all.

    Examples
    --------
    >>> round(spot_heat_rate(200.0, 0.0, section=50e-9, action=1.47e16, time_constant=10e-3))
    1088

    References
    ----------
    Onderdonk's idea with the constants of steel; cooling derived here from diffusivity (from memory, 80 %).
    """
    return current * current / (action * section * section) - heat / time_constant


def least_clearing_current(section: float, *, action: float, time_constant: float) -> float:
    """Current below which a contact spot never melts.

    Parameters
    ----------
    section : float
        Of the spot [m2].
    action : float
        Action integral that melts the metal [A2 s/m4].
    time_constant : float
        In which a warm spot cools [s].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    Heat settles at 1.  For spots of 5 to 40 % of a 0.8 mm wire 30 to 240 A; an iron contact of 2 to 20 mohm melts at
    its melting voltage, 0.6 V, that is 30 to 300 A: the two agree, and neither was made from the other.

    Examples
    --------
    >>> round(least_clearing_current(100e-9, action=1.47e16, time_constant=10e-3), 1)
    121.2

    References
    ----------
    Derived here; the check is Holm's (``fusing.contact_melting_current``).
    """
    return section * math.sqrt(action / time_constant)


def clearing_time(current: float, section: float, *, action: float, time_constant: float = math.inf) -> float:
    """Time until a steady current parts a spot or a whole wire.

    Parameters
    ----------
    current : float
        Steady [A].
    section : float
        Of spot or wire [m2].
    action : float
        Action integral that melts the metal [A2 s/m4].
    time_constant : float
        In which it cools; infinite: it keeps all its heat [s].

    Returns
    -------
    float
        Time; infinite where it never parts [s].

    Notes
    -----
    ``-tau ln(1 - action section^2 / (tau i^2))``, and ``action section^2 / i^2`` without cooling.

    Examples
    --------
    >>> round(clearing_time(200.0, 0.5027e-6, action=1.47e16) * 1e3, 1)
    92.9

    References
    ----------
    Derived here from ``spot_heat_rate``.
    """
    if current == 0.0:
        return math.inf
    cold = action * section * section / (current * current)
    if math.isinf(time_constant):
        return cold
    return -time_constant * math.log1p(-cold / time_constant) if cold < time_constant else math.inf


def extension_heat_rate(current: float, *, section: float, action: float) -> float:
    """How fast the whole extension heats while the wire stands on the work.

    Parameters
    ----------
    current : float
        Through the touch [A].
    section : float
        Of the wire [m2].
    action : float
        Action integral that melts the metal [A2 s/m4].

    Returns
    -------
    float
        Rate of the heat [1/s].

    Notes
    -----
    ``i^2 / (action section^2)``, no loss: good to some 10 % up to 0.2 s.  Cold ends cool 12 mm of steel wire with a
    time constant of some 2 s, air much slower, so a stub of less than 50 A may glow for ever where this rule parts it
    late.

    Examples
    --------
    >>> round(extension_heat_rate(150.0, section=0.5027e-6, action=1.47e16), 2)
    6.06

    References
    ----------
    Adiabatic heating; derived here.
    """
    return current * current / (action * section * section)


def gap_after_extension(contact_time: float, draw: float, *, low: float, high: float, rise_time: float) -> float:
    """Gap that is left where the extension itself has melted through.

    Parameters
    ----------
    contact_time : float
        How long the wire had stood on the work [s].
    draw : float
        Random number from 0 to 1 [1].
    low, high : float
        Shortest and longest gap [m].
    rise_time : float
        Contact as long as this counts as slow [s].

    Returns
    -------
    float
        Gap [m].

    Notes
    -----
    ``low + (high - low) (draw + 1 - exp(-contact_time / rise_time)) / 2``: half chance, half slowness.  A current that
    rises slowly heats the wire evenly over its length, which then parts far from the work.

    Examples
    --------
    >>> [round(gap_after_extension(t, 0.5, low=2e-3, high=8e-3, rise_time=0.1) * 1e3, 2) for t in (0.04, 0.4)]
    [4.49, 6.45]

    References
    ----------
    Common practice, no published source (2 to 8 mm, the longer the slower); the form is assumed here.
    """
    return low + 0.5 * (high - low) * (draw - math.expm1(-contact_time / rise_time))


def bridge_resistance(neck: float, resistance: float) -> float:
    """Resistance of a liquid bridge that necks.

    Parameters
    ----------
    neck : float
        Section left, of the first one [1].
    resistance : float
        Before it necks [ohm].

    Returns
    -------
    float
        Resistance [ohm].

    Notes
    -----
    In inverse proportion to the neck, held below a tenth.  1 to 4 mohm at first: 1.4 uohm m x 0.8 mm over 0.5 mm2 is
    2.2 mohm.

    Examples
    --------
    >>> bridge_resistance(0.5, 2e-3), bridge_resistance(0.0, 2e-3)
    (0.004, 0.02)

    References
    ----------
    Derived here; liquid steel 1.4 uohm m from memory, 90 %.
    """
    return resistance / max(neck, LEAST_NECK)


def bridge_drain_rate(current: float, *, base: float, pinch: float) -> float:
    """How fast the neck of a liquid bridge goes.

    Parameters
    ----------
    current : float
        Through the bridge [A].
    base : float
        By surface tension alone [1/s].
    pinch : float
        By the current's own field [1/(A2 s)].

    Returns
    -------
    float
        Fall of the neck [1/s].

    Notes
    -----
    ``base + pinch i^2``; ``base / pinch`` is the square of the current whose pinch equals the surface tension
    (``wire_kinds.pinch_current``).  The neck's own shrinking, which makes the end faster, is in the constants.

    Examples
    --------
    >>> round(bridge_drain_rate(200.0, base=100.0, pinch=100.0 / 122.8**2), 1)
    365.3

    References
    ----------
    Common practice, no published source (2 to 5 ms at 200 to 300 A); ratio of the two parts derived here.
    """
    return base + pinch * current * current


def bridge_time(current: float, *, base: float, pinch: float) -> float:
    """How long a bridge lasts at a steady current.

    Parameters
    ----------
    current : float
        Steady [A].
    base : float
        By surface tension alone [1/s].
    pinch : float
        By the current's own field [1/(A2 s)].

    Returns
    -------
    float
        Time [s].

    Notes
    -----
    Without resistance to make the current fall as the neck goes.

    Examples
    --------
    >>> round(bridge_time(200.0, base=100.0, pinch=100.0 / 122.8**2) * 1e3, 2)
    2.74

    References
    ----------
    Derived here from ``bridge_drain_rate``.
    """
    return 1.0 / bridge_drain_rate(current, base=base, pinch=pinch)


def gap_after_bridge(gap: float, least: float) -> float:
    """Gap that is left where a liquid bridge parts.

    Parameters
    ----------
    gap : float
        Solid end to work at that moment [m].
    least : float
        Drawn for this bridge: the drop is gone and the pool springs back [m].

    Returns
    -------
    float
        Gap [m].

    Examples
    --------
    >>> gap_after_bridge(0.7e-3, 0.5e-3)
    0.0007

    References
    ----------
    Common practice, no published source (0.3 to 1 mm).
    """
    return max(gap, least)


def gives_way(fed: float, limit: float) -> bool:
    """Whether a wire that stands on the work has been fed so far that it bends, slips and finds another spot.

    Parameters
    ----------
    fed : float
        Length fed since the touch [m].
    limit : float
        What torch, hand and wire take up [m].

    Returns
    -------
    bool
        True: a stub is counted and a new spot drawn [-].

    Notes
    -----
    A cold wire does not buckle: 0.8 mm x 12 mm of steel would take 270 N (Euler), more than feed rolls push.  A red one
    does; and the torch is lifted.

    Examples
    --------
    >>> gives_way(4e-3, 10e-3)
    False

    References
    ----------
    Assumed, common practice.
    """
    return fed >= limit
