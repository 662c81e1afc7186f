"""What a run is asked for from Python, held to the ranges of the command line's options."""

import contextlib
import math
import numbers

from weldsim.errors import QuestionError, UnitError
from weldsim.units import from_text

STARTS = ("rest", "steady")


def check_setting(dial: float | None, delay: float | None) -> None:
    """A dial is from 0 to 1, a delay from 0 to 180 degrees."""
    _check(dial, "dial", 0.0 <= _number(dial) <= 1.0, "a number from 0 to 1", "fraction")
    _check(delay, "delay", 0.0 <= _number(delay) <= 180.0, "a number of degrees from 0 to 180", "angle")


def check_lengths(
    *, duration: float | None = None, window: float | None = None, sample_interval: float | None = None
) -> None:
    """Times are above zero and end some day, and a window is part of its duration."""
    for name, value in (("duration", duration), ("window", window), ("sample_interval", sample_interval)):
        _check(value, name, 0.0 < _number(value) < math.inf, "a number of seconds above 0", "time")
    if duration and window and window > duration * (1.0 + 1e-9):
        raise QuestionError(
            f"the window of {window:g} s is longer than the whole duration of {duration:g} s",
            place="window",
            advice="ask for a longer duration, or for a window that is part of it",
        )


def check_start(start: str) -> None:
    """A run begins at rest or in the settled state."""
    _check(start, "start", start in STARTS, " or ".join(map(repr, STARTS)))


def _number(value: object) -> float:
    """The value as a float; not a number where it is none."""
    return float(value) if isinstance(value, numbers.Real) else math.nan


def _check(value: object, name: str, holds: bool, expected: str, kind: str = "") -> None:
    """Complain of a value that was given and does not hold; of a text that would do as an option, with its number."""
    if value is None or holds:
        return
    advice = ""
    if kind and isinstance(value, str):
        with contextlib.suppress(UnitError):
            advice = f"write {from_text(value, kind):.6g}"
    raise QuestionError(f"{repr(value)[:80]} is not {expected}", place=name, advice=advice)
