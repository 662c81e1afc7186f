"""What a breaker or fuse feels of a press, and how many of many presses go beyond its band."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from weldsim.parts.breaker_curves import fuse_window
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.runs.half_cycles import HalfCycle
from weldsim.runs.presses import LOOKED_AT

SAMPLES = 2000  # drawn for the interval of a gain
TINY = 1e-9  # [A] stands for no peak at all


@dataclass(frozen=True)
class Trips:
    """Presses beyond a breaker's instantaneous band, or beyond a fuse's window of I2t."""

    count: int
    above_low: int
    above_middle: int
    above_high: int


def called(breaker: Breaker) -> str:
    """A breaker or fuse as the trade calls it.

    >>> called(Breaker(curve="C", current=16.0)), called(Breaker(curve="gG", current=10.0))
    ('C16 breaker', 'gG 10 A fuse')
    """
    if instantaneous_band(breaker) is None:
        return f"{breaker.curve} {breaker.current:g} A fuse"
    if len(breaker.curve) > 1:
        return f"{breaker.curve} breaker of {breaker.current:g} A"
    return f"{breaker.curve}{breaker.current:g} breaker"


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


def press_i2t(half_cycles: Sequence[HalfCycle]) -> float:
    """I2t of the half cycles that begin in the first 60 ms of a press, added up [A2 s]."""
    return sum(half.i2t for half in half_cycles if half.begin < LOOKED_AT)


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

    The interval is what 2000 samples, drawn with replacement from the pairs, give between 2.5 and 97.5 % (Efron 1979).

    >>> peaks = np.linspace(60.0, 100.0, 41)
    >>> gain_of_p90(peaks, 0.5 * peaks)
    (0.5, 0.5, 0.5)
    """
    count = len(before)
    drawn = np.random.Generator(np.random.PCG64(count)).integers(count, size=(SAMPLES, count))
    was, now = (np.quantile(peaks[drawn], 0.9, axis=1) for peaks in (before, after))
    gains = 1.0 - now / np.maximum(was, TINY)
    whole = 1.0 - np.quantile(after, 0.9) / max(np.quantile(before, 0.9), TINY)
    return float(whole), float(np.quantile(gains, 0.025)), float(np.quantile(gains, 0.975))
