"""Which setting of the dial gives a wanted output, how finely it must be set, and what the mains makes of it."""

import itertools
import math
from collections.abc import Sequence

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.runs.tapped import tap_key
from weldsim.scenario.document import Scenario
from weldsim.studies import preview
from weldsim.studies.answer import Answer, Number, Verdict, amount, spread
from weldsim.studies.operating import (
    CLOSE,
    GRID,
    MAINS_STEPS,
    Setting,
    closest_between,
    is_close,
    misfiring,
    operate,
    sound,
    told_backlash,
    told_load,
    welding,
)
from weldsim.studies.progress import Progress, silent

MAINS = dict(zip(MAINS_STEPS, ("low_mains", "rated_mains", "high_mains"), strict=True))
PERCENT = 0.01  # of the dial, to either side, over which its slope is taken
EDGE = 0.005  # of the dial: how closely the ends of where it misfires are found
NOTHING = 1e-9  # of the output: less is rounding
STEEP = 0.05  # of the output for one percent of the dial: hard to set by hand (assumed)
IDLE = 0.02  # of the range of the output: what a turn of the dial must move to count
DEAD = 0.25  # of the dial's travel that does nothing: told as a note (assumed)
FIRING = ("latching", "half_waving", "flux_bias")  # what of a preview is told of the setting


@dataclass(frozen=True)
class Wanted:
    """What was asked for: "current" [A] or "voltage" [V] of the output."""

    quantity: str
    value: float

    @property
    def unit(self) -> str:
        """Unit of the quantity."""
        return {"current": "A", "voltage": "V"}[self.quantity]

    def of(self, setting: Setting) -> float:
        """The same quantity of a setting."""
        return setting.current if self.quantity == "current" else setting.voltage

    def told(self) -> str:
        """The value with its unit."""
        return amount(self.value, self.unit, digits=4)


@dataclass(frozen=True)
class Curve:
    """The dial gone through at one mains voltage: settings by dial, and the one that gives what is wanted, if any."""

    mains: float
    settings: list[Setting]
    found: Setting | None

    def nearest(self, wanted: Wanted) -> Setting | None:
        """The setting that gives it, else the sound one that comes nearest."""
        near = min(sound(self.settings), key=lambda one: abs(wanted.of(one) - wanted.value), default=None)
        return near if self.found is None else self.found


@dataclass(frozen=True)
class At:
    """The chosen dial at one mains voltage: its setting, and output for one percent of the dial more."""

    setting: Setting
    slope: float


def ask(
    scenario: Scenario, *, current: float | None = None, voltage: float | None = None, progress: Progress = silent
) -> Answer:
    """The least dial at which the settled output is the wanted one on the scenario's load, or the nearest there is.

    Parameters
    ----------
    scenario : Scenario
        With a phase control.
    current, voltage : float or None
        Output that is wanted, one of both [A, V]: means behind a rectifier, else rms.

    Returns
    -------
    Answer : rows "dial" (the dial gone through, at mains -10, 0, +10 %) and "point" (the setting there); runs "window".

    Raises
    ------
    QuestionError : not one wanted value, nothing to set, no sound setting at all; WiringError, SimulationError.
    """
    wanted = _wanted(current, voltage)
    if scenario.phase_control is None:
        raise QuestionError(
            "there is no dial to set",
            place="phase_control",
            advice=f"add a [phase_control], or go through taps: sweep --over {tap_key(scenario)}=...",
        )
    loaded = welding(scenario)
    curves = []
    for number, step in enumerate(MAINS_STEPS):
        progress(number, len(MAINS_STEPS) + 1, "mains voltages")
        curves.append(_curve(loaded, wanted, step))
    rated = curves[MAINS_STEPS.index(1.0)]
    chosen = rated.nearest(wanted)
    if chosen is None or chosen.dial is None:
        raise QuestionError(
            f"the phase control {misfiring(rated.settings)} at every setting",
            place="phase_control",
            advice="ask `preview` for the cause; a longer pulse or a train of pulses may cure it",
        )
    progress(len(MAINS_STEPS), len(MAINS_STEPS) + 1, "mains voltages")
    three = [_at(loaded, chosen.dial, wanted, step) for step in MAINS_STEPS]
    seen = preview.ask(loaded, dial=chosen.dial)
    progress(len(MAINS_STEPS) + 1, len(MAINS_STEPS) + 1, "mains voltages")
    return Answer(
        "setting",
        scenario,
        _numbers(wanted, curves, chosen, three) | _travel(wanted, rated)[0] | _firing_numbers(seen),
        [
            _reached(scenario, wanted, rated, three),
            _sensitivity(wanted, three),
            _over_the_mains(wanted, curves, three),
            *_travel(wanted, rated)[1],
            *(verdict for verdict in seen.verdicts if verdict.name in FIRING),
        ],
        _assumptions(scenario, loaded, chosen),
        rows=[*_points(wanted, curves, three), *(row for curve in curves for row in _rows(curve))],
        runs={"window": seen.runs["window"]},
    )


def _wanted(current: float | None, voltage: float | None) -> Wanted:
    """The one value that was asked for."""
    given = {name: value for name, value in (("current", current), ("voltage", voltage)) if value is not None}
    if len(given) != 1:
        raise QuestionError(
            "one output is wanted, a current or a voltage" + (", not both" if given else ""),
            place="--current or --voltage",
            advice='give for instance --current "100 A"',
        )
    ((quantity, value),) = given.items()
    if not (math.isfinite(value) and value > 0.0):
        raise QuestionError(f"{value:g} is no output to want", place=quantity, advice="give more than zero")
    return Wanted(quantity, value)


def _curve(loaded: Scenario, wanted: Wanted, mains: float) -> Curve:
    """The dial in steps, finer where it begins or ends to misfire, and what gives the wanted output."""
    coarse = [operate(loaded, dial=dial, mains_factor=mains) for dial in GRID]
    settings = coarse[:1]
    for low, high in itertools.pairwise(coarse):
        if bool(low.missed) != bool(high.missed):
            settings += _edge(loaded, low, high, mains=mains)
        settings.append(high)
    for low, high in itertools.pairwise(tuple(settings)):
        if low.missed or high.missed or (wanted.of(low) - wanted.value) * (wanted.of(high) - wanted.value) > 0.0:
            continue
        best = closest_between(loaded, wanted.value, measure=wanted.of, pair=(low, high), mains_factor=mains)
        if best is not low and best is not high:
            settings.append(best)
        if is_close(best, wanted.value, measure=wanted.of):
            return Curve(mains, sorted(settings, key=_dial), best)
    return Curve(mains, sorted(settings, key=_dial), None)


def _edge(loaded: Scenario, low: Setting, high: Setting, *, mains: float) -> list[Setting]:
    """The last setting on either side of where misfiring begins or ends, by halving."""
    first, last = low, high
    while _dial(high) - _dial(low) > EDGE:
        middle = operate(loaded, dial=0.5 * (_dial(low) + _dial(high)), mains_factor=mains)
        low, high = (middle, high) if bool(middle.missed) == bool(low.missed) else (low, middle)
    return [one for one in (low, high) if one is not first and one is not last]


def _dial(setting: Setting) -> float:
    assert setting.dial is not None
    return setting.dial


def _at(loaded: Scenario, dial: float, wanted: Wanted, mains: float) -> At:
    """A dial at one mains voltage, and its slope over the sound neighbours one percent away."""
    own = operate(loaded, dial=dial, mains_factor=mains)
    beside = [near for near in (dial - PERCENT, dial + PERCENT) if 0.0 <= near <= 1.0]
    near = sound([own, *(operate(loaded, dial=one, mains_factor=mains) for one in beside)])
    if len(near) < 2:
        return At(own, math.nan)
    low, high = min(near, key=_dial), max(near, key=_dial)
    rise = wanted.of(high) - wanted.of(low)
    rise = rise if abs(rise) > NOTHING * abs(wanted.of(high)) else 0.0
    return At(own, PERCENT * rise / (_dial(high) - _dial(low)))


# --- what is told --------------------------------------------------------------------------------------------------


def _numbers(wanted: Wanted, curves: Sequence[Curve], chosen: Setting, three: Sequence[At]) -> dict[str, Number]:
    """The setting, what it gives, and the same over the mains."""
    found = curves[MAINS_STEPS.index(1.0)].found
    numbers = {
        f"wanted.output.{wanted.quantity}": Number(wanted.value, wanted.unit),
        "setting.reached": Number(float(found is not None), "1"),
        "setting.dial": Number(_dial(chosen), "1"),
    }
    if chosen.delay is not None:
        numbers["setting.delay"] = Number(chosen.delay, "deg")
    numbers |= {
        f"output.current.{chosen.kind}": Number(chosen.current, "A"),
        f"output.voltage.{chosen.kind}": Number(chosen.voltage, "V"),
        "primary.current.rms": Number(chosen.primary, "A"),
    }
    for curve, at in zip(curves, three, strict=True):
        name = MAINS[curve.mains]
        numbers[f"setting.sensitivity.{name}"] = Number(at.slope, f"{wanted.unit}/%")
        if curve.mains != 1.0:
            numbers[f"setting.output.{name}"] = Number(wanted.of(at.setting), wanted.unit)
            numbers[f"setting.dial.{name}"] = Number(math.nan if curve.found is None else _dial(curve.found), "1")
    return numbers


def _firing_numbers(seen: Answer) -> dict[str, Number]:
    """What a preview counts of the firing."""
    names = ("conduction.angle", "missed_half_cycles.count", "half_cycles.count")
    return {name: seen.numbers[name] for name in names if name in seen.numbers}


def _reached(scenario: Scenario, wanted: Wanted, rated: Curve, three: Sequence[At]) -> Verdict:
    """Which setting gives it; where none does, the nearest and why no other."""
    own = three[MAINS_STEPS.index(1.0)].setting
    where = f"Dial {100.0 * _dial(own):.1f} %" + ("" if own.delay is None else f" ({own.delay:.1f} deg)")
    over = spread([wanted.of(at.setting) for at in three], wanted.unit, digits=4)
    other = f"{own.voltage:.3g} V" if wanted.quantity == "current" else f"{own.current:.4g} A"
    if rated.found is not None:
        return Verdict("setting", "good", f"{where} gives {over}, {other}, for the {wanted.told()} that are wanted.")
    return Verdict(
        "setting",
        "fault",
        f"{wanted.told()} cannot be reached: the nearest is {over}, {other}, at {where.lower()}. "
        f"Cause: {_why_not(scenario, wanted, rated)}.",
    )


def _why_not(scenario: Scenario, wanted: Wanted, rated: Curve) -> str:
    """What keeps the wanted output away: the end of the dial, misfiring, or a jump on the way."""
    able, control = sound(rated.settings), scenario.phase_control
    device = control.device if control is not None else ""
    values = [wanted.of(one) for one in able]
    if min(values) < wanted.value < max(values):
        low = max((one for one in able if wanted.of(one) < wanted.value), key=wanted.of)
        high = min((one for one in able if wanted.of(one) > wanted.value), key=wanted.of)
        first, last = sorted((_dial(low), _dial(high)))
        ends = (
            f"{amount(wanted.of(low), wanted.unit)} at dial {100.0 * _dial(low):.1f} % and "
            f"{amount(wanted.of(high), wanted.unit)} at {100.0 * _dial(high):.1f} %"
        )
        if lost := [one for one in rated.settings if one.missed and first < _dial(one) < last]:
            return f"between {ends} the {device} {misfiring(lost)}, and gives no sound output"
        return f"the output jumps between {ends}"
    more = wanted.value > max(values)
    end = (max if more else min)(able, key=wanted.of)
    beyond = [one for one in rated.settings if one.missed and (_dial(one) > _dial(end)) == more]
    level = [one for one in able if abs(wanted.of(one) - wanted.of(end)) <= CLOSE * abs(wanted.of(end))]
    if beyond and _dial(level[-1]) - _dial(level[0]) <= GRID[1]:
        side = "above" if more else "below"
        return f"{side} dial {100.0 * _dial(end):.1f} % the {device} {misfiring(beyond)}, and gives no sound output"
    if more:
        source = "the volts of the mains" if scenario.transformer is None else "the ratio of the transformer"
        return f"no setting gives more: {source}, and what stands in the way of the current, limit it"
    return "no setting gives less: only a later delay would, where the control allows it"


def _sensitivity(wanted: Wanted, three: Sequence[At]) -> Verdict:
    """What one percent of the dial does, and whether a hand can set that."""
    slopes = [at.slope for at in three]
    rated = three[MAINS_STEPS.index(1.0)]
    share = abs(rated.slope) / max(wanted.of(rated.setting), 1e-9)
    text = f"One percent of the dial is {spread(slopes, wanted.unit)}"
    if math.isnan(share):
        return Verdict("sensitivity", "note", f"{text}: beside this setting the phase control misfires.")
    if not share:
        return Verdict("sensitivity", "note", "One percent of the dial changes nothing here: the output is level.")
    text += f", {amount(100.0 * share, '%')} of it"
    if share > STEEP:
        text += f": hard to set by hand (more than {100.0 * STEEP:g} %, assumed). Cause: the setting lies where the "
        text += "output changes steeply with the delay; a dial over a narrower range of it would spread that"
    return Verdict("sensitivity", "note" if share > STEEP else "good", f"{text}.")


def _over_the_mains(wanted: Wanted, curves: Sequence[Curve], three: Sequence[At]) -> Verdict:
    """Whether turning the dial gives the same again at mains -10 and +10 %, and whether it can be left where it is."""
    parts, lacking, misfires = [], False, []
    for curve, own in zip(curves, three, strict=True):
        if curve.mains == 1.0:
            continue
        misfires += [f"{100.0 * (curve.mains - 1.0):+.0f} %"] if own.setting.missed else []
        at = f"at mains {100.0 * (curve.mains - 1.0):+.0f} %"
        near = curve.nearest(wanted)
        if curve.found is not None:
            parts.append(f"{at} dial {100.0 * _dial(curve.found):.1f} %")
        elif near is not None:
            lacking = True
            parts.append(f"{at} none: the nearest is {amount(wanted.of(near), wanted.unit, digits=4)}")
        else:
            lacking = True
            parts.append(f"{at} none: it misfires everywhere")
    told = f"{wanted.told()} by turning the dial: {', '.join(parts)}"
    if misfires:
        told += f". Left where it is, it misfires at mains {' and '.join(misfires)}: keep clear of it"
    level = "fault" if misfires else "note" if lacking else "good"
    return Verdict("over_the_mains", level, f"{told}. Assumed: the load as it is, no regulation.")


def _travel(wanted: Wanted, rated: Curve) -> tuple[dict[str, Number], list[Verdict]]:
    """Over which part of the dial the output moves at all: below it nothing comes, above it nothing more."""
    able = sorted(sound(rated.settings), key=_dial)
    values = [wanted.of(one) for one in able]
    span = max(values, default=0.0) - min(values, default=0.0)
    pairs = [pair for pair in itertools.pairwise(able) if _dial(pair[1]) - _dial(pair[0]) >= PERCENT]
    if len(able) < 3 or not pairs or span <= IDLE * max(map(abs, values)):
        return {}, []
    near = IDLE * span
    begins = [*itertools.takewhile(lambda one: abs(wanted.of(one) - values[0]) <= near, able)][-1]
    full = [*itertools.takewhile(lambda one: abs(wanted.of(one) - values[-1]) <= near, reversed(able))][-1]
    low, high = max(
        pairs,
        key=lambda pair: abs(wanted.of(pair[1]) - wanted.of(pair[0])) / (_dial(pair[1]) - _dial(pair[0])),
    )
    steep = PERCENT * abs(wanted.of(high) - wanted.of(low)) / (_dial(high) - _dial(low))
    first, last = _dial(begins), _dial(full)
    text = (
        f"Over the dial the output goes from {amount(values[0], wanted.unit)} to {amount(values[-1], wanted.unit)}, "
        f"nearly all of it between dial {100.0 * first:.0f} and {100.0 * last:.0f} %; steepest between "
        f"{100.0 * _dial(low):.0f} and {100.0 * _dial(high):.0f} %: {amount(steep, wanted.unit)} for one percent"
    )
    idle = 1.0 - (last - first)
    if idle > DEAD:
        text += f". {100.0 * idle:.0f} % of its travel do nothing"
        text += ": a dial over a narrower range of delays would be finer to set"
    numbers = {"setting.dial.begins": Number(first, "1"), "setting.dial.full": Number(last, "1")}
    level = "note" if idle > DEAD else "good"
    text += ". Assumed: rated mains, settled, in steps of 5 %; what misfires is left out."
    return numbers, [Verdict("travel", level, text)]


def _points(wanted: Wanted, curves: Sequence[Curve], three: Sequence[At]) -> list[dict]:
    """The chosen dial at each mains voltage, and the dial that would give the wanted output there."""
    return [
        {
            "kind": "point",
            **_cells(at.setting, curve.mains),
            f"{wanted.quantity}_per_percent": at.slope,
            "dial_needed": None if curve.found is None else _dial(curve.found),
        }
        for curve, at in zip(curves, three, strict=True)
    ]


def _rows(curve: Curve) -> list[dict]:
    """The dial gone through."""
    return [{"kind": "dial", **_cells(one, curve.mains)} for one in curve.settings]


def _cells(setting: Setting, mains: float) -> dict:
    return {
        "mains": round(mains - 1.0, 9),  # off the rated voltage
        "dial": setting.dial,
        "delay": setting.delay,
        "current": setting.current,
        "voltage": setting.voltage,
        "missed": setting.missed,
    }


def _assumptions(scenario: Scenario, loaded: Scenario, chosen: Setting) -> list[str]:
    """What the setting stands on."""
    instead = ""
    if loaded is not scenario:
        own = "no load" if scenario.load is None else f"the scenario's {scenario.load.kind}"
        instead = f", in place of {own}"
    lines = [
        f"Load: {told_load(loaded)}{instead}.",
        f"Settled states, each from a demagnetised core; {'means' if chosen.kind == 'mean' else 'rms'} at the load, "
        "behind the weld leads; windings at the temperature of the scenario.",
        f"The least dial that will do, between steps of {100.0 * (GRID[1] - GRID[0]):.0f} %; the slope is taken over "
        f"{100.0 * PERCENT:.0f} % to either side. What misfires counts as no setting.",
        "Spread: mains -10, 0 and +10 % at the same dial.",
    ]
    return [*lines, *told_backlash(loaded)]
