"""How the wire's end moves: feed, melting, extension, and how an arc finds back to its length.

Plain arithmetic on plain numbers, for the compiled process (``engine/wire_kernel.py``) to follow on arrays.  Sources of
the constants: ``wire_kinds.py``.
"""

import math


def feed_wanted(run_in: float, feed: float, *, established: bool, released: bool) -> float:
    """Speed that the feed motor is asked for.

    Parameters
    ----------
    run_in, feed : float
        Before the first arc, and while welding [m/s].
    established : bool
        Whether an arc has burnt since the trigger was pressed [-].
    released : bool
        Whether the trigger has been let go [-].

    Returns
    -------
    float
        Speed [m/s].

    Examples
    --------
    >>> feed_wanted(0.05, 0.083, established=False, released=False)
    0.05

    References
    ----------
    Common practice: a slow run-in makes the first touch soft.
    """
    if released:
        return 0.0
    return feed if established else run_in


def feed_speed(speed: float, wanted: float, *, time: float, time_constant: float) -> float:
    """Wire speed after a time: the motor runs up and down with one time constant.

    Parameters
    ----------
    speed, wanted : float
        At the begin, and asked for [m/s].
    time, time_constant : float
        Time since the begin; that of the motor with its gear [s].

    Returns
    -------
    float
        Speed [m/s].

    Notes
    -----
    ``v = wanted + (speed - wanted) exp(-t/tau)``, exact at any tick.  30 to 100 ms are told for small feeders; a motor
    with brakes or one that is fed from the weld output needs a model of its own.

    Examples
    --------
    >>> round(feed_speed(0.0, 0.1, time=0.06, time_constant=0.06), 5)
    0.06321

    References
    ----------
    Derived here (first-order lag); range: common practice.
    """
    return wanted + (speed - wanted) * math.exp(-time / time_constant)


def melting_speed(current: float, extension: float, *, alpha: float, beta: float, square: float = -1.0) -> float:
    """Speed at which the solid end melts back while the arc burns.

    Parameters
    ----------
    current : float
        Through the arc; nothing melts at or below zero [A].
    extension : float
        Wire between contact tube and melting end [m].
    alpha : float
        Heat of the arc at the wire's end [m/(A s)].
    beta : float
        Heat made in the extension [1/(A2 s)].
    square : float
        Square of the current that has heated the extension; below zero: of this current [A2].

    Returns
    -------
    float
        Speed [m/s].

    Notes
    -----
    ``alpha i + beta L i^2``.  Steady welding, 15 %; for a current that swings faster than the wire travels through its
    extension (some 0.1 s) the square in the second part is a mean over that time: ``lagging_square``.  In a short
    circuit nothing is counted as melted.

    Examples
    --------
    >>> round(melting_speed(125.0, 10e-3, alpha=0.533e-3, beta=1.58e-4), 4)
    0.0913

    References
    ----------
    A. Lesnewich, Welding Journal 37, 1958 (form of the equation; from memory, 90 %).
    """
    i = max(current, 0.0)
    return alpha * i + beta * max(extension, 0.0) * (i * i if square < 0.0 else square)


def lagging_square(square: float, current: float, *, time: float, time_constant: float) -> float:
    """Square of the current as the melting end feels it, after a time at a current.

    Parameters
    ----------
    square : float
        At the begin [A2].
    current : float
        In this time, in arc and short circuit alike [A].
    time : float
        Length of it [s].
    time_constant : float
        About half of what the wire takes through its extension [s].

    Returns
    -------
    float
        Squared current [A2].

    Notes
    -----
    The wire that melts now was heated all the way from the contact tube, short circuits included: a first-order lag in
    the place of the mean over that way.  Steady current: nothing changes.  Without it short circuits would heat the
    extension for nothing, and the mean current would come out 4 to 10 % too high for the feed.

    Examples
    --------
    >>> round(lagging_square(1e4, 200.0, time=3e-3, time_constant=60e-3))
    11463

    References
    ----------
    Derived here: 10 mm at 5 m/min take 120 ms.
    """
    target = current * current
    return target + (square - target) * math.exp(-time / time_constant)


def current_for_feed(feed: float, extension: float, *, alpha: float, beta: float) -> float:
    """Steady current at which the wire melts as fast as it comes.

    Parameters
    ----------
    feed : float
        Wire speed [m/s].
    extension : float
        Wire between contact tube and melting end [m].
    alpha, beta : float
        As in ``melting_speed`` [m/(A s)], [1/(A2 s)].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    The positive root of ``beta L i^2 + alpha i - feed = 0``, written so that beta may be zero.  Of an arc that burns
    all the time: with short circuits the mean current of the circuit differs.

    Examples
    --------
    >>> round(current_for_feed(5.0 / 60.0, 12e-3, alpha=0.675e-3, beta=2.53e-4), 1)
    88.3

    References
    ----------
    Derived here.
    """
    return 2.0 * feed / (alpha + math.sqrt(alpha * alpha + 4.0 * beta * extension * feed))


def extension_length(height: float, gap: float) -> float:
    """Electrode extension: what the gap leaves of the distance between contact tube and work.

    Parameters
    ----------
    height : float
        Contact tube to work [m].
    gap : float
        Wire's end to work [m].

    Returns
    -------
    float
        Length, none once the arc has reached the tube [m].

    Notes
    -----
    Torch and pool are held still.

    Examples
    --------
    >>> round(extension_length(12e-3, 1.5e-3), 6)
    0.0105

    References
    ----------
    Derived here (geometry).
    """
    return max(height - gap, 0.0)


def extension_resistance(length: float, *, resistivity: float, section: float) -> float:
    """Resistance of the extension.

    Parameters
    ----------
    length : float
        Electrode extension [m].
    resistivity : float
        Mean over the extension (``extension_resistivity``) [ohm m].
    section : float
        Of the wire, full circle [m2].

    Returns
    -------
    float
        Resistance [ohm].

    Examples
    --------
    >>> round(extension_resistance(12e-3, resistivity=0.85e-6, section=0.5027e-6) * 1e3, 1)
    20.3

    References
    ----------
    Derived here.
    """
    return resistivity * length / section


def extension_resistivity(warmth: float, *, cold: float, hot: float) -> float:
    """Mean resistivity of an extension that is on its way from cold to hot.

    Parameters
    ----------
    warmth : float
        0 as at the first touch, 1 as in steady welding [1].
    cold : float
        At room temperature [ohm m].
    hot : float
        Mean in steady welding: cold at the tube and melting at its end [ohm m].

    Returns
    -------
    float
        Resistivity [ohm m].

    Notes
    -----
    A straight line.  While the wire stands on the work the warmth grows with its heat (``extension_heat_rate``) up to
    1; while the arc burns it nears 1 with the time constant of the extension's heat; a lost arc leaves it.  0.7 to 1.0
    uohm m for steel in steady welding, a fifth of that cold.

    Examples
    --------
    >>> round(extension_resistivity(0.5, cold=0.16e-6, hot=0.85e-6) * 1e6, 3)
    0.505

    References
    ----------
    Straight line assumed; steel 0.14 to 0.2 uohm m at 20 C (tables), range of the hot mean from memory, 80 %.
    """
    return cold + (hot - cold) * warmth


def gap_rate(melting: float, feed: float) -> float:
    """How fast the gap opens (or closes, below zero).

    Parameters
    ----------
    melting : float
        Speed of the melting end [m/s].
    feed : float
        Speed of the wire [m/s].

    Returns
    -------
    float
        Rate of the gap, from the solid end to the work [m/s].

    Notes
    -----
    Torch height and pool level constant.

    Examples
    --------
    >>> round(gap_rate(0.100, 0.083), 3)
    0.017

    References
    ----------
    Derived here (geometry).
    """
    return melting - feed


def regulation_time(
    current: float, extension: float, *, alpha: float, beta: float, gradient: float, resistance: float
) -> float:
    """Time constant with which a burning arc comes back to its length after a small step, on a supply without choke.

    Parameters
    ----------
    current : float
        Through the arc [A].
    extension : float
        Wire between contact tube and melting end [m].
    alpha, beta : float
        Of the melting rate [m/(A s)], [1/(A2 s)].
    gradient : float
        Volts that a longer arc takes, less those that the shorter extension gives back, per length [V/m].
    resistance : float
        Slope of supply, leads, extension and arc in series [ohm].

    Returns
    -------
    float
        Time constant [s].

    Notes
    -----
    Linearised ``dl/dt = alpha i + beta (H - l) i^2 - v`` with ``di/dl = -gradient / resistance``:
    ``1/tau = (alpha + 2 beta L i) gradient / resistance + beta i^2``.  ``gradient`` is that of the arc less resistivity
    x current / section.  Holds for steps that start no short circuit, and where choke over resistance (some 5 ms) is
    short against the result.

    Examples
    --------
    >>> tau = regulation_time(100.0, 10e-3, alpha=0.675e-3, beta=2.53e-4, gradient=831.0, resistance=0.1)
    >>> round(tau * 1e3, 1)
    81.0

    References
    ----------
    Derived here.
    """
    return 1.0 / ((alpha + 2.0 * beta * extension * current) * gradient / resistance + beta * current * current)
