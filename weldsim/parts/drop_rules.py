"""The drop on the wire's end: how large it is, how far it reaches, when it falls by itself.

Plain arithmetic on plain numbers, as in ``wire_rules.py``; sources of the constants: ``wire_kinds.py``.
"""


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
