"""The largest primary current from rest: wherever in the run it comes, and of no more than the run."""

import math

import numpy as np
import pytest

import weldsim
from weldsim.runs import under_way
from weldsim.runs.switch_on import largest_from_rest

BARE = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
inductance = "40 mH"
resistance = "0.05 ohm"
[load]
kind = "resistor"
resistance = "0.05 ohm"
[start]
mains_phase = "{phase} deg"
"""


def solution(phase, time):
    """Current of R and L switched on at a phase, on paper: forced sine less its value at the start, dying away."""
    resistance, omega, inductance = 0.1, 2.0 * math.pi * 50.0, 40e-3
    impedance, lag = math.hypot(resistance, omega * inductance), math.atan2(omega * inductance, resistance)
    crest, begin = math.sqrt(2.0) * 230.0 / impedance, math.radians(phase)
    decay = np.exp(-resistance / inductance * time)
    return crest * (np.sin(omega * time + begin - lag) - math.sin(begin - lag) * decay)


@pytest.mark.parametrize("phase", [0.0, 77.0, 200.0])
@pytest.mark.parametrize("duration", [0.004, 0.3, 2.5])
def test_it_is_that_of_the_equation(phase, duration):
    """Value and instant of the closed form, sought every 2 us (half of which the instant may be off)."""
    time = np.linspace(0.0, duration, round(duration / 2e-6) + 1)
    current = np.abs(solution(phase, time))

    largest, instant = largest_from_rest(weldsim.read_text(BARE.format(phase=phase)), duration=duration)

    assert largest == pytest.approx(current.max(), rel=1e-6)
    assert instant == pytest.approx(time[current.argmax()], abs=2e-6)


def test_parts_do_not_matter(monkeypatch):
    """Looked for in parts of 70 ms, it is that of one part: a programmed short late in the run."""
    scenario = weldsim.vary(weldsim.read("benchmark_c"), {"bank": "absent", "load.short_start": "0.5 s"})
    whole = largest_from_rest(scenario, duration=0.9, delay=90.0)
    monkeypatch.setattr(under_way, "PART", 0.07)

    assert largest_from_rest(scenario, duration=0.9, delay=90.0) == pytest.approx(whole, rel=1e-9)
    assert whole[1] > 0.5
