"""Limits of the welding standard, against values gathered from makers' manuals and, where marked, from memory."""

import numpy as np
import pytest

from weldsim.analysis.limits import LOAD_LINES, NO_LOAD, conventional_voltage, no_load_checks
from weldsim.errors import QuestionError

# Process, current [A], voltage [V]: IEC 60974-1 conventional load voltage.  MMA at 80 A seen as 23.2 V in a manual; the
# ceilings (44 V, 34 V) and the rest from memory.
LINE = [
    ("MMA", 50, 22.0),
    ("MMA", 80, 23.2),
    ("MMA", 160, 26.4),
    ("MMA", 400, 36.0),
    ("MMA", 600, 44.0),
    ("MMA", 700, 44.0),
    ("TIG", 80, 13.2),
    ("TIG", 130, 15.2),
    ("TIG", 300, 22.0),
    ("TIG", 600, 34.0),
    ("TIG", 700, 34.0),
    ("MIG", 50, 16.5),
    ("MIG", 130, 20.5),
    ("MIG", 250, 26.5),
    ("MIG", 500, 39.0),
    ("MIG", 700, 44.0),
    ("submerged arc", 500, 40.0),
    ("submerged arc", 1000, 44.0),
]


@pytest.mark.parametrize(("process", "current", "voltage"), LINE)
def test_conventional_load_voltage(process, current, voltage):
    """The load voltage of each process at some currents, ceilings included; one product is exact to rounding."""
    assert conventional_voltage(current, process=process) == pytest.approx(voltage, rel=1e-14)


def test_conventional_load_voltage_of_many_currents():
    """An array of currents gives an array of voltages, the same as one by one."""
    currents = np.array([0.0, 100.0, 650.0])

    assert conventional_voltage(currents, process="MIG").tolist() == [14.0, 19.0, 44.0]


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
    """No limit without clause and status, and no line either."""
    rows = [limit for limits in NO_LOAD.values() for limit in limits] + list(LOAD_LINES.values())

    assert len(rows) == len(LIMITS) + 4
    assert all(row.clause.startswith("IEC 60974-1, 11.") and row.status for row in rows)


def test_unknown_words():
    """A misspelt process or place is refused with the words there are and the nearest."""
    with pytest.raises(QuestionError, match="did you mean 'MIG'"):
        conventional_voltage(100.0, process="mig")
    with pytest.raises(QuestionError, match="did you mean 'increased hazard'"):
        no_load_checks(peak=1.0, rms=1.0, current="dc", place="increased hazzard")
    with pytest.raises(QuestionError, match="dc, ac"):
        no_load_checks(peak=1.0, rms=1.0, current="both")
