"""How the wire's end moves: feed, melting, extension, the drop and how far it reaches.

Plain arithmetic on plain numbers.  The compiled process (``engine/wire_kernel.py``) does the same on arrays; a test
holds the two together.  Sources of the constants: ``wire_kinds.py``.
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


def melting_speed(current: float, extension: float, *, alpha: float, beta: float) -> float:
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

    Returns
    -------
    float
        Speed [m/s].

    Notes
    -----
    ``alpha i + beta L i^2``.  Steady welding, 15 %; for a current that swings faster than the wire travels through its
    extension (some 0.1 s) the second part is really a mean over that time.  In a short circuit nothing is counted as
    melted, although the extension is heated further.

    Examples
    --------
    >>> round(melting_speed(125.0, 10e-3, alpha=0.533e-3, beta=1.58e-4), 4)
    0.0913

    References
    ----------
    A. Lesnewich, Welding Journal 37, 1958 (form of the equation; from memory, 90 %).
    """
    i = max(current, 0.0)
    return alpha * i + beta * max(extension, 0.0) * i * i


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
    """Resistance of the hot extension.

    Parameters
    ----------
    length : float
        Electrode extension [m].
    resistivity : float
        Mean over the extension, cold at the tube and melting at its end [ohm m].
    section : float
        Of the wire, full circle [m2].

    Returns
    -------
    float
        Resistance [ohm].

    Notes
    -----
    0.7 to 1.0 uohm m for steel in steady welding (from memory).  At the first touch the wire is cold and has a quarter
    of it; the touch itself has 2 to 20 mohm then.

    Examples
    --------
    >>> round(extension_resistance(12e-3, resistivity=0.85e-6, section=0.5027e-6) * 1e3, 1)
    20.3

    References
    ----------
    Derived here; the range of the resistivity from memory, 80 %.
    """
    return resistivity * length / section


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


def drop_diameter(melted: float, diameter: float) -> float:
    """Diameter of the drop that the melted wire makes.

    Parameters
    ----------
    melted : float
        Length of wire melted since the last drop left [m].
    diameter : float
        Of the wire [m].

    Returns
    -------
    float
        Diameter of a sphere of that volume [m].

    Notes
    -----
    All of it hangs on the wire: nothing is lost as spatter or fume.

    Examples
    --------
    >>> round(drop_diameter(1.0e-3, 0.8e-3) * 1e3, 3)
    0.986

    References
    ----------
    Derived here: ``D^3 = 1.5 d^2 x melted``.
    """
    return (1.5 * diameter * diameter * max(melted, 0.0)) ** (1.0 / 3.0)


def drop_reach(drop: float, diameter: float, *, base: float, growth: float, spread: float) -> float:
    """How far pool and drop together reach into the gap; at this gap they touch.

    Parameters
    ----------
    drop : float
        Diameter of the drop [m].
    diameter : float
        Of the wire [m].
    base : float
        Reach of the pool that rocks [m].
    growth : float
        Reach of a large drop, per diameter of it [1].
    spread : float
        Random factor of this drop, near one [1].

    Returns
    -------
    float
        Reach, from the solid end [m].

    Notes
    -----
    A drop larger than the wire reaches ``growth x D``: a sphere on a wire of 0.8 mm reaches 0.80 D at D = 1.0 mm and
    0.92 D at 1.5 mm, so 80 % is on the short side.  A smaller one is a cap on the wire's end, ``growth x D^3 / d^2``,
    in proportion to what has melted: a new arc does not touch again in its first moments.

    Examples
    --------
    >>> [round(drop_reach(D * 1e-3, 0.8e-3, base=0.2e-3, growth=0.8, spread=1.0) * 1e3, 3) for D in (0.0, 0.4, 1.0)]
    [0.2, 0.28, 1.0]

    References
    ----------
    Derived here (geometry); pool and spread are assumed, 10 to 30 % of spread being common practice.
    """
    ratio = min(drop / diameter, 1.0)
    return (base + growth * drop * ratio * ratio) * spread


def drop_falls(drop: float, limit: float) -> bool:
    """Whether a drop has grown so large that it leaves the wire without touching.

    Parameters
    ----------
    drop : float
        Diameter of the drop [m].
    limit : float
        Diameter at which its weight tears it off (``wire_kinds.heaviest_drop``) [m].

    Returns
    -------
    bool
        True: a new drop begins, the arc burns on [-].

    Notes
    -----
    Keeps a long arc (too many volts, or too little wire) from growing a drop without end.

    Examples
    --------
    >>> drop_falls(1.5e-3, 4.4e-3), drop_falls(4.5e-3, 4.4e-3)
    (False, True)

    References
    ----------
    Derived here (balance of weight and surface tension).
    """
    return drop >= limit


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
