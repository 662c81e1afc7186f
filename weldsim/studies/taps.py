"""Taps against phase control: the same supply and the same output, set by turns or by the dial, side by side."""

import math
from collections.abc import Sequence

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import trip_time
from weldsim.parts.iron import is_iron
from weldsim.parts.transformer import turns
from weldsim.runs.half_cycles import HalfCycle
from weldsim.runs.press_batches import press_many
from weldsim.runs.presses import Setting as Pressed
from weldsim.runs.tapped import tapped
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict, amount, spread
from weldsim.studies.breaker_words import called, lasts
from weldsim.studies.operating import (
    MAINS_STEPS,
    Setting,
    distortion,
    firing_verdicts,
    found_by,
    has_dial,
    operate,
    sweep,
    told_backlash,
    told_load,
    welding,
)
from weldsim.studies.press_trips import Trips, count_trips
from weldsim.studies.progress import Progress, silent

STEP = 1.08  # turns from tap to tap
MOST_TAPS = 14
LEAST = 0.05  # of the largest output: below, a tap gives no weld
PRESSES = 50
EQUAL = 1e-3  # of the output: a tap and a dial within that give the same
ROUNDING = 1e-4  # of the crest: what leaks through diodes once a current has died


@dataclass(frozen=True)
class Pair:
    """One output, made both ways."""

    factor: float  # turns of the tap over those of the transformer as it is
    tap: Setting
    dial: Setting


def ask(
    scenario: Scenario,
    *,
    dial: float | None = None,
    presses: int = PRESSES,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = silent,
) -> Answer:
    """Every tap of a primary with 8 % more turns from tap to tap, and the dial that gives the same output.

    Parameters
    ----------
    scenario : Scenario
        With a transformer and a phase control whose dial can be set.
    dial : float or None
        Setting of which the figures and verdicts speak, by the nearest tap [1]; the scenario's own.
    presses : int
        Random trigger presses of each, at that setting, where the core is iron and there is a breaker [1].
    seed : int
        Start of the random draws.
    workers : int or None
        Threads for the presses.

    Returns
    -------
    Answer : rows "pair" (tap by tap); runs "taps" and "dial".

    Raises
    ------
    QuestionError : nothing to compare; WiringError, SimulationError.
    """
    if scenario.transformer is None or not has_dial(scenario):
        missing = "transformer" if scenario.transformer is None else "phase_control"
        raise QuestionError(
            "taps against phase control need a transformer and a dial",
            place=missing,
            advice=f"add a [{missing}]",
        )
    loaded = welding(scenario)
    pairs, alone = _pairs(loaded, progress)
    if not pairs:
        raise QuestionError("no tap gives an output that the dial gives too", place="phase_control.dial")
    control = scenario.phase_control
    assert control is not None
    wanted = operate(loaded, dial=control.dial if dial is None else dial)
    own = min(pairs, key=lambda pair: abs(pair.tap.current - wanted.current))
    three = [_over_the_mains(loaded, own, step) for step in MAINS_STEPS]
    both = _both(loaded, own)
    trips = _trips(loaded, own, presses=presses, seed=seed, workers=workers, progress=progress)
    return Answer(
        "taps",
        scenario,
        {
            "wanted.dial": Number(wanted.dial or 0.0, "1"),
            "wanted.output.current": Number(wanted.current, "A"),
            **_numbers(scenario, own, both, trips),
        },
        [
            *firing_verdicts([one.dial for one in three]),
            *_nearest_tap(wanted, own, pairs),
            *_without_a_dial(alone, of=len(pairs) + len(alone)),
            *_verdicts(scenario, own, three, both, trips),
        ],
        _assumptions(loaded, presses if trips else 0),
        rows=[_row(scenario, pair) for pair in pairs],
        runs={"taps": three[1].tap.recording.run, "dial": three[1].dial.recording.run},
    )


def _pairs(loaded: Scenario, progress: Progress) -> tuple[list[Pair], list[Setting]]:
    """Taps from the full output down, each with the dial that gives the same; and those below its most without one."""
    swept = sweep(loaded)
    most = max(one.current for one in swept)
    found: list[Pair] = []
    alone: list[Setting] = []
    largest = 0.0
    for number in range(MOST_TAPS):
        other, factor = tapped(loaded, STEP**number)
        tap = operate(other)
        largest = max(largest, tap.current)
        progress(number + 1, MOST_TAPS, "taps")
        if tap.current < LEAST * largest:
            break
        dial = found_by(loaded, tap.current, measure=lambda one: one.current, among=swept)
        if dial is not None:
            found.append(Pair(factor, tap, dial))
        elif tap.current <= most:
            alone.append(tap)
    progress(MOST_TAPS, MOST_TAPS, "taps")
    return found, alone


def _over_the_mains(loaded: Scenario, own: Pair, step: float) -> Pair:
    """The pair at another voltage of the mains, with its waveforms."""
    signals = ("output.current", "primary.current")
    return Pair(
        own.factor,
        operate(tapped(loaded, own.factor)[0], mains_factor=step, signals=signals),
        operate(loaded, dial=own.dial.dial, mains_factor=step, signals=signals),
    )


def _both(loaded: Scenario, own: Pair) -> Setting | None:
    """The dial on a tap half way to the own one: a coarse tap and a fine dial."""
    other, _ = tapped(loaded, math.sqrt(own.factor), control=True)
    return found_by(other, own.tap.current, measure=lambda one: one.current, among=sweep(other))


def _trips(
    loaded: Scenario, own: Pair, *, presses: int, seed: int, workers: int | None, progress: Progress
) -> tuple[Trips, Trips] | None:
    """Presses beyond the breaker's band, of the tapped and of the controlled supply."""
    if loaded.breaker is None or loaded.core is None or presses < 1 or not is_iron(loaded.core):
        return None
    found: list[Trips] = []
    for supply, setting in ((tapped(loaded, own.factor)[0], Pressed()), (loaded, Pressed(dial=own.dial.dial))):
        pressed: list[Sequence[HalfCycle]] = []
        for batch in press_many(supply, count=presses, seed=seed, setting=setting, workers=workers):
            pressed += [press.half_cycles for press in batch]
            progress(len(found) * presses + len(pressed), 2 * presses, "presses")
        trips = count_trips(loaded.breaker, pressed)
        assert trips is not None
        found.append(trips)
    return found[0], found[1]


def _figures(scenario: Scenario, setting: Setting) -> dict[str, Number]:
    """What is compared of one way."""
    minutes = math.nan
    if scenario.breaker is not None and scenario.breaker.curve != "gG":
        minutes = trip_time(scenario.breaker, setting.primary / scenario.breaker.current, edge="middle")
    return {
        f"output.current.{setting.kind}": Number(setting.current, "A"),
        "output.current.min": Number(setting["output.current.min"], "A"),
        "output.current.ripple": Number(setting["output.current.ripple"], "A"),
        "primary.current.rms": Number(setting.primary, "A"),
        "primary.current.peak": Number(setting["primary.current.peak"], "A"),
        "primary.current.thd": Number(distortion(setting, "primary.current"), "1"),
        "primary.power_factor": Number(setting["primary.power_factor"], "1"),
        "breaker.trip.middle": Number(minutes, "s"),
    }


def _numbers(
    scenario: Scenario, own: Pair, both: Setting | None, trips: tuple[Trips, Trips] | None
) -> dict[str, Number]:
    """Both ways at the own setting, and a tap with the dial on top."""
    numbers = {"taps.turns_factor": Number(own.factor, "1")}
    known = turns(scenario.transformer, "primary") if scenario.transformer is not None else None
    if known is not None:
        numbers["taps.primary_turns"] = Number(round(known * own.factor), "1")
    numbers["dial.setting"] = Number(own.dial.dial or 0.0, "1")
    for name, setting in (("taps", own.tap), ("dial", own.dial), ("both", both)):
        if setting is not None:
            numbers |= {f"{name}.{key}": number for key, number in _figures(scenario, setting).items()}
    if trips is not None:
        for name, one in zip(("taps", "dial"), trips, strict=True):
            numbers[f"{name}.presses.tripped"] = Number(one.above_middle, "1")
        numbers["presses.count"] = Number(trips[0].count, "1")
    return numbers


def _row(scenario: Scenario, pair: Pair) -> dict:
    """One output both ways."""
    row: dict = {
        "kind": "pair",
        "turns_factor": pair.factor,
        "dial": pair.dial.dial,
        "delay": pair.dial.delay,
        "output_current": pair.tap.current,
        "output_voltage": pair.tap.voltage,
    }
    for name, setting in (("tap", pair.tap), ("dial", pair.dial)):
        found = _figures(scenario, setting)
        row |= {
            f"{name}_ripple": found["output.current.ripple"].value,
            f"{name}_least": found["output.current.min"].value,
            f"{name}_primary_rms": found["primary.current.rms"].value,
            f"{name}_primary_peak": found["primary.current.peak"].value,
            f"{name}_power_factor": found["primary.power_factor"].value,
            f"{name}_thd": found["primary.current.thd"].value,
            f"{name}_trip": found["breaker.trip.middle"].value,
        }
    return row


def _nearest_tap(wanted: Setting, own: Pair, pairs: Sequence[Pair]) -> list[Verdict]:
    """That the figures speak of another output than that of the dial asked for, where no tap gives just that."""
    given = [pair.tap.current for pair in pairs]
    if abs(own.tap.current - wanted.current) <= EQUAL * max(given):
        return []
    beyond = wanted.current > max(given) or wanted.current < min(given)
    reach = f"the taps looked at reach from {amount(min(given), 'A')} to {amount(max(given), 'A')}"
    return [
        Verdict(
            "nearest_tap",
            "note",
            f"Dial {_told_dial(wanted)} gives {amount(wanted.current, 'A')}; "
            f"{reach if beyond else 'no tap gives just that'}. Every figure and verdict speaks of the nearest tap, of "
            f"{amount(own.tap.current, 'A')}, and of dial {_told_dial(own.dial)}, which gives the same.",
        )
    ]


def _without_a_dial(alone: Sequence[Setting], *, of: int) -> list[Verdict]:
    """Taps that cannot be compared, since the dial skips their output."""
    if not alone:
        return []
    least, most = min(one.current for one in alone), max(one.current for one in alone)
    span = amount(most, "A") if len(alone) == 1 else f"{amount(least, 'A')} to {amount(most, 'A')}"
    return [
        Verdict(
            "without_a_dial",
            "note",
            f"The output of {len(alone)} of the {of} taps ({span}) no dial gives, so nothing stands beside them. "
            "Cause: the dial does not come down to it, jumps over it or misfires there; `setting` shows "
            "where.",
        )
    ]


def _told_dial(setting: Setting) -> str:
    return f"{100.0 * (setting.dial or 0.0):.3g} %"


def _verdicts(
    scenario: Scenario,
    own: Pair,
    three: Sequence[Pair],
    both: Setting | None,
    trips: tuple[Trips, Trips] | None,
) -> list[Verdict]:
    """Ripple, primary current and trips, one sentence each."""
    tap, dial = own.tap, own.dial
    ripples = [spread([getattr(one, way)["output.current.ripple"] for one in three], "A") for way in ("tap", "dial")]
    crests = [spread([_crest(getattr(one, way)) for one in three], "A") for way in ("tap", "dial")]
    draws = [spread([getattr(one, way).primary for one in three], "A") for way in ("tap", "dial")]
    where = (
        f"At {tap.current:.4g} A, a tap of {100.0 * (own.factor - 1.0):.0f} % more turns against dial "
        f"{100.0 * (dial.dial or 0.0):.0f} %{'' if dial.delay is None else f' ({dial.delay:.0f} deg)'}"
    )
    parts = [part for part in ("bank", "choke") if getattr(scenario, part) is not None]
    bridging = f"the {parts[0]}" if len(parts) == 1 else " and ".join(parts)
    verdicts = [
        Verdict(
            "ripple",
            "note",
            f"{where}: the alternating output has crests of {crests[0]} with taps, {crests[1]} with the dial. Cause: "
            "the dial cuts a gap into every half cycle, and the rest must carry the same rms.",
        )
        if tap.kind == "rms"
        else Verdict(
            "ripple",
            "note",
            f"{where}: the output current swings by {ripples[0]} with taps, {ripples[1]} with the dial, down to "
            f"{_least(tap)} and {_least(dial)}. Cause: the dial cuts a gap into every half cycle"
            + (f" that {bridging} must bridge." if bridging else " that nothing bridges."),
        ),
        Verdict(
            "primary",
            "note",
            f"{where}: the mains give {draws[0]} rms with taps, {draws[1]} with the dial, power factor "
            f"{tap['primary.power_factor']:.2f} against {dial['primary.power_factor']:.2f}, peaks "
            f"{amount(tap['primary.current.peak'], 'A')} against {amount(dial['primary.current.peak'], 'A')}"
            + (
                f"; a tap half way with the dial on it: {amount(both.primary, 'A')}, power factor "
                f"{both['primary.power_factor']:.2f}, swing {amount(both['output.current.ripple'], 'A')}."
                if both is not None
                else "."
            ),
        ),
    ]
    return verdicts + _trip_verdicts(scenario, own, three, trips)


def _least(setting: Setting) -> str:
    """Least output current in words; none where rounding is all that is left."""
    least = setting["output.current.min"]
    return amount(least if abs(least) > ROUNDING * _crest(setting) else 0.0, "A")


def _crest(setting: Setting) -> float:
    """Largest magnitude of the output current [A]."""
    return max(abs(setting["output.current.min"]), abs(setting["output.current.max"]))


def _trip_verdicts(
    scenario: Scenario, own: Pair, three: Sequence[Pair], trips: tuple[Trips, Trips] | None
) -> list[Verdict]:
    """Trips by heat and at switch-on."""
    breaker = scenario.breaker
    verdicts = []
    if breaker is not None and breaker.curve != "gG":
        told = []
        for way, words in (("tap", "with taps"), ("dial", "with the dial")):
            times = [trip_time(breaker, getattr(one, way).primary / breaker.current, edge="middle") for one in three]
            happens = "does not trip" if math.isinf(times[1]) else f"trips by heat after {lasts(times[1])}"
            told.append(f"{happens} {words} (mains -10, 0, +10 %: {', '.join(map(lasts, times))})")
        verdicts.append(
            Verdict(
                "trip",
                "note",
                f"Welding without a pause a middle {called(breaker)} {told[0]}, and {told[1]}.",
            )
        )
    if trips is not None and breaker is not None:
        taps, dial = trips
        verdicts.append(
            Verdict(
                "switch_on",
                "note",
                f"Switched on at random, {taps.above_middle} of {taps.count} presses trip it with taps "
                f"({taps.above_high} to {taps.above_low} over its band), {dial.above_middle} of {dial.count} with "
                f"the dial ({dial.above_high} to {dial.above_low}). More turns also lower the flux, so low taps rush "
                "less.",
            )
        )
    return verdicts


def _assumptions(loaded: Scenario, presses: int) -> list[str]:
    """What every figure stands on."""
    lines = [
        f"Load: {told_load(loaded)}; settled states of equal output (to 1e-4), windings at the scenario's temperature.",
        f"Taps on the primary, {100.0 * (STEP - 1.0):.0f} % more turns from tap to tap, whole turns where they are "
        "known; same wire, so resistance goes with the turns and leakage of the primary with their square; no phase "
        "control.",
        "Spread: mains -10, 0 and +10 %, same tap and same dial. Time to a trip: a middle breaker of IEC 60898-1, "
        "cold.",
    ]
    if presses:
        lines.append(
            f"{presses} random presses each, the same draws for both; taps are switched by a plain contactor at any "
            "phase."
        )
    return [*lines, *told_backlash(loaded)]
