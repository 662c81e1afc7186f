"""Settled states laid over a measured trace, and the search for the one change that lays best."""

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from weldsim.analysis.folding import BINS, Folded, Laid, laid_over, least_remainder
from weldsim.errors import QuestionError, WeldsimError
from weldsim.frozen import dataclass
from weldsim.runs.commands import with_dial
from weldsim.runs.generator_runs import settle_fed
from weldsim.runs.run import known_name
from weldsim.runs.steady import MOST_PERIODS, Settled
from weldsim.runs.supply import Supply, supply_of
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import amount
from weldsim.studies.compare_causes import Candidate, Fault, Value, Variation
from weldsim.studies.operating import FEW_PERIODS
from weldsim.studies.progress import Progress

SIGNS = (1.0, -1.0)  # a probe may be reversed
SEVERAL = 10  # periods, whose mean stands for a state that does not repeat
CLEARLY = 0.95  # of what remains: a reversed probe must leave less than that
GUESSES = 25  # places of an axis at which a waveform is guessed
REFINED = 6  # values that promise most are searched to the end, and those whose promise is worth nothing
FAR = 0.1  # of the rms of the trace: what promises to leave so much more than another is not searched
NEAR = 0.02  # likewise, from which on more than those are: they may be what cannot be told apart
POLISHED = 3  # of them, those that leave least, as closely as can be
ROUNDS, QUICK_ROUNDS = 3, 6  # simulations of one search at most; of a value that needs no other network
ELSEWHERE = 0.01  # of the rms of the trace: states whose remainders differ by less are one
PLAIN_LOOKS = 12  # of a plain search
FINE = 2e-3  # of the axis looked at: places as close are one
GUESSED = 3e-4  # of the rms of the trace: a guess that comes so close is met
WRONG_SCALES = (5e-4, 2e3)  # a factor of the probe beyond that is none: a thousand is volts for millivolts


@dataclass(frozen=True, eq=False)
class Case:
    """One settled state laid over the trace: its waveform over a period, from a zero crossing of the mains on."""

    scenario: Scenario
    supply: Supply
    settled: Settled
    delay: float | None
    factor: float
    wave: np.ndarray
    laid: Laid


@dataclass(frozen=True, eq=False)
class Found:
    """A candidate with the value it takes (None of a fault), and what then remains [unit of the trace]."""

    words: str
    key: str
    wave: np.ndarray
    laid: Laid
    candidate: Candidate | None = None  # None of the measurement itself
    value: float | None = None
    case: Case | None = None
    searched: bool = True  # to the end; a value that promised little was looked at in places only
    takes: str = ""  # the value in words


@dataclass(frozen=True, eq=False)
class Trial:
    """What every case is laid over, and the case that all start from."""

    trace: Folded
    signal: str
    unit: str
    scenario: Scenario
    delay: float | None
    written: Case | None = None

    def case(self, variation: Variation, *, near: Case | None = None) -> Case:
        """The settled state of one variation, laid over the trace: reached from rest, or from a case near to it."""
        scenario = variation.of(self.scenario)
        supply = supply_of(scenario)
        delay = self.delay if variation.delay is None else variation.delay
        after = near.settled if near is not None and _alike(near.supply, supply) else None
        patience = MOST_PERIODS if self.written is None else FEW_PERIODS
        settled = settle_fed(supply, delay=delay, mains_factor=variation.factor, patience=patience, after=after)
        (wave,) = waves(supply, settled, delay=delay, names=[self.signal])
        laid = laid_over(self.trace, wave, signs=SIGNS, clearly=CLEARLY)
        return Case(scenario, supply, settled, delay, variation.factor, wave, laid)


def begun(
    trace: Folded, scenario: Scenario, signal: str, *, dial: float | None = None, delay: float | None = None
) -> tuple[Trial, Case]:
    """The trial of a scenario, and its case as written.

    Raises
    ------
    QuestionError : a signal that it does not have
    """
    scenario = with_dial(scenario, dial)
    supply = supply_of(scenario)
    units = {one.name: one.unit for one in supply.system.signals}
    try:
        known_name(signal, units)
    except WeldsimError as trouble:
        raise QuestionError(trouble.fact, place="signal", advice=trouble.advice) from None
    trial = Trial(trace, signal, units[signal], scenario, supply.delay(dial, delay))
    case = trial.case(Variation())
    return dataclasses.replace(trial, written=case), case


def _alike(one: Supply, other: Supply) -> bool:
    """Whether a state of one is a state of the other."""
    same = one.system.states == other.system.states and one.system.inputs == other.system.inputs
    return same and one.system.elements == other.system.elements


def waves(supply: Supply, settled: Settled, *, delay: float | None, names: Sequence[str]) -> np.ndarray:
    """One period of signals at the middle of each bin; of a state that does not repeat, the mean of many periods."""
    periods = 1 if settled.periodic else SEVERAL
    span = (0.0, periods * supply.period)
    stepper = supply.stepper(settled.state, settled.signature, span, delay=delay, mains_factor=settled.source_factor)
    stepper.run_to(span[1])
    spacing = supply.period / BINS
    samples = stepper.trace().sample(names, 0.5 * spacing, spacing=spacing, count=periods * BINS)
    return samples.reshape(len(names), periods, BINS).mean(axis=1)


def search(trial: Trial, candidates: Sequence[Candidate], *, progress: Progress) -> list[Found]:
    """Every candidate tried, those that leave least first; what cannot be simulated is left out."""
    values, rms = [one for one in candidates if isinstance(one, Value)], math.sqrt(trial.trace.square)
    known = [_broken(trial, one) for one in candidates if isinstance(one, Fault)]
    found = [one for one in (*known, *of_the_measurement(trial)) if one is not None]
    looks = [_looked_at(trial, one, progress, (number, len(values))) for number, one in enumerate(values)]
    promises = [_promise(trial, one)[0] for one in looks]
    searched: list[int] = []
    for rank, number in enumerate(sorted(range(len(values)), key=lambda one: promises[one])):
        least = min([one.laid.remainder for one in found] + [_least(one) for one in looks])
        promising = promises[number] <= least + (FAR if rank < REFINED else NEAR) * rms
        if promising or values[number].moves_edges:
            progress(len(searched), len(values), "search for values")
            _refine(trial, looks[number], values[number], close=GUESSED * rms)
            searched.append(number)
            if values[number].moves_edges:
                _polish(trial, looks[number], values[number])
    for number in sorted(searched, key=lambda one: _least(looks[one]))[:POLISHED]:
        if not values[number].moves_edges:
            _polish(trial, looks[number], values[number])
        _from_rest(trial, looks[number], values[number])
    others = [_best(one, looks[number], searched=number in searched) for number, one in enumerate(values)]
    return sorted([*found, *(one for one in others if one is not None)], key=lambda one: one.laid.remainder)


def _least(looks: "Looks") -> float:
    return min((case.laid.remainder for case in looks.values()), default=math.inf)


Looks = dict[float, Case]  # place on the axis of a value -> the case there


def _looked_at(trial: Trial, value: Value, progress: Progress, told: tuple[int, int]) -> Looks:
    """A value as written and on either side, and at the bound beyond the outermost where that promises most."""
    progress(*told, "values looked at")
    looks: Looks = {value.place(value.written): _written(trial)} if value.starts_inside else {}
    for place in value.nodes():
        _look(trial, value, place, looks, near=trial.written)
    low, high = value.place(value.bounds[0]), value.place(value.bounds[1])
    _, best = _promise(trial, looks)
    for bound, outermost in ((low, min(looks, default=low)), (high, max(looks, default=high))):
        if abs(best - outermost) <= FINE * (high - low) and abs(bound - outermost) > FINE * (high - low):
            _look(trial, value, bound, looks, near=trial.written)
    return looks


def _written(trial: Trial) -> Case:
    assert trial.written is not None
    return trial.written


def _look(trial: Trial, value: Value, place: float, looks: Looks, *, near: Case | None = None) -> bool:
    """Simulate one place of the axis; false where that cannot be done."""
    variation = value.change(value.value(place))
    for start in dict.fromkeys((near, None)):
        try:
            looks[place] = trial.case(variation, near=start)
        except WeldsimError:
            continue
        return True
    return False


def _promise(trial: Trial, looks: Looks) -> tuple[float, float]:
    """What may remain at best, and at which place of the axis: guessed from the parabolas through neighbours."""
    from scipy.optimize import minimize_scalar  # takes as long to load as some cases to simulate

    if not looks:
        return math.inf, 0.0

    def left(place: float) -> float:
        near, wave = _guessed(looks, place)
        return least_remainder(trial.trace, wave, sign=near.laid.sign)

    grid = np.linspace(min(looks), max(looks), GUESSES) if len(looks) > 1 else np.array(list(looks))
    tried = [(left(float(one)), float(one)) for one in grid]
    at = tried.index(min(tried))
    low, high = grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)]
    if 0 < at < len(grid) - 1:
        end = minimize_scalar(left, bounds=(low, high), method="bounded", options={"xatol": 0.02 * (high - low)})
        tried.append((float(end.fun), float(end.x)))
    return min([*tried, *((case.laid.remainder, place) for place, case in looks.items())])


def _guessed(looks: Looks, place: float) -> tuple[Case, np.ndarray]:
    """The nearest look, and the waveform at a place by the polynomial through the nearest three."""
    near = sorted(looks, key=lambda one: abs(one - place))[:3]
    wave = np.zeros(BINS)
    for own in near:
        share = math.prod((place - other) / (own - other) for other in near if other != own)
        wave += share * looks[own].wave
    return looks[near[0]], wave


def _refine(trial: Trial, looks: Looks, value: Value, *, close: float) -> None:
    """Simulate where the least is guessed until the guess is met to ``close``, from the state of the nearest look."""
    for _ in range(QUICK_ROUNDS if value.quick else ROUNDS):
        guessed, place = _promise(trial, looks)
        if not looks or min(abs(place - one) for one in looks) <= FINE * (max(looks) - min(looks)):
            break
        nearest = looks[min(looks, key=lambda one: abs(one - place))]
        near = nearest if nearest.settled.periodic else _written(trial)
        if not _look(trial, value, place, looks, near=near) or looks[place].laid.remainder < guessed + close:
            break


def _polish(trial: Trial, looks: Looks, value: Value) -> None:
    """Come as close as can be: by guesses, or where a case costs little by a plain search around the best."""
    from scipy.optimize import minimize_scalar

    if not value.quick:
        _refine(trial, looks, value, close=0.0)
        return
    places = sorted(looks)
    if not places:
        return
    at = places.index(min(places, key=lambda one: looks[one].laid.remainder))
    around = places[max(at - 1, 0)], places[min(at + 1, len(places) - 1)]
    near = looks[places[at]]

    def left(place: float) -> float:
        return looks[place].laid.remainder if _look(trial, value, place, looks, near=near) else math.inf

    minimize_scalar(left, bounds=around, method="bounded", options={"maxiter": PLAIN_LOOKS})


def _from_rest(trial: Trial, looks: Looks, value: Value) -> None:
    """Settle the best look again from rest: a supply may have several states, of which the one reached so counts.

    What hardly differs has only not settled as far.
    """
    place = min(looks, key=lambda one: looks[one].laid.remainder, default=None)
    if place is None or looks[place] is trial.written:
        return
    before = looks[place]
    _look(trial, value, place, looks)
    if abs(looks[place].laid.remainder - before.laid.remainder) < ELSEWHERE * math.sqrt(trial.trace.square):
        looks[place] = before


def _best(value: Value, looks: Looks, *, searched: bool) -> Found | None:
    """The best look at a value, unless that is the value as written."""
    own = value.place(value.written) if value.starts_inside else None
    others = [place for place in looks if place != own]
    if not others:
        return None
    place = min(others, key=lambda one: looks[one].laid.remainder)
    case = looks[place]
    taken = value.value(place)
    return Found(value.words, value.key, case.wave, case.laid, value, taken, case, searched, value.spoken(taken))


def _broken(trial: Trial, fault: Fault) -> Found | None:
    """A usual fault; None where it cannot be simulated, or has no such signal."""
    try:
        case = trial.case(fault.variation)
    except (WeldsimError, KeyError, ValueError):
        return None
    return Found(fault.words, "", case.wave, case.laid, fault, None, case)


def of_the_measurement(trial: Trial) -> list[Found]:
    """The supply as written, measured with an offset or by a probe of another scale: both in closed form."""
    case, trace = _written(trial), trial.trace
    weights = trace.counts / trace.counts.sum()
    offset, scale = 0.0, 1.0
    shifted = scaled = case.laid
    for _ in range(2):  # the shift is found again
        own = shifted.sign * np.roll(case.wave, -round(shifted.shift * BINS))
        offset = float(weights @ (trace.means - own))
        shifted = laid_over(trace, case.wave + shifted.sign * offset, signs=(shifted.sign,))
        own = scaled.sign * np.roll(case.wave, -round(scaled.shift * BINS))
        square = float(weights @ own**2)
        scale = float(weights @ (trace.means * own)) / square if square > 0.0 else 1.0
        scaled = laid_over(trace, case.wave * scale, signs=(scaled.sign,))
    lifted, larger = case.wave + shifted.sign * offset, case.wave * scale
    told = amount(offset, trial.unit), f"{amount(scale, '1')} times"
    found = [Found("zero of the measurement", "measurement.offset", lifted, shifted, value=offset, takes=told[0])]
    if WRONG_SCALES[0] < scale < WRONG_SCALES[1]:
        found.append(Found("scale of the probe", "measurement.scale", larger, scaled, value=scale, takes=told[1]))
    return found
