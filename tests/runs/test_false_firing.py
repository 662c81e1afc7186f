"""A blocked device that fires by itself where its voltage rises too fast: when, how often, and when it must not."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from weldsim.errors import ScenarioError
from weldsim.runs.perform import record
from weldsim.runs.stress import false_firings, voltage_rates
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary

VOLTS, INDUCTANCE, CAPACITANCE = 230.0, 5e-3, 1e-7
CREST = math.sqrt(2.0) * VOLTS
SPEED = 1.0 / math.sqrt(INDUCTANCE * CAPACITANCE)  # of the ring [1/s]
BLOCKS = 1e9  # [ohm]
NEVER = "100000 V/us"  # the highest rate that can be written down
BARE = f"""
[mains]
voltage = "{VOLTS} V"
frequency = "50 Hz"
[phase_control]
threshold = "1 V"
slope = "10 mohm"
off_resistance = "{BLOCKS} ohm"
latching_current = "80 mA"
holding_current = "50 mA"
pulse_width = "1 ms"
"""

# Largest rate of v over E w0 when a step E goes through L into R + C: computed in closed form, 5a_snubber_step.
LARGEST = {0.1: 0.8801443445945860, 0.2: 0.8209185217557296, 0.3: 0.8134031839630446, 0.9: 1.8}


def bare(**changes):
    """A device on the mains with changes."""
    return vary(read_text(BARE), **changes)


def stepped(damping, rate, *, phase=90.0, device="triac"):
    """Run of 0.4 ms on the crest of a slow mains, a step through an inductance into the snubber of a blocked device.

    Within the ring's 100 us a crest at 10 Hz falls by 2e-5 of itself.
    """
    scenario = bare(
        mains__frequency=10.0,
        mains__inductance=INDUCTANCE,
        phase_control__device=device,
        phase_control__snubber_resistance=2.0 * damping * math.sqrt(INDUCTANCE / CAPACITANCE),
        phase_control__snubber_capacitance=CAPACITANCE,
        phase_control__false_firing=True,
        phase_control__critical_dvdt=rate,
        load={"kind": "short", "resistance": 0.0},
        start={"mains_phase": phase},
    )
    return record(scenario, delay=179.0, duration=4e-4, window=4e-4)


def ring(damping, time):
    """Voltage over E and rate over E w0 across R + C after a step E through L (derived here, series circuit)."""
    beta, phi = math.sqrt(1.0 - damping**2), SPEED * time
    fall, c, s = math.exp(-damping * phi), math.cos(beta * phi), math.sin(beta * phi)
    return (
        1.0 - fall * (c - damping / beta * s),
        fall * (2.0 * damping * c + (1.0 - 2.0 * damping**2) / beta * s),
    )


def firings(recording):
    """Instants after the start at which the device has fired by itself, and which way."""
    return [
        (time, entered)
        for time, element, left, entered in recording.run.events
        if element == "phase_control" and entered.endswith("by_itself") and left.startswith(("off", "ready"))
    ]


@pytest.mark.parametrize("damping", sorted(LARGEST))
@pytest.mark.parametrize("device", ["triac", "thyristor pair"])
def test_fires_below_the_largest_rate_of_a_snubber_step_and_not_above(damping, device):
    """0.1 % above the largest rate of the ring nothing happens; 0.1 % below it the device fires once.

    0.1 % covers the slow mains and the leakage of the blocked device; the largest rates are computed closed forms.
    With a damping of 0.9 the first instant is the steepest, and at 1 V, where the device could carry current, it has
    fallen by 0.4 % already: there 1 % below.
    """
    largest = LARGEST[damping] * CREST * SPEED

    quiet = stepped(damping, 1.001 * largest, device=device)
    assert false_firings(quiet) == 0
    assert voltage_rates(quiet).largest == pytest.approx(largest, rel=1e-3)
    assert false_firings(stepped(damping, (0.99 if damping == 0.9 else 0.999) * largest, device=device)) == 1


@pytest.mark.parametrize("share", [0.5, 0.7, 0.8])
@pytest.mark.parametrize("phase", [90.0, 270.0])
def test_fires_where_the_ring_reaches_the_rate(share, phase):
    """With little damping the ring starts slowly (0.2 E w0) and steepens: the device fires where its rate is reached.

    The instant is that of the closed form, found by bracketing; tolerance 0.02 us of 10 us to 30 us: 1e-3 of the rate.
    """
    damping = 0.1
    expected = brentq(lambda t: ring(damping, t)[1] - share, 0.0, 0.9 / SPEED)

    (found,) = firings(stepped(damping, share * CREST * SPEED, phase=phase))

    assert found[0] == pytest.approx(expected, abs=2e-8)
    assert found[1] == ("plus_by_itself" if phase == 90.0 else "minus_by_itself")


def test_a_rate_exceeded_at_once_fires_where_the_device_could_carry_current():
    """Much damping makes the first instant the steepest: the device fires as soon as its voltage is past threshold."""
    threshold = brentq(lambda t: ring(0.9, t)[0] - 1.0 / CREST, 0.0, 1e-6)

    (found,) = firings(stepped(0.9, 0.5 * CREST * SPEED))

    assert found[0] == pytest.approx(threshold, abs=1e-10)  # a band of 3e-11 of the crest, and a quantum of 30 ps


def resistive(rate, *, resistance=10.0, delay=120.0):
    """Five mains periods of a device with a resistor, fired late."""
    return record(
        bare(
            load={"kind": "resistor", "resistance": resistance},
            phase_control__false_firing=True,
            phase_control__critical_dvdt=rate,
        ),
        delay=delay,
        duration=0.1,
        window=0.1,
    )


STEEPEST = CREST * 100.0 * math.pi * BLOCKS / (BLOCKS + 10.0)  # of the mains across the blocked device, at its crossing


def test_mains_slope_is_the_limit_of_a_bare_device():
    """A critical rate above the mains' own slope at the crossing (102 V/ms) never fires, one below it always does.

    Each of the ten half cycles is then conducted from where the mains passes the threshold, though the gate comes at
    120 degrees; the first at asin(1 V / crest).  Threshold and holding cost less than 1 % of the rms of a full wave.
    """
    assert false_firings(resistive(1.0001 * STEEPEST)) == 0

    always = resistive(0.999 * STEEPEST)
    assert false_firings(always) == 10
    times = [time for time, _ in firings(always)]
    assert times[0] == pytest.approx(math.asin(1.0 / CREST) / (100.0 * math.pi), abs=1e-10)
    np.testing.assert_allclose(np.diff(times), 0.01, atol=1e-9)
    mean_square = CREST**2 / 2.0 / 100.0
    assert always.run.table["output.current.rms"][0] == pytest.approx(math.sqrt(mean_square), rel=1e-2)


def test_a_current_below_holding_does_not_latch_but_lasts_until_its_end():
    """Behind 100 kohm at most 3 mA flow: fired by itself, the device carries them to the end of the half cycle.

    It never gets past holding, so that it has no latched piece; the voltage across it stays near its threshold.
    """
    weak = resistive(0.9 * STEEPEST, resistance=1e5, delay=179.0)

    assert false_firings(weak) == 10
    entered = {segment for _, element, _, segment in weak.run.events if element == "phase_control"}
    assert not entered & {"plus", "minus"}
    # beyond the crossing itself (1 V of 325 V), and the gate at 179 degrees, the device sees its threshold only
    volts = np.abs(weak.run["phase_control.voltage"])
    assert volts.max() < 1.01


def test_with_a_rate_that_is_never_reached_nothing_changes():
    """False firing at the highest rate that can be written gives the waveforms of a device that cannot do it.

    Same pieces, same state: equal to rounding of the rows, 1e-12 of the crest.
    """
    plain = bare(load={"kind": "resistor", "resistance": 10.0})
    armed = vary(plain, {"phase_control.false_firing": True, "phase_control.critical_dvdt": NEVER})

    one, other = (record(scenario, delay=75.0, duration=0.1, window=0.1) for scenario in (plain, armed))

    assert false_firings(other) == 0
    np.testing.assert_allclose(one.run["output.current"], other.run["output.current"], atol=1e-12 * CREST)
    assert false_firings(one) == 0


def test_without_a_snubber_no_rating_is_enough_behind_an_inductance():
    """Where the current of an inductance ends nothing slows the voltage: even the best device fires at once.

    So every current end of the five periods but the last begins the next half cycle, and the gate adds none.
    """
    scenario = bare(
        load={"kind": "resistor", "resistance": 10.0, "inductance": 0.03},
        phase_control__false_firing=True,
        phase_control__critical_dvdt=NEVER,
    )

    assert false_firings(record(scenario, delay=75.0, duration=0.1, window=0.1)) == 9


def test_the_gate_takes_over_what_fired_by_itself():
    """Only firings without gate are counted: with the gate held from the crossing on there is none."""
    scenario = bare(
        load={"kind": "resistor", "resistance": 10.0},
        phase_control__pulse_kind="held",
        phase_control__train_end=179.0,
        phase_control__false_firing=True,
        phase_control__critical_dvdt=0.5 * STEEPEST,
    )

    assert false_firings(record(scenario, delay=0.0, duration=0.1, window=0.1)) == 0


def test_false_firing_needs_its_rate():
    """Without the rate at which the device fires the table is refused and says which key is missing."""
    with pytest.raises(ScenarioError, match="critical_dvdt"):
        bare(phase_control__false_firing=True)


def test_the_ring_of_this_file_has_the_computed_peaks():
    """The closed form used above has the computed peak and largest rate for every damping listed.

    Peak v/E by 5a_snubber_step: 1.744079, 1.571740, 1.450975, 1.155283.
    """
    peaks = {0.1: 1.744079397721780, 0.2: 1.571740027584777, 0.3: 1.450975452893128, 0.9: 1.155282747501682}
    times = np.linspace(0.0, 6.0 / SPEED, 60_001)
    for damping, peak in peaks.items():
        values = np.array([ring(damping, time) for time in times])
        assert values[:, 0].max() == pytest.approx(peak, rel=1e-7)
        assert values[:, 1].max() == pytest.approx(LARGEST[damping], rel=1e-7)
