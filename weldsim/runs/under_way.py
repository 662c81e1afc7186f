"""A run under way, from rest or from a settled state, given its timed commands part by part.

The commands of an hour would fill as much memory as its waveforms; nothing here grows with the length of a run.
"""

import dataclasses
import math
from collections.abc import Iterator

from weldsim.engine.simulate import Stepper, most_changes
from weldsim.runs.asked import check_lengths
from weldsim.runs.commands import Onset, gate_commands, short_commands
from weldsim.runs.first_fire import onset_of, rule_of
from weldsim.runs.soft_start import SoftStarter, settled_starter, starter_of
from weldsim.runs.steady import Settled
from weldsim.runs.supply import Supply

FROM_REST = 1.0  # [s] recorded where nothing is said
STEADY_PERIODS = 10  # likewise, from the settled state
WINDOW = 0.2  # [s] the last part of a run from rest, of which its figures speak
PART = 1.0  # [s] simulated at a time


@dataclasses.dataclass
class UnderWay:
    """A run with what was asked of it; ``begin``, ``end`` and ``scheduled`` are on the mains clock [s]."""

    supply: Supply
    stepper: Stepper
    delay: float | None
    settled: Settled | None
    begin: float
    length: float
    window: float
    scheduled: float
    soft_start: SoftStarter | None = None
    onset: Onset | None = None

    @property
    def end(self) -> float:
        """Where the run ends."""
        return self.begin + self.length

    def run_to(self, end: float) -> None:
        """Simulate up to an instant of the mains clock [s], with the gate driven and the shorts made on the way."""
        begin, system = self.scheduled, self.supply.system
        end = max(end, begin)
        pressed = self.settled is None and begin == self.begin
        commands = gate_commands(
            self.supply.scenario, system, delay=self.delay, span=(begin, end), onset=self.onset, pressed=pressed
        )
        if self.settled is None:
            commands += short_commands(
                self.supply.scenario, system, begin=self.begin, length=end - self.begin, after=begin - self.begin
            )
        self.stepper.schedule([command for command in commands if begin <= command[0] < end])
        self.stepper.control[13] += most_changes(end - begin)
        self.scheduled = end
        if self.soft_start is None:
            self.stepper.run_to(end)
        else:
            self.soft_start.advance(self.stepper, end)

    def parts_to(self, end: float) -> Iterator[tuple[float, float]]:
        """Simulate up to an instant in parts; gives the span of each [s], and forgets it when the next one is due."""
        first = self.scheduled
        count = math.ceil((end - first) / PART - 1e-9)
        for k in range(count):
            begin = self.scheduled
            self.run_to(end if k + 1 == count else first + (end - first) * (k + 1) / count)
            yield begin, self.scheduled
            self.stepper.forget()


def begin_run(
    supply: Supply,
    *,
    delay: float | None,
    settled: Settled | None,
    duration: float | None,
    window: float | None,
    mains_factor: float = 1.0,
) -> UnderWay:
    """A run that has not moved yet: from the settled state where there is one, else from the scenario's own start."""
    check_lengths(duration=duration, window=window)
    scenario = supply.scenario
    if settled is None:
        state, signature = supply.rest()
        begin = scenario.start.mains_phase / 360.0 * supply.period
        length = duration or max(FROM_REST, window or 0.0)
        window = window or WINDOW
        soft_start = starter_of(scenario, supply.system)
    else:
        state, signature, begin, mains_factor = settled.state, settled.signature, 0.0, settled.source_factor
        length = duration or window or STEADY_PERIODS * supply.period
        window = window or length
        soft_start = settled_starter(scenario, supply.system, signature=signature)
    if soft_start is not None:
        signature = soft_start.onto(signature)
    stepper = supply.stepper(state, signature, (begin, begin), delay=None, mains_factor=mains_factor)
    begin = stepper.begin * supply.library.quantum
    onset = None
    if settled is None:  # switched on there, which is when a trigger closes
        onset = onset_of(rule_of(scenario.soft_start), scenario.mains.frequency, delay=delay, trigger=begin)
        if soft_start is not None:
            soft_start.pressed(begin)
    return UnderWay(
        supply, stepper, delay, settled, begin, length, min(window, length), begin, soft_start=soft_start, onset=onset
    )
