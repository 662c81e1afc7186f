"""Timed commands of a run: what the gate is given and when the programmed shorts come.

Times are on the mains clock [s], where 0 is a rising zero crossing of the ideal source; the engine sees only pairs of a
time and an event number.
"""

import dataclasses
import math
from dataclasses import dataclass

from weldsim.network.system import SwitchedSystem
from weldsim.parts.phase_control import delay_angle, gate_pulses
from weldsim.scenario.document import Scenario

Command = tuple[float, int]

NO_PAUSE = 1e-9  # [s] pulses nearer to each other than this touch


@dataclass(frozen=True)
class Onset:
    """How the firing begins: the first half cycle that fires, and the delays of it and those after it [deg].

    Half cycles are counted from the mains clock's zero, even ones positive; those beyond the list follow the dial.
    """

    half_cycle: int
    delays: tuple[float, ...] = ()


def event_numbers(system: SwitchedSystem) -> dict[str, int]:
    """Event name -> number."""
    return {event.name: number for number, event in enumerate(system.events)}


def asked_delay(scenario: Scenario, dial: float | None, delay: float | None) -> float | None:
    """Delay angle [deg] that a run asks for; None where there is nothing to delay or the circuit itself decides."""
    control = scenario.phase_control
    if control is None or (control.dial_kind == "rc-diac" and delay is None):
        return None
    return delay if delay is not None else delay_angle(control, scenario.mains.frequency, dial=dial)


def with_dial(scenario: Scenario, dial: float | None) -> Scenario:
    """The scenario at a dial setting, where the circuit itself makes the delay of it; else as it is."""
    control = scenario.phase_control
    if dial is None or control is None or control.dial_kind != "rc-diac":
        return scenario
    return dataclasses.replace(scenario, phase_control=dataclasses.replace(control, dial=dial))


def gate_commands(
    scenario: Scenario,
    system: SwitchedSystem,
    *,
    delay: float | None,
    span: tuple[float, float],
    onset: Onset | None = None,
) -> list[Command]:
    """Gate commands of every half cycle that touches a span; commands before its beginning are left out."""
    control, numbers = scenario.phase_control, event_numbers(system)
    if control is None or delay is None:
        return []
    frequency, (begin, end) = scenario.mains.frequency, span
    pulses = {(delay, sign): gate_pulses(control, frequency, delay=delay, negative=sign < 0) for sign in (1, -1)}
    pair = "gate plus on" in numbers
    driven: dict[str, list[tuple[float, float]]] = {}
    for half in range(math.floor(2.0 * frequency * begin) - 2, math.ceil(2.0 * frequency * end) + 1):
        positive = half % 2 == 0
        gate = ("gate plus" if positive else "gate minus") if pair else "gate"
        now = _delay_in(onset, half, delay)
        if now is None:
            continue
        asked = (now, 1 if positive else -1)
        if asked not in pulses:
            pulses[asked] = gate_pulses(control, frequency, delay=now, negative=not positive)
        crossing = half / (2.0 * frequency)
        driven.setdefault(gate, []).extend((crossing + first, crossing + last) for first, last in pulses[asked])
    commands: list[Command] = []
    for gate, spans in driven.items():
        for first, last in _joined(spans):
            commands += [(first, numbers[f"{gate} on"]), (last, numbers[f"{gate} off"])]
    return [command for command in sorted(commands) if begin <= command[0] < end]


def _delay_in(onset: Onset | None, half_cycle: int, delay: float) -> float | None:
    """Delay of a half cycle [deg]; None where it comes before the first one that fires."""
    if onset is None:
        return delay
    place = half_cycle - onset.half_cycle
    if place < 0:
        return None
    return onset.delays[place] if place < len(onset.delays) else delay


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Pulses in their order; those that touch or overlap are one, or the end of the first would end the second."""
    joined: list[tuple[float, float]] = []
    for first, last in sorted(spans):
        if joined and first <= joined[-1][1] + NO_PAUSE:
            joined[-1] = (joined[-1][0], max(last, joined[-1][1]))
        else:
            joined.append((first, last))
    return joined


def short_commands(
    scenario: Scenario, system: SwitchedSystem, *, begin: float, length: float, after: float = 0.0
) -> list[Command]:
    """Programmed shorts of the load, counted from the beginning of the run; ``after`` [s] of it are over already."""
    load, numbers = scenario.load, event_numbers(system)
    if load is None or load.kind != "shorted arc":
        return []
    count = max(0, math.ceil((length - load.short_start) / load.short_period))
    over = max(0, math.floor((after - load.short_start - load.short_duration) / load.short_period) - 1)
    commands: list[Command] = []
    for k in range(over, count):
        at = begin + load.short_start + k * load.short_period
        commands += [(at, numbers["short on"]), (at + load.short_duration, numbers["short off"])]
    return commands
