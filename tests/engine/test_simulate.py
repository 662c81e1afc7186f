"""The compiled loop on small systems written by hand."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.engine.toys import bouncer, controller, equations
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate
from weldsim.errors import SimulationError
from weldsim.network.system import Element, Signal, SwitchedSystem

AMPLITUDE, RESISTANCE, INDUCTANCE = 325.0, 2.0, 5e-3


def fired(alpha, cycles):
    """Commands that fire the controller's switch at alpha [deg] in each half cycle."""
    return [((k * 180.0 + alpha) / 18000.0, 0) for k in range(2 * cycles)]


def extinction(alpha):
    """Closed form, Rashid ch. 11: sin(b - phi) = sin(a - phi) exp(-(b - a) / tan phi), by bracketing [rad]."""
    phi, a = np.arctan(2 * np.pi * 50 * INDUCTANCE / RESISTANCE), np.radians(alpha)
    return brentq(
        lambda b: np.sin(b - phi) - np.sin(a - phi) * np.exp(-(b - a) / np.tan(phi)),
        np.pi,
        2.2 * np.pi - 0.1,
        xtol=1e-14,
    )


@pytest.mark.parametrize("alpha", [60.0, 90.0, 120.0, 150.0])
@pytest.mark.parametrize("steps", [20, 50, 400])
def test_controller_extinction_and_rms(alpha, steps):
    """Extinction angle and rms current of the R-L controller, whatever the step; 1 Gohm when off leaves 1e-7."""
    library = ModeLibrary(controller(AMPLITUDE, RESISTANCE, INDUCTANCE, off=1e9), steps)
    trace = simulate(library, RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(alpha, 5)))
    off = [t for t, _, _, entered in trace.changes() if entered == "off" and t > 0.02]
    assert abs(np.degrees(extinction(alpha)) - 180.0 - (off[0] * 18000.0) % 180.0) < 1e-5
    phi, a, b = np.arctan(2 * np.pi * 50 * INDUCTANCE / RESISTANCE), np.radians(alpha), extinction(alpha)
    g = b - a
    rms = (
        AMPLITUDE
        / np.hypot(RESISTANCE, 2 * np.pi * 50 * INDUCTANCE)
        * np.sqrt((g - np.sin(g) * np.cos(2 * a + phi + g) / np.cos(phi)) / (2 * np.pi))
    )
    assert trace.integrals(0.04, 0.1).rms("i") == pytest.approx(rms, rel=1e-6)


@pytest.mark.parametrize("off", [1e10, 1e13])
def test_integrals_of_a_mode_faster_than_a_quantum(off):
    """A coil whose L/R behind a blocked switch is far below a quantum: rms, power and harmonics of a slower one.

    The off resistances compared leave 2e-8 of the current, and less.
    """
    plan = RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(90.0, 5))
    slow, fast = (simulate(ModeLibrary(controller(off=value), 50), plan) for value in (1e9, off))
    sums, others = (trace.integrals(0.04, 0.1) for trace in (slow, fast))
    assert others.rms("i") == pytest.approx(sums.rms("i"), rel=1e-7)
    assert others.product("u", "i") == pytest.approx(sums.product("u", "i"), rel=1e-7)
    lines, others = (trace.fourier(["i"], [1, 3, 5], begin=0.08, end=0.1)[0] for trace in (slow, fast))
    np.testing.assert_allclose(others, lines, atol=1e-7 * abs(lines[0]))


def test_energy_of_the_controller_closes():
    """Source energy = heat of the resistances over whole periods, each from its own voltage and current (1e-11)."""
    trace = simulate(ModeLibrary(controller(), 50), RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(75.0, 5)))
    sums = trace.integrals(0.04, 0.1)
    source, heat = sums.product("u", "i"), sums.product("u_r", "i") + sums.product("u_off", "i")
    stored = trace.states_at([0.1])[0][0] ** 2 - trace.states_at([0.04])[0][0] ** 2
    assert source == pytest.approx(heat + 0.5 * INDUCTANCE * stored, rel=1e-11)


def test_result_does_not_depend_on_the_step_or_on_cuts():
    """The state after 0.1 s is the same to 1e-9 for four step lengths: there is no truncation error to differ in."""
    plan = RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(70.0, 5))
    ends = [simulate(ModeLibrary(controller(), n), plan).states_at([0.0937])[0, 0] for n in (20, 50, 167, 1000)]
    assert np.ptp(ends) < 1e-9 * 100.0


def test_harmonics_by_the_exact_sums():
    """Fourier sums of the current equal those of dense samples (1e-5 of the fundamental: the samples' own error)."""
    trace = simulate(ModeLibrary(controller(), 50), RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(90.0, 5)))
    exact = trace.fourier(["i"], [1, 3, 5], begin=0.08, end=0.1)[0]
    samples = trace.sample(["i"], 0.08, spacing=0.02 / 40000, count=40000)[0]
    numeric = 2.0 * np.fft.rfft(samples)[[1, 3, 5]] / 40000
    assert np.abs(exact - numeric).max() < 1e-5 * abs(exact[0])


def test_extremes_are_the_stationary_points():
    """The crest is higher than any of 2000 samples a period, and by no more than their spacing allows."""
    trace = simulate(ModeLibrary(controller(), 50), RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(60.0, 5)))
    values, times = trace.extremes(["i"], 0.06, 0.1)
    samples = trace.sample(["i"], 0.06, spacing=1e-5, count=4000)[0]
    assert samples.max() <= values[0, 1] <= samples.max() + 1e-3
    assert abs(trace.sample(["i"], times[0, 1], spacing=1e-9, count=1)[0, 0] - values[0, 1]) < 1e-9


def test_a_jump_of_the_state():
    """Bounces of a ball come when the school formula says (1e-9 s: the dead band of 1e-12 m, and a few quanta)."""
    trace = simulate(ModeLibrary(bouncer(), 1000), RunPlan(0.0, 2.0, np.array([1.0, 0.0]), (0,)))
    bounces = [t for t, _, _, entered in trace.changes() if entered == "rising"]
    first = np.sqrt(2.0 / 9.81)
    expected = [first, first * (1 + 2 * 0.8), first * (1 + 2 * 0.8 + 2 * 0.64)]
    np.testing.assert_allclose(bounces[:3], expected, rtol=0, atol=1e-9)


def watcher(limit, order=1, legal_above=True):
    """An element that flips when the sine of an order passes a limit; x = (dummy, sin1, cos1, sinN, cosN, 1)."""
    omega = 2.0 * np.pi * 50.0
    matrix = np.zeros((6, 6))
    matrix[1, 2], matrix[2, 1], matrix[3, 4], matrix[4, 3] = omega, -omega, order * omega, -order * omega

    def assemble(signature):
        above, below = [0, 0, 0, 1.0, 0, -limit], [0, 0, 0, -1.0, 0, limit]
        row = below if signature[0] == 0 else above
        return equations(matrix, [[0, 0, 0, 1.0, 0, 0]], [(row, 1e-9, 0, 1 - signature[0])])

    return SwitchedSystem(
        states=("dummy",),
        inputs=(),
        orders=(1, order),
        frequency=50.0,
        signals=(Signal("s", "1"),),
        elements=(Element("watch", ("below", "above")),),
        events=(),
        actions=(),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.zeros(1), (0,)),
    )


def passages(limit, order, steps, duration=0.02):
    """Instants at which the watcher flips."""
    library = ModeLibrary(watcher(limit, order), steps)
    return np.array([c[0] for c in simulate(library, RunPlan(0.0, duration, np.zeros(1), (0,))).changes()])


def test_two_crossings_in_one_step():
    """A crest that rises above a limit for 8 us inside a step of 400 us is found, both ways, at the right instants."""
    half_width = 4e-6
    limit = np.cos(2 * np.pi * 50 * half_width)
    found = passages(limit, 1, 50)
    # the dead band of 1e-9 is passed 2.6 ns after the limit at this slope of 0.39 1/s
    np.testing.assert_allclose(found, [0.005 - half_width, 0.005 + half_width], rtol=0, atol=4e-9)


def test_crossing_exactly_on_a_step():
    """A sine that passes its limit exactly on a grid point is changed once, there."""
    found = passages(0.5, 1, 12)  # 30 degrees is exactly one step of a twelfth of the period
    np.testing.assert_allclose(found, [1 / 600, 5 / 600], rtol=0, atol=1e-10)


def test_grazing_is_no_crossing():
    """A crest that stays below its limit by 1e-6 changes nothing; one that passes it by 1e-6 changes twice."""
    assert len(passages(1.0 + 1e-6, 1, 50)) == 0
    assert len(passages(1.0 - 1e-6, 1, 50)) == 2


def test_shortest_pulse_that_is_found():
    """Crests of the 7th harmonic above a limit for 2 us are all found at 50 steps a period (the documented bound)."""
    limit = np.cos(7 * 2 * np.pi * 50 * 1e-6)
    assert len(passages(limit, 7, 50)) == 14


def test_fighting_parts_end_with_a_sentence():
    """Two segments that exclude each other everywhere stop the run with the part's name, not with a hang."""

    def assemble(signature):
        matrix = np.zeros((4, 4))
        return equations(matrix, [[1, 0, 0, 0]], [([0, 0, 0, -1.0], 1e-9, 0, 1 - signature[0])])

    system = SwitchedSystem(
        states=("x",),
        inputs=(),
        orders=(1,),
        frequency=50.0,
        signals=(Signal("x", "1"),),
        events=(),
        actions=(),
        elements=(Element("quarrel", ("a", "b")),),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.zeros(1), (0,)),
    )
    with pytest.raises(SimulationError, match="quarrel"):
        simulate(ModeLibrary(system, 50), RunPlan(0.0, 0.01, np.zeros(1), (0,)))


def test_growth_without_limit_ends_with_a_sentence():
    """A negative resistance that nothing limits is reported, not returned as infinities."""

    def assemble(signature):
        matrix = np.zeros((4, 4))
        matrix[0, 0] = 1e5
        return equations(matrix, [[1, 0, 0, 0]], [])

    system = SwitchedSystem(
        states=("x",),
        inputs=(),
        orders=(1,),
        frequency=50.0,
        signals=(Signal("x", "1"),),
        events=(),
        actions=(),
        elements=(Element("only", ("a",)),),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.ones(1), (0,)),
    )
    with pytest.raises(SimulationError, match="beyond all numbers"):
        simulate(ModeLibrary(system, 50), RunPlan(0.0, 0.1, np.ones(1), (0,)))


def test_dropped_modes_change_nothing(monkeypatch):
    """A library that may keep only a little memory gives the result of one that keeps all (1e-12: steps regrouped)."""
    plan = RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(70.0, 5))
    whole = simulate(ModeLibrary(controller(), 50), plan).states_at([0.1])[0]
    monkeypatch.setattr("weldsim.engine.library.MOST_BYTES", 1.0)
    library = ModeLibrary(controller(), 50)
    monkeypatch.setattr("weldsim.engine.simulate.LOG_ROOM", 12)
    from weldsim.engine.simulate import Stepper

    stepper = Stepper(library, plan)
    stepper.run_to(0.1, flush=lambda s: s.trace())
    assert library.generation > 1
    np.testing.assert_allclose(stepper.trace().end_state, whole, rtol=1e-12, atol=1e-12)


def test_room_that_is_not_used_is_no_reason_to_drop_modes(monkeypatch):
    """Three modes in room for 512 are kept under a limit of 1 MB, which the room would exceed and they do not."""
    monkeypatch.setattr("weldsim.engine.library.MOST_BYTES", 1e6)
    library = ModeLibrary(controller(), 50, room=512)
    simulate(library, RunPlan(0.0, 0.1, np.zeros(1), (0,), fired(70.0, 5)))
    assert sum(array.nbytes for array in library.tables) > 1e6
    number = library.make_room(0)
    assert (number, library.generation) == (0, 1)
