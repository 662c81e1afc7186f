"""Findings about firing: gate pulse against the magnetising current, pulse times, asymmetry, the diac's dial."""

import math

import pytest

import weldsim
from weldsim.errors import ScenarioError
from weldsim.parts.iron import Core, magnetising_branch
from weldsim.scenario.checks import findings
from weldsim.scenario.checks_of_firing import core_current, pulse_needed
from weldsim.scenario.reading import read
from weldsim.scenario.vary import vary

SHED, BENCHMARK = read("toroid_shed"), read("benchmark_a")
STRAIGHT = magnetising_branch(Core(magnetising_inductance=3.0))
CREST = 230.0 * math.sqrt(2.0)


def finding(scenario, name):
    """The one finding of a name."""
    found = [one for one in findings(scenario) if one.name == name]
    assert len(found) == 1, (name, found)
    return found[0]


def test_straight_core_rises_with_the_integral():
    """3 H fired at 90 degrees, 1.5 ms later: (325.27 / (2 pi 50 x 3)) sin(27 deg) = 0.15668 A (by hand)."""
    current = core_current(STRAIGHT, crest=CREST, frequency=50.0, delay=90.0, time=1.5e-3)
    assert current == pytest.approx(0.156682, abs=1e-6)


def test_loss_resistance_helps_at_once():
    """1500 ohm at the crest carries 325.27 / 1500 = 0.2168 A from the first moment (by hand)."""
    branch = magnetising_branch(Core(magnetising_inductance=3.0, loss_resistance=1500.0))
    assert core_current(branch, crest=CREST, frequency=50.0, delay=90.0, time=0.0) == pytest.approx(0.216846, abs=1e-6)


def test_pulse_needed_for_a_straight_core():
    """The pulse that reaches 0.156682 A is the 1.5 ms of the case above; a latching current of nothing needs none."""
    needed = pulse_needed(STRAIGHT, 0.156682, crest=CREST, frequency=50.0, delay=90.0)
    assert needed == pytest.approx(1.5e-3, abs=1e-8)
    assert pulse_needed(STRAIGHT, 0.0, crest=CREST, frequency=50.0, delay=90.0) == 0.0


def test_no_pulse_is_long_enough():
    """Near the end of the half cycle too little flux is left: 3 H from 170 degrees reaches 5 mA."""
    assert pulse_needed(STRAIGHT, 0.1, crest=CREST, frequency=50.0, delay=170.0) is None
    assert pulse_needed(STRAIGHT, 0.1, crest=CREST, frequency=50.0, delay=180.0) is None


@pytest.mark.parametrize(
    ("changes", "level"),
    [
        ({}, "good"),  # the eddy current alone is 0.1 A
        ({"phase_control.latching_current": "1 A"}, "note"),
        ({"phase_control.latching_current": "1 A", "phase_control.pulse_kind": "train"}, "good"),
        ({"core": "absent"}, "note"),
    ],
)
def test_gate_pulse(changes, level):
    """A short pulse against the latching current; a train repeats itself until it holds."""
    assert finding(vary(SHED, changes), "phase_control.gate_pulse").level == level


@pytest.mark.slow
@pytest.mark.parametrize(("delay", "missed"), [(40.0, 10), (90.0, 0)])
def test_a_pulse_that_the_core_outlasts(delay, missed):
    """Unloaded, the core's current from 40 deg on flows up to 140 deg of the next half cycle (textbook: pure choke).

    It outlasts a pulse of 300 us: check says so where the simulation misses every other half cycle, and not at 90 deg.
    """
    unloaded = vary(SHED, {"load": "absent", "phase_control.pulse_width": "300 us"})
    control = unloaded.phase_control
    dial = (control.delay_at_0 - delay) / (control.delay_at_0 - control.delay_at_100)
    unloaded = vary(unloaded, {"phase_control.dial": dial})
    one = finding(unloaded, "phase_control.gate_pulse")
    assert ("until 140 deg of the next half cycle" in one.text) == bool(missed)
    assert one.level == ("note" if missed else "good")
    assert weldsim.preview(unloaded).numbers["missed_half_cycles.count"].value == missed


@pytest.mark.parametrize(
    "changes",
    [
        {"phase_control.latching_current": "0 A", "phase_control.holding_current": "0 A"},
        {"bank": "absent", "load": {"kind": "resistor", "resistance": "0.2 ohm"}},
        {"phase_control": "absent"},
    ],
)
def test_gate_pulse_is_not_asked(changes):
    """An ideal device, a load that draws current at once, or no device: no such finding."""
    assert not [one for one in findings(vary(SHED, changes)) if one.name == "phase_control.gate_pulse"]


def test_pulse_past_the_zero_crossing():
    """A 1 ms pulse (18 degrees) at 170 degrees ends at 188 degrees, in the next half cycle."""
    one = finding(vary(BENCHMARK, phase_control__dial="0 %"), "phase_control.delay")
    assert (one.level, one.number) == ("note", pytest.approx(188.0))


def test_dial_beyond_the_train():
    """170 degrees with a train that ends at 160 never fires."""
    changed = vary(
        BENCHMARK,
        {
            "phase_control.dial": "0 %",
            "phase_control.pulse_kind": "train",
            "phase_control.pulse_width": "50 us",
            "phase_control.train_end": "160 deg",
        },
    )
    assert finding(changed, "phase_control.delay").level == "fault"


def test_time_too_long_for_the_half_cycle():
    """10 ms at 50 Hz are 180 degrees: no half cycle is left; at 60 Hz they lie in the next one: refused."""
    timed = {
        "phase_control.dial_kind": "timed",
        "phase_control.delay_time_at_0": "10 ms",
        "phase_control.delay_time_at_100": "10 ms",
    }
    assert finding(vary(BENCHMARK, timed), "phase_control.delay").level == "fault"
    with pytest.raises(ScenarioError, match="8.333 ms at 60 Hz"):
        vary(BENCHMARK, timed | {"mains.frequency": "60 Hz"})


def test_a_dial_turned_round_is_told():
    """More degrees, time or resistance at 100 % than at 0 % give less: told for each kind; the usual way is not."""
    told = finding(
        vary(SHED, phase_control__delay_at_0="10 deg", phase_control__delay_at_100="170 deg"),
        "phase_control.delay_at_0",
    )
    assert "10 deg at 0 % are less than 170 deg at 100 %" in told.text
    rig = vary(read("school_spot"), phase_control__timing_resistance_at_0="5 kohm")
    assert "5 kohm at 0 % are less than" in finding(rig, "phase_control.timing_resistance_at_0").text
    for scenario in (SHED, read("school_spot")):
        assert not [one for one in findings(scenario) if "turned round" in one.text]


def test_asymmetry():
    """1 degree at 90 degrees on 230 V: 325.27 / (2 pi) x 0.01745 = 0.9035 V (rule of the trade: 0.9 V)."""
    one = finding(vary(SHED, phase_control__asymmetry="1 deg"), "phase_control.asymmetry")
    assert (one.level, one.number) == ("note", pytest.approx(0.9035, abs=1e-4))
    assert finding(SHED, "phase_control.asymmetry").level == "good"


def test_diac_dial():
    """School rig without asymmetry: starts at 321 982 ohm (closed form, computed elsewhere): (330 - 321.982) / 320."""
    rig = vary(read("school_spot"), phase_control__diac_asymmetry="0 V")
    one = finding(rig, "phase_control.dial")
    assert (one.level, one.number) == ("good", pytest.approx(8018.0 / 320e3, abs=1e-5))
    assert finding(vary(rig, phase_control__dial="1 %"), "phase_control.dial").level == "note"
    assert finding(vary(rig, phase_control__timing_resistance_at_0="300 kohm"), "phase_control.dial").number == 0.0
    hopeless = vary(
        rig, {"phase_control.timing_resistance_at_100": "400 kohm", "phase_control.timing_resistance_at_0": "500 kohm"}
    )
    assert finding(hopeless, "phase_control.dial").level == "fault"
