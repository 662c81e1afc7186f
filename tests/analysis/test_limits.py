"""Limits of the welding standard, against values gathered from makers' manuals and, where marked, from memory."""

import pytest

from weldsim.analysis.limits import NO_LOAD, no_load_checks
from weldsim.errors import QuestionError

# Place, kind of current, quantity, limit [V]: 113 V dc and 48 V ac seen in makers' manuals, the rest from memory.
LIMITS = [
    ("increased hazard", "dc", "peak", 113),
    ("increased hazard", "ac", "peak", 68),
    ("increased hazard", "ac", "rms", 48),
    ("no increased hazard", "dc", "peak", 113),
    ("no increased hazard", "ac", "peak", 113),
    ("no increased hazard", "ac", "rms", 80),
    ("mechanically held torch", "dc", "peak", 141),
    ("mechanically held torch", "ac", "peak", 141),
    ("mechanically held torch", "ac", "rms", 100),
]


@pytest.mark.parametrize(("place", "current", "quantity", "volts"), LIMITS)
def test_no_load_limit(place, current, quantity, volts):
    """A no-load voltage at the limit is kept, a tenth of a volt above it is not, and other limits do not join in."""

    def judged(value):
        given = {"peak": 1.0, "rms": 1.0} | {quantity: value}
        return {check.limit.quantity: check.kept for check in no_load_checks(current=current, place=place, **given)}

    assert judged(volts)[quantity] is True
    above = judged(volts + 0.1)
    assert above.pop(quantity) is False
    assert all(above.values())


def test_every_row_says_where_it_stands_and_how_it_is_known():
    """No limit without clause and status."""
    rows = [limit for limits in NO_LOAD.values() for limit in limits]

    assert len(rows) == len(LIMITS)
    assert all(row.clause.startswith("IEC 60974-1, 11.") and row.status for row in rows)


def test_unknown_words():
    """A misspelt place is refused with the words there are and the nearest."""
    with pytest.raises(QuestionError, match="did you mean 'increased hazard'"):
        no_load_checks(peak=1.0, rms=1.0, current="dc", place="increased hazzard")
    with pytest.raises(QuestionError, match="dc, ac"):
        no_load_checks(peak=1.0, rms=1.0, current="both")
