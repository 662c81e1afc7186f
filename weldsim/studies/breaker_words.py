"""Times to a trip, and who trips, in words."""

import math
from collections.abc import Sequence

from weldsim.parts.breaker_curves import EDGES, Edge


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
