"""What a number of trials tells: shares with their doubt, quantiles with their doubt, and what the worst one proves.

All intervals come from the binomial distribution; nothing is drawn at random, so the same trials give the same words.
"""

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Spread:
    """Median, the value below which nine of ten lie, and the worst (largest) of some trials, in their own unit."""

    median: float
    p90: float
    worst: float


def share_interval(hits: int, count: int, *, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Where the true share of hits lies, given some hits out of some trials: the score interval of Wilson.

    (p + z^2/2n +- z sqrt(p (1 - p)/n + z^2/4n^2)) / (1 + z^2/n) with p = hits / n.

    Parameters
    ----------
    hits : int
        Trials that hit [1].
    count : int
        All trials, n [1].
    confidence : float
        How often such an interval holds the true share [1].

    Returns
    -------
    tuple of float
        Lower and upper bound [1].

    Notes
    -----
    Never empty and never below 0 or above 1, also for no hit at all. On the average over true shares it covers what it
    promises; for shares near 0 or 1 of few trials it may cover some percent less. Trials must not know of each other.

    Examples
    --------
    49 of 100 presses tripped:

    >>> [round(bound, 3) for bound in share_interval(49, 100)]
    [0.394, 0.587]
    >>> [round(bound, 3) for bound in share_interval(0, 10)]
    [0.0, 0.278]

    References
    ----------
    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927), p. 209.
    """
    _needed(count, confidence)
    if not 0 <= hits <= count:
        raise QuestionError(f"{hits} hits of {count} trials cannot be", place="hits", advice="count hits from 0 to all")
    z = NormalDist().inv_cdf(0.5 + 0.5 * confidence)
    share, scale = hits / count, 1.0 + z * z / count
    middle = (share + z * z / (2.0 * count)) / scale
    width = z * math.sqrt(share * (1.0 - share) / count + (z / (2.0 * count)) ** 2) / scale
    return 0.0 if hits == 0 else middle - width, 1.0 if hits == count else middle + width


def spread(values: Sequence[float] | np.ndarray) -> Spread:
    """Median, 90 % and worst of some trials.

    Parameters
    ----------
    values : sequence of float
        One figure for each trial, the larger the worse [any unit].

    Returns
    -------
    Spread
        The three figures [unit of the values].

    Notes
    -----
    Quantiles between two trials on a straight line between them, (n - 1) steps from least to most.

    Examples
    --------
    >>> spread([120.0, 380.0, 165.0, 90.0, 327.0])
    Spread(median=165.0, p90=358.8, worst=380.0)

    References
    ----------
    R. J. Hyndman, Y. Fan, The American Statistician 50 (1996), p. 361, definition 7.
    """
    known = _some(values)
    return Spread(float(np.median(known)), float(np.quantile(known, 0.9)), float(known.max()))


def quantile_interval(
    values: Sequence[float] | np.ndarray, share: float, *, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """Between which two of the trials the true quantile lies.

    Ranks r and s with P(B < r) <= (1 - confidence)/2 and P(B >= s) <= (1 - confidence)/2, B binomial(n, share).

    Parameters
    ----------
    values : sequence of float
        One figure for each trial [any unit].
    share : float
        Which quantile: 0.5 the median, 0.9 what nine of ten stay below [1].
    confidence : float
        How often such an interval holds the true quantile, at least [1].

    Returns
    -------
    tuple of float
        The r-th and the s-th of the sorted values [unit of the values]; minus or plus infinity where so few trials do
        not bound it.

    Notes
    -----
    Holds for any distribution, whatever its shape, and covers at least what it promises (a step of the binomial more).
    The median needs 6 trials, 90 % needs 36 for an upper bound. Many equal values make it wider than need be.

    Examples
    --------
    The median of 20 trials lies between the 6th and the 15th:

    >>> quantile_interval([float(k) for k in range(1, 21)], 0.5)
    (6.0, 15.0)
    >>> quantile_interval([float(k) for k in range(1, 21)], 0.9)
    (15.0, inf)

    References
    ----------
    W. J. Conover, Practical Nonparametric Statistics, 3rd ed., 3.2 (from memory, 90 %).
    """
    known = np.sort(_some(values))
    _needed(len(known), confidence)
    if not 0.0 < share < 1.0:
        raise QuestionError(f"{share:g} is no share of the trials", place="share", advice="0.5 is the median")
    tail = 0.5 * (1.0 - confidence)
    below = np.concatenate(([0.0], _binomial_cumulative(len(known), share)))  # below[k] = P(B < k)
    lowest = int(np.searchsorted(below, tail, side="right")) - 1  # the largest r that still has P(B < r) <= tail
    highest = int(np.searchsorted(below, 1.0 - tail, side="left"))  # the smallest s that has P(B < s) >= 1 - tail
    low = float(known[lowest - 1]) if lowest >= 1 else -math.inf
    high = float(known[highest - 1]) if highest <= len(known) else math.inf
    return low, high


def share_beyond_worst(count: int, *, confidence: float = CONFIDENCE) -> float:
    """How many of all future trials may still go beyond the worst one seen: at most 1 - (1 - confidence)^(1/n).

    Parameters
    ----------
    count : int
        Trials seen, n [1].
    confidence : float
        How often such a bound holds [1].

    Returns
    -------
    float
        Largest share of trials beyond the worst [1].

    Notes
    -----
    The same bound holds for a share of which no hit was seen (about 3/n at 95 %). Nothing is told of how far beyond.

    Examples
    --------
    The worst of 1000 presses: at most 3 of 1000 are worse.

    >>> round(share_beyond_worst(1000), 5)
    0.00299

    References
    ----------
    S. S. Wilks, Ann. Math. Stat. 12 (1941), p. 91: one-sided tolerance limit without a distribution.
    """
    _needed(count, confidence)
    return -math.expm1(math.log1p(-confidence) / count)


def _binomial_cumulative(count: int, share: float) -> np.ndarray:
    """P(B <= k) for k = 0 .. count, from logarithms, so that thousands of trials neither overflow nor vanish."""
    k = np.arange(count + 1)
    factorials = np.concatenate(([0.0], np.cumsum(np.log(np.arange(1, count + 1)))))
    logs = factorials[-1] - factorials - factorials[::-1] + k * math.log(share) + (count - k) * math.log1p(-share)
    return np.minimum(np.cumsum(np.exp(logs)), 1.0)


def _some(values: Sequence[float] | np.ndarray) -> np.ndarray:
    """The values as an array, of which there must be one, and all must be numbers."""
    known = np.asarray(values, np.float64)
    if known.ndim != 1 or known.size == 0 or np.isnan(known).any():
        raise QuestionError("no trials, or trials without a number", place="values", advice="hand over one number each")
    return known


def _needed(count: int, confidence: float) -> None:
    """Refuse no trials, and a confidence that is none."""
    if count < 1:
        raise QuestionError(f"{count} trials say nothing", place="count", advice="ask for 1 or more")
    if not 0.0 < confidence < 1.0:
        raise QuestionError(f"{confidence:g} is no confidence", place="confidence", advice="0.95 is usual")
