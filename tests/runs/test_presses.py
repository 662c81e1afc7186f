"""Trigger presses.

What the core and the bank keep, coasting through the pause, half cycles, and the same numbers for any workers.
"""

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from scipy.integrate import trapezoid

import weldsim
from weldsim.runs.commands import gate_commands
from weldsim.runs.first_fire import RAMP_START, FirstFire, onset_of
from weldsim.runs.press_batches import press_many
from weldsim.runs.presses import Presser, Trigger, drawn

SHED = "scenarios/toroid_shed.toml"


@pytest.fixture(scope="module")
def shed():
    """The shed's supply, ready to be pressed."""
    return Presser(weldsim.read(SHED))


@pytest.fixture(scope="module")
def tight():
    """The shed without anything that leaks in a pause: no snubber, an off resistance of 1 Gohm."""
    scenario = weldsim.read(SHED)
    return Presser(
        weldsim.vary(
            scenario,
            {
                "phase_control.snubber_resistance": "absent",
                "phase_control.snubber_capacitance": "absent",
                "phase_control.off_resistance": "1000 Mohm",
            },
        )
    )


def test_moment_of_switch_off_decides_remanence(tight):
    """Conduction that ends half a period later leaves the core with the opposite flux; nothing else differs."""
    early, _ = tight.press(0, Trigger(0.05, 1.0, 0.3))
    late, _ = tight.press(0, Trigger(0.55, 1.0, 0.3))
    assert early.flux_linkage == pytest.approx(
        -late.flux_linkage, rel=0.15
    )  # 0.4 deg of unequal firing biases the core a little
    assert abs(early.flux_linkage) > 0.1


def test_longer_pause_alone_changes_only_what_leaks(tight):
    """Without a leak the flux stays (1e-4.

    1 Gohm leaks 0.3 uA) and the bank bleeds by exp(-t / RC), as a charged capacitor must.
    """
    short, _ = tight.press(0, Trigger(0.2, 1.0, 0.3))
    long, _ = tight.press(0, Trigger(0.2, 3.0, 0.3))
    assert short.flux_linkage == pytest.approx(long.flux_linkage, rel=1e-4)
    bank, load, bridge = tight.scenario.bank, tight.scenario.load, tight.scenario.rectifier
    # bleed resistor, the load line's knee and the four blocked diodes, all in parallel
    drain = 1.0 / (1.0 / bank.bleed_resistance + 1.0 / load.knee_resistance + 1.0 / bridge.leakage_resistance)
    assert long.bank_voltage / short.bank_voltage == pytest.approx(
        math.exp(-2.0 / (bank.capacitance * drain)), rel=1e-3
    )


def test_coasting_equals_stepping(shed):
    """A pause of two seconds in leaps ends in the state that plain stepping reaches (1e-8 of each state's range)."""
    trigger = Trigger(0.3, 2.0, 0.4)
    coasted, start = shed.rested(trigger)
    stepper = shed._stepper(shed.before.state, shed.before.signature, (0.0, start), shed._gate(0.0, 0.3 * shed.period))
    stepper.run_to(start)
    scale = np.maximum(np.abs(shed.before.state), 1e-3)
    assert np.max(np.abs(shed.state_of(stepper) - shed.state_of(coasted)) / scale) < 1e-8
    assert shed.signature_of(stepper) == shed.signature_of(coasted)


def test_a_quiet_pause_costs_next_to_nothing(tight):
    """Where nothing leaks, a pause of four seconds takes hardly more steps than one of a second."""
    steps = [int(tight.rested(Trigger(0.3, pause, 0.4))[0].control[10]) for pause in (1.0, 4.0)]
    assert steps[1] < 1.5 * steps[0]


def test_half_cycles_against_samples(shed):
    """Peak and I2t of each half cycle equal those of samples 1 us apart (1e-4.

    Their own error); the exact peak is never lower.
    """
    press, trace = shed.press(0, drawn(7, 3))
    begin = trace.span[0]
    for half, after in zip(press.half_cycles, [*press.half_cycles[1:], None], strict=True):
        first, last = begin + half.begin, begin + after.begin if after else trace.span[1]
        current = trace.sample(["primary.current"], first, spacing=1e-6, count=int((last - first) / 1e-6))[0]
        mine = current[np.sign(current) == half.polarity]
        assert half.peak == pytest.approx(np.abs(mine).max(), rel=1e-4)
        assert half.peak >= np.abs(mine).max() * (1 - 1e-9)
        assert half.i2t == pytest.approx(trapezoid(mine**2, dx=1e-6), rel=1e-3, abs=1e-3)


def test_same_numbers_whatever_the_workers():
    """120 presses in three batches: one worker, two threads and an executor of the caller's agree to the last bit."""
    scenario = weldsim.read(SHED)

    def peaks(**how):
        found = [press for batch in press_many(scenario, count=120, seed=4, **how) for press in batch]
        return [press.largest for press in sorted(found, key=lambda press: press.trial)]

    alone = peaks(workers=1)
    assert peaks(workers=2) == alone
    with ThreadPoolExecutor(3) as pool:
        assert peaks(executor=pool) == alone
    assert peaks(workers=1)[:5] != [
        press.largest for batch in press_many(scenario, count=5, seed=5, workers=1) for press in batch
    ]


def test_a_press_does_not_know_what_was_pressed_before(shed):
    """Trial 6 as the first press of a supply and after sixty others is the same to the last bit."""
    scenario = weldsim.read(SHED)
    first = Presser(scenario).press(6, drawn(1, 6))[0]
    used = Presser(scenario)
    for trial in range(60):
        used.press(trial, drawn(1, trial))
    again = used.press(6, drawn(1, 6))[0]
    assert again.half_cycles == first.half_cycles
    assert (again.flux_linkage, again.bank_voltage) == (first.flux_linkage, first.bank_voltage)


def test_draws_are_keyed_by_seed_and_trial():
    """A trial's three numbers do not depend on which trials were drawn before; pauses lie between 0.5 and 5 s."""
    assert drawn(1, 7) == drawn(1, 7)
    assert drawn(1, 7) != drawn(2, 7)
    pauses = np.array([drawn(3, k).pause for k in range(400)])
    assert pauses.min() >= 0.5
    assert pauses.max() <= 5.0
    assert np.median(pauses) == pytest.approx(
        math.sqrt(0.5 * 5.0), rel=0.15
    )  # log-uniform: the geometric middle; 5 % error of 400 draws


def test_contactor_without_phase_control():
    """A transformer straight on the mains is closed and opened by a contactor.

    Its current stops at zero and the core keeps flux.
    """
    scenario = weldsim.vary(weldsim.read(SHED), {"phase_control": "absent"})
    presser = Presser(scenario)
    assert presser.contactor
    _, trace = presser.press(0, Trigger(0.3, 0.6, 0.0))
    assert abs(trace.states_at([trace.span[0]])[0][: len(presser.supply.system.states)]).max() > 0.1
    presses = [presser.press(k, drawn(1, k))[0] for k in range(12)]
    assert max(press.largest for press in presses) > 3.0 * min(press.largest for press in presses)


def gates_on(presser, rule, *, trigger, last=0):
    """When the gate comes in the first 0.1 s under a rule of firing [s]."""
    onset = onset_of(rule, 50.0, delay=90.0, trigger=trigger, last_polarity=last)
    commands = gate_commands(
        presser.scenario, presser.supply.system, delay=90.0, span=(trigger, trigger + 0.1), onset=onset
    )
    return [time for time, number in commands if number == presser.numbers["gate on"]]


@pytest.mark.parametrize(
    ("rule", "first", "second"),
    [
        (FirstFire("as the dial"), 90.0, 90.0),
        (FirstFire("zero", angle=0.0), 0.0, 90.0),
        (FirstFire("ramp", ramp=4), RAMP_START, RAMP_START - 20.0),
        (FirstFire("from 150", ramp=4, ramp_start=150.0), 150.0, 135.0),
    ],
)
def test_first_firings_follow_the_rule(shed, rule, first, second):
    """The first gate pulses after the trigger come at the rule's delays.

    The first half cycle is the first that lies ahead.
    """
    on = gates_on(shed, rule, trigger=0.0001)
    start = math.ceil((0.0001 - first / 180.0 * 0.01) / 0.01 - 1e-9) * 0.01
    asymmetry = shed.scenario.phase_control.asymmetry
    assert [(on[0] - start) * 18000.0, (on[1] - start - 0.01) * 18000.0] == pytest.approx(
        [first, second], abs=asymmetry + 1e-6
    )


@pytest.mark.parametrize("polarity", ["opposite", "same"])
def test_polarity_of_the_first_firing(shed, polarity):
    """With the last conduction positive, "opposite" fires a negative half cycle first."""
    half = int(gates_on(shed, FirstFire("x", polarity=polarity), trigger=0.0, last=1)[0] / 0.01)
    assert half % 2 == (1 if polarity == "opposite" else 0)


def test_a_contactor_opens_on_settled_conduction():
    """Behind a contactor half a period later leaves the opposite flux: nothing of its own inrush is left in the core.

    Half-wave symmetry of a settled state on a sine (theory); 1e-3 for what settling leaves.
    """
    text = """
    [mains]
    voltage = "230 V"
    frequency = "50 Hz"
    resistance = "0.4 ohm"
    [transformer]
    primary_turns = 380
    secondary_turns = 190
    primary_resistance = "0.9 ohm"
    secondary_resistance = "0.25 ohm"
    [core]
    section = "24 cm2"
    path_length = "35 cm"
    steel = "grain-oriented"
    coercive_field = "12 A/m"
    remanence = "1.1 T"
    """
    unloaded = Presser(weldsim.read_text(text))
    early, late = (unloaded.press(0, Trigger(ended, 1.0, 0.3))[0].flux_linkage for ended in (0.2, 0.7))
    assert early == pytest.approx(-late, rel=1e-3)
    assert abs(early) > 0.1
