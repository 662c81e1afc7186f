"""The end state of a run does not depend on the length of the engine's steps, whatever the delay, load and frequency.

Where a settling rule stalls or a switching is missed, one step length ends elsewhere than the others.
"""

import numpy as np
import pytest

import weldsim
from weldsim.runs.supply import Supply

DELAYS = np.linspace(30.0, 150.0, 29)  # [deg]
STEPS = (50, 200, 1000)  # per mains period
DURATION = 0.5  # [s] from switch-on
# Full scale of each state: largest magnitudes that the benchmark supply reaches, rounded up.
SCALES = {
    "mains.inductance.current": 100.0,
    "core.flux_linkage": 1.0,
    "secondary.leakage.current": 1000.0,
    "bank.voltage": 40.0,
    "choke.current": 200.0,
}
# The propagators are exact for any step, and switchings are located to a quantum, the 2^-26th part of a step: 6 ps at
# most.  Currents change by less than 1e6 A/s there, so each switching is off by 6 uA at the very worst and by far less
# on the average; what is left of that is below 1e-8 of full scale.  The snubber's voltage, which falls by hundreds of
# volts within 10 us of each firing, is left out.
TOLERANCE = 1e-8


def end_states(name: str, frequency: float, steps: int) -> np.ndarray:
    """Scaled states at the end of a run from rest, one row per delay."""
    scenario = weldsim.vary(weldsim.read(name), {"mains.frequency": frequency})
    supply = Supply(scenario, steps)
    columns = [supply.system.states.index(state) for state in SCALES]
    rows = []
    for delay in DELAYS:
        stepper = supply.from_rest(DURATION, delay=float(delay))
        stepper.run_to(DURATION)
        rows.append(stepper.x[columns] / list(SCALES.values()))
    return np.array(rows)


@pytest.mark.parametrize(
    ("name", "frequency"),
    [
        pytest.param(name, frequency, marks=[] if name == "benchmark_b" else pytest.mark.slow)
        for name in ("benchmark_a", "benchmark_b", "benchmark_c")
        for frequency in (50.0, 60.0)
    ],
)
def test_three_step_lengths_end_alike(name, frequency):
    """29 delays from 30 to 150 degrees end in the same states with 50, 200 and 1000 steps per period."""
    first, *others = (end_states(name, frequency, steps) for steps in STEPS)

    assert np.isfinite(first).all()
    assert first[0, -1] > 0.3  # a real run: 60 A and more at 30 degrees ...
    assert first[-1, -1] < 0.5 * first[0, -1]  # ... and much less at 150
    worst = max(float(np.abs(other - first).max()) for other in others)
    assert worst < TOLERANCE
