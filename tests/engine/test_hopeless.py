"""Pieces that have no solution together are tried once, however often a run asks for them."""

import pytest

from tests.engine.toys import bare, equations, with_clock
from weldsim.engine.library import ModeLibrary
from weldsim.errors import WiringError


def test_what_has_no_solution_is_assembled_once():
    """The same error each time; it does not grow by being raised again."""
    asked = []

    def assemble(signature):
        asked.append(signature)
        if signature[0] == 1:
            raise WiringError("two sources against each other", place="part", advice="write a resistance")
        return equations(with_clock([[0, 0, 0, 0]]), [[1, 0, 0, 0]], [])

    library = ModeLibrary(bare(assemble, 1, ("open", "shorted")))
    lengths = set()
    for _ in range(5):
        with pytest.raises(WiringError, match="two sources") as raised:
            library.mode((1,))
        lengths.add(len(raised.traceback))
    assert asked == [(1,)]
    assert max(lengths) <= 4
    assert library.mode((0,)) == 0
