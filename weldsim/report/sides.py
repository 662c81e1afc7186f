"""Figures that a study finds for several sides, such as with and without the boost, as one table."""

from collections.abc import Mapping

from weldsim.report.wording import Numbers, columns, quantity, spoken

SIDES = {"strike": ("with_boost", "without_boost", "without_boost_and_diode")}


def apart(study: str, numbers: Numbers) -> tuple[list[str], Numbers]:
    """The table of the sides, a column each, and the numbers that are not in it; none where there is one side only.

    A line and a column together are the name in ``--json``: "struck" and "with boost" is with_boost.struck.  What is
    a count of nothing on all sides is not told.
    """
    found: dict[str, dict[str, tuple[float | None, str]]] = {}
    sides = SIDES.get(study, ())
    for name, number in numbers.items():
        side, _, rest = name.partition(".")
        if side in sides:
            found.setdefault(rest, {})[side] = number
    used = [side for side in sides if any(side in row for row in found.values())]
    if len(used) < 2:
        return [], numbers
    rows = [
        [spoken(rest), *(quantity(*row[side]) if side in row else "" for side in used)]
        for rest, row in found.items()
        if not _counts_nothing(row)
    ]
    others = {name: number for name, number in numbers.items() if name.partition(".")[0] not in sides}
    return columns(rows, head=["", *map(spoken, used)]), others


def _counts_nothing(row: Mapping[str, tuple[float | None, str]]) -> bool:
    return all(value == 0.0 and unit == "1" for value, unit in row.values())
