"""Keys that are varied in steps: "choke.inductance=0.1 mH:1 mH:10" -> ten values between two ends, evenly spaced.

A key is one of a scenario, or what a study is asked with: dial, delay, feed.
"""

import dataclasses
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from weldsim.errors import ScenarioError, UnitError
from weldsim.frozen import dataclass
from weldsim.scenario.document import TABLES
from weldsim.unit_table import KINDS
from weldsim.units import Count, Quantity, Ratio, Rule, nearest, quoted, rule_of

ASKED: dict[str, Rule] = {
    "dial": Quantity("setting of the dial", "fraction", 0.0, 1.0),
    "delay": Quantity("firing delay", "angle", 0.0, 180.0),
    "feed": Quantity("wire feed", "speed", 0.0, 0.5),
}
MOST_KEYS, MOST_CASES = 2, 10_000
_FORM = "write key=from:to:steps, such as choke.inductance=0.1mH:1mH:10"

Course = str | Sequence[float | str]


@dataclass(frozen=True)
class Axis:
    """One key and its values in SI; ``unit`` and ``factor`` are those it was typed in, for tables and pictures."""

    key: str
    values: tuple[float | int, ...]
    unit: str
    factor: float

    @property
    def asked(self) -> bool:
        """Whether the study is asked with it, instead of the scenario being varied."""
        return self.key in ASKED

    def shown(self, value: float) -> float:
        """A value in the unit that was typed, without the rounding of the conversion."""
        return float(f"{value / self.factor:.12g}")


def axes_of(over: Mapping[str, Course] | Iterable[str]) -> tuple[Axis, ...]:
    """One or two axes from texts as typed, or from a mapping of keys to a text "from:to:steps" or to values."""
    if isinstance(over, Mapping):
        courses = dict(over)
    else:
        pairs = [text.partition("=") for text in over]
        courses = {key.strip(): course.strip() for key, _, course in pairs}
        if len(courses) < len(pairs):
            raise ScenarioError("one key stands there twice", place="--over", advice="vary two different keys")
    if not 1 <= len(courses) <= MOST_KEYS:
        raise ScenarioError(f"{len(courses)} keys to vary", place="--over", advice="give one or two")
    if "dial" in courses and "delay" in courses:
        raise ScenarioError("the dial sets the delay already", place="--over", advice="vary one of them")
    axes = tuple(_axis(key, course) for key, course in courses.items())
    count = math.prod(len(axis.values) for axis in axes)
    if count > MOST_CASES:
        raise ScenarioError(f"{count} cases are too many", place="--over", advice=f"at most {MOST_CASES}")
    return axes


def _axis(key: str, course: Course) -> Axis:
    """The values of one key."""
    rule = _rule(key)
    try:
        if isinstance(course, str):
            return _stepped(key, course, rule)
        values = tuple(rule.read(value, bare=True) for value in course)
    except UnitError as error:
        raise ScenarioError(str(error), place=key) from None
    if not values or len(set(values)) < len(values):
        raise ScenarioError("no values, or one of them twice", place=key, advice="give different values")
    unit, factor = _unit(next((value for value in course if isinstance(value, str)), ""), rule)
    return Axis(key, values, unit, factor)


def _rule(key: str) -> Rule:
    """The rule of a key that can be varied in steps."""
    table, _, name = key.partition(".")
    fields = {item.name: item for item in dataclasses.fields(TABLES[table])} if table in TABLES else {}
    if key in ASKED:
        rule = ASKED[key]
    elif name in fields:
        rule = rule_of(fields[name])
    else:
        known = [f"{table}.{one}" for one in fields] or [*TABLES, *ASKED]
        raise ScenarioError(f"{quoted(key)} is no key{nearest(key, known)}", place="--over", advice=_FORM)
    if not isinstance(rule, (Quantity, Count, Ratio)):
        raise ScenarioError(f"{key} is no number: {rule.expects()}", place="--over", advice="vary a quantity")
    return rule


def _stepped(key: str, course: str, rule: Rule) -> Axis:
    """Evenly spaced values from one end to the other; a unit behind the second end holds for the first too."""
    ends = course.split(":")
    steps = re.fullmatch(r"\s*(\d{1,6})\s*", ends[-1], re.ASCII)
    if len(ends) != 3 or not steps or not 1 <= int(steps[1]) <= MOST_CASES:
        allowed = f"; steps are a whole number from 1 to {MOST_CASES}" if len(ends) == 3 else ""
        raise ScenarioError(f"{quoted(course)} is not from:to:steps{allowed}", place=key, advice=_FORM)
    first, last, count = ends[0].strip(), ends[1].strip(), int(steps[1])
    unit = re.sub(r"^[-+\d.,eE\s\N{MINUS SIGN}]+", "", last)
    if unit and re.fullmatch(r"[-+\d.]+(?:[eE][-+]?\d+)?", first):
        first = f"{first} {unit}"
    low, high = rule.read(first), rule.read(last)
    exact = [_exact(low) + (_exact(high) - _exact(low)) * k / max(count - 1, 1) for k in range(count)]
    if isinstance(rule, Count):
        if any(value.denominator != 1 for value in exact):
            raise ScenarioError(f"{quoted(course)} meets values that are no whole numbers", place=key, advice=_FORM)
        values: tuple[float | int, ...] = tuple(int(value) for value in exact)
    else:
        values = tuple(rule.read(float(value), bare=True) for value in exact)
    if len(set(values)) < count:
        raise ScenarioError("both ends are the same", place=key, advice="give two different ends")
    shown, factor = _unit(last, rule)
    return Axis(key, values, shown, factor)


def _exact(value: float) -> Fraction:
    """A float as the decimal it is written as, so that steps are round numbers too."""
    return Fraction(repr(value))


def _unit(text: str, rule: Rule) -> tuple[str, float]:
    """The unit in a typed value and its factor to SI; the plain unit where none is typed."""
    if not isinstance(rule, Quantity):
        return "1", 1.0
    table = KINDS[rule.kind]
    compact = text.replace(" ", "")
    fitting = [unit for unit in table.factors if unit and compact.endswith(unit)]
    unit = max(fitting, key=len, default=table.base)
    return unit, float(table.factors.get(unit, 1))
