"""Static characteristic: which volts at which amps, for several dial settings, and where the load line crosses."""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.cable import weld_leads_resistance
from weldsim.runs.crew import Crew
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict, amount
from weldsim.studies.characteristic_points import Point, crossed, kind_of, lines_on_resistors
from weldsim.studies.load_lines import NO_ARC, LoadLine, told
from weldsim.studies.operating import (
    HUNTING_PERIODS,
    MAINS_STEPS,
    told_backlash,
)
from weldsim.studies.progress import Progress, silent
from weldsim.studies.secondary_turns import check_turns, compare

DIALS = (0.2, 0.4, 0.6, 0.8, 1.0)


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dials: Sequence[float] | None = None,
    turns: Sequence[int] = (),
    currents: Sequence[float] | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Answer:
    """Output voltage against current for each dial setting, settled, on resistors from nearly short to nearly open.

    Parameters
    ----------
    scenario : Scenario
    dials : sequence of float or None
        Settings of the dial [1]; 20, 40, 60, 80 and 100 % by default; ignored where there is no phase control.
    turns, currents : sequence of int, sequence of float or None
        Secondary turns to compare, fully fired or at a single dial; amperes at which their volts are told [A].
    workers, executor
        Who simulates the loads: so many threads (None: as many as cores), or any concurrent.futures Executor.

    Returns
    -------
    Answer : rows "line" (points of a line), "crossing" (with the conventional load line) and "load line"; the first
    two say in "missed" which share of half cycles the phase control misses there, a crossing in "on_line" whether its
    means lie on the load line, as they do unless the current rests between its pulses.

    Raises
    ------
    QuestionError : an RC-and-diac dial or no phase control cannot be set to several dials; WiringError,
    SimulationError.
    """
    settings = _settings(scenario, dials)
    check_turns(scenario, turns)
    with Crew(workers, executor) as crew:
        lines = lines_on_resistors(scenario, settings, crew=crew, progress=progress)
        line, crossings = crossed(scenario, settings, lines, crew=crew, progress=progress)
    rows: list[dict] = []
    numbers: dict[str, Number] = {}
    for dial in settings:
        crossing = crossings[dial][1.0]
        rows += [_row("line", dial, point, resistance=resistance) for resistance, point in lines[dial].items()]
        rows.append(_row("crossing", dial, crossing, on_line=line.holds(crossing.current, crossing.voltage)))
        name = "crossing" if dial is None else f"crossing.{_named(dial)}"
        numbers[f"{name}.current"] = Number(crossing.current, "A")
        numbers[f"{name}.voltage"] = Number(crossing.voltage, "V")
        slope = _slope(crossing, lines[dial])
        numbers[f"{name}.slope"] = Number(math.nan if slope is None else slope.fall, "ohm")
    corners = line.corners(max(row["current"] for row in rows))
    rows += [{"kind": "load line", "current": amps, "voltage": line.volts(amps)} for amps in corners]
    hunting = sum(not point.repeats for points in lines.values() for point in points.values())
    more = compare(scenario, turns, line=line, currents=currents, dials=dials)
    return Answer(
        "characteristic",
        scenario,
        numbers | more.numbers,
        [
            *more.verdicts,
            *(_verdict(dial, crossings[dial], lines[dial], line=line, leads=_leads(scenario)) for dial in settings),
        ],
        _assumptions(line, hunting, kind=kind_of(scenario)) + told_backlash(scenario) + more.assumptions,
        rows=[*rows, *more.rows],
        runs={"window": crossings[settings[0]][1.0].run},
    )


def _named(dial: float) -> str:
    """A dial setting within the name of a number.

    >>> _named(0.6), _named(0.333)
    ('dial_60', 'dial_33_3')
    """
    return f"dial_{100.0 * dial:.6g}".replace(".", "_")


def _row(kind: str, dial: float | None, point: Point, **more: float) -> dict:
    """One point as a row of the answer."""
    return {
        "kind": kind,
        "dial": dial,
        "delay": point.delay,
        **more,
        "current": point.current,
        "voltage": point.voltage,
        "missed": point.missed,
    }


def _settings(scenario: Scenario, dials: Sequence[float] | None) -> list[float | None]:
    """The dial settings to go through."""
    control = scenario.phase_control
    if control is None or (control.dial_kind == "rc-diac" and not dials):
        if dials:
            raise QuestionError(
                "its output cannot be set by --dial",
                place="phase_control",
                advice="leave --dial out, or add a [phase_control] table",
            )
        return [None]
    return list(dict.fromkeys(dials or DIALS))


@dataclass(frozen=True)
class Slope:
    """How fast the volts fall between two points of a line, one on either side of the load line."""

    low: float  # [A]
    high: float  # [A]
    fall: float  # [V/A]


def _slope(crossing: Point, line: Mapping[float, Point]) -> Slope | None:
    """The slope about a crossing, by the nearest points without misfires; None where there are none on both sides."""
    good = [point for point in line.values() if not point.missed and point.repeats]
    below = max((one for one in good if one.current < crossing.current), key=lambda one: one.current, default=None)
    above = min((one for one in good if one.current > crossing.current), key=lambda one: one.current, default=None)
    if crossing.missed or below is None or above is None:
        return None
    fall = (below.voltage - above.voltage) / (above.current - below.current)
    return Slope(below.current, above.current, fall)


def _leads(scenario: Scenario) -> float:
    """Resistance of the weld leads with their contacts [ohm]."""
    leads = scenario.weld_leads
    return 0.0 if leads is None else weld_leads_resistance(leads)


def _slope_told(slope: Slope | None, leads: float) -> str:
    """A slope in words, as the trade counts it.

    >>> _slope_told(Slope(60.0, 110.0, 0.045), 0.0085)
    ' Its volts fall by 4.5 V per 100 A between 60 and 110 A, 0.85 V of it in the weld leads.'
    """
    if slope is None:
        return ""
    share = f", {100.0 * leads:.2g} V of it in the weld leads" if leads else ""
    fall, low = f"{100.0 * slope.fall:.3g} V per 100 A", amount(slope.low, "A").removesuffix(" A")
    return f" Its volts fall by {fall} between {low} and {amount(slope.high, 'A')}{share}."


def _verdict(
    dial: float | None,
    crossing: Mapping[float, Point],
    points: Mapping[float, Point],
    *,
    line: LoadLine,
    leads: float,
) -> Verdict:
    """Where one setting meets the load line, and whether the phase control misfires there or on the way."""
    currents = [crossing[step].current for step in MAINS_STEPS]
    name = "crossing" if dial is None else f"crossing_{_named(dial)}"
    delay = crossing[1.0].delay  # None where the dial's own circuit makes it
    told = "" if delay is None else f" ({delay:.0f} deg)"
    where = "The supply" if dial is None else f"Dial {100 * dial:.4g} %{told}"
    there = f"{crossing[1.0].current:.4g} A, {crossing[1.0].voltage:.3g} V"
    spread = f"mains -10, 0, +10 %: {currents[0]:.4g}, {currents[1]:.4g}, {currents[2]:.4g} A"
    text = f"{where} meets the load line at {there} ({spread})."
    if not line.process:
        text = f"{where} gives {there} to {line.words} ({spread})."
    elif max(currents) < NO_ARC and not crossing[1.0].missed:
        most = max(point.voltage for point in (crossing[1.0], *points.values()))
        text = f"{where} does not reach the load line, which begins at {line.base:g} V: {most:.3g} V at most."
    elif not line.holds(crossing[1.0].current, crossing[1.0].voltage):
        text = f"{where} gives {there} to a load that follows the load line ({spread})."
        text += _off_the_line(crossing[1.0], line)
    missing = [load for load, point in points.items() if point.missed]
    early = any(point.early for point in (crossing[1.0], *points.values()))
    misfires = _misfires(crossing[1.0].missed or 0.0, missing, of=len(points), early=early)
    sloping = _slope_told(_slope(crossing[1.0], points), leads)
    return Verdict(name, "fault" if crossing[1.0].missed else "note", text + sloping + misfires)


def _off_the_line(crossing: Point, line: LoadLine) -> str:
    """That the figures of a load which follows the load line at every instant need not lie on it."""
    if crossing.missed == 1.0:
        return ""
    asked = line.volts(crossing.current)
    return f" The current comes in pulses, so that these figures lie off the line ({asked:.3g} V at that current)."


def _misfires(share: float, loads: Sequence[float], *, of: int, early: bool) -> str:
    """What to make of a setting that misfires, on the load line or on some resistors; else nothing."""
    where = []
    if share > 0.0:
        where.append(f"{100.0 * share:.0f} of 100 half cycles there")
    if loads:
        on = f"from {min(loads):g} to {max(loads):g} ohm" if len(loads) > 1 else f"of {loads[0]:g} ohm"
        where.append(f"some on {len(loads)} of the {of} resistors, {on}")
    if not where:
        return ""
    if early:
        return (
            f" The phase control misses {' and '.join(where)}, or fires them before their gate is due: such points "
            "show a supply that misfires, not what this dial gives. Cause: its gate is driven past the zero crossing "
            "and fires the next half cycle at once, or is over before it can latch; preview at this dial tells which."
        )
    return (
        f" The phase control misses {' and '.join(where)}: such points show a supply that misfires, not what it could "
        "give. Cause: its gate pulse is over before it can latch; preview at this dial tells the current at its end."
    )


def _assumptions(line: LoadLine, hunting: int, *, kind: str) -> list[str]:
    """What every point stands on."""
    figures = "means" if kind == "mean" else "rms values"
    head, foot = told(line, kind)
    lines = [
        head,
        f"Every point is a settled state on a resistor, {figures} of voltage and current behind the weld leads; "
        f"windings at the scenario's temperature.{foot}",
        "Spread: the crossing at mains -10, 0 and +10 %, same dial.",
    ]
    if hunting:
        lines.insert(
            2,
            f"On {hunting} of the resistors' points no mains period repeats the one before: those are {figures} over "
            f"{HUNTING_PERIODS:.0f} periods, and another start may give others.",
        )
    return lines
