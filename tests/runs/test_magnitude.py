"""Mean of the magnitude: exact for chopped, alternating and steady waveforms."""

import math

import pytest

import weldsim
from weldsim.runs.magnitude import mean_magnitude
from weldsim.runs.perform import record

CHOPPED = """
[mains]
voltage = "120 V"
frequency = "60 Hz"
[phase_control]
delay_at_0 = "170 deg"
delay_at_100 = "10 deg"
pulse_kind = "held"
threshold = "0 V"
slope = "1 uohm"
off_resistance = "1000 Mohm"
latching_current = "0 A"
holding_current = "0 A"
[load]
kind = "resistor"
resistance = "10 ohm"
"""


def rectified(scenario, name, **setting):
    """Mean magnitude over the recorded window."""
    recording = record(scenario, start="steady", **setting)
    begin, end = recording.window
    return mean_magnitude(recording.trace, name, begin=begin, end=end)


@pytest.mark.parametrize("delay", [30.0, 75.0, 90.0, 131.7])
def test_chopped_sine(delay):
    """Mean magnitude (Vm / pi)(1 + cos a) of a chopped sine (published, textbook); 1e-7 for a leakage of 1000 Mohm."""
    expected = 120.0 * math.sqrt(2.0) / math.pi * (1.0 + math.cos(math.radians(delay)))
    assert rectified(weldsim.read_text(CHOPPED), "output.voltage", delay=delay) == pytest.approx(expected, rel=1e-7)


def test_sine():
    """A sine of 120 V has the mean magnitude 120 x 2 sqrt2 / pi (published, textbook), to rounding."""
    bare = weldsim.vary(weldsim.read_text(CHOPPED), {"phase_control": "absent"})
    assert rectified(bare, "mains.voltage") == pytest.approx(240.0 * math.sqrt(2.0) / math.pi, rel=1e-10)


def test_nothing_flows():
    """What is zero throughout has no magnitude."""
    bare = weldsim.vary(weldsim.read_text(CHOPPED), {"phase_control": "absent", "load": "absent"})
    assert rectified(bare, "output.current") == 0.0
