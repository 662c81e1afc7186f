"""Phase control: dial to delay, gate pulses, and the RC-and-diac dial's parts."""

import math

import pytest

from weldsim.errors import ScenarioError
from weldsim.parts.phase_control import (
    PhaseControl,
    delay_angle,
    diac_voltages,
    first_firing_resistance,
    gate_pulses,
    timing_resistance,
)


@pytest.mark.parametrize(("dial", "delay"), [(0.0, 170.0), (0.3125, 120.0), (0.5, 90.0), (0.6875, 60.0), (1.0, 10.0)])
def test_linear_dial(dial, delay):
    """The benchmark's dial: 170 degrees at 0 %, 10 at 100 %, linear between (a definition of this project)."""
    assert delay_angle(PhaseControl(dial=dial), 50.0) == pytest.approx(delay, abs=1e-12)
    assert delay_angle(PhaseControl(), 50.0, dial=dial) == pytest.approx(delay, abs=1e-12)


def test_timed_dial_depends_on_frequency():
    """5 ms are 90 degrees at 50 Hz and 108 at 60 Hz (by hand)."""
    control = PhaseControl(dial_kind="timed", delay_time_at_0=9e-3, delay_time_at_100=1e-3, dial=0.5)
    assert delay_angle(control, 50.0) == pytest.approx(90.0)
    assert delay_angle(control, 60.0) == pytest.approx(108.0)


def test_diac_dial_has_no_delay_of_its_own():
    """Its delay comes out of the circuit; asking the dial is an error that says so."""
    with pytest.raises(ScenarioError, match="follows from the circuit"):
        delay_angle(PhaseControl(dial_kind="rc-diac"), 50.0)


def test_single_pulse():
    """One pulse of full length, later by the asymmetry in negative half cycles (1.8 degrees = 0.1 ms at 50 Hz)."""
    control = PhaseControl(pulse_width=1e-3, asymmetry=1.8)
    assert gate_pulses(control, 50.0, delay=90.0) == [(pytest.approx(5e-3), pytest.approx(6e-3))]
    assert gate_pulses(control, 50.0, delay=90.0, negative=True) == [(pytest.approx(5.1e-3), pytest.approx(6.1e-3))]


def test_single_pulse_may_pass_the_zero_crossing():
    """A pulse that starts late keeps its length: that it fires the next half cycle is the user's mistake to see."""
    ((_, end),) = gate_pulses(PhaseControl(pulse_width=1e-3), 50.0, delay=170.0)
    assert end > 0.01


def test_train_ends_where_it_is_told():
    """Pulses every 0.1 ms from 90 to 175 degrees at 50 Hz: 48 of them (4.722 ms), the last one cut at the end."""
    pulses = gate_pulses(PhaseControl(pulse_kind="train", pulse_width=50e-6, pulse_spacing=100e-6), 50.0, delay=90.0)
    assert len(pulses) == 48
    assert all(end - start <= 50e-6 + 1e-12 for start, end in pulses)
    assert pulses[-1][1] == pytest.approx(175.0 / 18000.0)
    assert all(b[0] - a[0] == pytest.approx(100e-6) for a, b in zip(pulses, pulses[1:], strict=False))


def test_a_train_needs_no_spacing():
    """Without a spacing pulses of the default 1 ms come every 2 ms, short ones every 100 us: none overlaps the next."""
    for width, spacing in ((1e-3, 2e-3), (50e-6, 100e-6)):
        pulses = gate_pulses(PhaseControl(pulse_kind="train", pulse_width=width), 50.0, delay=90.0)
        assert pulses[1][0] - pulses[0][0] == pytest.approx(spacing)
        assert PhaseControl(pulse_kind="train", pulse_width=width).faults() == []


def test_held_gate_and_none():
    """A held gate is one pulse up to the end; one that would start behind it gives none."""
    held = PhaseControl(pulse_kind="held", train_end=175.0)
    assert gate_pulses(held, 50.0, delay=90.0) == [(pytest.approx(5e-3), pytest.approx(175.0 / 18000.0))]
    assert gate_pulses(held, 50.0, delay=176.0) == []


@pytest.mark.parametrize(
    ("crest", "frequency", "resistance"),
    [(230.0 * math.sqrt(2.0), 50.0, 321982.0), (120.0 * math.sqrt(2.0), 60.0, 138151.0)],
)
def test_first_firing(crest, frequency, resistance):
    """100 nF, 32 V: closed form of the RC-and-diac dial, computed with 30 digits elsewhere and printed to the ohm."""
    largest = first_firing_resistance(crest, 32.0, frequency=frequency, capacitance=100e-9)
    assert largest == pytest.approx(resistance, abs=0.6)


def test_first_firing_out_of_reach():
    """A crest below the breakover never fires."""
    assert first_firing_resistance(30.0, 32.0, frequency=50.0, capacitance=100e-9) == 0.0


def test_timing_resistance():
    """Linear in the dial between its ends, and an error where they are not given."""
    control = PhaseControl(timing_resistance_at_0=400e3, timing_resistance_at_100=20e3, dial=0.25)
    assert timing_resistance(control) == pytest.approx(305e3)
    with pytest.raises(ScenarioError, match="are not given"):
        timing_resistance(PhaseControl())


def test_diac_asymmetry_is_the_difference():
    """3 V of asymmetry: 1.5 V up, 1.5 V down."""
    assert diac_voltages(PhaseControl(diac_voltage=32.0, diac_asymmetry=3.0)) == (33.5, 30.5)


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"snubber_resistance": 100.0}, "snubber_capacitance"),
        ({"snubber_capacitance": 1e-7}, "snubber_resistance"),
        ({"dial_kind": "timed", "delay_time_at_0": 1e-3}, "delay_time_at_100"),
        ({"dial_kind": "rc-diac", "timing_resistance_at_100": 1e4}, "timing_resistance_at_0"),
        ({"pulse_kind": "train", "pulse_width": 1e-3, "pulse_spacing": 1e-4}, "pulse_spacing"),
        ({"diac_voltage": 5.0, "diac_breakback": 10.0}, "diac_breakback"),
    ],
)
def test_faults(values, place):
    """Half a snubber, a dial without its parts, overlapping pulses: each is named at its field."""
    assert [name for name, _ in PhaseControl(**values).faults()] == [place]


def test_defaults_are_consistent():
    """A table with nothing in it is a working one."""
    assert PhaseControl().faults() == []


def test_holding_above_latching_is_a_fault_of_the_text():
    """A device cannot need more to stay on than to latch; the reader says so, not only the run."""
    assert [name for name, _ in PhaseControl(latching_current=0.0).faults()] == ["holding_current"]
    assert PhaseControl(latching_current=0.0, holding_current=0.0).faults() == []
