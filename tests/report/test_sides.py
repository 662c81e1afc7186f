"""Figures of several sides stand side by side."""

from weldsim.report.sides import apart

NUMBERS = {
    "with_boost.struck": (20.0, "1"),
    "with_boost.time_to_arc.median": (0.13, "s"),
    "with_boost.failed.stubbing": (0.0, "1"),
    "without_boost.struck": (3.0, "1"),
    "without_boost.failed.stubbing": (0.0, "1"),
    "boost.heat": (91.0, "W"),
}


def test_each_side_is_a_column():
    """What one side lacks is blank, what no side counts is not told, and what belongs to no side is given back."""
    lines, others = apart("strike", NUMBERS)
    assert lines == [
        "                      with boost  without boost",
        "  struck                      20              3",
        "  time to arc median    0.1300 s",
    ]
    assert others == {"boost.heat": (91.0, "W")}


def test_one_side_alone_is_no_table():
    """Nor is there one in a study that has no sides."""
    alone = {name: number for name, number in NUMBERS.items() if not name.startswith("without")}
    assert apart("strike", alone) == ([], alone)
    assert apart("weld", NUMBERS) == ([], NUMBERS)
