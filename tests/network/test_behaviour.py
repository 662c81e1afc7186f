"""Wired supplies on the engine: what the devices and the iron do in time, against closed forms and balances."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.network.supplies import FALLING, VARIANTS, benchmark, straight
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate
from weldsim.network.wiring import wire
from weldsim.parts.hysteresis import loop_area

STEPS = 200  # of a mains period
DEVICE = {"threshold": 0.0, "slope": 1e-3, "off_resistance": 1e9}


def run(scenario, end, commands=(), **start):
    """Trace of a run from rest; ``commands`` are (time, event name)."""
    system = wire(scenario)
    numbers = {event.name: k for k, event in enumerate(system.events)}
    x, signature = system.start(**start)
    plan = RunPlan(0.0, end, x, signature, [(time, numbers[name]) for time, name in commands])
    return simulate(ModeLibrary(system, STEPS), plan)


def firing(delay, width, end, frequency=50.0):
    """Gate commands of a triac: delay [deg] in every half cycle, pulse width [s]."""
    times = [k / (2.0 * frequency) + delay / 360.0 / frequency for k in range(round(2.0 * frequency * end))]
    return [(time + shift, name) for time in times for shift, name in ((0.0, "gate on"), (width, "gate off"))]


@pytest.mark.parametrize(
    "name",
    [
        "as it is",
        "varistor",
        "everything",
        "boost from a saturating choke",
        "centre-tap",
        "diac dial",
        "shorted falling arc",
        "no transformer",
        "battery",
    ],
)
def test_energy_is_kept(name):
    """Source energy = what is stored + every loss from its own v and i + load + what jumps took, over three periods.

    Tolerance: 1e-8 of the source's energy; the exact integrals leave 1e-10 in stiff modes.
    """
    scenario = benchmark(VARIANTS[name])
    commands = [] if name == "diac dial" else firing(80.0, 1e-3, 0.06)
    if name == "shorted falling arc":
        commands += [(0.031, "short on"), (0.034, "short off"), (0.049, "short on"), (0.052, "short off")]
    trace = run(scenario, 0.06, commands)
    system, energies = trace.system, trace.integrals().energies()
    count = len(system.states)
    stored = sum(system.stored_energy(trace.end_state[:count]).values()) - sum(
        system.stored_energy(trace.state[0][:count]).values()
    )
    source, spent = sum(energies["source"].values()), sum(energies["loss"].values()) + sum(energies["load"].values())

    assert source > 1.0
    assert spent + stored + trace.jump_energy == pytest.approx(source, rel=1e-8)
    assert all(energy >= -1e-12 for energy in energies["loss"].values())


def test_gate_reaching_beyond_the_crossing_fires_a_triac_but_no_pair():
    """A pulse from 170 to 206 degrees gives a triac the whole next half cycle, a thyristor pair nothing of it."""
    load = {"load": {"kind": "resistor", "resistance": 10.0, "inductance": 0.0}}
    start, end = 170.0 / 18000.0, 206.0 / 18000.0
    triac = run(straight(load | {"phase_control": DEVICE}), 0.02, [(start, "gate on"), (end, "gate off")])
    pair = run(
        straight(load | {"phase_control": DEVICE | {"device": "thyristor pair"}}),
        0.02,
        [(start, "gate plus on"), (end, "gate plus off")],
    )

    half = math.sqrt(2.0) * 230.0 / 10.0 / (math.pi * 50.0)  # charge of a half cycle
    tail = half * (1.0 + math.cos(math.radians(170.0))) / 2.0
    assert triac.integrals(0.0, 0.01).integral("primary.current") == pytest.approx(tail, rel=1e-3)
    assert triac.integrals(0.01, 0.02).integral("primary.current") == pytest.approx(-half, rel=1e-3)
    assert pair.integrals(0.0, 0.01).integral("primary.current") == pytest.approx(tail, rel=1e-3)
    assert pair.integrals(0.01, 0.02).integral("primary.current") == pytest.approx(0.0, abs=1e-6)


def test_pulse_too_short_for_latching():
    """Behind an inductance the current has not reached latching at the pulse's end: the device drops out.

    i = (V / w L)(cos a - cos w t) with V = 325.27 V, L = 1 H, a = 90 degrees: 100 us give 32 mA, 400 us give 130 mA.
    """
    control = DEVICE | {"latching_current": 0.08, "holding_current": 0.05}
    scenario = straight({"load": {"kind": "resistor", "resistance": 0.0, "inductance": 1.0}, "phase_control": control})
    short = run(scenario, 0.009, firing(90.0, 100e-6, 0.01))
    long = run(scenario, 0.009, firing(90.0, 400e-6, 0.01))

    assert "plus" not in short.segments("phase_control")[1]
    assert long.segments("phase_control")[1][-1] == "plus"


def test_diac_dial_fires_at_breakover():
    """The first firing is where the capacitor, charged through R from rest, reaches the breakover voltage.

    v = E / sqrt(1 + q^2) (sin(w t - phi) + sin(phi) exp(-t / RC)), q = w R C, phi = atan q (REFERENCE: derived there).
    Tolerance: 1 ohm of load before 100 kohm shifts the angle by 1e-5.
    """
    resistance, capacitance = 1e5, 1e-7
    control = DEVICE | {
        "dial_kind": "rc-diac",
        "dial": 0.0,
        "timing_resistance_at_0": resistance,
        "timing_resistance_at_100": 1e4,
        "timing_capacitance": capacitance,
        "diac_breakback": 8.0,
        "pulse_width": 50e-6,
    }
    trace = run(straight({"load": {"kind": "resistor", "resistance": 1.0}, "phase_control": control}), 0.018)
    speed = 2.0 * math.pi * 50.0
    q = speed * resistance * capacitance
    phi = math.atan(q)

    def charge(t):
        return (
            math.sqrt(2.0)
            * 230.0
            / math.hypot(1.0, q)
            * (math.sin(speed * t - phi) + math.sin(phi) * math.exp(-t / resistance / capacitance))
            - 32.0
        )

    fired = [instant for instant, element, _, after in trace.changes() if element == "diac" and after == "fired_plus"]
    first = brentq(charge, 1e-4, 5e-3, xtol=1e-15)
    assert fired[0] == pytest.approx(first, rel=2e-5)
    before, after = (
        trace.sample(["dial.capacitor.voltage"], first + shift, spacing=1e-6, count=1)[0, 0] for shift in (-1e-6, 1e-6)
    )
    assert before - after == pytest.approx(8.0, abs=0.05)  # 1 us either side: 0.03 V of charging
    negative = [e for e in trace.changes() if e[1] == "diac" and e[3] == "fired_minus"]
    assert len(negative) == 1  # one firing in the second half cycle
    assert trace.integrals(0.01, 0.018).integral("primary.current") < -0.1


def test_static_loss_is_the_area_of_the_loop():
    """An unloaded core driven by a sine loses, per cycle, the area of its friction loop at the flux it reaches.

    4 sum H (B - B_j) over the elements, which ``hysteresis.loop_area`` derives and parts' tests check by quadrature.
    Tolerance: 1 mohm before the core deforms the voltage by 1e-6.
    """
    rows = [{"current": 0.02, "flux_linkage": 0.2}, {"current": 0.05, "flux_linkage": 0.6}]
    core = {"magnetising_inductance": 4.0, "hysteresis": rows}
    scenario = straight({"load": "absent", "transformer": {"ratio": 2.0}, "core": core, "mains.resistance": 1e-3})
    trace = run(scenario, 0.08, flux_linkage=0.0)
    peak = math.sqrt(2.0) * 230.0 / (2.0 * math.pi * 50.0)
    low, high = trace.extremes(["core.flux_linkage"], 0.06, 0.08)[0][0]
    energy = trace.integrals(0.06, 0.08).energies()["loss"]["core hysteresis"]

    assert high - low == pytest.approx(2.0 * peak, rel=1e-5)
    assert energy == pytest.approx(loop_area(((0.02, 0.2), (0.05, 0.6)), peak), rel=1e-5)


def test_arc_goes_out_only_at_no_current():
    """A falling arc on too little voltage is lost each time exactly at zero current, and comes back at its voltage.

    Tolerance: current falls at some 2e5 A/s, 1 uA in the quantum of 6e-12 s behind the crossing.
    """
    load = FALLING | {"falling_current": 30.0, "reignition_voltage": 32.0}
    scenario = benchmark({"load": load, "bank.capacitance": 2e-3, "choke.inductance": 1e-4})
    trace = run(scenario, 0.06, firing(100.0, 1e-3, 0.06))
    changes = [(instant, before, after) for instant, element, before, after in trace.changes() if element == "load"]

    lost = [instant for instant, _, after in changes if after == "out"]
    back = [instant for instant, before, _ in changes if before == "out"]
    assert len(lost) >= 3
    for instant in lost:
        assert trace.sample(["output.current"], instant, spacing=1e-6, count=1)[0, 0] == pytest.approx(0.0, abs=5e-6)
    for instant in back:
        assert trace.sample(["output.voltage"], instant - 1e-9, spacing=1e-9, count=1)[0, 0] == pytest.approx(
            32.0, abs=0.01
        )


def test_friction_keeps_the_flux_after_switch_off():
    """When the triac has gone off the core keeps flux, at no magnetising current but what the off-state leaks."""
    scenario = benchmark(VARIANTS["iron core with friction"] | {"load": "absent"})
    commands = [command for command in firing(90.0, 1e-3, 0.06) if command[0] < 0.04]
    trace = run(scenario, 0.059, commands)
    flux, current = (
        trace.sample([name], 0.0585, spacing=1e-4, count=1)[0, 0]
        for name in ("core.flux_linkage", "core.magnetising_current")
    )

    assert abs(flux) > 0.05
    assert abs(current) < 0.01
    assert np.all(np.isfinite(trace.end_state))
