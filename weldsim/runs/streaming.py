"""Long runs in parts, each read out, written and forgotten: memory does not grow with simulated time."""

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from weldsim import __version__
from weldsim.engine.trace import Trace
from weldsim.runs.perform import FROM_REST, SAMPLES_PER_PERIOD, WINDOW, ledger
from weldsim.runs.run import Ledger, Run, Table, stamp
from weldsim.runs.segments import SegmentWriter
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario

PART = 1.0  # [s] simulated before samples are written and pieces forgotten


def perform_to_file(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    path: str | Path,
    *,
    dial: float | None = None,
    delay: float | None = None,
    duration: float | None = None,
    window: float | None = None,
    sample_interval: float | None = None,
    signals: Sequence[str] | None = None,
    command: str = "perform_to_file",
) -> Path:
    """Simulate from rest straight into a run file, in constant memory; arguments as those of perform.

    Left by an error or Ctrl-C, the recorded part stays as a folder of segments, ``<path>.segments``; open_run opens it.

    Raises
    ------
    WiringError, SimulationError : as perform; RunFileError : the file cannot be written.
    """
    supply = supply_of(scenario)
    asked = supply.delay(dial, delay)
    length = duration or max(FROM_REST, window or 0.0)
    window = min(window or WINDOW, length)
    stepper = supply.from_rest(length, delay=asked)
    origin = stepper.begin * supply.library.quantum
    spacing = sample_interval or supply.period / SAMPLES_PER_PERIOD
    known = {signal.name: signal for signal in supply.system.signals}
    names = list(signals) if signals is not None else list(known)
    heading = Run(
        scenario,
        np.zeros(0),
        {name: np.zeros(0) for name in names},
        {name: known[name].unit for name in names},
        {name: known[name].label for name in names},
        provenance=stamp(command, weldsim_version=__version__),
    )
    sums, written, count = _WindowSums(names), 0, math.floor(length / spacing + 1e-6) + 1
    with SegmentWriter(path, heading) as writer:
        for begin, end in _parts(length, window):
            before = float(stepper.account[0])
            stepper.run_to(origin + end)
            trace = stepper.trace()
            last = count if end == length else math.ceil(end / spacing - 1e-9)
            values = trace.sample(names, origin + written * spacing, spacing=spacing, count=last - written)
            writer.add(
                np.arange(written, last) * spacing,
                dict(zip(names, values, strict=True)),
                trace.changes(origin),
            )
            written = last
            if begin >= length - window - 1e-12:
                sums.add(trace, (origin + begin, origin + end), jumps=float(stepper.account[0]) - before)
            stepper.forget()
        table = sums.table({name: known[name].unit for name in names})
        return writer.finish(ledger=sums.ledger, table=table, window=(length - window, length))


def _parts(length: float, window: float) -> list[tuple[float, float]]:
    """Spans of about a second, with a boundary where the window begins."""
    edges = [0.0]
    for stop in (length - window, length):
        begin, count = edges[-1], max(1, math.ceil((stop - edges[-1]) / PART))
        edges += [begin + (stop - begin) * (k + 1) / count for k in range(count)] if stop > begin else []
    edges[-1] = length
    return list(zip(edges[:-1], edges[1:], strict=True))


class _WindowSums:
    """Exact figures of a window that is read out in parts."""

    def __init__(self, names: Sequence[str]) -> None:
        self.names = list(names)
        self.length = 0.0
        self.integral, self.square = np.zeros(len(names)), np.zeros(len(names))
        self.least, self.largest = np.full(len(names), np.inf), np.full(len(names), -np.inf)
        self.ledger: Ledger = {}

    def add(self, trace: Trace, span: tuple[float, float], *, jumps: float) -> None:
        """Take another part of the window."""
        integrals = trace.integrals(*span)
        values, _ = trace.extremes(self.names, *span)
        self.length += integrals.length
        self.integral += [integrals.integral(name) for name in self.names]
        self.square += [integrals.product(name, name) for name in self.names]
        self.least, self.largest = np.minimum(self.least, values[:, 0]), np.maximum(self.largest, values[:, 1])
        for part, entry in ledger(trace, integrals, span=span, jumps=jumps).items():
            if isinstance(entry, float):
                before = self.ledger.get(part, 0.0)
                self.ledger[part] = entry + (before if isinstance(before, float) else 0.0)
            else:
                lines = self.ledger.setdefault(part, {})
                assert isinstance(lines, dict)
                for role, energy in entry.items():
                    lines[role] = lines.get(role, 0.0) + energy

    def table(self, units: dict[str, str]) -> Table:
        """Mean, rms, least and largest of every signal."""
        result: Table = {}
        for i, name in enumerate(self.names):
            unit = units[name]
            result |= {
                f"{name}.mean": (self.integral[i] / self.length, unit),
                f"{name}.rms": (math.sqrt(max(self.square[i], 0.0) / self.length), unit),
                f"{name}.min": (float(self.least[i]), unit),
                f"{name}.max": (float(self.largest[i]), unit),
            }
        return result
