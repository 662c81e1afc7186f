"""A trace that was measured: two columns of text, time [s] and value, as oscilloscopes write them.

Columns are parted by a comma, a semicolon or a tab; beside the last two a comma may stand for the decimal point.
What comes before the first line of two numbers is a header, whose first cell may name ms, us or ns as the unit of time;
empty lines and those that begin with #, % or // are
skipped everywhere.  Nothing is executed, and no more is held in memory than the numbers themselves.
"""

import io
import math
import os
import re
import stat
from array import array
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from weldsim.errors import RunFileError
from weldsim.frozen import dataclass
from weldsim.scenario.bundled import PLACES
from weldsim.units import quoted

LARGEST_FILE = 64_000_000  # bytes
MOST_SAMPLES = 1_000_000
LONGEST_LINE = 1000  # bytes; two numbers take some thirty
LONGEST_HEADER = 1000  # lines
LARGEST_VALUE = 1e12  # in the units of an oscilloscope: beyond it no square can be trusted
COMMENTS = ("#", "%", "//")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_NO_NUMBER = re.compile(r"[+-]?(nan|inf|infinity|1\.#\w+)", re.IGNORECASE | re.ASCII)
_TIME_UNIT = re.compile(r"(?:.*[\(\[ /_])?(m|u|n|\xb5|\xc2\xb5|\xce\xbc)s\s*[\)\]]?")  # in a header's first cell
_TIME_UNITS = {"m": 1e-3, "n": 1e-9}  # the others are microseconds, in whatever code
_COLUMNS = (
    "two columns are read: time in s and one value, parted by a comma, a semicolon or a tab; where there are more, "
    "--column 3 names that of the values"
)


@dataclass(frozen=True, eq=False)
class Capture:
    """A measured trace: times [s], rising, and values in the unit of its column."""

    time: np.ndarray
    values: np.ndarray
    source: str = "capture"


def captured(time: Any, values: Any, source: str = "capture") -> Capture:
    """A trace from two arrays of numbers.

    Raises
    ------
    RunFileError : arrays of other shapes, what is not finite, times that do not rise; tells where and the value
    """
    try:
        columns = [np.array(one, dtype=np.float64) for one in (time, values)]  # copies: the caller's stay as they are
    except (TypeError, ValueError):
        raise RunFileError("not numbers", place=source, advice="give two arrays: times in s and values") from None
    if columns[0].ndim != 1 or columns[0].shape != columns[1].shape:
        shapes = " and ".join(str(one.shape) for one in columns)
        raise RunFileError(f"shapes {shapes}", place=source, advice="give one value for each time")
    for name, column in zip(("time", "value"), columns, strict=True):
        bad = np.flatnonzero(~(np.abs(column) <= LARGEST_VALUE))
        if len(bad):
            fact = f"{name} number {bad[0] + 1} is {column[bad[0]]:g}"
            raise RunFileError(fact, place=source, advice=f"finite numbers up to {LARGEST_VALUE:g} are read")
    back = np.flatnonzero(np.diff(columns[0]) <= 0.0)
    if len(back):
        earlier, later = columns[0][back[0] : back[0] + 2]
        fact = f"time number {back[0] + 2} is {later:.9g} s, after {earlier:.9g} s"
        raise RunFileError(fact, place=source, advice="times must rise")
    return Capture(columns[0], columns[1], source)


def read_capture(path: str | os.PathLike[str], *, column: int | None = None) -> Capture:
    """The trace in a file; the name of a bundled one ("toroid_shed_capture.csv") will do as well.

    ``column`` is that of the values, where there are more than two; the first is the time.

    Raises
    ------
    RunFileError : it cannot be read as two columns; names the line, what stands there and what is allowed
    """
    found = _found(Path(path))
    try:
        about = found.stat()
        if not stat.S_ISREG(about.st_mode) and not stat.S_ISDIR(about.st_mode):  # it might never end
            raise _refused(found, "this is not an ordinary file", "give the name of a file with two columns")
        if about.st_size > LARGEST_FILE:
            fact = f"{about.st_size} bytes, more than the {LARGEST_FILE} that are read"
            raise _refused(found, fact, "keep a few mains cycles of it")
        with found.open("rb") as stream:
            time, values = _columns(_lines(stream, found), found, column)
    except OSError as trouble:
        raise _refused(found, f"cannot be read: {trouble.strerror or trouble}") from None
    return Capture(np.frombuffer(time), np.frombuffer(values), found.name)


def _found(path: Path) -> Path:
    """A file that exists wins; otherwise the bundled one of that name."""
    if path.exists() or path.parent.name not in ("", "scenarios"):
        return path
    return next((place / path.name for place in PLACES if (place / path.name).is_file()), path)


def _refused(path: Path, fact: str, advice: str = "") -> RunFileError:
    return RunFileError(fact, place=str(path), advice=advice)


def _lines(stream: io.BufferedReader, path: Path) -> Iterator[tuple[int, str]]:
    """Numbered lines with something in them, without comments; what is no text is refused where it stands."""
    number, total = 0, 0
    while raw := stream.readline(LONGEST_LINE + 1):
        number, total = number + 1, total + len(raw)
        if total > LARGEST_FILE:  # it grows while it is read
            raise _refused(path, f"more than the {LARGEST_FILE} bytes that are read", "keep a few mains cycles of it")
        if number == 1:
            if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
                raise _refused(path, "line 1 begins like UTF-16 text", "save the file as UTF-8 or plain ASCII")
            raw = raw.removeprefix(b"\xef\xbb\xbf")
        if b"\0" in raw:
            raise _refused(path, f"line {number} holds zero bytes: this is no text", "export the trace as text (CSV)")
        if len(raw) > LONGEST_LINE:
            fact = f"line {number} is longer than {LONGEST_LINE} bytes: {quoted(raw[:40].decode('latin-1'))}"
            raise _refused(path, fact, _COLUMNS)
        text = raw.decode("latin-1").strip()  # beyond ASCII only headers may go, in whatever code
        if text and not text.startswith(COMMENTS):
            yield number, text


def _columns(lines: Iterator[tuple[int, str]], path: Path, column: int | None) -> tuple[array, array]:
    """Times and values: the header passed over, then line by line."""
    time, values = array("d"), array("d")
    separator, first, unit = "", "", 1.0
    for number, text in lines:
        if not separator:
            first = first or f"line {number} is {quoted(text)}"
            separator = _separator(text, column)
            if not separator:
                if number > LONGEST_HEADER:
                    fact = f"no line of two numbers among the first {LONGEST_HEADER}; {first}"
                    raise _refused(path, fact, _COLUMNS)
                unit = _time_unit(text) or unit
                continue
        cells = _cells(text, separator)
        if len(cells) < (column or 2) or len(cells) > 2 and column is None:
            advice = _COLUMNS if len(cells) < 2 or column is None else f"column {column} was asked for"
            raise _refused(path, f"line {number} has {_counted(len(cells))}: {quoted(text)}", advice)
        moment, value = (_number(cell, number, path) for cell in _both(cells, column))
        moment *= unit
        if time and moment <= time[-1]:
            fact = f"line {number}: time {moment:.9g} s after {time[-1]:.9g} s"
            raise _refused(path, fact, "times must rise; export them with more digits where they repeat")
        time.append(moment)
        values.append(value)
        if len(time) > MOST_SAMPLES:
            fact = f"more than the {MOST_SAMPLES} samples that are read"
            raise _refused(path, fact, "keep a few mains cycles of it")
    if not time:
        raise _refused(path, f"no line of two numbers{'; ' + first if first else ': it is empty'}", _COLUMNS)
    return time, values


def _counted(columns: int) -> str:
    return "one column" if columns == 1 else f"{columns} columns"


def _both(cells: list[str], column: int | None) -> list[str]:
    """Time and value; where no column was asked for all that there are."""
    return cells if column is None else [cells[0], *cells[column - 1 : column]]


def _separator(text: str, column: int | None) -> str:
    """What parts the columns, if this is the first line of numbers; "" for a header.

    Two cells that look like numbers make it, also those that are then refused (not finite).
    """
    for separator in (";", "\t", ","):
        if separator in text:
            cells = _both(_cells(text, separator), column)
            plain = [cell.replace(",", ".") if separator != "," else cell for cell in cells]
            looks = [bool(_NUMBER.fullmatch(cell) or _NO_NUMBER.fullmatch(cell)) for cell in plain]
            return separator if len(looks) >= 2 and all(looks) else ""
    return ""


def _time_unit(text: str) -> float | None:
    """Seconds in the unit of time that a line of the header names; None where it names none but seconds."""
    found = _TIME_UNIT.fullmatch(_cells(text, next((one for one in (";", "\t", ",") if one in text), ","))[0])
    return None if found is None else _TIME_UNITS.get(found[1].lower(), 1e-6)


def _cells(text: str, separator: str) -> list[str]:
    """The cells of a line, without quotes and blanks; a separator at the end opens no further column."""
    cells = [cell.strip().strip("\"'").strip() for cell in text.split(separator)]
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    return cells


def _number(cell: str, number: int, path: Path) -> float:
    """One cell as a number that can be used."""
    plain = cell.replace(",", ".")  # where the comma parts columns, no cell has one
    value = float(plain) if _NUMBER.fullmatch(plain) else math.nan
    if abs(value) <= LARGEST_VALUE:
        return value
    fact = f"line {number}: {quoted(cell) if cell else 'an empty cell'} is no finite number"
    raise _refused(path, fact, f"allowed are numbers up to {LARGEST_VALUE:g}, such as -0.0125 or 1.25e-2")
