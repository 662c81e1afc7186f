"""The ladder of propagators against scipy's matrix exponential and closed forms."""

import numpy as np
import pytest
import scipy.linalg

from weldsim.engine.ladder import ExactRows
from weldsim.engine.ladder import ladder as fill


def ladder(matrix, quantum, count, exact):
    """The first ``count`` rungs."""
    rungs = np.zeros((count, *matrix.shape))
    fill(matrix, quantum, rungs=rungs, exact_rows=exact)
    return rungs


def damped_pair(rate, inputs=0):
    """A circuit state that decays with ``rate``, driven by the sine, in extended form."""
    omega = 2.0 * np.pi * 50.0
    matrix = np.zeros((4, 4))
    matrix[0] = [-rate, rate, 0, 0]
    matrix[1, 2], matrix[2, 1] = omega, -omega
    return matrix, ExactRows(1, inputs, (omega,))


def test_rungs_equal_the_matrix_exponential():
    """Each rung is exp(M q 2^k); scipy's own error at these norms is near 1e-14, ours must be no worse than 1e-13."""
    matrix, exact = damped_pair(3000.0)
    quantum = 4e-4 / 2**24
    rungs = ladder(matrix, quantum, 30, exact)
    for k in (0, 7, 16, 24, 29):
        np.testing.assert_allclose(rungs[k], scipy.linalg.expm(matrix * quantum * 2.0**k), rtol=0, atol=1e-13)


def test_increments_keep_small_rungs_exact():
    """The increment over one quantum keeps its leading digits (relative 1e-12), which 1 + F would lose."""
    matrix, exact = damped_pair(1.0)
    quantum = 2e-12
    rungs = ladder(matrix, quantum, 26, exact)
    span = quantum * 2.0**25
    assert abs((1.0 - rungs[25][0, 0]) / -np.expm1(-span) - 1.0) < 1e-12


def test_stiff_modes_decay_to_nothing():
    """A rate of 1e13 1/s, far stiffer than a quantum, ends on the sine it follows (lag: w / rate = 3e-11)."""
    matrix, exact = damped_pair(1e13)
    rungs = ladder(matrix, 4e-4 / 2**24, 25, exact)
    assert np.isfinite(rungs).all()
    x = rungs[24] @ np.array([5.0, 1.0, 0.0, 1.0])
    assert abs(x[0] - x[1]) < 1e-10


@pytest.mark.skipif(np.finfo(np.longdouble).eps > 1e-18, reason="the machine has no wider floats than the plain ones")
def test_what_is_slow_beside_a_stiff_part_keeps_its_digits():
    """Three coils behind a megohm share their flux linkage and keep it: (sum L i) / (sum L) in each for good.

    At rates of 1e13 per second plain floats lose 1e-8 of it in the 0.2 s gone through, wider ones two thousandths of
    that, 5e-12 (eps 1.1e-19 against 2.2e-16).
    """
    coils = np.array([[0.7e-7], [1.3e-6], [0.9e-2]], dtype=np.longdouble)
    matrix = np.zeros((6, 6), dtype=np.longdouble)
    matrix[:3, :3] = (1.0 - 3.0 * np.eye(3, dtype=np.longdouble)) * 1e6 / coils
    matrix[3, 4] = 314.0
    matrix[4, 3] = -314.0
    step = ladder(matrix, 4e-4 / 2**26, 27, ExactRows(3, 0, (314.0,)))[26]
    start = np.array([100.0, -35.0, 7.0, 0.0, 1.0, 1.0])
    x = start.copy()
    for _ in range(500):
        x = step @ x
    kept = float((coils[:, 0] @ start[:3]) / coils.sum())
    np.testing.assert_allclose(x[:3], kept, rtol=5e-12)


def test_sources_rotate_exactly():
    """Sine and cosine rows keep their radius over 100 000 steps to 1e-11: rounding only."""
    matrix, exact = damped_pair(10.0)
    step = ladder(matrix, 4e-4 / 2**24, 25, exact)[24]
    x = np.array([0.0, 0.0, 1.0, 1.0])
    for _ in range(100_000):
        x = step @ x
    assert abs(np.hypot(x[1], x[2]) - 1.0) < 1e-11


def test_inputs_move_with_their_slope():
    """An input's value after a span is value + slope x span, exactly."""
    exact = ExactRows(0, 1, (2.0 * np.pi,))
    matrix = np.zeros((5, 5))
    matrix[0, 1] = 1.0
    rungs = ladder(matrix, 2.0**-20, 21, exact)
    assert (rungs[20] @ np.array([3.0, 7.0, 0.0, 1.0, 1.0]))[0] == 10.0
