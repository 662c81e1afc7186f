"""Crossings that the ends of a step, or the first crossing that is located, do not show."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.engine.toys import bare, equations, with_clock
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate

OMEGA = 100.0 * np.pi


def wave(order, lift, fall, limit):
    """Trips when lift + 0.8 cos(order w t) - fall t falls below zero, or when t reaches a limit."""

    def assemble(signature):
        matrix = with_clock([[0.0, 0.0, 0.0, 0.0, 0.0, 1.0]], orders=(1, order))
        dip = [-fall, 0.0, 0.0, 0.0, 0.8, lift]
        ramp = [-1.0, 0.0, 0.0, 0.0, 0.0, limit]
        guards = [(dip, 1e-9, 0, 1), (ramp, 1e-9, 0, 2)] if signature[0] == 0 else []
        return equations(matrix, [dip], guards)

    return bare(assemble, 1, ("watching", "dipped", "ramped"), orders=(1, order))


@pytest.mark.parametrize(
    ("order", "lift", "fall", "limit", "within"),
    [
        (15.0, 0.2, 0.0, 0.5e-3, (0.0, 0.5e-3)),  # back near its crest at 1 ms; the mode has just begun
        (19.9, 0.2, 0.0, 0.5e-3, (0.0, 0.5e-3)),
        (20.5, 1.6, 1e3, 1.3e-3, (1e-3, 1.3e-3)),  # in the second step: falling at its start, its end and at the limit
    ],
)
def test_of_two_crossings_in_a_step_the_first_counts(order, lift, fall, limit, within):
    """A dip that began before the limit was reached, and is over at the end of the step of 1 ms, comes first.

    At the end only the limit is seen to be passed; where that is located the dip is under way.  1e-10 s beside the
    bracketed root: a quantum of 1.5e-11 s, and the dead band of 1e-9 over a slope of more than 1000 1/s.
    """
    crossing = brentq(lambda t: lift + 0.8 * np.cos(order * OMEGA * t) - fall * t, *within)
    trace = simulate(ModeLibrary(wave(order, lift, fall, limit), 20), RunPlan(0.0, 0.01, np.zeros(1), (0,)))
    instant, _, _, entered = trace.changes()[0]
    assert entered == "dipped"
    assert instant == pytest.approx(crossing, abs=1e-10)


@pytest.mark.parametrize("margin", [1e-11, 1e-12, 1e-13])
def test_a_crest_that_passes_by_a_hair(margin):
    """A cosine that dips below its limit by next to nothing trips where it meets it, to what rounding lets tell.

    At the bottom 1 - cos = (w t)^2 / 2, so the limit is met sqrt(2 margin) / w before; there the guard falls by
    w sqrt(2 margin) in a second.  Ten steps leave it a rounding of 2e-15, and time has quanta of 1.5e-11 s.
    """
    limit = 1.0 - margin - 1e-9  # the dead band of 1e-9 comes on top

    def assemble(signature):
        dip = [0.0, 0.0, 1.0, limit]
        guards = [(dip, 1e-9, 0, 1)] if signature[0] == 0 else []
        return equations(with_clock([[0.0, 0.0, 0.0, 0.0]]), [dip], guards)

    system = bare(assemble, 1, ("watching", "dipped"))
    trace = simulate(ModeLibrary(system, 20), RunPlan(0.0, 0.02, np.zeros(1), (0,)))

    before = np.sqrt(2.0 * margin) / OMEGA
    room = 2e-15 / (OMEGA * np.sqrt(2.0 * margin)) + 1.5e-11
    assert trace.changes()[0][0] == pytest.approx(0.01 - before, abs=room)
