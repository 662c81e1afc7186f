"""Rules for the first firings after the trigger closes: random, at a chosen angle, by polarity, or as a ramp."""

import math
from dataclasses import dataclass

from weldsim.parts.phase_control import PhaseControl, gate_pulses
from weldsim.runs.commands import Command

RAMP_START = 170.0  # [deg] where a ramp begins


@dataclass(frozen=True)
class FirstFire:
    """What the control does in the first half cycles; afterwards every half cycle fires at the dial's delay.

    ``angle`` is the delay of the first firing [deg] (None: the dial's own); ``polarity`` is "any", "opposite" or
    "same" to the last half cycle conducted before; ``ramp`` is the number of half cycles in which the delay falls
    from 170 deg to the dial's.
    """

    name: str
    angle: float | None = None
    polarity: str = "any"
    ramp: int = 0

    def delays(self, dial_delay: float, count: int) -> list[float]:
        """Delays of the first ``count`` half cycles [deg]."""
        if self.ramp:
            steps = [RAMP_START + (dial_delay - RAMP_START) * k / self.ramp for k in range(self.ramp)]
            return [*(max(step, dial_delay) for step in steps), *[dial_delay] * max(0, count - self.ramp)][:count]
        first = dial_delay if self.angle is None else self.angle
        return [first, *[dial_delay] * (count - 1)]


def fire_commands(  # noqa: PLR0913 (all by keyword)
    rule: FirstFire,
    control: PhaseControl,
    frequency: float,
    *,
    delay: float,
    span: tuple[float, float],
    last_polarity: int,
    numbers: dict[str, int],
) -> list[Command]:
    """Gate commands of a press from the trigger on, for a digital control that follows a rule.

    The first half cycle counted is the first whose firing angle lies at or after the trigger, with the polarity that
    the rule asks for.
    """
    begin, end = span
    half = 0.5 / frequency
    first_angle = rule.delays(delay, 1)[0]
    k = math.ceil((begin - first_angle / 180.0 * half) / half - 1e-9)
    wanted = {"any": 0, "opposite": -last_polarity, "same": last_polarity}[rule.polarity]
    if wanted and (1 if k % 2 == 0 else -1) != wanted:
        k += 1
    count = max(0, math.ceil(end / half) - k)
    commands: list[Command] = []
    for offset, angle in enumerate(rule.delays(delay, count)):
        positive = (k + offset) % 2 == 0
        gate = "gate" if "gate on" in numbers else ("gate plus" if positive else "gate minus")
        for on, off in gate_pulses(control, frequency, delay=angle, negative=not positive):
            at = (k + offset) * half
            commands += [(at + on, numbers[f"{gate} on"]), (at + off, numbers[f"{gate} off"])]
    return [command for command in sorted(commands) if begin <= command[0] < end]
