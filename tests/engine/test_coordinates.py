"""Bounds of what a state can do to a guard: true in any coordinates, tight along the eigenvectors."""

import numpy as np
import pytest
from scipy.linalg import expm

from weldsim.engine.coordinates import look_ahead, pace, parts
from weldsim.engine.ladder import OVER, SHORT, ExactRows

NO_RUNGS = np.zeros((0, 0, 0))
SPANS = (1e-9, 1e-7, 1e-5, 1e-4)  # [s]


def with_sources(circuit, drive):
    """A circuit driven by a 50 Hz sine and a constant."""
    n, omega = len(circuit) + 3, 100.0 * np.pi
    matrix = np.zeros((n, n))
    matrix[: len(circuit), : len(circuit)] = circuit
    matrix[: len(circuit), len(circuit) :] = drive
    matrix[n - 3, n - 2], matrix[n - 2, n - 3] = omega, -omega
    return matrix


def taken_apart(matrix, states):
    """Parts and coordinates of a circuit driven by a 50 Hz sine and a constant."""
    axes = np.zeros(matrix.shape)
    return parts(matrix, ExactRows(states, 0, (100.0 * np.pi,)), axes=axes), axes


def bound(matrix, states, row, x):
    """The bound of the change of a row over all spans."""
    found, axes = taken_apart(matrix, states)
    rows, rungs = np.zeros((8, len(matrix))), np.array([expm(matrix * span) for span in SPANS])
    rows[0] = row
    finders, reach = np.zeros((1, len(rungs) + 1, len(matrix))), np.zeros((2, 1, len(matrix)))
    look_ahead(rows, (found, matrix), count=1, rungs=rungs, finders=finders, reach=reach)
    np.testing.assert_allclose(finders[0, :-1], row @ rungs, rtol=1e-12, atol=1e-12 * np.abs(finders).max())
    terms = np.maximum(np.abs(row), np.abs(row) @ np.abs(rungs[0]))  # of the rungs that are looked at for it
    np.testing.assert_allclose(finders[0, -1], terms, rtol=1e-12, atol=1e-12 * terms.max())
    np.testing.assert_allclose(rows[4], row @ matrix, rtol=1e-12, atol=1e-12 * np.abs(rows[4]).max())
    return reach[1, 0] @ np.abs(axes @ x)


@pytest.mark.parametrize("seed", range(20))
def test_no_row_changes_by_more_than_its_bound(seed):
    """Four states with rates from 1 to 1e9 1/s, two of them ringing, from any state: the change as expm gives it."""
    draw = np.random.default_rng(seed)
    rates = np.diag(-(10.0 ** draw.uniform(0.0, 9.0, 4)))
    rates[0, 1], rates[1, 0] = 1e6, -1e6
    turn = np.linalg.qr(draw.normal(size=(4, 4)))[0]
    matrix = with_sources(turn @ rates @ turn.T, draw.normal(size=(4, 3)))
    row, x = draw.normal(size=7), draw.normal(size=7)

    largest = max(abs(row @ (expm(matrix * span) - np.eye(7)) @ x) for span in SPANS)

    assert largest <= bound(matrix, 4, row, x) * (1.0 + 1e-6) + 1e-6  # what expm itself loses at 1e9 x 1e-4 s


def test_what_follows_its_source_is_bound_to_change_little():
    """A current of 100 A enslaved to another through 10 uH and 50 kohm moves 0.1 V in 100 us at most.

    Its own size would allow 5 MV: the coordinates see that nothing of the fast part is left.
    """
    fast = 5e4 / 1e-5
    matrix = with_sources(np.array([[-fast, fast], [0.0, -1.0]]), np.zeros((2, 3)))
    x = np.array([100.0, 100.0, 0.0, 1.0, 1.0])  # both carry 100 A: the difference is a volt at the most
    row = np.array([5e4, -5e4, 0.0, 0.0, 0.0])

    assert bound(matrix, 2, row, x) < 0.1
    assert 5e4 * abs(x[0]) * (1.0 - np.exp(-fast * 1e-4)) == pytest.approx(5e6)


def test_a_part_that_a_constant_drives_without_limit_is_still_bound_from_above():
    """An inductance alone across a constant source has no eigenvector of its own: 3 A/s make 0.3 mA in 100 us."""
    matrix = with_sources(np.zeros((1, 1)), np.array([[0.0, 0.0, 3.0]]))
    row, x = np.array([1.0, 0.0, 0.0, 0.0]), np.array([5.0, 0.0, 1.0, 1.0])

    assert 3e-4 * (1.0 - 1e-9) <= bound(matrix, 1, row, x) < 3.1e-4


def test_rates_of_what_is_left_when_a_fast_part_is_gone():
    """A voltage behind a gigaohm, of two currents of which one follows the other within a tenth of a nanosecond.

    Derived here: with p' = -f (p - q) the difference is p - q = -q'/f + q''/f^2, to 1e-8 of itself; its rate is -q''/f.
    The whole matrix leaves of it what rounding of p - q is times 1e19.
    """
    fast, ohms, omega = 1e10, 1e9, 100.0 * np.pi
    matrix = with_sources(np.array([[-fast, fast], [0.0, -200.0]]), np.array([[0.0, 0.0, 0.0], [3e4, 4e3, 0.0]]))
    q, sine, cosine = 17.3, 0.6, 0.8
    rate = -200.0 * q + 3e4 * sine + 4e3 * cosine
    second = -200.0 * rate + omega * (3e4 * cosine - 4e3 * sine)
    state = np.array([q - rate / fast + second / fast**2, q, sine, cosine, 1.0])
    row = ohms * np.array([1.0, -1.0, 0.0, 0.0, 0.0])
    found, _ = taken_apart(matrix, 2)
    quantum = 6e-9 / 2.0**OVER
    rungs = np.array([expm(matrix * quantum * 2.0**k) for k in range(SHORT + 3)])
    slow = pace(found, matrix, quantum, rungs=rungs)
    assert row @ slow @ state == pytest.approx(-ohms * second / fast, rel=1e-6)
    assert row @ matrix @ state != pytest.approx(-ohms * second / fast, rel=1e-3)
    assert pace(found, matrix, 1e-12 / 2.0**OVER, rungs=NO_RUNGS) is matrix  # nothing is gone so soon


def test_rates_are_no_coarser_for_a_part_at_1e15_per_second():
    """Along the slow direction of a circuit with known parts: its rate by 1e-3 per second, where all of M, and its
    eigenvalues, leave more than a hundredth (made from parts, so that its propagators are good to rounding)."""
    values, quantum = np.array([-1e15, -200.0, -3e4]), 6e-9 / 2.0**OVER
    turn = np.linalg.qr(np.random.default_rng(4).normal(size=(3, 3)))[0]
    matrix = with_sources((turn * values) @ turn.T, np.zeros((3, 3)))
    rungs = np.array(
        [expm(with_sources(np.zeros((3, 3)), np.zeros((3, 3))) * quantum * 2.0**k) for k in range(SHORT + 3)]
    )
    for k, rung in enumerate(rungs):
        rung[:3, :3] = (turn * np.exp(values * quantum * 2.0**k)) @ turn.T
    found, _ = taken_apart(matrix, 3)
    slow = pace(found, matrix, quantum, rungs=rungs)
    for value, vector in zip(values[1:], turn.T[1:], strict=True):
        np.testing.assert_allclose(slow[:3, :3] @ vector, value * vector, atol=1e-3, rtol=1e-6)
    assert np.abs(slow[:3, :3] @ turn[:, 0]).max() < 1e-3  # of what is gone
    assert np.abs(matrix[:3, :3] @ turn[:, 1] + 200.0 * turn[:, 1]).max() > 0.01


def test_where_no_vectors_tell_the_parts_apart_rates_are_a_mean():
    """Two equal rates that follow each other have one eigenvector between them: the mean over 2^SHORT quanta."""
    fast, quantum = 1e10, 1e-11
    matrix = with_sources(np.array([[-fast, fast], [0.0, -fast]]), np.array([[0.0, 0.0, 0.0], [0.0, 0.0, fast]]))
    found, axes = taken_apart(matrix, 2)
    rungs = np.array([expm(matrix * quantum * 2.0**k) for k in range(SHORT + 1)])

    assert found.left is None
    assert axes.tolist() == np.eye(5).tolist()
    mean = pace(found, matrix, quantum, rungs=rungs)
    np.testing.assert_allclose(mean, (rungs[SHORT] - np.eye(5)) / (quantum * 2.0**SHORT), rtol=1e-14, atol=0.0)


@pytest.mark.parametrize("seed", range(20))
def test_left_vectors_and_coordinates_are_what_they_are_called(seed):
    """Of real and ringing parts under an input, two sines and a constant: l M = value l, l v = 1, there and back."""
    draw = np.random.default_rng(seed)
    states, omegas = 6, (100.0 * np.pi, 300.0 * np.pi)
    rates = np.diag(-(10.0 ** draw.uniform(0.0, 5.0, states)))
    rates[0, 1], rates[1, 0], rates[1, 1] = 1e4, -1e4, rates[0, 0]
    rates[3, 4], rates[4, 3] = 5e5, -4e5
    turn = np.linalg.qr(draw.normal(size=(states, states)))[0]
    n = states + 7
    matrix = np.zeros((n, n))
    matrix[:states, :states] = turn @ rates @ turn.T
    matrix[:states, states:] = draw.normal(size=(states, 7))
    matrix[states, states + 1] = 1.0
    for k, omega in enumerate(omegas):
        first = states + 2 + 2 * k
        matrix[first, first + 1], matrix[first + 1, first] = omega, -omega
    axes = np.zeros((16, 16))
    found = parts(matrix, ExactRows(states, 1, omegas), axes=axes)

    whole = np.concatenate((found.vectors, np.zeros((7, states))))
    assert (found.values.imag > 0.0).sum() >= 1
    np.testing.assert_allclose(found.left @ whole, np.eye(states), atol=1e-12 * found.condition)
    sizes = np.abs(matrix).max() * np.abs(found.left).max(axis=1)[:, None]
    assert np.abs((found.left @ matrix - found.values[:, None] * found.left) / sizes).max() < 1e-12 * found.condition
    assert found.condition == pytest.approx(
        np.linalg.norm(found.vectors, 1) * np.linalg.norm(np.linalg.inv(found.vectors), 1), rel=1e-9
    )
    np.testing.assert_allclose(axes[:n, :n] @ found.back, np.eye(n), atol=1e-12 * found.condition)
    assert not axes[n:].any()
    assert not axes[:, n:].any()
