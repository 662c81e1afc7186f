"""The error tree: every error names a place, states a fact and gives advice, in one sentence for a person."""

from collections.abc import Sequence

from weldsim.frozen import dataclass


class WeldsimError(Exception):
    """Anything the user can put right; the command line prints it as one sentence and ends with exit code 2."""

    def __init__(self, fact: str, *, place: str = "", advice: str = "") -> None:
        self.fact = fact
        self.place = place
        self.advice = advice
        super().__init__(fact)

    def __str__(self) -> str:
        """Place, fact and advice as one line."""
        text = f"{self.place}: {self.fact}" if self.place else self.fact
        return f"{text}; {self.advice}" if self.advice else text


class UnitError(WeldsimError):
    """A text or number that is not the value asked for: wrong unit, no unit, outside the range."""


@dataclass(frozen=True)
class Complaint:
    """One fault of a scenario: where it stands, and what is wrong with it."""

    place: str  # "choke.inductance"
    fact: str  # "'0,3 mH': write a decimal point, not a comma: \"0.3 mH\""
    line: int | None = None  # in the source text; None where no line can be named

    def as_line(self) -> str:
        """The complaint as one line of a list."""
        return f"  line {self.line if self.line else '-':>3}  {self.place}: {self.fact}"


class ScenarioError(WeldsimError):
    """A scenario that cannot be read; ``complaints`` holds every fault found, not only the first."""

    def __init__(self, fact: str, *, place: str = "", advice: str = "", complaints: Sequence[Complaint] = ()) -> None:
        super().__init__(fact, place=place, advice=advice)
        self.complaints = tuple(complaints)

    def __str__(self) -> str:
        """The sentence, followed by one line for each complaint."""
        return "\n".join([super().__str__(), *(complaint.as_line() for complaint in self.complaints)])


class WiringError(WeldsimError):
    """Parts that cannot be joined to a network with a solution, with the smallest value that would help."""


class SimulationError(WeldsimError):
    """A run that cannot be done or was given up, with the time and the element that stopped it."""


class RunFileError(WeldsimError):
    """A run file that cannot be read or written."""


class QuestionError(WeldsimError):
    """A study asked for something the scenario cannot answer, such as comparing a boost that is not there."""


def written_out(text: str) -> str:
    """A text on one line, with what a terminal would obey instead of showing it (escape, bell, line feed) spelled out.

    >>> print(written_out("a title in \\x1b[31mred"))
    a title in \\x1b[31mred
    """
    return text if text.isprintable() else "".join(one if one.isprintable() else repr(one)[1:-1] for one in text)
