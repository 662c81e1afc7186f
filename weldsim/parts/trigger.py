"""What a press of the trigger sets going: gas, power and feed against time.

    trigger  ____|=============|________________
    gas      ____|==================|___________   pre-flow before power, post-flow after it
    power    _______|============|______________   outlasts the feed by the burn-back
    feed     ________|=========|________________

2-step: all runs while the trigger is held.  4-step: one short press starts, another ends.  A spot ends by its timer; a
stitch repeats while the trigger is held.  Times count from the first press.
"""

import math

from weldsim import units
from weldsim.frozen import dataclass

SAME_MOMENT = 1e-9  # [s] nearer than this to a zero crossing is on it

Spans = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class Trigger:
    """Table [trigger]: how it is pressed, and the times of what it switches."""

    mode: str = units.choice(("2-step", "4-step"), doc="held while welding, or pressed twice", default="2-step")
    held: float = units.quantity(
        "time", doc="2-step: how long; 4-step: from press to press", low="10 ms", high="600 s", default="2 s"
    )
    tap: float = units.quantity("time", doc="4-step: length of either press", low="10 ms", high="10 s", default="0.3 s")
    latch_start: str = units.choice(
        ("press", "release"), doc="4-step: power and feed start at the first press or its release", default="press"
    )
    latch_end: str = units.choice(
        ("press", "release"), doc="4-step: feed stops at the second press or its release", default="press"
    )
    pre_flow: float = units.quantity(
        "time", doc="gas alone, before power and feed", low=0.0, high="30 s", default="0 s"
    )
    power_delay: float = units.quantity("time", doc="power, after the pre-flow", low=0.0, high="10 s", default="0 s")
    feed_delay: float = units.quantity("time", doc="feed, after the pre-flow", low=0.0, high="10 s", default="0 s")
    burn_back: float = units.quantity("time", doc="power outlasts the feed by", low=0.0, high="5 s", default="50 ms")
    post_flow: float = units.quantity("time", doc="gas outlasts the power by", low=0.0, high="60 s", default="0 s")
    spot_time: float | None = units.quantity(
        "time", doc="of the spot timer; no spot unless given", low="10 ms", high="60 s", default=None
    )
    spot_from: str = units.choice(
        ("power", "arc"), doc="the spot timer counts from the start of power or the first arc", default="power"
    )
    stitch_on: float | None = units.quantity(
        "time", doc="of each stitch, from power to the stop of feed", low="10 ms", high="60 s", default=None
    )
    stitch_off: float | None = units.quantity(
        "time", doc="from the stop of feed to the next stitch", low="10 ms", high="60 s", default=None
    )
    timer: str = units.choice(
        ("free", "mains-synchronised"),
        doc="runs by itself, or starts at a zero crossing and counts half cycles",
        default="free",
    )
    timer_spread: float = units.quantity(
        "fraction", doc="of a free timer from spot to spot, either way", low=0.0, high="50 %", default="1 %"
    )

    def faults(self) -> list[tuple[str, str]]:
        """Times that contradict each other."""
        found = []
        if (self.stitch_on is None) != (self.stitch_off is None):
            found.append(("stitch_on", "give stitch_on and stitch_off, both of them"))
        if self.stitch_on is not None and self.spot_time is not None:
            found.append(("spot_time", "a stitch has its own times: leave spot_time or stitch_on out"))
        if self.stitch_off is not None and self.stitch_off + self.power_delay <= self.burn_back:
            found.append(("stitch_off", "not above burn_back: the power would never go off"))
        if self.mode == "4-step" and self.tap >= self.held:
            found.append(("tap", "not shorter than held, the time from press to press"))
        return found


@dataclass(frozen=True)
class Timeline:
    """Spans [s from the first press] in which each is on."""

    trigger: Spans
    gas: Spans
    power: Spans
    feed: Spans


def pressed(trigger: Trigger) -> Spans:
    """When the trigger is pressed.

    Parameters
    ----------
    trigger : Trigger
        The table [-].

    Returns
    -------
    tuple
        Spans, from the first press [s].

    Examples
    --------
    >>> pressed(Trigger(held=1.5)), pressed(Trigger(mode="4-step", held=4.0, tap=0.25))
    (((0.0, 1.5),), ((0.0, 0.25), (4.0, 4.25)))

    References
    ----------
    Common practice: both modes are told of in the same way in makers' manuals.
    """
    if trigger.mode == "2-step":
        return ((0.0, trigger.held),)
    return ((0.0, trigger.tap), (trigger.held, trigger.held + trigger.tap))


def timeline(trigger: Trigger, *, arc_delay: float = 0.0) -> Timeline:
    """What is on when.

    Parameters
    ----------
    trigger : Trigger
        The table [-].
    arc_delay : float
        From the start of power to the first arc, for a spot timer that counts from there [s].

    Returns
    -------
    Timeline
        Spans of trigger, gas, power and feed [s].

    Notes
    -----
    Pre-flow counts from the first press; a trigger that is let go before it is over starts nothing but gas.  Letting go
    early cuts a spot short.  Between stitches the gas stays on.  Burn-back follows every stop of the feed.  Power that
    is never on leaves the post-flow to count from the end of the press.

    Examples
    --------
    >>> found = timeline(Trigger(held=1.0, pre_flow=0.2, feed_delay=0.05, burn_back=0.04, post_flow=0.5))
    >>> found.power, found.feed, found.gas
    (((0.2, 1.04),), ((0.25, 1.0),), ((0.0, 1.54),))

    References
    ----------
    Common practice; derived here.
    """
    start, end = _asked(trigger)
    begin = max(start, trigger.pre_flow)
    power: list[tuple[float, float]] = []
    feed: list[tuple[float, float]] = []
    period = (trigger.stitch_on or 0.0) + (trigger.stitch_off or 0.0)
    stitches = max(1, math.ceil((end - begin) / period - SAME_MOMENT)) if period else 1
    for number in range(stitches):
        from_here = begin + number * period
        on, fed = from_here + trigger.power_delay, from_here + trigger.feed_delay
        stop = min(end, on + _timed(trigger, arc_delay))
        if stop <= min(on, fed):
            continue
        if fed < stop:
            feed.append((fed, stop))
        if on < stop + trigger.burn_back:
            power.append((on, stop + trigger.burn_back))
    gas = (0.0, (power[-1][1] if power else end) + trigger.post_flow)
    return Timeline(pressed(trigger), (gas,), tuple(power), tuple(feed))


def _asked(trigger: Trigger) -> tuple[float, float]:
    """From when to when the trigger asks for power and feed."""
    if trigger.mode == "2-step":
        return 0.0, trigger.held
    start = 0.0 if trigger.latch_start == "press" else trigger.tap
    return start, trigger.held + (0.0 if trigger.latch_end == "press" else trigger.tap)


def _timed(trigger: Trigger, arc_delay: float) -> float:
    """Longest time from the start of power to the stop of feed."""
    if trigger.stitch_on is not None:
        return trigger.stitch_on
    if trigger.spot_time is None:
        return math.inf
    return trigger.spot_time + (arc_delay if trigger.spot_from == "arc" else 0.0)


def next_crossing(time: float, *, frequency: float, phase: float) -> float:
    """The first zero crossing of the mains, of either direction, at or after a time.

    Parameters
    ----------
    time : float
        From the trigger [s].
    frequency : float
        Of the mains [Hz].
    phase : float
        Where in its period the mains is at the trigger, 0 at a rising zero crossing [1].

    Returns
    -------
    float
        From the trigger [s].

    Examples
    --------
    >>> [round(next_crossing(time, frequency=50.0, phase=0.2), 6) for time in (0.0, 0.006, 0.007)]
    [0.006, 0.006, 0.016]

    References
    ----------
    Derived here.
    """
    half = 0.5 / frequency
    passed = phase / frequency
    return math.ceil((time + passed - SAME_MOMENT) / half) * half - passed


def synchronised(span: tuple[float, float], *, frequency: float, phase: float) -> tuple[float, float]:
    """Power of a timer that waits for a zero crossing and then counts half cycles.

    Parameters
    ----------
    span : tuple of float
        As a free timer would do it [s].
    frequency : float
        Of the mains [Hz].
    phase : float
        Of the mains at the trigger, 0 at a rising zero crossing [1].

    Returns
    -------
    tuple of float
        Begin and end, both zero crossings [s].

    Notes
    -----
    The count is the nearest whole number, at least one.  Every spot has the same number of half cycles; the polarity of
    the first is that of the next crossing.

    Examples
    --------
    >>> [round(time, 6) for time in synchronised((0.0, 0.304), frequency=50.0, phase=0.2)]
    [0.006, 0.306]

    References
    ----------
    Derived here.
    """
    begin = next_crossing(span[0], frequency=frequency, phase=phase)
    return begin, begin + max(1, round((span[1] - span[0]) * 2.0 * frequency)) * 0.5 / frequency


def firings(span: tuple[float, float], *, delay: float, frequency: float, phase: float) -> int:
    """How many half cycles are fired within a span of power.

    Parameters
    ----------
    span : tuple of float
        Power on and off [s].
    delay : float
        Firing delay [deg].
    frequency : float
        Of the mains [Hz].
    phase : float
        Of the mains at the trigger, 0 at a rising zero crossing [1].

    Returns
    -------
    int
        Count [1].

    Notes
    -----
    A half cycle is fired where its firing angle lies in the span; a device once fired conducts to its current's zero,
    so that power ends up to a half cycle late.  A free timer scatters by one count from phase to phase unless its time
    is a whole number of half cycles; with that it does not.

    Examples
    --------
    >>> [firings((0.0, 0.304), delay=60.0, frequency=50.0, phase=p) for p in (0.0, 0.1, 0.2)]
    [31, 31, 30]

    References
    ----------
    Derived here.
    """
    half = 0.5 / frequency
    first, last = (((time + phase / frequency) / half) - delay / 180.0 for time in span)
    return max(0, math.ceil(last - 1e-7) - math.ceil(first - 1e-7))
