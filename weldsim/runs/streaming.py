"""Long runs in parts, each read out, written and forgotten: memory does not grow with simulated time."""

import itertools
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from weldsim import __version__
from weldsim.engine.trace import Trace
from weldsim.runs.commands import with_dial
from weldsim.runs.perform import ledger, sample_spacing, settled_start
from weldsim.runs.run import Ledger, Run, Table, stamp
from weldsim.runs.segments import SegmentWriter
from weldsim.runs.steady import Settled
from weldsim.runs.supply import supply_of
from weldsim.runs.under_way import begin_run
from weldsim.scenario.document import Scenario


def perform_to_file(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    path: str | Path,
    *,
    dial: float | None = None,
    delay: float | None = None,
    start: str = "rest",
    duration: float | None = None,
    window: float | None = None,
    sample_interval: float | None = None,
    signals: Sequence[str] | None = None,
    command: str = "perform_to_file",
    settled: Settled | None = None,
) -> Path:
    """Simulate straight into a run file, in constant memory.

    Left by an error or Ctrl-C, the recorded part stays as a folder of segments, ``<path>.segments``; open_run opens it.

    Parameters
    ----------
    scenario : Scenario
    path : path
        The run file, as "long.h5".
    dial, delay, start, duration, window, sample_interval, signals
        As those of ``perform``.
    command : str
        What the file says that it was made by.
    settled : Settled or None
        A state to go on from, found before with the same setting.

    Returns
    -------
    pathlib.Path : the place it lies at.

    Raises
    ------
    WiringError, SimulationError, QuestionError : as perform; RunFileError : the file cannot be written.
    """
    scenario = with_dial(scenario, dial)
    supply = supply_of(scenario)
    asked, spacing = supply.delay(dial, delay), sample_spacing(supply, sample_interval)
    settled = settled_start(supply, start, delay=asked, found=settled)
    going = begin_run(supply, delay=asked, settled=settled, duration=duration, window=window)
    origin, length, window = going.begin, going.length, going.window
    every, index = supply.system.signals, going.stepper.trace().index
    known = {name: every[index(name)] for name in (signals if signals is not None else supply.system.signal_numbers)}
    names, units = list(known), {name: one.unit for name, one in known.items()}
    labels = {name: one.label for name, one in known.items()}
    nothing = np.zeros(0)
    made = stamp(command, weldsim_version=__version__)
    heading = Run(scenario, nothing, dict.fromkeys(names, nothing), units, labels, provenance=made)
    sums, written, account, count = _WindowSums(names), 0, 0.0, math.floor(length / spacing + 1e-6) + 1
    with SegmentWriter(path, heading) as writer:
        for begin, end in itertools.chain(going.parts_to(going.end - window), going.parts_to(going.end)):
            trace = going.stepper.trace()
            last = count if end == going.end else math.ceil((end - origin) / spacing - 1e-9)
            values = trace.sample(names, origin + written * spacing, spacing=spacing, count=last - written)
            writer.add(np.arange(written, last) * spacing, dict(zip(names, values, strict=True)), trace.changes(origin))
            written, before, account = last, account, float(going.stepper.account[0])
            if begin >= going.end - window - 1e-12:
                sums.add(trace, (begin, end), jumps=account - before)
        return writer.finish(ledger=sums.ledger, table=sums.table(units), window=(length - window, length))


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
        integrals.prepare_squares(self.names)
        self.square += [integrals.square(name) for name in self.names]
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
