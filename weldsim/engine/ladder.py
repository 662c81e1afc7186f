"""The ladder of propagators of one mode: exp(M q), exp(2 M q), exp(4 M q), ...

Built in increments: F = exp(M q) - 1 from its Taylor series, then F <- 2 F + F F for each rung, and E = 1 + F only at
the end.  Squaring E itself loses a digit every three rungs.  The rows of the sources' own states (sine and cosine,
inputs, the constant) are written exactly on every rung.

Derived here: exp(2A) - 1 = (1 + F)^2 - 1 = 2 F + F F for F = exp(A) - 1.
"""

import math

import numpy as np

TAYLOR_TERMS = 16          # (1/4)^16 / 16! is far below rounding for a norm of 1/4


def ladder(matrix: np.ndarray, quantum: float, rungs: int, exact_rows: "ExactRows") -> np.ndarray:
    """Propagators over quantum * 2^k for k = 0 .. rungs-1.

    Parameters
    ----------
    matrix : M of x' = M x, shape (n, n) [1/s]
    quantum : shortest span [s]
    rungs : number of rungs [1]
    exact_rows : the rows known in closed form

    Returns
    -------
    numpy.ndarray : shape (rungs, n, n) [1]
    """
    n = len(matrix)
    norm = np.abs(matrix).sum(axis=1).max() * quantum
    extra = max(0, math.ceil(math.log2(norm)) + 2) if norm > 0.0 else 0
    increment = _expm1(matrix * (quantum * 0.5 ** extra))
    exact_rows.write(increment, quantum * 0.5 ** extra)
    for k in range(1, extra + 1):
        increment = 2.0 * increment + increment @ increment
        exact_rows.write(increment, quantum * 0.5 ** (extra - k))
    result = np.empty((rungs, n, n))
    result[0] = increment
    with np.errstate(over="ignore", invalid="ignore"):          # a mode that grows may overflow on rungs that it never lives to use
        for k in range(1, rungs):
            previous = result[k - 1]
            np.matmul(previous, previous, out=result[k])
            result[k] += previous
            result[k] += previous
            exact_rows.write(result[k], quantum * 2.0 ** k)
    result[:, np.arange(n), np.arange(n)] += 1.0
    return result


def _expm1(a: np.ndarray) -> np.ndarray:
    """exp(a) - 1 by Horner's rule on the Taylor series, for a small norm."""
    identity = np.eye(len(a))
    result = identity.copy()
    for k in range(TAYLOR_TERMS, 1, -1):
        result = identity + (a @ result) / k
    return a @ result


class ExactRows:
    """The rows of the extended state that are known in closed form: inputs, sines and cosines, the constant."""

    def __init__(self, states: int, inputs: int, orders: tuple[int, ...], omega: float) -> None:
        self.states, self.inputs = states, inputs
        self.omegas = [order * omega for order in orders]

    def write(self, increment: np.ndarray, span: float) -> None:
        """Overwrite those rows of F = exp(M span) - 1."""
        increment[self.states:] = 0.0
        row = self.states
        for _ in range(self.inputs):
            increment[row, row + 1] = span
            row += 2
        for omega in self.omegas:
            sine, versine = math.sin(omega * span), -2.0 * math.sin(0.5 * omega * span) ** 2
            increment[row, row] = increment[row + 1, row + 1] = versine
            increment[row, row + 1], increment[row + 1, row] = sine, -sine
            row += 2
