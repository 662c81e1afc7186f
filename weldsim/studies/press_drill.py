"""The re-press drill.

A train of trigger presses as one simulation, with remanence, bank charge and breaker memory carried through.
"""

import math
from collections.abc import Sequence

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import (
    EDGES,
    Edge,
    heat_after,
    longest_current,
    trip_heat,
    trip_time,
)
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.parts.thermistor import RATED_TO
from weldsim.runs.press_trains import DrillPress, drill
from weldsim.runs.soft_start import in_series
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict, counted
from weldsim.studies.breaker_words import called, told_points
from weldsim.studies.core_words import driven_told, linkages_told, or_none
from weldsim.studies.inrush import check_question, driven_numbers
from weldsim.studies.inrush_forgetful import told_forgetful
from weldsim.studies.inrush_verdicts import soft_start_assumptions, told_contact
from weldsim.studies.press_trips import thresholds, volts_told, worst_i2t
from weldsim.studies.progress import Progress, silent

PRESSES = 10
ON, OFF = 0.8, 0.7  # [s]
Beyond = list[list[int]]  # numbers of presses beyond lower edge, middle and upper edge


@dataclass(frozen=True)
class Warmth:
    """The thermal part of a breaker along a train of presses, for one edge of its band."""

    edge: Edge
    heats: tuple[float, ...]  # at the end of each press, over the heat at which it trips
    tripped: tuple[int, ...]  # numbers of the presses in which it trips


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    presses: int = PRESSES,
    on: float = ON,
    off: float = OFF,
    seed: int = 1,
    dial: float | None = None,
    delay: float | None = None,
    progress: Progress = silent,
) -> Answer:
    """A train of presses, ``on`` seconds each with ``off`` seconds between, at moments that know nothing of the mains.

    Parameters
    ----------
    scenario : Scenario
        With a core.
    presses : int
        How many [1].
    on, off : float
        How long the trigger is closed, and open until the next press [s].
    seed : int
        Start of the random draws.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.

    Returns
    -------
    Answer : rows "press" in order; presses.tripped (magnetic, or a fuse by its I2t) and presses.tripped.thermal.

    Raises
    ------
    QuestionError : no presses, no time on, or no core; WiringError, SimulationError.
    """
    check_question(scenario, presses)
    if on <= 0.0 or off < 0.0:
        raise QuestionError(
            f"on {on:g} s and off {off:g} s make no train", place="presses", advice="give times above zero"
        )
    done = drill(scenario, presses=presses, times=(on, off), seed=seed, dial=dial, delay=delay, progress=progress)
    beyond = _beyond(scenario.breaker, done)
    warmth = warmth_along(scenario.breaker, done)
    current = _train_rms(done, off)
    verdicts = [
        _verdict(scenario, done, beyond),
        *_fifth(scenario, done, warmth),
        *_soft_start_verdicts(scenario, done),
    ]
    if scenario.breaker is not None and warmth:
        verdicts.append(_thermal_verdict(scenario.breaker, warmth, current))
    return Answer(
        "drill",
        scenario,
        _numbers(done, beyond, warmth, current),
        verdicts,
        [
            f"One continuous simulation, seed {seed}: {on:g} s on, {off:g} s off, each moment shifted by up to a "
            f"mains period at random. The train goes on after a trip, as if somebody reset the breaker at once.",
            *told_contact(scenario),
            *soft_start_assumptions(scenario),
            *(f"{told} `inrush` tells what iron would do." for told in told_forgetful(scenario)),
            *_assumptions_of_breaker(scenario.breaker),
        ],
        rows=_rows(done, None if beyond is None else beyond[1], warmth),
        runs={},
    )


def _numbers(
    done: list[DrillPress], beyond: Beyond | None, warmth: dict[Edge, Warmth], current: float
) -> dict[str, Number]:
    """Peaks, magnetic trips and, apart, thermal ones."""
    peaks = np.array([press.largest for press in done])
    worst = done[int(peaks.argmax())]
    numbers = {
        "presses.count": Number(len(done), "1"),
        "presses.worst": Number(worst.number, "1"),
        "first_peak.worst": Number(float(peaks.max()), "A"),
        "first_peak.median": Number(float(np.median(peaks)), "A"),
        "press_5.peak": Number(float(peaks[4]) if len(peaks) > 4 else math.nan, "A"),
        "primary.current.rms": Number(current, "A"),
        **driven_numbers(worst.driven),
    }
    if beyond is not None:
        for name, found in zip((".low_threshold", "", ".high_threshold"), beyond, strict=True):
            numbers[f"presses.tripped{name}"] = Number(len(found), "1")
    if warmth:
        numbers |= {
            "presses.tripped.thermal": Number(len(warmth["middle"].tripped), "1"),
            "presses.tripped.thermal.low_threshold": Number(len(warmth["fastest"].tripped), "1"),
            "presses.tripped.thermal.high_threshold": Number(len(warmth["slowest"].tripped), "1"),
            "breaker.heat.max": Number(max(warmth["middle"].heats), "1"),
        }
    return numbers


def _rows(done: list[DrillPress], tripped: list[int] | None, warmth: dict[Edge, Warmth]) -> list[dict]:
    """One row for each press."""
    rows = []
    for k, press in enumerate(done):
        second = {"second_flux_linkage": press.second_flux_linkage} if math.isfinite(press.second_flux_linkage) else {}
        row = {
            "kind": "press",
            "number": press.number,
            "begin": press.begin,
            "end": press.end,
            "phase": press.phase,
            "flux_linkage": press.flux_linkage,
            **second,
            "bank_voltage": press.bank_voltage,
            "peak": press.largest,
            "rms": press.rms,
            "thermistor": press.thermistor,
            "softened": press.softened,
            "soft_start_heat": press.heat,
            "i2t_of_60_ms": worst_i2t(press.half_cycles),
            "tripped": tripped is not None and press.number in tripped,
        }
        if warmth:
            row["breaker_heat"] = warmth["middle"].heats[k]
            row["tripped_thermal"] = press.number in warmth["middle"].tripped
        rows.append(row)
    return rows


def warmth_along(breaker: Breaker | None, done: list[DrillPress]) -> dict[Edge, Warmth]:
    """The heat of a breaker carried through a train; empty without a breaker, and for a fuse."""
    if breaker is None or instantaneous_band(breaker) is None:
        return {}
    found: dict[Edge, Warmth] = {}
    for edge in EDGES:
        heat, now = 0.0, done[0].begin
        heats, tripped = [], []
        for press in done:
            heat = heat_after(breaker, heat, multiple=0.0, duration=press.begin - now, edge=edge)
            multiple, duration = press.rms / breaker.current, press.end - press.begin
            if trip_time(breaker, multiple, edge=edge, heat=heat) <= duration:
                tripped.append(press.number)
            heat = heat_after(breaker, heat, multiple=multiple, duration=duration, edge=edge)
            heats.append(heat / trip_heat(breaker, edge=edge))
            now = press.end
        found[edge] = Warmth(edge, tuple(heats), tuple(tripped))
    return found


def _train_rms(done: list[DrillPress], off: float) -> float:
    """Primary current over the whole train, pauses included [A rms]."""
    squares = sum(press.rms**2 * (press.end - press.begin) for press in done)
    return math.sqrt(squares / (done[-1].end + off - done[0].begin))


def _beyond(breaker: Breaker | None, done: list[DrillPress]) -> Beyond | None:
    """Presses beyond the lower edge, middle and upper edge of a breaker's band, or of a fuse's window of I2t."""
    if breaker is None:
        return None
    fuse = instantaneous_band(breaker) is None
    values = [worst_i2t(press.half_cycles) if fuse else press.largest / math.sqrt(2.0) for press in done]
    return [
        [press.number for press, value in zip(done, values, strict=True) if value > edge]
        for edge in thresholds(breaker)
    ]


def _middle(breaker: Breaker) -> str:
    """The breaker and the value that decides, in words."""
    middle, fuse = thresholds(breaker)[1], instantaneous_band(breaker) is None
    decides = f"window ({middle:.3g} A2s in 60 ms)" if fuse else f"band ({middle * math.sqrt(2.0):.3g} A peak)"
    return f"the {called(breaker)} at the middle of its {decides}"


def _verdict(scenario: Scenario, done: list[DrillPress], beyond: Beyond | None) -> Verdict:
    worst = max(done, key=lambda press: press.largest)
    usual = float(np.median([press.largest for press in done]))
    text = (
        f"Press {worst.number} of {len(done)} is the worst: {worst.largest:.3g} A against a median of {usual:.3g} A. "
        f"It began at {worst.phase:.0f} deg of the mains with "
        f"{linkages_told(scenario, worst.flux_linkage, worst.second_flux_linkage, left='left ')}"
    )
    text += "." if math.isnan(worst.bank_voltage) else f" and {volts_told(worst.bank_voltage)} on the bank."
    text += f" {driven_told(worst.driven)}"
    if beyond is None or scenario.breaker is None:
        return Verdict("drill", "note", text)
    low, middle, high = beyond
    which = _went(middle, "goes beyond", "go beyond") if middle else "None goes beyond"
    edges = f"{len(low)} go beyond its lower edge, {len(high)} beyond its upper one"
    level = "fault" if middle else "note" if low else "good"
    return Verdict("drill", level, f"{text} {which} {_middle(scenario.breaker)}; {edges}.")


def _fifth(scenario: Scenario, done: list[DrillPress], warmth: dict[Edge, Warmth]) -> list[Verdict]:
    """What the fifth press did differently from the first, and why."""
    if len(done) < 5:
        return []
    first, fifth = done[0], done[4]
    change = fifth.largest - first.largest
    before = f"{or_none(first.flux_linkage):+.3g} V.s"
    if math.isfinite(first.second_flux_linkage):
        before += f" and {or_none(first.second_flux_linkage):+.3g} V.s"
    found = [
        f"{linkages_told(scenario, fifth.flux_linkage, fifth.second_flux_linkage)} against {before}",
        f"{fifth.phase:.0f} deg of the mains against {first.phase:.0f} deg",
    ]
    if math.isfinite(fifth.bank_voltage):
        found.insert(0, f"{volts_told(fifth.bank_voltage)} on the bank against {volts_told(first.bank_voltage)}")
    if math.isfinite(fifth.thermistor):
        found.append(f"the thermistor at {fifth.thermistor:.0f} degC against {first.thermistor:.0f} degC")
    if first.softened != fifth.softened:
        found.append("the soft start still bypassed" if first.softened else "the soft start in the way again")
    if warmth:
        found.append(f"the breaker at {100.0 * warmth['middle'].heats[3]:.0f} % of the heat that trips it")
    return [
        Verdict(
            "fifth",
            "note",
            f"Press 5 peaks at {fifth.largest:.3g} A, {abs(change):.3g} A {'above' if change > 0.0 else 'below'} the "
            f"first: it began with {', '.join(found)}.",
        )
    ]


def _soft_start_verdicts(scenario: Scenario, done: list[DrillPress]) -> list[Verdict]:
    """Heat of the series resistance against its rating, and how hot a thermistor gets."""
    soft_start = scenario.soft_start
    if soft_start is None or not in_series(soft_start):
        return []
    worst = max(done, key=lambda press: press.heat)
    rated, beyond = soft_start.rated_energy, False
    told = f"Press {worst.number} puts most heat into the soft start: {worst.heat:.3g} J"
    if rated is not None:
        beyond = worst.heat > rated
        told += f", {'beyond' if beyond else 'within'} the {rated:.3g} J it is rated for"
    hottest = max(press.thermistor for press in done) if soft_start.kind == "ntc" else math.nan
    if math.isfinite(hottest):
        beyond = beyond or hottest > RATED_TO
        told += (
            f"; its thermistor is found at up to {hottest:.0f} degC at the trigger"
            + (f", hotter than the {RATED_TO:g} degC such parts bear" if hottest > RATED_TO else "")
            + f": {done[-1].largest:.3g} A in the last press, {done[0].largest:.3g} A in the first"
        )
    bypassed = sum(not press.softened for press in done)
    if bypassed:
        told += f"; {counted(bypassed, 'press', 'presses')} found it bypassed still"
    return [Verdict("soft_start", "fault" if beyond else "note" if bypassed else "good", f"{told}.")]


def _thermal_verdict(breaker: Breaker, warmth: dict[Edge, Warmth], current: float) -> Verdict:
    """Whether the train warms the breaker to a trip, and whether it could go on for ever."""
    middle, fastest = warmth["middle"], warmth["fastest"]
    for_ever = {edge: longest_current(breaker, edge=edge) for edge in EDGES}
    lasting = (
        f"The train's {current:.3g} A rms, pauses included, kept up for ever: a breaker carries "
        f"{for_ever['fastest']:.3g} A (fastest), {for_ever['middle']:.3g} A (middle) or {for_ever['slowest']:.3g} A "
        f"(slowest)."
    )
    name = called(breaker)
    told = (
        f"{_went(middle.tripped, 'warms', 'warm')} the thermal part of a middle {name} to its trip"
        if middle.tripped
        else f"No press warms a middle {name} to its thermal trip (it reaches "
        f"{100.0 * max(middle.heats):.0f} % of the heat)"
    )
    level = "fault" if middle.tripped else "note" if fastest.tripped or current > for_ever["fastest"] else "good"
    return Verdict(
        "thermal",
        level,
        f"{told}; the fastest that the standard allows trips in {len(fastest.tripped)}, the slowest in "
        f"{len(warmth['slowest'].tripped)} of {len(middle.heats)} presses. {lasting} A breaker protects the cable: "
        f"never answer a trip by a bigger one.",
    )


def _went(numbers: Sequence[int], one: str, several: str) -> str:
    """The first numbers of a list with their verb."""
    more = f" and {len(numbers) - 12} more" if len(numbers) > 12 else ""
    return (
        f"Press {numbers[0]} {one}"
        if len(numbers) == 1
        else (f"Presses {', '.join(map(str, numbers[:12]))}{more} {several}")
    )


def _assumptions_of_breaker(breaker: Breaker | None) -> list[str]:
    """What the judgement of trips rests on."""
    if breaker is None:
        return ["No breaker in the scenario: no trips counted."]
    if instantaneous_band(breaker) is None:
        return [
            "The fuse by the I2t of each press's worst 60 ms against the geometric mean of its 10 ms gates "
            "(IEC 60269-1, from memory, 80 %); what a fuse keeps of earlier presses is not modelled."
        ]
    return [
        "Magnetic: largest half-cycle peak over sqrt2 against the middle of the band (common practice, no published "
        "source).",
        f"Thermal: one time constant, set by {told_points(breaker)}; cold at the first press, "
        "warmed by the rms of each press, cooling in the pauses; the band from fastest to slowest is wide because the "
        "standard's is.",
    ]
