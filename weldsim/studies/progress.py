"""How a study tells how far it is.

A function of (done, all, what); the command line gives one that draws on a terminal.
"""

from collections.abc import Callable

Progress = Callable[[int, int, str], None]


def silent(done: int, whole: int, what: str) -> None:
    """Tell nothing."""
