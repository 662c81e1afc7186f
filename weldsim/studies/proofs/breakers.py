"""A breaker that carries the current of a resistor: when its slow part trips, at the points of the standard."""

import re
from typing import cast

from weldsim.parts.breaker_curves import Edge, heat_after, trip_time
from weldsim.studies.proofs.bench import Row, settled, within_bands

SUBSYSTEM = "breaker, by heat"
CARRIED = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[breaker]
curve = "{curve}"
current = "{current} A"
[load]
kind = "resistor"
resistance = "{resistance!r} ohm"
"""


def points() -> list[Row]:
    """Conventional currents and 2.55 times the rating, for the fastest, a middle and the slowest breaker."""
    return within_bands(SUBSYSTEM, "breaker_points", _measure)


def edges() -> list[Row]:
    """Lower edges of the magnetic bands, whose times do not enter the model."""
    return within_bands(SUBSYSTEM, "breaker_edge", _measure)


def _measure(condition: str) -> dict[str, float]:
    found = re.fullmatch(r"(\w)(\d+), ([\d.]+) In( after 1.13 In)?, (\w+) breaker", condition)
    assert found is not None
    curve, rating, wanted, warm, word = found.groups()
    edge = cast("Edge", word)
    conventional = 3600.0 if float(rating) <= 63.0 else 7200.0
    resistance = 230.0 / (float(wanted) * float(rating))
    recording = settled(CARRIED.format(curve=curve, current=rating, resistance=resistance))
    breaker = recording.supply.scenario.breaker
    assert breaker is not None
    # without what rounding adds: at just 1.13 In the fastest breaker stands on its edge, and a last digit tips it over
    multiple = round(recording.integrals.rms("primary.current") / breaker.current, 12)
    before = 0.0
    if warm:
        before = heat_after(breaker, 0.0, multiple=1.13, duration=conventional, edge=edge)
    time = trip_time(breaker, multiple, edge=edge, heat=before)
    return {
        "time to the trip by heat": time,
        "time held, counted up to the conventional time": min(time, conventional),
    }
