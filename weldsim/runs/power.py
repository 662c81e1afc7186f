"""Power switched by a trigger: which gates are driven, from and to when, on any supply."""

import dataclasses
import functools
import math

import numpy as np

from weldsim.errors import QuestionError
from weldsim.network.system import SwitchedSystem
from weldsim.parts.load import Load
from weldsim.parts.phase_control import PhaseControl
from weldsim.parts.trigger import Spans
from weldsim.runs.commands import event_numbers, gate_table
from weldsim.runs.first_fire import FirstFire, onset_of
from weldsim.runs.perform import record
from weldsim.runs.presses import with_switch
from weldsim.scenario.document import Scenario

GATES = ("gate", "gate plus", "gate minus")
AT_ONCE = FirstFire("dial")  # every half cycle at the dial's delay, from the first


def switched(scenario: Scenario, *, dial: float | None = None, delay: float | None = None) -> tuple[Scenario, str]:
    """The scenario with something that its trigger can switch, and what had to be assumed for it.

    A contactor where there is no phase control; a control with the same settled delay in place of a dial with RC and
    diac, whose own first half cycles after the trigger are not followed.

    Raises
    ------
    QuestionError : a dial that never fires.
    """
    control = scenario.phase_control
    if control is None:
        return with_switch(scenario), "There is no phase control: a contactor switches the primary, both ways at once."
    if control.dial_kind != "rc-diac":
        return scenario, ""
    if delay is not None:
        return _digital(scenario, control, delay), ""
    found = settled_delay(scenario, dial)
    return _digital(scenario, control, found), (
        f"The dial with RC and diac fires at {found:.0f} deg once settled: the trigger is taken to fire there from the "
        "first half cycle on."
    )


def _digital(scenario: Scenario, control: PhaseControl, delay: float) -> Scenario:
    """The scenario with a control that fires at one delay."""
    plain = dataclasses.replace(control, dial_kind="linear", delay_at_0=delay, delay_at_100=delay)
    return dataclasses.replace(scenario, phase_control=plain)


@functools.lru_cache(maxsize=8)
def settled_delay(scenario: Scenario, dial: float | None) -> float:
    """Mean delay at which a dial with RC and diac fires once settled on the scenario's load, or on its arc [deg]."""
    if scenario.load is None:
        scenario = dataclasses.replace(scenario, load=Load(kind="wire"))
    recording = record(scenario, dial=dial, start="steady", figures=["output.current"])
    starts, segments = recording.trace.segments("phase_control")
    gated = [segment.startswith(("gated", "ready")) for segment in segments]
    begin, end = recording.window
    fired = [t for t, now, before in zip(starts[1:], gated[1:], gated, strict=False) if now and not before]
    angles = [math.fmod(2.0 * scenario.mains.frequency * t, 1.0) * 180.0 for t in fired if begin <= t < end]
    if not angles:
        raise QuestionError("the dial does not fire at this setting", place="dial", advice="turn it up")
    return float(np.mean(angles))


def power_commands(
    scenario: Scenario,
    system: SwitchedSystem,
    *,
    delay: float | None,
    spans: Spans,
    rule: FirstFire | None = None,
    last_polarity: int = 0,
) -> tuple[np.ndarray, list[int], int]:
    """Gate commands for spans of power on the mains clock [s], as rows (time, event); the half cycles that each span
    fires, and the polarity of the last one.

    A pulse is given, whole, where it begins within a span; the rule of the first firings begins anew with each.
    ``last_polarity`` is that of the last half cycle fired before.
    """
    numbers, frequency = event_numbers(system), scenario.mains.frequency
    tables, counts = [np.zeros((0, 2))], []
    for on, off in spans:
        if delay is None:
            tables.append(np.array([(on, numbers["gate on"]), (off, numbers["gate off"])]))
            counts.append(round(2.0 * frequency * (off - on)))
            continue
        onset = onset_of(rule or AT_ONCE, frequency, delay=delay, trigger=on, last_polarity=last_polarity)
        around = (on - 1.0 / frequency, off + 1.0 / frequency)
        given = gate_table(scenario, system, delay=delay, span=around, onset=onset)
        pulses = [_beginning_within(given, (on, off), gate, numbers) for gate in GATES if f"{gate} on" in numbers]
        tables += [np.concatenate(pair) for pair in pulses]
        begins = np.concatenate([first[:, 0] for first, _ in pulses])
        fired = np.unique(np.floor(2.0 * frequency * begins + 1e-7))
        counts.append(len(fired))
        if len(fired):
            last_polarity = -1 if fired[-1] % 2.0 else 1
    table = np.concatenate(tables)
    return table[np.lexsort((table[:, 1], table[:, 0]))], counts, last_polarity


def _beginning_within(
    table: np.ndarray, span: tuple[float, float], gate: str, numbers: dict[str, int]
) -> tuple[np.ndarray, np.ndarray]:
    """Begins and ends of the pulses of one gate that begin within a span."""
    begins, ends = (table[table[:, 1] == numbers[f"{gate} {word}"]] for word in ("on", "off"))
    if len(begins):  # the table may open within a pulse
        ends = ends[np.searchsorted(ends[:, 0], begins[0, 0]) :]
    within = (span[0] - 1e-9 <= begins[:, 0]) & (begins[:, 0] < span[1] - 1e-9)
    ends = ends[: len(begins)]
    return begins[within], ends[within[: len(ends)]]
