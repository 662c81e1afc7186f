"""Runs in HDF5 files: saved whole or not at all, opened by any HDF5 reader (what is where: ``weldsim.runs.layout``).

A recording under way, or one that was cut short, is a folder of segment files; it opens like a file.  Only numbers and
text are ever read from a file, and nothing in it is executed.
"""

import contextlib
import io
import re
import stat
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from weldsim.errors import RunFileError, WeldsimError
from weldsim.runs import layout
from weldsim.runs.interrupts import held_back
from weldsim.runs.replacing import CarefulStream, PathText, no_name, shown, written_beside
from weldsim.runs.run import Run, ScenarioText, known_name
from weldsim.runs.seal import add_seal, broken_seal, is_sealed

if TYPE_CHECKING:
    import h5py

    from weldsim.scenario.document import Scenario

Span = tuple[float, float]
SEGMENT_NAME = re.compile(r"\d{4,9}\.h5")
_DAMAGE = (
    OSError,
    KeyError,
    ValueError,
    TypeError,
    AttributeError,
    IndexError,
    RuntimeError,
    MemoryError,
    OverflowError,
)  # what h5py raises on torn and foreign files
_ADVICE = "a run saved with --save or save_run is needed"


# --- saving --------------------------------------------------------------------------------------------------------


def save_run(run: Run, path: PathText) -> Path:
    """Save a run under a name, replacing an older file only when the new one is whole; gives the place it lies at.

    Waveforms are kept as float32; times, ledger and table as float64.

    Parameters
    ----------
    run : Run
        As ``perform`` or ``open_run`` gives it, or an answer's ``runs`` hold it.
    path : path
        Where it goes, as "run.h5".

    Returns
    -------
    pathlib.Path : the place it lies at.

    Raises
    ------
    RunFileError : a place that cannot be written, or a file there that is no saved run.
    """
    with new_file(path) as (stream, file):
        _write(file, with_text(run))
    return stream.target


def run_bytes(run: Run) -> bytes:
    """A run as the bytes of a run file: what a process that may be killed hands over, leaving nothing on a disk."""
    with held_back():
        import h5py

        stream = io.BytesIO()
        with h5py.File(stream, "w", track_order=True) as file:
            _write(file, with_text(run))
        add_seal(stream)
    return stream.getvalue()


def _write(file: "h5py.File", run: Run) -> None:
    """All of a run into an empty file."""
    layout.write_heading(file, run, rows=len(run.time))
    layout.write_rows(file, 0, run)
    log = layout.EventLog(file, length=len(run.events))
    log.extend(run.events)
    log.close()
    layout.write_closing(file, run)


def with_text(run: Run) -> Run:
    """The run with a scenario that knows its text; one that was made in Python gets it here."""
    if run.scenario.text or isinstance(run.scenario, ScenarioText):
        return run
    from weldsim.scenario.writing import write_text

    return replace(run, scenario=replace(run.scenario, text=write_text(run.scenario)))


@contextlib.contextmanager
def new_file(path: PathText) -> Iterator[tuple[CarefulStream, "h5py.File"]]:
    """An HDF5 file to fill, which appears under its name, sealed, when the block ends well."""
    with written_beside(path) as stream:
        import h5py  # interrupts are held back here: half of it loaded could not be loaded again

        with h5py.File(stream, "w", track_order=True) as file:
            yield stream, file
        add_seal(stream)


# --- opening -------------------------------------------------------------------------------------------------------


def open_run(path: PathText, *, names: Sequence[str] | None = None, between: Span | None = None) -> Run:
    """A saved run, or the recorded part of one that was cut short (a folder of segments, or one segment).

    Parameters
    ----------
    path : path
        A saved run, or a folder of segments.
    names : sequence of str or None
        Opens some of the signals only.
    between : (float, float) or None
        Opens the samples and switchings from t0 to t1 only [s]; table and ledger speak of the whole run in any case.

    Returns
    -------
    Run : ``run["output.current"]`` and ``run.time`` are arrays of equal length [SI].

    Raises
    ------
    RunFileError : no file, no run file, or a damaged one.
    """
    place = _existing(path)
    if not place.is_dir():
        with opened(place) as file:
            return _read(file, names, between)
    return _joined([open_run(segment, names=names, between=between) for segment in segments_in(place)])


def is_saved_run(place: Path) -> bool:
    """Whether a file is one of ours, whole or damaged: what may be replaced by a newer run."""
    if is_sealed(place):
        return True
    try:
        with opened(place) as file:
            return layout.FORMAT_KEY in file.attrs
    except RunFileError:
        return False


def _existing(path: PathText) -> Path:
    """The place of a file or folder that is there."""
    try:
        place = Path(path)
        mode = place.stat().st_mode
    except (TypeError, ValueError) as problem:
        raise no_name(path, problem) from problem
    except OSError as problem:
        missing = isinstance(problem, FileNotFoundError)
        fact = "there is no such file" if missing else f"cannot be read, {problem.strerror}"
        raise RunFileError(fact, place=shown(path), advice="check the name and the folder") from problem
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise RunFileError("this is not an ordinary file", place=shown(path), advice="give the name of a saved run")
    return place


@contextlib.contextmanager
def opened(place: Path) -> Iterator["h5py.File"]:
    """A run file open for reading; whatever is wrong with it becomes one sentence."""
    import h5py

    try:
        broken = broken_seal(place)
    except OSError as problem:
        raise RunFileError(
            f"cannot be read, {problem.strerror}", place=shown(place), advice="check its permissions"
        ) from problem
    if broken:
        raise RunFileError(f"this is not a whole run file ({broken})", place=shown(place), advice=_ADVICE)
    try:
        with h5py.File(place, "r", locking=False) as file:
            yield file
    except WeldsimError as problem:
        raise type(problem)(problem.fact, place=problem.place or shown(place), advice=problem.advice) from problem
    except _DAMAGE as problem:
        fact = " ".join(str(problem).split())[:120] or type(problem).__name__
        raise RunFileError(
            f"the file is damaged or was not written by weldsim ({fact})",
            place=shown(place),
            advice="save the run again, or open its segments if there are any",
        ) from problem


def _read(file: "h5py.File", names: Sequence[str] | None, between: Span | None) -> Run:
    """The run in an open file, by the reader of its format."""
    number = file.attrs.get(layout.FORMAT_KEY)
    if number is None:
        raise RunFileError("this HDF5 file is not a weldsim run", advice=_ADVICE)
    reader = READERS.get(int(number))
    if reader is None:
        newest = max(READERS)
        advice = "use a newer weldsim" if int(number) > newest else "use the weldsim that wrote it"
        raise RunFileError(f"the run has format {int(number)}; this version reads up to {newest}", advice=advice)
    return reader(file, names, between)


def _read_format_1(file: "h5py.File", names: Sequence[str] | None, between: Span | None) -> Run:
    """A run of format 1."""
    heading = layout.read_heading(file)
    wanted = [known_name(name, heading["units"]) for name in names] if names is not None else list(heading["units"])
    time, signals = layout.read_rows(file, wanted, layout.rows_between(file, between))
    return Run(
        scenario=_scenario_of(heading),
        time=time,
        signals=signals,
        units={name: heading["units"][name] for name in wanted},
        labels={name: heading["labels"][name] for name in wanted},
        events=layout.read_events(file, between),
        ledger=layout.read_ledger(file),
        table=layout.read_table(file),
        provenance=heading["provenance"],
        window=heading["window"],
    )


READERS: dict[int, Callable[["h5py.File", Sequence[str] | None, Span | None], Run]] = {1: _read_format_1}


def _scenario_of(heading: dict[str, Any]) -> "Scenario | ScenarioText":
    """The scenario of a run; its bare text where this version reads scenarios differently."""
    from weldsim.scenario.reading import read_text

    try:
        return read_text(heading["text"], source=heading["source"])
    except WeldsimError:
        return ScenarioText(heading["title"], heading["text"], heading["source"])


# --- segments ------------------------------------------------------------------------------------------------------


def segments_in(folder: Path) -> list[Path]:
    """The finished segments of a recording, in order; only an unbroken row of them counts."""
    named = [place for place in folder.iterdir() if SEGMENT_NAME.fullmatch(place.name)]
    found = sorted(named, key=lambda place: int(place.stem))
    if not found:
        raise RunFileError(
            "the folder holds no finished segment of a run",
            place=shown(folder),
            advice="give a saved run or its folder of segments",
        )
    for number, place in enumerate(found, start=1):
        if int(place.stem) != number:
            raise RunFileError(
                f"segment {number} is missing", place=shown(folder), advice="open the segments one by one"
            )
    return found


def _joined(parts: list[Run]) -> Run:
    """The segments of one recording as one run."""
    first = parts[0]
    if any(part.provenance.get("recording") != first.provenance.get("recording") for part in parts):
        raise RunFileError("its segments come from different recordings", advice="open the segments one by one")
    kept = [part for part in parts if len(part.time)]
    times = np.concatenate([part.time for part in parts])
    return Run(
        scenario=first.scenario,
        time=times,
        signals={name: np.concatenate([part[name] for part in parts]) for name in first},
        units=first.units,
        labels=first.labels,
        events=[event for part in parts for event in part.events],
        provenance={key: value for key, value in first.provenance.items() if key != "segment"},
        window=(float(kept[0].time[0]), float(kept[-1].time[-1])) if kept else first.window,
    )
