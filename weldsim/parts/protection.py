"""The breaker or fuse in front of the supply: rated current and the band in which it trips at once."""

from dataclasses import dataclass

from weldsim import units

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
        if (low is None) != (high is None):
            return [("magnetic_low", "give magnetic_low and magnetic_high, or neither")]
        if low is not None and high is not None and low > high:
            return [("magnetic_low", f"{low:g} is above magnetic_high = {high:g}")]
        return []


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
    low, high = _BANDS.get(breaker.curve, (None, None))
    low = breaker.magnetic_low if breaker.magnetic_low is not None else low
    high = breaker.magnetic_high if breaker.magnetic_high is not None else high
    if low is None or high is None:
        return None
    return low * breaker.current, high * breaker.current
