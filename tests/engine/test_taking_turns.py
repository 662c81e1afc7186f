"""Parts that change over and over: what ends it, and the sentence where nothing does."""

import numpy as np
import pytest

from tests.engine.toys import bare, bouncer, equations, with_clock
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate
from weldsim.errors import SimulationError

AMPLITUDE, CLAMP, LEAKAGE, RESISTANCE = 50.0, 100.0, 1e5, 0.1
INDUCTANCE = 1e-13  # [H] so little that the current comes and goes within a quantum of 6e-12 s


def clamp():
    """A coil of next to no inductance into a part that clamps at 100 V either way and leaks below; sine of 50 V."""

    def assemble(signature):
        way = (0.0, 1.0, -1.0)[signature[0]]
        resistance = RESISTANCE + (0.0 if way else LEAKAGE)
        matrix = with_clock([[-resistance / INDUCTANCE, AMPLITUDE / INDUCTANCE, 0.0, -way * CLAMP / INDUCTANCE]])
        if way:
            guards = [([way, 0.0, 0.0, 0.0], 1e-8, 0, 0)]
        else:
            guards = [([-way * LEAKAGE, 0.0, 0.0, CLAMP], 1e-7, 0, 1 if way > 0 else 2) for way in (1.0, -1.0)]
        return equations(matrix, [[1.0, 0.0, 0.0, 0.0]], guards)

    return bare(assemble, 1, ("blocked", "plus", "minus"), names=("i",))


@pytest.mark.parametrize("first", [-50.0, 50.0])
def test_a_current_that_overshoots_every_quantum_is_laid_down(first):
    """50 A that a clamp at 100 V cannot carry on 50 V end blocked, and leak u / R from then on (1e-6: the phase).

    Left alone the current would be thrown from +500 A to -1500 A and back, a quantum each, for ever.
    """
    trace = simulate(ModeLibrary(clamp(), 50), RunPlan(0.0, 0.02, np.array([first]), (1,)))
    assert trace.changes()[-1][3] == "blocked"
    assert trace.changes()[-1][0] < 1e-9
    times = 1e-3 * np.arange(1, 20)
    told = AMPLITUDE * np.sin(100.0 * np.pi * times) / (LEAKAGE + RESISTANCE)
    np.testing.assert_allclose(trace.sample(["i"], 1e-3, spacing=1e-3, count=19)[0], told, atol=1e-6 * told.max())


def test_a_ball_that_comes_to_rest_ends_with_a_sentence():
    """Infinitely many bounces in a finite time (2 s: first fall times 1 + 2 (0.6 + 0.6^2 + ...)): the bound is told."""
    library = ModeLibrary(bouncer(restitution=0.6), 20)
    with pytest.raises(SimulationError, match="switch more often"):
        simulate(library, RunPlan(0.0, 4.0, np.array([1.0, 0.0]), (0,), most_changes=40))
