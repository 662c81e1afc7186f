"""Arcs with a memory in the wire process: the equations of Mayr and Cassie, on arrays and through a whole supply."""

import dataclasses
import math
from functools import partial

import numba
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as any_of
from scipy.integrate import quad

import weldsim
from weldsim.engine import wire_layout
from weldsim.engine.doors import door
from weldsim.parts.wire import Wire, constants
from weldsim.runs.wire_places import constant_array
from weldsim.runs.wire_runs import WireRun, WireSupply, strike_trial
from weldsim.scenario.vary import vary

currents = any_of.floats(1.0, 600.0)
rule = partial(door, "wire_kernel")  # of the compiled process, by its name


def relaxed(begin: float, drive: float, x: float, *, before: float, after: float) -> float:
    """What relaxes for ``x`` time constants towards ``drive`` times the square of a current in a straight line.

    Of a Mayr arc that is its conductance (drive 1/P0), of a Cassie arc its square (1/Uc^2, half the time constant).
    """

    def gained(u: float) -> float:
        return math.exp(-u) * (after + (before - after) * u / x) ** 2

    return begin * math.exp(-x) + drive * quad(gained, 0.0, x, epsabs=0.0, epsrel=1e-11)[0]


@given(currents, currents, any_of.floats(0.1, 30.0), any_of.floats(1e-7, 5e-4), any_of.floats(10e-6, 1e-3))
def test_a_small_tick_is_the_solution(first, last, conductance, time, time_constant):
    """Both conductances after a tick with a straight current (the linear equations, by quadrature; 1e-9: rounding)."""
    wire = constants(Wire(arc_memory="Cassie and Mayr", arc_time_constant=time_constant, arc_power=200.0))
    state = np.zeros(wire_layout.STATES)
    state[0], state[18], state[19], state[20] = 1e-3, conductance, conductance, first
    rule("remember")(state, constant_array(wire), last, time)
    said, x = {"before": first, "after": last}, time / time_constant
    volts = wire.arc_voltage + 1e-3 * wire.arc_gradient
    assert state[18] ** 2 == pytest.approx(relaxed(conductance**2, volts**-2, 2.0 * x, **said), rel=1e-9)
    assert state[19] == pytest.approx(relaxed(conductance, 1.0 / 200.0, x, **said), rel=1e-9)


def battery(**wire):
    """A large charged bank behind 100 mH, whose current hardly changes in a fraction of a millisecond, and a wire that
    hardly melts and is not fed once it has touched.
    """
    held = Wire(
        feed=0.0, run_in_feed=0.0, first_gap_low=0.0, first_gap_high=0.0, melting_alpha=1e-5, melting_beta=0.0,
        arc_gradient=100.0, spot_low=0.05, spot_high=0.05, **wire,
    )  # fmt: skip
    return dataclasses.replace(
        vary(
            weldsim.read("toroid_shed"),
            {
                "phase_control.delay_at_0": 179.0,
                "phase_control.dial": 0.0,
                "bank.capacitance": 100.0,
                "choke.saturation_current": "absent",
                "choke.inductance": "100 mH",
                "start.bank_voltage": 24.0,
            },
        ),
        wire=held,
    )


@pytest.mark.parametrize("memory", ["Cassie", "Mayr", "Cassie and Mayr"])
def test_a_disturbed_arc_relaxes_as_its_equation_says(memory):
    """Conductances cut by a tenth while it burns on a supply: 0.2 ms later they are the solution (1e-5).

    Solution for a current in a straight line between its ends; 100 mH bend it by less than 1e-5.
    """
    power = 600.0 if memory == "Mayr" else 80.0
    supply = WireSupply(battery(arc_memory=memory, arc_power=power))
    run = WireRun(supply, seed=1, trial=0, delay=179.0, length=0.6)
    run.run(stop_when_struck=False, until=0.145)
    assert run.count[0] == wire_layout.BURNING
    run.state[18:20] *= 0.9
    cassie, mayr, before, begin = run.state[18:22].tolist()
    run.run(stop_when_struck=False, until=0.1452)
    said = {"before": before, "after": float(run.state[20])}
    x = (float(run.state[21]) - begin) * supply.library.quantum / 50e-6

    volts = supply.constants.arc_voltage + supply.constants.arc_gradient * float(run.state[0])
    assert run.count[0] == wire_layout.BURNING
    assert before > 30.0
    assert run.state[18] ** 2 == pytest.approx(relaxed(cassie**2, volts**-2, 2.0 * x, **said), rel=1e-5)
    assert run.state[19] == pytest.approx(relaxed(mayr, 1.0 / power, x, **said), rel=1e-5)


def test_the_voltage_at_the_wire_is_that_of_the_conductances():
    """Settled, the arc's share of the volts at the wire is current over conductance, both kinds in series (1e-4)."""
    supply = WireSupply(battery(arc_memory="Cassie and Mayr"))
    run = WireRun(supply, seed=1, trial=0, delay=179.0, length=0.5, every=1)
    run.run(stop_when_struck=False, until=0.145)
    row = run.record[int(run.count[12]) - 1]
    current, voltage = row[3], row[3 + supply.recorded.index("output.voltage")]
    wire = supply.constants
    series = rule("extension_resistance")(run.state, run.c) + wire.arc_resistance
    told = wire.arc_voltage + wire.arc_gradient * row[2] + wire.arc_power / current
    assert voltage - series * current == pytest.approx(told, rel=1e-4)


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="takes minutes uncompiled; others go the same way")
def test_an_arc_with_a_memory_strikes_and_is_lost():
    """With the dial up it strikes, far down it does not; what it loses it loses by its own current's end."""
    scenario = vary(weldsim.read("toroid_shed_boost"), {"wire.arc_memory": "Cassie and Mayr"})
    supply = WireSupply(scenario, boost_connected=False)
    high = [strike_trial(supply, seed=1, trial=k, delay=70.0) for k in range(4)]
    low = [strike_trial(supply, seed=1, trial=k, delay=110.0) for k in range(4)]
    assert all(trial.struck for trial in high)
    assert not any(trial.struck for trial in low)
    assert sum(trial.losses for trial in low) > 0
