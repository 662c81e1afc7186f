"""Feed: how fast the wire comes, against mains, load and control, through a start and a stop, side by side."""

import math
from dataclasses import field, replace
from functools import cached_property

import numpy as np

from weldsim import __version__
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.feed_load import load_torque, push_force, reel_force
from weldsim.parts.feed_motor import FeedMotor
from weldsim.parts.feed_supply import SINK_AIR, FeedSupply, Setting
from weldsim.parts.wire import constants
from weldsim.runs.feed_source import WELDS, Terminals, capacitor_on, terminals_of
from weldsim.runs.feeder import START, Feeder, Start, follow_start, knob_for
from weldsim.runs.run import Run, stamp
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import MAINS_STEPS, Answer, Number
from weldsim.studies.choke_words import told_wire
from weldsim.studies.feed_verdicts import CONTROLS, CURVED, Case, fastest, from_the_weld, late, verdicts_of

LEAST = 0.01 / 60.0  # [m/s] a centimetre a minute
TURNS = 8  # of the knob, until open loop on the weld output gives the wanted feed
SIGNALS = (("feed", "m/s"), ("capacitor.voltage", "V"), ("motor.voltage", "V"), ("motor.current", "A"), ("heat", "W"))


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
    if wanted < LEAST:
        fact = f"a feed of {60.0 * wanted:.3g} m/min needs no motor"
        raise QuestionError(fact, place="feed", advice='ask for 1 cm/min at least, as "5 m/min"')
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
        [*verdicts_of(own, cases, stages, wanted=wanted, supply=supply), *from_the_weld(sources)],
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
        "motor_current": late(start, 4),
        "heat": late(start, 5),
        "headroom": start.headroom,
    }


def _stage_row(stage: str, start: Start, supply: FeedSupply) -> dict:
    heat = late(start, 5)
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
    hottest = max(late(own[mains, "as written"].start, 5) for mains in MAINS_STEPS)
    numbers |= {
        "feed.run_up.time": Number(written.run_up, "s"),
        "feed.peak": Number(fastest(written)[0], "m/s"),
        "feed.run_down.time": Number(written.run_down, "s"),
        "feed.overrun.length": Number(written.overrun, "m"),
        "motor.load.force": Number(reel_force(motor) + push_force(motor), "N"),
        "motor.load.torque": Number(load_torque(motor), "N.m"),
        "motor.current.mean": Number(late(written, 4), "A"),
        "motor.current.peak": Number(float(written.table[:, 4].max()), "A"),
        "motor.voltage.mean": Number(late(written, 3), "V"),
        "capacitor.voltage.mean": Number(late(written, 2), "V"),
        "stage.headroom.min": Number(min(own[mains, "as written"].start.headroom for mains in MAINS_STEPS), "V"),
        "stage.heat.max": Number(hottest, "W"),
    }
    if supply.heat_sink is not None:
        numbers["stage.temperature.max"] = Number(SINK_AIR + supply.heat_sink * hottest, "degC")
    return numbers


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
    return told_wire(scenario) + told
