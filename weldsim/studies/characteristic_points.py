"""Points of the static characteristic: the output settled on resistors and where it meets a load line."""

import math
from collections.abc import Mapping, Sequence
from functools import partial

from weldsim.frozen import dataclass
from weldsim.runs.commands import with_dial
from weldsim.runs.crew import Crew
from weldsim.runs.firing import firing_of
from weldsim.runs.generator_runs import settle_fed
from weldsim.runs.perform import record
from weldsim.runs.run import Run
from weldsim.runs.steady import MOST_PERIODS
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.studies.load_lines import NO_ARC, LoadLine, conventional, own_line
from weldsim.studies.operating import FEW_PERIODS, HUNTING_PERIODS, MAINS_STEPS, SETTLED_PERIODS, with_load
from weldsim.studies.progress import Progress, silent

RESISTANCES = (0.005, 0.02, 0.045, 0.08, 0.15, 0.35, 1.0, 10.0)  # [ohm] from nearly short to nearly open
FURTHER = 4.0  # from one resistance to the next, beyond these
MOST_MORE = 4  # at either end
OPEN, SHORT = 0.05, 0.2  # of the largest current, of the highest volts: below, a line has reached its end
SIGNALS = ("output.voltage", "output.current", "primary.current")
NEAR = 1e-4  # of the volts: a crossing nobody can read closer


@dataclass(frozen=True)
class Point:
    """Where the output comes to lie at one setting, one load and one voltage of the mains.

    Means of an output behind a rectifier, rms values of an alternating one.
    """

    current: float
    voltage: float
    delay: float | None  # [deg] asked for
    missed: float | None  # share of half cycles in which the phase control misfires; None without one
    early: float  # share begun before their gate was due, counted in ``missed``
    repeats: bool  # whether a settled state was found
    run: Run


Crossings = dict[float | None, dict[float, Point]]  # dial -> mains voltage -> point


def crossed(
    scenario: Scenario,
    settings: Sequence[float | None],
    lines: Mapping[float | None, Mapping[float, Point]],
    *,
    crew: Crew,
    progress: Progress = silent,
) -> tuple[LoadLine, Crossings]:
    """The line that counts, with its crossings: where no setting reaches that of an arc, the scenario's own load."""
    line, own = conventional(scenario), own_line(scenario)
    found = _crossings(scenario, settings, line, crew=crew, progress=progress)
    most = max(point.current for crossing in found.values() for point in crossing.values())
    volts = max(point.voltage for points in lines.values() for point in points.values())
    if own is None or most >= NO_ARC or MAINS_STEPS[-1] * volts >= line.base:
        return line, found
    return own, _crossings(scenario, settings, own, crew=crew, progress=progress)


def _crossings(
    scenario: Scenario, settings: Sequence[float | None], line: LoadLine, *, crew: Crew, progress: Progress
) -> Crossings:
    """Points on the load line."""
    found: Crossings = {}
    for dial, points in zip(settings, crew.each(partial(met, scenario, line), settings), strict=True):
        found[dial] = points
        progress(len(found), len(settings), "crossings with the load line")
    return found


def met(scenario: Scenario, line: LoadLine, dial: float | None) -> dict[float, Point]:
    """The points of one setting on a line: mains voltage -> point."""
    loaded, by_resistor = with_load(scenario, line.load), bool(line.process) and kind_of(scenario) == "rms"
    found: dict[float, Point] = {}
    for step in MAINS_STEPS if by_resistor else ():
        point = _met_by_resistor(scenario, dial, line, step)
        if point is None:  # so that the spread compares like with like
            break
        found[step] = point
    else:
        if by_resistor:
            return found
    return {step: _point(loaded, dial, mains_factor=step, record_waves=step == 1.0) for step in MAINS_STEPS}


def _met_by_resistor(scenario: Scenario, dial: float | None, line: LoadLine, step: float) -> Point | None:
    """Where the rms values of an alternating output lie on the load line; None where it does not reach the line.

    The standard's load is a resistor.
    """

    def beyond(resistance: float) -> tuple[float, Point]:
        loaded = with_load(scenario, {"load.kind": "resistor", "load.resistance": resistance})
        point = _point(loaded, dial, mains_factor=step, record_waves=step == 1.0)
        return point.voltage - line.volts(point.current), point

    low, high = math.log(RESISTANCES[0]), math.log(RESISTANCES[-1])
    below, above = beyond(RESISTANCES[0])[0], beyond(RESISTANCES[-1])[0]
    if below > 0.0 or above < 0.0:
        return None
    while True:
        share = min(max(below / (below - above), 0.1), 0.9)
        middle = low + share * (high - low)
        off, point = beyond(math.exp(middle))
        if abs(off) <= NEAR * point.voltage or high - low < NEAR:
            return point
        low, below, high, above = (middle, off, high, above) if off < 0.0 else (low, below, middle, off)


def lines_on_resistors(
    scenario: Scenario, settings: Sequence[float | None], *, crew: Crew, progress: Progress = silent
) -> dict[float | None, dict[float, Point]]:
    """Points on resistors: dial -> resistance -> point; all dials on one resistor, since they share its modes.

    A supply so small that 10 ohm load it, or so large that 5 mohm do not short it, is given further resistors.
    """
    lines: dict[float | None, dict[float, Point]] = {dial: {} for dial in settings}

    def add(*resistances: float) -> None:
        points = crew.each(partial(on_resistor, scenario, tuple(settings)), resistances)
        for resistance, of_dials in zip(resistances, points, strict=True):
            for dial, point in zip(settings, of_dials, strict=True):
                lines[dial][resistance] = point
            done = len(lines[settings[0]])
            progress(done, max(done, len(RESISTANCES)), "loads")

    add(*RESISTANCES)
    for end, factor, reached in ((min, 1.0 / FURTHER, _is_short), (max, FURTHER, _is_open)):
        for _ in range(MOST_MORE):
            if all(reached(points) for points in lines.values()):
                break
            add(factor * end(lines[settings[0]]))
    return {dial: dict(sorted(points.items())) for dial, points in lines.items()}


def on_resistor(scenario: Scenario, settings: Sequence[float | None], resistance: float) -> list[Point]:
    """The points of all settings on one resistor."""
    loaded = with_load(scenario, {"load.kind": "resistor", "load.resistance": resistance})
    return [_point(loaded, dial) for dial in settings]


def _is_short(points: Mapping[float, Point]) -> bool:
    """Whether little of the volts is left on the smallest resistor; so it counts where the phase control misfires."""
    last = points[min(points)]
    return bool(last.missed) or last.voltage <= SHORT * max(point.voltage for point in points.values())


def _is_open(points: Mapping[float, Point]) -> bool:
    """Whether the largest resistor takes next to nothing of what the supply can give."""
    last = points[max(points)]
    return bool(last.missed) or last.current <= OPEN * max(point.current for point in points.values())


def _point(scenario: Scenario, dial: float | None, *, mains_factor: float = 1.0, record_waves: bool = False) -> Point:
    """Settle and look; a supply that misfires and has not settled soon is looked at for longer instead."""
    found = _recorded(scenario, dial, mains_factor=mains_factor, patience=FEW_PERIODS, record_waves=record_waves)
    if not found.repeats and not found.missed:
        found = _recorded(scenario, dial, mains_factor=mains_factor, patience=MOST_PERIODS, record_waves=record_waves)
    return found


def _recorded(
    scenario: Scenario, dial: float | None, *, mains_factor: float, patience: int, record_waves: bool
) -> Point:
    scenario = with_dial(scenario, dial)
    supply = supply_of(scenario)
    settled = settle_fed(supply, delay=supply.delay(dial), mains_factor=mains_factor, patience=patience)
    recording = record(
        scenario,
        dial=dial,
        start="steady",
        signals=SIGNALS if record_waves else (),
        figures=SIGNALS,
        duration=(SETTLED_PERIODS if settled.periodic else HUNTING_PERIODS) * supply.period,
        mains_factor=mains_factor,
        settled=settled,
    )
    firing, table = firing_of(recording, reasons=False), recording.run.table
    kind = kind_of(scenario)
    return Point(
        current=table[f"output.current.{kind}"][0],
        voltage=table[f"output.voltage.{kind}"][0],
        delay=recording.delay,
        missed=None if firing is None else firing.misfired / firing.half_cycles,
        early=0.0 if firing is None else firing.early / firing.half_cycles,
        repeats=settled.periodic,
        run=recording.run,
    )


def kind_of(scenario: Scenario) -> str:
    """Which figure of a wave counts: means of a direct output, rms values of an alternating one."""
    return "mean" if scenario.rectifier is not None else "rms"
