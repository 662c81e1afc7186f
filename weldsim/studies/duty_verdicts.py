"""What a duty means, in words: what limits it, where a cut-out belongs, how the output fades, what is not known."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.parts.cooling import Cooling, growth
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Verdict, amount, percent
from weldsim.studies.breaker_words import where
from weldsim.studies.duty_heat import CYCLE, ESTIMATED, GIVEN, NAMES, WINDINGS, Warm, rest_for
from weldsim.studies.operating import Setting, operate, told_backlash, told_load

NEXT = 1.15  # times the duty of the first: a winding that near to it wants a cut-out of its own (common practice)


def told_time(seconds: float) -> str:
    """A time of welding in words.

    >>> told_time(30.0), told_time(400.0), told_time(9000.0), told_time(math.inf)
    ('30 s', '6.7 min', '2.5 h', 'for ever')
    """
    if not math.isfinite(seconds):
        return "for ever"
    if seconds < 100.0:
        return amount(seconds, "s", digits=2)
    return amount(seconds / 60.0, "min", digits=2) if seconds < 6000.0 else amount(seconds / 3600.0, "h", digits=2)


def duty_verdict(own: Sequence[Setting], first: Warm | None, duty: float) -> Verdict:
    """How long at the scenario's own setting, and what limits it."""
    place = where(own[1])
    where_told = place[0].lower() + place[1:]
    if first is None:
        return Verdict(
            "duty",
            "note",
            f"How long it may weld at {where_told} cannot be told: nothing is known of how any part gives off its "
            "heat. Give the dimensions of the windings or winding_mass, and the K/W of the heat sinks, in [cooling].",
        )
    body = first.body
    share, least, most = (one.duty(CYCLE) for one in (body, first.worst, first.best))
    heat = f"{amount(body.copper + body.fixed, 'W')} in the {first.name}"
    air = f"{amount(body.to_air, 'K/W')} to air of {amount(body.ambient, 'degC')}"
    spreads = f"{percent(least)} to {percent(most)} over mains +10 to -10 % and a cooling that much worse or better"
    if share >= 1.0:
        worst = "" if least >= 1.0 else f"; {spreads}"
        return Verdict(
            "duty",
            "good" if least >= 1.0 else "note",
            f"At {where_told} nothing whose cooling is known gets too hot without a pause. Nearest to its limit: the "
            f"{first.name}, settling at {amount(body.settled, 'degC')} of {amount(body.limit, 'degC')}{worst}. "
            f"Cause: {heat}, {air} ({first.known}).",
        )
    rests = (
        f"A minute more is there after {told_time(rest_for(body))} of rest"
        if rest_for(body) < 1e5
        else "No rest suffices"
    )
    ends = f"it would settle at {amount(body.settled, 'degC')}" if math.isfinite(body.settled) else "it never settles"
    return Verdict(
        "duty",
        "note" if share >= duty else "fault",
        f"At {where_told} it may weld {percent(share)} of each ten minutes ({spreads}), once from cold "
        f"{told_time(body.time_to(body.limit, body.ambient))}. First at its limit, {amount(body.limit, 'degC')}: the "
        f"{first.name}; without a pause {ends}. {rests}. Cause: {heat}, {air} ({first.known}).",
    )


def cutout_verdict(scenario: Scenario, parts: Sequence[Warm], rows: Sequence[Mapping[str, Any]]) -> list[Verdict]:
    """Where a thermal cut-out belongs, by the rows over the dial, and what the scenario's own does."""
    hot = [row for row in rows if not row["missed"] and row["duty"] < 1.0]
    if not hot:
        return []
    firsts = sorted({row["first"] for row in hot}, key=lambda name: -sum(row["first"] == name for row in hot))
    cooling = scenario.cooling or Cooling()
    told = f"First to get too hot over the dial: the {', then the '.join(firsts)}; a cut-out belongs there"
    warm = {one.part: one.body.duty(CYCLE) for one in parts if one.part in WINDINGS and one.known != "unknown"}
    if len(warm) == len(WINDINGS) and max(warm.values()) < NEXT * min(warm.values()):
        told += ", one on each transformer, since the two warm nearly alike"
    if cooling.cutout is None:
        return [Verdict("cutout", "note", f"{told}, in the coil circuit that switches the power. None is given.")]
    winding = next((one for one in parts if one.part == "winding" and one.known != "unknown"), None)
    elsewhere = [name for name in firsts if name != NAMES["winding"]]
    text = f"{told}; one on the windings opens at {amount(cooling.cutout, 'degC')}"
    if winding is not None:
        closes = cooling.cutout - cooling.cutout_hysteresis
        rest = winding.body.rest_to(closes, min(cooling.cutout, winding.body.limit))
        text += f" and closes again after {told_time(rest)}, at {amount(closes, 'degC')}"
    if elsewhere:
        text += f". It does not guard the {', nor the '.join(elsewhere)}"
    late = cooling.cutout > cooling.winding_limit
    if late:
        text += f". It opens above what the insulation bears, {amount(cooling.winding_limit, 'degC')}"
    return [Verdict("cutout", "fault" if late else "note" if elsewhere else "good", f"{text}.")]


def fade_verdict(scenario: Scenario, own: Setting, parts: Sequence[Warm]) -> list[Verdict]:
    """What the same dial gives with the windings at their limit."""
    winding = next((one for one in parts if one.part == "winding" and one.known != "unknown"), None)
    if winding is None or scenario.transformer is None:
        return []
    hot = min(winding.body.settled, winding.body.limit)
    before = scenario.transformer.winding_temperature
    warm = operate(vary(scenario, {"transformer.winding_temperature": hot}))
    less = 1.0 - warm.current / own.current if own.current else 0.0
    return [
        Verdict(
            "fade",
            "note" if less > 0.05 else "good",
            f"As the windings warm from {amount(before, 'degC')} to {amount(hot, 'degC')} the same dial gives "
            f"{amount(warm.current, 'A')} in place of {amount(own.current, 'A')} ({percent(abs(less))} "
            f"{'less' if less >= 0.0 else 'more'}). Cause: their resistance grows by "
            f"{100.0 * growth(20.0, conductor=scenario.transformer.conductor):.2f} % per kelvin of that at 20 degC; "
            "choke and leads stay as written.",
        )
    ]


def unknown_verdict(parts: Sequence[Warm], duty: float) -> list[Verdict]:
    """Parts that nothing is known of: what they would need."""
    unknown = [one for one in parts if one.known == "unknown"]
    if not unknown:
        return []
    needs = "; ".join(
        f"{one.name} at most {amount(one.body.needed(duty, CYCLE), 'K/W', digits=2)} for "
        f"{amount(one.body.copper + one.body.fixed, 'W')}"
        for one in unknown
    )
    keys = ", ".join(dict.fromkeys(f"cooling.{one.part.removeprefix('second_')}_to_air" for one in unknown))
    return [
        Verdict(
            "unknown",
            "note",
            f"Not judged, as nothing is known of how they give off their heat; {percent(duty)} of each ten minutes "
            f"asks for: {needs}; with time constants as assumed. Give {keys}.",
        )
    ]


def assumptions(scenario: Scenario, parts: Sequence[Warm], duty: float) -> list[str]:
    """What every figure stands on."""
    cooling = scenario.cooling or Cooling()
    times = ", ".join(f"{one.name} {told_time(one.body.time)}" for one in parts)
    return [
        f"Load: {told_load(scenario)}; heat is the mean loss of a settled state. Between welds nothing is switched on.",
        f"Each part is one body; time constants: {times} (unless given: middle of what is common practice, 8 to 20, 5 "
        "to 15, 1 to 4 and 2 to 6 min in still air; a fan halves them). All loss of the core goes through the "
        "windings. The hottest place of a winding is some 10 K above its mean (common practice).",
        f"Cooling: given is taken to be right within {100.0 * (GIVEN - 1.0):.0f} %, estimated (heat capacity of the "
        f"metal over the time constant) within a factor of {ESTIMATED:g}. Measure it: the resistance of a winding, "
        "every two minutes after a weld, tells both.",
        f"Limits: insulation {amount(cooling.winding_limit, 'degC')} (130 degC is class B of IEC 60085, from memory, "
        f"85 %), heat sinks {amount(cooling.sink_limit, 'degC')} (common practice); air of "
        f"{amount(cooling.ambient, 'degC')}, where a rating counts 40 degC (IEC 60974-1). Duty counts over "
        f"{CYCLE / 60.0:.0f} minutes, welding first.",
        "Not judged: bank (`preview` judges its ripple), boost, leads and plug (`breaker`), and every contact.",
        *told_backlash(scenario),
    ]
