"""Leaps of whole mains periods where nothing changes its mode: the same solution in fewer steps."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.engine.toys import bare, equations, with_clock
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import Stepper

TAU, DRIVE, LIMIT, OMEGA = 0.3, 20.0, 0.25, 100.0 * np.pi


def fading():
    """A state that dies away with TAU while a sine drives it a little; below LIMIT its part is done, then it runs out
    to zero.
    """

    def assemble(signature):
        matrix = with_clock([[-1.0 / TAU, DRIVE, 0.0, 0.0]])
        guards = [([1.0, 0.0, 0.0, -LIMIT], 1e-9, 0, 1)] if signature[0] == 0 else []
        return equations(matrix, [[1.0, 0.0, 0.0, 0.0]], guards)

    return bare(assemble, 1, ("waiting", "done", "sent"), events=2)


def closed_form(t):
    """a' = -a / TAU + DRIVE sin w t from 1: a phasor, and what dies away (derived here)."""
    forced = DRIVE / (1.0 / TAU + 1j * OMEGA)
    return (forced * np.exp(1j * OMEGA * t)).imag + (1.0 - forced.imag) * np.exp(-t / TAU)


def run(end, commands=(), *, quick):
    """The toy, run to an end."""
    stepper = Stepper(ModeLibrary(fading(), 20), RunPlan(0.0, end, np.ones(1), (0,), commands))
    stepper.run_to(end, quick=quick)
    return stepper


def test_a_coasted_state_is_the_closed_form_in_fewer_steps():
    """After 13 periods in which nothing switches the state is right to rounding, with less than half the steps."""
    quick, plain = (run(0.27, quick=quick) for quick in (True, False))
    assert quick.x[0] == pytest.approx(closed_form(0.27), rel=1e-11)
    assert quick.now == 0.27
    assert 2 * quick.control[10] < plain.control[10]


@pytest.mark.parametrize("commands", [(), [(1.005, 1)]])
def test_a_leap_over_a_change_is_taken_back(commands):
    """The limit is passed at the instant at which the closed form passes it, and a command comes when it is due.

    Quanta are 1.5e-11 s here; the dead band of 1e-9 is passed 3e-10 s later at the slope of some -3 1/s or steeper.
    """
    grid = np.linspace(0.3, 0.6, 30001)
    first = int(np.argmax(closed_form(grid) < LIMIT))
    crossing = brentq(lambda t: closed_form(t) - LIMIT, grid[first - 1], grid[first])

    stepper = run(1.2, commands, quick=True)

    changes = stepper.trace().changes()
    assert [entered for *_, entered in changes] == ["done", "sent"][: 1 + len(commands)]
    assert changes[0][0] == pytest.approx(crossing, abs=1e-9)
    assert stepper.x[0] == pytest.approx(closed_form(1.2), rel=1e-10)
