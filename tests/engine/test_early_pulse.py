"""A guard that is legal at both ends of a step and violated for microseconds right after its mode was entered."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.engine.toys import dipper
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate

FIRED = 3.1e-3  # [s] a mode change well inside a step, whatever the steps


def trips(fast, slow, depth, steps):
    """Instants at which the dipper trips."""
    plan = RunPlan(0.0, 0.02, np.ones(2), (0,), [(FIRED, 0)])
    changes = simulate(ModeLibrary(dipper(fast, slow, depth), steps), plan).changes()
    return [time for time, _, _, entered in changes if entered == "tripped"]


@pytest.mark.parametrize("steps", [20, 50, 400])
@pytest.mark.parametrize("fast", [1e-8, 1e-7, 1e-6, 4e-6])
def test_a_pulse_far_shorter_than_the_step_is_found(fast, steps):
    """A dip of 1 + 3 exp(-t/T) - 3 exp(-t/10 T) below zero, for some T inside a step of 50 us to 1 ms, trips at its
    first crossing, found here by bracketing.
    """
    crossing = brentq(lambda t: 1.0 + 3.0 * np.exp(-t / fast) - 3.0 * np.exp(-t / (10.0 * fast)), 0.0, 2.0 * fast)

    found = trips(fast, 10.0 * fast, 3.0, steps)

    # At most 15 ps of quantum (20 steps a period), as much again for the command's own rounding, and the dead band of
    # 1e-9 over a slope of more than 0.1 / T (4e-14 s).
    np.testing.assert_allclose(found, [FIRED + crossing], rtol=0, atol=4e-11)


@pytest.mark.parametrize("steps", [20, 50, 400])
@pytest.mark.parametrize("fast", [1e-8, 1e-7, 1e-6, 4e-6])
def test_a_dip_that_stays_above_its_limit_changes_nothing(fast, steps):
    """The same dip a third as deep (0.7 of the 1.0 there is) is no crossing."""
    assert trips(fast, 10.0 * fast, 1.0, steps) == []
