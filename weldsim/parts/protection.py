"""The breaker or fuse in front of the supply: rated current and the band in which it trips at once."""

from weldsim import units
from weldsim.frozen import dataclass

# Multiples of the rated current between which the magnetic part trips at once: IEC 60898-1, type B, C and D (seen in
# makers' manuals); thermal-magnetic: common practice, no published source.
_BANDS = {"B": (3.0, 5.0), "C": (5.0, 10.0), "D": (10.0, 20.0), "thermal-magnetic": (8.0, 14.0)}


@dataclass(frozen=True, kw_only=True)
class Breaker:
    """Table [breaker]: what stands between the supply and the house."""

    curve: str = units.choice((*_BANDS, "gG"), doc="kind of breaker, or fuse (gG)")
    current: float = units.quantity("current", doc="rated current", low="0.5 A", high="1 kA")
    magnetic_low: float | None = units.ratio(
        doc="lower edge of instantaneous tripping over rated current", low=1.0, high=100.0, default=None
    )
    magnetic_high: float | None = units.ratio(
        doc="upper edge of instantaneous tripping over rated current", low=1.0, high=100.0, default=None
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other."""
        low, high = self.magnetic_low, self.magnetic_high
        if self.curve not in _BANDS and not low is high is None:
            return [("magnetic_low", f"a fuse ({self.curve}) has no magnetic part; leave both edges out")]
        if (low is None) != (high is None):
            return [("magnetic_low", "give magnetic_low and magnetic_high, or neither")]
        if low is not None and high is not None and low > high:
            return [("magnetic_low", f"{low:g} is above magnetic_high = {high:g}")]
        return []


def magnetic_multiples(breaker: Breaker) -> tuple[float, float, float] | None:
    """Where the magnetic part trips, in multiples of the rated current: lower edge, middle and upper edge.

    Parameters
    ----------
    breaker : Breaker
        The table [-].

    Returns
    -------
    tuple of float, or None
        Lower edge, mean of both and upper edge, rms over rated current [1]; None for a fuse (gG).

    Notes
    -----
    Own edges of the table come before those of its curve. Where in the band one breaker lies is not known; the middle
    is a figure to count with, not the likeliest value.

    Examples
    --------
    >>> magnetic_multiples(Breaker(curve="C", current=16.0))
    (5.0, 7.5, 10.0)

    References
    ----------
    IEC 60898-1, bands of types B, C and D (as given in makers' manuals); thermal-magnetic: common practice.
    """
    if breaker.curve not in _BANDS:
        return None
    low, high = _BANDS[breaker.curve]
    low = low if breaker.magnetic_low is None else breaker.magnetic_low
    high = high if breaker.magnetic_high is None else breaker.magnetic_high
    return low, 0.5 * (low + high), high


def instantaneous_band(breaker: Breaker) -> tuple[float, float] | None:
    """Currents between which the breaker may, and above which it must, trip at once.

    Parameters
    ----------
    breaker : Breaker
        The table [-].

    Returns
    -------
    tuple of float, or None
        Lower and upper edge, rms [A]; None for a fuse (gG), which has no magnetic part.

    Notes
    -----
    The standard tests with 0.1 s of current; that one half cycle counts by its peak over sqrt 2 is common practice.
    The heat-driven part of the breaker is not in it.

    Examples
    --------
    >>> instantaneous_band(Breaker(curve="B", current=16.0))
    (48.0, 80.0)

    References
    ----------
    IEC 60898-1, bands of types B, C and D (as given in makers' manuals).
    """
    multiples = magnetic_multiples(breaker)
    if multiples is None:
        return None
    return multiples[0] * breaker.current, multiples[2] * breaker.current
