"""What a breaker or fuse feels of a press, and how many of many presses go beyond its band."""

import math
from collections.abc import Sequence

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import fuse_window
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.runs.first_fire import LOOKED_AT
from weldsim.runs.half_cycles import HalfCycle

TAIL = 0.025  # beyond either end of a 95 % interval
TINY = 1e-9  # [A] stands for no peak at all


@dataclass(frozen=True)
class Trips:
    """Presses beyond a breaker's instantaneous band, or beyond a fuse's window of I2t."""

    count: int
    above_low: int
    above_middle: int
    above_high: int


def volts_told(voltage: float) -> str:
    """The charge of a bank; a millivolt is none.

    >>> volts_told(9.108), volts_told(1.3e-4)
    ('9.11 V', '0 V')
    """
    return f"{voltage if abs(voltage) > 1e-3 else 0.0:.3g} V"


def thresholds(breaker: Breaker) -> tuple[float, float, float]:
    """Lower edge, middle and upper edge of a breaker's instantaneous band [A rms], or of a fuse's window [A2 s].

    The middle of a window of I2t is the geometric mean.
    """
    band = instantaneous_band(breaker)
    if band is None:
        low, high = fuse_window(breaker.current)
        return low, math.sqrt(low * high), high
    return band[0], 0.5 * (band[0] + band[1]), band[1]


def felt(breaker: Breaker, half_cycles: Sequence[HalfCycle]) -> float:
    """What decides: largest half-cycle peak over sqrt2 [A], or for a fuse the I2t of the worst 60 ms [A2 s]."""
    if instantaneous_band(breaker) is None:
        return worst_i2t(half_cycles)
    return max((half.peak for half in half_cycles), default=0.0) / math.sqrt(2.0)


def count_trips(breaker: Breaker | None, presses: Sequence[Sequence[HalfCycle]]) -> Trips | None:
    """Presses that go beyond the lower edge, the middle and the upper edge of what stands in front of the supply."""
    if breaker is None:
        return None
    values = np.array([felt(breaker, half_cycles) for half_cycles in presses])
    low, middle, high = thresholds(breaker)
    return Trips(len(presses), int((values > low).sum()), int((values > middle).sum()), int((values > high).sum()))


def worst_i2t(half_cycles: Sequence[HalfCycle]) -> float:
    """Largest I2t of the half cycles that begin within any 60 ms of a press [A2 s]."""
    return max(
        (
            sum(half.i2t for half in half_cycles[k:] if half.begin < first.begin + LOOKED_AT)
            for k, first in enumerate(half_cycles)
        ),
        default=0.0,
    )


def interval(hits: int, count: int) -> tuple[float, float]:
    """Wilson score interval of a share, 95 % (Wilson 1927)."""
    z = 1.959964
    share, scale = hits / count, 1.0 + z * z / count
    middle = (share + z * z / (2 * count)) / scale
    width = z * math.sqrt(share * (1.0 - share) / count + z * z / (4.0 * count * count)) / scale
    return max(0.0, middle - width), min(1.0, middle + width)


def gain_of_p90(before: np.ndarray, after: np.ndarray) -> tuple[float, float, float]:
    """By which share the 90 % of a remedy's peaks is less, with its 95 % interval; the same draws on both sides.

    The interval rests on the order of the peaks alone, whatever their distribution: of either side it takes the peaks
    between which the 90 % lies (Thompson 1936), and so is wide rather than narrow.  Of fewer than 36 presses the
    largest peak stands for the upper end, which 3 % (32 presses) to 28 % (12) of such samples do not reach.

    >>> peaks = np.linspace(1.0, 32.0, 32)
    >>> [round(share, 3) for share in gain_of_p90(peaks, 0.5 * peaks)]  # 1 - 16 / 25 and 1 - 12.5 / 32 at the ends
    [0.5, 0.36, 0.609]
    """
    low, high = _around_p90(len(before))
    was, now = np.maximum(np.sort(before), TINY), np.sort(after)
    whole = 1.0 - np.quantile(now, 0.9) / np.quantile(was, 0.9)
    return float(whole), float(1.0 - now[high] / was[low]), float(1.0 - now[low] / was[high])


def _around_p90(count: int) -> tuple[int, int]:
    """Places, in order of size, of the peaks between which 90 % lies, with 2.5 % beyond either side.

    >>> _around_p90(32), _around_p90(12), _around_p90(1)
    ((24, 31), (7, 11), (0, 0))
    """
    shares = [math.comb(count, k) * 0.9**k * 0.1 ** (count - k) for k in range(count + 1)]  # of k peaks below it
    below = np.cumsum(shares)
    low = max((k for k in range(count) if below[k] <= TAIL), default=0)
    high = min((k for k in range(count) if 1.0 - below[k] <= TAIL), default=count - 1)
    return low, high
