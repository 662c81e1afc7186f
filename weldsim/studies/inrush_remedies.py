"""Remedies for inrush side by side: the same presses under other rules of firing, other parts and other breakers."""

import dataclasses
import itertools
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.protection import Breaker
from weldsim.parts.soft_start import SoftStart, needed_resistance
from weldsim.runs.crew import ALONE, Crew
from weldsim.runs.first_fire import FirstFire, rule_of
from weldsim.runs.press_batches import Batch, presser_of
from weldsim.runs.presses import Press, Presser, Rest, Setting, carried_over, drawn
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of
from weldsim.scenario.vary import vary
from weldsim.studies.breaker_words import called
from weldsim.studies.press_trips import count_trips, gain_of_p90, interval, thresholds, worst_i2t
from weldsim.studies.progress import Progress, silent

AS_IT_IS = "as it is"  # the first line of the table
PRESSES = 32  # of each remedy
RESTS = 8  # of one job
ANGLES = (30.0, 60.0, 90.0, 120.0, 150.0)  # [deg] first-fire sweep
RAMPS = (5, 10, 20)  # half cycles
MORE_IMPEDANCE = 0.5  # [ohm] a long lead's worth
BYPASS = 0.1  # [s] of the relay
# A disc of 15 to 20 mm (data-sheet practice, no published source): B, heat given off, time of cooling.
BETA, DISSIPATION, COOLING = 3000.0, 0.02, 90.0  # [K], [W/K], [s]
HALF_MOST = 0.5  # of the median first peak, where no breaker says how much is too much


@dataclass(frozen=True)
class Remedy:
    """One line of the table: how it is called, and of what kind it is."""

    name: str
    kind: str
    fired: tuple[float, str] | None = None  # angle [deg] and polarity of a line of the sweep


@dataclass(frozen=True)
class Tried:
    """A job: the presses of one remedy, from rests (its own or those of another supply) or from draws of its own."""

    remedy: Remedy
    scenario: Scenario
    setting: Setting
    rule: FirstFire | None
    rests: tuple[Rest, ...] = ()
    of: Scenario | None = None  # whose rests these are, where they are another's
    seed: int = 0
    trials: tuple[int, ...] = ()


def tried(jobs: Sequence[Tried]) -> list[list[Press]]:
    """What the presses of some remedies did, one after the other by one worker."""
    return [_tried(job) for job in jobs]


def _tried(job: Tried) -> list[Press]:
    presser, rests = presser_of(job.scenario, job.setting), list(job.rests)
    if job.of is not None:
        plain = presser_of(job.of, job.setting)
        rests = [carried_over(rest, plain, presser) for rest in rests]
    rests += [presser.resting_after(drawn(job.seed, trial)) for trial in job.trials]
    return [presser.press_from(rest, job.rule)[0] for rest in rests]


def rested(batch: Batch) -> list[Rest]:
    """The supply before each press of a batch."""
    presser = presser_of(batch.scenario, batch.setting)
    return [presser.resting_after(drawn(batch.seed, trial)) for trial in batch.trials]


def remedy_rows(
    presser: Presser, *, seed: int, count: int, crew: Crew = ALONE, progress: Progress = silent
) -> list[dict]:
    """Rows of kind "remedy".

    Name, what is changed, presses, median, 90 % and worst first peak [A], 90 % and largest of all peaks looked at, and
    presses beyond the middle of the breaker's band with their 95 % interval [of 100]; the share by which 90 % of all
    peaks keep lower than as it is, with its 95 % interval, on equal draws.
    """
    bench = _Bench(presser, crew, (seed, min(count, PRESSES)), progress)
    scenario = bench.scenario
    rules = [(Remedy(AS_IT_IS, "firing"), bench.plain.rule), *_rules(bench.plain)]
    done = bench.by_rules(rules, bench.rests)
    usual = done[0]
    softened = scenario.soft_start is not None  # its first peaks say nothing of what another must keep down
    first = float(np.median([press.largest if softened else press.first_peak(bench.plain.period) for press in usual]))
    others = bench.on_others(_parts(scenario, first))  # under way while the best rule is looked for
    rows = [bench.row(remedy, presses, usual=usual) for (remedy, _), presses in zip(rules, done, strict=True)]
    rows += bench.best_rule(rows)
    rows += [bench.row(Remedy(name, "breaker"), usual, breaker) for name, breaker in _breakers(scenario.breaker)]
    return rows + [bench.row(remedy, presses, usual=usual) for remedy, presses in others]


class _Bench:
    """Where every remedy meets the same draws: the supply as it is, resting before each of its presses."""

    def __init__(self, presser: Presser, crew: Crew, draws: tuple[int, int], progress: Progress) -> None:
        self.plain, self.crew, (self.seed, self.count) = presser, crew, draws
        self.scenario, self.setting = presser.asked, presser.setting
        self.rests = self._rests(range(self.count))
        self.progress, self.done = progress, 0
        self.most = 8 + len(list(_rules(self.plain))) + 6 * (not presser.contactor)

    def _rests(self, trials: range) -> tuple[Rest, ...]:
        """The supply before each press of these draws."""
        parts = [tuple(trials[k : k + RESTS]) for k in range(0, len(trials), RESTS)]
        batches = [Batch(self.scenario, self.setting, self.seed, part) for part in parts]
        return tuple(rest for rests in self.crew.each(rested, batches) for rest in rests)

    def _tell(self) -> None:
        self.done += 1
        self.progress(min(self.done, self.most), self.most, "remedies")

    def by_rules(self, rules: Sequence[tuple[Remedy, FirstFire | None]], rests: tuple[Rest, ...]) -> list[list[Press]]:
        """The presses under each of some rules of firing."""
        jobs = [(Tried(remedy, self.scenario, self.setting, rule, rests),) for remedy, rule in rules]
        found = []
        for presses in self.crew.each(tried, jobs):
            found += presses
            self._tell()
        return found

    def on_others(self, parts: Iterable[tuple[Remedy, Scenario, bool]]) -> Iterator[tuple[Remedy, list[Press]]]:
        """The presses on supplies with another part; those of one supply by one worker, who then knows its modes."""
        jobs = [
            tuple(self._on(*part) for part in group) for _, group in itertools.groupby(parts, key=lambda part: part[1:])
        ]
        return self._told(jobs, self.crew.each(tried, jobs))

    def _told(
        self, jobs: Sequence[tuple[Tried, ...]], found: Iterator[list[list[Press]]]
    ) -> Iterator[tuple[Remedy, list[Press]]]:
        for group, done in zip(jobs, found, strict=True):
            for job, presses in zip(group, done, strict=True):
                self._tell()
                yield job.remedy, presses

    def _on(self, remedy: Remedy, scenario: Scenario, rests_alike: bool) -> Tried:
        """The job of a remedy on another supply, which may rest as the plain one does."""
        setting = dataclasses.replace(self.setting, warm=not remedy.name.endswith("cold"))
        rule = rule_of(scenario.soft_start)
        if rests_alike:
            return Tried(remedy, scenario, setting, rule, self.rests, self.scenario)
        return Tried(remedy, scenario, setting, rule, seed=self.seed, trials=tuple(range(self.count)))

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
            angles = [max(angle - step, 0.0), max(angle + step, 0.0)]
            done = self.by_rules([_fired(one, polarity) for one in angles], self.rests)
            for one, presses in zip(angles, done, strict=True):
                if self._p90(presses) < least:
                    least, angle = self._p90(presses), one
        remedy, rule = _fired(angle, polarity)
        fresh = self._rests(range(self.count, 2 * self.count))
        best_of_all = Remedy(f"best (other draws): {angle:g} deg, {polarity}", "best first firing")
        other = _fired(angle, "same" if polarity == "opposite" else "opposite")
        presses, before, turned = self.by_rules([(remedy, rule), (remedy, self.plain.rule), other], fresh)
        found = self.row(best_of_all, presses, usual=before)
        return [found | {"angle": angle, "polarity": polarity, "p90_other_polarity": self._p90(turned)}]

    def _p90(self, presses: Sequence[Press]) -> float:
        return float(np.quantile([press.largest for press in presses], 0.9))

    def row(
        self,
        remedy: Remedy,
        presses: Sequence[Press],
        breaker: Breaker | None = None,
        *,
        usual: Sequence[Press] = (),
    ) -> dict:
        """One line of the table, its gain against the usual presses from the same draws."""
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
        if usual and remedy.name != AS_IT_IS:
            before = np.array([press.largest for press in usual])
            row |= dict(zip(("gain", "gain_from", "gain_to"), gain_of_p90(before, largest), strict=True))
            row["p90_as_it_is"] = float(np.quantile(before, 0.9))
        return row | (dict(zip(("angle", "polarity"), remedy.fired, strict=True)) if remedy.fired else {})


def _as_the_last(polarity: str) -> str:
    """A polarity of the first firing in words.

    >>> _as_the_last("same"), _as_the_last("opposite")
    ('same as the last', 'opposite to the last')
    """
    return f"{polarity} {'as' if polarity == 'same' else 'to'} the last"


def _fired(angle: float, polarity: str) -> tuple[Remedy, FirstFire]:
    """A first firing at an angle, in a polarity."""
    name = f"first fire at {angle:g} deg, {_as_the_last(polarity)}"
    fired = (angle, polarity)
    return Remedy(name, "first firing", fired=fired), FirstFire(name, angle=angle, polarity=polarity)


def _rules(presser: Presser) -> Iterator[tuple[Remedy, FirstFire | None]]:
    """Rules that this supply can follow; a contactor fires when it closes and knows only the random press."""
    if presser.contactor or presser.delay is None:
        return
    yield Remedy("first fire at voltage zero", "firing"), FirstFire("zero", angle=0.0)
    yield Remedy("first fire at the crest", "firing"), FirstFire("crest", angle=90.0)
    for polarity in ("opposite", "same"):
        name = f"polarity {_as_the_last(polarity)}"
        yield Remedy(name, "firing"), FirstFire(name, polarity=polarity)
    for angle in ANGLES:
        for polarity in ("opposite", "same"):
            yield _fired(angle, polarity)
    for ramp in RAMPS:
        name = f"ramp of {ramp} half cycles"
        yield Remedy(name, "ramp"), FirstFire(name, ramp=ramp)


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
    same = scenario.soft_start is None
    series = SoftStart(kind="resistor", resistance=resistance, bypass_delay=BYPASS)
    name = f"{resistance:g} ohm in series, bypassed after {1e3 * BYPASS:g} ms"
    yield Remedy(name, "series"), vary(plain, {"soft_start": series}), same
    disc = SoftStart(
        kind="ntc",
        resistance=resistance,
        bypass_delay=BYPASS,
        beta=BETA,
        dissipation=DISSIPATION,
        cooling_time=COOLING,
    )
    for state in ("cold", "warm"):
        name = f"{resistance:g} ohm NTC, bypassed after {1e3 * BYPASS:g} ms, {state}"
        yield Remedy(name, "series"), vary(plain, {"soft_start": disc}), same
    bare = dataclasses.replace(disc, bypass_delay=None)
    name = f"{resistance:g} ohm NTC without relay, warm"
    yield Remedy(name, "lasting"), vary(plain, {"soft_start": bare}), False
    place = "mains" if scenario.generator is None else "generator"
    more = {f"{place}.resistance": source_of(scenario).resistance + MORE_IMPEDANCE}
    yield Remedy(f"{MORE_IMPEDANCE:g} ohm more in the {place}", "lasting"), vary(scenario, more), False


def _sized(scenario: Scenario, first: float) -> float:
    """Series resistance that keeps below the lower edge of the breaker's band, or below half the median peak [ohm].

    At mains +10 %, to two digits.
    """
    crest = 1.1 * np.sqrt(2.0) * scenario.mains.voltage
    peak = HALF_MOST * first
    if scenario.breaker is not None and scenario.breaker.curve != "gG":
        peak = min(peak, np.sqrt(2.0) * thresholds(scenario.breaker)[0])
    needed = needed_resistance(crest, peak=max(peak, 1.0), loop_resistance=source_of(scenario).resistance)
    return float(f"{min(max(needed, 1.0), 1000.0):.2g}")
