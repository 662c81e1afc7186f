"""Arcs with a memory: conductance after Mayr (a thin, cooled column) and Cassie (a wide one), and Ayrton's static line.

    Mayr     dg/dt = (g / tau) (u i / P0 - 1)        P0 heat carried off [W]
    Cassie   dg/dt = (g / tau) (u^2 / Uc^2 - 1)      Uc arc voltage [V]

With the current given, g (Mayr) and g^2 (Cassie) relax linearly towards a square of the current, so that a tick with a
current that changes in a straight line is exact; with the voltage given both have closed forms too.  The caller chooses
which of the two its circuit holds over a short tick; 1/g is the arc's resistance for the next one.  ``time_constant``
of welding arcs: some 10 to 300 us (from memory, 70 %), so ticks of 1 to 10 us.
"""

import math

AYRTON = (38.88, 2.074, 11.66, 10.54)  # [V], [V/mm], [W], [W/mm] solid carbons in air
_SERIES_BELOW = 0.5  # of a tick over the time constant; above it the closed forms lose no digits
_TERMS = 16  # of the series: 0.5^16 / 16! is far below rounding


def ayrton_voltage(current: float, length: float) -> float:
    """Static voltage of an arc between solid carbons in air.

    Parameters
    ----------
    current : float
        Through the arc, above zero [A].
    length : float
        Between the carbons [m].

    Returns
    -------
    float
        Voltage [V].

    Notes
    -----
    ``38.88 + 2.074 L + (11.66 + 10.54 L) / I`` with L in mm; silent arcs of 1 to 7 mm and 2 to 30 A.  A steel wire has
    less than half the offset; the falling shape is what the model borrows.

    Examples
    --------
    >>> round(ayrton_voltage(10.0, 2e-3), 3)
    46.302

    References
    ----------
    H. Ayrton, The Electric Arc, 1902 (38.88 published, the other three from memory, 95 %).
    """
    offset, gradient, power, power_gradient = AYRTON
    millimetres = 1e3 * length
    return offset + gradient * millimetres + (power + power_gradient * millimetres) / current


def mayr_at_current(  # the current is given at both ends of the tick
    conductance: float, time: float, *, before: float, after: float, time_constant: float, power: float
) -> float:
    """Conductance of a Mayr arc after a tick with a given current.

    Parameters
    ----------
    conductance : float
        At the begin [S].
    time : float
        Length of the tick [s].
    before, after : float
        Current at its begin and end; in between a straight line [A].
    time_constant : float
        Of the column [s].
    power : float
        Heat carried off, P0 [W].

    Returns
    -------
    float
        Conductance at the end [S].

    Notes
    -----
    ``dg/dt = (i^2 / P0 - g) / tau``, exact.  Constant current: ``i^2/P0 + (g0 - i^2/P0) exp(-t/tau)``.

    Examples
    --------
    >>> said = {"before": 100.0, "after": 100.0, "time_constant": 50e-6, "power": 2e3}
    >>> round(mayr_at_current(1.0, 100e-6, **said), 8)
    4.45865887

    References
    ----------
    O. Mayr, Archiv fuer Elektrotechnik 37, 1943 (equation; from memory, 99 %); closed form derived here.
    """
    x = time / time_constant
    return conductance * math.exp(-x) + _driven(x, before, after) / power


def mayr_at_voltage(conductance: float, time: float, *, voltage: float, time_constant: float, power: float) -> float:
    """Conductance of a Mayr arc after a time at constant voltage.

    Parameters
    ----------
    conductance : float
        At the begin [S].
    time : float
        At this voltage [s].
    voltage : float
        Across the arc [V].
    time_constant : float
        Of the column [s].
    power : float
        Heat carried off, P0 [W].

    Returns
    -------
    float
        Conductance; infinite where it has run away by then [S].

    Notes
    -----
    ``1/g = U^2/P0 + (1/g0 - U^2/P0) exp(t/tau)``, written so that long times do not overflow.  With more power than P0
    the conductance grows without end: at constant voltage there is no steady Mayr arc.

    Examples
    --------
    >>> round(mayr_at_voltage(0.8, 100e-6, voltage=40.0, time_constant=50e-6, power=2e3), 8)
    0.24241982

    References
    ----------
    As ``mayr_at_current``; the equation is Bernoulli's.
    """
    x = time / time_constant
    left = 1.0 + conductance * voltage * voltage / power * math.expm1(-x)
    return conductance * math.exp(-x) / left if left > 0.0 else math.inf


def cassie_at_current(  # the current is given at both ends of the tick
    conductance: float, time: float, *, before: float, after: float, time_constant: float, arc_voltage: float
) -> float:
    """Conductance of a Cassie arc after a tick with a given current.

    Parameters
    ----------
    conductance : float
        At the begin [S].
    time : float
        Length of the tick [s].
    before, after : float
        Current at its begin and end; in between a straight line [A].
    time_constant : float
        Of the column [s].
    arc_voltage : float
        Voltage of the steady arc, Uc [V].

    Returns
    -------
    float
        Conductance at the end [S].

    Notes
    -----
    ``d(g^2)/dt = 2 ((i/Uc)^2 - g^2) / tau``, exact.  Good at high currents; near zero a Mayr arc is the better picture.

    Examples
    --------
    >>> said = {"before": 100.0, "after": 100.0, "time_constant": 50e-6, "arc_voltage": 20.0}
    >>> round(cassie_at_current(1.0, 100e-6, **said), 8)
    4.95584752

    References
    ----------
    A. M. Cassie, CIGRE report 102, 1939 (equation; from memory, 99 %); closed form derived here.
    """
    x = 2.0 * time / time_constant
    square = conductance * conductance * math.exp(-x) + _driven(x, before, after) / (arc_voltage * arc_voltage)
    return math.sqrt(max(square, 0.0))


def cassie_at_voltage(
    conductance: float, time: float, *, voltage: float, time_constant: float, arc_voltage: float
) -> float:
    """Conductance of a Cassie arc after a time at constant voltage.

    Parameters
    ----------
    conductance : float
        At the begin [S].
    time : float
        At this voltage [s].
    voltage : float
        Across the arc [V].
    time_constant : float
        Of the column [s].
    arc_voltage : float
        Voltage of the steady arc, Uc [V].

    Returns
    -------
    float
        Conductance; infinite where it has run away beyond all numbers [S].

    Notes
    -----
    ``g0 exp((U^2/Uc^2 - 1) t/tau)``.

    Examples
    --------
    >>> round(cassie_at_voltage(1.0, 50e-6, voltage=0.0, time_constant=50e-6, arc_voltage=20.0), 6)
    0.367879

    References
    ----------
    As ``cassie_at_current``.
    """
    exponent = ((voltage / arc_voltage) ** 2 - 1.0) * time / time_constant
    return conductance * math.exp(exponent) if exponent < 700.0 else math.inf


def _driven(x: float, before: float, after: float) -> float:
    """Integral over u from 0 to x of exp(-u) times the square of the current u before the end of the tick.

    With c = after and d = after - before that is c^2 E0 - 2 c d E1 / x + d^2 E2 / x^2, En the integral of u^n exp(-u).
    """
    if x == 0.0:
        return 0.0
    if x < _SERIES_BELOW:
        e0, e1, e2 = (_moment(x, n) for n in range(3))
    else:
        left = math.exp(-x)
        e0 = 1.0 - left
        e1 = (1.0 - (1.0 + x) * left) / x
        e2 = (2.0 - (2.0 + 2.0 * x + x * x) * left) / (x * x)
    change = after - before
    return after * after * e0 - 2.0 * after * change * e1 + change * change * e2


def _moment(x: float, n: int) -> float:
    """Integral over u from 0 to x of (u / x)^n exp(-u), as a series."""
    total, term = 0.0, x
    for k in range(_TERMS):
        total += term / (n + 1 + k)
        term *= -x / (k + 1)
    return total
