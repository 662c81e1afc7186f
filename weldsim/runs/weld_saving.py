"""A weld streamed into a run file: samples of every part, and the switchings of the wire as events."""

import math
from types import TracebackType
from typing import Self

import numpy as np

from weldsim import __version__
from weldsim.network.system import Signal
from weldsim.runs.replacing import PathText
from weldsim.runs.run import Event, Run, Table, stamp
from weldsim.runs.segments import SegmentWriter
from weldsim.runs.weld_runs import Weld, WeldPart
from weldsim.runs.wire_runs import CONDITIONS

GAP = "wire.gap"


def run_of_parts(weld: Weld, parts: list[WeldPart]) -> Run:
    """Parts that follow each other as a Run in memory."""
    units, labels = described(weld)
    waves = {name: np.concatenate([_wave(part, name) for part in parts]) for name in units}
    time = np.concatenate([part.time for part in parts])
    return Run(
        weld.supply.scenario,
        time,
        waves,
        units,
        labels,
        wire_events(parts, None)[0],
        provenance=stamp("weld", weldsim_version=__version__),
        window=(float(time[0]), float(time[-1])),
    )


def described(weld: Weld) -> tuple[dict[str, str], dict[str, str]]:
    """Units and labels of what a weld records."""
    known: dict[str, Signal] = {signal.name: signal for signal in weld.supply.system.signals}
    units = {name: known[name].unit for name in weld.supply.recorded}
    labels = {name: known[name].label for name in weld.supply.recorded}
    return units | {GAP: "m"}, labels | {GAP: "gap between wire and work"}


def _wave(part: WeldPart, name: str) -> np.ndarray:
    return part.gap if name == GAP else part.signals[name]


def wire_events(parts: list[WeldPart], before: int | None) -> tuple[list[Event], int]:
    """Changes of the wire's condition in these parts, and the last condition; ``before`` is that ahead of them."""
    found: list[Event] = []
    last = int(parts[0].condition[0]) if before is None else before
    for part in parts:
        found += changes(part.time, part.condition, before=last)
        last = int(part.condition[-1])
    return found, last


def changes(time: np.ndarray, condition: np.ndarray, *, before: int) -> list[Event]:
    """Changes of the wire's condition at these instants; ``before`` is that ahead of the first."""
    codes = np.concatenate([[before], condition]).astype(int)
    return [
        (float(time[k]), "wire", CONDITIONS[codes[k]], CONDITIONS[codes[k + 1]]) for k in np.flatnonzero(np.diff(codes))
    ]


class WeldSaver:
    """Takes a weld part by part into a file, in constant memory.

    Figures of the table are those of the samples that count, unless others have been told.
    """

    def __init__(self, path: PathText, weld: Weld, *, command: str) -> None:
        self.units, labels = described(weld)
        nothing = np.zeros(0)
        made = stamp(command, weldsim_version=__version__)
        heading = Run(
            weld.supply.scenario, nothing, dict.fromkeys(self.units, nothing), self.units, labels, provenance=made
        )
        self.writer = SegmentWriter(path, heading)
        self.before: int | None = None
        self.count, self.window = 0, (math.nan, math.nan)
        self.told: Table = {}
        self.sums = {name: [0.0, 0.0, math.inf, -math.inf] for name in self.units}

    def __enter__(self) -> Self:
        self.writer.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        if problem is None:
            self.writer.finish(ledger={}, table=self._table() | self.told, window=self.window)
        self.writer.__exit__(kind, problem, trace)

    def add(self, part: WeldPart, *, counts: bool = True) -> None:
        """Write the next part; one that does not count, like a start, is kept out of table and window."""
        events, self.before = wire_events([part], self.before)
        waves = {name: _wave(part, name) for name in self.units}
        self.writer.add(part.time, waves, events)
        if not counts:
            return
        for name, wave in waves.items():
            sums = self.sums[name]
            sums[0] += float(wave.sum())
            sums[1] += float(wave @ wave)
            sums[2], sums[3] = min(sums[2], float(wave.min())), max(sums[3], float(wave.max()))
        self.count += len(part.time)
        first = self.window[0] if math.isfinite(self.window[0]) else float(part.time[0])
        self.window = first, float(part.time[-1])

    def tell(self, table: Table) -> None:
        """Figures of those that count that are known better than from single samples."""
        self.told = {name: found for name, found in table.items() if name.rpartition(".")[0] in self.units}

    def _table(self) -> Table:
        table: Table = {}
        for name, (total, square, least, largest) in self.sums.items():
            unit, count = self.units[name], max(self.count, 1)
            table |= {
                f"{name}.mean": (total / count, unit),
                f"{name}.rms": (math.sqrt(square / count), unit),
                f"{name}.min": (least, unit),
                f"{name}.max": (largest, unit),
            }
        return table
