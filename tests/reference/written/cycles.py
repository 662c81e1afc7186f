"""A breaker that carries a current on and off: the rows of ``weldsim/data/reference/cycles.csv``.

A first-order lag from (i/In)^2 to heat, whose time constant and trip heat follow from test points of IEC 60898-1; the
heat of a train of pulses is a sum of steps.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from scipy.optimize import brentq

from tests.reference.written.rows import Written

NISE = "N. S. Nise, Control Systems Engineering (first-order system)"
CYCLE = 600.0  # [s]
DUTIES = (0.2, 0.35, 0.6, 0.8, 0.9)
HOUR, HOLDS, TRIPS, HOT = 3600.0, 1.13, 1.45, 2.55  # [s]; times In
BEYOND = 1e-4  # of a current
COUNTED = 40  # cycles in which a trip is looked for


def lag(trip_heat: float, seconds: float) -> float:
    """Time constant with which 2.55 In takes a cold breaker to its trip heat in this time [s]."""
    return -seconds / math.log(1.0 - trip_heat / HOT**2)


def breakers() -> dict[str, tuple[float, float]]:
    """Trip heat and time constant [s] of a B16: the two edges of the standard, and one between them."""
    fastest = HOLDS**2
    slow = lag(TRIPS**2, 60.0)
    left = math.exp(-HOUR / slow)  # slowest: 1.45 In, put on after an hour of 1.13 In, trips at the end of the hour
    slowest = TRIPS**2 * (1.0 - left) + HOLDS**2 * (1.0 - left) * left
    middle = math.sqrt(fastest * slowest)
    return {
        "fastest": (fastest, lag(fastest, 1.0)),
        "middle": (middle, lag(middle, math.sqrt(60.0))),
        "slowest": (slowest, slow),
    }


def heat(time: float, *, multiple: float, duty: float, tau: float) -> float:
    """Of a train of pulses from a cold start, every step summed by itself."""
    total = 0.0
    for number in range(int(time / CYCLE) + 1):
        for at, sign in ((number * CYCLE, 1.0), ((number + duty) * CYCLE, -1.0)):
            if at < time:
                total += sign * multiple**2 * (1.0 - math.exp(-(time - at) / tau))
    return total


def settled_peak(duty: float, tau: float) -> float:
    """Heat at the end of a pulse once all are alike, over that of the current without pauses."""
    return sum(
        math.exp(-(number * CYCLE) / tau) - math.exp(-((number + duty) * CYCLE) / tau) for number in range(COUNTED)
    )


def trip(multiple: float, *, duty: float, tau: float, trip_heat: float) -> float:
    """When a train of pulses first reaches the trip heat [s]."""
    for number in range(COUNTED):
        begin, end = number * CYCLE, (number + duty) * CYCLE

        def short_of(time: float) -> float:
            return heat(time, multiple=multiple, duty=duty, tau=tau) - trip_heat

        if short_of(end) >= 0.0:
            return brentq(short_of, begin, end, xtol=1e-10)
    raise ValueError("it never trips")


def rows() -> Iterator[Written]:
    """All of them."""
    for edge, (trip_heat, tau) in breakers().items():
        for duty in DUTIES:
            yield from _around_the_longest(edge, trip_heat, tau, duty)
    trip_heat, tau = breakers()["slowest"]
    for duty in (0.8, 0.9):  # a current between those that trip at once and after many cycles
        for share in (0.3, 0.8):
            first, last = 1.0 - math.exp(-duty * CYCLE / tau), settled_peak(duty, tau)
            multiple = round(math.sqrt(trip_heat / (first + share * (last - first))), 5)
            yield _trip("slowest", multiple, duty, trip(multiple, duty=duty, tau=tau, trip_heat=trip_heat))
    for edge, (trip_heat, tau) in breakers().items():
        for multiple in (1.8, 2.0, 3.0):
            yield _trip(edge, multiple, 0.35, trip(multiple, duty=0.35, tau=tau, trip_heat=trip_heat))
            carried = 12.0 / 16.0
            warm = carried**2 * (1.0 - math.exp(-HOUR / tau))
            time = tau * math.log((multiple**2 - warm) / (multiple**2 - trip_heat))
            place = f"B16, after an hour of 12 A: multiple={multiple:g} In, {edge} breaker"
            told = "heat left by the hour, and on from there"
            yield Written("cycles", place, "time to the trip", time, "s", NISE, told)


def _around_the_longest(edge: str, trip_heat: float, tau: float, duty: float) -> Iterator[Written]:
    """Just below and just above the largest current that never trips."""
    longest = math.sqrt(trip_heat / settled_peak(duty, tau))
    for share, trips in ((1.0 - BEYOND, 0.0), (1.0 + BEYOND, 1.0)):
        place = f"B16, duty={duty:g} of 600 s, multiple={share * longest:.9g} In, {edge} breaker"
        told = "1e-4 beside the current whose settled peak is the trip heat"
        yield Written("cycles", place, "whether it ever trips", trips, "1", NISE, told)


def _trip(edge: str, multiple: float, duty: float, time: float) -> Written:
    place = f"B16, duty={duty:g} of 600 s, multiple={multiple:g} In, {edge} breaker"
    return Written("cycles", place, "time to the trip", time, "s", NISE, "steps summed until they reach the trip heat")
