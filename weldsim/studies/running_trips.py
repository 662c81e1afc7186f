"""What a breaker feels of settled running: heat by the rms, and its magnetic part by the peak of every half cycle."""

import math
from collections.abc import Mapping, Sequence

from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import Edge, trip_time
from weldsim.parts.breaker_cycles import fusing_currents
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number, Verdict, amount, spread
from weldsim.studies.breaker_words import called, lasts, trips_after
from weldsim.studies.operating import LINES, Setting, over_the_mains, with_load
from weldsim.studies.press_trips import thresholds

BY_PEAK = "Assumed: a half cycle counts by its peak over root 2 (common practice; the standard tests with 0.1 s)"
SHORT = 1e-3  # [ohm] of a wire that sticks


@dataclass(frozen=True)
class Drawn:
    """Settled primary current at mains -10, 0 and +10 %: rms and largest magnitude [A]."""

    rms: tuple[float, float, float]
    peak: tuple[float, float, float]


def opens_at_once(breaker: Breaker, peak: float) -> str:
    """Whether the magnetic part opens on half cycles of this peak: "never", "perhaps" or "surely"; a fuse has none.

    >>> b16 = Breaker(curve="B", current=16.0)  # 48 to 80 A rms, peaks of 67.9 to 113 A
    >>> opens_at_once(b16, 67.0), opens_at_once(b16, 69.0), opens_at_once(b16, 114.0)
    ('never', 'perhaps', 'surely')
    """
    band = instantaneous_band(breaker)
    if band is None or peak <= math.sqrt(2.0) * band[0]:
        return "never"
    return "perhaps" if peak <= math.sqrt(2.0) * band[1] else "surely"


def told_band(breaker: Breaker, peaks: Sequence[float]) -> str:
    """The peaks of running beside the band of the magnetic part, in words; ``peaks`` at mains -10, 0, +10 %."""
    low, _, high = (math.sqrt(2.0) * edge for edge in thresholds(breaker))
    reached = f"peaks of {spread(peaks, 'A')}"
    band = f"its magnetic part opens somewhere between peaks of {low:.3g} and {high:.3g} A"
    does = {
        "never": f"{reached} leave the magnetic part alone, which opens from {low:.3g} A at the soonest",
        "perhaps": f"{reached} lie where {band}: it may open within a half cycle, whatever the heat",
        "surely": f"{reached} lie beyond where {band}: it opens at once",
    }
    if opens_at_once(breaker, peaks[1]) == "never" and opens_at_once(breaker, max(peaks)) != "never":
        return f"{reached}: at high mains they reach where {band}"
    return does[opens_at_once(breaker, peaks[1])]


def at_once_level(breaker: Breaker, peaks: Sequence[float]) -> str:
    """How grave the peaks of running are: a fault beyond the middle of the band, a note where any reach it."""
    if peaks[1] > math.sqrt(2.0) * thresholds(breaker)[1]:
        return "fault"
    return "good" if opens_at_once(breaker, max(peaks)) == "never" else "note"


def running_verdict(breaker: Breaker, drawn: Drawn) -> Verdict:
    """What stands in front of a supply against what this setting draws, in one sentence for a preview."""
    low, rms, high = drawn.rms
    text = (
        f"The primary draws {rms:.3g} A rms, {rms / breaker.current:.2f} times the rating of the {called(breaker)} "
        f"(mains -10, 0, +10 %: {low:.3g}, {rms:.3g}, {high:.3g} A)"
    )
    if instantaneous_band(breaker) is None:
        holds, melts = fusing_currents(breaker)
        level = "fault" if rms >= melts else "note" if max(drawn.rms) > holds else "good"
        does = f"it carries {holds:.3g} A for ever and melts from {melts:.3g} A within the hour"
        return Verdict("breaker", level, f"{text}: {does}. `breaker` tells every dial.")
    middle = [trip_time(breaker, one / breaker.current, edge="middle") for one in drawn.rms]
    fastest = trip_time(breaker, max(drawn.rms) / breaker.current, edge="fastest")
    heat = "fault" if math.isfinite(middle[1]) else "note" if math.isfinite(fastest) else "good"
    level = max((heat, at_once_level(breaker, drawn.peak)), key=("good", "note", "fault").index)
    return Verdict(
        "breaker",
        level,
        f"{text}: without a pause a cold middle one {trips_after(middle[1])} by heat; "
        f"{told_band(breaker, drawn.peak)}. {BY_PEAK}; `breaker` tells every dial, duty, lead and plug.",
    )


def at_once_verdict(breaker: Breaker, own: Sequence[Setting]) -> list[Verdict]:
    """The peaks of settled running against the magnetic part; nothing of a fuse, which has none.

    ``own`` is the setting at mains -10, 0 and +10 %.
    """
    if instantaneous_band(breaker) is None:
        return []
    peaks = [one["primary.current.peak"] for one in own]
    text = f"Running at this setting, {told_band(breaker, peaks)}. {BY_PEAK}; dips of the wire peak higher."
    return [Verdict("at_once", at_once_level(breaker, peaks), text)]


def dead_short(scenario: Scenario) -> list[Setting]:
    """The same supply with a wire that sticks, at mains -10, 0 and +10 %; nothing where no arc is to burn."""
    load = scenario.load
    if load is None or load.kind not in LINES:
        return []
    return over_the_mains(with_load(scenario, {"load.kind": "short", "load.resistance": SHORT}))


def dead_short_numbers(stuck: Sequence[Setting], times: Mapping[Edge, float]) -> dict[str, Number]:
    """What a wire that sticks draws, and how long the breaker lets it."""
    if not stuck:
        return {}
    own = stuck[1]
    return {
        f"dead_short.output.current.{own.kind}": Number(own.current, "A"),
        "dead_short.primary.current.rms": Number(own.primary, "A"),
        "dead_short.primary.current.peak": Number(own["primary.current.peak"], "A"),
        **{f"dead_short.breaker.trip.{edge}": Number(time, "s") for edge, time in times.items()},
    }


def dead_short_verdict(breaker: Breaker, stuck: Sequence[Setting], times: Mapping[Edge, float]) -> list[Verdict]:
    """Whether anything opens when the wire sticks, and when."""
    if not stuck:
        return []
    own, peaks = stuck[1], [one["primary.current.peak"] for one in stuck]
    text = (
        f"A wire or electrode that sticks (dead short, {amount(own.current, 'A')} at the output) draws "
        f"{spread([one.primary for one in stuck], 'A')} rms from the mains, {own.primary / breaker.current:.2f} times "
        f"the rating of the {called(breaker)}"
    )
    if instantaneous_band(breaker) is None:
        holds, melts = fusing_currents(breaker)
        opens = own.primary > holds
        text += f", which melts from {amount(melts, 'A')} within the hour"
    else:
        opens = math.isfinite(times["slowest"]) or opens_at_once(breaker, peaks[1]) == "surely"
        text += (
            f": a middle one {trips_after(times['middle'])} by heat (the fastest: {lasts(times['fastest'])}, the "
            f"slowest: {lasts(times['slowest'])}); {told_band(breaker, peaks)}"
        )
    if not opens:
        text += ". It may never open: nothing but letting go of the trigger protects windings, diodes and choke then"
    return [Verdict("dead_short", "note", f"{text}. Assumed: the trigger held, settled, parts that bear it so long.")]
