"""Coordinates in which the parts of a mode's solution stand apart, and what each of them can do to a guard.

A blocked diode is a difference of two large currents, one enslaved to the other: bounded by the sizes of the states it
could do anything within a microsecond.  In coordinates along the eigenvectors the fast part is what is left of it, as a
rule nothing, so bounds by size are tight.  They are true in whatever coordinates.
"""

import numpy as np

SOUND = 1e12  # eigenvectors of a worse condition are not used: the states themselves do, with wide bounds
RESONANT = 1e9  # condition from which on a part that a source drives counts as driven without limit


def inverse(matrices: np.ndarray, worst: float) -> np.ndarray | None:
    """The inverse of a matrix, or of each of a stack; None where the condition (in the 1-norm) of one is too bad."""
    if not matrices.size:
        return matrices
    try:
        inverted = np.linalg.inv(matrices)
    except np.linalg.LinAlgError:
        return None
    sizes = np.abs(matrices).sum(axis=-2).max(axis=-1) * np.abs(inverted).sum(axis=-2).max(axis=-1)
    return inverted if np.all(sizes < worst) else None


def coordinates(matrix: np.ndarray, values: np.ndarray, vectors: np.ndarray) -> np.ndarray:
    """Square L, so that L x is the extended state along the eigenvectors of the circuit's own states (first rows).

    Each row is a left eigenvector of the whole matrix as nearly as there is one (a part that a source drives without
    limit has none); pairs are given by real and imaginary part.  Sources are their own coordinates.
    """
    states, n = len(values), len(matrix)
    result = np.eye(n)
    left = inverse(vectors, SOUND)
    if not states or left is None:
        return result
    told = values.imag >= 0.0  # the others by their partners
    values, left = values[told], left[told]
    others = values[:, None, None] * np.eye(n - states) - matrix[states:, states:]
    inverted = inverse(others, RESONANT)
    if inverted is None:
        inverted = np.linalg.pinv(others, rcond=1.0 / RESONANT)
    driven = (left @ matrix[:states, states:])[:, None, :] @ inverted
    rows = np.hstack((left, driven[:, 0, :]))
    rows /= np.abs(rows).max(axis=1, keepdims=True)
    pairs = values.imag > 0.0
    result[:states] = np.vstack((rows.real, rows[pairs].imag))
    return result


def changes(rows: np.ndarray, carried: np.ndarray, axes: np.ndarray) -> np.ndarray:
    """Most that a unit of each coordinate changes rows by, over each span; ``carried`` are the rows times propagators.

    NaN, which bounds nothing, where a propagator overflows.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        return np.abs((carried - rows) @ np.linalg.inv(axes))
