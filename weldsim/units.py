"""Units at the door: "35 mohm" <-> 0.035, the closed table of units allowed, and the fields of scenario tables.

Inside the package every number is a plain float in SI units, except that angles stay in degrees, temperatures in
degrees Celsius and fractions in 0 to 1.  Numbers are shifted as decimals, so that text -> float -> text loses nothing.
"""

import dataclasses
import datetime
import difflib
import json
import math
import re
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import MISSING
from decimal import Decimal
from typing import Any

from weldsim.errors import UnitError
from weldsim.frozen import dataclass
from weldsim.unit_table import KINDS, OTHER_WORDS, Kind, article, marked, plain_unit, wire_gauge

FULL_DIGITS = 17  # decimal digits that always tell one float from the next
BEYOND_PHYSICS = 1e290  # no unit is looked for above it
LONGEST_TEXT = 200  # characters of a value; longer ones are not what a person writes
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL | re.ASCII)


def quoted(value: object) -> str:
    """A value as it stands in a message: short, on one line, in quotes where it is text."""
    bare = isinstance(value, (bool, datetime.date, datetime.time))
    text = "a table" if isinstance(value, dict) else str(value).lower() if bare else repr(value)
    return text if len(text) <= 60 else text[:56] + "..." + text[-1]


def nearest(word: str, words: Sequence[str]) -> str:
    """A hint such as "; did you mean 'frequency'?", or nothing when no known word is near."""
    same = [known for known in words if known.lower() == word.lower()]
    found = same or difflib.get_close_matches(word[:80], list(words), n=1, cutoff=0.6)
    found = found or [known for known in words if word.lower() in known.split("_")]  # "path" of path_length
    return f"; did you mean {' or '.join(map(repr, found))}?" if 1 <= len(found) <= 2 else ""


def _complaint_of_number(text: str, kind: Kind) -> str:
    """What to say of a text that does not start with one clear number."""
    example = f'"1 {next(iter(kind.factors))}"'
    grouped = re.fullmatch(r"\s*([+-]?\d{1,3}),(\d{3})(\s*[^\d,.].*)?", text, re.ASCII)
    if grouped:
        first, last, rest = grouped.groups(default="")
        return f'{quoted(text)}: a comma is not clear here: write "{first}{last}{rest}" or "{first}.{last}{rest}"'
    if re.match(r"\s*[+-]?\d*,\d", text, re.ASCII):
        return f'{quoted(text)}: write a decimal point, not a comma: "{text.strip().replace(",", ".", 1)}"'
    if re.match(r"\s*[+-]?[\d.]+\s+\d", text, re.ASCII):
        return f"{quoted(text)}: write the number without spaces, such as {example}"
    return f"{quoted(text)} is not one number with a unit: write for instance {example}"


def _complaint_of_unit(text: str, unit: str, kind: Kind) -> str:
    """What to say of a number whose unit does not belong to the kind."""
    for other in KINDS.values():
        if unit in other.factors:
            needed = f"{article(kind.spoken)} is needed here ({', '.join(kind.factors)})"
            return f"{quoted(text)} is {article(other.spoken)}, but {needed}"
    hint = nearest(unit, tuple(kind.factors))
    return f"{quoted(text)}: the unit '{unit[:40]}' is not known{hint or '; ' + kind.takes}"


def from_text(text: str, kind: str) -> float:
    """SI float of a text with its unit; angles in degrees, temperatures in degrees Celsius, fractions 0 to 1.

    >>> from_text("25 mm2", "area"), from_text("0.30 mH", "inductance"), from_text("68.75 %", "fraction")
    (2.5e-05, 0.0003, 0.6875)
    """
    table = KINDS[kind]
    if len(text) > LONGEST_TEXT:
        raise UnitError(f"{quoted(text)} is too long for {article(table.spoken)}")
    plain = text.replace("\N{MINUS SIGN}", "-")
    coded = wire_gauge(plain) if table.gauged else marked(plain, table) if table.marks else None
    if coded is not None:
        return coded
    match = _NUMBER.fullmatch(plain)
    if not match or match[2][:1] in tuple("0123456789.,/:-+"):
        raise UnitError(_complaint_of_number(plain, table))
    number, unit = match[1], plain_unit(match[2])
    if not unit:
        raise UnitError(f'{quoted(text)} has no unit: write "{number} {next(iter(table.factors))}" ({table.takes})')
    if unit not in table.factors:
        raise UnitError(_complaint_of_unit(text, unit, table))
    if not math.isfinite(float(number)):
        raise UnitError(f"{quoted(text)} is too large a number")
    return float(Decimal(number) * table.factors[unit])


def to_text(value: float, kind: str, *, digits: int | None = None) -> str:
    """Text with an engineering unit; without ``digits`` it reads back as exactly the same float.

    >>> to_text(0.0003, "inductance"), to_text(2.5e-05, "area"), to_text(311.126983, "voltage", digits=4)
    ('300 uH', '25 mm2', '311.1 V')
    """
    table = KINDS[kind]
    if not abs(value) < BEYOND_PHYSICS:
        return f"{value!r} {table.base}"
    for unit in _fitting_units(value, table):
        number = (Decimal(repr(float(value))) / table.factors[unit]).normalize()
        if len(number.as_tuple().digits) > FULL_DIGITS:
            number = Decimal(repr(float(number)))
        text = f"{_written(number, digits)} {unit}"
        if digits is not None or from_text(text, kind) == value:
            return text
    return f"{value!r} {table.base}"


def _fitting_units(value: float, table: Kind) -> list[str]:
    """The units to try for printing, the best first: the largest that leaves at least 1 (0.1 for the base unit)."""
    good = [unit for unit in table.shown if abs(value) >= float(table.factors[unit])]
    best = good[0] if good and value else (table.base if value == 0 and table.base in table.shown else table.shown[-1])
    return [best, *(unit for unit in table.shown if unit != best)]


def _written(number: Decimal, digits: int | None) -> str:
    """A decimal as people write it: no exponent between 1e-4 and 1e7, no trailing zeros."""
    if digits is not None:
        number = Decimal(f"{number:.{digits}g}")
    number = number.normalize()
    if number == 0:
        return "0"
    return f"{number:f}" if -5 < number.adjusted() < 7 else f"{number:e}"


# --- fields of scenario tables -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rule(ABC):
    """What one field of a table accepts; ``read`` takes the TOML value, ``write`` gives TOML text back."""

    doc: str

    @abstractmethod
    def read(self, value: Any, *, bare: bool = False) -> Any:
        """The value inside the package; ``bare`` numbers (from Python) are taken as SI.  Raises UnitError."""

    def write(self, value: Any) -> str:
        """TOML text of a value."""
        return toml_string(str(value))

    def expects(self) -> str:
        """What belongs here, for messages and tables."""
        return "text"


@dataclass(frozen=True)
class Quantity(Rule):
    """A number with a unit, between two bounds (SI)."""

    kind: str
    low: float | None
    high: float | None

    def read(self, value: Any, *, bare: bool = False) -> float:
        """SI float of "0.3 mH"."""
        number_given = isinstance(value, (int, float)) and not isinstance(value, bool)
        if number_given and not bare:
            raise UnitError(self._missing_unit(value))
        if not isinstance(value, str) and not number_given:
            raise UnitError(f"expected {self.expects()} ({self.doc}), got {quoted(value)}")
        if isinstance(value, str) and re.fullmatch(r"\s*[+-]?(\d{1,9}\.?\d{0,9})\s*", value, re.ASCII):
            raise UnitError(self._missing_unit(float(value), value))
        try:
            number = float(value) if number_given else from_text(value, self.kind)
        except OverflowError:
            raise UnitError(f"{quoted(value)} is too large a number") from None
        if not math.isfinite(number):
            raise UnitError(f"{number} is not a number that can be used; expected {self.expects()}")
        if (self.low is not None and number < self.low) or (self.high is not None and number > self.high):
            shown = quoted(value) if isinstance(value, str) else quoted(to_text(number, self.kind))
            raise UnitError(f"{shown} is outside {self.range()} ({self.doc})")
        return number

    def _missing_unit(self, value: float, written: str = "") -> str:
        table = KINDS[self.kind]
        if not abs(value) < BEYOND_PHYSICS:
            return f"{quoted(value)} is not a number that can be used; expected {self.expects()}"
        low, high = -math.inf if self.low is None else self.low, math.inf if self.high is None else self.high
        inside = [unit for unit in table.factors if low <= value * float(table.factors[unit]) <= high]
        example = f'"{written.strip() or value} {(inside or list(table.factors))[0]}"'
        if self.kind == "fraction" and 0.0 < value <= 1.0:
            example = f'"{100.0 * value:g} %", or {example} if that is meant'
        return f"{quoted(written or value)} has no unit: write {example} ({table.takes})"

    def range(self) -> str:
        """The bounds with units: "100 uF to 1 F"."""
        low = None if self.low is None else to_text(self.low, self.kind, digits=6)
        high = None if self.high is None else to_text(self.high, self.kind, digits=6)
        if low and high:
            return f"{low} to {high}"
        return f"{low} and more" if low else f"up to {high}" if high else "any value"

    def write(self, value: float) -> str:
        """Lossless text in quotes."""
        return f'"{to_text(value, self.kind)}"'

    def expects(self) -> str:
        """The kind and the bounds."""
        return f"{article(KINDS[self.kind].spoken)} from {self.range()}"


@dataclass(frozen=True)
class Count(Rule):
    """A whole number of things."""

    low: int
    high: int

    def read(self, value: Any, *, bare: bool = False) -> int:
        """The number; "15 turns" is understood too."""
        if isinstance(value, str):
            match = re.fullmatch(r"\s*([+-]?\d{1,19})\s*(turns?|cans?|pieces?)?\s*", value, re.ASCII)
            unit = _NUMBER.fullmatch(value[:LONGEST_TEXT])
            if not match and unit and any(plain_unit(unit[2]) in kind.factors for kind in KINDS.values()):
                raise UnitError(f"{quoted(value)}: expected a count ({self.doc}); a count has no unit")
            number: Any = int(match[1]) if match else None
        else:
            whole = isinstance(value, int) or (isinstance(value, float) and value.is_integer())
            number = int(value) if whole and not isinstance(value, bool) else None
        if number is None or not self.low <= number <= self.high:
            raise UnitError(f"expected {self.expects()} ({self.doc}), got {quoted(value)}")
        return number

    def write(self, value: int) -> str:
        """Plain digits."""
        return str(value)

    def expects(self) -> str:
        """The bounds."""
        return f"a whole number from {self.low} to {self.high}"


@dataclass(frozen=True)
class Ratio(Rule):
    """A pure number, or two joined by a colon: 7.42 or "230:31"."""

    low: float
    high: float

    def read(self, value: Any, *, bare: bool = False) -> float:
        """The quotient."""
        number = float("nan")
        if isinstance(value, str) and len(value) <= LONGEST_TEXT:
            match = re.fullmatch(r"\s*(\d+\.?\d*|\.\d+)\s*(?::\s*(\d+\.?\d*|\.\d+)\s*)?", value, re.ASCII)
            if match and float(match[2] or 1) > 0:
                number = float(match[1]) / float(match[2] or 1)
        elif isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < BEYOND_PHYSICS:
            number = float(value)
        if not self.low <= number <= self.high:
            raise UnitError(f"expected {self.expects()} ({self.doc}), got {quoted(value)}")
        return number

    def write(self, value: float) -> str:
        """A plain number."""
        return repr(value)

    def expects(self) -> str:
        """The bounds."""
        return f'a ratio such as "230:31" or a number from {self.low:g} to {self.high:g}'


@dataclass(frozen=True)
class Text(Rule):
    """Free text."""

    longest: int = 20_000

    def read(self, value: Any, *, bare: bool = False) -> str:
        """The text as it is."""
        if not isinstance(value, str) or len(value) > self.longest:
            raise UnitError(f"expected text of at most {self.longest} characters ({self.doc}), got {quoted(value)}")
        return value


@dataclass(frozen=True)
class Choice(Rule):
    """One word out of a list."""

    options: tuple[str, ...]

    def read(self, value: Any, *, bare: bool = False) -> str:
        """The word."""
        if isinstance(value, str) and value in self.options:
            return value
        if not isinstance(value, str):
            raise UnitError(f"expected {self.expects()} ({self.doc}), got {quoted(value)}")
        hint = nearest(OTHER_WORDS.get(value.lower(), value), self.options)
        raise UnitError(f"{quoted(value)} is not known{hint} ({self.expects()}{'' if hint else ': ' + self.doc})")

    def expects(self) -> str:
        """The words."""
        return "one of " + ", ".join(self.options)


@dataclass(frozen=True)
class Flag(Rule):
    """true or false."""

    def read(self, value: Any, *, bare: bool = False) -> bool:
        """The truth value; "true" and "false" as text too (command line)."""
        known = {"true": True, "false": False}
        if isinstance(value, bool):
            return value
        if isinstance(value, str) and value.strip().lower() in known:
            return known[value.strip().lower()]
        raise UnitError(f"expected true or false ({self.doc}), got {quoted(value)}")

    def write(self, value: bool) -> str:
        """TOML's words."""
        return "true" if value else "false"

    def expects(self) -> str:
        """The words."""
        return "true or false"


@dataclass(frozen=True)
class Rows(Rule):
    """A list of inline tables, each like the dataclass ``item``; or, where ``presets`` are named, a preset's name."""

    item: type
    shortest: int
    presets: tuple[str, ...]

    def read(self, value: Any, *, bare: bool = False) -> Any:
        """Refused: no single value makes rows."""
        raise UnitError(f"expected {self.expects()}, got {quoted(value)}")

    def expects(self) -> str:
        """The keys of a row."""
        row = ", ".join(field.name for field in dataclasses.fields(self.item))
        return f"a list of {{{row}}}" + (" or one of " + ", ".join(self.presets) if self.presets else "")


def toml_string(text: str) -> str:
    """A text as a TOML basic string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def rule_of(field: dataclasses.Field) -> Rule:
    """The rule that a field was made with."""
    rule: Rule = field.metadata["rule"]
    return rule


def _field(rule: Rule, default: Any) -> Any:
    if isinstance(default, str) and isinstance(rule, Quantity):
        default = from_text(default, rule.kind)
    if default is MISSING:
        return dataclasses.field(metadata={"rule": rule})
    return dataclasses.field(default=default, metadata={"rule": rule})


def quantity(
    kind: str, *, doc: str, low: str | float | None = None, high: str | float | None = None, default: Any = MISSING
) -> Any:
    """A field with a unit.  Bounds and default are SI floats or texts ("200 kohm").

    Without ``default`` the key must be given; ``default=None`` means "not given" is allowed.  Use it in a
    ``@dataclass(frozen=True, kw_only=True)``; the file, ``--set`` and the table in README follow from it.
    """
    bounds = [from_text(bound, kind) if isinstance(bound, str) else bound for bound in (low, high)]
    return _field(Quantity(doc, kind, *bounds), default)


def count(*, doc: str, low: int = 1, high: int = 100_000, default: Any = MISSING) -> Any:
    """A field that holds a whole number."""
    return _field(Count(doc, low, high), default)


def ratio(*, doc: str, low: float, high: float, default: Any = MISSING) -> Any:
    """A field that holds a pure number, or "230:31"."""
    return _field(Ratio(doc, low, high), default)


def text(*, doc: str, default: Any = MISSING) -> Any:
    """A field that holds free text."""
    return _field(Text(doc), default)


def choice(options: Sequence[str], *, doc: str, default: Any = MISSING) -> Any:
    """A field that holds one of some words."""
    return _field(Choice(doc, tuple(options)), default)


def flag(*, doc: str, default: Any = MISSING) -> Any:
    """A field that holds true or false."""
    return _field(Flag(doc), default)


def rows(item: type, *, doc: str, shortest: int = 1, presets: Sequence[str] = (), default: Any = None) -> Any:
    """A field that holds a tuple of ``item`` objects, written as a list of inline tables."""
    return _field(Rows(doc, item, shortest, tuple(presets)), default)
