"""What a boost decides at one setting, whether that can be trusted, and what it costs."""

import dataclasses
import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from typing import Any

from weldsim.analysis.limits import no_load_checks
from weldsim.parts.boost import Boost
from weldsim.parts.wire import Wire
from weldsim.runs.crew import Crew
from weldsim.runs.perform import record
from weldsim.runs.wire_runs import Trial
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict, amount
from weldsim.studies.no_load import SNUBBER, highest_without_load
from weldsim.studies.strike_jobs import Setting, StrikeJob

DIFFER = 0.1  # share of trials by which two supplies must differ before the comparison says so
MOST_LEFT = 0.75  # of the strikes with the boost that other constants must leave, for them to be called robust
CHANCE = 0.05  # and how rarely chance alone may make as many pairs of trials differ as unevenly
FEW = 5  # trials of which no median is told
IDLE = 1e-2  # [A, W] of a boost that does nothing
TYPICAL = 100.0  # [A] at which the blocking diode's drop is told
NULL_BALLAST = 1e6  # [ohm] through which a boost can do nothing
NULL_MAY_DIFFER = 0.02  # of the trials: the process is chaotic after tens of dips
ASSUMED = ("reignite_time", "reignite_lost", "falling_voltage", "least_current")
FACTORS = {"halved": 0.5, "doubled": 2.0}
ROBUST_TRIALS = 30
DECIDES, HARMS, NOTHING = "decides", "does harm", "does next to nothing"
BY_CHANCE = "cannot be told from chance"
BARE = "without_boost_and_diode"  # the supply as it was before the boost: what the diode alone costs
HIGH_MAINS = 1.1
KICK = 1.02  # times what is left behind a snubber: more is told
NO_LOAD_DIALS = (0.4, 0.55, 0.7, 0.85, 1.0)  # a short pulse may not latch the device at the highest


@dataclasses.dataclass
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
    """The trials with and without the boost, the assumed re-ignition times, falling part and least current of an arc
    halved, then doubled.
    """
    wire, jobs = scenario.wire or Wire(), []
    for factor in FACTORS.values():
        scaled = {name: getattr(wire, name) * factor for name in ASSUMED}
        other = replace(scenario, wire=replace(wire, **scaled))  # beyond the ranges of the file too
        jobs += [StrikeJob(other, (setting,), count, boost_connected=connected) for connected in (True, False)]
    return jobs


def told(
    scenario: Scenario,
    setting: Setting,
    crew: Crew,
    *,
    found: Mapping[str, Sequence[Trial]],
    others: Sequence[Sequence[Trial]],
) -> list[Part]:
    """All parts of a comparison; ``others`` are the trials of the null job and of the robust jobs, in their order."""
    price = cost(scenario, setting, crew)
    with_boost, without = found["with_boost"], found["without_boost"]
    return [
        comparison(with_boost, without),
        blocking_diode(scenario, found),
        null_test(others[0], without),
        robustness(found, others[1:]),
        price,
    ]


def comparison(with_boost: Sequence[Trial], without: Sequence[Trial]) -> Part:
    """Whether the boost decides anything here."""
    better, worse = one_sided(with_boost, without)
    said = decided(with_boost, without)
    text = (
        f"Of {len(without)} trials with the same draws {better} strike only with the boost, {worse} only without: at "
        f"this setting it {said}.{_sooner(with_boost, without)}"
    )
    level = {DECIDES: "good", HARMS: "fault"}.get(said, "note")
    numbers = {"only_with_boost.struck": Number(better, "1"), "only_without_boost.struck": Number(worse, "1")}
    return Part(numbers, [Verdict("boost", level, text)])


def blocking_diode(scenario: Scenario, found: Mapping[str, Sequence[Trial]]) -> Part:
    """What the diode in the main lead costs in strikes, apart from the boost; nothing where there is none."""
    if BARE not in found:
        return Part()
    assert scenario.boost is not None
    drop = scenario.boost.blocking_threshold + TYPICAL * scenario.boost.blocking_slope
    with_diode, bare = found["without_boost"], found[BARE]
    won, lost = one_sided(with_diode, bare)
    struck = [sum(trial.struck for trial in found[case]) for case in ("with_boost", BARE)]
    together = decided(found["with_boost"], bare)
    text = (
        f"The blocking diode alone, the boost left out on both sides: of {len(bare)} trials with the same draws {lost} "
        f"strike only without it, {won} only with it; at this setting the diode {decided(with_diode, bare)}. "
        f"Cause: its drop, {drop:.2g} V at {TYPICAL:g} A, is missing at the arc. Boost and diode together: "
        f"{struck[0]} strikes against {struck[1]} of the supply without both; the pair {together}. Assumed: the dial "
        "stays where it is; turned up a little it makes good for the drop."
    )
    numbers = {"only_without_diode.struck": Number(lost, "1"), "only_with_diode.struck": Number(won, "1")}
    return Part(numbers, [Verdict("blocking_diode", "fault" if together == HARMS else "note", text)])


def one_sided(first: Sequence[Trial], second: Sequence[Trial]) -> tuple[int, int]:
    """Of trials with the same draws, those that strike only in the first, and only in the second."""
    pairs = [(a.struck, b.struck) for a, b in zip(first, second, strict=True)]
    return pairs.count((True, False)), pairs.count((False, True))


def decided(first: Sequence[Trial], second: Sequence[Trial]) -> str:
    """What the first has done against the second, of trials with the same draws."""
    return judged(*one_sided(first, second), count=len(first))


def judged(better: int, worse: int, *, count: int) -> str:
    """What so many trials that strike on one side only say: McNemar's question, by the sign test.

    >>> judged(12, 0, count=100), judged(2, 14, count=100), judged(8, 0, count=100)
    ('decides', 'does harm', 'does next to nothing')

    Pairs that differ this way and that nearly as often, or a few of few trials, do so by chance:

    >>> judged(32, 20, count=100), judged(3, 0, count=10)
    ('cannot be told from chance', 'cannot be told from chance')
    """
    if abs(better - worse) <= DIFFER * count:
        return NOTHING
    differ = better + worse
    tail = sum(math.comb(differ, k) for k in range(max(better, worse), differ + 1)) / 2.0**differ
    if 2.0 * tail > CHANCE:
        return BY_CHANCE
    return DECIDES if better > worse else HARMS


def _sooner(with_boost: Sequence[Trial], without: Sequence[Trial]) -> str:
    """How soon and after how many touches, of the trials that strike either way."""
    both = [(a, b) for a, b in zip(with_boost, without, strict=True) if a.struck and b.struck]
    if len(both) < FEW:
        return ""
    times = [statistics.median(trial.time_to_arc for trial in side) for side in zip(*both, strict=True)]
    return (
        f" Of the {len(both)} that strike either way half have their stable arc within {amount(times[0], 's')} of the "
        f"trigger with it, within {amount(times[1], 's')} without it."
    )


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
            "What difference there is above comes from the boost's current, not from a rule written for it."
            if passed
            else "More than 2 of 100: do not trust the comparison."
        )
        + " Assumed: a few may differ, as small currents grow over tens of dips."
    )
    return Part(numbers, [Verdict("null_test", "good" if passed else "fault", text)])


def robustness(found: Mapping[str, Sequence[Trial]], others: Sequence[Sequence[Trial]]) -> Part:
    """The comparison again with other constants: trials of ``robust_jobs`` in their order."""
    part, count = Part(), min(len(found["with_boost"]), ROBUST_TRIALS)
    sides = {"as assumed": [found[case][:count] for case in ("with_boost", "without_boost")]}
    sides |= dict(zip(FACTORS, (list(others[:2]), list(others[2:])), strict=True))
    struck = {word: [sum(one.struck for one in done) for done in pair] for word, pair in sides.items()}
    for word in FACTORS:
        part.numbers[f"with_boost.struck_{word}"] = Number(struck[word][0], "1")
        part.numbers[f"without_boost.struck_{word}"] = Number(struck[word][1], "1")
    told = {word: decided(*pair) for word, pair in sides.items()}
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
    weaker = [word for word in FACTORS if struck[word][0] < MOST_LEFT * struck["as assumed"][0]]
    text = f"Re-ignition times, falling part and least current {cases}. " + (
        f"What was found survives: in all three cases the boost {told['as assumed']}."
        if survives
        else "What was found does not survive: "
        + "; ".join(f"{word} the boost {said}" for word, said in told.items())
        + ". Do not trust it without measuring."
    )
    if survives and weaker:
        text += (
            f" That it strikes with the boost does not survive: {' and '.join(weaker)} it does so in "
            f"{' and '.join(str(struck[word][0]) for word in weaker)} of {count}."
        )
    part.verdicts = [Verdict("boost_robustness", "good" if survives and not weaker else "note", text)]
    return part


def no_load_cases(scenario: Scenario) -> dict[str, Scenario]:
    """With the boost and without it; without its blocking diode, where a bank is kept off by one; behind a snubber,
    where the switch has none.
    """
    boost, control = scenario.boost, scenario.phase_control
    assert boost is not None
    found = {"with_boost": scenario, "without_boost": replace(scenario, boost=None)}
    if scenario.bank is not None and boost.blocking_diode:
        found["without_diode"] = vary(scenario, {"boost.blocking_diode": False})
    if control is not None and control.snubber_capacitance is None:
        found["snubbed"] = vary(scenario, SNUBBER)
    return found


def cost(scenario: Scenario, setting: Setting, crew: Crew) -> Part:
    """What the boost costs: current and heat while welding, volts without load, and on the bank without a diode."""
    part = Part()
    cases = no_load_cases(scenario)
    highest = crew.each(highest_over_the_dial, list(cases.values()))
    _steady(scenario, setting, part)
    _no_load(scenario, part, dict(zip(cases, highest, strict=True)))
    return part


def _why_idle(scenario: Scenario) -> str:
    """Why a boost gives nothing while the arc burns."""
    if scenario.boost is not None and scenario.boost.kind == "choke":
        return (
            " Cause: a winding on the choke has volts only while the choke's current changes, and the larger the bank "
            "and the choke, the less it does."
        )
    return " Cause: its volts, behind the ballast, hardly stand above those of the load."


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
    current, most = (table.get(f"boost.current.{what}", (math.nan, "A"))[0] for what in ("mean", "max"))
    ballast, heat = losses.get("boost ballast", 0.0), sum(losses.values())
    diode = losses.get("boost blocking diode", 0.0)
    part.numbers |= {
        "boost.current.mean": Number(current, "A"),
        "boost.current.max": Number(most, "A"),
        "boost.ballast.heat": Number(ballast, "W"),
        "boost.blocking_diode.heat": Number(diode, "W"),
        "boost.heat": Number(heat, "W"),
    }
    carries = f"carries {amount(current, 'A')} and turns {heat:.3g} W into heat: {ballast:.3g} W in its ballast"
    if scenario.boost is not None and scenario.boost.blocking_diode:
        carries += f", {diode:.3g} W in the blocking diode"
    idle = abs(current) < IDLE and heat < IDLE
    if idle:
        carries = "carries next to nothing and costs no heat"
    text = (
        f"While welding on {'the load of the scenario' if loaded is scenario else 'the rating line'} the boost "
        f"{carries}, as long as the trigger is held.{_why_idle(scenario) if idle else ''} Assumed: settled state at "
        "this setting."
    )
    part.verdicts.append(Verdict("boost_cost", "note", text))


def _on_rating_line(scenario: Scenario) -> Scenario:
    return vary(scenario, {"load": "absent", "load.kind": "load line", "load.process": "MIG"})


def _no_load(scenario: Scenario, part: Part, volts: Mapping[str, dict[str, float]]) -> None:
    """Open-circuit voltage with and without the boost, and the bank's with and without the blocking diode."""
    boost = scenario.boost
    assert boost is not None
    for case in ("with_boost", "without_boost"):
        part.numbers[f"{case}.open_circuit.voltage"] = Number(volts[case]["output"], "V")
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
        + f".{_of_a_kick(output, volts)} Local rules decide."
    )
    part.verdicts.append(Verdict("boost_open_circuit", "good" if kept else "fault", text))
    if scenario.bank is not None:
        seen = [volts[case]["bank"] for case in ("with_boost", "without_diode") if case in volts]
        _bank(scenario, part, boost=boost, seen=seen)


def _of_a_kick(output: float, volts: Mapping[str, dict[str, float]]) -> str:
    """How much of the open-circuit voltage is a kick of the core that a snubber takes."""
    if "snubbed" not in volts or not output > KICK * volts["snubbed"]["output"]:
        return ""
    return (
        f" Part of it is a kick of the core, whose last milliamperes the switch cuts off: with a snubber of 47 ohm and "
        f"100 nF across the switch it is {volts['snubbed']['output']:.3g} V."
    )


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
