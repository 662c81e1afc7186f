"""What an inrush says: how often it trips, the half-period rule, what helps, stress of the parts, what was assumed."""

import dataclasses
import math
from collections.abc import Iterator

import numpy as np

from weldsim.parts.breaker_curves import FUSE_VERDICTS, fuse_verdict, fuse_window, half_period_rms_limit
from weldsim.parts.flux import remanent_flux_linkage
from weldsim.parts.protection import Breaker, instantaneous_band, magnetic_multiples
from weldsim.runs.first_fire import LOOKED_AT, looked_at, rule_of
from weldsim.runs.presses import PAUSES, TRAIN, TRAINED, Press, Setting
from weldsim.runs.soft_start import HOTTEST, STEPS, in_series
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import OneTransformer, second_flux_factor, transformers
from weldsim.studies.answer import Verdict, amount, counted, of_hundred
from weldsim.studies.breaker_words import called
from weldsim.studies.core_words import first_core, flux_told
from weldsim.studies.inrush_forgetful import told_forgetful
from weldsim.studies.press_trips import Trips, count_trips, interval, worst_i2t

WORTH = 0.05  # a gain below it is not worth a part: the mains alone, at -10 and +10 %, moves a peak by more

COLD, WARM = ", cold", ", warm"  # how the remedies call a thermistor's state
LATER = 1.05  # times the worst first peak: a larger one that comes later is told too
ENOUGH = 10  # presses of which 90 % can be told from the worst
NAMED = 3  # remedies that are named besides the best


def verdicts(
    scenario: Scenario, presses: list[Press], *, first: np.ndarray, trips: Trips | None, remedies: list[dict]
) -> list[Verdict]:
    """Trips, the half-period rule, and what helps; ``first`` are the first peaks [A]."""
    spread = f"median {np.median(first):.3g} A, 90 % below {np.quantile(first, 0.9):.3g} A, worst {first.max():.3g} A"
    largest = max(press.largest for press in presses)
    if largest > LATER * first.max():
        spread = f"first peaks: {spread}; later, up to {largest:.3g} A"
    found = []
    if trips is None or scenario.breaker is None:
        found.append(Verdict("peaks", "note", f"Without a breaker in the scenario: {spread}."))
    elif instantaneous_band(scenario.breaker) is None:
        found.append(_fuse_verdict(scenario.breaker, presses, trips, spread))
    else:
        found.append(_breaker_verdict(scenario.breaker, presses, trips, spread))
    rms = np.array([_largest_half_period_rms(press, 0.5 / scenario.mains.frequency) for press in presses])
    over = int((rms > half_period_rms_limit()).sum())
    told = (
        f"{of_hundred(over / len(rms))} of 100 presses exceed {half_period_rms_limit():g} A rms over a half period "
        f"(largest {rms.max():.3g} A), the level up to which IEC 61000-3-3 accepts manual switching without a test."
    )
    if scenario.generator is None:  # a rule of public mains
        found.append(Verdict("half_period_rms", "note", told))
    return [*found, *_remedy_verdicts(remedies)]


def _remedy_verdicts(remedies: list[dict]) -> list[Verdict]:
    """The remedy that does best, and the best rule of the first firing; each only where it gains beyond chance."""
    if not remedies:
        return []
    tried = [
        row for row in remedies if "gain" in row and row["what"] not in ("breaker", "lasting", "best first firing")
    ]
    tried = [row for row in tried if not row["name"].endswith(COLD)]  # a thermistor is as good as when it is warm
    fired = next((row for row in remedies if row["what"] == "best first firing"), None)
    few = fired is None or fired["count"] < ENOUGH
    return [*_best_remedy(tried, _only_cold(remedies)), *([] if few or fired is None else [_best_first_fire(fired)])]


def _helps(row: dict) -> bool:
    """Whether a remedy gains more than chance does, and enough to be worth its parts."""
    return row["gain_from"] > 0.0 and row["gain"] > WORTH


def _only_cold(remedies: list[dict]) -> str:
    """What a thermistor keeps below cold and, where that is worse, warmed by the presses before; in words."""
    by_name = {row["name"]: row for row in remedies}
    for name, cold in by_name.items():
        warm = by_name.get(f"{name.removesuffix(COLD)}{WARM}")
        if not name.endswith(COLD) or warm is None or not _helps(cold):
            continue
        if cold["gain"] - warm["gain"] > WORTH:
            return (
                f" '{name}' keeps 90 of 100 below {cold['p90_largest']:.3g} A at a first press; after {TRAINED} "
                f"presses of {TRAIN[0]:g} s with pauses of {TRAIN[1]:g} s it is warm and keeps them below "
                f"{warm['p90_largest']:.3g} A."
            )
    return ""


def _best_remedy(tried: list[dict], only_cold: str) -> list[Verdict]:
    """The remedy with the least peaks among those that help, and which do as well; and what helps ``only_cold``."""
    if not tried:
        return []
    if min(row["count"] for row in tried) < ENOUGH:
        text = f"Fewer than {ENOUGH} presses tell no best remedy, and no best first firing: ask for more."
        return [Verdict("best_remedy", "note", text)]
    best = max((row for row in tried if _helps(row)), key=lambda row: row["gain"], default=None)
    if best is None:
        text = (
            f"None of the remedies tried lowers what 90 of 100 presses keep below by more than chance and "
            f"{100.0 * WORTH:g} % (same draws on both sides; what stays in the way while welding is not counted)."
            f"{only_cold}"
        )
        return [Verdict("best_remedy", "note", text)]
    alike = [
        f"'{row['name']}'" for row in tried if row is not best and row["gain"] > best["gain"] - WORTH and _helps(row)
    ]
    more = f" and {len(alike) - NAMED} more, listed below" if len(alike) > NAMED + 1 else ""
    told = "; ".join(alike[:NAMED] if more else alike)
    others = f" Within {100.0 * WORTH:g} % of it: {told}{more}." if alike else ""
    now, before = best["p90_largest"], best["p90_as_it_is"]
    return [
        Verdict(
            "best_remedy",
            "note",
            f"Of the remedies tried here, '{best['name']}' does best: in 90 of 100 presses no peak exceeds "
            f"{now:.3g} A, against {before:.3g} A as it is, {_gain_told(best)} ({best['count']} presses on either "
            f"side, same draws, looked at until 60 ms after the remedy has ended; what stays in the way while welding "
            f"is not counted).{others}{only_cold}",
        )
    ]


def _best_first_fire(fired: dict) -> Verdict:
    """The best angle and polarity of the first firing with its gain on draws of its own."""
    before, now = fired["p90_as_it_is"], fired["p90_largest"]
    either = abs(fired["p90_other_polarity"] / max(now, 1e-9) - 1.0) < WORTH
    word = "as" if fired["polarity"] == "same" else "to"
    polarity = "in either polarity" if either else f"in the polarity {fired['polarity']} {word} the last"
    judged = f"judged by {fired['count']} presses other than those it was chosen by"
    if not _helps(fired):
        return Verdict(
            "best_first_fire",
            "note",
            f"No angle of the first firing helps here beyond chance and {100.0 * WORTH:g} %: the best found, "
            f"{fired['angle']:g} deg {polarity}, keeps 90 of 100 presses below {now:.3g} A instead of {before:.3g} A, "
            f"{_gain_told(fired)} ({judged}).",
        )
    return Verdict(
        "best_first_fire",
        "note",
        f"The best first firing here is at {fired['angle']:g} deg {polarity}: in 90 of 100 presses no peak "
        f"exceeds {now:.3g} A instead of {before:.3g} A, {_gain_told(fired)} ({judged}).",
    )


def _gain_told(row: dict) -> str:
    """A gain in words with its interval.

    >>> _gain_told({"gain": 0.267, "gain_from": 0.25, "gain_to": 0.284})
    '27 % less, with 95 % confidence 25 to 28 %'
    >>> _gain_told({"gain": -0.01, "gain_from": -0.04, "gain_to": 0.02})
    '1 % more, with 95 % confidence 4 % more to 2 % less'
    """
    gain, low, high = (100.0 * row[key] for key in ("gain", "gain_from", "gain_to"))
    told = f"{abs(gain):.0f} % {'less' if gain >= 0.0 else 'more'}"
    if low >= 0.0:
        return f"{told}, with 95 % confidence {low:.0f} to {high:.0f} %"
    ends = (f"{abs(one):.0f} % {'less' if one >= 0.0 else 'more'}" for one in (low, high))
    return f"{told}, with 95 % confidence {' to '.join(ends)}"


def _breaker_verdict(breaker: Breaker, presses: list[Press], trips: Trips, spread: str) -> Verdict:
    """How many presses trip a breaker at once, with the other curves of its rating."""
    low, high = interval(trips.above_middle, trips.count)
    share = trips.above_middle / trips.count
    return Verdict(
        "trips",
        "fault" if share > 0.05 else "note" if trips.above_low else "good",
        f"{of_hundred(share)} of 100 presses trip a {called(breaker)} at the middle of its "
        f"instantaneous band ({trips.above_middle} of {trips.count}; 95 % confidence {of_hundred(low)} to "
        f"{of_hundred(high)} of 100; lower edge of the band {of_hundred(trips.above_low / trips.count)}, upper edge "
        f"{of_hundred(trips.above_high / trips.count)} of 100); {spread}. {_other_curves(breaker, presses)} A breaker "
        f"protects the cable: never answer a trip by a bigger one.",
    )


def _fuse_verdict(breaker: Breaker, presses: list[Press], trips: Trips, spread: str) -> Verdict:
    """What the worst press does to a fuse, by its I2t."""
    worst = max(worst_i2t(press.half_cycles) for press in presses)
    least, most = fuse_window(breaker.current)
    outcome = fuse_verdict(breaker, worst)
    low, high = interval(trips.above_low, trips.count)
    return Verdict(
        "trips",
        dict(zip(FUSE_VERDICTS, ("good", "note", "fault"), strict=True))[outcome],
        f"The worst press puts {amount(worst, 'A2s')} into a gG {breaker.current:g} A fuse in its worst 60 ms: "
        f"the fuse {outcome} (such fuses melt between {least:.4g} and {most:.4g} A2s). {trips.above_low} of "
        f"{trips.count} presses go beyond the lower value (95 % confidence {of_hundred(low)} to {of_hundred(high)} of "
        f"100), {trips.above_high} beyond the upper one; {spread}. A fuse protects the cable: never answer a blown one "
        f"by a bigger one.",
    )


def typed_verdicts(scenario: Scenario, flux_linkage: float | None) -> list[Verdict]:
    """Whether a flux [V s] that was typed in, the second of two cores as dense, is more than a core keeps by itself."""
    if flux_linkage is None:
        return []
    return [verdict for one in transformers(scenario) for verdict in _typed_in(scenario, one, flux_linkage)]


def _typed_in(scenario: Scenario, one: OneTransformer, flux_linkage: float) -> Iterator[Verdict]:
    """The same of one core."""
    assert one.core is not None
    flux = flux_linkage * (second_flux_factor(scenario) if one.prefix else 1.0)
    kept = remanent_flux_linkage(one.core, one.primary_turns)
    if abs(flux) <= 1.02 * kept:
        return
    whose = f"the {one.word or 'first '}core" if len(transformers(scenario)) > 1 else "this core"
    typed = f"{flux_told(one, flux, sign='+')} were typed in, but without current {whose} keeps "
    told = (
        f"at most {flux_told(one, kept)}: the rest leaves it with a jolt, through what is joined to it, before "
        "and while it is pressed. No real press has such peaks and stress."
        if kept > 0.0
        else "none, having no hysteresis: good for a comparison with formulas, while what is joined to it may drain it."
    )
    yield Verdict(f"typed_{one.prefix}remanence", "note", typed + told)


def stress_verdicts(rows: list[dict]) -> list[Verdict]:
    """One verdict for each rated part: where its ratings are broken, or that they hold; of a fuse where it melts."""
    found = []
    for part in dict.fromkeys(row["part"] for row in rows if row["holds"] is not None):
        mine = [row for row in rows if row["part"] == part]
        broken = [row for row in mine if row["holds"] is False]
        told = "; ".join(_stress_told(row) for row in broken or mine)
        name = f"stress_{part.replace(' ', '_')}"
        if mine[0]["fuse"]:
            what = "melts for sure" if broken else "need not melt within 60 ms"
            text = f"The {part} {what} ({told}; it surely melts beyond {mine[0]['i2t_rating']:.4g} A2s)."
            found.append(Verdict(name, "note", text))
            continue
        text = (
            f"The {part} {'goes beyond its ratings' if broken else 'stays within its ratings'} ({told}; ratings: "
            f"{_ratings(mine[0])}; data sheets measure them at their own temperature and shape)."
        )
        found.append(Verdict(name, "fault" if broken else "good", text))
    return found


def _stress_told(row: dict) -> str:
    """One case in words; the rate of current where it has a rating."""
    rise = f", {1e-6 * row['current_rise']:.3g} A/us" if row["current_rise_rating"] is not None else ""
    return f"{row['case']}: peak {amount(row['peak'], 'A')}, I2t {amount(row['i2t'], 'A2s')}{rise}"


def _ratings(row: dict) -> str:
    """The ratings of a part in words."""
    given = (("surge", "surge_rating", 1.0, "A"), ("I2t", "i2t_rating", 1.0, "A2s"))
    words = [f"{word} {_amount(row[key], factor, unit)}" for word, key, factor, unit in given]
    if row["current_rise_rating"] is not None:
        words.append(f"rise {_amount(row['current_rise_rating'], 1e-6, 'A/us')}")
    return ", ".join(words)


def _amount(value: float | None, factor: float, unit: str) -> str:
    return "not given" if value is None else f"{factor * value:.4g} {unit}"


def _other_curves(breaker: Breaker, presses: list[Press]) -> str:
    """What the other curves of the same rating would do."""
    half_cycles = [press.half_cycles for press in presses]
    others = [Breaker(curve=curve, current=breaker.current) for curve in "BCD" if curve != breaker.curve]
    counts = [(other.curve, count_trips(other, half_cycles)) for other in others]
    texts = [f"{curve} {of_hundred(trips.above_middle / trips.count)}" for curve, trips in counts if trips is not None]
    return f"The other curves of this rating (IEC 60898-1, middle of the band) would trip of 100: {', '.join(texts)}."


def _largest_half_period_rms(press: Press, half: float) -> float:
    """Largest rms over a half period of a press [A]: one half cycle's I2t over half a mains period."""
    return math.sqrt(max((h.i2t for h in press.half_cycles), default=0.0) / half)


def _looked_at_told(scenario: Scenario) -> str:
    """How much of a press is looked at, in words."""
    span = looked_at(scenario.soft_start, rule_of(scenario.soft_start), scenario.mains.frequency)
    more = f", {1e3 * LOOKED_AT:.0f} ms more than its soft start takes," if span > LOOKED_AT else ""
    return f"{1e3 * span:.0f} ms{more}"


_BANKS = {
    "bled": "the bank bleeds for the pause",
    "charged": "the bank is as charged at the trigger as when it was let go",
    "empty": "the bank is empty at the trigger",
}


def assumptions(scenario: Scenario, setting: Setting, *, presses: int, seed: int) -> list[str]:
    """What the answer rests on."""
    before = "no load" if scenario.load is None else "the scenario's load"
    lines = [
        f"{counted(presses, 'press', 'presses')}, seed {seed}: the preceding conduction "
        f"({before}, settled) ends at a random "
        f"moment, pause log-uniform {PAUSES[0]:g} to {PAUSES[1]:g} s, "
        f"{_BANKS[setting.bank] + ', ' if scenario.bank is not None else ''}"
        "trigger closed at a random phase of the mains; "
        f"{_looked_at_told(scenario)} of each press looked at.",
        "Remanence is what the hysteresis model leaves when the device stops; nothing is typed in."
        if setting.flux_linkage is None
        else f"Every press begins with {flux_told(transformers(scenario)[0], setting.flux_linkage, sign='+')} left in "
        f"the {first_core(scenario)}, as typed in.",
        *told_contact(scenario),
        *soft_start_assumptions(scenario, trained=True),
        *_assumptions_of_breaker(scenario.breaker),
    ]
    return [*lines, *told_forgetful(scenario)]


def told_contact(scenario: Scenario) -> list[str]:
    """Where the trigger breaks a dial that fires by itself, and that no timer closes it here."""
    if scenario.trigger is not None and scenario.trigger.timer != "free":
        timed = dataclasses.replace(scenario, trigger=None)
        told = (
            "The scenario's timer starts at zero crossings; the trigger here closes at any moment: `spot` follows it."
        )
        return [told, *told_contact(timed)]
    if scenario.phase_control is None or scenario.phase_control.dial_kind != "rc-diac":
        return []
    return [
        "The trigger's contact lies in the diac's line: let go, the timing capacitor hangs on the mains through its "
        "resistor, and the next press may fire at once. Another place of the contact gives other first half cycles."
    ]


def soft_start_assumptions(scenario: Scenario, *, trained: bool = False) -> list[str]:
    """What is assumed of a soft start that stands in the circuit."""
    soft_start = scenario.soft_start
    if soft_start is None or not in_series(soft_start):
        return []
    lines = ["The relay of the soft start counts from the trigger; the arc of its contacts is not modelled."]
    if soft_start.bypass_delay is None:
        lines = []
    if soft_start.kind == "ntc":
        lines.append(
            f"The thermistor is one body; its resistance goes in {STEPS} steps of even ratio, the nearest put in every "
            f"tenth of a half cycle, and falls no further beyond {HOTTEST:g} degC. Real parts scatter by 20 % cold "
            f"and by a third hot."
        )
        if trained and soft_start.bypass_delay is not None:
            lines.append(
                f"A train of {TRAINED} presses, {TRAIN[0]:g} s on and {TRAIN[1]:g} s off, has warmed the thermistor "
                f"before; it cools in the pause."
            )
        elif trained:
            lines.append(
                "Without a relay the thermistor is as warm as settled welding keeps it; it cools in the pause."
            )
    return lines


def _assumptions_of_breaker(breaker: Breaker | None) -> list[str]:
    """What the judgement of trips rests on."""
    if breaker is None:
        return ["No breaker in the scenario: no trips counted."]
    if instantaneous_band(breaker) is None:
        return [
            "Melting of gG fuses by the 10 ms gates of IEC 60269-1 (from memory, 80 %), I2t of the worst 60 ms added "
            "up as if no heat left the wire in between; a pulse of 60 ms needs more, so this errs to the safe side. "
            "Fuses that are brought near their gate again and again age; that is not modelled.",
        ]
    return [
        "A half cycle is shorter than the 0.1 s of the breaker standard: that its peak over sqrt2 decides is common "
        "practice, no published source.",
        f"{_band_told(breaker)}Breaker bands of IEC 60898-1: B 3 to 5, C 5 to 10, D 10 to 20 times the rated current.",
        "The magnetic part only: a single press does not heat a bimetal; a train of presses with the thermal "
        "part is asked with drill.",
    ]


def _band_told(breaker: Breaker) -> str:
    """Where the band of this breaker comes from, if not from the standard of household breakers.

    >>> _band_told(Breaker(curve="C", current=16.0, magnetic_low=6.0, magnetic_high=7.0))
    'The C16 breaker trips at once between 6 and 7 times its rating, as the scenario says. '
    """
    multiples = magnetic_multiples(breaker)
    own = breaker.magnetic_low is not None
    if multiples is None or not (own or breaker.curve == "thermal-magnetic"):
        return ""
    source = "as the scenario says" if own else "common practice, no published source"
    low, _, high = multiples
    return f"The {called(breaker)} trips at once between {low:g} and {high:g} times its rating, {source}. "
