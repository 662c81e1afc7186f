"""Limits of the standards on mains quality as data: rows of weldsim/data/limits, each with clause and status."""

import csv
import math
from functools import cache
from pathlib import Path

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass

PLACE = Path(__file__).resolve().parents[1] / "data" / "limits"
TABLES = ("iec_61000_3_2", "iec_61000_3_12", "iec_61000_3_3", "en_50160", "ieee_519", "ieee_519_voltage")
NO_CERTIFICATE = (
    "A comparison of calculated figures with limits, some of them from memory. No tool certifies that equipment "
    "conforms: that takes a test by the printed standard."
)


@dataclass(frozen=True)
class Limit:
    """One row: the most a quantity may be, in SI units; a share has unit "1" and says in ``of`` what it is a share of.

    ``quantity`` is an order ("3"), a range of orders ("3-10") or a name ("THC"); ``status`` tells how the row is known.
    """

    standard: str
    clause: str
    condition: str
    quantity: str
    value: float
    unit: str
    of: str
    status: str

    @property
    def from_memory(self) -> bool:
        """Whether nobody has seen the row in print."""
        return self.status.startswith("memory")


@dataclass(frozen=True)
class LimitVerdict:
    """One limit beside what was found, both in ``limit.unit``; ``most`` is the limit as it applies here."""

    quantity: str
    found: float
    most: float
    limit: Limit
    disregarded: bool = False  # too small to count, by the standard

    @property
    def kept(self) -> bool:
        """Whether the limit is kept."""
        return self.disregarded or self.found <= self.most

    @property
    def margin(self) -> float:
        """What is left below the limit, over the limit: 0 at it, negative above it."""
        return 1.0 - self.found / self.most if self.most else -math.inf


@cache
def limit_rows(table: str) -> tuple[Limit, ...]:
    """All rows of one table of limits.

    Parameters
    ----------
    table : str
        Name in ``TABLES`` [name].

    Returns
    -------
    tuple of Limit
        Rows in SI units, percents as shares [A, s or 1].

    Notes
    -----
    Read once from the file in the package.  Clause numbers are from memory.

    Examples
    --------
    >>> row = next(row for row in limit_rows("iec_61000_3_2") if row.quantity == "3" and row.condition == "class B")
    >>> row.value, row.unit, row.status
    (3.45, 'A', 'seen (class A times 1.5)')

    References
    ----------
    The column ``status`` of each row.
    """
    if table not in TABLES:
        raise QuestionError(f"'{table}' is none of {', '.join(TABLES)}", place="limits")
    with (PLACE / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(_limit(row) for row in csv.DictReader(file))


def _limit(row: dict[str, str]) -> Limit:
    value, unit, of = float(row["value"]), row["unit"], ""
    if unit.startswith("%"):
        value, unit, of = 0.01 * value, "1", unit.removeprefix("%").removeprefix(" of ").strip()
    standard, clause, condition, quantity = (row[name] for name in ("standard", "clause", "condition", "quantity"))
    return Limit(standard, clause, condition, quantity, value=value, unit=unit, of=of, status=row["status"])


def first_failure(verdicts: list[LimitVerdict]) -> LimitVerdict | None:
    """The first verdict that fails, in the order of the list: lowest harmonic first, sums last.

    Parameters
    ----------
    verdicts : list of LimitVerdict
        Verdicts as the functions of ``emission`` give them [-].

    Returns
    -------
    LimitVerdict or None
        The first above its limit; None where all limits are kept [-].

    Examples
    --------
    >>> row = limit_rows("iec_61000_3_3")[0]
    >>> failed = first_failure([LimitVerdict("Plt", 0.5, 0.65, row), LimitVerdict("Pst", 1.2, 1.0, row)])
    >>> failed.quantity, round(failed.margin, 2)
    ('Pst', -0.2)

    References
    ----------
    Derived here.
    """
    return next((verdict for verdict in verdicts if not verdict.kept), None)


def needed_orders(rms: np.ndarray, count: int) -> np.ndarray:
    """The orders as an array, refused where there are too few to be judged.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first [A or V].
    count : int
        How many are judged [1].

    Returns
    -------
    numpy.ndarray
        The same as floats [A or V].

    Examples
    --------
    >>> needed_orders([230.0, 0.0], 2)
    array([230.,   0.])

    References
    ----------
    Derived here.
    """
    values = np.asarray(rms, np.float64)
    if len(values) < count:
        raise QuestionError(f"{len(values)} orders handed over, {count} are judged", place="limits")
    return values
