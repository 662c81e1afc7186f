"""Choke: which inductance gives a wanted rise of the short-circuit current, what it costs, and how to wind it.

Every inductance of the table is a choke that does not saturate, with the scenario's own winding resistance, so that the
table shows what inductance alone does; whether the present choke keeps its own at the peak is judged beside it.
"""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from typing import Any

import numpy as np

from weldsim.analysis.dips import NOTHING
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.capacitors import Bank
from weldsim.parts.choke import Choke, inductance_at
from weldsim.parts.choke_design import SIDE_SHARE, Winding, smallest_section, smallest_winding
from weldsim.runs.commands import with_dial
from weldsim.runs.crew import Crew
from weldsim.runs.wire_runs import WireSupply, delay_of, strike_trial
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict, amount
from weldsim.studies.choke_words import STRIKES, for_a_wire, not_found, range_verdict, told_wire
from weldsim.studies.progress import Progress, silent
from weldsim.studies.weld_measure import FLUTTER, WeldJob, dip_rate, irregularities, measure

RISE = 80e3  # [A/s] in the middle of what is usual: 50 to 150 A/ms, common practice
TRIALS, SECONDS = 20, 2.0
INDUCTANCES = (0.03e-3, 0.06e-3, 0.12e-3, 0.2e-3, 0.3e-3, 0.5e-3, 0.8e-3, 1.5e-3, 3e-3, 6e-3)  # [H]
LARGER = 4.0  # times the bank, where bank and choke may swing the current to nothing after a short
POOR_STARTS = 0.5  # share of the starts that strike, below which they are a fault


@dataclass(frozen=True)
class ChokeJob:
    """One inductance to be tried, small enough to be handed to another process."""

    scenario: Scenario
    inductance: float | None  # [H]; None: the scenario's own choke
    dial: float | None
    delay: float | None
    feed: float | None
    seed: int
    trials: int


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    rise: float = RISE,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    trials: int = TRIALS,
    seed: int = 1,
    core_section: float | None = None,
    core_path: float | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Answer:
    """The inductance for a rise of current in the short, over a table of inductances welded and struck.

    Parameters
    ----------
    scenario : Scenario
        Its [wire] is used whatever its load says; its [choke] lends its resistance, and its core where it has one.
    rise : float
        Wanted mean rise of the short-circuit current [A/s].
    dial, delay, feed : float or None
        Setting, as for a weld.
    trials, seed : int
        Strikes at each inductance; start of the random draws.
    core_section, core_path : float or None
        Core to wind on, in place of the scenario's [m2], [m].
    workers : int or None
        Threads; None: two.
    executor : concurrent.futures.Executor or None
        Where the jobs run instead.

    Returns
    -------
    Answer : rows "inductance", and "present" where the scenario has a choke.

    Raises
    ------
    QuestionError : no rise, no trials, half a core; WiringError, SimulationError.
    """
    _check(rise, trials, core_section, core_path)
    if scenario.rectifier is None:
        raise QuestionError("there is no rectifier, so no direct current to smooth", place="choke", advice="add one")
    job = ChokeJob(scenario, None, dial, delay, feed, seed, trials)
    jobs = [dataclasses.replace(job, inductance=one) for one in INDUCTANCES]
    jobs += [job] if scenario.choke is not None else []
    with Crew(workers, executor) as crew:
        rows = crew.all_done(try_inductance, jobs, progress=progress, what="chokes")
    table = [row for row in rows if row["kind"] == "inductance"]
    wanted = inductance_for(rise, table)
    numbers = {"wanted.rise": Number(rise, "A/s"), "wanted.inductance": Number(wanted, "H")}
    winding = None
    if math.isfinite(wanted):
        at_it = try_inductance(dataclasses.replace(job, inductance=wanted))
        rows.append(at_it | {"kind": "wanted"})
        if FLUTTER in at_it["reason"] and scenario.bank is not None:
            larger = dataclasses.replace(scenario.bank, capacitance=LARGER * scenario.bank.capacitance)
            other = dataclasses.replace(job, scenario=dataclasses.replace(scenario, bank=larger), inductance=wanted)
            rows.append(try_inductance(other) | {"kind": "larger bank", "bank": larger.capacitance})
        numbers |= _wanted_numbers(wanted, at_it)
        winding, of_it = _winding(scenario, wanted, at_it["max_current"], core_section, core_path)
        numbers |= of_it
    verdicts = for_a_wire(scenario, _verdicts(scenario, numbers, rows, winding))
    return Answer("choke", scenario, numbers, verdicts, told_wire(scenario) + _assumptions(job), rows=rows)


def _check(rise: float, trials: int, section: float | None, path: float | None) -> None:
    """Refuse what cannot be answered."""
    if not rise > 0.0:
        raise QuestionError(f"a rise of {rise:g} A/s is none", place="rise", advice='ask for one, as "80 A/ms"')
    if trials < 1:
        raise QuestionError(f"{trials} trials say nothing", place="trials", advice="ask for 1 or more")
    if (section is None) != (path is None):
        raise QuestionError(
            "half of the core is given", place="core", advice="give both its section and the length of its iron path"
        )


def try_inductance(job: ChokeJob) -> dict[str, Any]:
    """Weld and strike with one choke: its row of the table."""
    scenario = with_dial(job.scenario, job.dial)
    if job.inductance is not None:
        resistance = scenario.choke.resistance if scenario.choke is not None else 0.0
        scenario = dataclasses.replace(scenario, choke=Choke(inductance=job.inductance, resistance=resistance))
    meter = measure(WeldJob(scenario, job.dial, job.delay, job.feed, job.seed, SECONDS))
    supply, asked = WireSupply(scenario), delay_of(scenario, job.dial, job.delay)
    strikes = [strike_trial(supply, seed=job.seed, trial=k, delay=asked, feed=job.feed) for k in range(job.trials)]
    return {
        "kind": "present" if job.inductance is None else "inductance",
        "inductance": job.inductance,
        "rise": meter.rise.mean,
        "peak_current": meter.peak.mean,
        "max_current": meter.peak.largest if meter.peak.count else math.nan,
        "dip_rate": dip_rate(meter),
        "short_duration": meter.duration.mean,
        "extinguished": meter.share(NOTHING),
        "stubs": meter.stubs,
        "bank_fall": meter.bank_fall.mean,
        "struck": sum(trial.struck for trial in strikes) / job.trials,
        "start_peak": float(np.mean([trial.peak_current for trial in strikes])),
        "regular": not irregularities(meter),
        "reason": ", ".join(irregularities(meter)),
    }


def inductance_for(rise: float, table: Sequence[Mapping[str, Any]]) -> float:
    """The inductance [H] whose rise is the wanted one, between those of the table; unknown outside of it.

    Straight on logarithms of both, as a driving voltage over an inductance is; a rise that goes up again with the
    inductance, by chance of the dips, counts as level.
    """
    known = [row for row in table if math.isfinite(row["rise"]) and row["rise"] > 0.0]
    if len(known) < 2:
        return math.nan
    slopes = np.minimum.accumulate([row["rise"] for row in known])
    if not slopes[-1] <= rise <= slopes[0]:
        return math.nan
    logs = np.log([row["inductance"] for row in known])
    return float(np.exp(np.interp(-math.log(rise), -np.log(slopes), logs)))


def _wanted_numbers(wanted: float, row: Mapping[str, Any]) -> dict[str, Number]:
    """What the wanted inductance gives."""
    return {
        "wanted.found_rise": Number(row["rise"], "A/s"),
        "wanted.peak_current.mean": Number(row["peak_current"], "A"),
        "wanted.peak_current.max": Number(row["max_current"], "A"),
        "wanted.energy": Number(0.5 * wanted * row["max_current"] ** 2, "J"),
        "wanted.struck.share": Number(row["struck"], "1"),
    }


def _winding(
    scenario: Scenario, wanted: float, current: float, section: float | None, path: float | None
) -> tuple[Winding | None, dict[str, Number]]:
    """Turns and gap on the core given, or on the scenario's; and the iron it takes, where that is too little."""
    choke = scenario.choke
    steel = choke.steel if choke is not None else "unknown"
    if section is None and choke is not None:
        section, path = choke.section, choke.path_length
    if section is None or path is None or not math.isfinite(current):
        return None, {}
    found = smallest_winding(wanted, current, section=section, path_length=path, steel=steel)
    numbers = {} if found is None else _winding_numbers(found)
    if found is None or found.gap > SIDE_SHARE * math.sqrt(section):
        enough = smallest_section(wanted, current, section=section, path_length=path, steel=steel)
        numbers["winding.section_needed"] = Number(math.nan if enough is None else enough, "m2")
    return found, numbers


def _winding_numbers(winding: Winding) -> dict[str, Number]:
    return {
        "winding.turns": Number(winding.turns, "1"),
        "winding.gap": Number(winding.gap, "m"),
        "winding.flux_density": Number(winding.flux_density, "T"),
        "winding.inductance": Number(winding.inductance, "H"),
        "winding.inductance_at_rest": Number(winding.at_rest, "H"),
    }


def _verdicts(
    scenario: Scenario,
    numbers: Mapping[str, Number],
    rows: Sequence[Mapping[str, Any]],
    winding: Winding | None,
) -> list[Verdict]:
    """Which inductance, the range, the bank, the present choke, and a winding where a core to wind on is known."""
    table = [row for row in rows if row["kind"] == "inductance"]
    found = [
        _inductance(scenario, rows, numbers),
        range_verdict(scenario, table),
    ]
    found += [_larger_bank(row, scenario.bank) for row in rows if row["kind"] == "larger bank" and scenario.bank]
    present = [row for row in rows if row["kind"] == "present"]
    if present and scenario.choke is not None:
        found.append(_present(scenario.choke, present[0], numbers))
    needed = numbers.get("winding.section_needed")
    worth = all(row["struck"] >= POOR_STARTS for row in rows if row["kind"] == "wanted")  # else none to be wound
    if worth and (winding is not None or needed is not None):
        found.append(_winding_verdict(winding, needed))
    return found


def _inductance(scenario: Scenario, rows: Sequence[Mapping[str, Any]], numbers: Mapping[str, Number]) -> Verdict:
    """Which inductance, and what it does."""
    rise = 1e-3 * numbers["wanted.rise"].value
    wanted, table = ([row for row in rows if row["kind"] == kind] for kind in ("wanted", "inductance"))
    if not wanted:
        return Verdict("inductance", "fault", not_found(scenario, rise, table))
    row = wanted[0]
    text = (
        f"{rise:.3g} A/ms wants {amount(1e3 * numbers['wanted.inductance'].value, 'mH')} up to "
        f"{row['max_current']:.3g} A, the largest current of a short there (welded again: {1e-3 * row['rise']:.3g} "
        f"A/ms, shorts of {1e3 * row['short_duration']:.2g} ms to {row['peak_current']:.3g} A, "
        f"{100 * row['struck']:.0f} % of the starts strike)"
    )
    text += f"; no regular dip transfer there: {row['reason']}." if row["reason"] else "; it runs regularly."
    level = "fault" if row["struck"] < POOR_STARTS else "note" if row["reason"] or row["struck"] < STRIKES else "good"
    return Verdict("inductance", level, text)


def _larger_bank(row: Mapping[str, Any], bank: Bank) -> Verdict:
    """Whether the bank is why it flutters: the same choke behind a larger one."""
    ringing = 1.0 / (2.0 * math.pi * math.sqrt(row["inductance"] * bank.capacitance))
    steady = FLUTTER not in row["reason"]
    text = (
        f"That choke and the bank of {1e3 * bank.capacitance:.3g} mF ring at {ringing:.3g} Hz. Behind "
        f"{1e3 * row['bank']:.3g} mF, all else alike, {100 * row['struck']:.0f} % of the starts strike, "
        + (
            "and the flutter is gone: the swing after a short takes the current to nothing; more bank, or more choke."
            if steady
            else "and it flutters still: the bank's size is not why."
        )
    )
    return Verdict("larger bank", "note", text)


def _present(choke: Choke, row: Mapping[str, Any], numbers: Mapping[str, Number]) -> Verdict:
    """The choke that is there: its rise, and what is left of it at the peak."""
    if not math.isfinite(row["max_current"]):
        return Verdict("present", "note", "With the present choke there is no dip to judge it by.")
    peak = row["max_current"]
    left, at_rest = inductance_at(choke, peak), inductance_at(choke, 0.0)
    kept = left / at_rest
    text = (
        f"The present choke gives {1e-3 * row['rise']:.3g} A/ms; of its {1e3 * at_rest:.3g} mH {1e3 * left:.2g} mH are "
        f"left at {peak:.3g} A, the largest current of a short"
    )
    if kept < 0.5:
        text += ": it saturates just where the drop necks, and the current runs away."
        return Verdict("present", "fault", text)
    return Verdict("present", *(("good", text + ": it holds.") if kept > 0.8 else ("note", text + ": it gives way.")))


def _winding_verdict(winding: Winding | None, needed: Number | None) -> Verdict:
    """Turns and gap, or that the core is too small, and which would do."""
    if needed is None or math.isnan(needed.value):
        more = ""
    else:
        more = f"; {1e4 * needed.value:.3g} cm2 on the same path are enough, with a gap of at most a third of its side"
    if winding is None:
        return Verdict(
            "winding", "fault", f"No winding on this core keeps that at that current: it is too small{more}."
        )
    text = (
        f"On this core {winding.turns} turns with {1e3 * winding.gap:.2g} mm of gap in all keep "
        f"{1e3 * winding.inductance:.3g} mH at that current ({winding.flux_density:.2g} T; "
        f"{1e3 * winding.at_rest:.3g} mH at rest)"
    )
    if needed is not None:
        text += (
            f"; so wide a gap says that the core is small, and its formula is rough: measure, or take more iron{more}"
        )
    level = "good" if needed is None else "note"
    return Verdict("winding", level, text + ". Whether the turns find room is not judged.")


def _assumptions(job: ChokeJob) -> list[str]:
    return [
        f"At each inductance {SECONDS:g} s of welding and {job.trials} strikes, seed {job.seed}; chokes of the table "
        "never saturate and have the present one's resistance.",
        "Rise: from a short's first current to its largest, over that time, mean of all shorts; starts count apart.",
        "Between the table's inductances straight on logarithms.",
        "Iron by its start values, without friction; gaps of a core are added up, with the fringing of a square core.",
        "A supply model cannot tell bead, penetration, porosity or spatter as mass.",
    ]
