"""What is read out of the pieces of a circuit that rings, against the matrix exponential."""

import numpy as np
import pytest
from scipy.linalg import expm

from tests.engine.toys import bare, bouncer, equations, with_clock
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate
from weldsim.errors import SimulationError

DAMPING, RING = 2e3, 2.0 * np.pi * 40e3  # [1/s] of two equal resonant circuits
GAIN = 1e6
BEGIN, END = 3.125e-3, 5.125e-3  # [s] when they begin to ring, and the end of the run: whole quanta of 1 ms / 2^26


def circuit(ringing):
    """Rates of both circuits (volts, amperes times an impedance, twice), driven a little by the sine and a constant."""
    rates = np.zeros((4, 7))
    if ringing:
        for k in (0, 2):
            rates[k, k : k + 2], rates[k + 1, k : k + 2] = (-2.0 * DAMPING, -RING), (RING, 0.0)
            rates[k + 1, 4], rates[k + 1, 6] = 100.0, 300.0
    return with_clock(rates)


def pair():
    """Two circuits a millionth apart at rest; on a command, by way of a part that lets go at once, both ring."""

    def assemble(signature):
        outputs = [[1, 0, 0, 0, 0, 0, 0], [0, 1, 0, 0, 0, 0, 0], [GAIN, 0, -GAIN, 0, 0, 0, 0]]
        guards = [([0.0] * 6 + [-1.0], 1e-9, 0, 2)] if signature[0] == 1 else []
        matrix = circuit(signature[0] == 2)
        if signature[0] == 1:
            matrix[0, 0] = -1.0  # other equations, for no time at all
        return equations(matrix, outputs, guards)

    return bare(assemble, 4, ("held", "letting go", "ringing"), events=1, names=("u", "i", "gap"))


START = np.array([1.0, 0.0, 1.0 - 1.0 / GAIN, 0.0])


@pytest.fixture(scope="module")
def trace():
    """One run of the pair."""
    return simulate(ModeLibrary(pair(), 20), RunPlan(0.0, END, START, (0,), [(BEGIN, 0)]))


def state(t):
    """Extended state by scipy's matrix exponential."""
    omega = 100.0 * np.pi
    x = np.concatenate((START, [np.sin(omega * BEGIN), np.cos(omega * BEGIN), 1.0]))
    return expm(circuit(True) * (t - BEGIN)) @ x


def test_samples_of_a_ringing_circuit(trace):
    """Values at even instants are those of the matrix exponential (1e-11: rounding on either side); none before 0."""
    found = trace.sample(["u", "i"], -1.25e-4, spacing=1.25e-4, count=43)
    assert np.isnan(found[:, 0]).all()
    assert found[0, 1:26] == pytest.approx(1.0)
    told = np.array([state(1.25e-4 * k)[:2] for k in range(25, 42)]).T
    np.testing.assert_allclose(found[:, 26:], told, atol=1e-11)


def test_derivative_where_nothing_is_located_is_the_matrix_exponential(trace):
    """Held, then ringing for a while: exp(M span) of that while, for the circuits' own states (1e-11)."""
    np.testing.assert_allclose(trace.derivative(), expm(circuit(True) * (END - BEGIN))[:4, :4], atol=1e-11)


def test_derivative_through_a_located_change_and_a_jump():
    """A ball from height h at speed v, 0.6 s later on its way up: by the parabolas, with s = sqrt(v^2 + 2 g h) when it
    meets the floor at t = (v + s) / g and leaves it with e s (school mechanics; 1e-9: the bounce stands on quanta)."""
    gravity, restitution, height, speed, end = 9.81, 0.8, 1.0, 0.3, 0.6
    library = ModeLibrary(bouncer(gravity, restitution), 50)
    found = simulate(library, RunPlan(0.0, end, np.array([height, speed]), (0,), [])).derivative()
    s = np.sqrt(speed**2 + 2.0 * gravity * height)
    rise, later = np.array([gravity, speed]) / s, np.array([1.0, (s + speed) / gravity]) / s  # of s and of t
    up = end - (speed + s) / gravity
    told = [restitution * up * rise - (restitution * s - gravity * up) * later, restitution * rise + gravity * later]
    np.testing.assert_allclose(found, told, atol=1e-9)


def test_fourier_integrals_of_a_ringing_circuit(trace):
    """Lines of both its states by Van Loan's block exponential: exp of [[M - j w, 1], [0, 0]] holds the integral.

    1e-9 of the largest: scipy's exponential of a norm of 1600.  Held for a while, rung for the rest.
    """
    begin, orders = 2.875e-3, np.array([1.0, 3.0, 800.0])
    found = trace.fourier(["u", "i"], orders, begin=begin, end=END)
    told = np.zeros((2, 3), dtype=complex)
    for k, turn in enumerate(100.0 * np.pi * orders):
        block = np.zeros((14, 14), dtype=complex)
        block[:7, :7], block[:7, 7:] = circuit(True) - 1j * turn * np.eye(7), np.eye(7)
        integral = expm(block * (END - BEGIN))[:7, 7:] @ state(BEGIN) * np.exp(-1j * turn * BEGIN)
        held = (np.exp(-1j * turn * BEGIN) - np.exp(-1j * turn * begin)) / (-1j * turn)  # u = 1, i = 0
        told[:, k] = integral[:2] + np.array([held, 0.0])
    told *= 2.0 / (END - begin)
    np.testing.assert_allclose(found, told, atol=1e-9 * np.abs(told).max())


def test_squares_of_a_small_difference_that_rings(trace):
    """The gap, a millionth of either voltage, rings by itself: its mean square by the classical integral (1e-6).

    gap = exp(-d t) (cos v t - d/v sin v t) behind the command and 1 before, so its square is known in closed form;
    1e-6 times 2e-16 of rounding in either voltage is 2e-10 of it, and twice as much in its square.
    """
    v = np.sqrt(RING**2 - DAMPING**2)
    length = END - BEGIN
    shape = np.array([0.5 + 0.5j * DAMPING / v, 0.5 - 0.5j * DAMPING / v])  # of exp((-d +- j v) t)
    rates = np.array([-DAMPING + 1j * v, -DAMPING - 1j * v])
    sums = rates[:, None] + rates[None, :]
    rung = float(np.real(np.sum(np.outer(shape, shape) * (np.exp(sums * length) - 1.0) / sums)))
    found = trace.integrals(0.0, END).rms("gap") ** 2 * END
    assert found == pytest.approx(BEGIN + rung, rel=1e-6)
    assert trace.integrals(BEGIN, END).rms("gap") ** 2 * length == pytest.approx(rung, rel=1e-6)


def test_a_span_outside_the_recording_is_refused(trace):
    """Nothing is read out from behind the end, and the words say which span was asked for."""
    with pytest.raises(SimulationError, match="outside the recorded part"):
        trace.integrals(0.2, 0.3)


def test_segments_and_an_unknown_name(trace):
    """The element's segments stand beside the instants it entered them; a wrong name is told with its nearest."""
    instants, names = trace.segments("part")
    assert names == ["held", "letting go", "ringing"]
    assert instants == pytest.approx([0.0, BEGIN, BEGIN])
    with pytest.raises(SimulationError, match="gap"):
        trace.index("gape")
