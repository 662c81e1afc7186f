"""Scenario + changes -> new Scenario, judged by the same rules as a file.

    vary(scenario, {"choke.inductance": "0.4 mH", "boost": "absent"})
    vary(scenario, choke__inductance="0.4 mH", boost="absent")
    vary_by_text(scenario, ["choke.inductance=0.4 mH", "boost=absent"])          # as typed behind --set

Numbers without a unit are SI (degrees, degrees Celsius and 0 to 1 for angles, temperatures and fractions).
"""

import dataclasses
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.errors import Complaint, ScenarioError
from weldsim.scenario.document import NEEDED, TABLES, TEXTS, Scenario, check_is_read, given_fields
from weldsim.scenario.reading import TableReader, cable_in_words, refusal
from weldsim.scenario.trade_words import meant_key, meant_table
from weldsim.scenario.writing import write_text
from weldsim.units import quoted

ABSENT = "absent"


def vary(scenario: Scenario, changes: Mapping[str, Any] | None = None, **more: Any) -> Scenario:
    """The scenario with some values changed, added or, by "absent", taken away.

    Parameters
    ----------
    scenario : Scenario
        Stays as it is.
    changes : mapping or None
        {"choke.inductance": "0.4 mH", "bank": "absent"}: keys are "table.name" or "table"; values are text as in a
        file, or numbers in SI units; a table is a mapping, or "absent" (or None).
    more
        The same as keywords: ``choke__inductance=0.4e-3``.

    Returns
    -------
    Scenario : the changed one.

    Raises
    ------
    ScenarioError : a key or value that cannot be, or parts that contradict each other, all told at once.
    """
    check_is_read(scenario)
    wanted = dict(changes or {}) | {key.replace("__", "."): value for key, value in more.items()}
    document: dict[str, Any] = {name: getattr(scenario, name) for name in TEXTS}
    document |= {name: given_fields(getattr(scenario, name)) for name in TABLES if getattr(scenario, name) is not None}
    complaints = [found for key, value in wanted.items() if (found := _change(document, key, value))]
    reader = TableReader({}, document, bare=True)
    made = reader.scenario()
    complaints += reader.complaints
    if complaints or made is None:
        raise refusal("changes to " + (scenario.source or "the scenario"), complaints)
    return dataclasses.replace(made, text=write_text(made), source=_told(scenario.source, wanted))


def vary_by_text(scenario: Scenario, settings: Sequence[str]) -> Scenario:
    """The scenario with changes as typed: "choke.inductance=0.4 mH", "boost=absent", "load={kind='short'}"."""
    changes: dict[str, Any] = {}
    for setting in settings:
        key, sign, value = setting.partition("=")
        if not sign or not key.strip():
            raise ScenarioError(
                f"{quoted(setting)} is not a change",
                place="--set",
                advice='write table.name=value, such as choke.inductance="0.4 mH"',
            )
        if key.strip() in changes:
            raise ScenarioError("changed twice", place=f"--set {key.strip()[:80]}", advice="give each key once")
        changes[key.strip()] = _typed(key.strip(), value.strip())
    return vary(scenario, changes)


def _typed(key: str, text: str) -> Any:
    """What a typed value means: a list or a table in TOML, quoted text, a whole number, or text."""
    if text[:1] in ("[", "{", '"', "'"):
        try:
            return tomllib.loads(f"value = {text}")["value"]
        except (ValueError, RecursionError) as error:
            fact = f"{quoted(text)} is not a TOML value: {str(error)[:100]}"
            raise ScenarioError(fact, place=f"--set {key}") from None
    return text


def _told(source: str, changes: Mapping[str, Any]) -> str:
    """The source with what was varied since."""
    if not changes:
        return source
    words = ", ".join(f"{key} = {value}" for key, value in changes.items())
    return f"{source}, {words}" if " with " in source else f"{source or 'scenario'} with {words}"


def _change(document: dict[str, Any], key: str, value: Any) -> Complaint | None:
    """Carry out one change on the tables as mappings; a complaint where the key means nothing."""
    table, dot, name = key.partition(".")
    known = tuple(TABLES)
    if not dot and table in TEXTS:
        document[table] = value
        return None
    if table not in known:
        told = meant_table(table, known) or f"; there are {', '.join(known)}."
        return Complaint(key, f"unknown table{told} A change is written table.name=value")
    taken_away = value is None or (isinstance(value, str) and value == ABSENT)
    if not dot:
        return _change_table(document, table, value, taken_away)
    names = tuple(item.name for item in dataclasses.fields(TABLES[table]))
    if name not in names:
        return Complaint(key, f"unknown name{meant_key(name, names) or '; there are ' + ', '.join(names)}")
    if taken_away:
        document.get(table, {}).pop(name, None)
        return None
    apart = cable_in_words(TABLES[table], {name: value})
    document.setdefault(table, {}).update(apart)
    return None


def _change_table(document: dict[str, Any], table: str, value: Any, taken_away: bool) -> Complaint | None:
    """Replace a whole table, or take it away."""
    if taken_away and table in NEEDED:
        return Complaint(table, "cannot be absent")
    if taken_away:
        document.pop(table, None)
    elif isinstance(value, Mapping):
        document[table] = dict(value)
    elif isinstance(value, TABLES[table]):
        document[table] = given_fields(value)
    elif cable_in_words(TABLES[table], value) != value:
        document[table] = {**document.get(table, {}), **cable_in_words(TABLES[table], value)}
        document[table].pop("resistance", None)
    else:
        return Complaint(table, f'expected "absent", a table, or one value ({table}.name), got {quoted(value)}')
    return None
