"""A soft start at work: its contact through a press and after it, and the temperature of its thermistor.

The circuit holds the thermistor's resistance in steps.  While current flows its heat is added up over a tenth of a
half cycle, exactly, and the step is put in that is nearest (by ratio) to its resistance in the middle of the next
tenth, if it goes on warming as it did; nothing else is approximated.
"""

import math
from collections.abc import Sequence

import numpy as np

from weldsim.engine.simulate import Stepper
from weldsim.engine.trace import Trace
from weldsim.network.system import SwitchedSystem
from weldsim.network.wiring_soft_start import (
    BYPASSED,
    HOTTEST,
    NAME,
    STEPS,
    in_series,
    step_name,
    step_resistances,
)
from weldsim.parts.soft_start import SoftStart, contact_times, skips_soft_start
from weldsim.parts.thermistor import (
    thermistor_cooled,
    thermistor_resistance,
    thermistor_settled,
    thermistor_temperature,
    thermistor_warmed,
)
from weldsim.runs.commands import event_numbers
from weldsim.scenario.document import Scenario

SLICES = 10  # of a half cycle
__all__ = ["HOTTEST", "STEPS", "SoftStarter", "in_series", "settled_starter", "starter_of"]


class SoftStarter:
    """The series resistance of one supply through its presses; ``temperature`` [degC] and heat of a press [J]."""

    def __init__(self, soft_start: SoftStart, system: SwitchedSystem, *, temperature: float | None = None) -> None:
        self.table, self.system = soft_start, system
        self.thermal = soft_start.kind == "ntc"
        self.temperature = soft_start.ambient if temperature is None else temperature
        self.energy = 0.0
        self.closed = False
        self.contacts: list[tuple[float, bool]] = []
        self.numbers = event_numbers(system)
        self.element = [element.name for element in system.elements].index(NAME)
        self.resistances = step_resistances(soft_start)
        self._slice = 0.5 / system.frequency / SLICES
        self._step = self._nearest()

    def _nearest(self, ahead: float = 0.0) -> int:
        """Number of the step whose resistance is nearest, by ratio, to that at ``ahead`` [K] above the temperature."""
        if not self.thermal:
            return 0
        cold, hot = self.resistances[0], self.resistances[-1]
        now = thermistor_resistance(self.table, temperature=min(self.temperature + ahead, HOTTEST))
        place = math.log(now / cold) / math.log(hot / cold) * (len(self.resistances) - 1)
        return min(max(round(place), 0), len(self.resistances) - 1)

    def onto(self, signature: Sequence[int]) -> tuple[int, ...]:
        """The signature with the soft start as it stands now; its current is not changed by that."""
        names = self.system.elements[self.element].segments
        self._step = self._nearest()
        here = names.index(BYPASSED) if self.closed else self._step
        return (*signature[: self.element], here, *signature[self.element + 1 :])

    def pressed(self, trigger: float) -> None:
        """The trigger closes [s on the mains clock]; a contact that is still closed stays so."""
        self.energy = 0.0
        if not self.closed:
            self.contacts = [(trigger + after, closes) for after, closes in contact_times(self.table)]

    def follow(self, spans: Sequence[tuple[float, float]]) -> None:
        """The trigger closes and opens at these times [s on the mains clock]; contacts open a release time later."""
        self.energy, closed = 0.0, self.closed
        self.contacts = []
        for begin, end in spans:
            if self.contacts and closed and self.contacts[-1][0] > begin:
                self.contacts.pop()  # still closed from the span before
            elif self.contacts or not closed:
                times = [(begin + after, closes) for after, closes in contact_times(self.table)]
                self.contacts += [(time, closes) for time, closes in times if time < end]
                closed = bool(self.contacts) and self.contacts[-1][1]
            if closed:
                self.contacts.append((end + self.table.release_time, False))

    def let_go(self, pause: float, *, since: float = 0.0) -> None:
        """The next press comes after a pause [s] without current; the trigger opened ``since`` [s] before it."""
        self.contacts = []
        self.closed = self.closed and skips_soft_start(self.table, pause=since + pause)
        if self.thermal:
            self.temperature = thermistor_cooled(self.table, self.temperature, pause=pause)

    def advance(self, stepper: Stepper, end: float, *, walk: "Walk | None" = None) -> None:
        """Run to ``end`` [s on the mains clock], the contact and the thermistor at work; ``walk`` moves the stepper."""
        walk = walk or Walk(stepper)
        while self.contacts and self.contacts[0][0] <= end and not walk.over:
            at, closes = self.contacts.pop(0)
            self._run(walk, max(at, stepper.now))
            self.closed = closes
            self._step = self._nearest()
            event = "soft start bypass" if closes else step_name(self._step)
            stepper.schedule([(stepper.now, self.numbers[event])])
        self._run(walk, end)

    def _run(self, walk: "Walk", end: float) -> None:
        """Run with the contact as it is."""
        begin = walk.stepper.now
        if self.thermal and not self.closed:
            self._warm(walk, end)
            return
        walk.run_to(end)
        if self.thermal:
            self.temperature = thermistor_cooled(self.table, self.temperature, pause=max(end - begin, 0.0))

    def _warm(self, walk: "Walk", end: float) -> None:
        """Run in slices, each of which warms the thermistor."""
        stepper = walk.stepper
        begin, count = stepper.now, max(0, math.ceil((end - stepper.now) / self._slice - 1e-6))
        for k in range(count):
            since = stepper.now
            square = walk.square_to(end if k + 1 == count else begin + (k + 1) * self._slice)
            if walk.over or stepper.now <= since:
                break
            before = self.temperature
            self.take(square, stepper.now - since)
            if self._step != (step := self._nearest(0.5 * (self.temperature - before))):
                self._step = step
                stepper.schedule([(stepper.now, self.numbers[step_name(step)])])

    def take(self, i2t: float, duration: float) -> None:
        """Warm the thermistor by a current's square over a time [A2 s, s]."""
        warming = thermistor_warmed(self.table, self.temperature, i2t=i2t, duration=duration)
        self.temperature, self.energy = warming.temperature, self.energy + warming.energy


class Walk:
    """How a stepper is moved, and what current squared passes the soft start on the way."""

    def __init__(self, stepper: Stepper) -> None:
        self.stepper = stepper
        self.over = False  # whether the run has come to an end of its own

    def run_to(self, end: float) -> None:
        """Move to an instant [s on the mains clock]."""
        self.stepper.run_to(end)

    def square_to(self, end: float) -> float:
        """Move to an instant; the exact integral of the squared current until there [A2 s]."""
        stepper = self.stepper
        pieces, time, mode = (int(stepper.control[k]) for k in (4, 0, 1))
        state = stepper.x.copy()
        self.run_to(end)
        log, since = stepper.log, slice(pieces, int(stepper.control[4]))
        trace = Trace(
            stepper.library,
            np.append(time, log.time[since]),
            np.append(mode, log.mode[since]),
            np.append(-1, log.cause[since]),
            np.vstack((state, log.state[since])),
            int(stepper.control[0]),
            stepper.x,
            int(stepper.control[1]),
            float(stepper.account[0]),
        )
        return float(trace.groups(f"{NAME}.current", np.zeros(len(trace.time), dtype=np.int64))[1][0])


def starter_of(scenario: Scenario, system: SwitchedSystem, *, temperature: float | None = None) -> SoftStarter | None:
    """The soft start of a supply before its first press; None where nothing stands in the circuit."""
    soft_start = scenario.soft_start
    if soft_start is None or not in_series(soft_start):
        return None
    return SoftStarter(soft_start, system, temperature=temperature)


def settled_starter(
    scenario: Scenario,
    system: SwitchedSystem,
    *,
    current: float | None = None,
    signature: Sequence[int] | None = None,
) -> SoftStarter | None:
    """The soft start of a supply that has run for long: bypassed, or a thermistor as warm as its current keeps it.

    That is told by ``current``, the primary's [A rms], or by the step in a settled state's ``signature``.
    """
    starter = starter_of(scenario, system)
    if starter is None:
        return None
    if starter.table.bypass_delay is not None:
        starter.closed = True
    elif current is not None:
        starter.temperature = thermistor_settled(starter.table, current=current)
    elif signature is not None:
        warm = starter.resistances[signature[starter.element]]
        starter.temperature = thermistor_temperature(starter.table, resistance=warm)
    return starter
