"""Stress of triac and rectifier in the worst press, and with a dead short or a shorted diode, against the ratings in
the scenario.
"""

import numpy as np

from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import fuse_window
from weldsim.parts.protection import instantaneous_band
from weldsim.runs.half_cycles import conducting, half_cycles
from weldsim.runs.presses import Presser, Trigger
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Verdict

FUSES = (2, 4, 6, 10, 16, 20, 25, 32, 40, 50, 63, 80, 100)  # [A] usual gG ratings, IEC 60269
CLEARS = 2.0  # times its melting I2t that a fuse lets through until the arc in it is out (common practice)
PHASES = 12  # triggers tried for each fault


@dataclass(frozen=True)
class Part:
    """A part with ratings: its name, the signal through it, its ratings (None: not given).

    Surge current [A], I2t [A2 s], and rate of current at turn-on [A/s].  A fuse is no part that should hold: its I2t is
    that of the whole span, and its rating what surely melts it.
    """

    name: str
    signal: str
    surge: float | None = None
    i2t: float | None = None
    rise: float | None = None
    fuse: bool = False


def stress_rows(presser: Presser, worst: Trigger) -> list[dict]:
    """Rows of kind "stress".

    Case, part, peak [A], I2t of its worst half cycle (a fuse: of 60 ms) [A2 s], largest rate of current [A/s], the
    ratings, and whether they hold.
    """
    scenario = presser.asked
    rows = _rows("worst press", presser.press(0, worst)[1], scenario)
    for case, changes in _cases(scenario).items():
        broken = vary(_without_load(scenario), changes) if "load.kind" in changes else vary(scenario, changes)
        other = Presser(broken, presser.setting)
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
    return presser.press_from(presser.resting_at(phase), presser.rule)[1]


def _rows(case: str, trace: Trace, scenario: Scenario) -> list[dict]:
    known = {signal.name for signal in trace.system.signals}
    return [_row(case, part, trace) for part in _parts(scenario) if part.signal in known]


def _parts(scenario: Scenario) -> list[Part]:
    """The switch, one diode of the rectifier that is whole, and a fuse."""
    found = []
    control, rectifier, breaker = scenario.phase_control, scenario.rectifier, scenario.breaker
    if control is not None:
        found.append(
            Part(
                control.device,
                "phase_control.current",
                control.surge_current,
                control.i2t,
                control.current_rise,
            )
        )
    if rectifier is not None:
        found.append(Part("rectifier diode", "rectifier.diode_2.current", rectifier.surge_current, rectifier.i2t))
    if breaker is not None and instantaneous_band(breaker) is None:
        melts = fuse_window(breaker.current)[1]
        found.append(Part(f"gG {breaker.current:g} A fuse", "primary.current", i2t=melts, fuse=True))
    return found


def _row(case: str, part: Part, trace: Trace) -> dict:
    """Peak, I2t and rate of current of one part."""
    values, _ = trace.extremes([part.signal])
    peak = float(np.abs(values).max())
    i2t = trace.integrals(*trace.span).square(part.signal) if part.fuse else _worst_half_cycle(trace, part.signal)
    switch = part.signal == "phase_control.current"
    rise = abs(trace.steepest(part.signal, within=conducting(trace))[0]) if switch else None
    pairs = ((peak, part.surge), (i2t, part.i2t), (rise, part.rise))
    given = [value <= rating for value, rating in pairs if rating is not None and value is not None]
    return {
        "kind": "stress",
        "case": case,
        "part": part.name,
        "peak": peak,
        "i2t": i2t,
        "current_rise": rise,
        "surge_rating": part.surge,
        "i2t_rating": part.i2t,
        "current_rise_rating": part.rise,
        "fuse": part.fuse,
        "holds": all(given) if given else None,
    }


def _worst_half_cycle(trace: Trace, signal: str) -> float:
    """Largest I2t of a signal over half a mains period, from steps of a twentieth of it."""
    begin, end = trace.span
    half = 0.5 / trace.system.frequency
    steps = max(1, round((end - begin) / half * 20))
    edges = np.linspace(begin, end, steps + 1)
    parts = np.array([trace.integrals(a, b).square(signal) for a, b in zip(edges[:-1], edges[1:], strict=True)])
    return float(np.convolve(parts, np.ones(20)).max())


def saving_fuse(scenario: Scenario, *, pressed: float) -> list[Verdict]:
    """Which gG fuse clears a fault before the switch has its I2t, and whether that bears the worst press [A2 s]."""
    control = scenario.phase_control
    if control is None or control.i2t is None:
        return []
    saving = [rating for rating in FUSES if CLEARS * fuse_window(rating)[1] <= control.i2t]
    told = f"the {control.device}'s I2t of {control.i2t:g} A2s"
    assumed = (
        f"Assumed: it lets {CLEARS:g} times its melting I2t through (common practice), gates of IEC 60269-1 from "
        "memory, 80 %. Whether it carries the weld, `breaker` tells with --set breaker.curve=gG; a fuse protects the "
        "cable too: local codes decide its rating."
    )
    if not saving:
        text = f"No gG fuse of {FUSES[0]:g} A and more clears a fault within {told}: a fast one for semiconductors may."
        return [Verdict("saving_fuse", "note", f"{text} {assumed}")]
    best = max(saving)
    least = fuse_window(best)[0]
    text = f"A gG fuse of up to {best:g} A clears a fault within {told}"
    if pressed < least:
        text += f", and bears the worst press ({pressed:.3g} of at least {least:.4g} A2s)."
        return [Verdict("saving_fuse", "good", f"{text} {assumed}")]
    text += f", but may melt at a press already ({pressed:.3g} A2s, from {least:.4g} A2s on): a larger switch or a "
    text += "softer start."
    return [Verdict("saving_fuse", "note", f"{text} {assumed}")]
