"""What a preview says of the arc: whether its current lasts, touches zero, alternates or never flows, and why."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from weldsim.parts.load import Load
from weldsim.runs.perform import Recording
from weldsim.studies.answer import Number, Verdict, amount
from weldsim.studies.preview_ratings import spread_text

if TYPE_CHECKING:
    from weldsim.studies.preview import Preview

LINES_OF_ARCS = ("load line", "arc line", "shorted arc", "wire")
TOUCHES_ZERO = 0.02  # of the mean: an arc current below this touches zero
LEAST_TOLD = 0.1  # [A] less of a least current is told as none
NO_ARC = 0.5  # [A] on the mean, below which nothing burns: leakage and what a meter takes
SAMPLES = 10_000  # per mains period, of a gap
HOLD_CURRENT = 15.0  # [A] an arc of thin steel wire may go out below this (assumed; 8 to 15 A are told)


def longest_gap(recording: Recording) -> dict[str, Number]:
    """Longest time in one mains period for which the arc gets less than its hold limit; nothing without an arc.

    To 1/10 000 of a period.
    """
    scenario = recording.supply.scenario
    load, period = scenario.load, recording.supply.period
    if load is None or load.kind not in LINES_OF_ARCS or scenario.rectifier is None:
        return {}
    spacing = period / SAMPLES
    first = max(recording.window[1] - period, recording.window[0])
    count = int((recording.window[1] - first) / spacing)
    low = recording.trace.sample(["output.current"], first, spacing=spacing, count=count)[0] < hold_limit(load)
    if low.all():
        return {"output.gap.longest": Number(float("inf"), "s")}
    around = np.roll(low, -int(np.argmin(low)))  # begins where there is no gap: one may reach past the window's end
    edges = np.flatnonzero(np.diff(np.concatenate(([False], around, [False])).astype(int)))
    longest = int((edges[1::2] - edges[::2]).max(initial=0))
    return {"output.gap.longest": Number(longest * spacing, "s")}


def hold_limit(load: Load) -> float:
    """Current below which an arc may go out [A]: the load's own, or what is assumed of thin wire."""
    return load.hold_current or HOLD_CURRENT


def arc_current(preview: "Preview") -> Iterator[Verdict]:
    """Whether the arc's current lasts from pulse to pulse."""
    load, numbers = preview.scenario.load, preview.numbers
    if load is None or load.kind not in LINES_OF_ARCS or "output.current.min" not in numbers:
        return
    least, mean = numbers["output.current.min"].value, numbers["output.current.mean"].value
    spread = spread_text(preview, "output.current.min", "A", least=LEAST_TOLD)
    if numbers["output.current.rms"].value < NO_ARC:
        amps = f"{numbers['output.current.rms'].value:.2g} A rms"
        yield Verdict("arc_current", "fault", f"No arc burns: {amps}. {_cause_of_none(preview)}{spread}.")
        return
    if preview.scenario.rectifier is None:
        yield Verdict("arc_current", "note", _alternating(preview))
        return
    lowest = min(least, *preview.spread.get("output.current.min", (least, least)))
    if least < TOUCHES_ZERO * max(mean, 1.0):
        yield Verdict(
            "arc_current",
            "fault",
            f"The arc current falls to nothing in every gap between pulses ({_least(least)}, {mean:.4g} A mean): the "
            f"arc goes out up to {_pulses(preview):.0f} times a second{_gap(preview, load)}. Cause: "
            f"{_cause_of_gap(preview)}. Assumed: the load's line, no arc length changes{spread}.",
        )
    elif least < HOLD_CURRENT:
        yield Verdict(
            "arc_current",
            "note",
            f"The arc current falls to {least:.3g} A; an arc may go out below 8 to 15 A (assumed for thin steel wire, "
            f"no published source){spread}.",
        )
    elif lowest < HOLD_CURRENT:
        yield Verdict(
            "arc_current",
            "note",
            f"The arc current stays above {least:.4g} A, but with the mains in their tolerance it falls to "
            f"{_least(lowest)}; an arc may go out below 8 to 15 A (assumed){spread}.",
        )
    else:
        yield Verdict(
            "arc_current",
            "good",
            f"The arc current stays above {least:.4g} A, clear of the 8 to 15 A below which an arc may go out "
            f"(assumed){spread}.",
        )


def _gap(preview: "Preview", load: Load) -> str:
    """How long each of the gaps lasts."""
    gap = preview.numbers.get("output.gap.longest")
    if gap is None or not np.isfinite(gap.value):
        return ""
    return (
        f", with less than {hold_limit(load):g} A for {amount(1e3 * gap.value, 'ms')}; after more than 0.5 to 1 ms an "
        "arc asks for 1.5 to 3 times its volts to come back (assumed)"
    )


def _alternating(preview: "Preview") -> str:
    """What an output without rectifier means for an arc."""
    return (
        f"The output alternates: the arc's current passes through zero {2.0 * preview.scenario.mains.frequency:.0f} "
        "times a second, and the arc must come back each time. Assumed: the load's line, which always lets it; give "
        "load.falling_voltage and load.reignition_voltage to see whether it does."
    )


def _cause_of_none(preview: "Preview") -> str:
    """Why there is no current at all."""
    firing = preview.firing
    if firing is not None and firing.half_cycles and firing.missed == firing.half_cycles:
        return "Cause: the phase control never latches. Assumed: the load's line"
    return "Cause: the supply does not reach the load's voltage. Assumed: the load's line"


def _least(current: float) -> str:
    """A least current that is as good as none, without digits that mean nothing."""
    return f"under {LEAST_TOLD:g} A" if current < LEAST_TOLD else f"{current:.2g} A"


def _pulses(preview: "Preview") -> float:
    """How many pulses of current a second the rectifier gives: one in a period of a broken one, else two.

    An open diode leaves one half cycle out, a shorted one spends it in itself.
    """
    rectifier, frequency = preview.scenario.rectifier, preview.scenario.mains.frequency
    return frequency if rectifier is not None and rectifier.fault != "none" else 2.0 * frequency


def _cause_of_gap(preview: "Preview") -> str:
    """Why the arc's current does not last from pulse to pulse."""
    scenario, rectifier = preview.scenario, preview.scenario.rectifier
    there = [word for word in ("bank", "choke") if getattr(scenario, word) is not None]
    parts = [*there, *(["conduction angle"] if scenario.phase_control is not None else [])]
    gap = f"the {' and the '.join(parts)} {'does' if len(parts) == 1 else 'do'} not bridge the gap between half cycles"
    if not there:
        gap = "there is neither bank nor choke to bridge the gap between half cycles"
    if rectifier is None or rectifier.fault == "none":
        return gap
    return f"the rectifier has {rectifier.fault}, so half cycles are missing or spent in it, and {gap}"
