"""A train of trigger presses as one simulation, with remanence, bank charge and soft start carried through."""

import math
from collections.abc import Callable

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.flux_left import Driven, driven, starting_values
from weldsim.runs.half_cycles import HalfCycle, half_cycles, last_polarity
from weldsim.runs.presses import Presser, Rest, Setting, Trigger
from weldsim.runs.soft_start import starter_of
from weldsim.scenario.document import Scenario

JITTER = 0.5  # of a period: the trigger knows nothing of the mains


@dataclass(frozen=True)
class DrillPress:
    """One press of a drill."""

    number: int
    begin: float  # [s] on the clock of the mains
    end: float  # [s] when the trigger is let go
    phase: float  # [deg]
    flux_linkage: float  # [V s] in the core at the trigger
    bank_voltage: float  # [V] at the trigger; nan: there is no bank
    half_cycles: tuple[HalfCycle, ...]
    rms: float  # [A] primary current over the press
    thermistor: float = math.nan  # [degC] at the trigger; nan: there is none
    heat: float = 0.0  # [J] that the press leaves in the series resistance
    softened: bool = False  # whether a series resistance stood in the way at the trigger
    second_flux_linkage: float = math.nan  # [V s] in the second core at the trigger; nan: there is none
    driven: tuple[Driven, ...] = ()  # how far it drives each core

    @property
    def largest(self) -> float:
        """Largest half-cycle peak [A]."""
        return max((half.peak for half in self.half_cycles), default=0.0)


def drill(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    presses: int,
    times: tuple[float, float],
    seed: int,
    dial: float | None = None,
    delay: float | None = None,
    progress: Callable[[int, int, str], None],
) -> list[DrillPress]:
    """Simulate the train from the scenario's own start; ``times`` are those on and off [s]."""
    presser = Presser(scenario, Setting(dial, delay))
    draws = np.random.Generator(np.random.Philox(np.random.SeedSequence((seed, 0))))
    shifts = draws.random(2 * presses) * 2.0 * JITTER * presser.period
    begins = [k * (times[0] + times[1]) + shifts[2 * k] for k in range(presses)]
    ends = [begin + times[0] + shifts[2 * k + 1] * (times[1] > 2.0 * presser.period) for k, begin in enumerate(begins)]
    state, signature = presser.supply.rest()
    soft = starter_of(presser.scenario, presser.supply.system)
    found, now, polarity = [], 0.0, 0
    for k, (begin, end) in enumerate(zip(begins, ends, strict=True)):
        state, signature = presser.continued(state, signature, (now, begin))
        if soft is not None:
            soft.let_go(begin - now)
        warm = soft.temperature if soft is not None and soft.thermal else math.nan
        softened = soft is not None and not soft.closed
        rest = Rest(state, signature, begin, polarity, Trigger(0.0, begin - now, begin / presser.period % 1.0))
        stepper = presser.pressed(rest, presser.rule, end=end, soft=soft)
        trace = stepper.trace()
        start, whole = starting_values(trace), trace.integrals(begin, end)
        found.append(
            DrillPress(
                number=k + 1,
                begin=begin,
                end=end,
                phase=360.0 * (begin / presser.period % 1.0),
                flux_linkage=start.get("core.flux_linkage", math.nan),
                bank_voltage=start.get("bank.voltage", math.nan),
                half_cycles=half_cycles(trace, begin),
                rms=whole.rms("primary.current"),
                thermistor=warm,
                softened=softened,
                heat=whole.product("soft_start.voltage", "soft_start.current") if soft is not None else 0.0,
                second_flux_linkage=start.get("second_core.flux_linkage", math.nan),
                driven=tuple(driven(presser.scenario, trace)),
            )
        )
        state, signature, now = presser.state_of(stepper), presser.signature_of(stepper), end
        polarity = last_polarity(trace) or polarity
        progress(k + 1, presses, "presses")
    return found
