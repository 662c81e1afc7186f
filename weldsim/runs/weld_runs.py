"""Welds of seconds to minutes on a supply, part by part: what was read at every tick of the wire, handed on, forgotten.

A part holds about a second, a whole number of mains periods, sampled at every process tick: 100 times a half period
unless a finer tick is asked for.  Samples are exact at their instants.  Memory does not grow with the length.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property

import numpy as np

from weldsim.engine import wire_layout
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.runs.commands import RepeatedGate, gate_table, with_dial
from weldsim.runs.wire_runs import TICK_BITS, WireRun, WireSupply, delay_of, phase_of
from weldsim.scenario.document import Scenario

PART = 1.0  # [s] simulated at a time
FOR_THE_WELD = ("output.current", "output.voltage", "bank.voltage", "primary.current", "plug.voltage")
CHANGES_PER_PART = 200_000  # of mode; more is endless switching


@dataclass(frozen=True, eq=False)
class WeldPart:
    """One part of a weld: samples at every process tick, ``time`` [s] from the trigger.

    The wire's condition changes at a sample, where the signals still are as they were before it; only an arc is lost
    within a tick.
    """

    time: np.ndarray
    condition: np.ndarray  # from the sample on; place in wire_runs.CONDITIONS
    during: np.ndarray  # in the tick that ends with the sample, and so that of its signals
    gap: np.ndarray  # [m] between the wire's end and the work
    signals: dict[str, np.ndarray]

    @property
    def tick(self) -> float:
        """Between two samples [s]."""
        return float(self.time[1] - self.time[0])


class Weld:
    """A weld under way from the trigger, with bank and core as a supply at rest has them."""

    def __init__(  # noqa: PLR0913 (all by keyword)
        self,
        supply: WireSupply,
        *,
        delay: float | None,
        feed: float | None = None,
        seed: int = 1,
        trial: int = 0,
        signals: Sequence[str] = FOR_THE_WELD,
        mains_factor: float = 1.0,
    ) -> None:
        self.supply, self.delay = supply, delay
        names = [name for name in signals if name in supply.names]
        if names != supply.recorded:
            supply.record(names)
        periods = max(1, round(PART / supply.period))
        self.ticks = periods * round(supply.period / supply.tick)
        phase = np.floor(phase_of(seed, trial) * supply.period / supply.tick) * supply.tick / supply.period
        length = self.ticks * supply.tick
        self.run = WireRun(
            supply,
            seed=seed,
            trial=trial,
            delay=delay,
            feed=feed,
            length=length,
            phase=float(phase),
            every=1,
            mains_factor=mains_factor,
        )
        self.made = 0  # ticks
        self._condition = 0  # at the last sample
        self._scheduled = float(phase) * supply.period + length  # mains clock [s]

    @property
    def now(self) -> float:
        """Time since the trigger [s]."""
        return self.made * self.supply.tick

    def part(self, ticks: int) -> WeldPart:
        """Simulate so many ticks, at most those of one part, and read them."""
        run, supply = self.run, self.supply
        self._schedule((self.made + ticks) * supply.tick)
        run.count[12] = 0  # rows recorded
        run.stepper.forget()
        supply.rows.fill()
        run.stepper.control[12], run.stepper.control[13] = 0, CHANGES_PER_PART
        run.run(stop_when_struck=False, until=(self.made + ticks) * supply.tick)
        self.made += ticks
        rows = run.record[: int(run.count[12])].copy()
        waves = {name: rows[:, 3 + k] for k, name in enumerate(supply.recorded)}
        condition = rows[:, 1].astype(np.int8)
        during = np.concatenate([[self._condition], condition[:-1]]).astype(np.int8)
        self._condition = int(condition[-1])
        return WeldPart(rows[:, 0], condition, during, rows[:, 2], waves)

    def parts(self, seconds: float) -> Iterator[WeldPart]:
        """Go on for so long [s], part by part."""
        left = max(1, round(seconds / self.supply.tick))
        while left:
            ticks = min(left, self.ticks)
            left -= ticks
            yield self.part(ticks)

    def set_torch_height(self, height: float) -> None:
        """From now on the contact tube stands so far above the work [m]; the gap changes by the same step."""
        constants, state = self.run.c, self.run.state
        state[0] = max(state[0] + height - constants[wire_layout.HEIGHT], 0.0)
        constants[wire_layout.HEIGHT] = height

    @cached_property
    def _repeated_gate(self) -> RepeatedGate:
        return RepeatedGate(self.supply.scenario, self.supply.system, delay=self.delay)

    def _schedule(self, until: float) -> None:
        """Give the gate its commands up to an instant [s from the trigger]."""
        supply = self.supply
        trigger = float(self.run.count[18]) * supply.library.quantum
        begin, end = self._scheduled, trigger + until
        if end <= begin:
            return
        if self.run.onset is None:
            commands = self._repeated_gate.over(begin, end)
        else:
            commands = gate_table(
                supply.scenario, supply.system, delay=self.delay, span=(begin, end), onset=self.run.onset
            )
        self.run.stepper.schedule(commands)
        self._scheduled = end


def weld_parts(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    seconds: float,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    seed: int = 1,
    signals: Sequence[str] = FOR_THE_WELD,
    tick_bits: int = TICK_BITS,
) -> Iterator[WeldPart]:
    """A weld of some seconds or minutes in parts, in constant memory; the first part begins at the trigger.

    ``tick_bits`` one below the usual halves the tick, for finer samples at nearly twice the time.

    Raises
    ------
    QuestionError : no length; WiringError, SimulationError.
    """
    if not seconds > 0.0:
        raise QuestionError(f"a weld of {seconds:g} s says nothing", place="seconds", advice="ask for 1 s or more")
    supply = WireSupply(with_dial(scenario, dial), tick_bits=tick_bits)
    asked = delay_of(scenario, dial, delay)
    yield from Weld(supply, delay=asked, feed=feed, seed=seed, signals=signals).parts(seconds)


def mean_squares(parts: Iterable[WeldPart], *, ticks: int, signal: str = "plug.voltage") -> Iterator[np.ndarray]:
    """Means of the square of a signal over every so many ticks, one array for each part; a rest is kept for the next.

    100 ticks of the usual length are a half period of the mains, 5 give 2000 means a second at 50 Hz.  Trapezoids:
    where the voltage steps between two samples the mean over a half period is off by up to half a tick of that step,
    some 5e-4; the gate's own step falls on the same place of every half period and keeps still.
    """
    kept = np.zeros(0)
    for part in parts:
        squares = np.concatenate([kept, np.square(part.signals[signal])])
        count = max(0, (len(squares) - 1) // ticks)
        whole = squares[: count * ticks + 1]
        kept = squares[count * ticks :]
        between = 0.5 * (whole[1:] + whole[:-1])
        yield between.reshape(count, ticks).mean(axis=1) if count else np.zeros(0)
