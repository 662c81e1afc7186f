"""Make a drawn supply that breaks a law small: ``python -m tests.laws.shrink SEED "law" [FILE]``.

Tables and keys are taken away one by one for as long as the law stays broken; what is left is written as a scenario
whose notes say which law it broke; comments above them tell delay and number of periods.
"""

import argparse
import dataclasses
from collections.abc import Iterator
from pathlib import Path

from tests.laws.balances import BALANCES, DEAR_BALANCES, PROMPT
from tests.laws.case import Case
from tests.laws.repetitions import REPETITIONS
from tests.laws.supplies_at_random import Drawn, seeded_supply
from weldsim.errors import WeldsimError
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary

LAWS = BALANCES | PROMPT | DEAR_BALANCES | REPETITIONS
NEEDED = {"mains": ("voltage", "frequency"), "load": ("kind",), "bank": ("capacitance",), "boost": ("kind",)}


def broken(drawn: Drawn, law: str) -> str | None:
    """What is found broken; None where the law holds or the supply cannot be run."""
    try:
        return next(iter(LAWS[law](Case(drawn))), None)
    except WeldsimError:
        return None


def smaller(drawn: Drawn) -> Iterator[Drawn]:
    """The same supply with one thing less."""
    for name in [name for name in drawn.tables if name != "mains"]:
        yield dataclasses.replace(drawn, tables={k: v for k, v in drawn.tables.items() if k != name})
    for name, table in drawn.tables.items():
        for key in table:
            if key not in NEEDED.get(name, ()):
                less = {k: v for k, v in table.items() if k != key}
                yield dataclasses.replace(drawn, tables=drawn.tables | {name: less})
    if drawn.periods > 1:
        yield dataclasses.replace(drawn, periods=drawn.periods - 1)
    if drawn.delay:
        yield dataclasses.replace(drawn, delay=float(f"{drawn.delay:.3g}"))


def shrunk(drawn: Drawn, law: str) -> Drawn:
    """The smallest supply found that still breaks the law."""
    going = True
    while going:
        going = False
        for less in smaller(drawn):
            if less != drawn and broken(less, law):
                drawn, going = less, True
                break
    return drawn


def as_text(drawn: Drawn, law: str, found: str) -> str:
    """A scenario file that says what it is kept for."""
    told = f"{law}: {found}"
    scenario = vary(drawn.scenario(), {"title": f"Broke the law of {law}", "notes": told})
    heading = f"# delay = {drawn.delay}\n# periods = {drawn.periods}\n"
    return heading + scenario.text


def kept(path: Path) -> Drawn:
    """A supply that was kept, as it was drawn."""
    text = path.read_text(encoding="utf-8")
    lines = dict(line[2:].split(" = ") for line in text.splitlines() if line.startswith("# "))
    delay = None if lines["delay"] == "None" else float(lines["delay"])
    return Kept({}, delay, int(lines["periods"]), text)


@dataclasses.dataclass(frozen=True)
class Kept(Drawn):
    """A supply read from a file."""

    text: str = ""

    def scenario(self):
        """The scenario as it stands in the file."""
        return read_text(self.text)


def main() -> None:
    """Shrink one seed and show or write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seed", type=int)
    parser.add_argument("law", choices=sorted(LAWS))
    parser.add_argument("out", type=Path, nargs="?")
    asked = parser.parse_args()
    drawn = shrunk(seeded_supply(asked.seed), asked.law)
    text = as_text(drawn, asked.law, broken(drawn, asked.law) or "nothing")
    if asked.out:
        asked.out.write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
