"""The trigger sequence against what the trade says of its modes, and timers counted by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.trigger import Trigger, firings, next_crossing, pressed, synchronised, timeline


def test_everything_at_once():
    """Without times all follow the trigger, and power outlasts the feed by the burn-back alone (common practice)."""
    found = timeline(Trigger(held=1.0, burn_back=0.0))
    assert found.gas == found.power == found.feed == ((0.0, 1.0),)


def test_order_of_a_weld():
    """Gas first, then power and feed with their delays; feed stops, power goes on, gas last (sum of times by hand)."""
    table = Trigger(held=2.0, pre_flow=0.3, power_delay=0.02, feed_delay=0.1, burn_back=0.06, post_flow=1.0)
    found = timeline(table)
    assert found.power == (pytest.approx((0.32, 2.06)),)
    assert found.feed == (pytest.approx((0.4, 2.0)),)
    assert found.gas == (pytest.approx((0.0, 3.06)),)


def test_let_go_within_the_pre_flow():
    """A trigger let go before the pre-flow is over gives gas alone (common practice)."""
    found = timeline(Trigger(held=0.2, pre_flow=0.3, post_flow=0.5))
    assert (found.power, found.feed, found.gas) == ((), (), ((0.0, 0.7),))


@pytest.mark.parametrize(
    ("start", "end", "begin", "stop"),
    [("press", "press", 0.0, 5.0), ("release", "press", 0.4, 5.0), ("press", "release", 0.0, 5.4)],
)
def test_four_step(start, end, begin, stop):
    """4-step: two taps, welding in between without a hand; both habits of makers can be told (common practice)."""
    table = Trigger(mode="4-step", held=5.0, tap=0.4, latch_start=start, latch_end=end, burn_back=0.1)
    assert pressed(table) == ((0.0, 0.4), (5.0, 5.4))
    found = timeline(table)
    assert found.feed == (pytest.approx((begin, stop)),)
    assert found.power == (pytest.approx((begin, stop + 0.1)),)


def test_four_step_waits_for_the_pre_flow():
    """A release that comes before the pre-flow is over does not shorten it."""
    table = Trigger(mode="4-step", held=5.0, tap=0.1, latch_start="release", pre_flow=0.5)
    assert timeline(table).power[0][0] == 0.5


def test_spot_ends_by_its_timer_or_by_the_hand():
    """A spot of 0.6 s lasts 0.6 s from power (or from the arc), and is cut short where the trigger is let go before."""
    assert timeline(Trigger(held=2.0, spot_time=0.6)).feed == (pytest.approx((0.0, 0.6)),)
    assert timeline(Trigger(held=0.4, spot_time=0.6)).feed == (pytest.approx((0.0, 0.4)),)
    from_arc = Trigger(held=2.0, spot_time=0.6, spot_from="arc")
    assert timeline(from_arc, arc_delay=0.15).feed == (pytest.approx((0.0, 0.75)),)


def test_stitches():
    """On 0.5 s, off 0.7 s, held 3 s: stitches at 0, 1.2 and 2.4 s, each with its burn-back; one gas span (by hand)."""
    found = timeline(Trigger(held=3.0, stitch_on=0.5, stitch_off=0.7, burn_back=0.1, post_flow=0.2))
    assert found.feed == (pytest.approx((0.0, 0.5)), pytest.approx((1.2, 1.7)), pytest.approx((2.4, 2.9)))
    assert found.power == (pytest.approx((0.0, 0.6)), pytest.approx((1.2, 1.8)), pytest.approx((2.4, 3.0)))
    assert found.gas == (pytest.approx((0.0, 3.2)),)


def test_contradictions_are_told():
    """Half a stitch, a stitch that is a spot, a burn-back that fills the pause, a tap as long as the weld."""
    assert [place for place, _ in Trigger(stitch_on=0.5).faults()] == ["stitch_on"]
    assert [place for place, _ in Trigger(stitch_on=0.5, stitch_off=0.5, spot_time=1.0).faults()] == ["spot_time"]
    assert [place for place, _ in Trigger(stitch_on=0.5, stitch_off=0.2, burn_back=0.2).faults()] == ["stitch_off"]
    assert [place for place, _ in Trigger(mode="4-step", held=0.2, tap=0.2).faults()] == ["tap"]
    assert Trigger().faults() == []


@given(
    phase=st.floats(0.0, 1.0),
    time=st.floats(0.03, 2.0),
    begin=st.floats(0.0, 0.5),
    frequency=st.sampled_from([50.0, 60.0]),
    delay=st.floats(5.0, 175.0),
)
def test_a_synchronised_timer_repeats_to_one_half_cycle(phase, time, begin, frequency, delay):
    """It fires the same number of half cycles at any phase, that number within half a half cycle of the time asked.

    A free timer of the same length is within one of it (counting argument: a span of length T holds floor or ceil of
    T / half cycle of equally spaced points).  The slack of 1e-6 is for firings on the very edge.
    """
    half = 0.5 / frequency
    span = synchronised((begin, begin + time), frequency=frequency, phase=phase)
    count = firings(span, delay=delay, frequency=frequency, phase=phase)
    assert abs(count * half - time) <= 0.5 * half + 1e-6
    assert count == round((span[1] - span[0]) / half)
    free = firings((begin, begin + time), delay=delay, frequency=frequency, phase=phase)
    assert time / half - 1.0 - 1e-5 <= free <= time / half + 1.0 + 1e-5


def test_crossing_by_hand():
    """A quarter period after the rising crossing, at 50 Hz, the next crossing is 5 ms away; on a crossing it is now."""
    assert next_crossing(0.0, frequency=50.0, phase=0.25) == pytest.approx(5e-3, abs=1e-12)
    assert next_crossing(0.0, frequency=50.0, phase=0.5) == pytest.approx(0.0, abs=1e-12)
    assert next_crossing(5.1e-3, frequency=50.0, phase=0.25) == pytest.approx(15e-3, abs=1e-12)
