"""Timed commands of a run: what the gate is given and when the programmed shorts come.

Times are on the mains clock [s], where 0 is a rising zero crossing of the ideal source; the engine sees only pairs of a
time and an event number.
"""

import dataclasses
import functools
import math
from collections.abc import Iterator

import numpy as np

from weldsim.frozen import dataclass
from weldsim.network.system import SwitchedSystem
from weldsim.parts.phase_control import PhaseControl, delay_angle, gate_pulses
from weldsim.runs.asked import check_setting
from weldsim.scenario.document import Scenario

Command = tuple[float, int]

NO_PAUSE = 1e-9  # [s] pulses nearer to each other than this touch
NONE = np.zeros((0, 2))


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
    check_setting(dial, delay)
    control = scenario.phase_control
    if control is None or (control.dial_kind == "rc-diac" and delay is None):
        return None
    return delay if delay is not None else delay_angle(control, scenario.mains.frequency, dial=dial)


def with_dial(scenario: Scenario, dial: float | None) -> Scenario:
    """The scenario at a dial setting, where the circuit itself makes the delay of it; else as it is."""
    check_setting(dial, None)
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
    pressed: bool = False,
) -> list[Command]:
    """Gate commands of every half cycle that touches a span; commands before its beginning are left out.

    Where the trigger is ``pressed`` at its beginning, a pulse under way begins there.
    """
    table = gate_table(scenario, system, delay=delay, span=span, onset=onset, pressed=pressed)
    return list(zip(table[:, 0].tolist(), table[:, 1].astype(np.int64).tolist(), strict=True))


def gate_table(
    scenario: Scenario,
    system: SwitchedSystem,
    *,
    delay: float | None,
    span: tuple[float, float],
    onset: Onset | None = None,
    pressed: bool = False,
) -> np.ndarray:
    """The same as rows (time, event), in their order; nobody may write to them."""
    if scenario.phase_control is None or delay is None:
        return NONE
    events = tuple(event.name for event in system.events)
    return _gate_table(scenario.phase_control, scenario.mains.frequency, events, delay, span, onset, pressed)


@functools.lru_cache(maxsize=8)
def _gate_table(  # noqa: PLR0913, PLR0917 (as handed on)
    control: PhaseControl,
    frequency: float,
    events: tuple[str, ...],
    delay: float,
    span: tuple[float, float],
    onset: Onset | None,
    pressed: bool,
) -> np.ndarray:
    """The gate's commands, remembered: a search for the steady state asks for those of one period again and again."""
    numbers, (begin, end) = {name: number for number, name in enumerate(events)}, span
    longest = control.pulse_width if control.pulse_kind == "single" else 0.0
    halves = np.arange(math.floor(2.0 * frequency * (begin - longest)) - 3, math.ceil(2.0 * frequency * end) + 1)
    driven: dict[str, list[np.ndarray]] = {}
    for asked, group in _by_delay(halves, delay, onset):
        for negative in (False, True):
            own = group[group % 2 == int(negative)]
            pulses = _pulses(control, frequency, asked, negative) if len(own) else NONE
            if len(pulses):
                gate = ("gate minus" if negative else "gate plus") if "gate plus on" in numbers else "gate"
                spans = (own / (2.0 * frequency))[:, None, None] + pulses
                driven.setdefault(gate, []).append(spans.reshape(-1, 2))
    tables = [NONE]
    if "trigger off" in numbers:  # degrees asked for in place of what a resistor, a capacitor and a diac would make
        tables = [np.array([(begin, numbers["trigger off"])])]
    for gate, parts in driven.items():
        joined = _joined(np.concatenate(parts))
        if pressed:
            joined[(joined[:, 0] < begin) & (begin < joined[:, 1]), 0] = begin
        tables.append(np.empty((joined.size, 2)))
        tables[-1][:, 0] = joined.ravel()
        tables[-1][0::2, 1], tables[-1][1::2, 1] = numbers[f"{gate} on"], numbers[f"{gate} off"]
    table = tables[-1]
    if len(tables) > 2 or len(tables[0]):
        table = np.concatenate(tables)
        table = table[np.lexsort((table[:, 1], table[:, 0]))]
    first, last = np.searchsorted(table[:, 0], (begin, end))
    found = table[first:last]
    found.flags.writeable = False
    return found


class RepeatedGate:
    """The gate's commands at one delay throughout: those of a single mains period, again and again."""

    def __init__(self, scenario: Scenario, system: SwitchedSystem, *, delay: float | None) -> None:
        numbers = event_numbers(system)
        self.period = 1.0 / scenario.mains.frequency
        table = gate_table(scenario, system, delay=delay, span=(0.0, 3.0 * self.period))
        table = table[table[:, 1] != numbers.get("trigger off", -1)]
        times = table[:, 0]
        edges = np.concatenate(([0.0], times, [3.0 * self.period]))
        wait = int(np.argmax(np.diff(edges)))
        cut = 0.5 * (edges[wait] + edges[wait + 1]) % self.period  # where no command is near, lest rounding lose one
        first, last = np.searchsorted(times, (cut + self.period, cut + 2.0 * self.period))
        self.table = table[first:last] - (self.period, 0.0)

    def over(self, begin: float, end: float) -> np.ndarray:
        """The commands of a span as rows (time, event), in their order."""
        periods = np.arange(math.floor(begin / self.period) - 1, math.ceil(end / self.period) + 1)
        rows = np.empty((len(periods), *self.table.shape))
        rows[:] = self.table
        rows[:, :, 0] += (periods * self.period)[:, None]
        rows = rows.reshape(-1, 2)
        first, last = np.searchsorted(rows[:, 0], (begin, end))
        return rows[first:last]


@functools.lru_cache(maxsize=64)
def _pulses(control: PhaseControl, frequency: float, delay: float, negative: bool) -> np.ndarray:
    """Pulses of one half cycle as rows (begin, end) [s from its zero crossing]."""
    return np.array(gate_pulses(control, frequency, delay=delay, negative=negative)).reshape(-1, 2)


def _by_delay(halves: np.ndarray, delay: float, onset: Onset | None) -> Iterator[tuple[float, np.ndarray]]:
    """Half cycles in groups of one delay [deg]; those before the first one that fires are left out."""
    if onset is None:
        yield delay, halves
        return
    places = halves - onset.half_cycle
    for place, asked in enumerate(onset.delays):
        yield asked, halves[places == place]
    yield delay, halves[places >= len(onset.delays)]


def _joined(spans: np.ndarray) -> np.ndarray:
    """Pulses in their order; those that touch or overlap are one, or the end of the first would end the second."""
    if (spans[1:, 0] > spans[:-1, 1] + NO_PAUSE).all() and (spans[:, 1] >= spans[:, 0]).all():
        return spans
    spans = spans[np.argsort(spans[:, 0])]
    reach = np.maximum.accumulate(spans[:, 1])
    breaks = np.flatnonzero(spans[1:, 0] > reach[:-1] + NO_PAUSE)
    if len(breaks) == len(spans) - 1:
        return spans
    return np.column_stack((spans[np.append(0, breaks + 1), 0], reach[np.append(breaks, len(spans) - 1)]))


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
