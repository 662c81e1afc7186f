"""The table of keys: written into a page between its markers, and nothing else of the page touched."""

import pytest

from weldsim.errors import ScenarioError
from weldsim.scenario.document import TABLES
from weldsim.scenario.reference import BEGIN, END, key_table, main, with_key_table


def test_main_renews_the_table_in_place(tmp_path):
    """What stood between the markers is replaced; what stands around them is kept, a second time changes nothing."""
    page = tmp_path / "PAGE.md"
    page.write_text(f"before é\n{BEGIN}\nstale rows\n{END}\nafter\n", encoding="utf-8")
    main([str(page)])
    once = page.read_text(encoding="utf-8")
    main([str(page)])
    assert page.read_text(encoding="utf-8") == once
    assert once.startswith(f"before é\n{BEGIN}\n| key |")
    assert once.endswith(f"|\n{END}\nafter\n")
    assert "stale" not in once


def test_a_page_without_markers_is_refused():
    """The error names the page and the markers that it lacks."""
    with pytest.raises(ScenarioError, match=r"PAGE\.md.*keys: begin"):
        with_key_table("no table here", "PAGE.md")


def test_every_table_has_rows_with_four_cells():
    """Each table of a scenario appears, a bar inside a cell is escaped, keys that must be given say so."""
    rows = key_table().splitlines()[2:]
    assert {row.split("`")[1].partition(".")[0] for row in rows} >= set(TABLES)
    assert all(row.replace("\\|", "").count("|") == 5 for row in rows)
    assert "| must be given |" in next(row for row in rows if "`mains.voltage`" in row)
