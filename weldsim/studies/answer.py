"""The handover sheet between studies and everything that shows them: named numbers, verdicts and what was assumed.

An answer holds numbers and runs, never pictures; ``weldsim.figures`` draws it and ``weldsim.report`` words it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import TYPE_CHECKING, Any

import numpy as np

from weldsim.errors import WeldsimError
from weldsim.frozen import dataclass
from weldsim.scenario.document import Scenario
from weldsim.scenario.idle import idle_values
from weldsim.studies.fed_by import told_generator, told_pair

if TYPE_CHECKING:
    from weldsim.runs.run import Run, ScenarioText

LEVELS = ("good", "note", "fault")
MAINS_STEPS = (-10, 0, 10)  # [%] the mains voltages behind a spread
NOTHING = 1e-6  # a share below it is what rounding leaves of none


@dataclass(frozen=True)
class Number:
    """One figure in SI units; angles in "deg", fractions and counts in "1"."""

    value: float
    unit: str


@dataclass(frozen=True)
class Verdict:
    """A judgement in plain words, with its number, cause and assumption in the text; "good", "note" or "fault"."""

    name: str
    level: str
    text: str

    def __post_init__(self) -> None:
        """Refuse a level that nobody knows how to show."""
        if self.level not in LEVELS:
            raise WeldsimError(
                f"the verdict '{self.name}' has the level '{self.level}'",
                place="answer",
                advice=f"use one of {', '.join(LEVELS)}",
            )


@dataclass(frozen=True, eq=False)
class Answer:
    """What a study found out; ``rows`` are its cases where it lists some, ``runs`` the recordings behind it.

    A recording whose energy ledger does not close makes a verdict of its own, whatever the study; so does a value of
    the scenario that has no effect.
    """

    study: str
    scenario: "Scenario | ScenarioText"
    numbers: dict[str, Number]
    verdicts: list[Verdict] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)
    rows: list[dict[str, Any]] | None = None
    runs: "dict[str, Run]" = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Say where energies do not add up, which values count for nothing, what of a generator is left out."""
        doubts = dict.fromkeys(doubt for run in self.runs.values() if (doubt := run.doubt) is not None)
        told = [Verdict("energy", "fault", doubt) for doubt in doubts]
        object.__setattr__(self, "verdicts", [*told, *self.verdicts, *_told_idle(self.scenario)])
        lines = [*self.assumptions, *told_generator(self.study, self.scenario), *told_pair(self.study, self.scenario)]
        object.__setattr__(self, "assumptions", list(dict.fromkeys(lines)))

    def __repr__(self) -> str:
        """One line: which question to what, and how the verdicts came out."""
        found = [f"{sum(one.level == level for one in self.verdicts)} {level}" for level in reversed(LEVELS)]
        of = self.scenario.source or self.scenario.title
        return f"<Answer of {self.study} to {of}: {len(self.numbers)} numbers, verdicts: {', '.join(found)}>"

    def as_json(self) -> dict[str, Any]:
        """The object of ``--json``: plain dictionaries, lists, numbers and text; what is not finite becomes None."""
        answer: dict[str, Any] = {
            "study": self.study,
            "scenario": self.scenario.source or self.scenario.title,
            "numbers": {
                name: {"value": _plain(number.value), "unit": number.unit} for name, number in self.numbers.items()
            },
            "verdicts": [
                {"name": verdict.name, "level": verdict.level, "text": verdict.text} for verdict in self.verdicts
            ],
            "assumptions": list(self.assumptions),
        }
        return answer if self.rows is None else answer | {"rows": _plain(self.rows)}


def _told_idle(scenario: Any) -> list[Verdict]:
    """A note for each value that the scenario gives in vain, since whoever wrote or set it waits for its effect."""
    if not isinstance(scenario, Scenario):
        return []
    return [Verdict("idle_value", "note", idle.told) for idle in idle_values(scenario, kinds=False)]


def _plain(value: Any) -> Any:
    """A value as JSON knows it."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else None  # + 0: a zero has no sign
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, Number):
        return {"value": _plain(value.value), "unit": value.unit}
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [_plain(inner) for inner in value]
    raise WeldsimError(
        f"a {type(value).__name__} cannot stand in an answer",
        place="answer",
        advice="use numbers, text, lists and dictionaries",
    )


def counted(count: int, one: str, many: str | None = None) -> str:
    """A count with its word.

    >>> counted(1, "press", "presses"), counted(0, "trial"), counted(2, "time")
    ('1 press', '0 trials', '2 times')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def spread(values: Sequence[float], unit: str, *, digits: int = 3) -> str:
    """How a figure of a verdict spreads over the mains: its values at -10, 0 and +10 % in one phrase.

    >>> spread([115.23, 127.65, 139.91], "A")
    '128 A (115 to 140 A over mains -10 to +10 %)'
    """
    if len(values) != len(MAINS_STEPS):
        raise WeldsimError(
            f"a spread over the mains has {len(MAINS_STEPS)} values, not {len(values)}",
            place="spread",
            advice="give the figure at mains -10, 0 and +10 %",
        )
    middle = amount(values[1], unit, digits=digits)
    reached = [value for value in values if math.isfinite(value)]
    if len(reached) < len(values):
        lacking = [f"{step:+d} %" for step, value in zip(MAINS_STEPS, values, strict=True) if not math.isfinite(value)]
        lacking = ["the rated voltage" if step == "+0 %" else step for step in lacking]
        return f"{middle} (no value at mains {' and '.join(lacking)})"
    least, largest = (_written(end, digits) for end in (min(reached), max(reached)))
    if least == largest:
        return f"{middle} (the same over mains -10 to +10 %)"
    name = "" if unit == "1" else f" {unit}"
    return f"{middle} ({least} to {largest}{name} over mains -10 to +10 %)"


def amount(value: float, unit: str, *, digits: int = 3) -> str:
    """A figure with its unit for a sentence; "no value" where there is none.

    >>> amount(127.650056, "A"), amount(0.0125, "V.s"), amount(4979.5, "W"), amount(0.62853, "1")
    ('128 A', '0.0125 V.s', '4980 W', '0.629')
    """
    if not math.isfinite(value):
        return "no value"
    return _written(value, digits) if unit == "1" else f"{_written(value, digits)} {unit}"


def percent(share: float) -> str:
    """A share in percent for a sentence, 0 % for what rounding leaves of nothing and for what is below it.

    >>> percent(0.0896), percent(3e-14), percent(-2e-4), percent(1.24), percent(math.nan)
    ('9 %', '0 %', '0 %', '124 %', 'no value')
    """
    return amount(0.0 if share < NOTHING else 100.0 * share, "%", digits=2 if share < 1.0 else 3)


def _written(value: float, digits: int) -> str:
    """A number with so many significant digits and no exponent unless it is out of the ordinary."""
    if value and not 1e-4 <= abs(value) < 1e7:
        return f"{value:.{digits}g}"
    return np.format_float_positional(float(f"{value:.{digits}g}"), trim="-")


def of_hundred(share: float) -> str:
    """A share counted in hundredths, with a tenth more where it would else round to none or to all of them.

    >>> of_hundred(0.49), of_hundred(0.0), of_hundred(0.0038), of_hundred(0.996), of_hundred(0.0001)
    ('49', '0', '0.4', '99.6', 'less than 0.1')
    """
    hundredths = round(100.0 * share, 9)  # an interval that begins at none may leave 1e-17
    if 0.0 < hundredths < 0.05:
        return "less than 0.1"
    if 99.95 <= hundredths < 100.0:
        return "more than 99.9"
    rounds_away = 0.0 < hundredths < 0.5 or 99.5 <= hundredths < 100.0
    return f"{hundredths:.1f}" if rounds_away else f"{hundredths:.0f}"
