"""A signal that is a small difference of large terms keeps its digits in all figures; a brief pulse keeps its peak."""

import numpy as np
import pytest

from tests.engine.toys import bare, equations, shadow
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate

OMEGA = 100.0 * np.pi


def settled_gap(rate, gain):
    """Trace of three periods and amplitude of the gap (derived here).

    a = Im(rate / (rate + j w) exp(j w t)), so that a - sin = Im(-j w / (rate + j w) exp(j w t)): amplitude
    gain w / |rate + j w|.  From rest the gap has died away after microseconds; the span begins a period later.
    """
    trace = simulate(ModeLibrary(shadow(rate, gain), 50), RunPlan(0.0, 0.06, np.zeros(1), (0,)))
    return trace, gain * OMEGA / np.hypot(rate, OMEGA)


@pytest.mark.parametrize(("rate", "gain"), [(1e6, 1e4), (1e9, 1e7), (1e10, 1e8), (1e11, 1e9)])
def test_mean_square_and_product(rate, gain):
    """Over whole periods the rms of the gap is its amplitude over root 2, and the gap is a quarter wave beside a.

    Each term's square is 1e16 to 1e18 at the largest gain, so that a sum of them is off by 1 to 100 beside 5; the gap
    itself is good to gain times 2e-16.  a = Im(k exp(j w t)) with k = 1 / (1 + j w / rate), and the mean of gap * a is
    half the real part of (k - 1) k*, which is zero.  Tolerance: 1e-8 and that rounding.
    """
    trace, amplitude = settled_gap(rate, gain)
    whole = trace.integrals(0.02, 0.06)

    assert whole.rms("gap") == pytest.approx(amplitude / np.sqrt(2.0), rel=1e-8, abs=0)
    assert whole.product("gap", "a") == pytest.approx(0.0, abs=1e-8 * amplitude * 0.04 + 2e-16 * gain * 0.04)


@pytest.mark.parametrize(("rate", "gain"), [(1e6, 1e4), (1e9, 1e7), (1e11, 1e9), (1e12, 1e10)])
def test_extremes(rate, gain):
    """Least and largest gap are its amplitude, though the sign of its computed slope is chance at the largest rates.

    Tolerance: 1e-9 and a few roundings of the terms (gain times 2e-16).
    """
    trace, amplitude = settled_gap(rate, gain)
    values, times = trace.extremes(["gap"], 0.0151, 0.0349)

    assert values[0] == pytest.approx([-amplitude, amplitude], rel=1e-9, abs=4e-15 * gain)
    assert times[0] == pytest.approx([0.02, 0.03], abs=2e-5)  # near a crest 2e-5 s are 2e-5 of its height


@pytest.mark.parametrize("constant", [1e-9, 3e-9, 1e-8, 3e-8, 1e-7, 3e-7, 1e-6])
def test_a_pulse_that_rises_from_rest_and_is_over_within_nanoseconds(constant):
    """Three stages in a row, each of time constant T, the first charged: (t/T)^2/2 exp(-t/T), 2 exp(-2) at its peak.

    A thousandth of the mains' sine is taken from it, so that its slope is negative at the start and behind the pulse.
    Tolerance: the sine's share at 2 T, 6e-7 for the longest.
    """
    omega, rate = 2.0 * np.pi * 50.0, 1.0 / constant
    matrix = np.zeros((6, 6))
    matrix[[0, 1, 2], [0, 1, 2]] = -rate
    matrix[[1, 2], [0, 1]] = rate
    matrix[3, 4], matrix[4, 3] = omega, -omega
    system = bare(lambda _: equations(matrix, [[0, 0, 1, -1e-3, 0, 0]], []), 3, ["one"])
    trace = simulate(ModeLibrary(system, 50), RunPlan(0.0, 0.004, np.array([1.0, 0.0, 0.0]), (0,)))

    (values,), (times,) = trace.extremes(["y"])

    assert values[1] == pytest.approx(2.0 * np.exp(-2.0), abs=1e-6)
    assert times[1] == pytest.approx(2.0 * constant, rel=1e-2, abs=2e-11)


@pytest.mark.parametrize("rate", [1e6, 1e10, 1e13, 1e17])
def test_squares_where_a_part_dies_away_within_a_quantum(rate):
    """Squares over groups of pieces and over cells, of a that follows sin however fast: half of |k|^2 each second.

    The quantum is 6e-12 s.  Tolerance: 1e-9, some roundings of a sum over 2^31 of them.
    """
    trace, _ = settled_gap(rate, 1.0)
    expected = 0.5 / (1.0 + (OMEGA / rate) ** 2)

    peaks, squares = trace.groups("a", np.zeros(len(trace.time), dtype=np.int64))
    cells = trace.mean_squares(["a"], 0.02, width=0.02, count=2)[0]

    assert squares[0] / 0.06 == pytest.approx(expected, rel=1e-9)
    assert cells == pytest.approx([expected, expected], rel=1e-9)
    assert peaks[0] == pytest.approx(np.sqrt(2.0 * expected), rel=1e-9)
