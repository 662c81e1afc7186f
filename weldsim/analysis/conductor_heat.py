"""How warm a lead and its plug become: from the current that a table allows, by the square of the current.

The rise of a conductor goes with its heat, and the heat with the square of the current; so one point of a table, the
current that brings a lead of 30 degC to its limit, gives every other, and the factor for a drum shifts that point.
"""

import csv
import math
from functools import cache

from weldsim.analysis.conductors import PLACE

AMBIENT = 30.0  # [degC] of the table
LIMIT = 70.0  # [degC] of PVC; rubber 60 degC
BURNS = 160.0  # [degC] what PVC bears for the seconds of a short circuit: IEC 60364-4-43, from memory, 90 %
WELD_LIMIT = 85.0  # [degC] of the rubber of a weld cable
LAYERS = 3  # on a drum that is not unwound, common practice: 25 to 50 m on a hand-held reel
_PLUG_RISE, _PLUG_TEST = 45.0, 22.0 / 16.0  # [K] at most, at this share of the rating: IEC 60884-1, from memory, 85 %
CYCLE = 600.0  # [s] of which the duty is a share
# Time constants [s].  Laid out, and of a weld cable: heat that a metre holds, copper and cover of common leads, over
# what the tables let it give off per kelvin (derived here, good to 40 %).  On a drum, and of a plug: common practice.
LEAD_TIME, DRUM_TIME, WELD_TIME, PLUG_TIME = 300.0, 1200.0, 450.0, 900.0
CONTACTS = 2 * 5e-3  # [ohm] both poles of a good plug and socket (common practice, no published source)


def flexible_rating(section: float) -> float:
    """Current that a flexible lead carries for ever, laid out in air.

    Parameters
    ----------
    section : float
        Section of one core [m2].

    Returns
    -------
    float
        Current that warms the cores from 30 to 70 degC, rms [A].

    Notes
    -----
    Between the table's sections, and beyond its ends, on a straight line of logarithms.  Two or three loaded cores; the
    table is from memory, 85 % sure.  Local codes decide.

    Examples
    --------
    >>> flexible_rating(1.5e-6), round(flexible_rating(2.08e-6), 1)
    (18.0, 22.8)

    References
    ----------
    HD 60364-5-52 family, flexible cables (from memory, 85 %).
    """
    return _rated("flexible_rating", section)


def weld_cable_rating(section: float) -> float:
    """Current that a single weld cable carries for ever, laid out in air.

    Parameters
    ----------
    section : float
        Section [m2].

    Returns
    -------
    float
        Current that warms the copper from 30 to 85 degC, rms [A].

    Notes
    -----
    As ``flexible_rating``; the table is from memory, 85 % sure.

    Examples
    --------
    >>> weld_cable_rating(25e-6), weld_cable_rating(16e-6)
    (180.0, 135.0)

    References
    ----------
    EN 50565 family, welding cables (from memory, 85 %).
    """
    return _rated("weld_cable_rating", section)


def weld_cable_temperature(current: float, *, section: float, ambient: float = AMBIENT) -> float:
    """Temperature that the copper of a weld cable settles at.

    t = ambient + 55 K (I / I_z)^2

    Parameters
    ----------
    current : float
        Current; rms over whole duty cycles where there are pauses [A].
    section : float
        Section [m2].
    ambient : float
        Air around [degC].

    Returns
    -------
    float
        Temperature of the copper [degC].

    Notes
    -----
    Settled, after a quarter of an hour, laid out.  As good as the table, which is from memory.

    Examples
    --------
    >>> round(weld_cable_temperature(180.0, section=25e-6)), round(weld_cable_temperature(100.0, section=16e-6))
    (85, 60)

    References
    ----------
    Derived here: rise goes with heat.
    """
    return ambient + (WELD_LIMIT - AMBIENT) * (current / weld_cable_rating(section)) ** 2


def known_temperature(settled: float) -> float:
    """A settled temperature as far as it means anything: not a number once the cover has burnt.

    Parameters
    ----------
    settled : float
        By ``lead_temperature`` or ``weld_cable_temperature`` [degC].

    Returns
    -------
    float
        The same up to 160 degC; beyond it the cover is gone, and with it what the figure stands on [degC].

    Examples
    --------
    >>> known_temperature(162.0), known_temperature(62.0)
    (nan, 62.0)

    References
    ----------
    IEC 60364-4-43 (from memory, 90 %).
    """
    return settled if settled <= BURNS else math.nan


def cover_at(settled: float, *, limit: float = LIMIT) -> str:
    """What a settled temperature does to the cover of a cable.

    Parameters
    ----------
    settled : float
        Temperature of the copper [degC].
    limit : float
        What the cover bears for ever [degC].

    Returns
    -------
    str
        "bears it", "too hot" or "burns" [-].

    Examples
    --------
    >>> cover_at(62.0), cover_at(95.0), cover_at(301.0)
    ('bears it', 'too hot', 'burns')

    References
    ----------
    As ``known_temperature``.
    """
    return "bears it" if settled <= limit else "too hot" if settled <= BURNS else "burns"


def _rated(table: str, section: float) -> float:
    """Current of a table of sections, between and beyond its rows on a straight line of logarithms [A]."""
    known = [(float(row["section_mm2"]), float(row["current_a"])) for row in _rows(table)]
    size = 1e6 * section
    place = next((k for k in range(1, len(known) - 1) if known[k][0] >= size), len(known) - 1)
    (small, less), (large, more) = known[place - 1], known[place]
    return float(less * (more / less) ** (math.log(size / small) / math.log(large / small)))


def reel_factor(layers: int) -> float:
    """What a lead left on its drum may carry, over what it carries laid out.

    Parameters
    ----------
    layers : int
        Layers on the drum; 0 is laid out, more than 5 count as 5 [1].

    Returns
    -------
    float
        Factor [1].

    Examples
    --------
    >>> reel_factor(0), reel_factor(3)
    (1.0, 0.49)

    References
    ----------
    VDE 0298-4, wound leads (from memory, 90 %).
    """
    factors = {int(row["layers"]): float(row["factor"]) for row in _rows("reel_factor")}
    return factors[min(layers, max(factors))] if layers > 0 else 1.0


def lead_temperature(current: float, *, section: float, layers: int = 0, ambient: float = AMBIENT) -> float:
    """Temperature that the cores of a lead settle at.

    t = ambient + 40 K (I / (f I_z))^2

    Parameters
    ----------
    current : float
        Current; rms over whole duty cycles where there are pauses [A].
    section : float
        Section of one core [m2].
    layers : int
        Layers on the drum, 0 laid out [1].
    ambient : float
        Air around [degC].

    Returns
    -------
    float
        Temperature of the copper [degC].

    Notes
    -----
    Settled, after a quarter of an hour laid out and an hour on a drum.  The growth of resistance with temperature
    beyond the limit is left out: real cores run hotter there.  As good as the table, which is from memory.

    Examples
    --------
    16 A through 1.5 mm2, laid out and on the drum:

    >>> round(lead_temperature(16.0, section=1.5e-6)), round(lead_temperature(16.0, section=1.5e-6, layers=3))
    (62, 162)

    References
    ----------
    Derived here: rise goes with heat.
    """
    allowed = reel_factor(layers) * flexible_rating(section)
    return ambient + (LIMIT - AMBIENT) * (current / allowed) ** 2


def cycle_current(current: float, *, duty: float, time: float, cycle: float = CYCLE) -> float:
    """Steady current that makes a conductor as warm as welds and pauses in turn do at the end of a weld.

    I (hottest) = I sqrt((1 - exp(-D T / tau)) / (1 - exp(-T / tau)))

    Parameters
    ----------
    current : float
        Current while welding, rms; nothing flows between welds [A].
    duty : float
        Share of the cycle with current, D [1].
    time : float
        Time constant of the conductor, tau [s].
    cycle : float
        Length of a cycle, T [s].

    Returns
    -------
    float
        Current, rms [A].

    Notes
    -----
    One time constant.  The root of the duty (``effective_current``) for cycles much shorter than it; more where the
    conductor follows the weld: a lead laid out swings by tens of kelvin.

    Examples
    --------
    40 A for 3.5 of 10 minutes, on a lead of 5 minutes, and by the root of the duty:

    >>> round(cycle_current(40.0, duty=0.35, time=300.0), 1), round(cycle_current(40.0, duty=0.35, time=1e6), 1)
    (30.5, 23.7)

    References
    ----------
    Derived here: first-order lag under a periodic square.
    """
    return current * math.sqrt(math.expm1(-duty * cycle / time) / math.expm1(-cycle / time))


def plug_rise(current: float, *, rating: float) -> float:
    """Temperature rise of the contacts of a plug and socket that just pass their standard.

    rise = 45 K (I / (1.375 I_rated))^2

    Parameters
    ----------
    current : float
        Current; rms over whole duty cycles where there are pauses [A].
    rating : float
        Rated current of the plug [A].

    Returns
    -------
    float
        Rise above the room at the terminals [K].

    Notes
    -----
    The standard allows 45 K at 22 A for a 16 A plug.  A new plug is cooler; a worn or loose one is beyond any figure.

    Examples
    --------
    >>> round(plug_rise(22.0, rating=16.0), 6), round(plug_rise(30.0, rating=16.0))
    (45.0, 84)

    References
    ----------
    IEC 60884-1, temperature rise (from memory, 85 %).
    """
    return _PLUG_RISE * (current / (_PLUG_TEST * rating)) ** 2


@cache
def _rows(table: str) -> tuple[dict[str, str], ...]:
    with (PLACE / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))
