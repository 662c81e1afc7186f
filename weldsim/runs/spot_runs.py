"""Many spots of one supply under one condition: with the wire, or on a load such as the work of a resistance welder."""

import dataclasses
import math
from dataclasses import dataclass

from weldsim.errors import QuestionError
from weldsim.parts.trigger import Trigger, synchronised, timeline
from weldsim.runs.first_fire import FirstFire, rule_of
from weldsim.runs.power import power_commands, switched
from weldsim.runs.sequence_runs import Pulse, Sequencer, timers
from weldsim.runs.supply import Supply
from weldsim.runs.wire_runs import phase_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary

AFTER = 0.3  # [s] in which bank and choke empty themselves into a load after the power


@dataclass(frozen=True)
class Condition:
    """What is different in one row of spots.  ``rule`` None: the scenario's own rule of the first firings."""

    name: str
    timer: str = "free"
    rule: FirstFire | None = None
    winding_temperature: float | None = None  # [degC]
    mains_factor: float = 1.0


def has_wire(scenario: Scenario) -> bool:
    """Whether spots are made with the wire; without a [wire] they are made on the load."""
    return scenario.wire is not None


def spots_under(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    condition: Condition,
    *,
    trigger: Trigger,
    count: int,
    seed: int,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
) -> tuple[list[Pulse], str]:
    """Spots 0 .. count - 1 under a condition, and what had to be assumed; draws are keyed by seed and number."""
    if condition.winding_temperature is not None:
        scenario = vary(scenario, {"transformer.winding_temperature": condition.winding_temperature})
    table = dataclasses.replace(trigger, timer=condition.timer)
    factor, rule = condition.mains_factor, condition.rule
    if has_wire(scenario):
        maker = Sequencer(scenario, dial=dial, delay=delay, feed=feed)
        runs = (
            maker.run(seed=seed, trial=trial, trigger=table, mains_factor=factor, rule=rule) for trial in range(count)
        )
        return [run.pulses[0] for run in runs], maker.remark
    bench = LoadBench(scenario, dial=dial, delay=delay)
    return [
        bench.spot(seed=seed, trial=trial, trigger=table, mains_factor=factor, rule=rule) for trial in range(count)
    ], bench.remark


class LoadBench:
    """A supply that makes its spots on the load of its scenario."""

    def __init__(self, scenario: Scenario, *, dial: float | None, delay: float | None) -> None:
        if scenario.load is None:
            raise QuestionError(
                "there is neither a wire nor a load to make a spot on", place="load", advice="add a [wire] or a [load]"
            )
        self.scenario, self.remark = switched(scenario, dial=dial, delay=delay)
        self.supply = Supply(self.scenario)
        self.delay = None if scenario.phase_control is None else self.supply.delay(dial, delay)
        self.rule = rule_of(scenario.soft_start)

    def spot(
        self, *, seed: int, trial: int, trigger: Trigger, mains_factor: float = 1.0, rule: FirstFire | None = None
    ) -> Pulse:
        """One spot from the scenario's own start, exact to rounding."""
        phase, frequency = phase_of(seed, trial), self.scenario.mains.frequency
        (power,) = timeline(timers(seed, trial, trigger)).power
        if trigger.timer != "free":
            power = synchronised(power, frequency=frequency, phase=phase)
        begin = phase / frequency
        span = (begin + power[0], begin + power[1])
        commands, fired = power_commands(
            self.scenario, self.supply.system, delay=self.delay, spans=(span,), rule=rule or self.rule
        )
        whole = (begin, span[1] + AFTER)
        state, signature = self.supply.rest()
        stepper = self.supply.stepper(state, signature, whole, delay=None, extra=commands, mains_factor=mains_factor)
        stepper.run_to(whole[1])
        integrals = stepper.trace().integrals()
        direct = self.scenario.rectifier is not None
        charge = integrals.mean("output.current") * (whole[1] - whole[0]) if direct else math.nan
        energy = sum(integrals.energies()["load"].values())
        return Pulse(trial, power, fired[0], math.nan, math.nan, charge, energy, 0, 0, 0, math.nan, "")
