"""Rules for the first firings after the trigger closes: random, at a chosen angle, by polarity, or as a ramp."""

import math

from weldsim.frozen import dataclass
from weldsim.parts.soft_start import POLARITIES, SoftStart, firing_delays, soft_start_lasts
from weldsim.runs.commands import Onset

RAMP_START = 170.0  # [deg] where a ramp begins
LOOKED_AT = 0.06  # [s] of each press, from the end of its soft start on


@dataclass(frozen=True)
class FirstFire:
    """What the control does in the first half cycles; afterwards every half cycle fires at the dial's delay.

    ``angle`` is the delay of the first firing [deg] (None: the dial's own); ``polarity`` is "any", "opposite" or
    "same" to the last half cycle conducted before; ``ramp`` is the number of half cycles in which the delay falls
    from ``ramp_start`` [deg] to the dial's.
    """

    name: str
    angle: float | None = None
    polarity: str = "any"
    ramp: int = 0
    ramp_start: float = RAMP_START

    def delays(self, dial_delay: float) -> tuple[float, ...]:
        """Delays of the first half cycles, as far as they differ from the dial's [deg]."""
        table = self.as_soft_start()
        return tuple(firing_delays(table, dial_delay, count=self.ramp or (self.angle is not None)))

    def as_soft_start(self) -> SoftStart:
        """The same rule as a table of a scenario."""
        if self.ramp:
            return SoftStart(kind="ramp", half_cycles=self.ramp, start_delay=self.ramp_start, polarity=self.polarity)
        return SoftStart(kind="first fire", first_delay=self.angle, polarity=self.polarity)


def rule_of(soft_start: SoftStart | None) -> FirstFire | None:
    """The rule that a scenario's own [soft_start] asks for; None where it is none of the firing."""
    if soft_start is None or soft_start.kind not in ("ramp", "first fire"):
        return None
    if soft_start.kind == "ramp":
        return FirstFire(
            soft_start.kind,
            polarity=soft_start.polarity,
            ramp=soft_start.half_cycles or 1,
            ramp_start=soft_start.start_delay,
        )
    return FirstFire(soft_start.kind, angle=soft_start.first_delay, polarity=soft_start.polarity)


def looked_at(soft_start: SoftStart | None, rule: FirstFire | None, frequency: float) -> float:
    """How much of a press shows what it does [s]: 60 ms, and before them as long as relay or ramp soften it.

    >>> looked_at(None, None, 50.0), looked_at(None, FirstFire("ramp", ramp=20), 50.0)
    (0.06, 0.26)
    """
    ramp = rule.as_soft_start() if rule is not None else None
    return LOOKED_AT + max(soft_start_lasts(one, frequency=frequency) for one in (soft_start, ramp))


def onset_of(
    rule: FirstFire | None, frequency: float, *, delay: float | None, trigger: float, last_polarity: int = 0
) -> Onset | None:
    """How the firing begins for a digital control that follows a rule; None without a rule.

    The first half cycle counted is the first whose firing angle lies at or after the trigger [s on the mains clock],
    with the polarity that the rule asks for.
    """
    if rule is None or delay is None:
        return None
    half = 0.5 / frequency
    delays = rule.delays(delay)
    first_angle = delays[0] if delays else delay
    k = math.ceil((trigger - first_angle / 180.0 * half) / half - 1e-9)
    wanted = POLARITIES[rule.polarity] * last_polarity
    if wanted and (1 if k % 2 == 0 else -1) != wanted:
        k += 1
    return Onset(k, delays)
