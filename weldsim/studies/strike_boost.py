"""What a boost decides at one setting, whether that can be trusted, and what it costs."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from weldsim.analysis.limits import no_load_checks
from weldsim.parts.boost import Boost
from weldsim.parts.wire import Wire
from weldsim.runs.crew import Crew
from weldsim.runs.perform import record
from weldsim.runs.wire_runs import Trial
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict
from weldsim.studies.no_load import highest_without_load
from weldsim.studies.strike_jobs import Setting, StrikeJob

DIFFER = 0.1  # share of trials by which two supplies must differ before the comparison says so
TYPICAL = 100.0  # [A] at which the blocking diode's drop is told
NULL_BALLAST = 1e6  # [ohm] through which a boost can do nothing
NULL_MAY_DIFFER = 0.02  # of the trials: the process is chaotic after tens of dips
FACTORS = {"halved": 0.5, "doubled": 2.0}
ROBUST_TRIALS = 30
BARE = "without_boost_and_diode"  # the supply as it was before the boost: what the diode alone costs
HIGH_MAINS = 1.1
NO_LOAD_DIALS = (0.4, 0.55, 0.7, 0.85, 1.0)  # a short pulse may not latch the device at the highest


@dataclass
class Part:
    """What one part of a study adds to its answer."""

    numbers: dict[str, Number] = field(default_factory=dict)
    verdicts: list[Verdict] = field(default_factory=list)
    rows: list[dict[str, Any]] = field(default_factory=list)


def bare_jobs(scenario: Scenario, setting: Setting, count: int) -> list[StrikeJob]:
    """The trials without the boost and without its blocking diode, where the scenario has one."""
    assert scenario.boost is not None
    return [StrikeJob(replace(scenario, boost=None), (setting,), count, BARE)] if scenario.boost.blocking_diode else []


def null_job(scenario: Scenario, setting: Setting, count: int) -> StrikeJob:
    """The trials with the boost behind a megohm."""
    return StrikeJob(vary(scenario, {"boost.ballast_resistance": NULL_BALLAST}), (setting,), count)


def robust_jobs(scenario: Scenario, setting: Setting, count: int) -> list[StrikeJob]:
    """The trials with and without the boost, the assumed re-ignition times and falling part halved, then doubled."""
    wire, jobs = scenario.wire or Wire(), []
    for factor in FACTORS.values():
        other = vary(scenario, {
            "wire.reignite_time": wire.reignite_time * factor, "wire.reignite_lost": wire.reignite_lost * factor,
            "wire.falling_voltage": wire.falling_voltage * factor})  # fmt: skip
        jobs += [StrikeJob(other, (setting,), count, boost_connected=connected) for connected in (True, False)]
    return jobs


def comparison(with_boost: Sequence[Trial], without: Sequence[Trial]) -> Part:
    """Whether the boost decides anything here."""
    better = sum(a.struck and not b.struck for a, b in zip(with_boost, without, strict=True))
    worse = sum(b.struck and not a.struck for a, b in zip(with_boost, without, strict=True))
    told = decided(better - worse, len(without))
    text = (
        f"Of {len(without)} trials with the same draws {better} strike only with the boost, {worse} only without: at "
        f"this setting it {told}."
    )
    level = {"decides": "good", "does harm": "fault"}.get(told, "note")
    numbers = {"only_with_boost.struck": Number(better, "1"), "only_without_boost.struck": Number(worse, "1")}
    return Part(numbers, [Verdict("boost", level, text)])


def blocking_diode(scenario: Scenario, found: Mapping[str, Sequence[Trial]]) -> Part:
    """What the diode in the main lead costs in strikes, apart from the boost; nothing where there is none."""
    if BARE not in found:
        return Part()
    assert scenario.boost is not None
    drop = scenario.boost.blocking_threshold + TYPICAL * scenario.boost.blocking_slope
    with_diode, bare = found["without_boost"], found[BARE]
    lost = sum(b.struck and not a.struck for a, b in zip(with_diode, bare, strict=True))
    won = sum(a.struck and not b.struck for a, b in zip(with_diode, bare, strict=True))
    struck = [sum(trial.struck for trial in found[case]) for case in ("with_boost", BARE)]
    text = (
        f"The blocking diode alone, the boost left out on both sides: of {len(bare)} trials with the same draws {lost} "
        f"strike only without it, {won} only with it; at this setting the diode {decided(won - lost, len(bare))}. "
        f"Cause: its drop, {drop:.2g} V at {TYPICAL:g} A, is missing at the arc. Boost and diode together: "
        f"{struck[0]} strikes against {struck[1]} of the supply without both. Assumed: the dial stays where it is; "
        "turned up a little it makes good for the drop."
    )
    numbers = {"only_without_diode.struck": Number(lost, "1"), "only_with_diode.struck": Number(won, "1")}
    return Part(numbers, [Verdict("blocking_diode", "note", text)])


def decided(more: int, count: int) -> str:
    """What a difference of so many strikes says."""
    if more > DIFFER * count:
        return "decides"
    return "does harm" if more < -DIFFER * count else "does next to nothing"


def null_test(null: Sequence[Trial], without: Sequence[Trial]) -> Part:
    """The boost behind a megohm: the struck flags must be those without it, draw by draw."""
    different = sum(a.struck != b.struck for a, b in zip(null, without, strict=True))
    numbers = {
        "null_test.trials.count": Number(len(null), "1"),
        "null_test.struck": Number(sum(trial.struck for trial in null), "1"),
        "null_test.different": Number(different, "1"),
    }
    passed = different <= max(NULL_MAY_DIFFER * len(null), 1.0 if len(null) < 50 else 0.0)
    text = (
        f"Null test: with a ballast of 1 Mohm {different} of {len(null)} trials end otherwise than without the boost. "
        + (
            "The difference told above comes from the boost's current, not from a rule written for it."
            if passed
            else "More than 2 of 100: do not trust the comparison."
        )
        + " Assumed: a few may differ, as small currents grow over tens of dips."
    )
    return Part(numbers, [Verdict("null_test", "good" if passed else "fault", text)])


def robustness(found: Mapping[str, Sequence[Trial]], others: Sequence[Sequence[Trial]]) -> Part:
    """The comparison again with other constants: trials of ``robust_jobs`` in their order."""
    part, count = Part(), min(len(found["with_boost"]), ROBUST_TRIALS)
    sides = (found["with_boost"], found["without_boost"])
    struck = {"as assumed": [sum(one.struck for one in done[:count]) for done in sides]}
    for word, pair in zip(FACTORS, (others[:2], others[2:]), strict=True):
        struck[word] = [sum(one.struck for one in done) for done in pair]
        part.numbers[f"with_boost.struck_{word}"] = Number(struck[word][0], "1")
        part.numbers[f"without_boost.struck_{word}"] = Number(struck[word][1], "1")
    told = {word: decided(a - b, count) for word, (a, b) in struck.items()}
    part.rows = [
        {
            "kind": "robustness",
            "constants": word,
            "with_boost": a,
            "without_boost": b,
            "trials": count,
            "boost": told[word],
        }
        for word, (a, b) in struck.items()
    ]
    cases = "; ".join(f"{word}: {a} with, {b} without, of {count}" for word, (a, b) in struck.items())
    survives = len(set(told.values())) == 1
    text = f"Re-ignition times and falling part {cases}. " + (
        f"What was found survives: in all three cases the boost {told['as assumed']}."
        if survives
        else "What was found does not survive: "
        + "; ".join(f"{word} the boost {said}" for word, said in told.items())
        + ". Do not trust it without measuring."
    )
    part.verdicts = [Verdict("boost_robustness", "good" if survives else "note", text)]
    return part


def no_load_cases(scenario: Scenario) -> list[Scenario]:
    """With the boost, without it, and, where it has a blocking diode and a bank to be kept off, without that."""
    boost = scenario.boost
    assert boost is not None
    bare = (
        [vary(scenario, {"boost.blocking_diode": False})] if scenario.bank is not None and boost.blocking_diode else []
    )
    return [scenario, replace(scenario, boost=None), *bare]


def cost(scenario: Scenario, setting: Setting, crew: Crew) -> Part:
    """What the boost costs: current and heat while welding, volts without load, and on the bank without a diode."""
    part = Part()
    highest = crew.each(highest_over_the_dial, no_load_cases(scenario))
    _steady(scenario, setting, part)
    _no_load(scenario, part, list(highest))
    return part


def _steady(scenario: Scenario, setting: Setting, part: Part) -> None:
    """Current of the boost and heat in its parts on the scenario's own load, or its rating line where it has none."""
    loaded = scenario if scenario.load is not None and scenario.load.kind != "wire" else _on_rating_line(scenario)
    recording = record(loaded, delay=setting.delay, start="steady", signals=["output.current"])
    table, ledger = recording.run.table, recording.run.ledger
    length = recording.run.window[1] - recording.run.window[0]
    losses = {
        name: entry["loss"] / length
        for name, entry in ledger.items()
        if isinstance(entry, dict) and name.startswith("boost") and entry.get("loss")
    }
    current = table.get("boost.current.mean", (math.nan, "A"))[0]
    ballast, heat = losses.get("boost ballast", 0.0), sum(losses.values())
    diode = losses.get("boost blocking diode", 0.0)
    part.numbers |= {
        "boost.current.mean": Number(current, "A"),
        "boost.ballast.heat": Number(ballast, "W"),
        "boost.blocking_diode.heat": Number(diode, "W"),
        "boost.heat": Number(heat, "W"),
    }
    text = (
        f"While welding on {'the load of the scenario' if loaded is scenario else 'the rating line'} the boost "
        f"carries {current:.3g} A and turns {heat:.3g} W into heat: {ballast:.3g} W in its ballast, {diode:.3g} W "
        "in the blocking diode, as long as the trigger is held. Assumed: settled state at this setting."
    )
    part.verdicts.append(Verdict("boost_cost", "note", text))


def _on_rating_line(scenario: Scenario) -> Scenario:
    return vary(scenario, {"load": "absent", "load.kind": "load line", "load.process": "MIG"})


def _no_load(scenario: Scenario, part: Part, highest: Sequence[dict[str, float]]) -> None:
    """Open-circuit voltage with and without the boost, and the bank's with and without the blocking diode."""
    boost = scenario.boost
    assert boost is not None
    volts = dict(zip(("with_boost", "without_boost"), highest, strict=False))
    for case, found in volts.items():
        part.numbers[f"{case}.open_circuit.voltage"] = Number(found["output"], "V")
    output = volts["with_boost"]["output"]
    checks = no_load_checks(peak=output, rms=output, current="dc")
    harder = no_load_checks(peak=output, rms=output, current="dc", place="increased hazard")
    kept = all(check.kept for check in checks)
    text = (
        f"Without load, at the worst of a few dial settings, mains +10 %, the output reaches {output:.3g} V with the "
        f"boost, {volts['without_boost']['output']:.3g} V without it: "
        + (
            f"inside the limit of {checks[0].limit.volts:g} V dc peak ({checks[0].limit.clause}, "
            f"{checks[0].limit.status})"
            + (", also where shock is more likely" if all(check.kept for check in harder) else "")
            if kept
            else f"above the limit of {checks[0].limit.volts:g} V dc peak: do not use it"
        )
        + ". Local rules decide."
    )
    part.verdicts.append(Verdict("boost_open_circuit", "good" if kept else "fault", text))
    if scenario.bank is not None:
        _bank(scenario, part, boost=boost, seen=[found["bank"] for found in (highest[0], highest[-1])])


def _bank(scenario: Scenario, part: Part, *, boost: Boost, seen: Sequence[float]) -> None:
    """What the blocking diode keeps off the bank: the highest voltage as it is and without the diode [V]."""
    kept, bare = seen[0], seen[1] if boost.blocking_diode else seen[0]
    part.numbers["bank.voltage.with_boost"] = Number(kept, "V")
    part.numbers["bank.voltage.without_blocking_diode"] = Number(bare, "V")
    assert scenario.bank is not None
    rating = scenario.bank.rated_voltage
    over = rating is not None and kept > rating
    told = "" if rating is None else f" against its rating of {rating:g} V"
    text = f"Without load, at the worst of a few dial settings, mains +10 %, the bank sees {kept:.3g} V{told}" + (
        f"; without the blocking diode it would see {bare:.3g} V."
        if boost.blocking_diode
        else "; there is no blocking diode."
    )
    part.verdicts.append(Verdict("boost_bank", "fault" if over else "good", text))


def highest_over_the_dial(scenario: Scenario) -> dict[str, float]:
    """Highest voltages of output and bank without load at mains +10 %, over a few settings of the dial."""
    found: dict[str, float] = {}
    for dial in NO_LOAD_DIALS if scenario.phase_control is not None else (None,):
        at_dial = scenario if dial is None else vary(scenario, {"phase_control.dial": dial})
        for name, volts in highest_without_load(at_dial, mains_factor=HIGH_MAINS).items():
            found[name] = max(found.get(name, 0.0), volts)
    return found
