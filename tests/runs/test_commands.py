"""Timed commands of a run: gate pulses on the mains clock, and programmed shorts of the load."""

import pytest

import weldsim
from weldsim.runs.commands import RepeatedGate, asked_delay, event_numbers, gate_commands, gate_table, short_commands
from weldsim.runs.perform import record
from weldsim.runs.supply import Supply


def commands_of(changes, *, delay, span, pressed=False):
    """Gate commands of the benchmark supply with some changes, as (milliseconds, event name)."""
    supply = Supply(weldsim.vary(weldsim.read("benchmark_a"), changes))
    names = {number: name for name, number in event_numbers(supply.system).items()}
    found = gate_commands(supply.scenario, supply.system, delay=delay, span=span, pressed=pressed)
    return [(pytest.approx(1e3 * time, abs=1e-9), names[number]) for time, number in found]


def test_one_pulse_in_each_half_cycle():
    """At 50 Hz a delay of 90 degrees is 5 ms after each zero crossing; a pulse of 1 ms, both polarities on one gate."""
    assert commands_of({}, delay=90.0, span=(0.0, 0.02)) == [
        (5.0, "gate on"),
        (6.0, "gate off"),
        (15.0, "gate on"),
        (16.0, "gate off"),
    ]


def test_a_pulse_begun_before_the_span_still_ends_in_it():
    """A span that begins within a pulse has its end only, and one that ends within a pulse its beginning only."""
    assert commands_of({}, delay=90.0, span=(0.0055, 0.0155)) == [(6.0, "gate off"), (15.0, "gate on")]


def test_a_trigger_pressed_within_a_pulse_begins_it():
    """As in a press of ``inrush``; at the very end of a pulse nothing begins."""
    found = commands_of({}, delay=90.0, span=(0.0055, 0.0155), pressed=True)
    assert found == [(5.5, "gate on"), (6.0, "gate off"), (15.0, "gate on")]
    assert commands_of({}, delay=90.0, span=(0.006, 0.0155), pressed=True) == [(6.0, "gate off"), (15.0, "gate on")]


def test_a_pulse_of_many_half_cycles_ends():
    """One of 45 ms from 5 ms on runs into those of the half cycles behind it: no end falls into the span at 63 ms."""
    assert commands_of({"phase_control.pulse_width": "45 ms"}, delay=90.0, span=(0.0625, 0.0635)) == []
    alone = {"phase_control.pulse_width": "45 ms", "phase_control.asymmetry": "90 deg", "mains.frequency": "10 Hz"}
    assert commands_of(alone, delay=90.0, span=(0.069, 0.0705)) == [(70.0, "gate off")]


def test_a_late_pulse_reaches_into_the_next_half_cycle():
    """A pulse of 1 ms at 175 degrees (9.722 ms) ends after the zero crossing; the span from 10 ms on has its end."""
    assert commands_of({}, delay=175.0, span=(0.01, 0.0195)) == [(175.0 / 18.0 + 1.0, "gate off")]


def test_negative_half_cycles_fire_later_by_the_asymmetry():
    """9 degrees of asymmetry are 0.5 ms at 50 Hz, added to negative half cycles only."""
    found = commands_of({"phase_control.asymmetry": "9 deg"}, delay=90.0, span=(0.0, 0.02))
    assert [time for time, name in found if name == "gate on"] == [5.0, 15.5]


def test_thyristors_have_a_gate_each():
    """An antiparallel pair is told apart by its polarity."""
    found = commands_of({"phase_control.device": "thyristor pair"}, delay=90.0, span=(0.0, 0.02))
    assert [name for _, name in found] == ["gate plus on", "gate plus off", "gate minus on", "gate minus off"]


def test_a_train_pulses_until_its_end():
    """100 us pulses every 500 us from 90 degrees to 108 degrees (6 ms) are two: at 5 and at 5.5 ms."""
    train = {
        "phase_control.pulse_kind": "train",
        "phase_control.pulse_width": "100 us",
        "phase_control.pulse_spacing": "500 us",
        "phase_control.train_end": "108 deg",
    }
    found = commands_of(train, delay=90.0, span=(0.0, 0.01))
    assert found == [(5.0, "gate on"), (5.1, "gate off"), (5.5, "gate on"), (5.6, "gate off")]


@pytest.mark.parametrize("width", [100, 130, 170])
def test_a_train_without_pauses_is_one_pulse(width):
    """Pulses that touch each other drive the gate throughout: the end of one does not end the next."""
    train = {
        "phase_control.pulse_kind": "train",
        "phase_control.pulse_width": f"{width} us",
        "phase_control.pulse_spacing": f"{width} us",
        "phase_control.train_end": "108 deg",
    }
    assert commands_of(train, delay=90.0, span=(0.0, 0.01)) == [(5.0, "gate on"), (6.0, "gate off")]


def test_a_held_gate_lasts_to_its_end():
    """From 90 to 162 degrees, which is 9 ms."""
    held = {"phase_control.pulse_kind": "held", "phase_control.train_end": "162 deg"}
    assert commands_of(held, delay=90.0, span=(0.0, 0.01)) == [(5.0, "gate on"), (9.0, "gate off")]


def test_the_gate_keeps_to_the_mains_frequency():
    """At 60 Hz the pulses of 90 degrees come 1/240 s after each zero crossing."""
    found = commands_of({"mains.frequency": "60 Hz"}, delay=90.0, span=(0.0, 1.0 / 60.0))
    assert [time for time, name in found if name == "gate on"] == [1e3 / 240.0, 1e3 / 240.0 + 1e3 / 120.0]


@pytest.mark.parametrize("delay", [0.0, 60.0, 175.0, 180.0, None])
@pytest.mark.parametrize("name", ["benchmark_a", "garage_60hz", "quarter_kiloamp"])
@pytest.mark.parametrize("span", [(-0.031, 0.002), (0.0, 0.05), (3.0, 3.0701), (0.5063, 0.5064)])
def test_a_period_repeated_is_the_gate_at_one_delay(name, delay, span):
    """Single pulses and trains, into the next half cycle too; to rounding (1e-12 s), which no command is lost to."""
    supply = Supply(weldsim.read(name))
    asked = gate_table(supply.scenario, supply.system, delay=delay, span=span)
    found = RepeatedGate(supply.scenario, supply.system, delay=delay).over(*span)
    assert found.shape == asked.shape
    assert found == pytest.approx(asked, abs=1e-12)


def test_nothing_to_command():
    """Without phase control, and without a delay, no gate is driven."""
    assert commands_of({}, delay=None, span=(0.0, 1.0)) == []
    assert commands_of({"phase_control": "absent"}, delay=90.0, span=(0.0, 1.0)) == []


def test_which_delay_is_asked_for():
    """A delay wins over a dial, a dial over the scenario's own (68.75 %: 60 degrees, as its file says)."""
    scenario = weldsim.read("benchmark_a")
    assert asked_delay(scenario, None, None) == pytest.approx(60.0, abs=1e-9)
    assert asked_delay(scenario, 1.0, None) == pytest.approx(10.0, abs=1e-9)
    assert asked_delay(scenario, 1.0, 33.0) == 33.0
    assert asked_delay(weldsim.vary(scenario, {"phase_control": "absent"}), 1.0, 33.0) is None


def test_a_diac_decides_for_itself():
    """With an RC-and-diac dial no delay is asked for, unless one is given outright."""
    scenario = weldsim.read("school_spot")
    assert asked_delay(scenario, 0.5, None) is None
    assert asked_delay(scenario, None, 90.0) == 90.0


SHORTED = {
    "load": {
        "kind": "shorted arc",
        "voltage": "14 V",
        "slope": "0.05 ohm",
        "short_resistance": "2 mohm",
        "short_start": "20 ms",
        "short_period": "12 ms",
        "short_duration": "3 ms",
    }
}


def test_programmed_shorts_count_from_the_beginning_of_the_run():
    """A run that begins at 5 ms: shorts at 25, 37 and 49 ms, 3 ms each; none begins after its 50 ms are over."""
    supply = Supply(weldsim.vary(weldsim.read("benchmark_c"), {"load": "absent"} | SHORTED))
    numbers = event_numbers(supply.system)
    found = short_commands(supply.scenario, supply.system, begin=0.005, length=0.05)
    assert [number for _, number in found] == [numbers["short on"], numbers["short off"]] * 3
    expected = [0.025, 0.028, 0.037, 0.040, 0.049, 0.052]
    assert [time for time, _ in found] == pytest.approx(expected, abs=1e-12)  # sums of a few floats
    assert short_commands(supply.scenario, supply.system, begin=0.005, length=0.02) == []


def test_other_loads_have_no_shorts():
    """A resistor is never shorted."""
    supply = Supply(weldsim.read("benchmark_a"))
    assert short_commands(supply.scenario, supply.system, begin=0.0, length=1.0) == []


def test_shorts_happen_in_the_run():
    """While shorted the load is 2 mohm: volts are 2 mohm times amps, to float rounding of the samples (1e-9)."""
    scenario = weldsim.vary(weldsim.read("benchmark_c"), {"load": "absent"} | SHORTED)
    trace = record(scenario, delay=60.0, start="rest", duration=0.05).trace
    for instant in (0.021, 0.0225, 0.034):
        voltage, current = trace.sample(["output.voltage", "output.current"], instant, spacing=1.0, count=1)[:, 0]
        assert voltage == pytest.approx(2e-3 * current, rel=1e-9)
        assert current > 10.0
    voltage, current = trace.sample(["output.voltage", "output.current"], 0.0235, spacing=1.0, count=1)[:, 0]
    assert voltage == pytest.approx(14.0 + 0.05 * current, rel=1e-9)  # half a millisecond after the first short
