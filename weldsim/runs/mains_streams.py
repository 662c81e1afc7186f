"""Minutes at the plug: a weld in dip transfer, programmed shorts, or a train of presses, simulated outright.

A stream hands on traces of a window of 10 or 12 periods or less, one after the other, and forgets them; between the
chunks of a train the mains stands unloaded.  Nothing is repeated and nothing is carried on from a part to the whole.
"""

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import field

import numpy as np

from weldsim.engine.probe import RowOf
from weldsim.engine.simulate import Stepper
from weldsim.engine.trace import Trace
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.network.system import ModeEquations, SwitchedSystem
from weldsim.parts.mains import source_terms
from weldsim.runs.first_fire import onset_of
from weldsim.runs.half_cycles import last_polarity
from weldsim.runs.mains_looks import periods_of_window
from weldsim.runs.presses import PressedSupply, Setting
from weldsim.runs.soft_start import starter_of
from weldsim.runs.supply import supply_of
from weldsim.runs.under_way import begin_run
from weldsim.runs.weld_runs import Weld
from weldsim.runs.wire_runs import WireSupply, delay_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of

DIPS = "dips of the wire"
AFTERMATH = 2  # periods looked at after a press is over; then the supply coasts
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True, eq=False)
class Chunk:
    """Exact pieces of a span of the mains clock [s]; all that happened since the chunk before, but for rest."""

    trace: Trace
    begin: float
    end: float


@dataclasses.dataclass
class Stream:
    """What is welded for how long: chunks in order, and what has been counted so far."""

    scenario: Scenario
    kind: str  # in words
    seconds: float
    delay: float | None
    events: int = 0  # dips, shorts or presses
    chunks: Iterator[Chunk] = field(default_factory=lambda: iter(()))

    @property
    def window(self) -> float:
        """Length of a window of the measurement [s]."""
        frequency = self.scenario.mains.frequency
        return periods_of_window(frequency) / frequency


def dip_stream(
    scenario: Scenario, *, seconds: float, dial: float | None, delay: float | None, feed: float | None, seed: int
) -> Stream:
    """A weld in dip transfer from the trigger on, by the wire's own rules."""
    if scenario.wire is None:
        raise QuestionError(
            "there is no wire to weld with",
            place="wire",
            advice="add a [wire] table, or ask for presses on the scenario's load with --on and --off",
        )
    stream = Stream(scenario, DIPS, seconds, delay_of(scenario, dial, delay))
    stream.chunks = _dips(stream, feed=feed, seed=seed)
    return stream


def _dips(stream: Stream, *, feed: float | None, seed: int) -> Iterator[Chunk]:
    supply = WireSupply(stream.scenario)
    weld = Weld(supply, delay=stream.delay, feed=feed, seed=seed, signals=("primary.current",))
    stepper = weld.run.stepper
    ticks = round(stream.window / supply.tick)
    first = round(stepper.now / supply.tick)
    total = math.ceil(stream.seconds / stream.window - 1e-9) * ticks
    at = first
    while at < total:
        count = ticks - at % ticks
        weld.part(count)
        stream.events = weld.run.outcome().touches
        yield Chunk(stepper.trace(), at * supply.tick, (at + count) * supply.tick)
        at += count


def short_stream(scenario: Scenario, *, seconds: float, dial: float | None, delay: float | None) -> Stream:
    """An arc with programmed shorts, from the scenario's own start."""
    supply = supply_of(scenario)
    stream = Stream(scenario, "programmed shorts", seconds, supply.delay(dial, delay))
    stream.chunks = _shorts(stream)
    return stream


def _shorts(stream: Stream) -> Iterator[Chunk]:
    supply, load = supply_of(stream.scenario), stream.scenario.load
    assert load is not None
    going = begin_run(supply, delay=stream.delay, settled=None, duration=stream.seconds, window=None)
    begin = going.begin
    for k in range(math.floor(begin / stream.window + 1e-9), math.ceil(stream.seconds / stream.window - 1e-9)):
        end = (k + 1) * stream.window
        going.run_to(end)
        stream.events = max(0, math.ceil((end - going.begin - load.short_start) / load.short_period))
        yield Chunk(going.stepper.trace(), begin, end)
        going.stepper.forget()
        begin = end


def press_stream(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    seconds: float,
    dial: float | None,
    delay: float | None,
    on: float,
    off: float,
    seed: int,
    cell: float,
) -> Stream:
    """Spots or starts: the trigger held and let go on the scenario's own load, core and bank remembering.

    Chunks begin and end on whole cells of the mains clock [s].
    """
    pressed = PressedSupply(scenario, Setting(dial=dial, delay=delay))
    if starter_of(pressed.scenario, pressed.supply.system) is not None:
        raise QuestionError(
            "a series soft start is not followed through minutes of presses",
            place="soft_start",
            advice="ask drill for its presses, or take it out with --set soft_start=absent",
        )
    stream = Stream(pressed.scenario, "presses of the trigger", seconds, pressed.delay)
    stream.chunks = _presses(stream, pressed, times=(on, off), seed=seed, cell=cell)
    return stream


def _presses(
    stream: Stream, pressed: PressedSupply, *, times: tuple[float, float], seed: int, cell: float
) -> Iterator[Chunk]:
    draws = np.random.Generator(np.random.Philox(np.random.SeedSequence((seed, 0))))
    state, signature = pressed.supply.rest()
    now, polarity = 0.0, 0
    while now < stream.seconds:
        press = now + draws.random() * pressed.period + cell
        begin = math.floor(press / cell) * cell
        release = press + times[0]
        end = (math.ceil(release / pressed.period) + AFTERMATH) * pressed.period
        if begin > now:
            state, signature = pressed.continued(state, signature, (now, begin))
        stepper = _held(pressed, (state, signature), span=(begin, end), trigger=(press, release), polarity=polarity)
        stream.events += 1
        while begin < end - 1e-9:
            cut = min(end, (math.floor(begin / stream.window + 1e-9) + 1) * stream.window)
            stepper.run_to(cut)
            trace = stepper.trace()
            polarity = last_polarity(trace) or polarity
            yield Chunk(trace, begin, cut)
            stepper.forget()
            begin = cut
        state, signature = pressed.state_of(stepper), pressed.signature_of(stepper)
        now = max(end, press + sum(times))


def _held(
    pressed: PressedSupply,
    rest: tuple[np.ndarray, tuple[int, ...]],
    *,
    span: tuple[float, float],
    trigger: tuple[float, float],
    polarity: int,
) -> Stepper:
    """A stepper over a span, not moved yet, with the trigger held during a part of it; no series soft start.

    ``polarity`` is that of the last conduction before, which a rule of the first firings may ask for.
    """
    rule, delay = pressed.rule, pressed.delay
    onset = onset_of(rule, 1.0 / pressed.period, delay=delay, trigger=trigger[0], last_polarity=polarity)
    return pressed._stepper(*rest, span, pressed._gate(*trigger, onset))


def mean_squares_of(stream: Stream, chunk: Chunk, *, cell: float, impedance: tuple[float, float]) -> np.ndarray:
    """Means of the square of the voltage at the plug, and behind another impedance that carries the same current [V2].

    One column for each cell that the chunk touches; what lies before it in its first cell is unloaded.
    """
    first = math.floor(chunk.begin / cell + 1e-6)
    count = math.ceil(chunk.end / cell - 1e-6) - first
    system = chunk.trace.system
    behind = ("voltage behind the reference impedance", _behind(system, impedance))
    wanted: list[str | tuple[str, RowOf]] = ["plug.voltage", behind]
    found = chunk.trace.mean_squares(wanted, first * cell, width=cell, count=count)
    if chunk.begin > first * cell + 1e-9:
        found[:, 0] += source_squares(stream.scenario, np.array([first * cell, chunk.begin])) / cell
    return found


def _behind(system: SwitchedSystem, impedance: tuple[float, float]) -> RowOf:
    """Row of source - R i - L di/dt."""
    names = [signal.name for signal in system.signals]
    source, current = names.index("mains.voltage"), names.index("primary.current")
    resistance, inductance = impedance

    def row(mode: ModeEquations) -> np.ndarray:
        carried = mode.outputs[current]
        return mode.outputs[source] - resistance * carried - inductance * (carried @ mode.matrix)

    return row


def source_squares(scenario: Scenario, edges: np.ndarray) -> np.ndarray:
    """Integrals of the square of the ideal source between instants of the mains clock [V2 s], by 16 points each."""
    mains = source_of(scenario)
    half = 0.5 * np.diff(edges)[:, None]
    times = 0.5 * (edges[1:] + edges[:-1])[:, None] + half * _POINTS
    voltage = np.full(times.shape, mains.dc_offset)
    for order, sine, cosine in source_terms(mains):
        angle = 2.0 * np.pi * order * mains.frequency * times
        voltage += sine * np.sin(angle) + cosine * np.cos(angle)
    return (half * _WEIGHTS * voltage**2).sum(axis=1)
