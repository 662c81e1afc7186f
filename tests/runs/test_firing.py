"""What the phase control did: half cycles conducted and missed, and whether the reason named is the true one."""

import itertools

import numpy as np
import pytest

import weldsim
from weldsim.runs.firing import firing_of
from weldsim.runs.perform import record

EARLY = 25.0  # [deg] the charger's battery lets no current flow before 39 degrees
LATCHING = 0.080  # [A] of the charger's triac


def charger(pulse_width=None):
    """The charger, with its own pulse of 100 us or another one [s]."""
    scenario = weldsim.read("charger")
    return scenario if pulse_width is None else weldsim.vary(scenario, {"phase_control.pulse_width": pulse_width})


@pytest.fixture(scope="module")
def missing_all():
    """The charger fired at 25 degrees, settled."""
    return record(charger(), start="steady", delay=EARLY)


def test_a_pulse_before_the_battery_lets_go_is_lost(missing_all):
    """Fired before the battery's angle with a short pulse, every half cycle is missed, and none has an angle."""
    firing = firing_of(missing_all)

    assert (firing.half_cycles, firing.missed_positive, firing.missed_negative) == (20, 10, 10)
    assert firing.missed == 20
    assert firing.asked_angle == 180.0 - EARLY
    assert firing.conduction_angle == 0.0
    assert missing_all.run.figure("output.current.max") < 1e-2  # leakage of the rectifier alone


def test_the_current_at_the_end_of_the_pulse(missing_all):
    """The current named is that of the recorded waveform where the gate goes off, below latching."""
    miss = firing_of(missing_all).miss
    off = EARLY / 180.0 * 0.01 + 100e-6 - 1e-9
    seen = missing_all.trace.sample(["phase_control.current"], off, spacing=1e-9, count=1)[0, 0]

    assert miss.polarity == 1
    assert 0.0 < miss.current_at_end < LATCHING
    assert miss.current_at_end == pytest.approx(seen, rel=1e-4)  # 1 ns earlier, at a rate of 0.1 A in 100 us


@pytest.mark.parametrize(("factor", "latches"), [(0.9, False), (0.98, False), (1.02, True), (1.05, True)])
def test_the_pulse_needed_is_the_one_that_latches(missing_all, factor, latches):
    """From the state in which the half cycle was missed, it latches with the pulse named and not with a shorter one.

    The pulse is named to a sample of 2 us, a hundredth of it.
    """
    needed = firing_of(missing_all).miss.pulse_needed
    other = record(charger(factor * needed), start="steady", delay=EARLY, duration=0.02, settled=missing_all.settled)

    assert 100e-6 < needed < 1e-3
    assert firing_of(other).missed_positive == (0 if latches else 1)


def test_the_pulse_needed_latches_one_polarity_only():
    """Once the positive half cycle latches, its current outlasts the next pulse: the charger half-waves, and names so.

    With the pulse needed then, all half cycles latch; with a tenth less, they do not.
    """
    first = firing_of(record(charger(), start="steady", delay=EARLY)).miss.pulse_needed
    half = firing_of(record(charger(1.05 * first), start="steady", delay=EARLY))

    assert (half.missed_positive, half.missed_negative) == (0, 10)
    assert half.miss.polarity == -1
    assert half.miss.current_at_end < -LATCHING  # the positive half cycle's current, seen from the negative one
    for factor, missed in ((1.05, 0), (0.9, 10)):
        scenario = charger(factor * half.miss.pulse_needed)
        assert firing_of(record(scenario, start="steady", delay=EARLY)).missed == missed


@pytest.mark.parametrize("kind", ["train", "held"])
def test_trains_and_held_gates_latch(kind):
    """What is advised against a lost pulse cures it: all half cycles conduct, from 39 degrees at the latest."""
    scenario = weldsim.vary(charger(), {"phase_control.pulse_kind": kind})
    firing = firing_of(record(scenario, start="steady", delay=EARLY))

    assert firing.missed == 0
    assert firing.miss is None
    assert firing.conduction_angle > 180.0 - 39.0


@pytest.mark.parametrize("delay", [60.0, 90.0, 120.0])
def test_a_long_pulse_misses_none(delay):
    """Benchmark B with its pulse of 1 ms latches in every half cycle, and conducts as long as its events say."""
    recording = record(weldsim.read("benchmark_b"), start="steady", delay=delay)
    firing = firing_of(recording)
    events = [
        (time, left, entered) for time, element, left, entered in recording.run.events if element == "phase_control"
    ]
    pieces = [(0.0, "", events[0][1]), *events, (0.2, "", "")]
    on = sum(
        end - begin
        for (begin, _, entered), (end, _, _) in itertools.pairwise(pieces)
        if entered in ("plus", "minus", "gated_plus", "gated_minus")
    )

    assert (firing.missed, firing.half_cycles, firing.miss) == (0, 20, None)
    assert firing.asked_angle == 180.0 - delay
    assert firing.conduction_angle == pytest.approx(on / 0.2 * 180.0, abs=1e-6)  # rounding of the sums


def test_missed_half_cycles_do_not_shorten_the_angle():
    """Half-waving, the angle is that of the half cycles that conduct: as long as the events of one of them say."""
    recording = record(charger(300e-6), start="steady", delay=EARLY)
    firing = firing_of(recording)
    changes = [(time, entered) for time, element, _, entered in recording.run.events if element == "phase_control"]
    fired = next(k for k, (time, _) in enumerate(changes) if time > 0.04 and changes[k][1] == "gated_plus")
    ended = next(
        time
        for time, entered in changes[fired:]
        if not entered.startswith(("plus", "gated_plus")) or time > changes[fired][0] + 0.02
    )

    assert (firing.missed_positive, firing.missed_negative) in ((0, 10), (10, 0))
    assert firing.conduction_angle == pytest.approx((ended - changes[fired][0]) / 0.01 * 180.0, abs=1e-3)
    assert firing.conduction_angle > 90.0


def test_half_waving_at_a_high_dial_names_the_other_half_cycle():
    """The toroid at dial 90 % (26 degrees) half-waves: the negative pulse ends while the positive's current flows."""
    recording = record(weldsim.read("toroid_shed"), start="steady", dial=0.9)
    firing = firing_of(recording)

    assert (firing.missed_positive, firing.missed_negative) == (0, 10)
    assert firing.miss.polarity == -1
    assert firing.miss.current_at_end < -1.0  # amperes of the other polarity
    assert recording.run.figure("primary.current.mean") > 1.0  # which is the direct current of half-waving
    cured = weldsim.vary(recording.run.scenario, {"phase_control.pulse_width": 1.05 * firing.miss.pulse_needed})
    assert firing_of(record(cured, start="steady", dial=0.9)).missed == 0


def test_without_reasons_and_without_control():
    """The reason is left out where nobody asks for it; a supply without phase control has no firing at all."""
    scenario = weldsim.read("charger")
    recording = record(scenario, start="steady", delay=EARLY, duration=0.04)
    bare = weldsim.vary(scenario, {"phase_control": "absent"})

    assert firing_of(recording, reasons=False).missed == 4
    assert firing_of(recording, reasons=False).miss is None
    assert firing_of(record(bare, start="rest", duration=0.02)) is None


INDUCTIVE = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
device = "thyristor pair"
pulse_width = "0.5 ms"
[load]
kind = "resistor"
resistance = "6 ohm"
inductance = "40 mH"
"""


@pytest.mark.parametrize("phase", [0.0, 30.0, 90.0, 200.0, -45.0])
def test_where_a_run_begins_does_not_change_the_counts(phase):
    """A window that begins within a half cycle is counted over whole periods: one polarity is missed, all of it.

    Fired at 40 degrees behind a load angle of 64, a short pulse of the second polarity meets the first one's current.
    The angle is that of a run that begins at the zero crossing, and what the waveform shows.
    """
    scenario = weldsim.read_text(INDUCTIVE)
    asked = {"delay": 40.0, "start": "rest", "duration": 0.4, "window": 0.2}
    answer = weldsim.preview(weldsim.vary(scenario, {"start.mains_phase": phase}), **asked)
    counted = [answer.numbers[name].value for name in ("missed_half_cycles.count", "half_cycles.count")]
    assert counted[0] == 0.5 * counted[1]
    told = [one.text for one in answer.verdicts if one.name == "half_waving"]
    assert "Half-waving: 100 % of the" in told[0]
    run = answer.runs["window"]
    flows = np.abs(run["output.current"][-1601:-1]) > 0.1  # four periods of 400 samples, one half cycle taken in each
    assert answer.numbers["conduction.angle"].value == pytest.approx(360.0 * flows.mean(), abs=360.0 / 400)


def test_the_other_gate_is_not_what_a_half_cycle_latches_by():
    """Idle iron that takes less than half of what latches the device: no half cycle is taken, wherever the window ends.

    After the gate the flux rings with the snubber, and its current begins the next half cycle with the wrong sign: that
    flows by the next gate, and is no conduction of the half cycle before.  Latching goes by the current at the gate's
    end alone (definition), which the magnetising current bounds.
    """
    idle = weldsim.read_text("""
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
pulse_kind = "held"
latching_current = "1 A"
snubber_resistance = "100 ohm"
snubber_capacitance = "47 nF"
[transformer]
ratio = "230:42"
primary_resistance = "0.4 ohm"
[core]
magnetising_inductance = "5.1 H"
""")
    for periods in (5.0, 10.0):
        recording = record(idle, start="steady", delay=68.6, duration=0.02 * periods)
        assert recording.run.figure("core.magnetising_current.max") < 0.5
        assert firing_of(recording).missed == firing_of(recording).half_cycles == 2 * periods
