"""Coordinates in which the parts of a mode's solution stand apart, and what each of them can do to a guard.

A blocked diode is a difference of two large currents, one enslaved to the other: bounded by the sizes of the states it
could do anything within a microsecond.  In coordinates along the eigenvectors the fast part is what is left of it, as a
rule nothing, so bounds by size are tight.  They are true in whatever coordinates.
"""

import math

import numpy as np

from weldsim.engine import layout
from weldsim.engine.doors import door
from weldsim.engine.ladder import OVER, SHORT, ExactRows
from weldsim.frozen import dataclass

GONE = 30.0  # time constants after which nothing is left of what dies away
NEARLY = 0.005  # turns or falls of the fastest part that is left, over the shortest span that its rate is taken from
# Weights of values at h, 2 h and 4 h in the slope at 0, times h: by a parabola through the slopes to these three.
NODES = np.array([8.0 / 3.0, -1.0, 1.0 / 12.0])
STRAIGHT = 1e8  # eigenvectors of a worse condition give no rates

_take_apart, _look_ahead = door("mode_kernel", "take_apart"), door("mode_kernel", "look_ahead")


@dataclass(frozen=True, eq=False)
class Parts:
    """The parts of a mode's solution: exp(value t) each, along a right eigenvector of the circuit's own states.

    ``left`` holds a left eigenvector of the whole matrix for each, as nearly as there is one, with l v = 1; None where
    the ``condition`` (in the 1-norm) of the eigenvectors is beyond ``mode_kernel.SOUND``.
    """

    values: np.ndarray  # (states,)
    vectors: np.ndarray  # (states, states), one a column
    left: np.ndarray | None  # (states, n), one a row
    condition: float
    back: np.ndarray  # (n, n), from the coordinates to the state


Solved = tuple[Parts, np.ndarray]  # with its ``pace``


def parts(matrix: np.ndarray, exact_rows: ExactRows, *, axes: np.ndarray) -> Parts:
    """Take a mode's matrix apart, and write its coordinates: L x is the extended state x along the eigenvectors of the
    circuit's own states, with L in ``axes`` (at least as large).

    The left eigenvectors reach over the sources by ``drive`` (value - S)^-1, S being the matrix of the sources and
    ``drive`` the vector times what they do to the circuit.  S has blocks of two for inputs (a value and its slope),
    blocks of two for sines and cosines, and the constant; each is inverted in closed form.  A part that a source drives
    without limit has no such share of it.

    Rows of the circuit's own states come first; pairs are given by real and imaginary part.  Sources are their own
    coordinates.  A pair adds 2 Re(v l x) to the state, a part of its own v l x (v right, l left eigenvector): so its
    columns of the way back.
    """
    n, states, told = len(matrix), exact_rows.states, np.zeros(layout.TOLD)
    left, back = np.zeros((states, 2 * n)), np.zeros((n, n))
    values, vectors = (one.astype(complex) for one in np.linalg.eig(matrix[:states, :states]))
    _take_apart(
        values.view(float).reshape(states, 2),
        vectors.view(float),
        matrix,
        exact_rows.inputs,
        np.array(exact_rows.omegas),
        np.zeros((states, states)),
        np.zeros(states, np.int64),
        np.zeros(2 * (n - states)),
        left,
        axes,
        back,
        told,
    )
    condition = float(told[layout.CONDITION])
    return Parts(values, vectors, left.view(complex) if condition < math.inf else None, condition, back)


def look_ahead(
    rows: np.ndarray,
    solved: Solved,
    *,
    count: int,
    rungs: np.ndarray,
    finders: np.ndarray,
    reach: np.ndarray,
) -> None:
    """Slopes of the first ``count`` rows, by the mode's pace, behind them from the next multiple of four on; these
    rows over each rung in ``finders``; and in ``reach`` the most that a unit of each coordinate changes them by, over
    the lower rungs and over all.
    """
    found, own = solved
    n = len(own)
    table, back_table = np.zeros((2, -(-n // layout.EIGHT), n, layout.EIGHT))
    line = np.zeros((3, len(table) * layout.EIGHT))
    _look_ahead(rows, rungs, own, found.back, count, -(-count // 4) * 4, table, back_table, line, finders, reach)


def pace(found: Parts, matrix: np.ndarray, quantum: float, *, rungs: np.ndarray) -> np.ndarray:
    """The matrix of rates x' of a state from which all that dies away within 2^``OVER`` quanta is gone: M itself, if
    that is nothing; else with all of M they would be differences of large terms.

    What dies away follows the sources; the rest (v right, l left eigenvector of the circuit's own states for each part)
    goes its own way, along its v: with u the sources, S their matrix, and d the share of them in what is gone,
    x = sum(v c) - sum(v d u), c = l x, and x' = sum(v c') - sum(v d S u).  Here c' is what l (E(t) x - x) / t comes to
    at t = 0 by the parabola through its values at t = h, 2 h and 4 h, off by a third of (value h)^3 of what the fastest
    part that is left adds: eigenvalues are known no better than to the rounding of the fastest, 0.01 per second of
    1e14.  Where the eigenvectors are not good enough it is the mean over 2^``SHORT`` quanta.
    """
    n, states = len(matrix), len(found.values)
    gone = -quantum * 2.0**OVER * found.values.real > GONE
    if not gone.any():
        return matrix
    if found.left is None or found.condition > STRAIGHT:
        mean: np.ndarray = (rungs[SHORT, :n, :n] - np.eye(n)) / (quantum * 2.0**SHORT)
        return mean
    stay, sources = ~gone, matrix[states:, states:].astype(float)
    fastest = max(float(np.abs(found.values[stay]).max(initial=0.0)) * quantum, NEARLY * 0.5**SHORT)
    first = max(0, math.floor(math.log2(NEARLY / fastest)))
    changes = np.tensordot(NODES, rungs[first : first + 3, :states, :n], 1)
    changes[np.arange(states), np.arange(states)] -= NODES.sum()
    own, driven = found.left[stay, :states], found.left[gone, states:]
    left = (found.vectors[:, stay] @ (own @ (changes / (quantum * 2.0**first)))).real
    rates = matrix.astype(float)
    rates[:states, :states] = (left[:, :states] @ found.vectors[:, stay] @ own).real
    followed = found.vectors[:, gone] @ driven
    rates[:states, states:] = left[:, states:] - (left[:, :states] @ followed + followed @ sources).real
    return rates
