"""A soft start at work: contact times, a thermistor against its differential equation, presses, drill and strike."""

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import weldsim
from weldsim.parts.soft_start import SoftStart, contact_times
from weldsim.runs.left_over import Left
from weldsim.runs.perform import record
from weldsim.runs.presses import Presser, Setting, Trigger
from weldsim.runs.soft_start import settled_starter
from weldsim.runs.steady import settle
from weldsim.runs.supply import Supply
from weldsim.runs.wire_runs import WireRun, WireSupply
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary
from weldsim.studies import press_drill

DISC = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=0.02, heat_capacity=1.8)
RELAY = dataclasses.replace(DISC, bypass_delay=0.1)
RESISTOR = SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1)
PLAIN = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[load]
kind = "resistor"
resistance = "4 ohm"
"""


@pytest.fixture(scope="module")
def shed():
    """The toroid shed."""
    return weldsim.read("toroid_shed")


def softened(soft_start, scenario=None):
    """A resistor on the mains, or another scenario, behind a soft start."""
    return vary(read_text(PLAIN) if scenario is None else scenario, {"soft_start": soft_start})


def test_current_before_and_after_the_bypass():
    """Crest current is Um / (4 + 22) ohm until the relay closes at 50 ms, then Um / 4.0018 ohm (Ohm's law)."""
    made = softened(dataclasses.replace(RESISTOR, bypass_delay=0.05, contact_resistance=2e-3))
    recording = record(made, duration=0.1)
    crest = math.sqrt(2.0) * 230.0
    for span, resistance in (((0.0, 0.05), 26.0), ((0.0501, 0.1), 4.0 + 22.0 * 2e-3 / 22.002)):
        ((low, high),) = recording.trace.extremes(["primary.current"], *span)[0]
        assert max(-low, high) == pytest.approx(crest / resistance, rel=1e-9)
    spent = sum(
        amount for entry in recording.run.ledger.values() if isinstance(entry, dict) for amount in entry.values()
    )
    assert abs(recording.run.ledger["residual"]) < 1e-9 * spent


def test_what_is_left_can_begin_many_presses():
    """Each press that goes on from what another left has a soft start of its own: the second finds it as the first."""
    scenario = softened(DISC)
    starter = settled_starter(scenario, record(scenario, duration=0.02).supply.system)
    left = Left(np.zeros(0), (), math.nan, math.nan, starter)

    first, second = left.starter(), left.starter()
    assert first is not second
    assert starter not in (first, second)
    assert first.__dict__ == second.__dict__ == starter.__dict__
    assert Left(np.zeros(0), (), math.nan, math.nan, None).starter() is None


def test_contact_bounces_when_it_is_told_to():
    """The circuit changes at the relay's own times, its bounces among them; a quantum is below 1 ns."""
    table = dataclasses.replace(RESISTOR, bypass_delay=0.02, bounce_count=3)
    recording = record(softened(table), duration=0.05)
    instants = [at for at, name, *_ in recording.trace.changes() if name == "soft_start"]
    assert instants == pytest.approx([at for at, _ in contact_times(table)], abs=1e-9)


def warmed_by_equation(table, *, seconds, load):
    """Temperature [degC] and heat [J] of a thermistor in series with a resistor, by its differential equation."""
    crest, capacity = math.sqrt(2.0) * 230.0, table.heat_capacity

    def rates(t, y):
        resistance = table.resistance * math.exp(table.beta * (1.0 / (y[0] + 273.15) - 1.0 / 298.15))
        heat = (crest * math.sin(100.0 * math.pi * t) / (load + resistance)) ** 2 * resistance
        return [(heat - table.dissipation * (y[0] - table.ambient)) / capacity, heat]

    found = solve_ivp(rates, (0.0, seconds), [table.ambient, 0.0], rtol=1e-9, atol=1e-9, max_step=1e-3)
    return found.y[:, -1]


@pytest.mark.parametrize("seconds", [0.02, 0.1, 0.5])
def test_thermistor_against_its_differential_equation(seconds):
    """Rise and heat are within 2 % of C dT/dt = i2 R(T) - D (T - Ta) solved by scipy (computed).

    The steps of resistance are 15 % apart; on the way through them their errors cancel.
    """
    from weldsim.runs.under_way import begin_run

    supply = Supply(softened(DISC))
    going = begin_run(supply, delay=None, settled=None, duration=seconds, window=None)
    going.run_to(seconds)
    temperature, heat = warmed_by_equation(DISC, seconds=seconds, load=4.0)
    assert going.soft_start.temperature - 25.0 == pytest.approx(temperature - 25.0, rel=0.02)
    assert going.soft_start.energy == pytest.approx(heat, rel=0.02)


def test_settled_thermistor_gives_off_what_it_takes():
    """Settled without a relay, i2 R is D (T - Ta) at the step's temperature; 8 % for half a step of resistance."""
    supply = Supply(vary(softened(dataclasses.replace(DISC, dissipation=0.5)), {"load.resistance": 23.0}))
    found = settle(supply, delay=None)
    starter = settled_starter(supply.scenario, supply.system, signature=found.signature)
    resistance = starter.resistances[found.signature[starter.element]]
    current = 230.0 / (23.0 + resistance)
    assert 0.5 * (starter.temperature - 25.0) == pytest.approx(current**2 * resistance, rel=0.08)


def test_settled_running_is_bypassed(shed):
    """From the settled state a relay has long closed: output as without, but for 2 mohm (1e-3 of the loop)."""
    currents = [
        record(made, start="steady").trace.integrals().rms("output.current")
        for made in (shed, softened(RESISTOR, shed), softened(RELAY, shed))
    ]
    assert currents[1:] == pytest.approx([currents[0]] * 2, rel=2e-3)


@pytest.mark.parametrize(
    ("rule", "delays"),
    [
        (SoftStart(kind="ramp", half_cycles=4, start_delay=150.0), [150.0, 130.0, 110.0, 90.0, 70.0, 70.0]),
        (SoftStart(kind="first fire", first_delay=120.0), [120.0, 70.0, 70.0]),
    ],
    ids=["ramp", "first fire"],
)
def test_rules_of_firing_from_rest(rule, delays):
    """The device begins to conduct at the delays that the rule gives each half cycle, on a resistor."""
    made = read_text(PLAIN + '[phase_control]\nlatching_current = "0 A"\nholding_current = "0 A"\n')
    recording = record(softened(rule, made), delay=70.0, duration=0.01 * len(delays))
    starts, segments = recording.trace.segments("phase_control")
    fired = [at for at, name in zip(starts, segments, strict=True) if name.startswith("gated_")]
    found = [18000.0 * (at - 0.01 * k) for k, at in enumerate(fired[: len(delays)])]
    assert found == pytest.approx(delays, abs=1e-3)


def test_press_behind_a_resistor(shed):
    """A press begins behind 22 ohm, below the crest over these; one before the relay has let go is as without it.

    What the relay lets through once it has closed is part of the press.
    """
    trigger = Trigger(0.3, 0.5, 0.0)
    presses = {
        name: Presser(made).press(0, trigger)[0]
        for name, made in {
            "plain": shed,
            "soft": softened(RESISTOR, shed),
            "late": softened(dataclasses.replace(RESISTOR, release_time=0.6), shed),
        }.items()
    }
    behind = math.sqrt(2.0) * shed.mains.voltage / 22.0
    assert presses["soft"].first_peak(0.02) < behind < presses["soft"].largest
    assert presses["late"].largest == pytest.approx(presses["plain"].largest, rel=1e-2)  # 2 mohm of contact


@pytest.mark.slow
def test_thermistor_is_warm_between_presses(shed):
    """After a train of presses the disc lets more through than cold, less than nothing in the way, and cools slowly."""
    made = softened(RELAY, shed)
    unused = Presser(made, Setting(warm=False))
    cold, rested = (unused.press(0, Trigger(0.3, pause, 0.0))[0] for pause in (0.5, 900.0))
    warm, later = (Presser(made).press(0, Trigger(0.3, pause, 0.0))[0] for pause in (0.5, 900.0))
    plain = Presser(shed).press(0, Trigger(0.3, 0.5, 0.0))[0]
    assert cold.largest < warm.largest < plain.largest
    assert cold.thermistor < warm.thermistor
    # 900 s are ten times C / D: nothing of the warmth is left
    assert later.largest == pytest.approx(rested.largest, rel=1e-3)


def test_drill_carries_the_thermistor_through(shed):
    """Each press of a train finds the disc warmer than the one before, the first at ambient."""
    rows = press_drill.ask(softened(RELAY, shed), presses=5, off=0.5).rows
    found = [row["thermistor"] for row in rows]
    assert found[0] == 25.0
    assert all(np.diff(found) > 1.0)


@pytest.mark.parametrize("table", [RESISTOR, RELAY, DISC], ids=["resistor", "with relay", "thermistor"])
def test_strike_behind_a_soft_start(shed, table):
    """The wire's process runs on with the contact closed in its time, and a thermistor is warmed by its current."""
    made = softened(table, shed)
    run = WireRun(WireSupply(made), seed=1, trial=0, delay=70.0, length=0.2)
    run.run(stop_when_struck=False)
    assert run.soft_start.closed == (table.bypass_delay is not None)
    assert run.stepper.now == pytest.approx(0.2, abs=1e-4)
    if table.kind == "ntc":
        assert run.soft_start.temperature > 30.0
