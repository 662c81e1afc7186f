"""Modes that cannot be had: pieces without a solution are tried once, and an interrupt leaves nothing half written."""

import contextlib

import numpy as np
import pytest

from tests.engine.toys import bare, controller, equations, with_clock
from weldsim.engine import library as library_module
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate
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


@pytest.mark.parametrize(
    "step", ["_write_limits", "_write_conditions", "parts", "_write_pace", "pace", "_write_guards"]
)
def test_an_interrupt_leaves_no_half_written_mode(step, monkeypatch):
    """Ctrl-C while a mode is written, in a notebook say, and the same run once more: as if nothing had been."""
    plan = RunPlan(0.0, 0.04, np.zeros(1), (0,), [(0.002, 0), (0.013, 0)])
    whole = simulate(ModeLibrary(controller()), plan)
    library, write = ModeLibrary(controller()), getattr(library_module, step)
    for nth in range(1, 5):
        calls = iter(range(1, 1000))

        def interrupted(*arguments, nth=nth, calls=calls, **named):
            if next(calls) == nth:
                raise KeyboardInterrupt
            return write(*arguments, **named)

        monkeypatch.setattr(library_module, step, interrupted)
        with contextlib.suppress(KeyboardInterrupt):
            simulate(library, plan)
    monkeypatch.setattr(library_module, step, write)
    again = simulate(library, plan)
    np.testing.assert_array_equal(again.time, whole.time)
    np.testing.assert_array_equal(again.state, whole.state)
    assert again.extremes(["i"])[0].tolist() == whole.extremes(["i"])[0].tolist()
