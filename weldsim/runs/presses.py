"""Trigger presses: conduction that ends at a random moment, a pause, and the first cycles of the next press.

One press is one continuous simulation: from the settled state of the preceding conduction the gate is taken away, the
device stops at its current's zero, the core stays where its hysteresis leaves it, the bank bleeds, and then the trigger
closes at a random phase of the mains.  Nothing of this is drawn but three numbers: the moment the conduction ends, the
length of the pause, and the phase of the next press.
"""

import copy
import dataclasses
import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from weldsim.engine.simulate import Stepper
from weldsim.engine.trace import Trace
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.phase_control import PhaseControl
from weldsim.runs.commands import Command, Onset, RepeatedGate, event_numbers, gate_table, with_dial
from weldsim.runs.first_fire import FirstFire, looked_at, onset_of, rule_of
from weldsim.runs.flux_left import starting_values
from weldsim.runs.half_cycles import HalfCycle, half_cycles, last_polarity
from weldsim.runs.soft_start import SoftStarter, settled_starter, starter_of
from weldsim.runs.steady import Settled, settle
from weldsim.runs.supply import Supply
from weldsim.scenario.document import Scenario

PAUSES = (0.5, 5.0)  # [s] log-uniform
TRAIN, TRAINED = (0.8, 0.7), 10  # [s] on and off, and the presses that have warmed a thermistor before
GATES_OFF = ("gate off", "gate plus off", "gate minus off")
LET_GO = (*GATES_OFF, "trigger off")
GOLDEN = 0.6180339887498949  # spreads the phases of that train evenly
BANKS = ("bled", "charged", "empty")  # what a bank holds at the trigger


@dataclass(frozen=True)
class Setting:
    """How a supply is pressed: dial [1] or delay [deg], what its bank holds, and a flux linkage typed in [V s].

    ``bank`` is "bled" (for as long as the pause), "charged" (as when the trigger was let go) or "empty"; without a
    ``flux_linkage`` every core keeps what its hysteresis leaves, with one the second of two is as dense as the first.
    ``warm`` says whether a thermistor remembers a train of presses before.
    """

    dial: float | None = None
    delay: float | None = None
    bank: str = "bled"
    flux_linkage: float | None = None
    warm: bool = True

    def __post_init__(self) -> None:
        """Refuse what no bank can hold."""
        if self.bank not in BANKS:
            raise QuestionError(f"'{self.bank}' is none of {', '.join(BANKS)}", place="bank")


AS_IT_IS = Setting()


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
    thermistor: float = math.nan  # [degC] at the end of what was looked at; nan: there is none
    second_flux_linkage: float = math.nan  # [V s] in the second core at the trigger; nan: there is none
    second_flux_density: float | None = None  # [T]

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


@dataclass(frozen=True)
class Rest:
    """A supply waiting for its next press."""

    state: np.ndarray
    signature: tuple[int, ...]
    start: float  # [s on the mains clock] of the press
    last_polarity: int  # of the last conduction; 0: none
    trigger: Trigger


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

    def __init__(self, scenario: Scenario, setting: Setting = AS_IT_IS, *, mains_factor: float = 1.0) -> None:
        self.asked, self.scenario, self.setting = scenario, with_switch(with_dial(scenario, setting.dial)), setting
        self.contactor = scenario.phase_control is None
        self.supply = Supply(self.scenario)
        self.delay = None if self.contactor else self.supply.delay(setting.dial, setting.delay)
        self.rule = rule_of(scenario.soft_start)
        self.mains_factor = mains_factor
        self._let_go = [number for name, number in event_numbers(self.supply.system).items() if name in LET_GO]
        self.period = self.supply.period
        self.numbers = event_numbers(self.supply.system)
        self.repeated_gate = RepeatedGate(self.scenario, self.supply.system, delay=self.delay)
        self.before = self._settled()
        self.signals = {signal.name for signal in self.supply.system.signals}

    def _settled(self) -> Settled:
        """The preceding conduction; behind a contactor from what a second of it has left."""
        if not self.contactor:
            return settle(self.supply, delay=self.delay, mains_factor=self.mains_factor)
        soft = settled_starter(self.scenario, self.supply.system)
        found, current = self._followed(soft)
        if soft is None:
            return settle(self.supply, delay=None, mains_factor=self.mains_factor, after=found)
        if soft.closed:
            return found
        return self._followed(settled_starter(self.scenario, self.supply.system, current=current))[0]

    def _followed(self, soft: SoftStarter | None) -> tuple[Settled, float]:
        """A second behind a contactor, and the primary's current in its last period [A rms]."""
        state, signature = self.supply.rest()
        signature = signature if soft is None else soft.onto(signature)
        periods = max(1, round(1.0 / self.period))
        end = periods * self.period
        stepper = self._stepper(state, signature, (0.0, end), [(0.0, self.numbers["gate on"])])
        stepper.run_to(end)
        trace = stepper.trace()
        last = trace.end_state[: len(state)].copy(), trace.signatures[trace.end_mode]
        settled = Settled(*last, True, 0.0, periods, 0, math.nan)
        return settled, trace.integrals(end - self.period, end).rms("primary.current")

    def _stepper(
        self,
        state: np.ndarray,
        signature: Sequence[int],
        span: tuple[float, float],
        commands: Sequence[Command] | np.ndarray,
    ) -> Stepper:
        return self.supply.stepper(state, signature, span, delay=None, extra=commands, mains_factor=self.mains_factor)

    def _gate(self, begin: float, end: float, onset: Onset | None = None) -> np.ndarray:
        """Gate commands while the trigger is held from ``begin`` to ``end``, as rows (time, event).

        A pulse under way then begins or ends there.
        """
        if self.contactor:
            return np.array([(begin, self.numbers["gate on"]), (end, self.numbers["gate off"])])
        if self.delay is None:
            return np.array([(begin, self.numbers["trigger on"]), *((end, one) for one in self._let_go)])
        span = (begin - self.period, end)
        if onset is None:
            table = self.repeated_gate.over(*span)
        else:
            table = gate_table(self.scenario, self.supply.system, delay=self.delay, span=span, onset=onset)
        first = int(np.searchsorted(table[:, 0], begin))
        opening, closing = [(begin, one) for name, one in self.numbers.items() if name == "trigger off"], []
        for on, off in (
            ("gate on", "gate off"),
            ("gate plus on", "gate plus off"),
            ("gate minus on", "gate minus off"),
        ):
            if on not in self.numbers:
                continue
            earlier = table[:first, 1]
            earlier = earlier[(earlier == self.numbers[on]) | (earlier == self.numbers[off])]
            if len(earlier) and earlier[-1] == self.numbers[on]:
                opening.append((begin, self.numbers[on]))
            closing.append((end, self.numbers[off]))
        return np.concatenate((np.array(opening).reshape(-1, 2), table[first:], np.array(closing).reshape(-1, 2)))

    def state_of(self, stepper: Stepper) -> np.ndarray:
        """Circuit states and inputs of a stepper now."""
        return stepper.x[: len(self.supply.system.states) + 2 * len(self.supply.system.inputs)].copy()

    def signature_of(self, stepper: Stepper) -> tuple[int, ...]:
        """Signature of a stepper now."""
        return self.supply.library.signatures[int(stepper.control[1])]

    def continued(
        self, state: np.ndarray, signature: Sequence[int], span: tuple[float, float]
    ) -> tuple[np.ndarray, tuple[int, ...]]:
        """State and signature after a span without the trigger, coasting where nothing happens.

        A pulse under way ends with the trigger.
        """
        stepper = self._stepper(state, signature, span, [(span[0], number) for number in self._let_go])
        stepper.run_to(min(span[0] + 2.0 * self.period, span[1]))
        stepper.run_to(span[1], quick=True)
        return self.state_of(stepper), self.signature_of(stepper)

    def pressed(self, rest: "Rest", rule: FirstFire | None, *, end: float, soft: SoftStarter | None) -> Stepper:
        """The trigger held from a rest until ``end`` [s on the mains clock]."""
        span = (rest.start, end)
        onset = onset_of(
            rule, 1.0 / self.period, delay=self.delay, trigger=rest.start, last_polarity=rest.last_polarity
        )
        signature = rest.signature if soft is None else soft.onto(rest.signature)
        stepper = self._stepper(rest.state, signature, span, self._gate(*span, onset))
        if soft is None:
            stepper.run_to(end)
        else:
            soft.pressed(rest.start)
            soft.advance(stepper, end)
        return stepper

    def bank_place(self) -> int | None:
        """Place of the bank's charge among the states; None without a bank."""
        states = self.supply.system.states
        return states.index("bank.voltage") if "bank.voltage" in states else None

    def charged(self) -> float:
        """Volts of the bank in settled running, at the mains' zero crossing; 0 without a bank."""
        place = self.bank_place()
        return 0.0 if place is None else float(self.before.state[place])

    def resting(
        self, flux_linkage: float, bank_voltage: float = 0.0, **second: float
    ) -> tuple[np.ndarray, tuple[int, ...]]:
        """The supply at rest with a flux left in its core and a charge in its bank.

        A second core is as dense as the first where no ``second_flux_linkage`` is given.
        """
        values = {"flux_linkage": flux_linkage} | second
        if self.bank_place() is not None:
            values["bank_voltage"] = bank_voltage
        return self.supply.system.start(**values)


class Presser(PressedSupply):
    """Presses of one supply that share its settled state and its modes."""

    def set_to(self, setting: Setting) -> "Presser":
        """The same supply with another bank, flux or warmth; dial and delay stay."""
        other = copy.copy(self)
        other.setting = dataclasses.replace(setting, dial=self.setting.dial, delay=self.setting.delay)
        return other

    def rested(self, trigger: Trigger) -> tuple[Stepper, float]:
        """The supply at the moment of the next press, and that moment [s on the mains clock]."""
        ended = trigger.ended * self.period
        start = self._start_of(ended + trigger.pause, trigger.phase)
        commands = [(ended, self.numbers["gate off"])] if self.contactor else self._gate(0.0, ended)
        stepper = self._stepper(self.before.state, self.before.signature, (0.0, start), commands)
        stepper.run_to(min(ended + 2.0 * self.period, start))
        stepper.run_to(start, quick=True)
        return stepper, start

    def _start_of(self, earliest: float, phase: float) -> float:
        """The first moment with this phase after the pause."""
        return (math.ceil(earliest / self.period - phase) + phase) * self.period

    def resting_after(self, trigger: Trigger, *, polarity: bool = True) -> Rest:
        """The supply resting at the moment of the next press, as the setting wants its bank and its core.

        ``polarity`` asks for that of the last conduction too.
        """
        stepper, start = self.rested(trigger)
        state, signature = self._as_set(self.state_of(stepper), self.signature_of(stepper))
        return Rest(state, signature, start, last_polarity(stepper.trace()) if polarity else 0, trigger)

    def _as_set(self, state: np.ndarray, signature: tuple[int, ...]) -> tuple[np.ndarray, tuple[int, ...]]:
        """A resting state with the bank and the flux that the setting asks for."""
        place = self.bank_place()
        bled = 0.0 if place is None else float(state[place])
        held = {"bled": bled, "charged": self.charged(), "empty": 0.0}[self.setting.bank]
        if self.setting.flux_linkage is not None:
            return self.resting(self.setting.flux_linkage, held)
        if place is not None:
            state[place] = held
        return state, signature

    def press(self, trial: int, trigger: Trigger) -> tuple[Press, Trace]:
        """One press, by the scenario's own rule of firing."""
        asks = self.rule is not None and self.rule.polarity != "any"
        rest = self.resting_after(trigger, polarity=asks)
        return self.press_from(rest, self.rule, trial=trial)

    def press_from(
        self, rest: Rest, rule: FirstFire | None = None, *, trial: int = 0, length: float | None = None
    ) -> tuple[Press, Trace]:
        """A press from a resting supply under a rule of first firing; None: at the dial's delay from the trigger on.

        ``length`` [s] in place of what shows what the press does.
        """
        length = length or looked_at(self.scenario.soft_start, rule, 1.0 / self.period)
        soft = self.soft_after(rest.trigger.pause)
        stepper = self.pressed(rest, rule, end=rest.start + length, soft=soft)
        trace = stepper.trace()
        at_start = starting_values(trace)
        trigger = rest.trigger
        press = Press(
            trial,
            360.0 * trigger.ended,
            trigger.pause,
            360.0 * trigger.phase,
            at_start.get("core.flux_linkage", math.nan),
            at_start.get("core.flux_density"),
            at_start.get("bank.voltage"),
            half_cycles(trace, rest.start),
            soft.temperature if soft is not None and soft.thermal else math.nan,
            at_start.get("second_core.flux_linkage", math.nan),
            at_start.get("second_core.flux_density"),
        )
        return press, trace

    def soft_after(self, pause: float) -> SoftStarter | None:
        """The soft start as a press finds it after a pause [s]: its contact, and how warm it still is."""
        starter = settled_starter(self.scenario, self.supply.system, signature=self.before.signature)
        if starter is None:
            return None
        if starter.thermal and starter.closed and self.setting.warm:
            starter.temperature = self._warmed
        if not self.setting.warm:
            starter.temperature, starter.closed = starter.table.ambient, False
        starter.let_go(pause)
        return starter

    @cached_property
    def _warmed(self) -> float:
        """Temperature of a thermistor with relay when the trigger is let go, after a train of presses [degC]."""
        starter = starter_of(self.scenario, self.supply.system)
        assert starter is not None
        on, off = TRAIN
        for k in range(TRAINED):
            trigger = Trigger(k / TRAINED, off, (k * GOLDEN) % 1.0)
            rest = self.resting_after(trigger)
            length = min(on, (starter.table.bypass_delay or on) + starter.table.bounce_time)
            self.pressed(rest, self.rule, end=rest.start + length, soft=starter)
            starter.let_go(on - length)
            if k + 1 < TRAINED:
                starter.closed = False
                starter.let_go(off)
        return starter.temperature

    def resting_at(
        self, phase: float, *, flux_linkage: float = 0.0, bank_voltage: float = 0.0, **second: float
    ) -> Rest:
        """The supply resting with a flux typed in, about to be pressed at a phase (fraction of a period)."""
        state, signature = self.resting(flux_linkage, bank_voltage, **second)
        start, sign = (1.0 + phase) * self.period, (flux_linkage > 0.0) - (flux_linkage < 0.0)
        return Rest(state, signature, start, sign, Trigger(0.0, math.inf, phase))


def carried_over(rest: Rest, plain: PressedSupply, other: PressedSupply) -> Rest:
    """A rest of one supply as a rest of another that has the same states and one part more or less."""
    before, after = plain.supply.system, other.supply.system
    assert before.states == after.states
    segments = dict(zip((element.name for element in before.elements), rest.signature, strict=True))
    return dataclasses.replace(rest, signature=tuple(segments.get(element.name, 0) for element in after.elements))
