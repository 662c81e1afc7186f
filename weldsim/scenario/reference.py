"""The table of keys in README.md, written from the fields: ``python -m weldsim.scenario.reference README.md``."""

import dataclasses
import sys
from collections.abc import Sequence
from dataclasses import MISSING
from pathlib import Path

from weldsim.errors import ScenarioError
from weldsim.scenario.document import TABLES, TEXTS
from weldsim.units import Rows, Rule, rule_of

BEGIN, END = "<!-- keys: begin -->", "<!-- keys: end -->"
OF_THE_SECOND = ("second_transformer", "second_core")  # what these do not give is the first transformer's
HEAD = ("| key | value | without it | meaning |", "|---|---|---|---|")


def key_table() -> str:
    """The Markdown table of every key of every table."""
    lines = []
    for name, rule in TEXTS.items():
        lines.append(_row(name, rule, '""'))
    for table, part in TABLES.items():
        for field in dataclasses.fields(part):
            without = _default(field)
            if (table in OF_THE_SECOND or field.name.startswith("second_")) and without == "not given":
                without = "as the first"
            lines.append(_row(f"{table}.{field.name}", rule_of(field), without))
    return "\n".join([*HEAD, *lines])


def _row(key: str, rule: Rule, default: str) -> str:
    """One line of the table."""
    cells = (f"`{key}`", rule.expects(), default, rule.doc)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _default(field: dataclasses.Field) -> str:
    """What holds where the key is not written."""
    if field.default is MISSING:
        return "must be given"
    if field.default is None or isinstance(rule_of(field), Rows):
        return "not given"
    return rule_of(field).write(field.default).strip('"')


def with_key_table(text: str, place: str) -> str:
    """A page with the table between its two markers brought up to date."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise ScenarioError(f"there is no {BEGIN} ... {END}", place=place, advice="put both where it belongs")
    return f"{before}{BEGIN}\n{key_table()}\n{END}{after}"


def main(arguments: Sequence[str]) -> None:
    """Bring the table in the named files up to date."""
    for name in arguments:
        path = Path(name)
        path.write_text(with_key_table(path.read_text(encoding="utf-8"), name), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
