"""What is said of spots: how alike they are, and what timer, mains, soft start, warmth and wire make of them."""

import math
from collections.abc import Mapping, Sequence

import numpy as np

from weldsim.parts.thermistor import RATED_TO
from weldsim.parts.trigger import Trigger
from weldsim.runs.first_fire import FirstFire
from weldsim.runs.sequence_runs import IN_THE_TUBE, STUCK, Pulse
from weldsim.runs.soft_start import in_series
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict, amount, spread

RAMP = FirstFire("ramp of 10 half cycles", ramp=10)
ALIKE, SCATTERED = 0.05, 0.15  # spread of energy up to which spots are alike; beyond which they are not (assumed)
SAME = 1e-4  # spread of energy that nobody can tell from none
NOTHING = 0.1  # [J] what snubbers and blocked switches let through is less (assumed)
Found = Mapping[str, Sequence[Pulse]]


def made_of(pulses: Sequence[Pulse], name: str) -> np.ndarray:
    """One figure of every spot that has it."""
    values = np.array([getattr(pulse, name) for pulse in pulses], dtype=float)
    return values[np.isfinite(values)]


def scatter(values: np.ndarray) -> float:
    """Standard deviation (of a sample) over mean; not a number of fewer than two values, or without a mean."""
    return float(values.std(ddof=1) / values.mean()) if len(values) > 1 and values.mean() else math.nan


def scattered(values: np.ndarray) -> str:
    """The same in words.

    >>> scattered(np.array([9.0, 10.0, 11.0])), scattered(np.array([1.0, 1.0 + 1e-12])), scattered(np.array([1.0]))
    ('10 %', 'under 0.01 %', 'unknown')
    """
    share = 100.0 * scatter(values)
    if math.isnan(share):
        return "unknown"
    return "under 0.01 %" if share < 0.01 else f"{share:.2g} %"


def verdicts_of(scenario: Scenario, found: Found, trigger: Trigger, *, warm: float, pause: float) -> list[Verdict]:
    """Every verdict on spots under the conditions."""
    base = "random" if trigger.timer == "free" else "synchronised"
    if not _energy(found, base) > NOTHING:
        text = "No energy reaches the work at this setting of the dial: there is nothing to compare."
        return [Verdict("spot_energy", "fault", text)]
    verdicts = [_repeatable(found), _timer(found), _over_mains(found, base)]
    verdicts += [_softly(scenario, found, base)] if {"soft_start", "at_once"} & set(found) else []
    verdicts += [_in_a_row(found, base, pause)]
    verdicts += [_warmth(scenario, found, base, warm)] if "warm" in found else []
    return [*verdicts, _arcs(found[base]), _wire_ends(found[base])] if found[base][0].ending else verdicts


def _energy(found: Found, name: str) -> float:
    return float(made_of(found[name], "energy").mean())


def _repeatable(found: Found) -> Verdict:
    """How alike the spots are, and whether the timer decides it."""
    free, counted = (made_of(found[name], "energy") for name in ("random", "synchronised"))
    if len(free) < 2:
        text = f"One spot with a free timer has {amount(float(free[0]), 'J')}: how alike spots are takes more of them."
        return Verdict("spot_energy", "note", text)
    own, other = scatter(free), scatter(counted)
    level = "good" if own <= ALIKE else "note" if own <= SCATTERED else "fault"
    if own < SAME:
        cause = "a whole number of half cycles passes either way"
    elif other < 0.7 * own:
        cause = "the start at any phase of the mains and the timer's own spread make most of it"
    else:
        cause = "the timer hardly matters: " + (
            "the wire's first touches and where they fall in the spot make it"
            if found["random"][0].ending
            else "a whole number of half cycles passes either way"
        )
    return Verdict(
        "spot_energy",
        level,
        f"{len(free)} spots with a free timer have {free.mean():.4g} J ({free.min():.4g} to {free.max():.4g} J, "
        f"spread {scattered(free)}); with a timer that counts half cycles from a zero crossing the spread is "
        f"{scattered(counted)}: {cause}. Spread: standard deviation over mean. Assumed: random "
        f"phase{', contacts and drops' if found['random'][0].ending else ''}.",
    )


def _timer(found: Found) -> Verdict:
    """Half cycles that the timers give."""
    ranges = {}
    for name in ("random", "synchronised"):
        halves = [pulse.half_cycles for pulse in found[name]]
        ranges[name] = (min(halves), max(halves))
    counted = ranges["synchronised"][1] - ranges["synchronised"][0]
    return Verdict(
        "spot_timer",
        "good" if counted <= 1 else "fault",
        f"The synchronised timer fires {_between(ranges['synchronised'])} half cycles in every spot, so it repeats to "
        f"{'the very half cycle' if counted == 0 else 'one half cycle' if counted == 1 else f'{counted} half cycles'}; "
        f"the free one fires {_between(ranges['random'])}. Counted from what the gate was given.",
    )


def _between(ends: tuple[int, int]) -> str:
    return f"{ends[0]}" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def _over_mains(found: Found, base: str) -> Verdict:
    """What the mains do to the mean energy."""
    values = [_energy(found, name) for name in ("low_mains", base, "high_mains")]
    swing = (values[2] - values[0]) / values[1]
    return Verdict(
        "spot_mains",
        "note" if swing > 0.3 else "good",
        f"Mean energy {spread(values, 'J')}: {100 * swing:.3g} % in all, against 40 % of a plain resistance, which "
        "takes the square of the voltage. Same dial, same draws.",
    )


def _softly(scenario: Scenario, found: Found, base: str) -> Verdict:
    """What a soft start of the firing costs in energy: the scenario's own, or a ramp tried on it."""
    own = "at_once" in found
    soft, hard = (base, "at_once") if own else ("soft_start", base)
    share = _energy(found, soft) / _energy(found, hard) if _energy(found, hard) > 0.0 else math.nan
    what, lacks = "the scenario's own soft start" if own else f"a {RAMP.name}", "what the late half cycles lack"
    if scenario.soft_start is not None and in_series(scenario.soft_start):
        lacks = "what its resistance keeps back"
        always = ", most while it is cold" if scenario.soft_start.kind == "ntc" else ", all the time"
        lacks += " until the contact closes" if scenario.soft_start.bypass_delay is not None else always
    return Verdict(
        "spot_soft_start",
        "note",
        f"With {what} the spots have {100 * share:.3g} % of the energy of those at once, with a spread of "
        f"{scattered(made_of(found[soft], 'energy'))}: {lacks}, a longer spot time "
        "gives back. Same draws.",
    )


def _changed(share: float) -> str:
    """How a mean energy moved by that share, in words."""
    return "stays within 0.1 %" if abs(share) < 1e-3 else f"changes by {100 * share:+.2g} %"


def _in_a_row(found: Found, base: str, pause: float) -> Verdict:
    """What spots that follow one another begin with, and what that changes."""
    pulses = found["in_a_row"]
    second = made_of(pulses, "second_flux_linkage")
    rested, followed = (made_of(some, "energy") for some in (found[base], pulses))
    share = followed.mean() / rested.mean() - 1.0
    begins = [
        f"up to {amount(float(np.abs(values).max()), unit)} {where}"
        for values, unit, where in (
            (made_of(pulses, "bank_voltage"), "V", "in the bank"),
            (made_of(pulses, "flux_linkage"), "V.s", f"in the {'first ' if len(second) else ''}core"),
            (second, "V.s", "in the second core"),
        )
        if len(values)
    ]
    warmed = made_of(pulses, "thermistor")
    hot = len(warmed) > 0 and float(warmed.max()) > RATED_TO
    if len(warmed):
        begins.append(f"the thermistor of the soft start at up to {warmed.max():.0f} degC, so that it keeps back less")
        begins[-1] += (
            f"; it bears {RATED_TO:g} degC at most: a longer pause, or a relay that bypasses it" if hot else ""
        )
    text = (
        f"One after another, {pause:g} s apart, the mean energy {_changed(share)}, and the "
        f"spread is {scattered(followed)} against {scattered(rested)} from rest. "
    )
    if len(pulses) > 1:
        text += f"What the one before leaves at the trigger: {', '.join(begins) or 'nothing'}."
    text += " Assumed: windings do not warm."
    return Verdict("spot_row", "fault" if hot else "note" if abs(share) > ALIKE else "good", text)


def _warmth(scenario: Scenario, found: Found, base: str, warm: float) -> Verdict:
    """What warm windings take from the mean energy."""
    assert scenario.transformer is not None
    share = _energy(found, "warm") / _energy(found, base) - 1.0
    cold = scenario.transformer.winding_temperature
    return Verdict(
        "spot_warm",
        "note" if abs(share) > ALIKE else "good",
        f"Windings at {warm:.0f} degC in place of {cold:.0f} degC change the mean energy by {100 * share:+.2g} %: "
        "their resistance grows. So far apart may a first and a late spot be. Assumed: nothing else warms.",
    )


def _arcs(pulses: Sequence[Pulse]) -> Verdict:
    """Spots without an arc, and how late it comes."""
    arcs = made_of(pulses, "first_arc")
    missing = len(pulses) - len(arcs)
    when = f"half of them {1e3 * np.median(arcs):.3g} ms after the power" if len(arcs) else "none"
    return Verdict(
        "spot_arc",
        "good" if not missing else "note" if missing <= 0.1 * len(pulses) else "fault",
        f"{len(arcs)} of {len(pulses)} spots have an arc, {when}: what the wire takes to its first touch, and the "
        "touch to part, is missing from a spot whose timer counts from the power "
        '(trigger.spot_from = "arc" counts from there).',
    )


def _wire_ends(pulses: Sequence[Pulse]) -> Verdict:
    """Where the wire ends."""
    ends = 1e3 * made_of(pulses, "wire_end")
    stuck, burnt = (sum(pulse.ending == what for pulse in pulses) for what in (STUCK, IN_THE_TUBE))
    bad = stuck + burnt
    return Verdict(
        "spot_wire_end",
        "good" if not bad else "note" if bad <= 0.1 * len(pulses) else "fault",
        f"The wire ends {np.median(ends):.3g} mm out of the contact tube ({ends.min():.3g} to {ends.max():.3g} mm); "
        f"{stuck} of {len(pulses)} stick in the work, {burnt} burn into the tube. Burn-back sets it: see --wire-end.",
    )
