"""Voltage harmonics and flicker beside EN 50160, IEEE 519 and IEC 61000-3-3: a verdict and a margin for each row.

``limit_tables.NO_CERTIFICATE`` belongs beside every verdict.
"""

import numpy as np

from weldsim.analysis.grouping import total_harmonic_current
from weldsim.analysis.limit_tables import LimitVerdict, limit_rows, needed_orders
from weldsim.errors import QuestionError


def against_en_50160(rms: np.ndarray) -> list[LimitVerdict]:
    """Harmonics of a voltage beside what a public supply may deliver by EN 50160: orders 2 to 25 and THD.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders of the voltage, order 1 first, at least 40 [V].

    Returns
    -------
    list of LimitVerdict
        Orders, lowest first, then THD, as shares of the fundamental [1].

    Notes
    -----
    The standard binds the supplier, over a week, for 95 % of the 10-minute means; here it tells whether a background or
    the voltage at the plug looks like one that consumers have to expect.

    Examples
    --------
    >>> rms = np.zeros(40)
    >>> rms[[0, 4, 14]] = 230.0, 7.0, 2.3
    >>> [(row.quantity, row.found, row.most) for row in against_en_50160(rms) if not row.kept]
    [('15', 0.01, 0.005)]

    References
    ----------
    EN 50160, 4.2.5 (values seen in two meter manuals).
    """
    values = needed_orders(rms, 40)
    if not values[0] > 0.0:
        raise QuestionError("there is no fundamental to refer the harmonics to", place="EN 50160")
    found = {str(order): float(values[order - 1] / values[0]) for order in range(2, 41)}
    found["THD"] = total_harmonic_current(values) / float(values[0])
    rows = [row for row in limit_rows("en_50160") if row.quantity in found]
    return [LimitVerdict(row.quantity, found[row.quantity], row.value, row) for row in rows]


def against_ieee_519_voltage(rms: np.ndarray) -> list[LimitVerdict]:
    """Harmonics of a voltage beside IEEE 519 for buses up to 1 kV: every order from 2 to 50, and THD.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders of the voltage, order 1 first; orders that are not handed over are not judged [V].

    Returns
    -------
    list of LimitVerdict
        Orders, lowest first, then THD, as shares of the fundamental [1].

    Notes
    -----
    Meant for the point of common coupling, which lies before the plug: a voltage that keeps them at the plug keeps them
    there, one that does not may.

    Examples
    --------
    >>> rms = np.zeros(40)
    >>> rms[[0, 2, 4]] = 120.0, 7.2, 3.6
    >>> [(row.quantity, row.found, row.most) for row in against_ieee_519_voltage(rms) if not row.kept]
    [('3', 0.06, 0.05)]

    References
    ----------
    IEEE 519, table 1 (from memory, 95 % sure).
    """
    values = np.asarray(rms, np.float64)[:50]
    if not len(values) or not values[0] > 0.0:
        raise QuestionError("there is no fundamental to refer the harmonics to", place="IEEE 519")
    each, total = limit_rows("ieee_519_voltage")
    shares = values[1:] / values[0]
    orders = [LimitVerdict(str(k), float(share), each.value, each) for k, share in enumerate(shares, start=2)]
    return [*orders, LimitVerdict("THD", float(np.linalg.norm(shares)), total.value, total)]


def against_iec_61000_3_3(figures: dict[str, float], *, condition: str = "attended while in use") -> list[LimitVerdict]:
    """Voltage changes and flicker beside IEC 61000-3-3.

    Parameters
    ----------
    figures : dict of str to float
        Any of "Pst", "Plt", "d_c", "time above 3.3 %", "d_max" [1, time in s].
    condition : str
        How it is switched, for d_max: "no further condition", "switched by hand", "attended while in use" [name].

    Returns
    -------
    list of LimitVerdict
        One verdict for each figure handed over [1 or s].

    Notes
    -----
    Holds for up to 16 A at the reference impedance 0.4 + j 0.25 ohm; above that, or where it is broken, the equipment
    may be connected only where the network is stiffer (IEC 61000-3-11).

    Examples
    --------
    >>> verdicts = against_iec_61000_3_3({"Pst": 1.4, "d_max": 0.05})
    >>> [(row.quantity, row.kept) for row in verdicts]
    [('Pst', False), ('d_max', True)]

    References
    ----------
    IEC 61000-3-3, clause 5 (values seen in a test system's manual, two from memory).
    """
    rows = limit_rows("iec_61000_3_3")
    conditions = {row.condition for row in rows} - {"any"}
    if condition not in conditions:
        raise QuestionError(f"'{condition}' is none of {', '.join(sorted(conditions))}", place="IEC 61000-3-3")
    wanted = [row for row in rows if row.condition in ("any", condition)]
    unknown = set(figures) - {row.quantity for row in wanted}
    if unknown:
        raise QuestionError(f"no limit is known for {', '.join(sorted(unknown))}", place="IEC 61000-3-3")
    return [
        LimitVerdict(row.quantity, figures[row.quantity], row.value, row) for row in wanted if row.quantity in figures
    ]
