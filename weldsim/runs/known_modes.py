"""Runs whose last digits do not depend on what was run before on the same supply."""

from collections.abc import Callable
from typing import TypeVar

from weldsim.engine.library import ModeLibrary

Found = TypeVar("Found")


def with_known_modes(library: ModeLibrary, work: Callable[[], Found]) -> Found:
    """What ``work`` gives when it meets nothing new, by doing it again where it did.

    A run that waits for a mode, or for the way from one to another, goes on in other strides than one that knows them,
    which shows in the last digits.
    """
    while True:
        known = _known(library)
        found = work()
        if known == _known(library):
            return found


def _known(library: ModeLibrary) -> tuple[int, int]:
    """How much a library knows: its generation, and how often a mode or a way from mode to mode has been filled in."""
    return library.generation, library.ways + library.assembled
