"""Fourier integrals and means of squares from the pieces of a trace, on small systems written by hand."""

import numba
import numpy as np
import pytest

from tests.engine.toys import controller
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate

AMPLITUDE, RESISTANCE, INDUCTANCE = 325.0, 2.0, 5e-3


def fired(alpha, cycles):
    """Commands that fire the controller's switch at alpha [deg] in each half cycle."""
    return [((k * 180.0 + alpha) / 18000.0, 0) for k in range(2 * cycles)]


def chopped(alpha=90.0, *, off=1e9, inductance=INDUCTANCE, cycles=5):
    """A run of the controller."""
    library = ModeLibrary(controller(AMPLITUDE, RESISTANCE, inductance, off=off), 50)
    return simulate(library, RunPlan(0.0, 0.02 * cycles, np.zeros(1), (0,), fired(alpha, cycles)))


def test_a_sine_is_its_own_line():
    """The source has one line, -j times its amplitude, and no other order: 1e-12, rounding; no mean: 1e-9."""
    found = chopped().fourier(["u"], [1, 2, 3, 39, 0], begin=0.04, end=0.08)[0]
    np.testing.assert_allclose(found[:4], [-1j * AMPLITUDE, 0.0, 0.0, 0.0], atol=1e-12 * AMPLITUDE)
    assert abs(found[4]) < 1e-9 * AMPLITUDE


def test_the_mean_is_half_of_order_0():
    """Order 0 of a current whose half cycles differ is twice its mean by the second moments, to 1e-8."""
    library = ModeLibrary(controller(AMPLITUDE, RESISTANCE, INDUCTANCE, off=1e9), 50)
    commands = [command for k, command in enumerate(fired(70.0, 20)) if k % 4]
    trace = simulate(library, RunPlan(0.0, 0.4, np.zeros(1), (0,), commands))
    found = trace.fourier(["i"], [0], begin=0.2, end=0.4)[0, 0]
    assert found.real / 2.0 == pytest.approx(trace.integrals(0.2, 0.4).mean("i"), rel=1e-8)
    assert abs(found.real) > 1.0


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="takes minutes uncompiled; others go the same way")
def test_lines_between_the_orders():
    """Lines every 5 Hz of a current with three half periods in twenty missing, against 40000 samples a period.

    3e-7 of the largest line: the corners of the current cost the samples (2 pi n / 40000)^2 / 12.
    """
    library = ModeLibrary(controller(AMPLITUDE, RESISTANCE, INDUCTANCE, off=1e9), 50)
    commands = [command for k, command in enumerate(fired(70.0, 20)) if k % 20 not in (1, 2, 7)]
    trace = simulate(library, RunPlan(0.0, 0.4, np.zeros(1), (0,), commands))
    exact = trace.fourier(["i"], np.arange(61) / 10, begin=0.2, end=0.4)[0]
    samples = trace.sample(["i"], 0.2, spacing=0.2 / 400000, count=400000)[0]
    numeric = 2.0 * np.fft.rfft(samples)[:61] / 400000
    assert np.abs(exact - numeric).max() < 3e-7 * np.abs(numeric).max()
    assert np.abs(exact[[8, 12]]).min() > 1e-3 * abs(exact[10])  # there is something between the orders


@pytest.mark.parametrize("rate", [1200.0, 2000.0])
def test_means_of_a_square(rate):
    """Means of the source's square over even cells: A^2/2 (1 - mean of cos 2wt), the classical integral, to 1e-12."""
    trace = chopped()
    cells = trace.mean_squares(["u"], 0.02, width=1.0 / rate, count=round(0.04 * rate))[0]
    edges = 0.02 + np.arange(len(cells) + 1) / rate
    swing = np.diff(np.sin(200.0 * np.pi * edges)) * rate / (200.0 * np.pi)
    np.testing.assert_allclose(cells, 0.5 * AMPLITUDE**2 * (1.0 - swing), atol=1e-12 * AMPLITUDE**2)


def test_means_add_up_to_the_rms():
    """The cells of a span, together, are its mean square as the second moments have it: 1e-9, a line of 25 ns each."""
    trace = chopped(110.0)
    cells = trace.mean_squares(["i", "u_r"], 0.04, width=1.0 / 1200, count=48)
    sums = trace.integrals(0.04, 0.08)
    assert cells.mean(axis=1) == pytest.approx([sums.rms("i") ** 2, sums.rms("u_r") ** 2], rel=1e-9)


def test_a_row_of_ones_own():
    """A mixture of signals and slopes: u - L di/dt, while on, is the drop of the resistance; cells equal its own."""
    trace = chopped(60.0, off=1e9)

    def mixed(mode):
        return mode.outputs[1] - INDUCTANCE * (mode.outputs[0] @ mode.matrix) - mode.outputs[3]

    cells = trace.mean_squares(["u_r", ("drop", mixed)], 0.04, width=1.0 / 1200, count=24)
    np.testing.assert_allclose(cells[1], cells[0], atol=1e-9 * cells[0].max())


def test_cells_beyond_the_trace_are_empty():
    """Cells that the trace does not reach are zero, those before its beginning too."""
    trace = chopped(cycles=1)
    cells = trace.mean_squares(["u"], -0.01, width=0.005, count=8)[0]
    assert (cells[[0, 1, 6, 7]] == 0.0).all()
    assert (cells[2:6] > 0.0).all()
