"""What conductors must carry by the duty of what they feed, by the table of the trade."""

import csv
from functools import cache
from pathlib import Path

from weldsim.errors import QuestionError

PLACE = Path(__file__).resolve().parents[1] / "data" / "conductors"


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
    The table is the root of the duty, rounded, so the rms over whole cycles.  Local codes decide.

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
    rows = _multipliers()
    return rows[min(share for share in rows if share >= duty - 1e-9)]


@cache
def _multipliers() -> dict[float, float]:
    """Share of the time -> multiplier, as printed."""
    with (PLACE / "duty_multiplier.csv").open(encoding="utf-8", newline="") as file:
        return {0.01 * float(row["duty_percent"]): float(row["multiplier"]) for row in csv.DictReader(file)}
