"""Long recordings: samples stream into segment files, each whole under its name, which are joined at the end.

A recording ``run.h5`` under way is the folder ``run.h5.segments`` with 0001.h5, 0002.h5 ...; each is a run file of its
own.  Memory holds one segment, however long the recording is.  A writer that is killed leaves an older ``run.h5`` as it
was and its finished segments readable (``open_run`` takes the folder or one of them); the rows of the segment under way
are lost.
"""

import contextlib
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType

import numpy as np

from weldsim.errors import RunFileError
from weldsim.runs import layout
from weldsim.runs.files import SEGMENT_NAME, new_file, open_run, opened, save_run, segments_in
from weldsim.runs.interrupts import held_back
from weldsim.runs.replacing import PathText, cannot_write, shown, writable_target
from weldsim.runs.run import Event, Ledger, Run, Table

ROWS = 16 * layout.CHUNK  # rows of a segment: 13 s at 50 us, about 15 MB in memory with 12 signals
_NOTHING = (np.inf, np.inf)  # a span that holds no sample


class SegmentWriter:
    """Receives blocks of samples and leaves one run file; use it in a ``with`` block and call ``finish`` at the end.

    ``heading`` is a run without samples that says which signals will come, and of what scenario.  Left without
    ``finish`` (an error, Ctrl-C), the rows received so far become the last segment and the folder stays; a name's older
    folder is kept as ``run.h5.segments.old`` until a recording under that name has been finished.
    """

    def __init__(self, path: PathText, heading: Run, *, rows: int = ROWS) -> None:
        if rows <= 0 or rows % layout.CHUNK:
            raise RunFileError(
                f"a segment of {rows} rows cannot be joined",
                place=shown(path),
                advice=f"use a multiple of {layout.CHUNK}",
            )
        self.target = writable_target(path)
        self.folder = Path(f"{self.target}.segments")
        self._heading = replace(heading, provenance=heading.provenance | {"recording": secrets.token_hex(8)})
        self._time = np.empty(rows)
        self._columns = {name: np.empty(rows, np.float32) for name in heading.signals}
        self._events: list[Event] = []
        self._filled = 0
        self._segments = 0
        self._make_folder()

    def __enter__(self) -> "SegmentWriter":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        if problem is None:
            self.close()
        else:
            with held_back(), contextlib.suppress(RunFileError):  # the first problem is the one to tell
                self.close()
            if self._segments:
                problem.add_note(f"what was recorded is kept in {self.folder}, which opens like a run file")

    def _make_folder(self) -> None:
        """An empty folder for the segments; an older one is set aside."""
        older = Path(f"{self.folder}.old")
        try:
            if self.folder.is_dir() and any(SEGMENT_NAME.fullmatch(place.name) for place in self.folder.iterdir()):
                _clear(older)
                self.folder.rename(older)
            self.folder.mkdir(exist_ok=True)
        except OSError as problem:
            raise cannot_write(self.folder, problem) from problem

    def add(self, time: np.ndarray, signals: Mapping[str, np.ndarray], events: Iterable[Event] = ()) -> None:
        """Take the next rows: times go on where the last block ended, and every signal of the heading is there.

        ``events`` are the switchings up to the last time of the block.
        """
        if set(signals) != set(self._columns) or any(len(values) != len(time) for values in signals.values()):
            raise RunFileError(
                "a block does not hold one value per time for every signal of its heading",
                place=shown(self.target),
                advice="hand over the signals that were announced",
            )
        self._events.extend(events)
        taken = 0
        while taken < len(time):
            room = min(len(self._time) - self._filled, len(time) - taken)
            here, there = slice(self._filled, self._filled + room), slice(taken, taken + room)
            self._time[here] = time[there]
            with np.errstate(over="ignore", under="ignore"):
                for name, column in self._columns.items():
                    column[here] = signals[name][there]
            self._filled += room
            taken += room
            if self._filled == len(self._time):
                self._save_segment(last=False)

    def _save_segment(self, *, last: bool) -> None:
        """Put the rows received into the next segment file, with the switchings up to its last time."""
        rows = slice(0, self._filled)
        until = np.inf if last else self._time[self._filled - 1]
        number = self._segments + 1
        segment = replace(
            self._heading,
            time=self._time[rows],
            signals={name: column[rows] for name, column in self._columns.items()},
            events=[event for event in self._events if event[0] <= until],
            ledger={},
            table={},
            provenance=self._heading.provenance | {"segment": str(number)},
            window=(float(self._time[0]), float(self._time[self._filled - 1])) if self._filled else (0.0, 0.0),
        )
        save_run(segment, self.folder / f"{number:04d}.h5")
        self._events = [event for event in self._events if event[0] > until]
        self._segments, self._filled = number, 0

    def close(self) -> None:
        """Put what is left into a last, shorter segment; the recording stays a folder of segments."""
        try:
            if self._filled or self._events:
                self._save_segment(last=True)
        finally:
            if not self._segments:
                with contextlib.suppress(OSError):
                    self.folder.rmdir()

    def finish(self, *, ledger: Ledger, table: Table, window: tuple[float, float]) -> Path:
        """Join the segments under the final name, with the exact figures, and remove them; gives that name."""
        self.close()
        if not self._segments:
            return save_run(replace(self._heading, ledger=ledger, table=table, window=window), self.target)
        join_segments(self.folder, self.target, ledger=ledger, table=table, window=window)
        self._segments = 0
        _clear(self.folder)
        _clear(Path(f"{self.folder}.old"))
        return self.target


def join_segments(
    folder: PathText, path: PathText, *, ledger: Ledger, table: Table, window: tuple[float, float]
) -> Path:
    """One run file out of the finished segments of a recording, in memory that does not grow with their number.

    The segments stay.
    """
    places = segments_in(Path(folder))
    rows, events = _measure(places)
    heading = open_run(places[0], between=_NOTHING)
    provenance = {key: value for key, value in heading.provenance.items() if key != "segment"}
    heading = replace(heading, ledger=ledger, table=table, window=window, provenance=provenance)
    with new_file(path) as (stream, file):
        layout.write_heading(file, heading, rows=rows)
        log = layout.EventLog(file, length=events)
        start = 0
        for place in places:
            with opened(place) as segment:
                layout.copy_rows(segment, file, start)
                log.extend(layout.read_events(segment))
                start += len(segment["time"])
            stream.check()
        log.close()
        layout.write_closing(file, heading)
    return stream.target


def _measure(places: Sequence[Path]) -> tuple[int, int]:
    """Rows and switchings of all segments, after making sure that they are of one recording."""
    rows = events = 0
    recordings = set()
    for place in places:
        with opened(place) as segment:
            recordings.add(segment["provenance"].attrs.get("recording"))
            rows += len(segment["time"])
            events += layout.count_events(segment)
    if len(recordings) > 1:
        raise RunFileError(
            "its segments come from different recordings",
            place=shown(places[0].parent),
            advice="open the segments one by one",
        )
    return rows, events


def _clear(folder: Path) -> None:
    """Remove a folder of segments; anything else in it is left alone, and the folder with it."""
    with contextlib.suppress(OSError):
        for place in folder.iterdir():
            if SEGMENT_NAME.fullmatch(place.name) or (place.name.startswith(".weldsim-") and place.suffix == ".part"):
                place.unlink()
        folder.rmdir()
