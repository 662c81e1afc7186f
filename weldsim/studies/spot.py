"""Spot: how alike are n spots in energy and charge, and what of their spread comes from timer, mains and warmth?"""

import dataclasses
import math
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from functools import partial

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.trigger import Trigger
from weldsim.runs.crew import Crew
from weldsim.runs.power import AT_ONCE
from weldsim.runs.sequence_runs import IN_THE_TUBE, STUCK, Pulse
from weldsim.runs.spot_runs import Condition, bench_under, has_wire, spots_under
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import MAINS_STEPS, Answer, Number
from weldsim.studies.burn_back import ASSUMED, Asked, answer_for
from weldsim.studies.inrush_verdicts import soft_start_assumptions
from weldsim.studies.progress import Progress, silent
from weldsim.studies.spot_verdicts import RAMP, made_of, scatter, verdicts_of

SPOTS = 40
SPOT_TIME = 0.3  # [s] where the scenario has none
PAUSE = 1.0  # [s] from spot to spot, where they follow one another
WARM = 100.0  # [degC] of windings after many spots (common practice: class B insulation allows 120 degC)
NAMES = {  # number prefix -> words
    "random": "random start",
    "synchronised": "synchronised timer",
    "soft_start": "soft start",
    "at_once": "without soft start",
    "in_a_row": "one after another",
    "warm": "warm windings",
    "low_mains": "mains -10 %",
    "high_mains": "mains +10 %",
}


@dataclass(frozen=True)
class Question:
    """What is asked of a supply."""

    trigger: Trigger
    spots: int
    seed: int
    dial: float | None
    delay: float | None
    feed: float | None


@dataclass(frozen=True)
class SpotJob:
    """Spots under one condition, by one worker, which learns the supply's modes."""

    scenario: Scenario
    question: Question
    condition: Condition


@dataclass(frozen=True, eq=False)
class Made:
    """The spots of a job, and what had to be assumed of the supply."""

    pulses: list[Pulse]
    remark: str


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    spot_time: float | None = None,
    wire_end: float | None = None,
    warm: float = WARM,
    pause: float = PAUSE,
    spots: int = SPOTS,
    seed: int = 1,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Answer:
    """Spots under several conditions, the same draws in each.

    Parameters
    ----------
    scenario : Scenario
        Spots are made with its [wire], or without one on its load.  Its [trigger] gives the times.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg].
    feed : float or None
        Wire feed [m/s]; the scenario's own if None.
    spot_time : float or None
        Of the timer [s]; the scenario's own, or 0.3 s.
    wire_end : float or None
        Wanted wire out of the contact tube [m], for which a burn-back time is looked for.
    warm : float
        Winding temperature of the warm supply [degC].
    pause : float
        From one spot's end to the next trigger, where spots follow one another [s].
    spots, seed : int
        Spots under each condition; start of the draws.
    workers : int or None
        Conditions worked on at a time, by threads; None: as many as cores.  No number depends on it.
    executor : concurrent.futures.Executor or None
        Where the spots are made instead.

    Returns
    -------
    Answer : rows "condition", "spot" and, with ``wire_end``, "burn_back".

    Raises
    ------
    QuestionError : no spots, nothing to make them on, no wire whose end could be wanted; WiringError, SimulationError.
    """
    _check(scenario, spots, wire_end, feed)
    question = Question(trigger_of(scenario, spot_time), spots, seed, dial, delay, feed)
    conditions = conditions_of(scenario, question.trigger, warm=warm, pause=pause)
    with Crew(workers, executor) as crew:
        found, remark = _made(scenario, question, conditions, crew, progress)
        ended = None
        if wire_end is not None:
            ended = answer_for(
                Asked(scenario, dial, delay, feed),
                question.trigger,
                wire_end=wire_end,
                seed=seed,
                trials=min(spots, 40),
                crew=crew,
                progress=progress,
            )
    numbers = {"spots.count": Number(spots, "1"), "spot.time": Number(question.trigger.spot_time or math.nan, "s")}
    for name, pulses in found.items():
        numbers |= statistics(pulses, name)
    rows = [_condition_row(name, pulses) for name, pulses in found.items()]
    rows += [_spot_row(name, pulse) for name, pulses in found.items() for pulse in pulses]
    verdicts = verdicts_of(scenario, found, question.trigger, warm=warm, pause=pause)
    if ended is not None:
        more, verdict, swept = ended
        numbers, verdicts, rows = numbers | more, [*verdicts, verdict], rows + swept
    assumptions = _assumptions(scenario, question, remark, pause) + [ASSUMED] * (wire_end is not None)
    return Answer("spot", scenario, numbers, verdicts, assumptions, rows=rows)


def _check(scenario: Scenario, spots: int, wire_end: float | None, feed: float | None) -> None:
    """Refuse what cannot be answered."""
    if spots < 1:
        raise QuestionError(f"{spots} spots say nothing", place="spots", advice="ask for 1 or more; 40 give a spread")
    if wire_end is not None and not has_wire(scenario):
        raise QuestionError("there is no wire whose end could be wanted", place="wire_end", advice="add a [wire]")
    if feed is not None and not has_wire(scenario):
        raise QuestionError("there is no wire to feed", place="feed", advice="leave it out, or add a [wire]")


def trigger_of(scenario: Scenario, spot_time: float | None) -> Trigger:
    """The scenario's trigger as a spot: held until its timer has run out, and no stitch."""
    table = scenario.trigger or Trigger()
    time = spot_time or table.spot_time or SPOT_TIME
    held = max(table.held, 2.0 * time + table.pre_flow + table.power_delay + 2.0)
    return dataclasses.replace(table, spot_time=time, stitch_on=None, stitch_off=None, held=held)


def conditions_of(scenario: Scenario, trigger: Trigger, *, warm: float, pause: float) -> dict[str, Condition]:
    """The conditions that this supply knows: no ramp without a control that fires, no warmth without windings."""
    timer = trigger.timer
    low, high = 1.0 + MAINS_STEPS[0] / 100.0, 1.0 + MAINS_STEPS[-1] / 100.0
    found = {
        "random": Condition("random"),
        "synchronised": Condition("synchronised", timer="mains-synchronised"),
        "soft_start": Condition("soft_start", timer=timer, rule=RAMP),
        "at_once": Condition("at_once", timer=timer, rule=AT_ONCE, at_once=True),
        "in_a_row": Condition("in_a_row", timer=timer, pause=pause),
        "warm": Condition("warm", timer=timer, winding_temperature=warm),
        "low_mains": Condition("low_mains", timer=timer, mains_factor=low),
        "high_mains": Condition("high_mains", timer=timer, mains_factor=high),
    }
    own = scenario.soft_start is not None
    if scenario.phase_control is None or own:
        del found["soft_start"]
    if not own:
        del found["at_once"]
    if scenario.transformer is None:
        del found["warm"]
    return found


def _made(
    scenario: Scenario, question: Question, conditions: Mapping[str, Condition], crew: Crew, progress: Progress
) -> tuple[dict[str, list[Pulse]], str]:
    """Spots under every condition, and what had to be assumed; a crew of one tells of every spot."""
    jobs = [SpotJob(scenario, question, one) for one in conditions.values()]
    many: list[Made] = []

    def tell(more: int) -> None:
        progress(question.spots * len(many) + more, question.spots * len(jobs), "spots")

    work = partial(made_under, tell=tell) if crew.pool is None else made_under
    for one in crew.each(work, jobs):
        many.append(one)
        tell(0)
    return {name: made.pulses for name, made in zip(conditions, many, strict=True)}, many[0].remark


def made_under(job: SpotJob, tell: Callable[[int], None] = lambda done: None) -> Made:
    """All spots of a job; ``tell`` hears how many are made."""
    question, pulses = job.question, []
    bench = bench_under(job.scenario, job.condition, dial=question.dial, delay=question.delay, feed=question.feed)
    for pulse in spots_under(bench, job.condition, trigger=question.trigger, count=question.spots, seed=question.seed):
        pulses.append(pulse)
        tell(len(pulses))
    return Made(pulses, bench.remark)


def statistics(pulses: list[Pulse], name: str) -> dict[str, Number]:
    """Energy, charge, half cycles and wire ends of the spots under one condition."""
    numbers: dict[str, Number] = {}
    for quantity, unit in (("energy", "J"), ("charge", "C")):
        values = made_of(pulses, quantity)
        if len(values):
            numbers |= {
                f"{name}.{quantity}.mean": Number(float(values.mean()), unit),
                f"{name}.{quantity}.min": Number(float(values.min()), unit),
                f"{name}.{quantity}.max": Number(float(values.max()), unit),
                f"{name}.{quantity}.spread": Number(scatter(values), "1"),
            }
    halves = [pulse.half_cycles for pulse in pulses]
    numbers |= {
        f"{name}.half_cycles.min": Number(min(halves), "1"),
        f"{name}.half_cycles.max": Number(max(halves), "1"),
    }
    numbers |= _at_the_trigger(pulses, name)
    if pulses[0].ending:
        arcs, ends = made_of(pulses, "first_arc"), made_of(pulses, "wire_end")
        numbers |= {
            f"{name}.without_arc.count": Number(len(pulses) - len(arcs), "1"),
            f"{name}.first_arc.median": Number(float(np.median(arcs)) if len(arcs) else math.nan, "s"),
            f"{name}.wire_end.median": Number(float(np.median(ends)), "m"),
            f"{name}.stuck.count": Number(sum(pulse.ending == STUCK for pulse in pulses), "1"),
            f"{name}.in_the_tube.count": Number(sum(pulse.ending == IN_THE_TUBE for pulse in pulses), "1"),
        }
    return numbers


def _at_the_trigger(pulses: list[Pulse], name: str) -> dict[str, Number]:
    """What spots that follow one another begin with: largest bank charge and flux; nothing of those from rest."""
    numbers = {}
    for what, unit, values in (
        ("bank.voltage", "V", made_of(pulses, "bank_voltage")),
        ("core.flux_linkage", "V.s", np.abs(made_of(pulses, "flux_linkage"))),
        ("second_core.flux_linkage", "V.s", np.abs(made_of(pulses, "second_flux_linkage"))),
    ):
        if len(values):
            numbers[f"{name}.start.{what}.max"] = Number(float(values.max()), unit)
    return numbers


def _condition_row(name: str, pulses: list[Pulse]) -> dict:
    energy, charge = made_of(pulses, "energy"), made_of(pulses, "charge")
    halves = [pulse.half_cycles for pulse in pulses]
    row = {
        "kind": "condition",
        "condition": NAMES[name],
        "energy": float(energy.mean()),
        "energy_spread": scatter(energy),
        **({"charge": float(charge.mean()), "charge_spread": scatter(charge)} if len(charge) else {}),
        "half_cycles_min": min(halves),
        "half_cycles_max": max(halves),
    }
    if pulses[0].ending:
        arcs = made_of(pulses, "first_arc")
        row |= {
            "without_arc": len(pulses) - len(arcs),
            "first_arc": float(np.median(arcs)) if len(arcs) else None,
            "wire_end": float(np.median(made_of(pulses, "wire_end"))),
            "stuck": sum(pulse.ending == STUCK for pulse in pulses),
        }
    return row


def _spot_row(name: str, pulse: Pulse) -> dict:
    row = {"kind": "spot", "condition": NAMES[name], "trial": pulse.trial, "energy": pulse.energy}
    row |= {"charge": pulse.charge, "half_cycles": pulse.half_cycles, "power_time": pulse.power[1] - pulse.power[0]}
    begins = ("bank_voltage", "flux_linkage", "second_flux_linkage")
    row |= {name: getattr(pulse, name) for name in begins if math.isfinite(getattr(pulse, name))}
    if pulse.ending:
        row |= {"first_arc": pulse.first_arc, "wire_end": pulse.wire_end, "ending": pulse.ending}
    return row


def _assumptions(scenario: Scenario, question: Question, remark: str, pause: float) -> list[str]:
    trigger = question.trigger
    told = [
        f"{question.spots} spots under each condition, seed {question.seed}; draws are keyed by seed and number, so "
        "that all conditions meet the same wire and the same phase of the mains.",
        f"Spot time {trigger.spot_time:g} s from the {trigger.spot_from}; a free timer is off by up to "
        f"{100 * trigger.timer_spread:g} % either way, a synchronised one waits for a zero crossing and counts half "
        "cycles. A device once fired conducts to the end of its half cycle.",
        "Bank empty, core demagnetised and soft start cold at every trigger, but one after another: there each spot "
        f"begins with the flux, charge and soft start that the one before has left after a pause of {pause:g} s. "
        "Windings at one temperature through a spot.",
        *soft_start_assumptions(scenario),
    ]
    if has_wire(scenario):
        told.append(
            "Energy and charge are those of the arc circuit, extension included, to the end of the last current."
        )
        told.append(
            "A supply model cannot tell bead, penetration, porosity or spatter as mass, nor the size of a nugget."
        )
    else:
        told.append("Without a wire the spots are made on the load: its resistance stays, which real work does not.")
    return [*told, *([remark] if remark else [])]
