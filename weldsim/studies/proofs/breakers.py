"""A breaker that carries the current of a resistor: when its slow part trips, at the standard's points, in cycles."""

import math
import re
from typing import cast

from weldsim.parts.breaker_curves import Edge, heat_after, trip_time
from weldsim.scenario.reading import read_text
from weldsim.studies import breaker
from weldsim.studies.proofs.bench import (
    SLACK,
    Reading,
    Row,
    numbers_in,
    references,
    settled,
    side_by_side,
    within_bands,
)

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
    carrying = recording.supply.scenario.breaker
    assert carrying is not None
    # without what rounding adds: at just 1.13 In the fastest breaker stands on its edge, and a last digit tips it over
    multiple = round(recording.integrals.rms("primary.current") / carrying.current, 12)
    before = 0.0
    if warm:
        before = heat_after(carrying, 0.0, multiple=1.13, duration=conventional, edge=edge)
    time = trip_time(carrying, multiple, edge=edge, heat=before)
    return {
        "time to the trip by heat": time,
        "time held, counted up to the conventional time": min(time, conventional),
    }


def cycles() -> list[Row]:
    """Currents that come and go in ten minutes, and a breaker that an hour has warmed."""

    def measure(condition: str) -> dict[str, Reading]:
        said = numbers_in(condition)
        edge = condition.split(", ")[-1].split()[0]
        text = CARRIED.format(curve="B", current="16", resistance=230.0 / (said["multiple"] * 16.0))
        warm = "after an hour" in condition
        scenario = read_text(text, source="proof")
        numbers = breaker.ask(scenario, duty=said.get("duty", 1.0), carried=12.0 if warm else None).numbers
        time = numbers[f"breaker.{'trip' if warm else 'trip_in_cycles'}.{edge}"].value
        return {
            "time to the trip": Reading(time, SLACK),
            "whether it ever trips": Reading(float(math.isfinite(time)), 0.0, 1.0),
        }

    return side_by_side("breaker, welding and pausing", references("cycles", "cycles"), measure)
