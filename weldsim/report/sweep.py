"""A sweep in words: one line for each case with its values, the chosen numbers and its worst verdict."""

from typing import Any

from weldsim.report.cautions import cautions
from weldsim.report.wording import columns, dashed, quantity, section, spoken, verdict_lines, wrapped
from weldsim.studies.sweep import SweepAnswer

LONGEST_ERROR = 60  # characters of an error in the table; the whole of it stands in --json


def page(answer: SweepAnswer, *, remark: str = "") -> str:
    """Everything that a sweep says, for the terminal."""
    lines = [answer.scenario.title or answer.scenario.source or "a scenario without a title"]
    lines += wrapped(remark) if remark else []
    lines.append("")
    lines += section("Verdicts", verdict_lines(answer.verdicts))
    head = ["case", *(axis.key for axis in answer.axes), *map(spoken, answer.told), "worst verdict"]
    lines += section("Cases", columns([_cells(answer, row) for row in answer.rows or []], head=head))
    lines += section("Assumed", dashed(answer.assumptions))
    lines += section("Take care", dashed(cautions(answer.scenario, study=answer.asked)))
    return "\n".join(lines).rstrip()


def _cells(answer: SweepAnswer, row: dict[str, Any]) -> list[str]:
    """One case."""
    values = [f"{axis.shown(row[axis.key]):.6g} {axis.unit}".removesuffix(" 1") for axis in answer.axes]
    numbers = [quantity(row["numbers"].get(name), answer.units.get(name, "1")) for name in answer.told]
    error = row["error"]
    last = " ".join(error.split())[:LONGEST_ERROR] if error else row["level"] or ""
    return [str(row["case"]), *values, *numbers, last]
