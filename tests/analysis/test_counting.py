"""Shares and quantiles of trials with their doubt, against printed tables, scipy and exact sums of the binomial."""

import math

import numpy as np
import pytest
from scipy import stats

from weldsim.analysis.counting import Spread, quantile_interval, share_beyond_worst, share_interval, spread
from weldsim.errors import QuestionError

# Hits, trials, bounds at 95 %: R. G. Newcombe, Statistics in Medicine 17 (1998), p. 857, score method without
# continuity correction (published table, figures quoted from memory).
NEWCOMBE = [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)]

# Trials, ranks of the 95 % interval of the median: tables of sign-test intervals in textbooks of medical statistics
# (from memory).
MEDIAN_RANKS = [(6, 1, 6), (10, 2, 9), (20, 6, 15), (50, 18, 33), (100, 40, 61)]


@pytest.mark.parametrize(("hits", "count", "low", "high"), NEWCOMBE)
def test_share_as_printed(hits, count, low, high):
    """The four classical examples; half a unit of the printed digit."""
    assert share_interval(hits, count) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))


@pytest.mark.parametrize(("hits", "count"), [(0, 1), (1, 1), (0, 10), (3, 10), (490, 1000), (1000, 1000)])
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.999])
def test_share_as_scipy(hits, count, confidence):
    """The same as scipy's Wilson interval, no hit and all hits included; rounding only."""
    theirs = stats.binomtest(hits, count).proportion_ci(confidence, method="wilson")
    low, high = share_interval(hits, count, confidence=confidence)
    assert (low, high) == (pytest.approx(theirs.low, abs=1e-14), pytest.approx(theirs.high, abs=1e-14))
    assert 0.0 <= low <= hits / count <= high <= 1.0


def test_share_covers_what_it_promises():
    """Summed over all outcomes of 100 trials it holds the true share in 95 % on the average, never in less than 90 %.

    Exact sums of the binomial over 197 true shares; the average is known to lie within 0.5 % of the promise (Agresti
    and Coull, The American Statistician 52 (1998), p. 119, from memory).
    """
    truths = np.linspace(0.01, 0.99, 197)
    bounds = np.array([share_interval(hits, 100) for hits in range(101)])
    chances = stats.binom.pmf(np.arange(101)[:, None], 100, truths[None, :])
    held = (bounds[:, :1] <= truths) & (truths <= bounds[:, 1:])
    coverage = (chances * held).sum(axis=0)
    assert coverage.mean() == pytest.approx(0.95, abs=5e-3)
    assert coverage.min() > 0.90


def test_spread_by_hand():
    """Eleven values 0 .. 100: the middle one, the tenth of eleven, the last; order plays no part."""
    values = [100.0, 0.0, 50.0, 10.0, 90.0, 20.0, 80.0, 30.0, 70.0, 40.0, 60.0]
    assert spread(values) == Spread(50.0, 90.0, 100.0)
    assert spread([7.0]) == Spread(7.0, 7.0, 7.0)


@pytest.mark.parametrize(("count", "low", "high"), MEDIAN_RANKS)
def test_ranks_of_the_median(count, low, high):
    """Textbook ranks between which the median lies in 95 of 100 samples."""
    assert quantile_interval(np.arange(1.0, count + 1.0)[::-1], 0.5) == (low, high)


@pytest.mark.parametrize(("count", "share"), [(37, 0.25), (100, 0.9), (1000, 0.9), (5000, 0.99)])
def test_quantile_as_scipy(count, share):
    """The same two trials that scipy's quantile test names, up to thousands of trials."""
    values = np.random.default_rng(3).gamma(2.0, 80.0, count)
    theirs = stats.quantile_test(values, p=share, q=0).confidence_interval(0.95)
    assert quantile_interval(values, share) == (theirs.low, theirs.high)


def test_quantile_of_too_few():
    """The median is bounded from 6 trials on (1 - 2/2^5 < 95 %), 90 % from above from 36 on (0.9^35 > 2.5 %)."""
    assert quantile_interval(range(5), 0.5) == (-math.inf, math.inf)
    assert quantile_interval(range(6), 0.5) == (0.0, 5.0)
    assert 0.9**35 > 0.025 > 0.9**36
    assert quantile_interval(range(35), 0.9)[1] == math.inf
    assert quantile_interval(range(36), 0.9)[1] == 35.0


def test_quantile_covers_what_it_promises():
    """P(r-th value <= quantile < s-th value) from scipy's binomial is at least 95 % for each number of trials."""
    for count in (36, 60, 200, 1000):
        for share in (0.5, 0.9):
            low, high = quantile_interval(np.arange(1.0, count + 1.0), share)
            covered = stats.binom.cdf(high - 1, count, share) - stats.binom.cdf(low - 1, count, share)
            assert covered >= 0.95


def test_worst_of_fifty_nine():
    """59 trials show with 95 % confidence that at most 5 % are worse, 58 do not: the well-known number of Wilks.

    Published in many handbooks of reactor safety; 22 trials do it for 10 % at 90 %.
    """
    assert share_beyond_worst(59) < 0.05 < share_beyond_worst(58)
    assert share_beyond_worst(22, confidence=0.9) < 0.10 < share_beyond_worst(21, confidence=0.9)
    assert share_beyond_worst(1) == pytest.approx(0.95, rel=1e-14)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: share_interval(1, 0), "0 trials say nothing"),
        (lambda: share_interval(3, 2), "3 hits of 2 trials"),
        (lambda: share_interval(-1, 2), "-1 hits"),
        (lambda: share_interval(1, 2, confidence=1.0), "no confidence"),
        (lambda: spread([]), "no trials"),
        (lambda: spread([1.0, math.nan]), "without a number"),
        (lambda: quantile_interval([1.0], 1.0), "no share"),
        (lambda: share_beyond_worst(0), "0 trials say nothing"),
    ],
)
def test_what_cannot_be_asked(ask, words):
    """No trials, impossible counts, missing numbers: each is refused in words."""
    with pytest.raises(QuestionError, match=words):
        ask()
