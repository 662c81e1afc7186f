"""Flicker at the plug over minutes, at the given and at the reference impedance, with windows read on the way."""

import hashlib
import math

import numpy as np

from weldsim.analysis.flicker import RATE
from weldsim.analysis.flicker_record import FlickerFigures, FlickerRecord
from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass
from weldsim.parts.mains import reference_impedance
from weldsim.runs.mains_looks import Look, WindowLooks
from weldsim.runs.mains_streams import Stream, mean_squares_of, source_squares
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of
from weldsim.studies.progress import Progress, silent

SKIPPED = 1.0  # [s] before the first window is read
NEAR = 1e-2  # of the reference impedance: nobody could tell it from that
WINDOWS = 10  # windows of 10 or 12 periods read for harmonics: 2 s


@dataclass(frozen=True, eq=False)
class Minutes:
    """What a stream did to the plug."""

    stream: Stream
    given: FlickerFigures
    reference: FlickerFigures
    parts: int
    distinct: int  # parts that are unlike all others
    look: Look | None  # of the windows read
    shown: Trace | None  # the last of them


def reference_asked(scenario: Scenario) -> str:
    """How to ask for the set on the reference impedance itself; nothing where it hangs on that already."""
    mains = source_of(scenario)
    resistance, inductance = reference_impedance(mains.frequency)
    given = (mains.resistance, mains.inductance)
    if all(math.isclose(one, other, rel_tol=NEAR) for one, other in zip(given, (resistance, inductance), strict=True)):
        return ""
    away = "generator=absent, " if scenario.generator is not None else ""
    return f'{away}mains.resistance="{resistance:g} ohm", mains.inductance="{1e3 * inductance:.4g} mH"'


def cell_of(frequency: float) -> float:
    """Length of a mean square [s]: twelve or ten to a half period."""
    nominal = 50.0 if frequency < 55.0 else 60.0
    return nominal / RATE / frequency


def followed(stream: Stream, *, progress: Progress = silent) -> Minutes:
    """Simulate the stream from end to end and measure it on the way."""
    mains = stream.scenario.mains
    cell, impedance = cell_of(mains.frequency), reference_impedance(mains.frequency)
    period = round(1.0 / mains.frequency / cell)
    rest = source_squares(stream.scenario, np.arange(period + 1) * cell) / cell
    level = math.sqrt(float(rest.mean()))
    records = [FlickerRecord(nominal=mains.voltage, frequency=mains.frequency, start=level) for _ in range(2)]
    windows, seen = WindowLooks(stream.scenario), set()
    shown, parts, at, total = None, 0, 0, round(stream.seconds / cell)
    for chunk in stream.chunks:
        found = mean_squares_of(stream, chunk, cell=cell, impedance=impedance)
        first = math.floor(chunk.begin / cell + 1e-6)
        idle = np.resize(np.roll(rest, -(at % period)), max(first - at, 0))
        for record, squares in zip(records, found, strict=True):
            record.feed(np.concatenate([idle, squares])[: total - at])
        at = min(first + found.shape[1], total)
        parts += 1
        seen.add(hashlib.blake2b(found[0].tobytes(), digest_size=12).digest())
        whole = math.isclose(chunk.end - chunk.begin, windows.length, rel_tol=1e-6)
        if whole and chunk.begin >= SKIPPED - 1e-6 and windows.count < WINDOWS:
            windows.add(chunk.trace, chunk.begin)
            shown = chunk.trace
        progress(min(round(chunk.end), round(stream.seconds)), round(stream.seconds), "seconds at the plug")
        if at >= total:
            break
    left = np.resize(np.roll(rest, -(at % period)), total - at)
    for record in records:
        record.feed(left)
    look = windows.look(delay=stream.delay, trace=shown) if windows.count else None
    return Minutes(stream, records[0].figures(), records[1].figures(), parts, len(seen), look, shown)
