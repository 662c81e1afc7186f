"""Harmonic currents beside the limits of the standards: a verdict and a margin for each row.

Which standard asks what of an arc welding supply on a public network:

    up to 16 A, 220 V and above, not professional   IEC 61000-3-2 class B (charger, resistance welder: class A)
    up to 16 A, professional                        outside IEC 61000-3-2; IEC 61000-3-12 may be used instead
    above 16 A, up to 75 A                          IEC 61000-3-12, by short-circuit ratio
    below 220 V (North America, Japan)              no limit for the single appliance; IEEE 519 for the whole customer

Every function takes rms values of orders 1, 2, 3 ... (lines, groups or subgroups).  Rows and how each is known are in
weldsim/data/limits; ``limit_tables.NO_CERTIFICATE`` belongs beside every verdict.
"""

import math

import numpy as np

from weldsim.analysis.grouping import demand_distortion, partial_weighted_current, total_harmonic_current
from weldsim.analysis.limit_tables import Limit, LimitVerdict, limit_rows, needed_orders
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass


@dataclass(frozen=True)
class Scope:
    """The table of limits that holds for a supply ("" where none does), its condition, and why."""

    table: str
    condition: str
    reason: str


def emission_scope(*, voltage: float, current: float, professional: bool = False, welds: bool = True) -> Scope:
    """Which limits of harmonic current an arc welding supply, or a relative that does not weld, falls under.

    Parameters
    ----------
    voltage : float
        Nominal voltage between line and neutral, rms [V].
    current : float
        Rated input current, rms [A].
    professional : bool
        Made for trades and industry, not for sale to the public [yes or no].
    welds : bool
        Arc welding equipment; no for a charger or a resistance welder [yes or no].

    Returns
    -------
    Scope
        Table, condition and reason [text].

    Notes
    -----
    Scope texts seen in extracts; the law of the place may ask for more or less, and the network operator too.

    Examples
    --------
    >>> [emission_scope(voltage=230.0, current=14.0, welds=welds).condition for welds in (True, False)]
    ['class B', 'class A']
    >>> emission_scope(voltage=230.0, current=24.0).table, emission_scope(voltage=120.0, current=20.0).table
    ('iec_61000_3_12', '')

    References
    ----------
    IEC 61000-3-2:2020, clauses 1 and 5 (seen); IEC 61000-3-12, clause 1 (seen).
    """
    if voltage < 220.0:
        reason = "below 220 V between line and neutral: the IEC limits are not yet considered there (IEC 61000-3-2, 1)"
        return Scope("", "", f"{reason}; IEEE 519 judges the whole customer at the point of common coupling")
    if current > 75.0:
        return Scope("", "", "above 75 A: the network operator decides (IEC 61000-3-12, 1)")
    if current > 16.0:
        return Scope("iec_61000_3_12", "", "above 16 A and up to 75 A: IEC 61000-3-12, by short-circuit ratio")
    if not welds:
        return Scope("iec_61000_3_2", "class A", "up to 16 A and no arc welding equipment: IEC 61000-3-2, class A (5)")
    if professional:
        reason = "professional arc welding equipment is outside IEC 61000-3-2; IEC 61000-3-12 may be used instead"
        return Scope("iec_61000_3_12", "", reason)
    reason = "arc welding up to 16 A: IEC 61000-3-2, class B (5), 1.5 times class A; a professional set is outside it"
    return Scope("iec_61000_3_2", "class B", reason)


def against_iec_61000_3_2(rms: np.ndarray, *, condition: str = "class B", total: float = 0.0) -> list[LimitVerdict]:
    """Harmonic currents beside IEC 61000-3-2, orders 2 to 40.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first, at least 40 [A].
    condition : str
        "class A" or "class B" [name].
    total : float
        Input current, rms, for the rule on small harmonics; 0 leaves 5 mA [A].

    Returns
    -------
    list of LimitVerdict
        One verdict per order, lowest first [A].

    Notes
    -----
    The mean over the observation is meant; smoothed single windows may reach 1.5 times the limit (from memory).
    Currents below 0.6 % of the input current or 5 mA, whichever is more, are disregarded (from memory).

    Examples
    --------
    A primary at 90 degrees, 16.9 A of fundamental and 13.9 A of third:

    >>> rms = np.zeros(40)
    >>> rms[[0, 2, 4, 6]] = 16.9, 13.9, 9.2, 4.5
    >>> verdict = next(row for row in against_iec_61000_3_2(rms) if not row.kept)
    >>> verdict.quantity, verdict.most, round(verdict.margin, 2)
    ('3', 3.45, -3.03)

    References
    ----------
    IEC 61000-3-2, clause 7; status in the rows.
    """
    rows = limit_rows("iec_61000_3_2")
    small = {row.quantity: row.value for row in rows if row.condition == "disregarded"}
    wanted = [row for row in rows if row.condition == condition != "disregarded"]
    if not wanted:
        raise QuestionError(f"'{condition}' is not class A or class B", place="IEC 61000-3-2")
    values = needed_orders(rms, 40)
    floor = max(small["floor"], small["share"] * total)
    found = {str(order): float(value) for order, value in enumerate(values, start=1)}
    return [
        LimitVerdict(row.quantity, found[row.quantity], row.value, row, found[row.quantity] < floor) for row in wanted
    ]


def short_circuit_ratio(*, voltage: float, impedance: float, current: float) -> float:
    """How stiff the supply is beside the equipment: Rsce of single-phase equipment.

    Rsce = S_sc / (3 S_equ) = U / (Z I), with S_sc = 3 U^2 / Z and S_equ = U I

    Parameters
    ----------
    voltage : float
        Nominal voltage between line and neutral, rms [V].
    impedance : float
        Magnitude of the line impedance at the point of connection [ohm].
    current : float
        Rated input current, rms [A].

    Returns
    -------
    float
        Ratio; infinite for an ideal source [1].

    Notes
    -----
    The standard takes the impedance of the line alone; with that of the loop the ratio is stricter.  With the
    prospective current at the coupling point and the customer's demand this is also the Isc/IL of IEEE 519.

    Examples
    --------
    A 20 A supply at the reference impedance of the line, 0.24 + j 0.15 ohm:

    >>> round(short_circuit_ratio(voltage=230.0, impedance=abs(0.24 + 0.15j), current=20.0), 1)
    40.6

    References
    ----------
    IEC 61000-3-12, clause 3 (definitions seen in an instrument's manual); written for one phase here.
    """
    return voltage / (impedance * current) if impedance * current else math.inf


def against_iec_61000_3_12(rms: np.ndarray, *, ratio: float, reference: float | None = None) -> list[LimitVerdict]:
    """Harmonic currents beside IEC 61000-3-12, not balanced three-phase: orders to 13, THC and PWHC.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first, at least 40 [A].
    ratio : float
        Short-circuit ratio Rsce [1].
    reference : float or None
        Reference current Iref, the fundamental; None: that of ``rms`` [A].

    Returns
    -------
    list of LimitVerdict
        Orders, lowest first, then THC and PWHC, as shares of Iref [1].

    Notes
    -----
    Limits between two rows are interpolated (from memory: allowed); below Rsce 33 those of 33 hold, above 350 those of
    350.  The whole table is from memory, 92 % sure.

    Examples
    --------
    >>> rms = np.zeros(40)
    >>> rms[[0, 2, 4]] = 20.0, 5.0, 1.0
    >>> failed = [row for row in against_iec_61000_3_12(rms, ratio=33.0) if not row.kept]
    >>> [(row.quantity, round(row.found, 3), row.most) for row in failed]
    [('3', 0.25, 0.216), ('THC', 0.255, 0.23)]

    References
    ----------
    IEC 61000-3-12:2011, table 2 (from memory, 92 % sure).
    """
    found = _shares_of_iref(rms, reference)
    verdicts = []
    for quantity, (steps, rows) in _ratio_table().items():
        most = float(np.interp(ratio, steps, [row.value for row in rows]))
        valid = rows[max(int(np.searchsorted(steps, ratio, side="right")) - 1, 0)]
        verdicts.append(LimitVerdict(quantity, found[quantity], most, valid))
    return verdicts


def ratio_needed(rms: np.ndarray, *, reference: float | None = None) -> float:
    """Least short-circuit ratio at which harmonic currents keep IEC 61000-3-12.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first, at least 40 [A].
    reference : float or None
        Reference current Iref; None: the fundamental of ``rms`` [A].

    Returns
    -------
    float
        Rsce, 33 where every network will do, infinite where none does [1].

    Notes
    -----
    The instructions then have to say: connect only where the short-circuit power is at least 3 Rsce times the
    apparent power of the supply.

    Examples
    --------
    A third of 30 % of the fundamental asks for more than 120 (27 %) and less than 250 (35 %):

    >>> rms = np.zeros(40)
    >>> rms[[0, 2]] = 20.0, 6.0
    >>> round(ratio_needed(rms), 2)
    168.75

    References
    ----------
    IEC 61000-3-12:2011, table 2 (from memory, 92 % sure); inverse interpolation: derived here.
    """
    found = _shares_of_iref(rms, reference)
    needed = 33.0
    for quantity, (steps, rows) in _ratio_table().items():
        values = [row.value for row in rows]
        if found[quantity] > values[-1]:
            return math.inf
        if len(steps) > 1:
            needed = max(needed, float(np.interp(found[quantity], values, steps)))
    return needed


def against_ieee_519(rms: np.ndarray, *, demand: float, ratio: float) -> list[LimitVerdict]:
    """Harmonic currents of a customer beside IEEE 519, orders 2 to 50 and TDD.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first; orders that are not handed over are not judged [A].
    demand : float
        Maximum demand load current at the point of common coupling, IL [A].
    ratio : float
        Prospective short-circuit current there over ``demand``, Isc/IL [1].

    Returns
    -------
    list of LimitVerdict
        Orders, lowest first, then TDD, as shares of IL [1].

    Notes
    -----
    Even orders have a quarter of the limit of the range they lie in, order 2 that of the first range.  Meant for the
    whole customer, not for one appliance: with the demand of the house the shares are smaller.  All from memory.

    Examples
    --------
    >>> rms = np.zeros(40)
    >>> rms[[0, 2, 4]] = 18.0, 9.0, 5.0
    >>> [(row.quantity, row.most) for row in against_ieee_519(rms, demand=100.0, ratio=120.0) if not row.kept]
    []
    >>> [(row.quantity, row.most) for row in against_ieee_519(rms, demand=40.0, ratio=30.0) if not row.kept]
    [('3', 0.07), ('5', 0.07), ('TDD', 0.08)]

    References
    ----------
    IEEE 519, table 2 (from memory, 95 % sure).
    """
    if not demand > 0.0:
        raise QuestionError("the demand current must be above zero", place="IEEE 519")
    rows = limit_rows("ieee_519")
    even = next(row for row in rows if row.quantity == "even")
    steps = sorted({float(row.condition) for row in rows if row.condition != "any"})
    step = steps[max(int(np.searchsorted(steps, ratio, side="right")) - 1, 0)]
    wanted = [row for row in rows if row.condition != "any" and float(row.condition) == step]
    values = np.asarray(rms, np.float64)
    verdicts = []
    for order in range(2, min(len(values), 50) + 1):
        limit = _range_of(order, wanted)
        most = limit.value * (even.value if order % 2 == 0 else 1.0)
        verdicts.append(LimitVerdict(str(order), float(values[order - 1]) / demand, most, limit))
    total = next(row for row in wanted if row.quantity == "TDD")
    return [*verdicts, LimitVerdict("TDD", demand_distortion(values, demand=demand), total.value, total)]


def _shares_of_iref(rms: np.ndarray, reference: float | None) -> dict[str, float]:
    """What IEC 61000-3-12 limits, over the reference current."""
    values = needed_orders(rms, 40)
    base = float(values[0]) if reference is None else reference
    if not base > 0.0:
        raise QuestionError("the reference current must be above zero", place="IEC 61000-3-12")
    shares = {str(order): float(values[order - 1]) / base for order in range(2, 41)}
    shares["THC"] = total_harmonic_current(values) / base
    shares["PWHC"] = partial_weighted_current(values) / base
    return shares


def _ratio_table() -> dict[str, tuple[list[float], list[Limit]]]:
    """Quantity -> short-circuit ratios and rows, orders first, sums last; a row for any ratio stands alone at zero."""
    table: dict[str, list[Limit]] = {}
    for row in limit_rows("iec_61000_3_12"):
        table.setdefault(row.quantity, []).append(row)
    names = sorted(table, key=lambda name: (not name.isdigit(), int(name) if name.isdigit() else 0, name != "THC"))
    steps = {name: [0.0 if row.condition == "any" else float(row.condition) for row in table[name]] for name in names}
    return {name: (steps[name], table[name]) for name in names}


def _range_of(order: int, rows: list[Limit]) -> Limit:
    """The row whose range holds an order; order 2 goes with the first."""
    for row in rows:
        first, _, last = row.quantity.partition("-")
        if last and int(first) <= max(order, 3) <= int(last):
            return row
    raise QuestionError(f"order {order} is in no range", place="IEEE 519")
