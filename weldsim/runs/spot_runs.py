"""Many spots of one supply under one condition: with the wire, or on a load such as the work of a resistance welder."""

import dataclasses
import math
from collections.abc import Callable, Iterator
from typing import Any

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.trigger import Trigger, synchronised, timeline
from weldsim.runs.first_fire import FirstFire, rule_of
from weldsim.runs.left_over import Left, left_by
from weldsim.runs.power import power_commands, switched
from weldsim.runs.sequence_runs import Pulse, Sequencer, timers
from weldsim.runs.soft_start import starter_of
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
    at_once: bool = False  # without the scenario's soft start, whatever its kind
    pause: float | None = None  # [s] from spot to spot, each with what the one before it left; None: each from rest


def has_wire(scenario: Scenario) -> bool:
    """Whether spots are made with the wire; without a [wire] they are made on the load."""
    return scenario.wire is not None


def bench_under(
    scenario: Scenario,
    condition: Condition,
    *,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
) -> "WireBench | LoadBench":
    """The supply that makes the spots of a condition, and what had to be assumed for it."""
    if condition.winding_temperature is not None:
        warm: dict[str, object] = {"transformer.winding_temperature": condition.winding_temperature}
        if scenario.second_transformer is not None:
            warm["second_transformer.winding_temperature"] = condition.winding_temperature
        scenario = vary(scenario, warm)
    if condition.at_once:
        scenario = dataclasses.replace(scenario, soft_start=None)
    if has_wire(scenario):
        return WireBench(Sequencer(scenario, dial=dial, delay=delay, feed=feed))
    return LoadBench(scenario, dial=dial, delay=delay)


def spots_under(
    bench: "WireBench | LoadBench", condition: Condition, *, trigger: Trigger, count: int, seed: int
) -> Iterator[Pulse]:
    """Spots 0 .. count - 1 under a condition, as they are made; draws are keyed by seed and number."""
    table = dataclasses.replace(trigger, timer=condition.timer)
    left: Left | None = None
    for trial in range(count):
        pulse, leave = bench.spot(
            seed=seed, trial=trial, trigger=table, mains_factor=condition.mains_factor, rule=condition.rule, after=left
        )
        if left is not None:
            pulse = dataclasses.replace(
                pulse,
                bank_voltage=left.bank_voltage,
                flux_linkage=left.flux_linkage,
                second_flux_linkage=left.second_flux_linkage,
                thermistor=left.thermistor,
            )
        yield pulse
        left = leave(condition.pause) if condition.pause is not None and trial + 1 < count else None


class WireBench:
    """A supply that makes its spots with the wire."""

    def __init__(self, maker: Sequencer) -> None:
        self.maker, self.remark = maker, maker.remark

    def spot(self, *, seed: int, trial: int, trigger: Trigger, **how: Any) -> tuple[Pulse, Callable[[float], Left]]:
        """One spot, and what it leaves after a pause [s]; ``how`` as in ``Sequencer.run``."""
        sequence = self.maker.run(seed=seed, trial=trial, trigger=trigger, **how)
        return sequence.pulses[0], sequence.left


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
        self,
        *,
        seed: int,
        trial: int,
        trigger: Trigger,
        mains_factor: float = 1.0,
        rule: FirstFire | None = None,
        after: Left | None = None,
    ) -> tuple[Pulse, Callable[[float], Left]]:
        """One spot, exact to rounding, and what it leaves after a pause [s].

        From what the one ``after`` which it comes has left, or from the scenario's own start.
        """
        phase, frequency = phase_of(seed, trial), self.scenario.mains.frequency
        (power,) = timeline(timers(seed, trial, trigger)).power
        if trigger.timer != "free":
            power = synchronised(power, frequency=frequency, phase=phase)
        begin = phase / frequency
        span = (begin + power[0], begin + power[1])
        commands, fired, polarity = power_commands(
            self.scenario,
            self.supply.system,
            delay=self.delay,
            spans=(span,),
            rule=rule or self.rule,
            last_polarity=after.polarity if after is not None else 0,
        )
        whole = (begin, span[1] + AFTER)
        if after is None:
            (state, signature), starter = self.supply.rest(), starter_of(self.scenario, self.supply.system)
        else:
            state, signature, starter = after.state, after.signature, after.starter()
        if starter is not None:
            signature = starter.onto(signature)
        stepper = self.supply.stepper(state, signature, whole, delay=None, extra=commands, mains_factor=mains_factor)
        if starter is None:
            stepper.run_to(whole[1])
        else:
            starter.follow((span,))
            starter.advance(stepper, whole[1])
        integrals = stepper.trace().integrals()
        direct = self.scenario.rectifier is not None
        charge = integrals.mean("output.current") * (whole[1] - whole[0]) if direct else math.nan
        energy = sum(integrals.energies()["load"].values())
        pulse = Pulse(trial, power, fired[0], math.nan, math.nan, charge, energy, 0, 0, 0, math.nan, "")
        return pulse, lambda pause: left_by(stepper, starter, ended=span[1], pause=pause, polarity=polarity)
