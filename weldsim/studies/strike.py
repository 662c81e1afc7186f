"""Strike: from the trigger to a stable arc, with and without the boost, on the same random draws."""

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import field

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.choke import Choke
from weldsim.runs.commands import with_dial
from weldsim.runs.crew import Crew
from weldsim.runs.wire_places import STRUCK_BAD, STRUCK_SPAN, TRIAL_LENGTH
from weldsim.runs.wire_runs import REASONS, Trial, delay_of
from weldsim.scenario.document import Scenario
from weldsim.studies import strike_boost, strike_map
from weldsim.studies.answer import Answer, Number, Verdict, amount, counted, of_hundred
from weldsim.studies.choke_words import for_a_wire, given_way
from weldsim.studies.press_trips import interval
from weldsim.studies.progress import Progress, silent
from weldsim.studies.strike_jobs import Setting, StrikeJob, all_struck
from weldsim.studies.strike_traces import StrikeTrace

TRIALS = 100
WHO = {
    "with_boost": "With the boost",
    "without_boost": "Without the boost",
    strike_boost.BARE: "Without the boost and without its blocking diode",
}


@dataclass(frozen=True, eq=False)
class StrikeAnswer(Answer):
    """An answer with the waveforms of a typical success and a typical failure of each case."""

    traces: list[StrikeTrace] = field(default_factory=list)


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    trials: int = TRIALS,
    seed: int = 1,
    compare: str | None = None,
    over_dial: bool = False,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> StrikeAnswer:
    """Strikes at one setting; with ``compare="boost"`` with and without the boost circuit, same seeds, side by side.

    Parameters
    ----------
    scenario : Scenario
        Its [wire] is used whatever its load says; a default wire where it has none.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg].
    feed : float or None
        Wire feed [m/s]; the scenario's own if None.
    trials, seed : int
        Number of trials; start of the random draws, which are keyed by seed, trial, event and purpose.
    compare : "boost" or None
        What to compare: adds the null test, the repetition with other assumed constants, and the boost's cost.
    over_dial : bool
        Also strike over a range of dial settings and three feeds.
    workers : int or None
        Threads that share the supplies to strike with; None: as many as cores.
    executor : concurrent.futures.Executor or None
        Where the strikes run instead, if more than one supply is struck with.

    Returns
    -------
    StrikeAnswer : rows "trial", "moment", "robustness", "setting"; numbers of the strike study in README.

    Raises
    ------
    QuestionError : no trials, or no boost to compare; WiringError, SimulationError.
    """
    if trials < 1:
        raise QuestionError(f"{trials} trials say nothing", place="trials", advice="ask for 1 or more")
    if compare == "boost" and scenario.boost is None:
        raise QuestionError("there is no boost to compare", place="boost", advice="add a [boost] table")
    scenario = with_dial(scenario, dial)
    asked = delay_of(scenario, dial, delay)
    cases = {"with_boost": True, "without_boost": False} if compare == "boost" else {"": True}
    setting, robust = Setting(asked, feed, seed), min(trials, strike_boost.ROBUST_TRIALS)
    jobs = [StrikeJob(scenario, (setting,), trials, case, connected, True) for case, connected in cases.items()]
    if compare == "boost":
        jobs += strike_boost.bare_jobs(scenario, setting, trials)
        jobs.append(strike_boost.null_job(scenario, setting, trials))
        jobs += strike_boost.robust_jobs(scenario, setting, robust)
    parts: list[strike_boost.Part] = []
    with Crew(workers if len(jobs) > 1 or over_dial else 1, executor) as crew:
        struck = all_struck(crew, jobs, progress)
        trialled = [one.trials[0] for one in struck]
        found = {job.case: one for job, one in zip(jobs, trialled, strict=True) if job.case or not compare}
        if compare == "boost":
            parts = strike_boost.told(scenario, setting, crew, found=found, others=trialled[len(found) :])
        if over_dial:
            parts.append(
                strike_map.over_dial(scenario, cases, asked=setting, trials=trials, crew=crew, progress=progress)
            )
    traces = [trace for one in struck for trace in one.traces]
    numbers: dict[str, Number] = {}
    for case, done in found.items():
        numbers |= statistics(done, f"{case}." if case else "")
    verdicts = [_verdict(case, done, scenario.choke) for case, done in found.items()]
    rows = [_row(case, trial) for case, done in found.items() for trial in done]
    rows += [row for trace in traces for row in trace.rows()]
    for part in parts:
        numbers |= part.numbers
        verdicts += part.verdicts
        rows += part.rows
    return StrikeAnswer(
        "strike",
        scenario,
        numbers,
        for_a_wire(scenario, verdicts),
        _assumptions(seed, trials),
        rows=rows,
        runs={},
        traces=traces,
    )


def statistics(done: Sequence[Trial], prefix: str) -> dict[str, Number]:
    """Count, struck with its interval, median time, mean touches, largest short-circuit current and rise, and how often
    each reason made a trial fail.
    """
    times = [trial.time_to_arc for trial in done if trial.struck]
    low, high = interval(len(times), len(done))
    numbers = {
        "trials.count": Number(len(done), "1"),
        "struck": Number(len(times), "1"),
        "struck.low": Number(low * len(done), "1"),
        "struck.high": Number(high * len(done), "1"),
        "time_to_arc.median": Number(float(np.median(times)) if times else math.nan, "s"),
        "touches.mean": Number(float(np.mean([trial.touches for trial in done])), "1"),
        "short_circuit.current.peak": Number(max(trial.peak_current for trial in done), "A"),
        "short_circuit.current.rise": Number(max(trial.rise for trial in done), "A/s"),
        "burnt_back.count": Number(sum(trial.burnt_back for trial in done), "1"),
    }
    for reason in REASONS:
        name = "failed." + reason.replace(" ", "_").replace("-", "_")
        numbers[name] = Number(sum(trial.reason == reason for trial in done), "1")
    return {prefix + name: number for name, number in numbers.items()}


def _row(case: str, trial: Trial) -> dict:
    return {"kind": "trial", "case": case or "as it is", "trial": trial.trial, "struck": trial.struck,
            "time_to_arc": trial.time_to_arc, "touches": trial.touches, "losses": trial.losses,
            "reignitions": trial.reignitions, "peak": trial.peak_current, "rise": trial.rise, "out": trial.out,
            "touching": trial.touching, "burnt_back": trial.burnt_back, "reason": trial.reason}  # fmt: skip


def _verdict(case: str, done: list[Trial], choke: Choke | None) -> Verdict:
    struck = sum(trial.struck for trial in done)
    low, high = interval(struck, len(done))
    counts = {reason: sum(trial.reason == reason for trial in done) for reason in REASONS}
    told = ", ".join(f"{reason} {count}" for reason, count in sorted(counts.items(), key=lambda one: -one[1]) if count)
    times = [trial.time_to_arc for trial in done if trial.struck]
    when = f"; half of these within {np.median(times):.3g} s of the trigger" if times else ""
    who = f"{WHO[case]} the supply" if case in WHO else "The supply"
    level = "good" if struck >= 0.9 * len(done) else "note" if struck >= 0.5 * len(done) else "fault"
    burnt = sum(trial.burnt_back for trial in done)
    if burnt > 0.1 * len(done):
        level = "fault"
    rise, peak = max(trial.rise for trial in done), max(trial.peak_current for trial in done)
    saturated = given_way(choke, peak)
    return Verdict(
        f"strike{'_' + case if case else ''}",
        level,
        f"{who} strikes in {struck} of {counted(len(done), 'trial')} (95 % confidence {of_hundred(low)} to "
        f"{of_hundred(high)} of 100){when}{'. Failures: ' + told if told else ''}. The short-circuit current rises by "
        f"up to {amount(1e-3 * rise, '1')} A/ms, to {amount(peak, 'A')}. "
        + (f"{saturated}, so it runs away at the end; `choke` tells what holds. " if saturated else "")
        + (
            f"In {counted(burnt, 'trial')} the wire has burnt back into the contact tube by the end: fewer volts or "
            "more feed. "
            if burnt
            else ""
        )
        + "Assumed: the "
        "wire's constants as written, random contact, drop and phase of the mains.",
    )


def _assumptions(seed: int, trials: int) -> list[str]:
    return [
        f"{counted(trials, 'trial')}, seed {seed}; draws are keyed by seed, trial, number of the wire's event and "
        "purpose: two supplies meet the same wire.",
        "Drawn evenly: phase of the mains at the trigger, first gap, contact tube, contact resistance and spot, gap "
        "after a rupture, reach of pool and drop, within the ranges of [wire].",
        f"Struck: from some moment on the arc burns (bridges count) for {STRUCK_SPAN:g} s without being out, clear or "
        f"in solid contact for more than {1e3 * STRUCK_BAD:g} ms in sum; a trial ends when struck or after "
        f"{TRIAL_LENGTH:g} s.",
        "Reasons: touched too late, where the arc burns on since its first touch and only the time was short; no "
        "current, where no short circuit reached the arc's hold limit; stubbing, where solid contact took "
        "more time than lost arcs; re-ignition voltage not reached, where most lost arcs waited for the next touch; "
        "current fell below hold, where most came back by themselves and were lost again.",
        "No arc lives on for longer than wire.dead_time on less than wire.least_current (of iron, from memory), and a "
        "gap cools on while one that came back carries less.",
        "The process advances in ticks of some 100 us, the supply exactly in between. Its rules never know whether "
        "there is a boost.",
        "Bank empty and core demagnetised at the trigger; feed runs up with the motor's time constant.",
        "A supply model cannot tell bead, penetration, porosity or spatter as mass.",
    ]
