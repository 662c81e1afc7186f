"""A soft start that the circuit does not hold is refused rather than passed over in silence."""

import pytest

from weldsim.errors import WiringError
from weldsim.network.wiring import wire
from weldsim.parts.soft_start import SoftStart
from weldsim.scenario.reading import read
from weldsim.scenario.vary import vary


@pytest.mark.parametrize(
    "soft_start",
    [SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1), SoftStart(kind="ramp", half_cycles=10)],
    ids=lambda soft_start: soft_start.kind,
)
def test_not_passed_over(soft_start):
    """Nobody gets an inrush without the resistor that stands in the file."""
    with pytest.raises(WiringError, match="not part of the circuit"):
        wire(vary(read("toroid_shed"), {"soft_start": soft_start}))
