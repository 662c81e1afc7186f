"""A sweep in words: one line for each case with its values, the chosen numbers and its worst verdict."""

from math import isfinite
from typing import Any

from weldsim.report.cautions import cautions
from weldsim.report.wording import columns, dashed, quantity, section, spoken, top, verdict_lines, whole
from weldsim.studies.sweep import SweepAnswer, without_dust

LONGEST_ERROR = 60  # characters of an error, or of the names of faults, in the table; all of it stands in --json


def page(answer: SweepAnswer, *, remark: str = "") -> str:
    """Everything that a sweep says, for the terminal."""
    lines = [*top(answer.scenario, remark=remark), ""]
    lines += section("Verdicts", verdict_lines(answer.verdicts))
    head = ["case", *(axis.key for axis in answer.axes), *map(spoken, answer.told), "worst verdict"]
    lines += section("Cases", columns([_cells(answer, row) for row in answer.rows or []], head=head))
    lines += section("Assumed", dashed(answer.assumptions))
    lines += section("Take care", dashed(cautions(answer.scenario, study=answer.asked)))
    return whole(lines)


def _cells(answer: SweepAnswer, row: dict[str, Any]) -> list[str]:
    """One case."""
    values = [f"{axis.shown(row[axis.key]):.6g} {axis.unit}".removesuffix(" 1") for axis in answer.axes]
    numbers = [_number(answer, row, name) for name in answer.told]
    error = row["error"]
    last = " ".join(error.split()) if error else row["level"] or ""
    if row["level"] == "fault":
        last += f": {', '.join(map(spoken, row['worst']))}"
    return [str(row["case"]), *values, *numbers, last[:LONGEST_ERROR]]


def _number(answer: SweepAnswer, row: dict[str, Any], name: str) -> str:
    """A number of one case in words."""
    all_of_them = [one["numbers"].get(name) for one in answer.rows or []]
    largest = max((abs(one) for one in all_of_them if one is not None and isfinite(one)), default=0.0)
    value = row["numbers"].get(name)
    return quantity(None if value is None else without_dust(value, largest), answer.units.get(name, "1"))
