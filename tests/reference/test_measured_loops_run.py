"""The measured sheets as a scenario: an unloaded transformer on an ideal mains, run by the engine for three cycles."""

import pytest

from weldsim.parts.hysteresis import loop_area
from weldsim.parts.measured_sheets import GRAIN_ORIENTED, NON_ORIENTED
from weldsim.studies.proofs.iron_loops import last_cycle


@pytest.mark.parametrize(
    ("fit", "peak"), [(GRAIN_ORIENTED, 0.5), (GRAIN_ORIENTED, 1.45), (NON_ORIENTED, 1.0), (NON_ORIENTED, 1.6)]
)
def test_ledger_is_the_area(fit, peak):
    """Loss of a cycle by the ledger is 4 sum H_j (B_m - B_j), derived on paper; exact but for switching at 1e-9."""
    _, loss = last_cycle(fit, peak)

    assert loss == pytest.approx(loop_area(fit.stops, peak), rel=1e-7)
