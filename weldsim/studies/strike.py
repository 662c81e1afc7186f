"""Strike: from the trigger to a stable arc, with and without the boost, on the same random draws."""

import math

import numpy as np

from weldsim.errors import QuestionError
from weldsim.parts.wire import Wire
from weldsim.runs.perform import record
from weldsim.runs.wire_runs import STRUCK_BAD, STRUCK_SPAN, TRIAL_LENGTH, Trial, WireSupply, delay_of, strike_trial
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Answer, Number, Verdict
from weldsim.studies.press_trips import interval
from weldsim.studies.progress import Progress, silent

TRIALS = 100
DIFFER = 0.1  # share of trials by which two supplies must differ before the comparison says so


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    trials: int = TRIALS,
    seed: int = 1,
    compare: str | None = None,
    progress: Progress = silent,
) -> Answer:
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
        Number of trials; start of the random draws, which are keyed by seed, trial and number of the draw.
    compare : "boost" or None
        What to compare.

    Returns
    -------
    Answer : rows "trial"; numbers of CONTRACT's strike study.

    Raises
    ------
    QuestionError : no trials, or no boost to compare; WiringError, SimulationError.
    """
    if trials < 1:
        raise QuestionError(f"{trials} trials say nothing", place="trials", advice="ask for 1 or more")
    if compare == "boost" and scenario.boost is None:
        raise QuestionError("there is no boost to compare", place="boost", advice="add a [boost] table")
    asked = delay_of(scenario, dial, delay)
    cases = {"with_boost": True, "without_boost": False} if compare == "boost" else {"": True}
    found: dict[str, list[Trial]] = {}
    for case, connected in cases.items():
        supply = WireSupply(scenario, boost_connected=connected)
        found[case] = []
        for trial in range(trials):
            found[case].append(strike_trial(supply, seed=seed, trial=trial, delay=asked, feed=feed))
            progress(trial + 1, trials, f"strikes {case}".strip())
    numbers: dict[str, Number] = {}
    for case, done in found.items():
        numbers |= statistics(done, f"{case}." if case else "")
    verdicts = [_verdict(case, done) for case, done in found.items()]
    if compare == "boost":
        verdicts += [
            _comparison(found),
            *_robustness(scenario, asked, feed, seed, min(trials, 30)),
            *_cost(scenario, asked),
        ]
    rows = [_row(case, trial) for case, done in found.items() for trial in done]
    return Answer("strike", scenario, numbers, verdicts, _assumptions(seed, trials), rows=rows, runs={})


def statistics(done: list[Trial], prefix: str) -> dict[str, Number]:
    """Count, struck, median time, mean touches, largest short-circuit current and rise."""
    times = [trial.time_to_arc for trial in done if trial.struck]
    return {
        f"{prefix}trials.count": Number(len(done), "1"),
        f"{prefix}struck": Number(len(times), "1"),
        f"{prefix}time_to_arc.median": Number(float(np.median(times)) if times else math.nan, "s"),
        f"{prefix}touches.mean": Number(float(np.mean([trial.touches for trial in done])), "1"),
        f"{prefix}short_circuit.current.peak": Number(max(trial.peak_current for trial in done), "A"),
        f"{prefix}short_circuit.current.rise": Number(max(trial.rise for trial in done), "A/s"),
    }


def _row(case: str, trial: Trial) -> dict:
    return {"kind": "trial", "case": case or "as it is", "trial": trial.trial, "struck": trial.struck,
            "time_to_arc": trial.time_to_arc, "touches": trial.touches, "losses": trial.losses,
            "reignitions": trial.reignitions, "peak": trial.peak_current, "reason": trial.reason}  # fmt: skip


def _verdict(case: str, done: list[Trial]) -> Verdict:
    struck = sum(trial.struck for trial in done)
    low, high = interval(struck, len(done))
    reasons: dict[str, int] = {}
    for trial in done:
        if trial.reason:
            reasons[trial.reason] = reasons.get(trial.reason, 0) + 1
    told = ", ".join(f"{reason} {count}" for reason, count in sorted(reasons.items(), key=lambda item: -item[1]))
    times = [trial.time_to_arc for trial in done if trial.struck]
    when = f"; half of them within {np.median(times):.3g} s of the trigger" if times else ""
    who = {"with_boost": "With the boost", "without_boost": "Without the boost"}.get(case, "The supply")
    level = "good" if struck >= 0.9 * len(done) else "note" if struck >= 0.5 * len(done) else "fault"
    return Verdict(
        f"strike{'_' + case if case else ''}",
        level,
        f"{who} strikes in {struck} of {len(done)} trials (95 % confidence {100 * low:.0f} to {100 * high:.0f} of 100)"
        f"{when}{'. Failures: ' + told if told else ''}. Assumed: the wire's constants as written, random contact, "
        "drop and phase of the mains.",
    )


def _comparison(found: dict[str, list[Trial]]) -> Verdict:
    """Whether the boost decides anything here."""
    both = list(zip(found["with_boost"], found["without_boost"], strict=True))
    better = sum(a.struck and not b.struck for a, b in both)
    worse = sum(b.struck and not a.struck for a, b in both)
    share = (better - worse) / len(both)
    text = (
        f"Of {len(both)} trials with the same draws {better} strike only with the boost and {worse} only without it. "
    )
    if share > DIFFER:
        return Verdict("boost", "good", text + "At this setting the boost decides.")
    if share < -DIFFER:
        return Verdict("boost", "fault", text + "At this setting the boost does harm.")
    return Verdict("boost", "note", text + "At this setting the boost does next to nothing.")


def _robustness(scenario: Scenario, delay: float | None, feed: float | None, seed: int, trials: int) -> list[Verdict]:
    """The comparison again with the assumed re-ignition times and falling part halved and doubled."""
    current = scenario.wire or Wire()
    texts = []
    for factor, word in ((0.5, "halved"), (2.0, "doubled")):
        other = vary(scenario, {
            "wire.reignite_time": current.reignite_time * factor, "wire.reignite_lost": current.reignite_lost * factor,
            "wire.falling_voltage": current.falling_voltage * factor})  # fmt: skip
        struck = []
        for connected in (True, False):
            supply = WireSupply(other, boost_connected=connected)
            done = [strike_trial(supply, seed=seed, trial=k, delay=delay, feed=feed) for k in range(trials)]
            struck.append(sum(trial.struck for trial in done))
        texts.append(f"{word}: {struck[0]} with, {struck[1]} without, of {trials}")
    return [
        Verdict(
            "boost_robustness",
            "note",
            "With the assumed re-ignition times and falling part "
            f"{'; '.join(texts)}. A difference that does not survive this is not to be trusted.",
        )
    ]


def _cost(scenario: Scenario, delay: float | None) -> list[Verdict]:
    """What the boost costs while welding on the scenario's own load: its current and its heat."""
    if scenario.load is None:
        return []
    recording = record(scenario, delay=delay, start="steady", signals=["output.current"])
    table, ledger = recording.run.table, recording.run.ledger
    length = recording.run.window[1] - recording.run.window[0]
    heat = sum(
        entry.get("loss", 0.0) for part, entry in ledger.items() if isinstance(entry, dict) and part.startswith("boost")
    )
    current = table.get("boost.current.mean", (math.nan, "A"))[0]
    return [
        Verdict(
            "boost_cost",
            "note",
            f"While welding on the scenario's load the boost carries {current:.3g} A and turns {heat / length:.3g} W "
            f"into "
            "heat in its parts.",
        )
    ]


def _assumptions(seed: int, trials: int) -> list[str]:
    return [
        f"{trials} trials, seed {seed}; draws are keyed by seed, trial and number of the draw, so that two supplies "
        f"meet the same wire.",
        f"Struck: from some moment on the arc burns (bridges count) for {STRUCK_SPAN:g} s without being out, clear or "
        f"in solid contact for more than "
        f"{1e3 * STRUCK_BAD:g} ms in sum; a trial ends when struck or after {TRIAL_LENGTH:g} s.",
        "The process advances in ticks of some 25 us, the supply exactly in between. Its rules never know whether "
        "there is a boost.",
        "Bank empty and core demagnetised at the trigger; feed runs up with the motor's time constant.",
        "Light, fumes, hot wire and the open-circuit voltage can hurt: the usual protection and local rules apply.",
        "A supply model cannot tell bead, penetration, porosity or spatter as mass.",
    ]
