"""Remedies for inrush side by side: the same presses under other rules of firing, other parts and other breakers."""

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from weldsim.parts.protection import Breaker
from weldsim.parts.soft_start import SoftStart, needed_resistance
from weldsim.runs.first_fire import FirstFire
from weldsim.runs.presses import LOOKED_AT, Press, Presser, Rest, carried_over, drawn
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.press_trips import called, count_trips, interval, thresholds, worst_i2t
from weldsim.studies.progress import Progress, silent

PRESSES = 32  # of each remedy
WITH_THERMISTOR = 12  # likewise, where a thermistor is followed from slice to slice
ANGLES = (30.0, 60.0, 90.0, 120.0, 150.0)  # [deg] first-fire sweep
RAMPS = (5, 10, 20)  # half cycles
MORE_IMPEDANCE = 0.5  # [ohm] a long lead's worth
BYPASS = 0.1  # [s] of the relay
# A disc of 15 to 20 mm (data-sheet practice, no published source): B, heat given off, time of cooling.
BETA, DISSIPATION, COOLING = 3000.0, 0.02, 90.0  # [K], [W/K], [s]
HALF_MOST = 0.5  # of the median first peak, where no breaker says how much is too much


@dataclass(frozen=True)
class Remedy:
    """One line of the table: how it is called, of what kind it is, and for how long its presses are looked at [s]."""

    name: str
    kind: str
    looked_at: float = LOOKED_AT


def remedy_rows(presser: Presser, *, seed: int, count: int, progress: Progress = silent) -> list[dict]:
    """Rows of kind "remedy".

    Name, what is changed, presses, median, 90 % and worst first peak [A], 90 % and largest of all peaks looked at, and
    presses beyond the middle of the breaker's band with their 95 % interval [of 100].
    """
    bench = _Bench(presser, seed, min(count, PRESSES), progress)
    scenario = bench.scenario
    usual = bench.by_rule(Remedy("as it is", "firing"), bench.plain.rule)
    rows = [bench.row(Remedy("as it is", "firing"), usual)]
    rows += [bench.row(remedy, bench.by_rule(remedy, rule)) for remedy, rule in _rules(bench.plain)]
    rows += bench.best_rule(rows)
    rows += [bench.row(Remedy(name, "breaker"), usual, breaker) for name, breaker in _breakers(scenario.breaker)]
    first = float(np.median([press.first_peak(bench.plain.period) for press in usual]))
    for remedy, other, rested in _parts(scenario, first):
        rows.append(bench.row(remedy, bench.on(other, remedy, rested=rested)))
    return rows


class _Bench:
    """Where every remedy meets the same draws: the supply as it is, resting before each of its presses."""

    def __init__(self, presser: Presser, seed: int, count: int, progress: Progress) -> None:
        self.plain, self.seed, self.count = presser, seed, count
        self.scenario = presser.asked
        self.rests = [self.plain.resting_after(drawn(seed, trial)) for trial in range(count)]
        self._other: Presser | None = None
        self.progress, self.done = progress, 0
        self.most = 8 + len(list(_rules(self.plain))) + 5 * (not presser.contactor)

    def _tell(self) -> None:
        self.done += 1
        self.progress(min(self.done, self.most), self.most, "remedies")

    def by_rule(self, remedy: Remedy, rule: FirstFire | None, rests: Sequence[Rest] | None = None) -> list[Press]:
        """The presses under a rule of firing."""
        rests = self.rests if rests is None else rests
        presses = [self.plain.press_from(rest, rule, looked_at=remedy.looked_at)[0] for rest in rests]
        self._tell()
        return presses

    def on(self, scenario: Scenario, remedy: Remedy, *, rested: bool) -> list[Press]:
        """The presses on a supply with another part; ``rested`` says that it rests as the plain one does."""
        if self._other is None or self._other.asked != scenario:
            self._other = Presser(scenario, self.plain.setting)
        other = self._other.set_to(dataclasses.replace(self.plain.setting, warm=not remedy.name.endswith("cold")))
        count = self.count if "thermistor" not in remedy.name else min(self.count, WITH_THERMISTOR)
        if rested:
            rests = [carried_over(rest, self.plain, other) for rest in self.rests[:count]]
        else:
            rests = [other.resting_after(drawn(self.seed, trial)) for trial in range(count)]
        presses = [other.press_from(rest, other.rule, looked_at=remedy.looked_at)[0] for rest in rests]
        self._tell()
        return presses

    def best_rule(self, rows: Sequence[dict]) -> list[dict]:
        """The best first firing, refined between the angles of the sweep, and its gain on presses of its own.

        The draws that it is judged by are not those by which it was chosen.
        """
        swept = [row for row in rows if "angle" in row]
        if not swept:
            return []
        best = min(swept, key=lambda row: row["p90_largest"])
        angle, polarity, least = best["angle"], best["polarity"], best["p90_largest"]
        for step in (15.0, 7.5):
            for tried in (angle - step, angle + step):
                remedy, rule = _fired(max(tried, 0.0), polarity)
                p90 = self._p90(self.by_rule(remedy, rule))
                if p90 < least:
                    least, angle = p90, max(tried, 0.0)
        remedy, rule = _fired(angle, polarity)
        fresh = [self.plain.resting_after(drawn(self.seed, self.count + trial)) for trial in range(self.count)]
        best_of_all = Remedy(f"best: {remedy.name} (other draws)", "best first firing")
        found = self.row(best_of_all, self.by_rule(remedy, rule, fresh))
        before = self._p90(self.by_rule(remedy, self.plain.rule, fresh))
        return [found | {"angle": angle, "polarity": polarity, "p90_as_it_is": before}]

    def _p90(self, presses: Sequence[Press]) -> float:
        return float(np.quantile([press.largest for press in presses], 0.9))

    def row(self, remedy: Remedy, presses: Sequence[Press], breaker: Breaker | None = None) -> dict:
        """One line of the table."""
        first = np.array([press.first_peak(self.plain.period) for press in presses])
        largest = np.array([press.largest for press in presses])
        row = {
            "kind": "remedy",
            "name": remedy.name,
            "what": remedy.kind,
            "count": len(presses),
            "median": float(np.median(first)),
            "p90_first": float(np.quantile(first, 0.9)),
            "worst": float(first.max()),
            "p90_largest": float(np.quantile(largest, 0.9)),
            "largest": float(largest.max()),
            "i2t": max(worst_i2t(press.half_cycles) for press in presses),
        }
        trips = count_trips(breaker or self.scenario.breaker, [press.half_cycles for press in presses])
        if trips is not None:
            low, high = interval(trips.above_middle, trips.count)
            row |= {"tripped": trips.above_middle, "tripped_from": 100.0 * low, "tripped_to": 100.0 * high}
        return row | _angle_of(remedy)


def _fired(angle: float, polarity: str) -> tuple[Remedy, FirstFire]:
    """A first firing at an angle, in a polarity."""
    name = f"first fire at {angle:g} deg, polarity {polarity} {'as' if polarity == 'same' else 'to'} the last"
    return Remedy(name, "first firing"), FirstFire(name, angle=angle, polarity=polarity)


def _angle_of(remedy: Remedy) -> dict:
    """Angle and polarity of a line of the sweep, for those that draw it."""
    words = remedy.name.split()
    if remedy.kind != "first firing" or "polarity" not in words:
        return {}
    return {"angle": float(words[3]), "polarity": words[6]}


def _rules(presser: Presser) -> Iterator[tuple[Remedy, FirstFire | None]]:
    """Rules that this supply can follow; a contactor fires when it closes and knows only the random press."""
    if presser.contactor or presser.delay is None:
        return
    yield Remedy("first fire at voltage zero", "firing"), FirstFire("zero", angle=0.0)
    yield Remedy("first fire at the crest", "firing"), FirstFire("crest", angle=90.0)
    for polarity, word in (("opposite", "to"), ("same", "as")):
        name = f"polarity {polarity} {word} the last"
        yield Remedy(name, "firing"), FirstFire(name, polarity=polarity)
    for angle in ANGLES:
        for polarity in ("opposite", "same"):
            yield _fired(angle, polarity)
    for ramp in RAMPS:
        length = LOOKED_AT + ramp * 0.5 * presser.period
        name = f"ramp of {ramp} half cycles"
        yield Remedy(name, "ramp", length), FirstFire(name, ramp=ramp)


def _breakers(breaker: Breaker | None) -> Iterator[tuple[str, Breaker]]:
    """Other curves of the same rating, which feel the same presses."""
    if breaker is None:
        return
    for curve in ("B", "C", "D", "gG"):
        if curve != breaker.curve:
            other = Breaker(curve=curve, current=breaker.current)
            yield called(other), other


def _parts(scenario: Scenario, first: float) -> Iterator[tuple[Remedy, Scenario, bool]]:
    """Other parts: a series resistance against the median of the first peak [A], a thermistor, the mains; whether the
    supply rests as without them.
    """
    plain = scenario
    if scenario.soft_start is not None:
        plain = vary(scenario, {"soft_start": "absent"})
        yield Remedy("without its soft start", "plain"), plain, False
    resistance = _sized(scenario, first)
    length, same = BYPASS + LOOKED_AT, scenario.soft_start is None
    series = SoftStart(kind="resistor", resistance=resistance, bypass_delay=BYPASS)
    name = f"{resistance:.2g} ohm in series, bypassed after {1e3 * BYPASS:g} ms"
    yield Remedy(name, "series", length), vary(plain, {"soft_start": series}), same
    disc = SoftStart(
        kind="ntc",
        resistance=resistance,
        bypass_delay=BYPASS,
        beta=BETA,
        dissipation=DISSIPATION,
        cooling_time=COOLING,
    )
    for state in ("cold", "warm"):
        name = f"{resistance:.2g} ohm thermistor, bypassed likewise, {state}"
        yield Remedy(name, "series", length), vary(plain, {"soft_start": disc}), same
    bare = dataclasses.replace(disc, bypass_delay=None)
    name = f"{resistance:.2g} ohm thermistor without relay, warm"
    yield Remedy(name, "lasting"), vary(plain, {"soft_start": bare}), False
    more = {"mains.resistance": scenario.mains.resistance + MORE_IMPEDANCE}
    yield Remedy(f"{MORE_IMPEDANCE:g} ohm more in the mains", "lasting"), vary(scenario, more), False


def _sized(scenario: Scenario, first: float) -> float:
    """Series resistance that keeps below the lower edge of the breaker's band, or below half the median peak [ohm].

    At mains +10 %, to two digits.
    """
    crest = 1.1 * np.sqrt(2.0) * scenario.mains.voltage
    peak = HALF_MOST * first
    if scenario.breaker is not None and scenario.breaker.curve != "gG":
        peak = min(peak, np.sqrt(2.0) * thresholds(scenario.breaker)[0])
    needed = needed_resistance(crest, peak=max(peak, 1.0), loop_resistance=scenario.mains.resistance)
    return float(f"{min(max(needed, 1.0), 1000.0):.2g}")
