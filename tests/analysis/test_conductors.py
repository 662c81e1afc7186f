"""Duty multipliers against the printed table and the root that it rounds."""

import csv
import math

import pytest

from weldsim.analysis.conductors import PLACE, duty_multiplier
from weldsim.errors import QuestionError


def test_duty_multipliers():
    """The NEC's multipliers (published) are the root of the duty, rounded to two decimals.

    Two rows are rounded up although the third decimal is below five: 30 % is 0.548, 60 % 0.775; so 0.006.
    """
    with (PLACE / "duty_multiplier.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert len(table) == 9
    for row in table:
        duty = float(row["duty_percent"]) / 100
        assert duty_multiplier(duty) == float(row["multiplier"])
        assert duty_multiplier(duty) == pytest.approx(math.sqrt(duty), abs=0.006)
    assert duty_multiplier(0.1) == 0.45  # 20 % or less
    assert duty_multiplier(0.61) == 0.84  # the row above


def test_refusals():
    """Duties beyond one are refused."""
    with pytest.raises(QuestionError, match="between 0 and 1"):
        duty_multiplier(35.0)
