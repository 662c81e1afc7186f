"""How a run lies in an HDF5 file, format 1.

    /              attributes: Conventions, title, source, history, weldsim_run_format, scenario, scenario_source,
                   window
    /time          float64, a dimension scale; units "s"
    /<signal>      float32, one dataset per signal along time; attributes units, long_name
    /events        event_time (float64, a dimension scale); element, from, to: numbers into their attribute ``names``
    /ledger        one group per part with its energies by role, or one number; float64, units "J"
    /table         one float64 number per exact figure, with its units
    /provenance    attributes: command, created ...; group versions

Columns are packed with gzip 1 and byte shuffling in chunks of 16384; every HDF5 reader can undo that.  No more than
eight attributes on one group: older HDF5 libraries refuse a ninth where the order of creation is kept.
"""

import itertools
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from weldsim.errors import RunFileError
from weldsim.runs.run import Event, Ledger, Run, Table

if TYPE_CHECKING:
    import h5py

FORMAT = 1
CHUNK = 16384
FORMAT_KEY = "weldsim_run_format"
GROUPS = ("events", "ledger", "table", "provenance")
COLUMNS = ("element", "from", "to")  # of the switch log, besides event_time
_LONGEST_NAME = 200
_DEEPEST = 8  # groups within groups of provenance
_MOST = 1000  # groups of provenance: a group may be called by many names, and so be read again and again
_PACKED = 1100  # deflate gains 1032 times at most
_SWELLS = 100  # times: runs of minutes that repeat every period unpack to 45 times their file, their switchings alike
_TAKEN = 500e6  # [B] of samples that are unpacked in any case, as of a dead supply, whose zeros pack like a trap
_TAKEN_EVENTS = 20e6  # [B] of the switch log: a million
_EVENT = 20  # [B] of one switching: its time and three numbers
_LONGEST_CHUNK = 2**20  # rows: one value of a chunk unpacks all of it


# --- writing -------------------------------------------------------------------------------------------------------


def write_heading(file: "h5py.File", run: Run, *, rows: int) -> None:
    """Everything but rows, events and exact figures: attributes, empty columns of the length asked for, provenance."""
    versions = run.provenance.get("versions", {})
    made_by = f"weldsim {versions.get('weldsim', '')}".strip() if isinstance(versions, dict) else "weldsim"
    file.attrs["Conventions"] = "CF-1.8"
    file.attrs["title"] = _storable(run.scenario.title or "a weldsim run")
    file.attrs["source"] = _storable(made_by)
    file.attrs["history"] = _storable(f"{run.provenance.get('created', '')}: {run.provenance.get('command', '')}")
    file.attrs[FORMAT_KEY] = FORMAT
    file.attrs["scenario"] = _storable(run.scenario.text)
    file.attrs["scenario_source"] = _storable(run.scenario.source or "")
    time = _column(file, "time", rows, np.float64)
    time.attrs["units"] = "s"
    time.attrs["long_name"] = "time"
    time.make_scale("time")
    for name in run.signals:
        if name == "time" or name in GROUPS:
            raise RunFileError(
                f"a signal may not be called '{name}'",
                place="run",
                advice="this name has a meaning of its own in run files",
            )
        column = _column(file, name, rows, np.float32)
        column.attrs["units"] = _storable(run.units[name])
        column.attrs["long_name"] = _storable(run.label(name))
        column.dims[0].attach_scale(time)
    _write_texts(file.create_group("provenance", track_order=True), run.provenance)


def _column(group: "h5py.Group", name: str, rows: int, dtype: Any) -> "h5py.Dataset":
    """An empty, packed column; without packing where it has no rows."""
    packing = {"chunks": (min(CHUNK, rows),), "compression": "gzip", "compression_opts": 1, "shuffle": True}
    return group.create_dataset(_checked(name), shape=(rows,), dtype=dtype, **(packing if rows else {}))


def write_rows(file: "h5py.File", start: int, run: Run) -> None:
    """The samples of a run, from row ``start`` on."""
    if not len(run.time):
        return
    rows = slice(start, start + len(run.time))
    file["time"][rows] = run.time
    with np.errstate(over="ignore", under="ignore"):  # what float32 cannot hold becomes infinite or zero
        for name, values in run.signals.items():
            file[name][rows] = values.astype(np.float32)


def copy_rows(source: "h5py.File", target: "h5py.File", start: int) -> None:
    """All samples of one file into another, from row ``start`` on: chunks as they are where both are cut alike."""
    for name in [name for name in source if name not in GROUPS]:
        column, into = _dataset(source, name), target[name]
        rows = len(column)
        if rows and column.chunks == into.chunks and start % into.chunks[0] == 0:
            for row in range(0, rows, into.chunks[0]):
                skipped, packed = column.id.read_direct_chunk((row,))
                into.id.write_direct_chunk((start + row,), packed, skipped)
        else:
            into[start : start + rows] = column[()]


class EventLog:
    """The switch log of a file under way: columns of known length, filled in pieces, names numbered as they come."""

    def __init__(self, file: "h5py.File", *, length: int) -> None:
        self._group = file.create_group("events", track_order=True)
        self._numbers: dict[str, dict[str, int]] = {column: {} for column in COLUMNS}
        self._filled = 0
        time = _column(self._group, "event_time", length, np.float64)
        time.attrs["units"] = "s"
        time.attrs["long_name"] = "time of the switching"
        time.make_scale("event_time")
        for name, words in zip(COLUMNS, ("element", "segment left", "segment entered"), strict=True):
            column = _column(self._group, name, length, np.int32)
            column.attrs["long_name"] = words
            column.dims[0].attach_scale(time)

    def extend(self, events: Sequence[Event]) -> None:
        """Write some more events."""
        rows = slice(self._filled, self._filled + len(events))
        self._filled = rows.stop
        if not events:
            return
        self._group["event_time"][rows] = np.array([event[0] for event in events], np.float64)
        for place, column in enumerate(COLUMNS, start=1):
            numbers = self._numbers[column]
            self._group[column][rows] = [numbers.setdefault(str(event[place]), len(numbers)) for event in events]

    def close(self) -> None:
        """Write the names that the numbers stand for."""
        import h5py

        for column, numbers in self._numbers.items():
            names = np.array([_storable(name) for name in numbers], dtype=object)
            self._group[column].attrs.create("names", names, dtype=h5py.string_dtype())


def write_closing(file: "h5py.File", run: Run) -> None:
    """The exact figures: window, ledger and table."""
    file.attrs["window"] = np.array(run.window, np.float64)
    ledger = file.create_group("ledger", track_order=True)
    for part, energies in run.ledger.items():
        if isinstance(energies, dict):
            group = ledger.create_group(_checked(part), track_order=True)
            for role, energy in energies.items():
                _write_number(group, role, energy, "J")
        else:
            _write_number(ledger, part, energies, "J")
    table = file.create_group("table", track_order=True)
    for name, (value, unit) in run.table.items():
        _write_number(table, name, value, unit)


def _write_number(group: "h5py.Group", name: str, value: float, unit: str) -> None:
    """One float64 with its unit."""
    group.create_dataset(_checked(name), data=np.float64(value)).attrs["units"] = _storable(unit)


def _write_texts(group: "h5py.Group", texts: dict[str, Any], depth: int = 0) -> None:
    """Texts as attributes, dictionaries of texts as groups of attributes."""
    if depth > _DEEPEST:
        raise RunFileError(f"its provenance is nested more than {_DEEPEST} deep", place="run", advice="flatten it")
    for key, value in texts.items():
        if isinstance(value, dict):
            _write_texts(group.create_group(_checked(key), track_order=True), value, depth + 1)
        else:
            group.attrs[_checked(key)] = _storable(str(value))


def _checked(name: str) -> str:
    """A name that HDF5 and every reader take as it is."""
    printable = isinstance(name, str) and name.isprintable() and name.strip() == name
    if not printable or not name or "/" in name or name in (".", "..") or len(name) > _LONGEST_NAME:
        raise RunFileError(
            f"{str(name)[:60]!r} cannot be a name in a run file",
            place="run",
            advice=f"use printable letters without '/', at most {_LONGEST_NAME}",
        )
    return name


def _storable(text: str) -> str:
    """Any text, with what HDF5 cannot hold (nulls, stray halves of letters) written out."""
    return str(text).replace("\0", "\\x00").encode("utf-8", "backslashreplace").decode("utf-8")


# --- reading -------------------------------------------------------------------------------------------------------


def read_heading(file: "h5py.File") -> dict[str, Any]:
    """What the file says of itself: scenario text, signals with units and labels, provenance, window."""
    names = [name for name in file if name != "time" and name not in GROUPS]
    columns = {name: _dataset(file, name) for name in names}
    window = np.asarray(file.attrs.get("window", (0.0, 0.0)), np.float64)
    if not (np.all(np.isfinite(window[:2])) and window[0] <= window[1]):
        raise ValueError("its window is no span of time")
    return {
        "title": _text(file.attrs["title"]),
        "text": _text(file.attrs["scenario"]),
        "source": _text(file.attrs["scenario_source"]),
        "units": {name: _text(column.attrs["units"]) for name, column in columns.items()},
        "labels": {name: _text(column.attrs["long_name"]) for name, column in columns.items()},
        "provenance": _read_texts(_group(file, "provenance")),
        "window": (float(window[0]), float(window[1])),
    }


def read_rows(file: "h5py.File", names: Iterable[str], rows: slice) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Times and the samples of some signals."""
    moments, columns = _dataset(file, "time"), {name: _dataset(file, name) for name in names}
    if sum(column.nbytes for column in columns.values()) > _PACKED * file.id.get_filesize():
        raise ValueError("its columns hold more than the file can")  # one column under many names
    if any(column.shape != moments.shape for column in columns.values()):
        raise ValueError("its columns differ in length")
    count = len(range(*rows.indices(len(moments))))
    unpacked = count * (8 + sum(column.dtype.itemsize for column in columns.values()))
    _refuse_swollen(unpacked, file.id.get_filesize(), _TAKEN, "samples")
    time = np.asarray(moments[rows], np.float64)
    if np.any(time[1:] < time[:-1]) or not np.all(np.isfinite(time)):
        raise ValueError("its times do not run forward")
    return time, {name: np.asarray(column[rows]) for name, column in columns.items()}


def _refuse_swollen(unpacked: float, packed: int, taken: float, what: str) -> None:
    """An error where columns would unpack to far more than any run does, before memory is asked for."""
    if unpacked > max(taken, _SWELLS * packed):
        raise RunFileError(
            f"its {what} would unpack from {packed / 1e6:.3g} to {unpacked / 1e6:.3g} MB; beyond {taken / 1e6:g} MB at "
            f"most {_SWELLS} times what is packed is taken in, twice what runs come to",
            advice="open a part of it from Python if you trust it: open_run(..., names=[...], between=(0.0, 1.0))",
        )


def rows_between(file: "h5py.File", between: tuple[float, float] | None) -> slice:
    """The rows whose times lie in a span, both ends included, found without reading all times."""
    time = _dataset(file, "time")
    if between is None:
        return slice(0, len(time))
    return slice(_first_row(time, between[0], after=False), _first_row(time, between[1], after=True))


def _first_row(time: "h5py.Dataset", moment: float, *, after: bool) -> int:
    """The first row at or (``after``) behind a moment, by halving."""
    low, high = 0, len(time)
    while low < high:
        middle = (low + high) // 2
        if time[middle] < moment or (after and time[middle] == moment):
            low = middle + 1
        else:
            high = middle
    return low


def read_events(file: "h5py.File", between: tuple[float, float] | None = None) -> list[Event]:
    """The switch log, as a whole or of a span of time."""
    return list(_events(_group(file, "events"), between))


def _events(group: "h5py.Group", between: tuple[float, float] | None) -> Iterator[Event]:
    """The events of a file one by one."""
    moments, *others = (_dataset(group, name) for name in ("event_time", *COLUMNS))
    packed = sum(column.id.get_storage_size() for column in (moments, *others))
    _refuse_swollen(_EVENT * max(map(len, (moments, *others))), packed, _TAKEN_EVENTS, "switchings")
    times = moments[()]
    first, last = 0, len(times)
    if between is not None:
        first = int(np.searchsorted(times, between[0], side="left"))
        last = int(np.searchsorted(times, between[1], side="right"))
    rows = slice(first, last)
    columns = []
    for column in others:
        words = [_text(word) for word in column.attrs["names"]]
        columns.append([words[number] for number in column[rows]])
    yield from zip(times[rows].tolist(), *columns, strict=True)


def count_events(file: "h5py.File") -> int:
    """How many switchings the file holds."""
    return len(_dataset(_group(file, "events"), "event_time"))


def read_ledger(file: "h5py.File") -> Ledger:
    """The energy ledger."""
    group = _group(file, "ledger")
    ledger: Ledger = {}
    for part in group:
        if _is_group(group, part):
            roles = _group(group, part)
            ledger[part] = {role: float(_dataset(roles, role)[()]) for role in roles}
        else:
            ledger[part] = float(_dataset(group, part)[()])
    return ledger


def read_table(file: "h5py.File") -> Table:
    """The table of exact figures."""
    group = _group(file, "table")
    return {name: (float(_dataset(group, name)[()]), _text(group[name].attrs["units"])) for name in group}


def _read_texts(group: "h5py.Group") -> dict[str, Any]:
    """Attributes and groups of attributes as nested dictionaries of text."""
    count = itertools.count()

    def read(group: "h5py.Group", depth: int) -> dict[str, Any]:
        if depth > _DEEPEST or next(count) > _MOST:  # out of stack, h5py would keep its lock for ever
            raise ValueError("its provenance is nested without end")
        texts: dict[str, Any] = {key: _text(value) for key, value in group.attrs.items()}
        return texts | {name: read(_group(group, name), depth + 1) for name in group}

    return read(group, 0)


def _text(value: Any) -> str:
    """An attribute that must be text."""
    if isinstance(value, bytes):
        return value.decode("utf-8")
    if not isinstance(value, str):
        raise TypeError(f"text was expected, not {type(value).__name__}")
    return value


def _is_group(group: "h5py.Group", name: str) -> bool:
    """Whether a name stands for a group."""
    import h5py

    return group.get(name, getclass=True) is h5py.Group


def _group(parent: "h5py.Group", name: str) -> "h5py.Group":
    """A group that lies in this very file."""
    import h5py

    if not isinstance(parent.get(name, getlink=True), h5py.HardLink) or not _is_group(parent, name):
        raise TypeError(f"'{name}' is not a plain group")
    return parent[name]


def _dataset(parent: "h5py.Group", name: str) -> "h5py.Dataset":
    """A dataset of plain numbers that lies in this very file, packed by nothing but gzip, and no larger than it can be.

    Links to other files, data outside the file, foreign packers (code that HDF5 would load) and columns that claim more
    rows than the bytes behind them can hold are refused.
    """
    import h5py

    if not isinstance(parent.get(name, getlink=True), h5py.HardLink):
        raise TypeError(f"'{name}' is not a plain dataset")
    dataset = parent[name]
    if not isinstance(dataset, h5py.Dataset) or dataset.dtype.kind not in "fi" or dataset.ndim > 1:
        raise TypeError(f"'{name}' is not a plain column of numbers")
    plan = dataset.id.get_create_plist()
    packers = {plan.get_filter(place)[0] for place in range(plan.get_nfilters())}
    known = {h5py.h5z.FILTER_DEFLATE, h5py.h5z.FILTER_SHUFFLE, h5py.h5z.FILTER_FLETCHER32}
    if packers - known or plan.get_external_count() or dataset.is_virtual:
        raise TypeError(f"'{name}' is packed or placed in a way that run files do not use")
    if dataset.nbytes > _PACKED * dataset.id.get_storage_size() + 8 * CHUNK:
        raise ValueError(f"'{name}' claims more rows than the file can hold")
    if dataset.chunks and dataset.chunks[0] > _LONGEST_CHUNK:
        raise ValueError(f"'{name}' is packed in pieces of {dataset.chunks[0]} rows, more than {_LONGEST_CHUNK}")
    return dataset
