"""The bench: reference rows, scenarios that are textbook circuits, and what is read off them, set side by side.

A group of proofs is a function that returns rows; it hands ``side_by_side`` the reference rows and a function that
runs one condition and reads its quantities off the run.  Nothing here evaluates a formula of a source.
"""

import csv
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TypedDict

from weldsim.frozen import dataclass
from weldsim.runs.perform import Recording, record
from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read_text

PLACE = Path(__file__).resolve().parents[2] / "data" / "reference"
# What an ideal-element run with located switching instants should keep, settled (see the folder's README).
MEAN = 1e-4  # means, rms, powers: of the value
ANGLE = 0.02  # [deg]
HARMONIC = 1e-4  # of the fundamental


@dataclass(frozen=True)
class Reference:
    """One number from elsewhere; ``source`` is the document, ``status`` published, computed, practice or memory."""

    check: str
    condition: str
    quantity: str
    value: float
    unit: str
    source: str
    derivation: str
    status: str


@dataclass(frozen=True)
class Reading:
    """A number read off a run; tolerance and deviation are counted in ``scale``, the reference value itself if None."""

    value: float
    tolerance: float = MEAN
    scale: float | None = None


class Row(TypedDict):
    """One comparison.

    ``tolerance`` and ``deviation`` in the same measure: a share of the value unless it is an angle.
    """

    subsystem: str
    quantity: str
    condition: str
    source: str
    status: str
    ours: float
    theirs: float
    tolerance: float
    deviation: float


@cache
def _table(name: str) -> tuple[Reference, ...]:
    with (PLACE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(_reference(row) for row in csv.DictReader(file))


def _reference(row: dict[str, str]) -> Reference:
    words = {key: row[key] for key in ("check", "condition", "quantity", "unit", "source", "derivation", "status")}
    return Reference(value=float(row["value"]), **words)


def references(name: str, check: str) -> list[Reference]:
    """Rows of one check in ``weldsim/data/reference/<name>.csv``."""
    return [row for row in _table(name) if row.check == check]


def numbers_in(condition: str) -> dict[str, float]:
    """ "phi=60 deg, alpha=90 deg" -> {"phi": 60.0, "alpha": 90.0}."""
    return {name: float(value) for name, value in re.findall(r"([\w/]+)=([-+\d.e]+)", condition)}


def angle(value: float, tolerance: float = ANGLE) -> Reading:
    """A reading in degrees, whose tolerance and deviation are in degrees too."""
    return Reading(value, tolerance, 1.0)


def side_by_side(
    subsystem: str, rows: Iterable[Reference], measure: Callable[[str], Mapping[str, Reading]]
) -> list[Row]:
    """Compare reference rows with readings; every condition is run once, a quantity nobody reads is a KeyError."""
    found: list[Row] = []
    readings: dict[str, Mapping[str, Reading]] = {}
    for row in rows:
        if row.condition not in readings:
            readings[row.condition] = measure(row.condition)
        reading = readings[row.condition][row.quantity]
        scale = abs(row.value) if reading.scale is None else reading.scale
        found.append(
            Row(
                subsystem=subsystem,
                quantity=row.quantity,
                condition=row.condition,
                source=row.source,
                status=row.status,
                ours=reading.value,
                theirs=row.value,
                tolerance=reading.tolerance,
                deviation=abs(reading.value - row.value) / scale,
            )
        )
    return found


def settled(text: str, *, delay: float | None = None, periods: int = 1) -> Recording:
    """The settled state of a scenario text over whole mains periods; read out by its window and its trace."""
    scenario = read_text(text, source="proof")
    return _recorded(scenario, delay=delay, start="steady", duration=periods / scenario.mains.frequency)


def from_rest(text: str, duration: float, *, delay: float | None = None, window: float | None = None) -> Recording:
    """A scenario text run from its own start for a time [s]; the window is its last part, all of it if None."""
    scenario = read_text(text, source="proof")
    return _recorded(scenario, delay=delay, start="rest", duration=duration, window=window)


def _recorded(
    scenario: Scenario, *, delay: float | None, start: str, duration: float, window: float | None = None
) -> Recording:
    """A run without waveforms and a table of all signals: a proof reads what it needs off trace and integrals."""
    return record(
        scenario,
        delay=delay,
        start=start,
        duration=duration,
        window=duration if window is None else window,
        signals=[],
        figures=[],
        sample_interval=duration,
    )


def amplitudes(recording: Recording, signal: str, orders: Sequence[int]) -> list[complex]:
    """Complex peak values of harmonics over the window; a sine in phase with the mains has -1j times its peak."""
    begin, end = recording.window
    return [complex(value) for value in recording.trace.fourier([signal], orders, begin=begin, end=end)[0]]


def changes_of(recording: Recording, element: str) -> list[tuple[float, str, str]]:
    """(angle [deg] on the mains clock, segment left, segment entered) of every change of an element."""
    degrees = 360.0 / recording.supply.period
    return [
        (instant * degrees, left, entered)
        for instant, name, left, entered in recording.trace.changes()
        if name == element
    ]


def threshold_of(holds: Callable[[float], bool], low: float, high: float, *, width: float) -> tuple[float, float]:
    """Bracket of where ``holds`` turns from false (at ``low``) to true (at ``high``), by halving down to ``width``."""
    if holds(low) or not holds(high):
        raise ValueError(f"no single change between {low:g} and {high:g}")
    while high - low > width:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return low, high


@dataclass(frozen=True)
class Band:
    """A range from elsewhere in which a number must lie; like a Reference otherwise."""

    check: str
    condition: str
    quantity: str
    low: float
    high: float
    unit: str
    source: str
    derivation: str
    status: str


SLACK = 1e-5  # of a band, at its ends: what is built to touch them


@cache
def bands() -> tuple[Band, ...]:
    """All bands."""
    with (PLACE / "bands.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Band(**(row | {"low": float(row["low"]), "high": float(row["high"])}))  # type: ignore[arg-type]
            for row in csv.DictReader(file)
        )


def within_bands(subsystem: str, check: str, measure: Callable[[str], Mapping[str, float]]) -> list[Row]:
    """Compare bands of ``bands.csv`` with what is read off: theirs is the middle, the tolerance half the width."""
    found: list[Row] = []
    readings: dict[str, Mapping[str, float]] = {}
    for band in (row for row in bands() if row.check == check):
        if band.condition not in readings:
            readings[band.condition] = measure(band.condition)
        ours, middle = readings[band.condition][band.quantity], 0.5 * (band.low + band.high)
        unit = "" if band.unit == "1" else f" {band.unit}"
        found.append(
            Row(
                subsystem=subsystem,
                quantity=f"{band.quantity} (from {band.low:g} to {band.high:g}{unit})",
                condition=band.condition,
                source=band.source,
                status=band.status,
                ours=ours,
                theirs=middle,
                tolerance=0.5 * (band.high - band.low) / middle + SLACK,
                deviation=abs(ours - middle) / middle,
            )
        )
    return found
