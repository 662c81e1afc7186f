"""What an arc on the wire's end asks of the supply: its voltage, its falling part, and what brings it back.

    u
    |\\  falling part: rise (1 - i / break current)
    | \\____________------------  offset + gradient x length + slope x current
    +--|--------------------- i
       hold limit

The gap opens only where the current has come to zero: by itself where the circuit cannot give the voltage of the
falling part, and within microseconds, against 200 V, where an arc has been below its least current for too long
(``lives_on``).  Opening a branch that still carries current would invent kilovolts.
Plain arithmetic on plain numbers; sources of the constants: ``wire_kinds.py``.
"""

import math

LOST_FACTOR = 10.0  # of ``later``, at the end of the time in which an arc may come back (assumed)


def burning_voltage(current: float, length: float, *, offset: float, gradient: float, slope: float) -> float:
    """Voltage of the burning arc above its hold limit.

    Parameters
    ----------
    current : float
        Through the arc [A].
    length : float
        Solid end to work [m].
    offset : float
        Of an arc without length: falls at cathode and anode [V].
    gradient : float
        Volts per length [V/m].
    slope : float
        Volts per ampere [ohm].

    Returns
    -------
    float
        Voltage, without that of the extension and the contact tube [V].

    Notes
    -----
    ``offset + gradient l + slope i``.  Told for steel wire: offset 13 to 16 V, gradient 0.6 to 1.5 V/mm, slope 20 to 25
    mohm, each 20 %.  At once: the gas follows the current within some 0.1 ms (``arc_memory`` has that lag).

    Examples
    --------
    >>> round(burning_voltage(100.0, 1e-3, offset=15.0, gradient=1e3, slope=22e-3), 2)
    18.2

    References
    ----------
    Literature of control models of gas-metal-arc welding (from memory, 75 %).
    """
    return offset + gradient * length + slope * current


def falling_rise(current: float, *, rise: float, break_current: float) -> float:
    """Volts that an arc below its hold limit asks for in addition.

    Parameters
    ----------
    current : float
        Through the arc [A].
    rise : float
        At no current [V].
    break_current : float
        Hold limit, where it begins [A].

    Returns
    -------
    float
        Added voltage [V].

    Notes
    -----
    ``rise (1 - i / break_current)``, a straight line in the place of Ayrton's falling hyperbola.  The negative slope,
    ``-rise / break_current`` (0.8 ohm), is what makes the current run to zero where the supply is weaker.

    Examples
    --------
    >>> falling_rise(5.0, rise=8.0, break_current=10.0), falling_rise(20.0, rise=8.0, break_current=10.0)
    (4.0, 0.0)

    References
    ----------
    Shape: H. Ayrton, The Electric Arc, 1902; the numbers (8 V, 8 to 15 A) are assumed.
    """
    return max(rise * (1.0 - current / break_current), 0.0)


def lives_on(time: float, *, dead_time: float) -> bool:
    """Whether an arc whose current has been below the least one for a while burns on.

    Parameters
    ----------
    time : float
        Without a break below the least current [s].
    dead_time : float
        That the gas takes to follow the current [s].

    Returns
    -------
    bool
        Whether it does [-].

    Notes
    -----
    Clean contacts part without an arc below some current, however high the voltage short of a glow's 300 V: the metal
    then gives too little vapour.  Told for iron: 0.35 to 0.55 A; the least of it is taken, since ends and gas are hot
    here.  An arc that came back to a hot gap is given the same time to grow beyond it, and the gap cools on meanwhile:
    milliamperes through a resistor or a snubber keep no gap alive.  Left out: the glow itself.

    Examples
    --------
    >>> lives_on(0.05e-3, dead_time=0.1e-3), lives_on(0.1e-3, dead_time=0.1e-3)
    (True, False)

    References
    ----------
    R. Holm, Electric Contacts, minimum current of an arc (from memory, 80 %).
    """
    return time == 0.0 or time < dead_time


def reignition_factor(
    time: float, *, dead_time: float, first: float, later: float, later_time: float, lost_time: float
) -> float:
    """How many times the arc's voltage brings a lost arc back without a touch.

    Parameters
    ----------
    time : float
        Since the arc was lost [s].
    dead_time : float
        Before which nothing brings it back [s].
    first : float
        At once after the loss [1].
    later : float
        At ``later_time`` [1].
    later_time : float
        When the gap has lost most of its ions [s].
    lost_time : float
        After which only a touch helps [s].

    Returns
    -------
    float
        Factor; infinite within ``dead_time`` and after ``lost_time`` [1].

    Notes
    -----
    Straight from ``first`` to ``later``, then ten times as much at ``lost_time`` in geometric growth (hundreds of
    volts, above any welding supply).  Factors of 1.5 to 3 are told; the times are assumed, so a comparison between
    supplies is to be repeated with halved and doubled ones.

    Examples
    --------
    >>> said = {"dead_time": 1e-4, "first": 1.5, "later": 3.0, "later_time": 1e-3, "lost_time": 4e-3}
    >>> [round(reignition_factor(t, **said), 3) for t in (0.05e-3, 0.5e-3, 1e-3, 2.5e-3, 5e-3)]
    [inf, 2.25, 3.0, 9.487, inf]

    References
    ----------
    1.5 to 3 times the arc's voltage: published range of the trade; times assumed.
    """
    if time < dead_time or time > lost_time:
        return math.inf
    if time < later_time:
        return first + (later - first) * time / later_time
    return later * LOST_FACTOR ** ((time - later_time) / (lost_time - later_time))


def reignition_voltage(length: float, factor: float, *, offset: float, gradient: float, rise: float) -> float:
    """Voltage across the gap that brings a lost arc back.

    Parameters
    ----------
    length : float
        Of the gap [m].
    factor : float
        ``reignition_factor`` of this moment [1].
    offset : float
        Voltage of an arc without length [V].
    gradient : float
        Volts per length [V/m].
    rise : float
        Of the falling part, at no current [V].

    Returns
    -------
    float
        Voltage [V].

    Notes
    -----
    ``max(factor x arc, arc + rise)``: an arc of no current cannot live on less than its own falling part asks for.  To
    be compared with the solved voltage at the gap, never with an EMF behind a resistance.

    Examples
    --------
    >>> reignition_voltage(1e-3, 1.5, offset=15.0, gradient=1e3, rise=8.0)
    24.0
    >>> reignition_voltage(1e-3, 1.5, offset=15.0, gradient=1e3, rise=16.0)
    32.0

    References
    ----------
    As ``reignition_factor``.
    """
    arc = offset + gradient * length
    return max(factor * arc, arc + rise)
