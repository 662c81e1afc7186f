"""Remedies for inrush side by side: the same presses from the same resting states, under different rules and parts."""

from collections.abc import Iterator

import numpy as np

from weldsim.parts.protection import instantaneous_band
from weldsim.runs.first_fire import FirstFire
from weldsim.runs.presses import Presser, drawn
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.progress import Progress, silent

ANGLES = (30.0, 60.0, 90.0, 120.0, 150.0)  # [deg] first-fire sweep
RAMPS = (5, 10, 20)  # half cycles
MORE_IMPEDANCE = 0.5  # [ohm] a long lead's worth


def remedy_rows(
    scenario: Scenario, *, seed: int, count: int, dial: float | None, delay: float | None, progress: Progress = silent
) -> list[dict]:
    """Rows of kind "remedy".

    Name, presses, median, 90 % and worst first peak [A], presses beyond the middle of the breaker's band.
    """
    rows = []
    plain = Presser(scenario, dial=dial, delay=delay)
    remedies = list(_rules(plain))
    rested = [plain.resting_after(drawn(seed, trial)) for trial in range(count)]
    for n, rule in enumerate(remedies):
        presses = [plain.press_by_rule(rest, rule)[0] for rest in rested]
        rows.append(_row(scenario, rule.name if rule else "as it is", presses, plain.period))
        progress(n + 1, len(remedies) + 1, "remedies")
    weaker = vary(scenario, {"mains.resistance": scenario.mains.resistance + MORE_IMPEDANCE})
    other = Presser(weaker, dial=dial, delay=delay)
    presses = [other.press(trial, drawn(seed, trial))[0] for trial in range(count)]
    rows.append(_row(scenario, f"{MORE_IMPEDANCE:g} ohm more in the mains", presses, other.period))
    return rows


def _rules(presser: Presser) -> Iterator[FirstFire | None]:
    """Rules that this supply can follow; a contactor fires when it closes and knows only the random press."""
    yield None
    if presser.contactor or presser.delay is None:
        return
    yield FirstFire("first fire at voltage zero", angle=0.0)
    yield FirstFire("first fire at the crest", angle=90.0)
    yield FirstFire("polarity opposite to the last", polarity="opposite")
    yield FirstFire("polarity same as the last", polarity="same")
    for angle in ANGLES:
        for polarity in ("opposite", "same"):
            yield FirstFire(
                f"first fire at {angle:g} deg, polarity {polarity} to the last", angle=angle, polarity=polarity
            )
    for ramp in RAMPS:
        yield FirstFire(f"ramp of {ramp} half cycles", ramp=ramp)
        yield FirstFire(f"ramp of {ramp} half cycles, polarity opposite to the last", ramp=ramp, polarity="opposite")


def _row(scenario: Scenario, name: str, presses: list, period: float) -> dict:
    first = np.array([press.first_peak(period) for press in presses])
    largest = np.array([press.largest for press in presses])
    row = {
        "kind": "remedy",
        "name": name,
        "count": len(presses),
        "median": float(np.median(first)),
        "p90": float(np.quantile(first, 0.9)),
        "worst": float(first.max()),
        "p90_of_60_ms": float(np.quantile(largest, 0.9)),
        "largest": float(largest.max()),
    }
    band = instantaneous_band(scenario.breaker) if scenario.breaker is not None else None
    if band is not None:
        row["tripped"] = int((largest > 0.5 * (band[0] + band[1]) * np.sqrt(2.0)).sum())
    return row
