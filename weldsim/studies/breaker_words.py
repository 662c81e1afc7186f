"""Breakers, times to a trip, and who trips, in words."""

import math
from collections.abc import Sequence

from weldsim.parts.breaker_curves import EDGES, Edge
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.studies.answer import amount
from weldsim.studies.operating import Setting


def called(breaker: Breaker) -> str:
    """A breaker or fuse as the trade calls it.

    >>> called(Breaker(curve="C", current=16.0)), called(Breaker(curve="gG", current=10.0))
    ('C16 breaker', 'gG 10 A fuse')
    """
    if instantaneous_band(breaker) is None:
        return f"{breaker.curve} {breaker.current:g} A fuse"
    if len(breaker.curve) > 1:
        return f"{breaker.curve} breaker of {breaker.current:g} A"
    return f"{breaker.curve}{breaker.current:g} breaker"


def told_points(breaker: Breaker) -> str:
    """The points of a standard that set the thermal part.

    >>> told_points(Breaker(curve="C", current=16.0))
    'the 1.13, 1.45 and 2.55 In points of IEC 60898-1'
    """
    if breaker.curve == "thermal-magnetic":
        return "1.05 and 1.30 In of IEC 60947-2 (from memory) and 2.55 In as IEC 60898-1 has it"
    return "the 1.13, 1.45 and 2.55 In points of IEC 60898-1"


def lasts(seconds: float) -> str:
    """A time to a trip in words."""
    if math.isnan(seconds):
        return "unknown"
    if math.isinf(seconds):
        return "never"
    return f"{seconds:.3g} s" if seconds < 120.0 else f"{seconds / 60.0:.3g} min"


def trips_after(seconds: float) -> str:
    """A trip as a verb.

    >>> trips_after(36.2), trips_after(math.inf)
    ('trips after 36.2 s', 'never trips')
    """
    return "never trips" if math.isinf(seconds) else f"trips after {lasts(seconds)}"


def who_trips(edges: Sequence[Edge]) -> str:
    """Which of the three breakers has too much for ever.

    >>> who_trips([]), who_trips(["fastest", "middle"]), who_trips(list(EDGES))
    ('none', 'fastest, middle', 'all three')
    """
    return "all three" if len(edges) == len(EDGES) else ", ".join(edges) or "none"


def where(setting: Setting) -> str:
    """A setting in words."""
    control = setting.recording.supply.scenario.phase_control
    if control is None:
        return f"The supply at {amount(setting.current, 'A')}"
    told = "" if setting.delay is None else f"{setting.delay:.0f} deg, "
    return f"Dial {100.0 * control.dial:.3g} % ({told}{amount(setting.current, 'A')} at the output)"
