"""How far a long piece of work has come: a bar on a terminal, a plain line now and then elsewhere; always on stderr."""

import contextlib
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sized
from typing import TextIO, TypeVar

from weldsim.cli.entry import interrupt_heard
from weldsim.errors import written_out

Item = TypeVar("Item")

BAR = 30  # characters
QUIET = 1.0  # [s] of work before anything is shown
EVERY = 5.0  # [s] between plain lines
REFRESH = 0.1  # [s] between two drawings of the bar


def tell(sentence: str) -> None:
    """One line about what is being done, on stderr."""
    print(f"weldsim: {written_out(sentence)}", file=sys.stderr, flush=True)


def announce_compiling() -> bool:
    """Say so when the first run on this machine will take some seconds longer; whether it will."""
    from weldsim.runs.perform import must_compile

    compiling = must_compile()
    if compiling:
        tell("compiling the solver, once on this machine; some seconds")
    return compiling


def followed(
    items: Iterable[Item],
    what: str,
    *,
    total: int | None = None,
    stream: TextIO | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Item]:
    """Yield the items and show how many are done; nothing is shown for work that ends within a second."""
    stream = stream or sys.stderr
    if total is None:
        total = len(items) if isinstance(items, Sized) else 0
    bar, pause = stream.isatty(), REFRESH if stream.isatty() else EVERY
    due, shown = clock() + QUIET, False
    try:
        for done, item in enumerate(items):
            if clock() >= due:
                stream.write(_bar(what, done, total) if bar else f"weldsim: {what}: {_count(done, total)}\n")
                stream.flush()
                due, shown = clock() + pause, True
            yield item
    finally:
        if shown and bar:
            stream.write("\r\x1b[K")
            stream.flush()


def meter(stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> Callable[[int, int, str], None]:
    """A function (done, all, what) that a study calls: it shows what ``followed`` shows."""
    stream = stream or sys.stderr
    bar = stream.isatty()
    due = [clock() + QUIET]

    def show(done: int, whole: int, what: str) -> None:
        if interrupt_heard():  # and dropped by a library since: work that goes on was not ended by it
            raise KeyboardInterrupt
        if clock() < due[0]:
            return
        stream.write(_bar(what, done, whole) if bar else f"weldsim: {what}: {_count(done, whole)}\n")
        if bar and done >= whole:
            stream.write("\r\x1b[K")
        stream.flush()
        due[0] = clock() + (REFRESH if bar else EVERY)

    return show


def _count(done: int, total: int) -> str:
    return f"{done} of {total}" if total else f"{done}"


def _bar(what: str, done: int, total: int) -> str:
    filled = BAR * done // total if total else 0
    return f"\r{what} [{'=' * filled}{' ' * (BAR - filled)}] {_count(done, total)}\x1b[K"


def silence() -> None:
    """Whoever read our output has stopped: print nothing more, also while Python closes down."""
    with contextlib.suppress(OSError, ValueError):  # no real stdout: nothing left to be silenced
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
