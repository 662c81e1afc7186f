"""What is said of two transformers: shares, circulating current, saturation, heat, hum, dead short, joins, turns."""

import math
from collections.abc import Iterator, Mapping, Sequence

from weldsim.frozen import dataclass
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import impedance, is_tapped, joined, ratios, shares, transformers
from weldsim.studies.answer import Verdict, amount, percent, spread
from weldsim.studies.share_joins import Join, Turns
from weldsim.studies.share_looks import AT_THE_SETTING, DEAD_SHORT, NO_LOAD, Look, shares_amperes

UNEVEN, FAR_FROM_EVEN = 0.05, 0.25  # more than an even share: told; one carries what two should (choices)
CIRCULATES, CIRCULATES_MUCH = 0.10, 0.25  # of what a secondary carries at the setting (choices of this project)
NEAR = 0.95  # of saturation; above it the magnetising current grows steeply (common practice)
BIASED = 0.1  # mean of a flux over its peak, as in preview
WARMER = 1.25  # times the heat of the other: told (a choice of this project)
SAME = 0.01  # shares, volts and amperes within that are alike


@dataclass(frozen=True)
class Found:
    """Everything that was looked at; looks are at mains -10, 0 and +10 %."""

    scenario: Scenario
    looks: Mapping[str, Sequence[Look]]
    joins: Sequence[Join]
    turns: Sequence[Turns]

    @property
    def idle(self) -> Look:
        """Without load at the rated mains."""
        return self.looks[NO_LOAD][1]

    @property
    def own(self) -> Look:
        """The setting at the rated mains."""
        return self.looks[AT_THE_SETTING][1]


def share_verdicts(found: Found) -> list[Verdict]:
    """One sentence or two of each; the worst first."""
    asked = (_reversed, _shares, _circulating, _saturation, _heat, _hum, _dead_short, _joins, _turns)
    verdicts = [verdict for question in asked for verdict in question(found)]
    return sorted(verdicts, key=lambda one: ("fault", "note", "good").index(one.level))


def _over(found: Found, condition: str, which: int, name: str) -> list[float]:
    """A figure of one transformer over the mains."""
    return [getattr(one.halves[which], name) for one in found.looks[condition]]


def _reversed(found: Found) -> Iterator[Verdict]:
    """The second secondary joined the wrong way round."""
    table = found.scenario.second_transformer
    assert table is not None
    if not table.reversed:
        return
    if shares_amperes(found.scenario) and not is_tapped(found.scenario):
        told = f"{spread([one.circulating for one in found.looks[NO_LOAD]], 'A')} run round the loop without any load"
    else:
        told = f"{spread([one.output_voltage for one in found.looks[NO_LOAD]], 'V')} are left at the output, unloaded"
    yield Verdict(
        "reversed",
        "fault",
        f"The second secondary is joined the wrong way round ({joined(table)}): {told}. Cause: its volts count against "
        "the first's. Swap its two ends; a voltmeter across the open join tells before it is closed.",
    )


def _shares(found: Found) -> Iterator[Verdict]:
    """Who carries how much at the setting."""
    first, second = found.own.halves
    if not math.isfinite(first.share):
        return
    amperes = shares_amperes(found.scenario)
    most = max(first.share, second.share) - 1.0
    level = "good" if most <= UNEVEN else "fault" if amperes and most > FAR_FROM_EVEN else "note"
    both = f"{percent(first.share)} and {percent(second.share)} of an even share"
    over = [max(one.halves[0].share, one.halves[1].share) for one in found.looks[AT_THE_SETTING]]
    if amperes:
        told = f"the first secondary carries {amount(first.current, 'A')}, the second {amount(second.current, 'A')}"
    else:
        told = (
            f"both secondaries carry {amount(first.current, 'A')}; of the volts the first gives "
            f"{amount(first.voltage, 'V')}, the second {amount(second.voltage, 'V')}"
        )
    yield Verdict(
        "share",
        level,
        f"At the setting {told}: {both}; the larger one {spread([100.0 * one for one in over], '%')}. Cause: "
        f"{_cause(found, most)}. Assumed: both windings at the temperature of the scenario.",
    )


def _cause(found: Found, most: float) -> str:
    """Volts and impedances behind the shares."""
    scenario, mains = found.scenario, found.scenario.mains
    parts = shares(scenario, math.sqrt(2.0) * mains.voltage / (2.0 * math.pi * mains.frequency))
    volts = [abs(part * ratio) * mains.voltage for part, ratio in zip(parts, ratios(scenario), strict=True)]
    ohms = [1e3 * abs(impedance(one, mains.frequency)) for one in transformers(scenario)]
    told = (
        f"without load {amount(volts[0], 'V')} and {amount(volts[1], 'V')}, behind {amount(ohms[0], 'mohm')} and "
        f"{amount(ohms[1], 'mohm')} (resistance and leakage of both windings at the mains frequency)"
    )
    if most <= SAME:
        return f"{told}, which hardly differ"
    if not shares_amperes(scenario):
        return f"{told}; the same amperes drop more in the larger impedance"
    return f"{told}; the more volts and the fewer ohms, the more amperes"


def _circulating(found: Found) -> Iterator[Verdict]:
    """What runs round the loop of parallel secondaries."""
    table = found.scenario.second_transformer
    assert table is not None
    if table.reversed or not math.isfinite(found.idle.circulating):
        return
    carried = 0.5 * sum(half.current for half in found.own.halves)
    part = found.idle.circulating / carried if carried > 0.0 else math.inf
    level = "fault" if part > CIRCULATES_MUCH else "note" if part > CIRCULATES else "good"
    cause = (
        "unlike volts drive it through both windings, loaded or not"
        if table.primaries == "parallel"
        else "one primary current magnetises two unlike cores, and the loop carries the difference"
    )
    copper = [sum(half.copper for half in one.halves) for one in found.looks[NO_LOAD]]
    yield Verdict(
        "circulating",
        level,
        f"Without load {spread([one.circulating for one in found.looks[NO_LOAD]], 'A')} circulate between the "
        f"secondaries, {percent(part)} of what each carries at the setting, and warm the copper of both by "
        f"{spread(copper, 'W')}. Cause: {cause}. Assumed: the join at no resistance of its own.",
    )


def _saturation(found: Found) -> Iterator[Verdict]:
    """The flux of each core against saturation, idle and loaded."""
    for which, half in enumerate(found.own.halves):
        if not math.isfinite(half.flux_peak):
            continue
        idle, loaded = (_over(found, condition, which, "saturation") for condition in (NO_LOAD, AT_THE_SETTING))
        worst = max(*idle, *loaded)
        if worst == 0.0:
            yield Verdict("saturation", "note", f"The {half.which} core is given without saturation.")
            continue
        magnetising = _over(found, NO_LOAD, which, "magnetising_peak")
        yield Verdict(
            "saturation",
            "fault" if worst > 1.0 else "note" if worst > NEAR else "good",
            f"The flux of the {half.which} core peaks at {spread([100.0 * one for one in idle], '%')} of saturation "
            f"without load, {spread([100.0 * one for one in loaded], '%')} at the setting; its magnetising current "
            f"peaks at {spread(magnetising, 'A')} without load. Cause: "
            f"{amount(found.idle.halves[which].primary_voltage, 'V')} on its primary, its turns and its iron.",
        )


def _heat(found: Found) -> Iterator[Verdict]:
    """Which of the two gets warmer at the setting."""
    first, second = found.own.halves
    warm, cool = (first, second) if first.heat >= second.heat else (second, first)
    over = _over(found, AT_THE_SETTING, 0 if warm is first else 1, "heat")
    ratio = warm.heat / cool.heat if cool.heat > 0.0 else math.inf
    yield Verdict(
        "heat",
        "note" if ratio > WARMER else "good",
        f"At the setting the first transformer turns {amount(first.copper, 'W')} in copper and "
        f"{amount(first.iron, 'W')} in iron into heat, the second {amount(second.copper, 'W')} and "
        f"{amount(second.iron, 'W')}; the {warm.which} gets the more, {spread(over, 'W')}, {ratio:.3g} times the "
        "other's. Cause: current squared times resistance, and flux. Assumed: without a pause; `weldsim duty` tells "
        "how long they bear it.",
    )


def _hum(found: Found) -> Iterator[Verdict]:
    """What drives the hum of each core; sound itself is not computed."""
    told, biased, beyond = [], False, False
    for which, half in enumerate(found.own.halves):
        if not math.isfinite(half.flux_peak):
            continue
        idle = found.idle.halves[which]
        part = abs(half.flux_mean) / half.flux_peak if half.flux_peak > 0.0 else 0.0
        over = max(half.saturation, idle.saturation) - 1.0
        biased, beyond = biased or part > BIASED, beyond or over > 0.0
        told.append(
            f"the {half.which} core {spread(_over(found, AT_THE_SETTING, which, 'magnetising_peak'), 'A')} peak "
            f"magnetising current, flux {percent(max(over, 0.0))} beyond saturation, a mean of {percent(part)} of its "
            "peak"
        )
    if told:
        yield Verdict(
            "hum",
            "note" if biased or beyond else "good",
            f"What drives hum, at the setting: {'; '.join(told)}. Cause: iron changes its length with the flux squared "
            "and windings pull with the current; a flux with a mean hums at the mains frequency too. Sound is not "
            "computed.",
        )


def _dead_short(found: Found) -> Iterator[Verdict]:
    """What both carry when the output is shorted."""
    looks = found.looks[DEAD_SHORT]
    first, second = looks[1].halves
    each = f"{amount(first.current, 'A')} in the first secondary, {amount(second.current, 'A')} in the second"
    heats = [sum(half.copper for half in one.halves) for one in looks]
    yield Verdict(
        "dead_short",
        "note",
        f"In a dead short the output gives {spread([one.output for one in looks], 'A')}: {each}, and the "
        f"copper of both takes {spread(heats, 'W')}. Cause: only resistance and leakage are left. Assumed: settled, "
        "windings not yet warmer; `weldsim breaker` tells what opens.",
    )


def _joins(found: Found) -> Iterator[Verdict]:
    """What the other joins of the same two would give, and which would be dangerous."""
    had = [join for join in found.joins if join.loaded is not None and join.idle is not None]
    told = [
        f"{_named(join)} {amount(join.idle.output_voltage, 'V')} idle, {amount(join.loaded.output, 'A')}"
        for join in had
        if join.idle is not None and join.loaded is not None
    ]
    bad = [f"{_named(join)} ({join.dangers})" for join in had if join.dangers]
    text = f"The same two at this setting, by join (primaries, secondaries): {'; '.join(told)}"
    if bad:
        text += f". By `check` at the highest mains not to be used: {'; '.join(bad)}"
    built = any(join.as_built and join.dangers for join in had)
    yield Verdict(
        "joins",
        "fault" if built else "note" if bad else "good",
        f"{text}. Cause: primaries in series halve volts and flux, secondaries in series add volts, in parallel "
        "amperes. Assumed: the same load and dial, joined the right way round.",
    )


def _named(join: Join) -> str:
    """A join in two words."""
    return f"{join.primaries}/{join.secondaries}"


def _turns(found: Found) -> Iterator[Verdict]:
    """What a turn more or less on the second secondary changes."""
    if len(found.turns) < 2:
        return
    told = []
    for one in found.turns:
        text = f"{one.turns} turns{' (as built)' if one.as_built else ''}: {amount(one.loaded.output, 'A')}"
        if math.isfinite(one.loaded.halves[0].share):
            text += f", first {percent(one.loaded.halves[0].share)} of an even share"
        if math.isfinite(one.idle.circulating):
            text += f", {amount(one.idle.circulating, 'A')} circulating"
        told.append(text)
    yield Verdict(
        "turns",
        "note",
        f"With other turns on the second secondary, at this setting: {'; '.join(told)}. Cause: the volts go with the "
        "turns, resistance with them and leakage with their square. Assumed: the same wire.",
    )
