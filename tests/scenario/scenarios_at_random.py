"""Strategies for hypothesis: tables and scenarios drawn from the fields' own rules."""

import dataclasses
from typing import Any

from hypothesis import strategies as st

from weldsim.scenario.document import TABLES
from weldsim.units import Choice, Count, Flag, Quantity, Ratio, Rows, rule_of


def value_of(rule: Any) -> st.SearchStrategy:
    """Values that a rule accepts, as they stand inside the package."""
    if isinstance(rule, (Quantity, Ratio)):
        low = -1e6 if rule.low is None else rule.low
        return st.floats(low, 1e6 if rule.high is None else rule.high, allow_nan=False)
    if isinstance(rule, Count):
        return st.integers(rule.low, rule.high)
    if isinstance(rule, Choice):
        return st.sampled_from(rule.options)
    if isinstance(rule, Flag):
        return st.booleans()
    if isinstance(rule, Rows):
        rows = st.lists(table_of(rule.item), min_size=rule.shortest, max_size=rule.shortest + 2).map(tuple)
        return st.one_of(rows, st.sampled_from(rule.presets)) if rule.presets else rows
    return st.text(max_size=20)


@st.composite
def table_of(draw: Any, table: type) -> Any:
    """A table with its needed fields and some of the others."""
    values = {}
    for item in dataclasses.fields(table):
        if item.default is dataclasses.MISSING or draw(st.integers(0, 3)) == 0:
            values[item.name] = draw(value_of(rule_of(item)))
    return table(**values)


@st.composite
def tables(draw: Any) -> dict[str, Any]:
    """Some tables of a scenario, mains always among them; they need not fit together."""
    names = {"mains"} | set(draw(st.lists(st.sampled_from(sorted(TABLES)), max_size=8)))
    return {name: draw(table_of(TABLES[name])) for name in sorted(names)}
