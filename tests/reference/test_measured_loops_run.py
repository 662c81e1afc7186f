"""The measured sheets again, this time as a scenario: an unloaded transformer on an ideal mains, run by the engine.

Switched on at the crest from a demagnetised core the flux is a sine about zero from the first cycle on, so the last of
three cycles is the closed loop.  One litre of iron: joules of the ledger are kJ/m3.
"""

import numpy as np
import pytest

import weldsim
from tests.reference.loop_drive import Loop
from weldsim.parts.hysteresis import loop_area
from weldsim.parts.measured_sheets import GRAIN_ORIENTED, NON_ORIENTED

TURNS, SECTION, PATH = 200, 20e-4, 0.5


def scenario(fit, peak):
    """The sheet wound with 200 turns at the voltage that takes it to the peak [T]."""
    first = [(b, h + sum(min(b / reach, 1.0) * limit for limit, reach in fit.stops)) for b, h in fit.curve[1:]]
    curve = ", ".join(f'{{field = "{h!r} A/m", flux_density = "{b!r} T"}}' for b, h in first)
    stops = ", ".join(f'{{field = "{limit!r} A/m", flux_density = "{reach!r} T"}}' for limit, reach in fit.stops)
    voltage = float(100.0 * np.pi * TURNS * SECTION * peak / np.sqrt(2.0))
    return weldsim.read_text(f"""
        title = "a measured sheet"
        [mains]
        voltage = "{voltage!r} V"
        frequency = "50 Hz"
        [transformer]
        primary_turns = {TURNS}
        secondary_turns = 20
        [core]
        section = "20 cm2"
        path_length = "0.5 m"
        magnetising_curve = [{curve}]
        hysteresis = [{stops}]
        [start]
        mains_phase = "90 deg"
        """)


def run_loop(fit, peak):
    """The last cycle as a loop from its upper tip, and the loss of that cycle from the ledger [J/m3]."""
    run = weldsim.perform(scenario(fit, peak), duration=0.06, window=0.02, sample_interval=20e-6)
    last = run.time > 0.04 - 1e-9
    density, field = run["core.flux_density"][last], run["core.magnetising_current"][last] * TURNS / PATH
    tip = int(np.argmax(density[:-1]))
    loop = Loop(*(np.concatenate([values[tip:-1], values[: tip + 1]]) for values in (field, density)))
    return loop, run.ledger["core hysteresis"]["loss"] / (SECTION * PATH)


@pytest.mark.parametrize(
    ("fit", "peak"), [(GRAIN_ORIENTED, 0.5), (GRAIN_ORIENTED, 1.45), (NON_ORIENTED, 1.0), (NON_ORIENTED, 1.6)]
)
def test_ledger_is_the_area(fit, peak):
    """Loss of a cycle by the ledger is 4 sum H_j (B_m - B_j), derived on paper; exact but for switching at 1e-9."""
    _, loss = run_loop(fit, peak)

    assert loss == pytest.approx(loop_area(fit.stops, peak), rel=1e-7)
