"""Voltage changes from rms values of half periods, counted by hand; the formula of single steps against the tables."""

import numpy as np
import pytest

from weldsim.analysis.voltage_change import VoltageChanges, half_period_rms
from weldsim.errors import QuestionError


def watched(*pieces: tuple[float, int], start: float | None = None, blocks: int = 1):
    """Figures of stretches of (volts, half periods) at 230 V, 50 Hz, fed in so many blocks."""
    rms = np.concatenate([np.full(count, volts) for volts, count in pieces])
    watch = VoltageChanges(230.0, frequency=50.0, start=start)
    for part in np.array_split(rms, blocks):
        watch.feed(part)
    return watch.figures()


def test_a_step_and_back():
    """A step of 2 % for two seconds and back: two changes, each with d_max and d_c of 2 %."""
    found = watched((230.0, 200), (225.4, 200), (230.0, 200))

    assert (found.d_max, found.d_c) == pytest.approx((0.02, 0.02))
    assert (found.changes, found.open, found.time_above) == (2, False, 0.0)


def test_a_start_with_a_sag_that_recovers():
    """An inrush of 6 % for 0.4 s on a load of 1 %: d_max 6 %, d_c 1 %, and 0.4 s above 3.3 %."""
    found = watched((230.0, 200), (230.0 * 0.94, 40), (230.0 * 0.99, 300))

    assert (found.d_max, found.d_c, found.time_above) == pytest.approx((0.06, 0.01, 0.40))
    assert found.longest_above == pytest.approx(0.40)
    assert found.changes == 1


def test_times_add_up_within_one_change():
    """Dips of 5 % for 30 ms every 100 ms are one change; its 40 dips add up to 1.2 s, none longer than 30 ms."""
    dips = [(218.5, 3), (230.0, 7)] * 40
    found = watched((230.0, 200), *dips, (230.0, 200))

    assert found.changes == 1
    assert (found.d_max, found.d_c) == pytest.approx((0.05, 0.0), abs=1e-12)
    assert (found.time_above, found.longest_above) == pytest.approx((1.2, 0.03))


@pytest.mark.parametrize("blocks", [2, 7, 1000])
def test_blocks_do_not_matter(blocks):
    """Fed in pieces, even single half periods, the figures are the same."""
    draws = np.random.default_rng(5)
    pieces = [(230.0 * (1 - 0.06 * draws.random()), int(draws.integers(1, 250))) for _ in range(30)]

    assert watched(*pieces, blocks=blocks) == watched(*pieces)


def test_a_rise_counts_as_well():
    """Switching off is a change too: the voltage rises by 4 %."""
    found = watched((220.8, 200), (230.0, 200))

    assert (found.d_max, found.d_c) == pytest.approx((0.04, 0.04))


def test_slow_drift_is_no_change():
    """A drift of 5 % over ten minutes never leaves the band of 0.2 % around the last second."""
    watch = VoltageChanges(230.0, frequency=50.0)
    watch.feed(np.linspace(230.0, 218.5, 60_000))

    assert watch.figures().changes == 0


def test_level_before_the_first_value():
    """A weld that begins with the first value is a change from the level given; it stays open while it lasts."""
    dips = [(218.5, 3), (228.0, 7)] * 20
    found = watched(*dips, start=230.0)

    assert found.open
    assert found.changes == 1
    assert found.d_max == pytest.approx(0.05)
    assert found.d_c == 0.0  # not known before the voltage is steady again


def test_band_of_rest():
    """A ripple of 0.19 % either way is rest, one of 0.21 % is not: 0.2 % by the standard (from memory)."""
    signs = np.where(np.arange(400) % 2, 1.0, -1.0)
    for share, changes in ((0.0019, 0), (0.0021, 1)):
        watch = VoltageChanges(230.0, frequency=50.0, start=230.0)
        watch.feed(230.0 * (1 + share * signs))
        assert watch.figures().changes == changes


def test_half_periods():
    """Means of the square make half periods, and a broken one at the end is dropped."""
    assert half_period_rms(np.array([1.0, 3.0, 8.0, 10.0, 99.0]), per_half=2) == pytest.approx([2**0.5, 3.0])
    assert half_period_rms(np.array([]), per_half=3).size == 0


def test_nonsense_is_refused():
    """A nominal voltage of zero is refused; nothing fed gives zeros."""
    with pytest.raises(QuestionError, match="above zero"):
        VoltageChanges(0.0, frequency=50.0)
    watch = VoltageChanges(230.0, frequency=50.0)
    watch.feed(np.array([]))
    assert watch.figures().d_max == 0.0
