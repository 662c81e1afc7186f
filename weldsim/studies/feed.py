"""Feed: how fast the wire comes, against mains, load and control, through a start and a stop, side by side."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from weldsim import __version__
from weldsim.errors import QuestionError
from weldsim.parts.feed_load import load_torque, push_force, reel_force
from weldsim.parts.feed_motor import FeedMotor
from weldsim.parts.feed_supply import SINK_AIR, FeedSupply, Setting
from weldsim.parts.wire import constants
from weldsim.runs.feed_source import WELDS, Terminals, capacitor_on, terminals_of
from weldsim.runs.feeder import START, Feeder, Start, follow_start, knob_for
from weldsim.runs.run import Run, stamp
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import MAINS_STEPS, Answer, Number, Verdict, amount, spread

CONTROLS = ("open loop", "stabilised voltage", "speed")
CURVED = 360.0  # [deg] more bend of the curved liner
TURNS = 8  # of the knob, until open loop on the weld output gives the wanted feed
HELD = 0.03  # share of the wanted feed by which a feed may be off and still count as held (common practice)
JUNCTION = 125.0  # [degC] where a stage's heat becomes a fault (common practice for silicon)
SIGNALS = (("feed", "m/s"), ("capacitor.voltage", "V"), ("motor.voltage", "V"), ("motor.current", "A"), ("heat", "W"))


@dataclass(frozen=True)
class Case:
    """One start: which control, at which mains, pulling what."""

    control: str
    stage: str
    mains: int  # [%] off the rated voltage
    load: str
    motor: FeedMotor
    start: Start


def ask(
    scenario: Scenario,
    *,
    feed: float | None = None,
    dial: float | None = None,
    delay: float | None = None,
    seed: int = 1,
) -> Answer:
    """Starts of the feed motor under three controls, at three mains voltages, with four loads.

    Parameters
    ----------
    scenario : Scenario
        Its [feed_motor] and [feed_supply]; default ones where they are absent.
    feed : float or None
        Wanted wire feed [m/s]; the scenario's own if None.  Every knob is set for it at the rated mains and the load as
        written.
    dial, delay, seed
        Only where the weld output feeds the motor: setting of the supply, and the draws of the weld behind it.

    Returns
    -------
    Answer : rows "start" and "stage"; runs by control.

    Raises
    ------
    QuestionError : no feed is wanted; WiringError, SimulationError.
    """
    wanted = constants(scenario.wire).feed if feed is None else feed
    if wanted <= 0.0:
        raise QuestionError("a feed of nothing needs no motor", place="feed", advice='ask for one, as "5 m/min"')
    motor, supply = scenario.feed_motor or FeedMotor(), scenario.feed_supply or FeedSupply()
    sources = (
        {mains: terminals_of(scenario, dial=dial, delay=delay, mains=mains, seed=seed) for mains in MAINS_STEPS}
        if supply.kind == "weld output"
        else {}
    )
    bench = _Bench(motor, supply, scenario.mains.frequency, wanted, sources)
    cases = bench.cases()
    stages = bench.stages()
    own = {(case.mains, case.load): case for case in cases if case.control == supply.control}
    rows = [_row(case, wanted) for case in cases] + [_stage_row(name, start, supply) for name, start in stages.items()]
    return Answer(
        "feed",
        scenario,
        _numbers(own, wanted, supply),
        [*_verdicts(own, cases, stages, wanted=wanted, supply=supply), *_from_the_weld(sources)],
        _assumptions(scenario, motor, supply),
        rows=rows,
        runs={case.control: _run(scenario, case) for case in cases if case.mains == 0 and case.load == "as written"},
    )


@dataclass(frozen=True)
class _Bench:
    """Motor, supply and what is asked of them."""

    motor: FeedMotor
    supply: FeedSupply
    frequency: float
    wanted: float
    sources: dict[int, Terminals]
    knobs: dict[FeedSupply, Setting] = field(default_factory=dict)  # found so far

    def loads(self) -> dict[str, FeedMotor]:
        """The motor with its load as written, with a full and an empty reel, and with a more curved liner."""
        bend = min(self.motor.liner_bend + CURVED, 3600.0)
        return {
            "as written": self.motor,
            "full reel": replace(self.motor, reel_fill=1.0),
            "empty reel": replace(self.motor, reel_fill=0.0),
            "curved liner": replace(self.motor, liner_bend=bend),
        }

    def supply_with(self, control: str) -> FeedSupply:
        """The supply under another control; what a resistor cannot hold a linear stage does."""
        stage = self.supply.stage
        if stage == "resistor" and control != "open loop":
            stage = "linear"
        return replace(self.supply, control=control, stage=stage)

    @cached_property
    def capacitor_at_terminals(self) -> float:
        """Mean voltage of the capacitor on the weld output at the rated mains [V]."""
        return capacitor_on(self.sources[0], self.motor, self.supply, frequency=self.frequency, feed=self.wanted)

    def start(self, motor: FeedMotor, supply: FeedSupply, mains: int = 0) -> Start:
        """One start, with the knob where the load as written needs it at the rated mains."""
        return self._followed(motor, supply, self._knob(supply), mains=mains)

    def _followed(self, motor: FeedMotor, supply: FeedSupply, knob: Setting, *, mains: int) -> Start:
        feeder = Feeder(motor, supply, frequency=self.frequency, mains_factor=1.0 + mains / 100.0)
        if not self.sources:
            return follow_start(feeder, knob)
        feeder.source = self.sources[mains].at
        return follow_start(feeder, knob, late=(1.0 - WELDS) * START)  # the weld's volts wander for longer

    def _knob(self, supply: FeedSupply) -> Setting:
        """Where the knob gives the wanted feed; in open loop on the weld output it is turned until it does."""
        if not self.sources:
            return knob_for(self.motor, supply, frequency=self.frequency, feed=self.wanted)
        if supply not in self.knobs:
            self.knobs[supply] = self._turned(supply)
        return self.knobs[supply]

    def _turned(self, supply: FeedSupply) -> Setting:
        volts, step = self.capacitor_at_terminals, 0.25
        knob = knob_for(self.motor, supply, frequency=self.frequency, feed=self.wanted, capacitor=volts)
        for _ in range(TURNS if supply.control == "open loop" else 0):
            off = self._followed(self.motor, supply, knob, mains=0).settled / self.wanted - 1.0
            volts *= 1.0 + step * max(min(off, 1.0), -1.0)
            knob = knob_for(self.motor, supply, frequency=self.frequency, feed=self.wanted, capacitor=volts)
        return knob

    def cases(self) -> list[Case]:
        """Every control at three mains voltages, and under four loads."""
        loads = self.loads()
        found = []
        for control in CONTROLS:
            supply = self.supply_with(control)
            for mains in MAINS_STEPS:
                start = self.start(self.motor, supply, mains)
                found.append(Case(control, supply.stage, mains, "as written", self.motor, start))
            for name, motor in loads.items():
                if name != "as written":
                    found.append(Case(control, supply.stage, 0, name, motor, self.start(motor, supply)))
        return found

    def stages(self) -> dict[str, Start]:
        """The stages that hold a voltage, at the highest mains, where a linear one is hottest."""
        held = "stabilised voltage" if self.supply.control == "open loop" else self.supply.control
        return {
            stage: self.start(self.motor, replace(self.supply, stage=stage, control=held), MAINS_STEPS[-1])
            for stage in ("linear", "chopper")
        }


def _late(start: Start, column: int) -> float:
    """Mean over the last 0.1 s of a start."""
    table = start.table
    return float(table[table[:, 0] > table[-1, 0] - 0.1, column].mean())


def _row(case: Case, wanted: float) -> dict:
    start = case.start
    return {
        "kind": "start",
        "control": case.control,
        "stage": case.stage,
        "mains": case.mains / 100.0,
        "load": case.load,
        "force": reel_force(case.motor) + push_force(case.motor),
        "feed": start.settled,
        "off": round(start.settled / wanted - 1.0, 9) + 0.0,
        "run_up": start.run_up,
        "overrun": start.overrun,
        "motor_current": _late(start, 4),
        "heat": _late(start, 5),
        "headroom": start.headroom,
    }


def _stage_row(stage: str, start: Start, supply: FeedSupply) -> dict:
    heat = _late(start, 5)
    warm = SINK_AIR + supply.heat_sink * heat if supply.heat_sink is not None else math.nan
    return {"kind": "stage", "stage": stage, "mains": MAINS_STEPS[-1] / 100.0, "heat": heat, "temperature": warm}


def _numbers(own: dict[tuple[int, str], Case], wanted: float, supply: FeedSupply) -> dict[str, Number]:
    written = own[0, "as written"].start
    motor = own[0, "as written"].motor
    numbers = {"feed.wanted": Number(wanted, "m/s"), "feed.settled": Number(written.settled, "m/s")}
    for mains, name in ((MAINS_STEPS[0], "low_mains"), (MAINS_STEPS[-1], "high_mains")):
        numbers[f"feed.{name}"] = Number(own[mains, "as written"].start.settled, "m/s")
    for load in ("full reel", "empty reel", "curved liner"):
        numbers[f"feed.{load.replace(' ', '_')}"] = Number(own[0, load].start.settled, "m/s")
    hottest = max(_late(own[mains, "as written"].start, 5) for mains in MAINS_STEPS)
    numbers |= {
        "feed.run_up.time": Number(written.run_up, "s"),
        "feed.run_down.time": Number(written.run_down, "s"),
        "feed.overrun.length": Number(written.overrun, "m"),
        "motor.load.force": Number(reel_force(motor) + push_force(motor), "N"),
        "motor.load.torque": Number(load_torque(motor), "N.m"),
        "motor.current.mean": Number(_late(written, 4), "A"),
        "motor.current.peak": Number(float(written.table[:, 4].max()), "A"),
        "motor.voltage.mean": Number(_late(written, 3), "V"),
        "capacitor.voltage.mean": Number(_late(written, 2), "V"),
        "stage.headroom.min": Number(min(own[mains, "as written"].start.headroom for mains in MAINS_STEPS), "V"),
        "stage.heat.max": Number(hottest, "W"),
    }
    if supply.heat_sink is not None:
        numbers["stage.temperature.max"] = Number(SINK_AIR + supply.heat_sink * hottest, "degC")
    return numbers


def _verdicts(
    own: dict[tuple[int, str], Case],
    cases: list[Case],
    stages: dict[str, Start],
    *,
    wanted: float,
    supply: FeedSupply,
) -> list[Verdict]:
    found = [_holding(own, wanted, supply), _side_by_side(cases, wanted)]
    found += [*_headroom(own, supply), *_slipping(own), _running(own[0, "as written"].start), _heat(stages, supply)]
    return found


def _per_minute(case: Case) -> float:
    return 60.0 * case.start.settled


def _holding(own: dict[tuple[int, str], Case], wanted: float, supply: FeedSupply) -> Verdict:
    """How far mains and load move the feed under the scenario's own control."""
    mains = [_per_minute(own[step, "as written"]) for step in MAINS_STEPS]
    loads = [_per_minute(own[0, load]) for load in ("full reel", "empty reel", "curved liner")]
    worst = max(abs(value / (60.0 * wanted) - 1.0) for value in [*mains, *loads])
    follows = "the mains" if supply.kind == "own transformer" else "the highs of the weld output"
    cause = {
        "open loop": f"its volts follow {follows}, and friction takes its share of them first",
        "stabilised voltage": "the volts are held, what the armature's resistance takes of them is not",
        "speed": "what the armature's resistance takes is made good, so that the back-EMF stays",
    }[supply.control]
    level = "good" if worst <= HELD else "note" if worst <= 0.10 else "fault"
    return Verdict(
        "feed_held",
        level,
        f"Asked for {60 * wanted:.3g} m/min, {supply.control} feeds {spread(mains, 'm/min')}; with a full reel "
        f"{loads[0]:.3g}, an empty one {loads[1]:.3g}, a liner curved by {CURVED:.0f} deg more {loads[2]:.3g} m/min: "
        f"{amount(100 * worst, '%', digits=2)} off at most: {cause}. Assumed: knob set at rated mains, load as is.",
    )


def _from_the_weld(sources: Mapping[int, Terminals]) -> list[Verdict]:
    """The weld output as what charges the capacitor: its mean, and the highs that the capacitor holds."""
    if not sources:
        return []
    means, highs = ([getattr(sources[step], name) for step in MAINS_STEPS] for name in ("mean", "high"))
    text = (
        f"While it welds the terminals have {spread(means, 'V')} on average, and for a twentieth of the time more than "
        f"{spread(highs, 'V')}. Cause: between shorts and lost arcs they jump towards open circuit, and a capacitor "
        "behind a diode holds the highs."
    )
    if highs[0] > highs[1]:
        text += (
            " At low mains this weld loses its arc more often: the highs rise, open loop need not feed slower there."
        )
    return [Verdict("feed_source", "note", f"{text} Assumed: one weld with the wire as written.")]


def _side_by_side(cases: list[Case], wanted: float) -> Verdict:
    """The three controls beside each other."""
    told = []
    for control in CONTROLS:
        off = [float(f"{100 * (case.start.settled / wanted - 1):.2g}") for case in cases if case.control == control]
        told.append(f"{control} {min(off):+g} to {max(off):+g} %")
    return Verdict(
        "feed_controls",
        "note",
        "Off the wanted feed over mains -10 to +10 % and all four loads: " + "; ".join(told) + ". Same motor, same "
        "capacitor, knob set once.",
    )


def _headroom(own: dict[tuple[int, str], Case], supply: FeedSupply) -> list[Verdict]:
    """Whether the stage keeps its volts at low mains."""
    if supply.control == "open loop":
        return []
    values = [own[step, "as written"].start.headroom for step in MAINS_STEPS]
    lost = min(values) <= 1e-6
    fact = (
        "drops out in the valleys: feed falls with the mains there" if lost else "holds in the valleys of the capacitor"
    )
    return [
        Verdict(
            "stage_headroom",
            "fault" if lost else "good",
            f"The {supply.stage} stage has {spread(values, 'V')} between capacitor and motor beyond its dropout of "
            f"{supply.dropout:g} V and {fact}. Assumed: load as written, motor run up.",
        )
    ]


def _slipping(own: dict[tuple[int, str], Case]) -> list[Verdict]:
    """Loads beyond what the rolls grip, or that stop the motor."""
    still = [load for (mains, load), case in own.items() if case.start.settled <= 0.0 and mains == 0]
    if not still:
        return []
    force = max(reel_force(own[0, load].motor) + push_force(own[0, load].motor) for load in still)
    grip = own[0, "as written"].motor.roll_grip
    what = "slips in the rolls" if force > grip else "stands still: the motor has not the torque"
    return [
        Verdict(
            "feed_slip",
            "fault",
            f"With {', '.join(still)} the wire {what}: up to {force:.0f} N are needed, the rolls grip {grip:.0f} N. "
            "Assumed: friction in the liner as written; it doubles easily with dirt.",
        )
    ]


def _running(start: Start) -> Verdict:
    """Run-up and run-down."""
    slow = not start.run_up <= 0.1
    return Verdict(
        "feed_start",
        "note" if slow else "good",
        f"The motor has 63 % of its feed after {amount(1e3 * start.run_up, 'ms')}; after the stop "
        f"{amount(1e3 * start.overrun, 'mm')} of wire still come, as with a time constant of "
        f"{amount(1e3 * start.run_down, 'ms')}: the burn-back has to outlast them. 30 to 100 ms are common practice.",
    )


def _heat(stages: dict[str, Start], supply: FeedSupply) -> Verdict:
    """Linear against chopped, at the highest mains."""
    linear, chopper = (_late(stages[name], 5) for name in ("linear", "chopper"))
    own = chopper if supply.stage == "chopper" else linear
    text = (
        f"At mains +{MAINS_STEPS[-1]} % a linear stage turns {linear:.3g} W into heat, a chopper {chopper:.3g} W with "
        "the same dropout (its switching losses left out)."
    )
    level = "note"
    if supply.heat_sink is not None:
        warm = SINK_AIR + supply.heat_sink * own
        level = "fault" if warm > JUNCTION else "good"
        text += f" On its sink of {supply.heat_sink:g} K/W the {supply.stage} one reaches {warm:.0f} degC in steady use"
        text += f" (air {SINK_AIR:.0f} degC, limit {JUNCTION:.0f} degC: common practice)."
    return Verdict("stage_heat", level, text)


def _run(scenario: Scenario, case: Case) -> Run:
    """A start as a recording."""
    table = case.start.table
    return Run(
        scenario,
        np.ascontiguousarray(table[:, 0]),
        {name: np.ascontiguousarray(table[:, k + 1]) for k, (name, _) in enumerate(SIGNALS)},
        dict(SIGNALS),
        provenance=stamp("feed", weldsim_version=__version__),
        window=(0.0, float(table[-1, 0])),
    )


def _assumptions(scenario: Scenario, motor: FeedMotor, supply: FeedSupply) -> list[str]:
    told = [
        "Permanent-magnet motor: back-EMF and torque by one constant of its plate, friction the same at every speed, "
        "armature cold; the wire runs taut between reel and rolls.",
        f"Load as written: reel {reel_force(motor):.3g} N, liner and tube {push_force(motor):.3g} N.",
        "Every start is from standstill, with the knob where the load as written needs it at the rated mains.",
    ]
    if scenario.feed_motor is None:
        told.append("The scenario has no [feed_motor]: a common 24 V motor is taken.")
    if supply.kind == "weld output":
        told.append(
            "The weld output charges the capacitor through diode and resistance while the scenario's wire strikes and "
            "welds; what the motor takes from the weld is neglected (some amperes of a hundred)."
        )
    return told
