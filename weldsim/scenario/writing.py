"""Scenario -> TOML text with units; reading the text again gives an equal scenario."""

import contextlib
import dataclasses
import os
import secrets
from pathlib import Path
from typing import Any

from weldsim.errors import ScenarioError
from weldsim.scenario.document import FORMAT, TABLES, TEXTS, Scenario, given_fields
from weldsim.units import Rows, Rule, rule_of, toml_string


def write(scenario: Scenario, path: str | os.PathLike[str]) -> None:
    """Write a scenario to a file, whole or not at all; values that equal their default are left out."""
    text = write_text(scenario)
    try:
        target = Path(path).resolve()
        beside = target.with_name(f".weldsim-{secrets.token_hex(8)}.part")
    except (OSError, ValueError) as trouble:
        raise _cannot_write(path, str(trouble)) from None
    try:
        beside.write_text(text, encoding="utf-8", newline="\n")
        os.replace(beside, target)
    except OSError as trouble:
        raise _cannot_write(path, trouble.strerror or str(trouble)) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def _cannot_write(path: str | os.PathLike[str], reason: str) -> ScenarioError:
    return ScenarioError(f"cannot be written: {reason}", place=str(path), advice="save in a folder of your own")


def write_text(scenario: Scenario) -> str:
    """The scenario as TOML text; comments of the file it came from are not kept (its ``text`` has them)."""
    lines = [f"format = {FORMAT}"]
    lines += [f"{name} = {toml_string(getattr(scenario, name))}" for name in TEXTS if getattr(scenario, name)]
    for name in TABLES:
        part = getattr(scenario, name)
        if part is None or (name == "start" and not given_fields(part)):
            continue
        lines += ["", f"[{name}]", *_lines_of(part)]
    return "\n".join(lines) + "\n"


def _lines_of(part: Any) -> list[str]:
    """key = value of every field that differs from its default."""
    rules = {item.name: rule_of(item) for item in dataclasses.fields(part)}
    return [f"{name} = {_value(rules[name], value)}" for name, value in given_fields(part).items()]


def _value(rule: Rule, value: Any) -> str:
    """TOML text of one field."""
    if isinstance(rule, Rows) and not isinstance(value, str):
        rows = ["{" + ", ".join(_lines_of(row)) + "}" for row in value]
        return "[" + ", ".join(rows) + "]" if len(rows) < 2 else "[\n    " + ",\n    ".join(rows) + ",\n]"
    return rule.write(value)
