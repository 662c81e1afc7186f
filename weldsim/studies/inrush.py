"""Inrush: how often a trigger press trips the breaker, how bad the worst is, why, and what helps."""

import math
import operator
from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from weldsim.errors import QuestionError, ScenarioError
from weldsim.parts.flux import flux_linkage_at, saturation_flux_linkage
from weldsim.runs.crew import Crew
from weldsim.runs.flux_left import Driven
from weldsim.runs.press_batches import press_by, presser_of
from weldsim.runs.press_runs import typical_runs
from weldsim.runs.presses import Press, Setting, drawn
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.inrush_cause import cause_of, cause_of_the_worst
from weldsim.studies.inrush_forgetful import forgetful_verdicts, remembered
from weldsim.studies.inrush_map import map_rows
from weldsim.studies.inrush_remedies import remedy_rows
from weldsim.studies.inrush_stress import saving_fuse, stress_rows
from weldsim.studies.inrush_verdicts import assumptions, stress_verdicts, typed_verdicts, verdicts
from weldsim.studies.press_trips import count_trips, worst_i2t
from weldsim.studies.progress import Progress, silent

PRESSES = 1000
MOST_PRESSES = 1_000_000
_ALLOWED = f"ask for 1 to {MOST_PRESSES}; {PRESSES} give a good statistic"


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    presses: int = PRESSES,
    seed: int = 1,
    dial: float | None = None,
    delay: float | None = None,
    bank: str = "bled",
    remanence: float | None = None,
    flux_linkage: float | None = None,
    remedies: bool = True,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Answer:
    """Random trigger presses, the map over phase and remanence, and remedies side by side.

    Parameters
    ----------
    scenario : Scenario
        With a core that has a magnetising curve and a breaker.
    presses : int
        Random presses [1].
    seed : int
        Start of the random draws; the same seed gives the same numbers whatever the workers.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg] at which the supply welds and is pressed again.
    bank : str
        What the bank holds at the trigger: "bled" for as long as the pause, "charged" as when the trigger was let go,
        or "empty".
    remanence : float or None
        Flux density left in the core [T]; None: what the hysteresis leaves.
    flux_linkage : float or None
        The same as flux linkage of the primary [V.s], for a core whose section or turns are not known.
    remedies : bool
        Whether remedies are compared too, and the stress of the parts is looked at.
    workers : int or None
        Threads; None: as many as cores.
    executor : concurrent.futures.Executor or None
        Where the presses run instead.

    Returns
    -------
    Answer : rows "press", "map" and "remedy"; runs "worst", "median" and "best".

    Raises
    ------
    QuestionError : no presses, or no core to be magnetised; WiringError, SimulationError.
    """
    check_question(scenario, presses)
    typed = flux_typed(scenario, remanence, flux_linkage)
    setting = Setting(dial, delay, bank, typed)
    done: list[Press] = []
    presser, remedy = presser_of(scenario, setting), []
    with Crew(workers, executor) as crew:
        for batch in press_by(crew, scenario, count=presses, seed=seed, setting=setting):
            done += batch
            progress(len(done), presses, "presses")
        if remedies:
            remedy = remedy_rows(presser, seed=seed, count=presses, crew=crew, progress=progress)
        map_found = map_rows(presser, crew)
        kept = remembered(presser, crew, seed=seed, count=presses)
    period = 1.0 / scenario.mains.frequency
    first = np.array([press.first_peak(period) for press in done])
    numbers = statistics(done, first)
    trips = count_trips(scenario.breaker, [press.half_cycles for press in done])
    if trips is not None:
        numbers |= {
            "presses.tripped": Number(trips.above_middle, "1"),
            "presses.tripped.low_threshold": Number(trips.above_low, "1"),
            "presses.tripped.high_threshold": Number(trips.above_high, "1"),
        }
    worst = drawn(seed, max(done, key=lambda press: press.largest).trial)
    cause = cause_of(presser, worst)
    numbers |= {"settled.primary.current.peak": Number(cause.settled, "A"), **driven_numbers(cause.driven)}
    stress = stress_rows(presser, drawn(seed, done[int(first.argmax())].trial)) if remedies else []
    rows = [_press_row(press, peak) for press, peak in zip(done, first, strict=True)]
    return Answer(
        "inrush",
        scenario,
        numbers,
        [
            *verdicts(scenario, done, first=first, trips=trips, remedies=remedy),
            cause_of_the_worst(scenario, cause),
            *typed_verdicts(scenario, typed),
            *forgetful_verdicts(scenario, kept),
            *stress_verdicts(stress),
            *(saving_fuse(scenario, pressed=numbers["press.i2t.worst"].value) if stress else []),
        ],
        assumptions(scenario, setting, presses=presses, seed=seed),
        rows=[*rows, *map_found, *remedy, *stress],
        runs=typical_runs(presser, done, np.array([press.largest for press in done]), seed=seed),
    )


def flux_typed(scenario: Scenario, remanence: float | None, flux_linkage: float | None) -> float | None:
    """The flux linkage [V s] typed in, as such or as a remanence [T], which takes a core of known section and turns."""
    if remanence is None:
        return flux_linkage
    if flux_linkage is not None:
        raise QuestionError("given beside --remanence", place="--flux-linkage", advice="leave one of the two out")
    assert scenario.core is not None
    try:
        return flux_linkage_at(scenario.core, remanence, primary_turns=primary_turns(scenario))
    except ScenarioError as error:
        raise QuestionError(
            f"{error.place} is not given: a flux density [T] cannot be told from flux linkage",
            place="--remanence",
            advice=f'give {error.place}, or what is left as flux linkage of the primary, as --flux-linkage "0.4 V.s"',
        ) from None


def check_question(scenario: Scenario, presses: int) -> None:
    """Refuse what cannot be answered."""
    try:
        operator.index(presses)
    except TypeError:
        raise QuestionError(f"{presses!r} is no whole number", place="presses", advice=_ALLOWED) from None
    if not 1 <= presses <= MOST_PRESSES:
        fact = "presses say nothing" if presses < 1 else "presses are too many"
        raise QuestionError(f"{presses} {fact}", place="presses", advice=_ALLOWED)
    if scenario.transformer is None or scenario.core is None:
        raise QuestionError(
            "there is no core that could be magnetised",
            place="core",
            advice="add a [transformer] and a [core] with a magnetising curve",
        )
    if math.isinf(saturation_flux_linkage(scenario.core, primary_turns(scenario))):
        raise QuestionError(
            "the core has no magnetising curve: it never saturates",
            place="core.saturation_flux_linkage",
            advice="give saturation_flux_linkage and saturated_inductance, or section, path_length and steel",
        )


def statistics(presses: list[Press], first: np.ndarray) -> dict[str, Number]:
    """Median, 90 % and worst of the first peak; worst I2t of a half cycle; remanence at the trigger (5 and 95 %)."""
    numbers = {
        "presses.count": Number(len(presses), "1"),
        "first_peak.median": Number(float(np.median(first)), "A"),
        "first_peak.p90": Number(float(np.quantile(first, 0.9)), "A"),
        "first_peak.worst": Number(float(first.max()), "A"),
        "half_cycle.i2t.worst": Number(max((h.i2t for p in presses for h in p.half_cycles), default=0.0), "A2.s"),
        "press.i2t.worst": Number(max(worst_i2t(press.half_cycles) for press in presses), "A2.s"),
    }
    for name, unit, values in (
        ("remanence", "T", [press.flux_density for press in presses]),
        ("remanence.flux_linkage", "V.s", [press.flux_linkage for press in presses]),
        ("second_core.remanence", "T", [press.second_flux_density for press in presses]),
        ("second_core.remanence.flux_linkage", "V.s", [press.second_flux_linkage for press in presses]),
    ):
        if name.startswith("second_") and math.isnan(presses[0].second_flux_linkage):
            continue
        known = np.array([math.nan if value is None else value for value in values])
        numbers[f"{name}.low"] = Number(float(np.quantile(known, 0.05)), unit)
        numbers[f"{name}.high"] = Number(float(np.quantile(known, 0.95)), unit)
    return numbers


def driven_numbers(found: Sequence[Driven]) -> dict[str, Number]:
    """Flux peak and saturation of each core in the worst press."""
    numbers = {}
    for core in found:
        place = f"worst_press.{core.one.prefix}core"
        numbers[f"{place}.flux_linkage.peak"] = Number(core.flux_peak, "V.s")
        numbers[f"{place}.saturation"] = Number(core.saturation, "1")
    return numbers


def _press_row(press: Press, first: float) -> dict:
    second = {"second_flux_linkage": press.second_flux_linkage, "second_flux_density": press.second_flux_density}
    second = {} if math.isnan(press.second_flux_linkage) else second
    return {
        "kind": "press",
        "trial": press.trial,
        "ended": press.ended,
        "pause": press.pause,
        "phase": press.phase,
        "flux_linkage": press.flux_linkage,
        "flux_density": press.flux_density,
        **second,
        "bank_voltage": press.bank_voltage,
        "thermistor": press.thermistor,
        "first_peak": first,
        "largest_peak": press.largest,
        "i2t_of_60_ms": worst_i2t(press.half_cycles),
        "i2t": max((h.i2t for h in press.half_cycles), default=0.0),
    }
