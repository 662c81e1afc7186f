"""Inrush: how often a trigger press trips the breaker, how bad the worst is, why, and what helps."""

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from weldsim.errors import QuestionError
from weldsim.parts.breaker_curves import FUSE_VERDICTS, fuse_verdict, fuse_window, half_period_rms_limit
from weldsim.parts.iron import is_iron
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.runs.press_runs import typical_runs
from weldsim.runs.presses import LOOKED_AT, PAUSES, HalfCycle, Press, drawn, press_many
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict
from weldsim.studies.inrush_map import map_rows
from weldsim.studies.inrush_remedies import remedy_rows
from weldsim.studies.inrush_stress import stress_rows
from weldsim.studies.progress import Progress, silent

PRESSES = 1000


@dataclass(frozen=True)
class Trips:
    """Presses beyond a breaker's instantaneous band, or beyond a fuse's window of I2t."""

    count: int
    above_low: int
    above_middle: int
    above_high: int


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    presses: int = PRESSES,
    seed: int = 1,
    dial: float | None = None,
    delay: float | None = None,
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
    remedies : bool
        Whether remedies are compared too.
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
    done: list[Press] = []
    for batch in press_many(
        scenario, count=presses, seed=seed, dial=dial, delay=delay, workers=workers, executor=executor
    ):
        done += batch
        progress(len(done), presses, "presses")
    done.sort(key=lambda press: press.trial)
    period = 1.0 / scenario.mains.frequency
    first = np.array([press.first_peak(period) for press in done])
    numbers = statistics(done, first)
    trips = count_trips(scenario, done)
    if trips is not None:
        numbers |= {
            "presses.tripped": Number(trips.above_middle, "1"),
            "presses.tripped.low_threshold": Number(trips.above_low, "1"),
            "presses.tripped.high_threshold": Number(trips.above_high, "1"),
        }
    rows = [_press_row(press, peak) for press, peak in zip(done, first, strict=True)]
    rows += map_rows(scenario, dial=dial, delay=delay)
    remedy = (
        remedy_rows(scenario, seed=seed, count=min(presses, 100), dial=dial, delay=delay, progress=progress)
        if remedies
        else []
    )
    rows += remedy
    worst = drawn(seed, done[int(first.argmax())].trial)
    stress = stress_rows(scenario, worst, dial=dial, delay=delay) if remedies else []
    rows += stress
    runs = typical_runs(scenario, done, first, seed=seed, dial=dial, delay=delay)
    return Answer(
        "inrush",
        scenario,
        numbers,
        [*_verdicts(scenario, done, first, trips, remedy), *_stress_verdicts(stress)],
        _assumptions(scenario, presses, seed),
        rows=rows,
        runs=runs,
    )


def check_question(scenario: Scenario, presses: int) -> None:
    """Refuse what cannot be answered."""
    if presses < 1:
        raise QuestionError(
            f"{presses} presses say nothing", place="presses", advice="ask for 1 or more; 1000 give a good statistic"
        )
    if scenario.transformer is None or scenario.core is None:
        raise QuestionError(
            "there is no core that could be magnetised",
            place="core",
            advice="add a [transformer] and a [core] with a magnetising curve",
        )
    core = scenario.core
    if not is_iron(core) and core.saturation_flux_linkage is None:
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
        "press.i2t.worst": Number(max(press_i2t(press.half_cycles) for press in presses), "A2.s"),
    }
    flux = np.array([press.flux_linkage for press in presses])
    density = np.array([math.nan if press.flux_density is None else press.flux_density for press in presses])
    for name, values, unit in (("remanence", density, "T"), ("remanence.flux_linkage", flux, "V.s")):
        numbers[f"{name}.low"] = Number(float(np.quantile(values, 0.05)), unit)
        numbers[f"{name}.high"] = Number(float(np.quantile(values, 0.95)), unit)
    return numbers


def press_i2t(half_cycles: Sequence[HalfCycle]) -> float:
    """I2t of the half cycles that begin in the first 60 ms of a press, added up [A2 s]."""
    return sum(half.i2t for half in half_cycles if half.begin < LOOKED_AT)


def count_trips(scenario: Scenario, presses: Sequence[Press]) -> Trips | None:
    """Presses that go beyond the lower edge, the middle and the upper edge of what stands in front of the supply.

    Breaker: largest half-cycle peak / sqrt2 against its instantaneous band [A rms]; fuse: I2t of the first 60 ms
    against its window [A2 s], whose middle is the geometric mean.
    """
    breaker = scenario.breaker
    if breaker is None:
        return None
    band = instantaneous_band(breaker)
    if band is None:
        low, high = fuse_window(breaker.current)
        middle, felt = math.sqrt(low * high), np.array([press_i2t(press.half_cycles) for press in presses])
    else:
        low, high = band
        middle, felt = 0.5 * (low + high), np.array([press.largest for press in presses]) / math.sqrt(2.0)
    return Trips(len(presses), int((felt > low).sum()), int((felt > middle).sum()), int((felt > high).sum()))


def _press_row(press: Press, first: float) -> dict:
    return {
        "kind": "press",
        "trial": press.trial,
        "ended": press.ended,
        "pause": press.pause,
        "phase": press.phase,
        "flux_linkage": press.flux_linkage,
        "flux_density": press.flux_density,
        "bank_voltage": press.bank_voltage,
        "first_peak": first,
        "largest_peak": press.largest,
        "i2t_of_60_ms": press_i2t(press.half_cycles),
        "i2t": max((h.i2t for h in press.half_cycles), default=0.0),
    }


def interval(hits: int, count: int) -> tuple[float, float]:
    """Wilson score interval of a share, 95 % (Wilson 1927)."""
    z = 1.959964
    share, scale = hits / count, 1.0 + z * z / count
    middle = (share + z * z / (2 * count)) / scale
    width = z * math.sqrt(share * (1.0 - share) / count + z * z / (4.0 * count * count)) / scale
    return max(0.0, middle - width), min(1.0, middle + width)


def _verdicts(
    scenario: Scenario, presses: list[Press], first: np.ndarray, trips: Trips | None, remedies: list[dict]
) -> list[Verdict]:
    spread = f"median {np.median(first):.3g} A, 90 % below {np.quantile(first, 0.9):.3g} A, worst {first.max():.3g} A"
    found = []
    if trips is None or scenario.breaker is None:
        found.append(Verdict("peaks", "note", f"Without a breaker in the scenario: {spread}."))
    elif instantaneous_band(scenario.breaker) is None:
        found.append(_fuse_verdict(scenario.breaker, presses, trips, spread))
    else:
        found.append(_breaker_verdict(scenario.breaker, presses, trips, spread))
    rms = np.array([_largest_half_period_rms(press, 0.5 / scenario.mains.frequency) for press in presses])
    over = int((rms > half_period_rms_limit()).sum())
    found.append(
        Verdict(
            "half_period_rms",
            "note",
            f"{100.0 * over / len(rms):.0f} of 100 presses exceed {half_period_rms_limit():g} A rms over a half period "
            f"(largest {rms.max():.3g} A), the level up to which IEC 61000-3-3 accepts manual switching without a "
            f"test.",
        )
    )
    best = min((row for row in remedies if row["kind"] == "remedy"), key=lambda row: row["p90_of_60_ms"], default=None)
    usual = next((row for row in remedies if row.get("name") == "as it is"), None)
    if best is not None and usual is not None and best is not usual:
        found.append(
            Verdict(
                "best_remedy",
                "note",
                f"Of the remedies tried on this core, '{best['name']}' does best: in 90 of 100 presses no peak of the "
                f"first 60 ms exceeds "
                f"{best['p90_of_60_ms']:.3g} A, against {usual['p90_of_60_ms']:.3g} A as it is ({best['count']} "
                f"presses each, same draws).",
            )
        )
    return found


def _breaker_verdict(breaker: Breaker, presses: list[Press], trips: Trips, spread: str) -> Verdict:
    """How many presses trip a breaker at once, with the other curves of its rating."""
    low, high = interval(trips.above_middle, trips.count)
    share = 100.0 * trips.above_middle / trips.count
    return Verdict(
        "trips",
        "fault" if share > 5.0 else "note" if trips.above_low else "good",
        f"{share:.0f} of 100 presses trip a {breaker.curve}{breaker.current:g} breaker at the middle of its "
        f"instantaneous band ({trips.above_middle} of {trips.count}; 95 % confidence {100 * low:.0f} to "
        f"{100 * high:.0f} of 100; lower edge of the band {100 * trips.above_low / trips.count:.0f}, upper edge "
        f"{100 * trips.above_high / trips.count:.0f} of 100); {spread}. {_other_curves(breaker, presses)} A breaker "
        f"protects the cable: never answer a trip by a bigger one.",
    )


def _fuse_verdict(breaker: Breaker, presses: list[Press], trips: Trips, spread: str) -> Verdict:
    """What the worst press does to a fuse, by its I2t."""
    worst = max(press_i2t(press.half_cycles) for press in presses)
    least, most = fuse_window(breaker.current)
    outcome = fuse_verdict(breaker, worst)
    low, high = interval(trips.above_low, trips.count)
    return Verdict(
        "trips",
        dict(zip(FUSE_VERDICTS, ("good", "note", "fault"), strict=True))[outcome],
        f"The worst press puts {worst:.3g} A2s into a gG {breaker.current:g} A fuse in its first 60 ms: the fuse "
        f"{outcome} (such fuses melt between {least:.4g} and {most:.4g} A2s). {trips.above_low} of {trips.count} "
        f"presses go beyond the lower value (95 % confidence {100 * low:.0f} to {100 * high:.0f} of 100), "
        f"{trips.above_high} beyond the upper one; {spread}. A fuse protects the cable: never answer a blown one by "
        f"a bigger one.",
    )


def _stress_verdicts(rows: list[dict]) -> list[Verdict]:
    """One verdict for each rated part: where its ratings are broken, or that they hold."""
    found = []
    for part in dict.fromkeys(row["part"] for row in rows if row["holds"] is not None):
        mine = [row for row in rows if row["part"] == part]
        broken = [row for row in mine if row["holds"] is False]
        told = "; ".join(f"{row['case']}: peak {row['peak']:.3g} A, I2t {row['i2t']:.3g} A2s" for row in broken or mine)
        surge, energy = _amount(mine[0]["surge_rating"], "A"), _amount(mine[0]["i2t_rating"], "A2s")
        rating = f"ratings: surge {surge}, I2t {energy}; data sheets measure them at their own temperature and shape"
        found.append(
            Verdict(
                f"stress_{part.replace(' ', '_')}",
                "fault" if broken else "good",
                f"The {part} {'goes beyond its ratings' if broken else 'stays within its ratings'} ({told}; {rating}).",
            )
        )
    return found


def _amount(value: float | None, unit: str) -> str:
    return "not given" if value is None else f"{value:.4g} {unit}"


def _other_curves(breaker: Breaker, presses: list[Press]) -> str:
    """What the other curves of the same rating would do."""
    peaks = np.array([press.largest for press in presses]) / (math.sqrt(2.0) * breaker.current)
    bands = {"B": 4.0, "C": 7.5, "D": 15.0}
    texts = [
        f"{curve} {100.0 * float((peaks > middle).mean()):.0f}"
        for curve, middle in bands.items()
        if curve != breaker.curve
    ]
    return f"The other curves of this rating (IEC 60898-1, middle of the band) would trip of 100: {', '.join(texts)}."


def _largest_half_period_rms(press: Press, half: float) -> float:
    """Largest rms over a half period of a press [A]: one half cycle's I2t over half a mains period."""
    return math.sqrt(max((h.i2t for h in press.half_cycles), default=0.0) / half)


def _assumptions(scenario: Scenario, presses: int, seed: int) -> list[str]:
    lines = [
        f"{presses} presses, seed {seed}: the preceding conduction (the scenario's load, settled) ends at a random "
        f"moment, pause log-uniform {PAUSES[0]:g} to {PAUSES[1]:g} s, "
        "trigger closed at a random phase of the mains; 60 ms of each press looked at.",
        "Remanence is what the hysteresis model leaves when the device stops; nothing is typed in.",
        *_assumptions_of_breaker(scenario.breaker),
    ]
    if scenario.core is not None and not scenario.core.hysteresis and not is_iron(scenario.core):
        lines.append(
            "The core is given without hysteresis: its remanence is what is left after the last conduction of a "
            "lossless core, usually none."
        )
    return lines


def _assumptions_of_breaker(breaker: Breaker | None) -> list[str]:
    """What the judgement of trips rests on."""
    if breaker is not None and instantaneous_band(breaker) is None:
        return [
            "Melting of gG fuses by the 10 ms gates of IEC 60269-1 (from memory, 80 %), I2t of the first 60 ms added "
            "up as if no heat left the wire in between; a pulse of 60 ms needs more, so this errs to the safe side. "
            "Fuses that are brought near their gate again and again age; that is not modelled.",
        ]
    return [
        "A half cycle is shorter than the 0.1 s of the breaker standard: that its peak over sqrt2 decides is common "
        "practice, no published source.",
        "Breaker bands of IEC 60898-1: B 3 to 5, C 5 to 10, D 10 to 20 times the rated current.",
        "The magnetic part only: a single press of 60 ms does not heat a bimetal; a train of presses with the thermal "
        "part is asked with drill.",
    ]
