"""Stress of triac and rectifier in the worst press, and with a dead short or a shorted diode, against the ratings in
the scenario.
"""

from dataclasses import dataclass

import numpy as np

from weldsim.engine.trace import Trace
from weldsim.runs.presses import Presser, Trigger, half_cycles
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary

PHASES = 12  # triggers tried for each fault
LOOKED_AT = 0.06  # [s]


@dataclass(frozen=True)
class Part:
    """A part with ratings: its name, the signal through it, its surge and I2t ratings (None: not given)."""

    name: str
    signal: str
    surge: float | None
    i2t: float | None


def stress_rows(scenario: Scenario, worst: Trigger, *, dial: float | None, delay: float | None) -> list[dict]:
    """Rows of kind "stress".

    Case, part, peak [A], I2t of its worst half cycle [A2 s], the ratings, and whether they hold.
    """
    rows = []
    presser = Presser(scenario, dial=dial, delay=delay)
    rows += _rows("worst press", presser.press(0, worst)[1], scenario)
    for case, changes in _cases(scenario).items():
        broken = vary(_without_load(scenario), changes) if "load.kind" in changes else vary(scenario, changes)
        other = Presser(broken, dial=dial, delay=delay)
        traces = [_from_rest(other, k / PHASES) for k in range(PHASES)]
        peaks = [max((half.peak for half in half_cycles(trace, trace.span[0])), default=0.0) for trace in traces]
        rows += _rows(case, traces[int(np.argmax(peaks))], broken)
    return rows


def _cases(scenario: Scenario) -> dict[str, dict[str, object]]:
    """Faults that make sense for this supply."""
    cases: dict[str, dict[str, object]] = {"dead short at the output": {"load.kind": "short", "load.resistance": 1e-3}}
    if scenario.rectifier is not None:
        cases["one diode shorted"] = {"rectifier.fault": "one diode shorted"}
    return cases


def _without_load(scenario: Scenario) -> Scenario:
    return vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario


def _from_rest(presser: Presser, phase: float) -> Trace:
    """A press of a demagnetised, empty supply."""
    state, signature = presser.supply.rest()
    return presser.press_from(
        state, signature, (1.0 + phase) * presser.period, trial=0, trigger=Trigger(0.0, 0.0, phase), looked_at=LOOKED_AT
    )[1]


def _rows(case: str, trace: Trace, scenario: Scenario) -> list[dict]:
    known = {signal.name for signal in trace.system.signals}
    return [_row(case, part, trace) for part in _parts(scenario) if part.signal in known]


def _parts(scenario: Scenario) -> list[Part]:
    """The switch and one diode of the rectifier that is whole."""
    found = []
    control, rectifier = scenario.phase_control, scenario.rectifier
    if control is not None:
        found.append(Part(control.device, "phase_control.current", control.surge_current, control.i2t))
    if rectifier is not None:
        found.append(Part("rectifier diode", "rectifier.diode_2.current", rectifier.surge_current, rectifier.i2t))
    return found


def _row(case: str, part: Part, trace: Trace) -> dict:
    """Peak and I2t of the worst half cycle of one part."""
    values, _ = trace.extremes([part.signal])
    peak, i2t = float(np.abs(values).max()), _worst_half_cycle(trace, part.signal)
    holds = None
    if part.surge is not None or part.i2t is not None:
        holds = (part.surge is None or peak <= part.surge) and (part.i2t is None or i2t <= part.i2t)
    return {
        "kind": "stress",
        "case": case,
        "part": part.name,
        "peak": peak,
        "i2t": i2t,
        "surge_rating": part.surge,
        "i2t_rating": part.i2t,
        "holds": holds,
    }


def _worst_half_cycle(trace: Trace, signal: str) -> float:
    """Largest I2t of a signal over half a mains period, from steps of a twentieth of it."""
    begin, end = trace.span
    half = 0.5 / trace.system.frequency
    steps = max(1, round((end - begin) / half * 20))
    edges = np.linspace(begin, end, steps + 1)
    parts = np.array([trace.integrals(a, b).square(signal) for a, b in zip(edges[:-1], edges[1:], strict=True)])
    return float(np.convolve(parts, np.ones(20)).max())
