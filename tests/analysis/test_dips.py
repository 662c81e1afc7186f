"""The dip meter on made-up welds whose every figure is known, cut into blocks of any length."""

import math

import numpy as np
import pytest

from weldsim.analysis.dips import ARC, NOTHING, SHORT, STUBBED, DipMeter, Tally

TICK = 1e-4


def made_up(dips=20):
    """Arcs of 9 ms from 260 down to 80 A at 18 V, shorts of 3 ms from 80 to 260 A in steps of 6 A at 3 V."""
    kind = np.tile(np.repeat([ARC, SHORT], [90, 30]), dips)
    current = np.tile(np.concatenate([258.0 - 2.0 * np.arange(90), 86.0 + 6.0 * np.arange(30)]), dips)
    return kind, current, np.where(kind == ARC, 18.0, 3.0)


def measured(kind, current, voltage, cuts=(), **more):
    """A meter fed in blocks."""
    meter = DipMeter(tick=TICK, hold=10.0)
    for block in np.split(np.arange(len(kind)), cuts):
        meter.feed(kind[block], current[block], voltage[block], **{name: one[block] for name, one in more.items()})
    return meter


def test_figures_of_a_made_up_weld():
    """Period, duration, rise, peak, means and energy are those the weld was made with (rounding only).

    A change lies on a sample, which ends the arc or the short: the peak is the current at which the short parts.  Only
    the very first tick, whose beginning is not seen, is taken as level: 258 A in place of the mean of 260 and 258 A.
    """
    meter = measured(*made_up())
    assert meter.period.mean == pytest.approx(12e-3)
    assert meter.period.spread == pytest.approx(0.0, abs=1e-6)
    assert meter.duration.mean == pytest.approx(3e-3)
    assert meter.rise.mean == pytest.approx(6.0 / TICK)
    assert (meter.peak.mean, meter.rupture.mean) == (260.0, 260.0)
    assert meter.mean_current(ARC) == pytest.approx(170.0 - 1.0 / 1800)
    assert meter.mean_current(SHORT) == pytest.approx(170.0)
    assert meter.mean_voltage(SHORT) == pytest.approx(3.0)
    assert meter.mean_voltage() == pytest.approx(0.75 * 18.0 + 0.25 * 3.0)
    assert meter.energy == pytest.approx(170.0 * 20 * (9e-3 * 18.0 + 3e-3 * 3.0) - 18.0 * 1.0 * TICK)
    mean_square = 170.0**2 + 180.0**2 / 12  # of a current that is as long at every value from 80 to 260 A
    assert meter.squares[0] / 2400 == pytest.approx(mean_square, rel=1e-5)
    assert (meter.share(SHORT), meter.share(NOTHING)) == (0.25, 0.0)
    assert meter.density.sum() == pytest.approx(2400)


def test_voltage_jumps_behind_a_change():
    """A weld whose every figure follows from straight lines, sampled as the wire process is: at a change still before
    it.  Shorts of 2 ms from 100 to 300 A on 10 mohm, arcs of 4 ms back to 100 A on 15 V and 10 mohm more; each last
    arc is lost half a tick before its end, where 40 V stand open.  By the integrals of straight lines (rounding only).
    """
    short, arc = 100.0 + 10.0 * np.arange(1, 21), 300.0 - 5.0 * np.arange(1, 41)
    kind = np.tile(np.repeat([SHORT, ARC], [20, 40]), 5)
    current = np.tile(np.concatenate([short, arc]), 5)
    voltage = 0.01 * current + np.where(kind == ARC, 15.0, 0.0)
    lost = np.zeros(len(kind), bool)
    lost[-1], current[-1], voltage[-1] = True, 0.0, 40.0
    meter = measured(kind, current, voltage, (7, 20, 21, 299), lost=lost)
    meter.feed(np.array([NOTHING]), np.array([0.0]), np.array([40.0]))
    assert meter.mean_current(SHORT) == pytest.approx(200.0 + 0.05)  # the first tick of all is taken as at its end
    assert meter.mean_voltage(SHORT) == pytest.approx(2.0 + 0.05 / 20)  # and the volts of each first tick
    assert meter.mean_voltage(ARC) == pytest.approx(17.0 - 0.025 / 40 + 0.025 / 200, rel=1e-6)
    assert (meter.losses, meter.arc_minimum.least, meter.below_hold) == (1, 0.0, 1)
    assert (meter.peak.least, meter.rupture.mean) == (300.0, 300.0)
    assert meter.rise.mean == pytest.approx(200.0 / 2e-3)


def test_fall_of_the_bank():
    """From its volts where a short begins to the least in it, none where it only rises (by its definition)."""
    kind = np.repeat([ARC, SHORT, ARC, SHORT, ARC], [10, 10, 10, 10, 1])
    bank = np.concatenate([np.full(10, 30.0), 30.0 - np.arange(1, 11), np.full(10, 25.0), 25.0 + np.arange(11)])
    meter = measured(kind, np.full(41, 90.0), np.full(41, 18.0), (14,), bank=bank)
    assert (meter.bank_fall.count, meter.bank_fall.largest, meter.bank_fall.least) == (2, 10.0, 0.0)


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
