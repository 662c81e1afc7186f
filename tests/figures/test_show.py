"""The picture of a saved run that holds next to nothing."""

import dataclasses

import numpy as np
import pytest

import weldsim
from weldsim.figures import show
from weldsim.runs.run import Run

TIME = np.array([0.0, 0.01, 0.02])
RUN = Run(
    weldsim.read("toroid_shed"), TIME, {"output.current": 0.0 * TIME}, {"output.current": "A"}, window=(0.0, 0.02)
)


@pytest.mark.parametrize(
    "changes",
    [{"signals": {}}, {"time": np.zeros(0), "signals": {"output.current": np.zeros(0)}}],
    ids=["no signals", "no samples"],
)
def test_nothing_to_draw(changes):
    """Signals that were not recorded, or a recording that was cut short at once."""
    with pytest.raises(weldsim.WeldsimError, match="no waveform that could be drawn"):
        show.draw(dataclasses.replace(RUN, **changes))


def test_nothing_but_an_output_without_current():
    """Left out beside others, an output current of zero is drawn where it is all that was recorded."""
    (axes,) = show.draw(RUN).axes
    assert axes.get_ylabel() == "current [A]"
