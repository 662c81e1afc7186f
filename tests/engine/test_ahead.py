"""What is compiled beside the first run is what a run then uses."""

import numpy as np

from tests.engine.toys import controller
from weldsim.engine import ahead
from weldsim.engine.doors import door
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate

PREPARED = (
    ("kernel", "locate"),
    ("kernel", "climb"),
    ("kernel", "leap"),
    ("extremes_kernel", "extremes"),
    ("sample_kernel", "sample"),
    ("readout_kernel", "moments"),
    ("readout_kernel", "second_moments"),
    ("readout_kernel", "carry"),
    ("readout_kernel", "ends"),
    ("readout_kernel", "solve"),
)


def test_a_run_needs_no_other_types():
    """After an empty call of each function a real trace is read without compiling any of them for other types."""
    ahead.compile_the_rest()
    known = [dict(door(*place)._known) for place in PREPARED]
    library = ModeLibrary(controller(325.0, 2.0, 5e-3, off=1e9), 50)
    trace = simulate(library, RunPlan(0.0, 0.04, np.zeros(1), (0,), [(0.005, 0), (0.015, 0)]))
    trace.extremes(["i"])
    trace.sample(["i"], 0.0, spacing=1e-4, count=100)
    trace.integrals(0.0, 0.04).rms("i")
    trace.fourier(["i"], [1.0], begin=0.0, end=0.04)
    trace.state_at(0.0123)
    trace.carry(0, 1, np.ones((2, trace.state.shape[1])), room=np.ones((2, trace.state.shape[1])))
    assert [door(*place)._known for place in PREPARED] == known
