"""Coordinates in which the parts of a mode's solution stand apart, and what each of them can do to a guard.

A blocked diode is a difference of two large currents, one enslaved to the other: bounded by the sizes of the states it
could do anything within a microsecond.  In coordinates along the eigenvectors the fast part is what is left of it, as a
rule nothing, so bounds by size are tight.  They are true in whatever coordinates.
"""

import math

import numpy as np

from weldsim.engine.ladder import ExactRows
from weldsim.frozen import dataclass

GONE = 30.0  # time constants after which nothing is left of what dies away
STRAIGHT = 1e8  # eigenvectors of a worse condition give no rates
SOUND = 1e12  # eigenvectors of a worse condition are not used: the states themselves do, with wide bounds
RESONANT = 1e-9  # of a source's speed: a part as near to it as that counts as driven without limit


@dataclass(frozen=True, eq=False)
class Parts:
    """The parts of a mode's solution: exp(value t) each, along a right eigenvector of the circuit's own states.

    ``left`` holds a left eigenvector of the whole matrix for each, as nearly as there is one, with l v = 1; None where
    the ``condition`` (in the 1-norm) of the eigenvectors is beyond ``SOUND``.
    """

    values: np.ndarray  # (states,)
    vectors: np.ndarray  # (states, states), one a column
    left: np.ndarray | None  # (states, n), one a row
    condition: float


Solved = tuple[Parts, np.ndarray, np.ndarray | None]  # with the way back from its coordinates, and its ``pace``


def parts(matrix: np.ndarray, exact_rows: ExactRows) -> Parts:
    """Take a mode's matrix apart."""
    states = exact_rows.states
    values, vectors = np.linalg.eig(matrix[:states, :states])
    if not states:
        return Parts(values, vectors, np.zeros((0, len(matrix))), 1.0)
    try:
        left = np.linalg.inv(vectors)
    except np.linalg.LinAlgError:
        return Parts(values, vectors, None, math.inf)
    condition = float(np.abs(vectors).sum(axis=0).max() * np.abs(left).sum(axis=0).max())
    if not condition < SOUND:
        return Parts(values, vectors, None, math.inf)
    driven = driven_by(values, left @ matrix[:states, states:], exact_rows)
    return Parts(values, vectors, np.concatenate((left, driven), axis=1), condition)


def driven_by(values: np.ndarray, drive: np.ndarray, exact_rows: ExactRows) -> np.ndarray:
    """The sources' share of left eigenvectors: ``drive`` times (value - S)^-1, S being the matrix of the sources.

    S has blocks of two for inputs (a value and its slope), blocks of two for sines and cosines, and the constant; each
    is inverted in closed form.  A part that a source drives without limit has no such share of it.
    """
    driven = np.empty(drive.shape, dtype=complex)
    omegas = np.array(exact_rows.omegas)
    slow = np.abs(values) <= RESONANT * (omegas[0] if len(omegas) else 1.0)
    settled = np.where(slow, 0.0, 1.0 / np.where(slow, 1.0, values))[:, None]
    begin = 2 * exact_rows.inputs
    driven[:, 0:begin:2] = drive[:, 0:begin:2] * settled
    driven[:, 1:begin:2] = (driven[:, 0:begin:2] + drive[:, 1:begin:2]) * settled
    sine, cosine = drive[:, begin:-1:2], drive[:, begin + 1 : -1 : 2]
    squares = values[:, None] ** 2 + omegas**2
    resonant = np.abs(squares) <= RESONANT * omegas**2
    answer = np.where(resonant, 0.0, 1.0 / np.where(resonant, 1.0, squares))
    driven[:, begin:-1:2] = (sine * values[:, None] - cosine * omegas) * answer
    driven[:, begin + 1 : -1 : 2] = (sine * omegas + cosine * values[:, None]) * answer
    driven[:, -1:] = drive[:, -1:] * settled
    return driven


def coordinates(found: Parts, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Square L, so that L x is the extended state (of n numbers) along the eigenvectors of the circuit's own states,
    and its inverse.

    Those rows come first; pairs are given by real and imaginary part.  Sources are their own coordinates.  A pair adds
    2 Re(v l x) to the state, a part of its own v l x (v right, l left eigenvector): so its columns of the inverse.
    """
    there, back = np.eye(n), np.eye(n)
    if found.left is None or not len(found.values):
        return there, back
    states = len(found.values)
    told = np.flatnonzero(found.values.imag >= 0.0)  # the others by their partners
    pairs = np.flatnonzero(found.values.imag[told] > 0.0)
    left, right = found.left[told], found.vectors[:, told]
    size = np.abs(left).max(axis=1)
    left = left / size[:, None]
    right = right * size
    right[:, pairs] *= 2.0
    there[: len(told)] = left.real
    there[len(told) : states] = left[pairs].imag
    back[:states, : len(told)] = right.real
    back[:states, len(told) : states] = -right[:, pairs].imag
    back[:states, states:] = -(back[:states, :states] @ there[:states, states:])
    return there, back


def pace(found: Parts, matrix: np.ndarray, span: float) -> np.ndarray | None:
    """The matrix of rates x' of a state from which all that dies away within a span [s] is gone: M itself, if that is
    nothing; else with all of M they would be differences of large terms.

    What dies away follows the sources, the others (l of the circuit's own states, M = [A B; 0 S]) go their own way:
    x' = sum(v value l x + v l B u) - sum(v d S u), u being the sources and d the share of them in what is gone.  None
    where the eigenvectors are not good enough.
    """
    states, gone = len(found.values), -span * found.values.real > GONE
    if not gone.any():
        return matrix
    if found.left is None or found.condition > STRAIGHT:
        return None
    stay, sources = ~gone, matrix[states:, states:].astype(float)
    own, driven = found.left[:, :states], found.left[gone, states:]
    rates = matrix.astype(float)
    rates[:states, :states] = ((found.vectors[:, stay] * found.values[stay]) @ own[stay]).real
    drive = own[stay] @ rates[:states, states:]
    rates[:states, states:] = (found.vectors[:, stay] @ drive - found.vectors[:, gone] @ (driven @ sources)).real
    return rates


def changes(rows: np.ndarray, carried: np.ndarray, back: np.ndarray) -> np.ndarray:
    """Most that a unit of each coordinate changes rows by, over each span; ``carried`` are the rows times propagators,
    ``back`` leads from the coordinates to the state.

    NaN, which bounds nothing, where a propagator overflows.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        moved = (carried - rows).reshape(-1, rows.shape[-1]) @ back  # one large product
        return np.abs(moved, out=moved).reshape(carried.shape)
