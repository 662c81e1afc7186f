"""A choke to measure: the fewest turns and the gap on a given core that keep an inductance at a current.

At the current I the ampere turns fall on iron and gap, N I = H(B) l + F B.  With the flux density B chosen, F (the
gap's share) follows, and with it the incremental inductance N^2 A / (dH/dB l + F).  A small gap leaves the iron full, a
large one wastes ampere turns; in between lies the best B of each number of turns.
"""

import math

from weldsim.frozen import dataclass
from weldsim.parts.steel import MU_0, STEELS, Steel, law_field

MOST_TURNS = 5000
MOST_SECTION, NEAR_SECTION = 20.0, 1.03  # times the section that is too small; between the one told and one that is
SIDE_SHARE = 1.0 / 3.0  # of a core's side: a wider gap is more air than the formula knows
_DENSITIES = [0.02 * k for k in range(5, 103)]  # [T] looked at
_STEP = 1e-4  # [T] of the iron's slope


@dataclass(frozen=True)
class Winding:
    """A choke on a core: what to wind, what to leave open, what it gives."""

    turns: int
    gap: float  # [m] all gaps along the path added up
    flux_density: float  # [T] at the current asked for
    inductance: float  # [H] incremental, at that current
    at_rest: float  # [H] at small current


def smallest_winding(
    inductance: float, current: float, *, section: float, path_length: float, steel: str = "unknown"
) -> Winding | None:
    """The fewest turns, with their best gap, that keep an incremental inductance at a current.

    Parameters
    ----------
    inductance : float
        Wanted at the current [H].
    current : float
        Largest current that must not saturate it [A].
    section, path_length : float
        Of the iron [m2], [m].
    steel : str
        One of ``STEELS`` [name].

    Returns
    -------
    Winding or None
        None where no winding of up to 5000 turns on this core does it [-].

    Notes
    -----
    Fringing widens the gap's section by one gap on each side of a square core, as ``gap_section``; iron without
    friction.  A gap beyond a third of the core's side is more air than the formula knows: a sign that the core is
    small.  Whether the turns find room in the window is not judged: copper at 4 to 8 A/mm2 fills a third of it.

    Examples
    --------
    0.3 mH at 260 A on 20 cm2 of plain sheet:

    >>> found = smallest_winding(0.3e-3, 260.0, section=20e-4, path_length=0.3, steel="non-oriented")
    >>> found.turns, round(1e3 * found.gap, 1), round(found.flux_density, 2), round(1e3 * found.inductance, 3)
    (34, 14.7, 1.3, 0.301)

    References
    ----------
    Derived here from the ampere-turn law; ``core_current`` is the same law the other way round.
    """
    least = max(1, math.floor(inductance * current / (section * 2.5)))
    for turns in range(least, MOST_TURNS + 1):
        found = _best_gap(turns, current, section=section, path_length=path_length, steel=STEELS[steel])
        if found is not None and found.inductance >= inductance:
            return found
    return None


def smallest_section(
    inductance: float, current: float, *, section: float, path_length: float, steel: str = "unknown"
) -> float | None:
    """The least section, from one that is too small on, on which a winding keeps an inductance at a current.

    Parameters
    ----------
    inductance : float
        Wanted at the current [H].
    current : float
        Largest current that must not saturate it [A].
    section, path_length : float
        Of the iron that is too small [m2], [m]; the path stays.
    steel : str
        One of ``STEELS`` [name].

    Returns
    -------
    float or None
        Section [m2], to 3 %; None where twenty times as much would not do.

    Notes
    -----
    With a gap of at most a third of the core's side, as the formula of its fringing asks for.  The window is not
    judged.

    Examples
    --------
    0.23 mH at 390 A on a path of 30 cm want two fifths more than 20 cm2:

    >>> found = smallest_section(0.23e-3, 390.0, section=20e-4, path_length=0.3, steel="non-oriented")
    >>> round(1e4 * found)
    28

    References
    ----------
    Derived here: ``smallest_winding``, tried.
    """

    def does(tried: float) -> bool:
        found = smallest_winding(inductance, current, section=tried, path_length=path_length, steel=steel)
        return found is not None and found.gap <= SIDE_SHARE * math.sqrt(tried)

    low, high = section, 2.0 * section
    while not does(high):
        low, high = high, 2.0 * high
        if high > MOST_SECTION * section:
            return None
    while high > NEAR_SECTION * low:
        middle = math.sqrt(low * high)
        low, high = (low, middle) if does(middle) else (middle, high)
    return high


def _best_gap(turns: int, current: float, *, section: float, path_length: float, steel: Steel) -> Winding | None:
    """The gap that leaves these turns the most inductance at the current."""
    best: Winding | None = None
    iron_at_rest = _slope(steel, 0.01) * path_length
    for density in _DENSITIES:
        left = turns * current - _field(steel, density) * path_length
        if left <= 0.0:
            break
        of_gap = left / density
        gap = _gap_for(of_gap, section)
        if gap is None:
            continue
        inductance = turns**2 * section / (_slope(steel, density) * path_length + of_gap)
        if best is None or inductance > best.inductance:
            best = Winding(turns, gap, density, inductance, turns**2 * section / (iron_at_rest + of_gap))
    return best


def _field(steel: Steel, density: float) -> float:
    return law_field(steel, density, low_field_slope=steel.coercive_field)


def _slope(steel: Steel, density: float) -> float:
    """dH/dB of the law [A/(m T)]."""
    return (_field(steel, density + _STEP) - _field(steel, density - _STEP)) / (2.0 * _STEP)


def _gap_for(of_gap: float, section: float) -> float | None:
    """The gap [m] that takes so many ampere turns per tesla in the iron, fringing included; None where fringing wins.

    mu0 F = A g / (s + g)^2 with s^2 = A: the smaller root of q g^2 + (2 q s - A) g + q A = 0, q = mu0 F.
    """
    side, q = math.sqrt(section), MU_0 * of_gap
    middle = section - 2.0 * q * side
    inside = middle**2 - 4.0 * q**2 * section
    return (middle - math.sqrt(inside)) / (2.0 * q) if middle > 0.0 and inside >= 0.0 else None
