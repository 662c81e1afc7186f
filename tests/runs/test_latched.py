"""What has latched stays on down to holding, whatever its gate does; what is pressed within a pulse fires with it.

The expected figures are closed forms of a triac on a resistor; both currents are far apart, as no real device has
them, so that angles tell one from the other.
"""

import math

import pytest

import weldsim

RESISTANCE, SLOPE, THRESHOLD, LATCHING, HOLDING, CREST = 10.0, 0.01, 1.0, 10.0, 1.0, 230.0 * math.sqrt(2.0)
TEXT = f"""
[mains]
voltage = "230 V"
frequency = "50 Hz"

[phase_control]
threshold = "{THRESHOLD} V"
slope = "{SLOPE} ohm"
latching_current = "{LATCHING} A"
holding_current = "{HOLDING} A"
off_resistance = "10 Mohm"

[load]
kind = "resistor"
resistance = "{RESISTANCE} ohm"
"""


def angle_of(current):
    """Where the falling half wave reaches a current [deg]."""
    return 180.0 - math.degrees(math.asin((THRESHOLD + current * (RESISTANCE + SLOPE)) / CREST))


def numbers_of(*, changes, delay, **asked):
    """Numbers of a preview, by name."""
    answer = weldsim.preview(weldsim.vary(weldsim.read_text(TEXT), changes), delay=delay, **asked)
    return {name: number.value for name, number in answer.numbers.items()}


@pytest.mark.parametrize("device", ["triac", "thyristor pair"])
def test_pulses_of_a_train_do_not_put_out_what_has_latched(device):
    """Latching is what it takes right after turning on (IEC 60747-6, from memory): fired at 90 degrees it holds to 1 A.

    The last pulses end between 10 A and 1 A, which is from 161.5 to 178 degrees; 0.001 deg is rounding.
    """
    train = {"phase_control.device": device, "phase_control.pulse_kind": "train", "phase_control.pulse_width": "50 us"}
    found = numbers_of(changes=train, delay=90.0)
    assert angle_of(LATCHING) < 162.0 < 178.0 < angle_of(HOLDING) + 1.0
    assert found["conduction.angle"] == pytest.approx(angle_of(HOLDING) - 90.0, abs=1e-3)
    assert found["missed_half_cycles.count"] == 0


def test_a_pulse_that_is_too_short_still_loses_its_half_cycle():
    """Fired at 170 degrees, 5.6 A flow, and no pulse of a train ends at 10 A: all half cycles are lost."""
    train = {"phase_control.pulse_kind": "train", "phase_control.pulse_width": "50 us"}
    found = numbers_of(changes=train, delay=170.0)
    assert found["missed_half_cycles.count"] == found["half_cycles.count"] > 0


@pytest.mark.parametrize(("kind", "phase"), [("held", 120.0), ("single", 100.0)])
def test_a_trigger_pressed_within_a_pulse_fires(kind, phase):
    """As in the presses of ``inrush``.  The current flows from the start to holding: rms in closed form, to 1e-6.

    The run ends at the next zero crossing, before the next pulse; what leaks through 10 Mohm is 1e-6 of the current.
    """
    changes = {"phase_control.pulse_kind": kind, "phase_control.pulse_width": "1 ms", "start.mains_phase": phase}
    changes["phase_control.train_end"] = "150 deg"
    length = (180.0 - phase) / 180.0 * 0.01
    found = numbers_of(changes=changes, delay=90.0, start="rest", duration=length, window=length)
    a, b = math.radians(phase), math.radians(angle_of(HOLDING))
    square = 0.5 * CREST**2 * ((b - a) - 0.5 * (math.sin(2.0 * b) - math.sin(2.0 * a)))
    square += -2.0 * CREST * THRESHOLD * (math.cos(a) - math.cos(b)) + THRESHOLD**2 * (b - a)
    expected = math.sqrt(square / (math.pi - a)) / (RESISTANCE + SLOPE)
    assert found["output.current.rms"] == pytest.approx(expected, rel=1e-6)
