"""Scenario files: TOML text -> Scenario, with every complaint at once.

A complaint names the line, the key, the value, what is allowed there, and the nearest right word.
"""

import dataclasses
import os
import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from weldsim.errors import Complaint, ScenarioError, UnitError
from weldsim.scenario.bundled import find_scenario
from weldsim.scenario.consistency import contradictions
from weldsim.scenario.document import FORMAT, NEEDED, TABLES, TEXTS, Scenario
from weldsim.scenario.places import Place, lines_of_keys
from weldsim.scenario.trade_words import meant_key, meant_table
from weldsim.units import Rows, nearest, quoted, rule_of

LARGEST_FILE = 1_000_000  # bytes; a scenario written by a person has a few thousand
MOST_COMPLAINTS = 60  # a file that is not a scenario at all is told so, not listed to the end
_MOST_REPAIRS = 20
_CABLE = re.compile(r"([^a-z]*[a-z]+)\s+of\s+(\S.*)", re.IGNORECASE)  # "6 m of 25 mm2"
_ASSIGNMENT = re.compile(r"(\s*(?:[\w.\"'-]+\s*)=\s*)([^\"'\[{#\n]+?)(\s*(?:#[^\n]*)?)")


def read(path: str | os.PathLike[str]) -> Scenario:
    """The scenario in a file; the name of a bundled one ("toroid_shed") will do as well.

    Parameters
    ----------
    path : path
        A TOML file, or the name of a bundled scenario.

    Returns
    -------
    Scenario : frozen; ``vary`` makes another one of it, ``scenario.choke.inductance`` is a value [SI].

    Raises
    ------
    ScenarioError : no such file, or one with slips, all of them told at once.
    """
    found, _ = find_scenario(os.fspath(path))
    try:
        about = found.stat()
        if not stat.S_ISREG(about.st_mode) and not stat.S_ISDIR(about.st_mode):  # it might never end
            fact, advice = "this is not an ordinary file", "give the name of a scenario file"
            raise ScenarioError(fact, place=str(found), advice=advice)
        if about.st_size > LARGEST_FILE:
            raise _too_large(str(found))
        data = found.read_bytes()
    except OSError as error:
        raise ScenarioError(f"cannot be read: {error.strerror or error}", place=str(found)) from None
    return read_text(_decoded(data, found), found.name)


def _too_large(place: str) -> ScenarioError:
    """The refusal of a file that no person wrote."""
    return ScenarioError(f"larger than {LARGEST_FILE} bytes", place=place, advice="that is not a scenario file")


def _decoded(data: bytes, path: Path) -> str:
    """Text of a file in UTF-8, with or without a byte-order mark."""
    if len(data) > LARGEST_FILE:
        raise _too_large(str(path))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        fact = f"line {line} is not UTF-8 text"
        raise ScenarioError(fact, place=str(path), advice="save the file as UTF-8") from None


def read_text(text: str, source: str = "text") -> Scenario:
    """The scenario in a TOML text.

    Parameters
    ----------
    text : str
        As a scenario file holds it.
    source : str
        What messages and pages call it.

    Returns
    -------
    Scenario : as by ``read``.

    Raises
    ------
    ScenarioError : slips, all of them told at once.
    """
    if len(text) > LARGEST_FILE:
        raise _too_large(source)
    text = text.removeprefix("\ufeff")
    document, slips = _parsed(text, source)
    reader = TableReader(lines_of_keys(text), document)
    scenario = reader.scenario()
    complaints = slips + reader.complaints
    if complaints or scenario is None:
        raise refusal(source, complaints)
    return dataclasses.replace(scenario, text=text, source=source)


def refusal(source: str, complaints: list[Complaint]) -> ScenarioError:
    """The error that lists all complaints, in the order of the lines."""
    ordered = sorted(complaints, key=lambda complaint: complaint.line or 10**9)
    shown, rest = ordered[:MOST_COMPLAINTS], len(ordered) - MOST_COMPLAINTS
    if rest > 0:
        shown.append(Complaint("...", f"and {rest} more"))
    count = "1 problem" if len(ordered) == 1 else f"{len(ordered)} problems"
    return ScenarioError(count, place=source, complaints=shown)


# --- TOML and its slips ---------------------------------------------------------------------------------------------


def _parsed(text: str, source: str) -> tuple[dict[str, Any], list[Complaint]]:
    """The TOML document; forgotten quotes are put in, so that later faults are seen in the same reading."""
    slips: list[Complaint] = []
    lines = text.replace("\r\n", "\n").split("\n")
    for _ in range(_MOST_REPAIRS):
        try:
            return tomllib.loads("\n".join(lines)), slips
        except (ValueError, RecursionError, OverflowError) as error:
            complaint, repaired = _slip(error, lines)
        slips.append(complaint)
        if repaired is None:
            break
        lines[(complaint.line or 1) - 1] = repaired
    raise refusal(source, slips)


def _slip(error: Exception, lines: list[str]) -> tuple[Complaint, str | None]:
    """What to say of text that is not TOML, and the line as it was probably meant."""
    if isinstance(error, RecursionError):
        return Complaint("text", "not valid TOML: lists nested too deeply"), None
    match = re.search(r"\(at line (\d+), column \d+\)", str(error))
    sentence = re.sub(r"\s*\(at (line \d+, column \d+|end of document)\)", "", str(error))
    number = int(match[1]) if match else None if "end of document" not in str(error) else len(lines)
    if not isinstance(error, tomllib.TOMLDecodeError):
        sentence = "a number with far too many digits" if "digits" in sentence else sentence[:200]
    if number is None or number > len(lines):
        return Complaint("text", f"not valid TOML: {sentence}", number), None
    line = lines[number - 1]
    plain = _ASSIGNMENT.fullmatch(line)
    if "Cannot" in sentence:
        return Complaint("text", f"written twice, or in two ways: {quoted(line.strip())}", number), None
    if not plain or "\\" in plain[2] or _is_toml(plain[2]):
        return Complaint("text", f"not valid TOML: {sentence}: {quoted(line.strip())}", number), None
    key, value = plain[1].split("=")[0].strip(), plain[2].strip()
    hint = "a value with a unit goes in quotes" if re.match(r"[\d.+-]", value) else "text goes in quotes"
    meant = f'"{value}"'
    if value in ("True", "False"):
        hint, meant = "TOML writes this in small letters", value.lower()
    place = _table_above(lines, number) + key
    return Complaint(place, f"not valid TOML: {hint}: {key} = {meant}", number), f"{plain[1]}{meant}{plain[3]}"


def _is_toml(value: str) -> bool:
    """Whether a value could stand as it is."""
    try:
        tomllib.loads(f"value = {value}")
    except (ValueError, RecursionError, OverflowError):
        return False
    return True


def _table_above(lines: list[str], number: int) -> str:
    """The table a line belongs to, with its dot; nothing where there is none."""
    headers = [match[1] for line in lines[:number] if (match := re.match(r"\s*\[\[?\s*([\w.-]+)\s*\]", line))]
    return f"{headers[-1]}." if headers else ""


# --- tables ---------------------------------------------------------------------------------------------------------


def _homes(key: str) -> list[str]:
    """The tables that have a field of this name."""
    return [name for name, part in TABLES.items() if any(key == item.name for item in dataclasses.fields(part))]


def _elsewhere(key: str, known: tuple[str, ...]) -> str:
    """Where an unknown key belongs, or which keys there are."""
    if key in TABLES:
        return f"; it is a table of its own, [{key}]"
    homes = _homes(key)
    if homes:
        return f"; [{'] and ['.join(homes[:2])}] " + ("has" if len(homes) == 1 else "have") + " one"
    return f"; there are {', '.join(known)}"


def cable_in_words(table: type, value: Any) -> Any:
    """A cable's table with length and section apart where they are written as one, "6 m of 25 mm2"; else as it is.

    >>> from weldsim.parts.cable import WeldLeads
    >>> cable_in_words(WeldLeads, "6 m of 25 mm2")
    {'length': '6 m', 'section': '25 mm2'}
    """
    given = {"length": value} if isinstance(value, str) else value
    words = given.get("length") if isinstance(given, Mapping) else None
    both = _CABLE.fullmatch(words) if isinstance(words, str) else None
    if not both or not {"length", "section"} <= {item.name for item in dataclasses.fields(table)}:
        return value
    return {**given, "length": both[1], "section": both[2]}


class TableReader:
    """One reading of a document: collects complaints, makes the tables."""

    def __init__(self, lines: Mapping[Place, int], document: Mapping[str, Any], *, bare: bool = False) -> None:
        self.lines = lines
        self.document = document
        self.bare = bare  # numbers without unit are SI (they come from Python)
        self.complaints: list[Complaint] = []

    def complain(self, place: Place, fact: str) -> None:
        """Note a fault with its line and its key."""
        words = ""
        for step in place:
            words += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if words else step
        line = next((self.lines[place[:end]] for end in range(len(place), 0, -1) if place[:end] in self.lines), None)
        self.complaints.append(Complaint(words[:120], fact, line))

    def scenario(self) -> Scenario | None:
        """The whole document; None where it has no usable mains table."""
        self._judge_names()
        values: dict[str, Any] = {}
        for name, rule in TEXTS.items():
            if name in self.document:
                values[name] = self._read(rule, self.document[name], (name,)) or ""
        for name, table in TABLES.items():
            if name in self.document:
                values[name] = self.table(table, self.document[name], (name,))
        broken = {name for name in TABLES if name in self.document and values.get(name) is None} | self._guessed()
        broken |= {name for name in NEEDED if name not in self.document}
        made = Scenario(**{"mains": None, **values})
        for complaint in contradictions(made, broken):
            self.complain(tuple(complaint.place.split(".")), complaint.fact)
        return made if values.get("mains") is not None and not self.complaints else None

    def _guessed(self) -> set[str]:
        """The tables that unknown ones were probably meant to be."""
        hints = "".join(meant_table(name, tuple(TABLES)) for name in self.document if name not in TABLES)
        return {name for name in TABLES if f"'{name}'" in hints}

    def _judge_names(self) -> None:
        """Unknown tables, missing tables, a file of a later format."""
        known = (*TEXTS, "format", *TABLES)
        unknown = [name for name in self.document if name not in known]
        for name in unknown[:MOST_COMPLAINTS]:
            homes, table = _homes(name), isinstance(self.document[name], dict)
            hint = meant_table(name, known) if table else nearest(name, known)
            hint = hint or (f"; it belongs below [{homes[0]}]" if len(homes) == 1 else "")
            hint = hint or (f"; there are {', '.join(TABLES)}" if table else "")
            self.complain((name,), f"unknown {'table' if table else 'name'}{hint}")
        for name in NEEDED:
            if name not in self.document and not any(f"'{name}'" in meant_table(word, known) for word in unknown[:20]):
                self.complain((name,), f"missing: add a table [{name}]")
        version = self.document.get("format", FORMAT)
        if version != FORMAT or isinstance(version, bool):
            self.complain(("format",), f"{quoted(version)} cannot be read by this version, which reads format {FORMAT}")

    def _is_table(self, value: Any, place: Place) -> bool:
        """Complain where something else stands in the place of a table."""
        name = place[-1]
        if isinstance(value, Mapping):
            return True
        if isinstance(value, list) and value and isinstance(value[0], dict) and len(place) == 1:
            self.complain(place, f"expected one table; write [{name}] in single brackets, once")
        else:
            self.complain(place, f"expected a table of named values, got {quoted(value)}")
        return False

    def table(self, table: type, value: Any, place: Place) -> Any:
        """One table or one row; None where there was something to complain about."""
        before = len(self.complaints)
        written, value = value, cable_in_words(table, value)
        if not self._is_table(value, place):
            return None
        if value is not written and isinstance(written, Mapping) and "section" in written:
            self.complain((*place, "section"), f"given twice: length says {quoted(written['length'])} already")
        fields = {item.name: item for item in dataclasses.fields(table)}
        unknown = [key for key in value if key not in fields]
        for key in unknown[:MOST_COMPLAINTS]:
            self.complain(
                (*place, key), f"unknown name{meant_key(key, tuple(fields)) or _elsewhere(key, tuple(fields))}"
            )
        values = {}
        for key in (key for key in value if key in fields):
            read = self._read(rule_of(fields[key]), value[key], (*place, key))
            values[key] = read
        guessed = "".join(meant_key(key, tuple(fields)) for key in unknown[:MOST_COMPLAINTS])
        for name, item in fields.items():
            if item.default is dataclasses.MISSING and name not in value and f"'{name}'" not in guessed:
                rule = rule_of(item)
                self.complain((*place, name), f"missing: {rule.doc} ({rule.expects()})")
        if len(self.complaints) > before:
            return None
        made = table(**values)
        for name, fact in made.faults() if hasattr(made, "faults") else ():
            self.complain((*place, name), fact)
        return made if len(self.complaints) == before else None

    def _read(self, rule: Any, value: Any, place: Place) -> Any:
        """One value by its rule; None and a complaint where it does not fit."""
        if isinstance(rule, Rows):
            return self._rows(rule, value, place)
        try:
            return rule.read(value, bare=self.bare)
        except UnitError as error:
            self.complain(place, str(error))
            return None

    def _rows(self, rule: Rows, value: Any, place: Place) -> Any:
        """A list of inline tables, or a preset's name."""
        if isinstance(value, str) and rule.presets:
            if value in rule.presets:
                return value
            self.complain(place, f"{quoted(value)} is not known{nearest(value, rule.presets)} ({rule.expects()})")
            return None
        if not isinstance(value, (list, tuple)) or len(value) < rule.shortest:
            least = f" of at least {rule.shortest}" if rule.shortest > 1 else ""
            self.complain(place, f"expected {rule.expects()}{least} ({rule.doc}), got {quoted(value)}")
            return None
        return tuple(
            row if isinstance(row, rule.item) else self.table(rule.item, row, (*place, index))
            for index, row in enumerate(value)
        )
