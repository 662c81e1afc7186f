"""A breaker under welding and pauses in turn: the heat it settles at, and how long it lasts.

on ----+   +----   heat rises towards (i/In)^2 while welding, falls in the pause, each with the breaker's time constant
       |   |
off    +---+
"""

import math

from weldsim.errors import WeldsimError
from weldsim.parts.breaker_curves import Edge, heat_after, longest_current, trip_time
from weldsim.parts.protection import Breaker

# Conventional non-fusing and fusing current of gG links over their rating: IEC 60269-1 (from memory, 90 %).
_CONVENTIONAL_FUSING = ((4.0, 1.5, 2.1), (16.0, 1.5, 1.9), (math.inf, 1.25, 1.6))
_MOST_CYCLES = 2000


def fusing_currents(fuse: Breaker) -> tuple[float, float]:
    """Currents that a gG fuse carries and that melt it within its conventional time.

    Parameters
    ----------
    fuse : Breaker
        Of kind gG [-].

    Returns
    -------
    tuple of float
        Conventional non-fusing and fusing current, rms [A].

    Notes
    -----
    The conventional time is 1 h up to 63 A.  What it does in minutes is not promised by the standard.

    Examples
    --------
    >>> fusing_currents(Breaker(curve="gG", current=16.0))
    (20.0, 25.6)

    References
    ----------
    IEC 60269-1, conventional currents (from memory, 90 %).
    """
    holds, melts = next((low, high) for most, low, high in _CONVENTIONAL_FUSING if fuse.current < most)
    return holds * fuse.current, melts * fuse.current


def cycle_heat(breaker: Breaker, *, duty: float, cycle: float, edge: Edge) -> float:
    """Largest heat of settled cycles over that of the same current without pauses.

    (1 - exp(-D T / tau)) / (1 - exp(-T / tau))

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    duty : float
        Share of the cycle with current, D [1].
    cycle : float
        Length of a cycle, T [s].
    edge : str
        "fastest", "middle" or "slowest" [-].

    Returns
    -------
    float
        Share [1].

    Notes
    -----
    One time constant, warming and cooling alike.  The duty itself for cycles much shorter than it, 1 for much longer.

    Examples
    --------
    Welding 3.5 of 10 minutes hardly helps: the bimetal settles within minutes.

    >>> round(cycle_heat(Breaker(curve="B", current=16.0), duty=0.35, cycle=600.0, edge="slowest"), 2)
    0.76

    References
    ----------
    Derived here: first-order lag under a periodic square.
    """
    if not 0.0 < duty <= 1.0 or cycle <= 0.0:
        raise WeldsimError(
            f"a duty of {duty:g} of {cycle:g} s makes no cycle", place="duty", advice="give a duty above 0, up to 1"
        )
    cooled = heat_after(breaker, 1.0, multiple=0.0, duration=duty * cycle, edge=edge)
    return (1.0 - cooled) / (1.0 - heat_after(breaker, 1.0, multiple=0.0, duration=cycle, edge=edge))


def longest_current_in_cycles(breaker: Breaker, *, duty: float, cycle: float, edge: Edge) -> float:
    """Largest current while welding that the thermal part carries for ever, with pauses between.

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    duty : float
        Share of the cycle with current [1].
    cycle : float
        Length of a cycle [s].
    edge : str
        "fastest", "middle" or "slowest" [-].

    Returns
    -------
    float
        Current while welding, rms [A].

    Notes
    -----
    Validity as in ``breaker_curves.trip_time``; between welds it carries nothing.

    Examples
    --------
    >>> round(longest_current_in_cycles(Breaker(curve="B", current=16.0), duty=0.35, cycle=600.0, edge="slowest"), 1)
    26.6

    References
    ----------
    Derived here; the trip heat from IEC 60898-1.
    """
    return longest_current(breaker, edge=edge) / math.sqrt(cycle_heat(breaker, duty=duty, cycle=cycle, edge=edge))


def trip_time_in_cycles(
    breaker: Breaker, multiple: float, *, duty: float, cycle: float, edge: Edge, heat: float = 0.0
) -> float:
    """Time until the thermal part trips, welding and pausing in turn.

    Parameters
    ----------
    breaker : Breaker
        Kind B, C, D or thermal-magnetic [-].
    multiple : float
        rms current while welding over rated current [1].
    duty : float
        Share of the cycle with current [1].
    cycle : float
        Length of a cycle; welding comes first [s].
    edge : str
        "fastest", "middle" or "slowest" [-].
    heat : float
        What it has in it already: 0 cold, 1 after rated current for long [1].

    Returns
    -------
    float
        Time, pauses included [s]; infinity where it never trips.

    Notes
    -----
    Cycle by cycle with the heat kept; validity as in ``breaker_curves.trip_time``.  A current that holds for ever may
    trip a warm breaker all the same: in the first weld, or never.

    Examples
    --------
    >>> b16 = Breaker(curve="B", current=16.0)
    >>> trip_time_in_cycles(b16, 1.2, duty=0.35, cycle=600.0, edge="slowest")
    inf
    >>> round(trip_time_in_cycles(b16, 2.0, duty=0.35, cycle=600.0, edge="middle"), 1)
    14.1

    References
    ----------
    Derived here: first-order lag.
    """
    holds = multiple * breaker.current <= longest_current_in_cycles(breaker, duty=duty, cycle=cycle, edge=edge)
    for number in range(1 if holds else _MOST_CYCLES):
        left = trip_time(breaker, multiple, edge=edge, heat=heat)
        if left <= duty * cycle:
            return number * cycle + left
        heat = heat_after(breaker, heat, multiple=multiple, duration=duty * cycle, edge=edge)
        heat = heat_after(breaker, heat, multiple=0.0, duration=(1.0 - duty) * cycle, edge=edge)
    return math.inf
