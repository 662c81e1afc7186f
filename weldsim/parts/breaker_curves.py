"""The slow part of a breaker, with memory of what it has carried, and the melting of a gG fuse.

heat --->(+)---> first-order lag, time constant tau ---> trips where the heat reaches k^2
(i/In)^2 -'
"""

import math
from typing import Literal

from weldsim.errors import WeldsimError
from weldsim.frozen import dataclass
from weldsim.parts.protection import Breaker, magnetic_multiples

Edge = Literal["fastest", "middle", "slowest"]
EDGES: tuple[Edge, ...] = ("fastest", "middle", "slowest")

# Conventional non-tripping and tripping current over rated current: IEC 60898-1 for B, C, D; thermal-magnetic breakers
# of other ratings: IEC 60947-2 (from memory, 95 %).
_CONVENTIONAL = {"B": (1.13, 1.45), "C": (1.13, 1.45), "D": (1.13, 1.45), "thermal-magnetic": (1.05, 1.30)}
_HOT = 2.55  # times the rated current: trips in 1 s to 60 s (120 s above 32 A), IEC 60898-1
_SOONEST = 1.0  # [s] at 2.55 In
_HELD = 0.1  # [s] that the lower edge of the curve's magnetic band must be held, by the thermal part too, IEC 60898-1

# Pre-arcing I2t of gG fuse links at 10 ms, rating [A]: least and most [A2 s].  IEC 60269-1 gates, from memory, 80 %.
_FUSE_GATES = {
    2: (1.0, 23.0),
    4: (6.25, 90.25),
    6: (24.0, 225.0),
    10: (100.0, 576.0),
    16: (300.0, 1000.0),
    20: (500.0, 1800.0),
    25: (1000.0, 3000.0),
    32: (1800.0, 5000.0),
    40: (3000.0, 9000.0),
    50: (5000.0, 16_000.0),
    63: (9000.0, 27_000.0),
    80: (16_000.0, 46_000.0),
    100: (27_000.0, 86_000.0),
    125: (46_000.0, 140_000.0),
    160: (86_000.0, 250_000.0),
    200: (140_000.0, 400_000.0),
    250: (250_000.0, 760_000.0),
    315: (400_000.0, 1_300_000.0),
    400: (760_000.0, 2_250_000.0),
    500: (1_300_000.0, 3_800_000.0),
    630: (2_250_000.0, 7_500_000.0),
    800: (3_800_000.0, 13_600_000.0),
    1000: (7_840_000.0, 25_000_000.0),
}
FUSE_VERDICTS = ("holds", "may melt", "melts")


@dataclass(frozen=True)
class _Thermal:
    trip_heat: float  # k^2, in units of the heat that the rated current settles at
    tau: float  # [s]


def _tau(trip_heat: float, multiple: float, time: float) -> float:
    """Time constant with which a cold breaker reaches its trip heat in this time."""
    return time / math.log(multiple**2 / (multiple**2 - trip_heat))


def _fastest(curve: str, trip_heat: float) -> _Thermal:
    """The quickest time constant that holds 2.55 In for 1 s and the lower magnetic edge of the curve for 0.1 s."""
    band = magnetic_multiples(Breaker(curve=curve, current=1.0))
    assert band is not None  # a fuse has been refused
    return _Thermal(trip_heat, max(_tau(trip_heat, _HOT, _SOONEST), _tau(trip_heat, band[0], _HELD)))


def _thermal(breaker: Breaker, edge: Edge) -> _Thermal:
    """Trip heat and time constant of one edge of the band of a breaker."""
    if edge not in EDGES:
        raise WeldsimError(f"there is no edge '{edge}'", place="breaker", advice=f"use one of {', '.join(EDGES)}")
    if breaker.curve not in _CONVENTIONAL:
        raise WeldsimError(
            f"a fuse ({breaker.curve}) has no bimetal that remembers",
            place="breaker.curve",
            advice="judge a fuse by its I2t",
        )
    holds, trips = _CONVENTIONAL[breaker.curve]
    latest = 60.0 if breaker.current <= 32.0 else 120.0
    test_time = 3600.0 if breaker.current <= 63.0 else 7200.0
    fastest = _fastest(breaker.curve, holds**2)
    slow_tau = _tau(trips**2, _HOT, latest)
    left = math.exp(-test_time / slow_tau)
    slowest = _Thermal(trips**2 - (trips**2 - holds**2 * (1.0 - left)) * left, slow_tau)
    between = math.sqrt(fastest.trip_heat * slowest.trip_heat)
    middle = _Thermal(between, _tau(between, _HOT, math.sqrt(_SOONEST * latest)))
    return {"fastest": fastest, "middle": middle, "slowest": slowest}[edge]


def trip_time(breaker: Breaker, multiple: float, *, edge: Edge, heat: float = 0.0) -> float:
    """Time after which a steady current trips the thermal part: tau ln((m^2 - h) / (m^2 - k^2)).

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    multiple : float
        rms current over rated current, m [1].
    edge : str
        "fastest" and "slowest" breaker that the standard lets pass, or a "middle" one [-].
    heat : float
        What it has in it already, h: 0 cold, 1 after rated current for long [1].

    Returns
    -------
    float
        Time to the trip [s]; infinity where it never trips.

    Notes
    -----
    One time constant and a trip heat k^2 for each edge. Fastest: k at the current that must be held for the
    conventional time, tau so that 2.55 In trips a cold breaker in 1 s, or longer where the lower magnetic edge would
    not be held for 0.1 s (curve D: 1.7 s). Slowest: k such that the conventional tripping current, put on after the
    holding current, trips at the end of the conventional time (1 h, above 63 A 2 h), tau so that 2.55 In takes 60 s
    (120 s above 32 A). Middle: geometric means of both trip heats and of 1 s and 60 (120) s, the same for B, C and D
    as makers print it. Other pairs of k and tau that pass the same tests lie up to 8 % outside at 10 In. Real bimetals
    have several time constants, so minutes to hours are no better than the band; ambient as in the standard (30 degC),
    a row of warm neighbours trips sooner. The magnetic part is not in it. Thermal-magnetic breakers of other ratings:
    1.05 and 1.30 In (IEC 60947-2, from memory), the rest taken over (common practice).

    Examples
    --------
    >>> b16 = Breaker(curve="B", current=16.0)
    >>> [round(trip_time(b16, 2.55, edge=edge), 2) for edge in EDGES]
    [1.0, 7.75, 60.0]
    >>> trip_time(b16, 1.13, edge="fastest")
    inf

    References
    ----------
    IEC 60898-1, time-current operating characteristics (1.13, 1.45 and 2.55 In). The thermal model: derived here.
    """
    thermal = _thermal(breaker, edge)
    if heat >= thermal.trip_heat:
        return 0.0
    beyond = multiple**2 - thermal.trip_heat
    return thermal.tau * math.log((multiple**2 - heat) / beyond) if beyond > 0.0 else math.inf


def heat_after(breaker: Breaker, heat: float, *, multiple: float, duration: float, edge: Edge) -> float:
    """Heat left after a steady current, or after a pause: m^2 + (h - m^2) exp(-t / tau).

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    heat : float
        Before it, h: 0 cold, 1 after rated current for long [1].
    multiple : float
        rms current over rated current, m; 0 in a pause [1].
    duration : float
        How long [s].
    edge : str
        "fastest", "middle" or "slowest" [-].

    Returns
    -------
    float
        Heat after it [1].

    Notes
    -----
    Cools with the time constant with which it warms. Validity as in ``trip_time``.

    Examples
    --------
    >>> b16 = Breaker(curve="B", current=16.0)
    >>> round(heat_after(b16, 0.0, multiple=2.0, duration=10.0, edge="middle"), 2)
    1.25

    References
    ----------
    Derived here: first-order lag.
    """
    settled = multiple**2
    return settled + (heat - settled) * math.exp(-duration / _thermal(breaker, edge).tau)


def trip_heat(breaker: Breaker, *, edge: Edge) -> float:
    """Heat at which the thermal part trips, k^2.

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    edge : str
        "fastest", "middle" or "slowest" [-].

    Returns
    -------
    float
        Trip heat, where rated current for long gives 1 [1].

    Notes
    -----
    Validity as in ``trip_time``.

    Examples
    --------
    >>> round(trip_heat(Breaker(curve="C", current=16.0), edge="fastest"), 4)
    1.2769

    References
    ----------
    IEC 60898-1; derived here.
    """
    return _thermal(breaker, edge).trip_heat


def longest_current(breaker: Breaker, *, edge: Edge) -> float:
    """Largest current that the thermal part carries for ever: k In.

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    edge : str
        "fastest", "middle" or "slowest" [-].

    Returns
    -------
    float
        Current, rms [A].

    Notes
    -----
    What the breaker lets pass is not what the cable or the contract allows. Validity as in ``trip_time``.

    Examples
    --------
    >>> round(longest_current(Breaker(curve="B", current=16.0), edge="fastest"), 2)
    18.08

    References
    ----------
    IEC 60898-1 (1.13 and 1.45 In).
    """
    return math.sqrt(_thermal(breaker, edge).trip_heat) * breaker.current


def fuse_window(rating: float) -> tuple[float, float]:
    """Pre-arcing I2t between which a gG fuse of this rating may melt in a few milliseconds.

    Parameters
    ----------
    rating : float
        Rated current [A].

    Returns
    -------
    tuple of float
        Least and most pre-arcing I2t [A2 s].

    Notes
    -----
    Gates at 10 ms, below which the melting element keeps its heat to itself; longer pulses need more, so a sum over
    60 ms errs to the safe side. Between standard ratings on a straight line of logarithms, below 2 A by the square of
    the current. A fuse that is often brought near its least I2t ages; not modelled. The gates are from memory: 80 %.

    Examples
    --------
    >>> fuse_window(16.0)
    (300.0, 1000.0)

    References
    ----------
    IEC 60269-1 and -2, gates of pre-arcing I2t for gG (from memory, 80 %).
    """
    known = list(_FUSE_GATES)
    if rating in _FUSE_GATES:
        return _FUSE_GATES[int(rating)]
    if rating < known[0] or rating > known[-1]:
        nearest = known[0] if rating < known[0] else known[-1]
        low, high = _FUSE_GATES[nearest]
        return low * (rating / nearest) ** 2, high * (rating / nearest) ** 2
    above = next(one for one in known if one > rating)
    below = known[known.index(above) - 1]
    share = math.log(rating / below) / math.log(above / below)
    low, high = (
        first * (second / first) ** share for first, second in zip(_FUSE_GATES[below], _FUSE_GATES[above], strict=True)
    )
    return low, high


def fuse_verdict(breaker: Breaker, i2t: float) -> str:
    """What a pulse does to a gG fuse: "holds", "may melt" or "melts".

    Parameters
    ----------
    breaker : Breaker
        A fuse, kind gG [-].
    i2t : float
        Of the pulse [A2 s].

    Returns
    -------
    str
        One of FUSE_VERDICTS [-].

    Notes
    -----
    Validity as in ``fuse_window``.

    Examples
    --------
    >>> fuse_verdict(Breaker(curve="gG", current=16.0), 213.5)
    'holds'

    References
    ----------
    IEC 60269-1, gates of pre-arcing I2t for gG (from memory, 80 %).
    """
    if breaker.curve != "gG":
        raise WeldsimError(
            f"a breaker of kind {breaker.curve} is no fuse",
            place="breaker.curve",
            advice="its magnetic band and its thermal part decide",
        )
    low, high = fuse_window(breaker.current)
    return FUSE_VERDICTS[(i2t >= low) + (i2t > high)]


def half_period_rms_limit() -> float:
    """Current over half a period up to which manual switching needs no test.

    Returns
    -------
    float
        Limit, rms over every half period [A].

    Notes
    -----
    Afterwards the current must also stay within 1.5 A; for equipment up to 16 A that is switched by hand.

    Examples
    --------
    >>> half_period_rms_limit()
    20.0

    References
    ----------
    IEC 61000-3-3, inrush of manually switched equipment (as given in application notes).
    """
    return 20.0
