"""Trigger presses: conduction that ends at a random moment, a pause, and the first cycles of the next press.

One press is one continuous simulation: from the settled state of the preceding conduction the gate is taken away, the
device stops at its current's zero, the core stays where its hysteresis leaves it, the bank bleeds, and then the trigger
closes at a random phase of the mains.  Nothing of this is drawn but three numbers: the moment the conduction ends, the
length of the pause, and the phase of the next press.
"""

import dataclasses
import math
from collections.abc import Iterable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor, as_completed
from dataclasses import dataclass

import numpy as np

from weldsim.engine.simulate import Stepper
from weldsim.engine.trace import Trace
from weldsim.errors import WeldsimError
from weldsim.parts.flux import remanent_flux_linkage
from weldsim.parts.phase_control import PhaseControl
from weldsim.runs.commands import Command, event_numbers, gate_commands
from weldsim.runs.first_fire import FirstFire, fire_commands
from weldsim.runs.steady import Settled, settle
from weldsim.runs.supply import Supply
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario

LOOKED_AT = 0.06  # [s] of each press
PAUSES = (0.5, 5.0)  # [s] log-uniform
BATCH = 125  # presses of one job


@dataclass(frozen=True)
class HalfCycle:
    """One half cycle of primary current.

    When it begins after the trigger [s], its polarity, peak [A] and I2t [A2 s].
    """

    begin: float
    polarity: int
    peak: float
    i2t: float


@dataclass(frozen=True)
class Press:
    """What one press did."""

    trial: int
    ended: float  # [deg] where in the mains period the preceding conduction was told to end
    pause: float  # [s]
    phase: float  # [deg] of the mains at the trigger
    flux_linkage: float  # [V s] in the core at the trigger
    flux_density: float | None  # [T]
    bank_voltage: float | None  # [V]
    half_cycles: tuple[HalfCycle, ...]

    @property
    def largest(self) -> float:
        """Largest half-cycle peak [A]."""
        return max((half.peak for half in self.half_cycles), default=0.0)

    def first_peak(self, period: float) -> float:
        """Largest peak within the first mains period of conduction [A]."""
        if not self.half_cycles:
            return 0.0
        begin = self.half_cycles[0].begin
        return max(half.peak for half in self.half_cycles if half.begin < begin + period)


@dataclass(frozen=True)
class Trigger:
    """How a press is made: random numbers of a trial, or chosen ones."""

    ended: float  # fraction of a period
    pause: float  # [s]
    phase: float  # fraction of a period


def drawn(seed: int, trial: int) -> Trigger:
    """The three random numbers of a trial: keyed by seed and trial, whatever else is drawn elsewhere."""
    draws = np.random.Generator(np.random.Philox(np.random.SeedSequence((seed, trial)))).random(3)
    low, high = PAUSES
    return Trigger(float(draws[0]), float(low * (high / low) ** draws[1]), float(draws[2]))


def with_switch(scenario: Scenario) -> Scenario:
    """The scenario with a plain contactor where it has no phase control.

    Conducts both ways, opens at the current's zero.
    """
    if scenario.phase_control is not None:
        return scenario
    contactor = PhaseControl(threshold=0.0, slope=1e-4, latching_current=1e-3, holding_current=1e-3, off_resistance=1e7)
    return dataclasses.replace(scenario, phase_control=contactor)


class PressedSupply:
    """A supply whose trigger is pressed and let go: its gate commands, its settled conduction, its steppers."""

    def __init__(
        self, scenario: Scenario, *, dial: float | None = None, delay: float | None = None, mains_factor: float = 1.0
    ) -> None:
        self.scenario = with_switch(scenario)
        self.contactor = scenario.phase_control is None
        self.supply = Supply(self.scenario)
        self.delay = None if self.contactor else self.supply.delay(dial, delay)
        self.mains_factor = mains_factor
        self.period = self.supply.period
        self.numbers = event_numbers(self.supply.system)
        self.before = self._settled()
        self.signals = {signal.name for signal in self.supply.system.signals}

    def _settled(self) -> Settled:
        """The preceding conduction; a contactor's is followed for a second."""
        if not self.contactor:
            return settle(self.supply, delay=self.delay, mains_factor=self.mains_factor)
        state, signature = self.supply.rest()
        periods = max(1, round(1.0 / self.period))
        stepper = self._stepper(state, signature, (0.0, periods * self.period), [(0.0, self.numbers["gate on"])])
        stepper.run_to(periods * self.period)
        trace = stepper.trace()
        return Settled(
            trace.end_state[: len(state)].copy(), trace.signatures[trace.end_mode], True, 0.0, periods, 0, math.nan
        )

    def _stepper(
        self, state: np.ndarray, signature: Sequence[int], span: tuple[float, float], commands: Sequence[Command]
    ) -> Stepper:
        return self.supply.stepper(state, signature, span, delay=None, extra=commands, mains_factor=self.mains_factor)

    def _gate(self, begin: float, end: float) -> list[Command]:
        """Gate commands while the trigger is held from ``begin`` to ``end``.

        A pulse under way then begins or ends there.
        """
        if self.contactor:
            return [(begin, self.numbers["gate on"]), (end, self.numbers["gate off"])]
        commands = gate_commands(self.scenario, self.supply.system, delay=self.delay, span=(begin - self.period, end))
        kept = [command for command in commands if begin <= command[0] < end]
        for on, off in (
            ("gate on", "gate off"),
            ("gate plus on", "gate plus off"),
            ("gate minus on", "gate minus off"),
        ):
            if on not in self.numbers:
                continue
            earlier = [
                number for time, number in commands if time < begin and number in (self.numbers[on], self.numbers[off])
            ]
            if earlier and earlier[-1] == self.numbers[on]:
                kept.insert(0, (begin, self.numbers[on]))
            kept.append((end, self.numbers[off]))
        return kept

    def state_of(self, stepper: Stepper) -> np.ndarray:
        """Circuit states and inputs of a stepper now."""
        return stepper.x[: len(self.supply.system.states) + 2 * len(self.supply.system.inputs)].copy()

    def signature_of(self, stepper: Stepper) -> tuple[int, ...]:
        """Signature of a stepper now."""
        return self.supply.library.signatures[int(stepper.control[1])]

    def continued(
        self, state: np.ndarray, signature: Sequence[int], span: tuple[float, float], commands: Sequence[Command]
    ) -> tuple[np.ndarray, tuple[int, ...]]:
        """State and signature after a span without the trigger, coasting where nothing happens."""
        stepper = self._stepper(state, signature, span, commands)
        stepper.run_to(min(span[0] + 2.0 * self.period, span[1]))
        stepper.run_to(span[1], quick=True)
        return self.state_of(stepper), self.signature_of(stepper)

    def gated(self, state: np.ndarray, signature: Sequence[int], span: tuple[float, float]) -> Stepper:
        """A stepper with the trigger held over a span."""
        return self._stepper(state, signature, span, self._gate(*span))


class Presser(PressedSupply):
    """Presses of one supply that share its settled state and its modes."""

    def rested(self, trigger: Trigger) -> tuple[Stepper, float]:
        """The supply at the moment of the next press, and that moment [s on the mains clock]."""
        ended = trigger.ended * self.period
        start = self._start_of(ended + trigger.pause, trigger.phase)
        commands = [] if self.contactor else self._gate(0.0, ended)
        if self.contactor:
            commands = [(ended, self.numbers["gate off"])]
        stepper = self._stepper(self.before.state, self.before.signature, (0.0, start), commands)
        stepper.run_to(min(ended + 2.0 * self.period, start))
        stepper.run_to(start, quick=True)
        return stepper, start

    def _start_of(self, earliest: float, phase: float) -> float:
        """The first moment with this phase after the pause."""
        return (math.ceil(earliest / self.period - phase) + phase) * self.period

    def press(self, trial: int, trigger: Trigger, *, looked_at: float = LOOKED_AT) -> tuple[Press, Trace]:
        """One press."""
        rested, start = self.rested(trigger)
        return self.press_from(
            self.state_of(rested), self.signature_of(rested), start, trial=trial, trigger=trigger, looked_at=looked_at
        )

    def resting_after(self, trigger: Trigger) -> "Rest":
        """The supply resting at the moment of the next press, so that several rules can start from it."""
        stepper, start = self.rested(trigger)
        return Rest(self.state_of(stepper), self.signature_of(stepper), start, last_polarity(stepper.trace()), trigger)

    def press_by_rule(
        self, rest: "Rest", rule: FirstFire | None, *, looked_at: float = LOOKED_AT
    ) -> tuple[Press, Trace]:
        """A press from a resting supply under a rule of first firing; None: as the scenario's control does it."""
        if rule is None or self.delay is None:
            return self.press_from(
                rest.state, rest.signature, rest.start, trial=0, trigger=rest.trigger, looked_at=looked_at
            )
        end = rest.start + looked_at
        assert self.scenario.phase_control is not None
        commands = fire_commands(
            rule,
            self.scenario.phase_control,
            1.0 / self.period,
            delay=self.delay,
            span=(rest.start, end + self.period),
            last_polarity=rest.last_polarity,
            numbers=self.numbers,
        )
        stepper = self._stepper(rest.state, rest.signature, (rest.start, end), commands)
        stepper.run_to(end)
        trace = stepper.trace()
        return self._report(trace, 0, rest.trigger), trace

    def resting(self, flux_linkage: float, bank_voltage: float = 0.0) -> tuple[np.ndarray, tuple[int, ...]]:
        """The supply at rest with a flux left in its core and a charge in its bank."""
        values = {"flux_linkage": flux_linkage}
        if self.scenario.bank is not None:
            values["bank_voltage"] = bank_voltage
        return self.supply.system.start(**values)

    def most_remanence(self) -> float:
        """Largest flux linkage that the core keeps without a current [V s].

        0.7 of the flux of settled running where it has no hysteresis.
        """
        core, transformer = self.scenario.core, self.scenario.transformer
        assert core is not None
        assert transformer is not None
        kept = remanent_flux_linkage(core, primary_turns(self.scenario))
        crest = math.sqrt(2.0) * self.scenario.mains.voltage / (2.0 * math.pi * self.scenario.mains.frequency)
        return kept if kept > 0.0 else 0.7 * crest

    def press_from(
        self,
        state: np.ndarray,
        signature: Sequence[int],
        start: float,
        *,
        trial: int,
        trigger: Trigger,
        looked_at: float = LOOKED_AT,
    ) -> tuple[Press, Trace]:
        """A press from a given state at a given moment of the mains clock."""
        end = start + looked_at
        stepper = self._stepper(state, signature, (start, end), self._gate(start, end + self.period))
        stepper.run_to(end)
        trace = stepper.trace()
        return self._report(trace, trial, trigger), trace

    def _report(self, trace: Trace, trial: int, trigger: Trigger) -> Press:
        begin = trace.span[0]
        names = [name for name in ("core.flux_linkage", "core.flux_density", "bank.voltage") if name in self.signals]
        values = trace.rows(names, trace.mode[:1])[0] @ trace.state[0]
        at_start = dict(zip(names, (float(value) for value in values), strict=True))
        return Press(
            trial,
            360.0 * trigger.ended,
            trigger.pause,
            360.0 * trigger.phase,
            at_start.get("core.flux_linkage", math.nan),
            at_start.get("core.flux_density"),
            at_start.get("bank.voltage"),
            half_cycles(trace, begin),
        )


@dataclass(frozen=True)
class Rest:
    """A supply waiting for its next press."""

    state: np.ndarray
    signature: tuple[int, ...]
    start: float  # [s on the mains clock] of the press
    last_polarity: int  # of the last conduction; 0: none
    trigger: Trigger


def last_polarity(trace: Trace) -> int:
    """Polarity of the last conduction of the device; 0 where there was none."""
    _, segments = trace.segments("phase_control")
    for segment in reversed(segments):
        if segment.startswith(("plus", "gated_plus")):
            return 1
        if segment.startswith(("minus", "gated_minus")):
            return -1
    return 0


def half_cycles(trace: Trace, begin: float) -> tuple[HalfCycle, ...]:
    """Half cycles of primary current: runs of pieces in which the device conducts with one polarity."""
    starts, segments = trace.segments("phase_control")
    polarity = np.array(
        [
            1 if s.startswith(("plus", "gated_plus")) else -1 if s.startswith(("minus", "gated_minus")) else 0
            for s in segments
        ]
    )
    new = np.concatenate(([True], polarity[1:] != polarity[:-1])) & (polarity != 0)
    member = np.where(polarity != 0, np.cumsum(new) - 1, -1)
    if not new.any():
        return ()
    peaks, squares = trace.groups("primary.current", member)
    firsts = np.nonzero(new)[0]
    return tuple(
        HalfCycle(float(starts[p]) - begin, int(polarity[p]), float(peak), float(square))
        for p, peak, square in zip(firsts, peaks, squares, strict=True)
    )


@dataclass(frozen=True)
class Batch:
    """A job of some presses, small enough to be handed to another process."""

    scenario: Scenario
    dial: float | None
    delay: float | None
    seed: int
    trials: tuple[int, ...]


def press_batch(batch: Batch) -> list[Press]:
    """All presses of a batch, on a supply of its own."""
    presser = Presser(batch.scenario, dial=batch.dial, delay=batch.delay)
    return [presser.press(trial, drawn(batch.seed, trial))[0] for trial in batch.trials]


def press_many(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    count: int,
    seed: int,
    dial: float | None = None,
    delay: float | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
) -> Iterable[list[Press]]:
    """Presses 0 .. count-1 in batches, as they are finished; the same numbers whatever the workers.

    ``executor`` is any concurrent.futures Executor; without one, threads are used.
    """
    trials = list(range(count))
    batches = [Batch(scenario, dial, delay, seed, tuple(trials[k : k + BATCH])) for k in range(0, count, BATCH)]
    if executor is None and (workers or 2) == 1:
        presser = Presser(scenario, dial=dial, delay=delay)
        for batch in batches:
            yield [presser.press(trial, drawn(seed, trial))[0] for trial in batch.trials]
        return
    own = executor is None
    pool = executor if executor is not None else ThreadPoolExecutor(workers or 2)
    try:
        for future in as_completed([pool.submit(press_batch, batch) for batch in batches]):
            yield future.result()
    except WeldsimError:
        raise
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
