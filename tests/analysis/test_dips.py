"""The dip meter on made-up welds whose every figure is known, cut into blocks of any length."""

import math

import numpy as np
import pytest

from weldsim.analysis.dips import ARC, NOTHING, SHORT, STUBBED, DipMeter, Tally

TICK = 1e-4


def made_up(dips=20):
    """Arcs of 9 ms at 80 A and 18 V, shorts of 3 ms from 80 to 254 A in steps of 6 A at 3 V."""
    kind = np.tile(np.repeat([ARC, SHORT], [90, 30]), dips)
    current = np.tile(np.concatenate([np.full(90, 80.0), 80.0 + 6.0 * np.arange(30)]), dips)
    return kind, current, np.where(kind == ARC, 18.0, 3.0)


def measured(kind, current, voltage, cuts=()):
    """A meter fed in blocks."""
    meter = DipMeter(tick=TICK, hold=10.0)
    for block in np.split(np.arange(len(kind)), cuts):
        meter.feed(kind[block], current[block], voltage[block])
    return meter


def test_figures_of_a_made_up_weld():
    """Period, duration, rise, peak, means and energy are those the weld was made with (rounding only)."""
    meter = measured(*made_up())
    assert meter.period.mean == pytest.approx(12e-3)
    assert meter.period.spread == pytest.approx(0.0, abs=1e-6)
    assert meter.duration.mean == pytest.approx(3e-3)
    assert meter.rise.mean == pytest.approx(6.0 / TICK)
    assert (meter.peak.mean, meter.rupture.mean) == (254.0, 254.0)
    assert meter.mean_current(ARC) == pytest.approx(80.0)
    assert meter.mean_voltage(SHORT) == pytest.approx(3.0)
    assert meter.mean_voltage() == pytest.approx(0.75 * 18.0 + 0.25 * 3.0)
    assert meter.energy == pytest.approx(20 * (9e-3 * 80.0 * 18.0 + 3e-3 * 167.0 * 3.0))
    assert (meter.share(SHORT), meter.share(NOTHING)) == (0.25, 0.0)
    assert meter.density.sum() == pytest.approx(2400)


@pytest.mark.parametrize("seed", range(4))
def test_blocks_do_not_matter(seed):
    """However the weld is cut into blocks, also within shorts and into single samples, the figures are the same."""
    kind, current, voltage = made_up()
    whole = measured(kind, current, voltage)
    cuts = np.sort(np.random.default_rng(seed).choice(np.arange(1, len(kind)), 60, replace=False))
    parts = measured(kind, current, voltage, cuts)
    for name in ("period", "duration", "rise", "peak", "rupture", "arc_minimum", "arc_time"):
        one, other = getattr(whole, name), getattr(parts, name)
        assert (one.count, one.least, one.largest) == (other.count, other.least, other.largest), name
        assert one.mean == pytest.approx(other.mean, rel=1e-12)


def test_losses_stubs_and_hold():
    """An arc that ends in nothing is a loss; a short of 20 ms is a stub; an arc down to 5 A is below the hold limit."""
    lengths = [50, 30, 50, 40, round(STUBBED / TICK), 60, 30, 10]
    kinds = [ARC, SHORT, ARC, NOTHING, SHORT, ARC, SHORT, ARC]
    kind = np.repeat(kinds, lengths)
    current = np.repeat([80.0, 200.0, 5.0, 0.0, 150.0, 80.0, 200.0, 80.0], lengths)
    meter = measured(kind, current, np.full(len(kind), 10.0))
    assert (meter.losses, meter.stubs, meter.duration.count) == (1, 1, 3)
    assert (meter.below_hold, meter.arc_minimum.count) == (1, 2)  # the first and the last arc are cut by the window
    assert meter.period.count == 2
    assert meter.period.largest == pytest.approx((200 + 60) * TICK)


def test_nothing_is_unknown():
    """Without a dip the means are unknown, not zero; an empty block changes nothing."""
    meter = measured(np.full(10, ARC), np.full(10, 80.0), np.full(10, 18.0))
    meter.feed(np.zeros(0, int), np.zeros(0), np.zeros(0))
    assert math.isnan(meter.period.mean)
    assert math.isnan(meter.peak.spread)
    assert math.isnan(Tally().mean)
    assert meter.length == pytest.approx(1e-3)


def test_spread_is_that_of_statistics():
    """Standard deviation over mean as numpy gives it with one degree of freedom less (rounding only)."""
    values = np.random.default_rng(1).lognormal(size=200)
    tally = Tally()
    for value in values:
        tally.add(value)
    assert tally.spread == pytest.approx(values.std(ddof=1) / values.mean(), rel=1e-9)
