"""Try many drawn supplies: ``python -m tests.laws.try_many --count 10000 --seed 0 --out found.txt``.

Each supply is run over 2 to 5 periods and judged by the laws that come cheap; every few ones also by those that run it
again.  What is broken is written down as it is found, one line a seed and law; ``tests.laws.shrink`` makes one small.
"""

import argparse
import itertools
import signal
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from tests.laws.balances import BALANCES, DEAR_BALANCES, PROMPT, TOLD
from tests.laws.case import Case
from tests.laws.repetitions import REPETITIONS
from tests.laws.supplies_at_random import seeded_supply
from weldsim.errors import SimulationError, WeldsimError

PATIENCE = 30  # [s] for one supply under one law
WARM = (0, 5000025)  # supplies that between them call all that is compiled


class TooLongError(Exception):
    """A supply took longer than anybody waits."""


@contextmanager
def patience(seconds: int) -> Iterator[None]:
    """Give up after so many seconds."""

    def give_up(_number: int, _frame: FrameType | None) -> None:
        raise TooLongError

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def laws(*, dear: bool) -> dict[str, Callable[[Case], Iterator[str]]]:
    """The laws that come cheap, or all of them."""
    return BALANCES | PROMPT | TOLD | (DEAR_BALANCES | REPETITIONS if dear else {})


def judge(seed: int, *, dear: bool, only: set[str] | None = None) -> Iterator[tuple[str, str]]:
    """Laws that the supply of a seed breaks, each with what was found; "refused" is a supply that cannot be wired.

    "told" is no law: a run that says itself that its energy does not close.
    """
    cases: list[Case] = []

    def run() -> None:
        case = Case(seeded_supply(seed))
        assert case.trace
        cases.append(case)

    failure = outcome(run)
    if failure is not None:
        yield failure
        return
    for name, law in laws(dear=dear).items():
        if not only or name in only:
            found: list[str] = []
            failure = outcome(lambda law=law, found=found: found.extend(itertools.islice(law(cases[0]), 1)))
            if failure is not None or found:
                yield name, found[0] if found else ": ".join(failure or ())


def outcome(action: Callable[[], None]) -> tuple[str, str] | None:
    """How an action failed; None where it did not."""
    try:
        with patience(PATIENCE):
            action()
    except TooLongError:
        return "too long", ""
    except SimulationError as error:
        return "cannot run", str(error)
    except WeldsimError as error:
        return "refused", str(error)
    except Exception as error:  # a bug of the law or of the package: written down like the others
        return "bug", f"{type(error).__name__}: {error}"
    return None


def main() -> None:
    """Throw the seeds and write down what breaks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--dear", type=int, default=5, help="every how many supplies are also run again")
    parser.add_argument("--laws", help="only these, with commas between")
    parser.add_argument("--out", type=Path, default=Path("found.txt"))
    asked = parser.parse_args()
    only = set(asked.laws.split(",")) if asked.laws else None
    counts: Counter[str] = Counter()
    for case in map(Case, map(seeded_supply, WARM)):  # compiled now, and not on the patience of the first supplies
        for law in laws(dear=True).values():
            list(law(case))
    began = time.perf_counter()
    with asked.out.open("a", encoding="utf-8") as out:
        for number, seed in enumerate(range(asked.seed, asked.seed + asked.count)):
            for law, what in judge(seed, dear=number % asked.dear == 0, only=only):
                counts[law] += 1
                print(f"{seed}\t{law}\t{what}", file=out, flush=True)
            if number % 500 == 499:
                print(number + 1, f"{time.perf_counter() - began:.0f} s", dict(counts), flush=True)
    print(asked.count, "supplies,", dict(counts))


if __name__ == "__main__":
    main()
