"""Leads by the tables of the trade: resistance of flexible cable, gauge numbers, voltage drop, current by duty.

A scenario's leads are computed in ``parts.cable`` from one resistivity; these tables check that and choose a section.
"""

import csv
import math
from functools import cache
from pathlib import Path

from weldsim.errors import QuestionError

PLACE = Path(__file__).resolve().parents[1] / "data" / "conductors"
_COPPER = 0.00393  # [1/K] at 20 degC, IEC 60028 (from memory, 99 % sure); IEC 60228 rounds it to 0.004
_SQUARE_MILLIMETRE = 1e-6  # [m2]


def class_5_table(*, tinned: bool = False) -> dict[float, float]:
    """Largest resistance of flexible copper conductors at 20 degC by nominal section.

    Parameters
    ----------
    tinned : bool
        Tinned wires instead of plain ones [yes or no].

    Returns
    -------
    dict of float to float
        Nominal section [m2] to resistance per length [ohm/m].

    Notes
    -----
    A limit that makers may stay below by a few percent, not a mean.  0.5 to 120 mm2.

    Examples
    --------
    >>> round(1e3 * class_5_table()[25e-6], 3)
    0.78

    References
    ----------
    IEC 60228, classes 5 and 6 (seen in makers' tables).
    """
    column = "tinned_ohm_per_km" if tinned else "plain_ohm_per_km"
    return {_section(row["section_mm2"]): 1e-3 * float(row[column]) for row in _rows("class_5")}


def class_5_resistance(section: float, *, temperature: float = 20.0, tinned: bool = False) -> float:
    """Resistance per length of a flexible copper conductor of nominal section.

    R' = R'_20 (1 + 0.00393 (t - 20))

    Parameters
    ----------
    section : float
        Nominal section [m2].
    temperature : float
        Temperature of the copper [degC].
    tinned : bool
        Tinned wires instead of plain ones [yes or no].

    Returns
    -------
    float
        Resistance per length [ohm/m].

    Notes
    -----
    Direct current; skin effect is below 1 % at mains frequency up to 120 mm2.

    Examples
    --------
    >>> round(1e3 * class_5_resistance(1.5e-6), 2), round(1e3 * class_5_resistance(1.5e-6, temperature=85.0), 2)
    (13.30, 16.70)

    References
    ----------
    IEC 60228, class 5 (seen); IEC 60028 for the temperature (from memory, 99 % sure).
    """
    table = class_5_table(tinned=tinned)
    nearest = min(table, key=lambda size: abs(math.log(size / section)) if section > 0.0 else size)
    if not math.isclose(nearest, section, rel_tol=1e-6):
        raise QuestionError(
            f"{section / _SQUARE_MILLIMETRE:g} mm2 is no nominal section of class 5",
            place="conductors",
            advice=f"the nearest is {nearest / _SQUARE_MILLIMETRE:g} mm2",
        )
    return table[nearest] * (1.0 + _COPPER * (temperature - 20.0))


def gauge_section(number: int) -> float:
    """Section of a wire of the American wire gauge.

    d = 0.127 mm 92^((36 - n) / 39)

    Parameters
    ----------
    number : int
        Gauge number; 0, -1, -2, -3 for 1/0, 2/0, 3/0, 4/0 [1].

    Returns
    -------
    float
        Section of the solid wire [m2].

    Notes
    -----
    Stranded wire of a number has the same metal within a percent or two.

    Examples
    --------
    >>> [round(1e6 * gauge_section(number), 2) for number in (14, 12, 10, 4)]
    [2.08, 3.31, 5.26, 21.15]

    References
    ----------
    ASTM B258 (from memory, 99 % sure).
    """
    return 0.25 * math.pi * (0.127e-3 * 92.0 ** ((36 - number) / 39)) ** 2


def cable_drop(current: float, *, length: float, section: float, temperature: float = 20.0) -> float:
    """Direct voltage drop along flexible copper cable.

    U = I R' l

    Parameters
    ----------
    current : float
        Current [A].
    length : float
        Length of conductor, out and back together [m].
    section : float
        Nominal section [m2].
    temperature : float
        Temperature of the copper [degC].

    Returns
    -------
    float
        Drop [V].

    Notes
    -----
    Contacts, clamp and inductance come on top.

    Examples
    --------
    150 A through 20 m of warm 35 mm2:

    >>> round(cable_drop(150.0, length=20.0, section=35e-6, temperature=60.0), 2)
    1.92

    References
    ----------
    Ohm's law on IEC 60228, class 5; within 3 % of the welding-cable table of BS 638-4.
    """
    return current * length * class_5_resistance(section, temperature=temperature)


def section_needed(current: float, *, length: float, drop: float, temperature: float = 20.0) -> float | None:
    """Smallest nominal section of flexible copper cable that keeps a voltage drop.

    Parameters
    ----------
    current : float
        Current [A].
    length : float
        Length of conductor, out and back together [m].
    drop : float
        Largest drop that is wanted [V].
    temperature : float
        Temperature of the copper [degC].

    Returns
    -------
    float or None
        Nominal section; None where even 120 mm2 drops more [m2].

    Notes
    -----
    Says nothing of heat: a short cable may keep the drop and still burn.  4 V is the trade's rule for weld leads.

    Examples
    --------
    >>> round(1e6 * section_needed(200.0, length=45.0, drop=4.0))
    50

    References
    ----------
    IEC 60228, class 5; the rule of 4 V seen in the manual of a welding machine.
    """
    for section in sorted(class_5_table()):
        if cable_drop(current, length=length, section=section, temperature=temperature) <= drop:
            return section
    return None


def duty_multiplier(duty: float) -> float:
    """What the rated primary current of an arc welder is multiplied by to find the ampacity of its supply conductors.

    Parameters
    ----------
    duty : float
        Duty cycle, 0 to 1 [1].

    Returns
    -------
    float
        Multiplier by the table, that of the next higher row in between [1].

    Notes
    -----
    The table is the root of the duty, rounded: see ``effective_current``.  Local codes decide.

    Examples
    --------
    A welder of 30 A primary at 35 % duty needs conductors for 18.9 A:

    >>> round(30.0 * duty_multiplier(0.35), 1)
    18.9

    References
    ----------
    NEC 630.11(A), arc welders without motor-generator (seen, edition of 2008).
    """
    if not 0.0 <= duty <= 1.0:
        raise QuestionError(f"a duty of {duty:g} does not lie between 0 and 1", place="conductors")
    rows = {0.01 * float(row["duty_percent"]): float(row["multiplier"]) for row in _rows("duty_multiplier")}
    return rows[min(share for share in rows if share >= duty - 1e-9)]


def effective_current(loaded: float, *, duty: float, idle: float = 0.0) -> float:
    """Rms over whole duty cycles: the current that heats conductors as the welder does.

    I_eff = sqrt(I_1^2 X + I_0^2 (1 - X))

    Parameters
    ----------
    loaded : float
        Primary current while welding, rms [A].
    duty : float
        Duty cycle X, 0 to 1 [1].
    idle : float
        Primary current between welds, rms [A].

    Returns
    -------
    float
        Effective current [A].

    Notes
    -----
    For cycles much shorter than the conductor takes to warm up (minutes); a fuse or breaker sees the peaks.

    Examples
    --------
    >>> round(effective_current(30.0, duty=0.35, idle=1.0), 2)
    17.77

    References
    ----------
    IEC 60974-1, maximum effective supply current I1eff (formula from memory, 97 % sure).
    """
    if not 0.0 <= duty <= 1.0:
        raise QuestionError(f"a duty of {duty:g} does not lie between 0 and 1", place="conductors")
    return math.sqrt(loaded**2 * duty + idle**2 * (1.0 - duty))


def _section(text: str) -> float:
    """Square millimetres as written -> square metres, equal to a float typed as 1.5e-6."""
    return float(f"{text}e-6")


@cache
def _rows(table: str) -> tuple[dict[str, str], ...]:
    with (PLACE / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))
