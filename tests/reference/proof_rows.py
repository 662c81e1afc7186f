"""Rows of the groups of proofs, each group run once in a test session however many tests look at it."""

from collections.abc import Callable
from functools import cache

from weldsim.studies.proofs.bench import Row


@cache
def rows_of(group: Callable[[], list[Row]]) -> tuple[Row, ...]:
    """What a group gives."""
    return tuple(group())
