"""The ladder of propagators of one mode: exp(M q), exp(2 M q), exp(4 M q), ...

Built in increments: F = exp(M q) - 1 from its Taylor series, then F <- 2 F + F F for each rung, and E = 1 + F only at
the end.  Squaring E itself loses a digit every three rungs.  The rows of the sources' own states (sine and cosine,
inputs, the constant) are written exactly on every rung.  A mode with very fast rates, whose matrix comes in the widest
floats that the machine has (network/modes.py), is built in numbers of twice the digits at first: rounding of a rate of
1e13 per second by a part in 1e16 is a rate too, and would move what is slow by 1e-3 of itself a second.

Derived here: exp(2A) - 1 = (1 + F)^2 - 1 = 2 F + F F for F = exp(A) - 1.
"""

import functools
import math

import numpy as np

from weldsim.engine import layout
from weldsim.engine.doors import door
from weldsim.frozen import dataclass

SHORT = 6  # rungs up: 64 quanta, 0.4 ns at 50 Hz, within which a stiff mode changes
OVER = 10  # rungs up, 6 ns: what is gone by then is left out of the rates of a stiff mode
FINE_RUNGS = 10  # rung from which on plain floats do: 6 ns at 50 Hz

_climb, _climb_on = door("kernel", "climb"), door("kernel", "climb_on")
_climb_in_pairs = door("fine_kernel", "climb_finely")


@dataclass(frozen=True)
class ExactRows:
    """Rows known in closed form: how many circuit states come before them, inputs, angular frequencies [1/s]."""

    states: int
    inputs: int
    omegas: tuple[float, ...]

    @functools.lru_cache(maxsize=64)  # noqa: B019 (equal ones share what is made; some dozens of kilobytes each)
    def finely(self, quantum: float, *, extra: int, count: int) -> tuple[np.ndarray, np.ndarray]:
        """What kernel.exact_rows writes over quantum / 2^extra and so many spans in all, each twice the one before.

        As pairs of plain floats; the rows from ``states`` on.
        """
        below = 2 * self.inputs + 2 * len(self.omegas) + 1
        spans = np.longdouble(quantum) * np.longdouble(2.0) ** np.arange(-extra, count - extra)
        rows = np.zeros((count, below, self.states + below), dtype=np.longdouble)
        slopes = 2 * np.arange(self.inputs)
        rows[:, slopes, self.states + slopes + 1] = spans[:, None]
        sines = 2 * self.inputs + 2 * np.arange(len(self.omegas))
        turns = np.multiply.outer(spans, np.array(self.omegas, dtype=np.longdouble))
        rows[:, sines, self.states + sines] = rows[:, sines + 1, self.states + sines + 1] = (
            -2.0 * np.sin(0.5 * turns) ** 2
        )
        rows[:, sines, self.states + sines + 1] = sine = np.sin(turns)
        rows[:, sines + 1, self.states + sines] = -sine
        return pairs(rows)


def ladder(matrix: np.ndarray, quantum: float, *, rungs: np.ndarray, exact_rows: ExactRows) -> None:
    """Fill ``rungs`` (shape (count, n, at least n)) with the propagators over quantum * 2^k of x' = M x.

    A mode that grows may overflow on rungs that it never lives to use; one with fast rates starts from a fraction of
    the quantum, chosen so that the norm of its exponent is at most 1/4, where 16 terms of the series are far below
    rounding.
    """
    norm = float(np.abs(matrix).sum(axis=1).max(initial=0.0)) * quantum
    extra = max(0, math.ceil(math.log2(norm)) + 2) if norm > 0.0 else 0
    if matrix.dtype.char == "g":  # the widest floats, also where these are no wider than plain ones and equal to them
        _climb_finely(matrix, quantum, extra, rungs=rungs, exact_rows=exact_rows)
        return
    small, *room = _room(len(matrix))
    small[:, : len(matrix)] = matrix * (quantum * 0.5**extra)
    omegas = np.array(exact_rows.omegas)
    _climb(small, quantum, extra, exact_rows.states, exact_rows.inputs, omegas, *room, rungs)


def _climb_finely(matrix: np.ndarray, quantum: float, extra: int, *, rungs: np.ndarray, exact_rows: ExactRows) -> None:
    """As kernel.climb, in numbers of twice the digits up to rung ``FINE_RUNGS``: there plain ones take over.

    What plain floats round off a propagator over a span, a part in 1e16, is a rate of 1e-16 over the span: 2e-8 per
    second there.
    """
    last = min(FINE_RUNGS, len(rungs))
    known = exact_rows.finely(quantum, extra=extra, count=extra + last + 1)
    powers, room = np.zeros((6, *matrix.shape)), np.zeros((6, exact_rows.states, len(matrix)))
    with np.errstate(over="ignore", invalid="ignore"):  # a mode that grows: see ``ladder``
        small = pairs(matrix * (np.longdouble(quantum) * 0.5**extra))
        _climb_in_pairs(*small, *known, last, powers, room, rungs)
    f, g, _, table = _room(len(matrix))
    f[:, : len(matrix)] = powers[0]
    omegas = np.array(exact_rows.omegas)
    _climb_on(f, last, quantum, exact_rows.states, exact_rows.inputs, omegas, g, table, rungs)


def _room(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Three matrices of n rows, as wide as whole eights, and these eights apart."""
    across = -(-n // layout.EIGHT)
    f, g, h = np.zeros((3, n, across * layout.EIGHT))
    return f, g, h, np.zeros((across, n, layout.EIGHT))


def pairs(numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The widest floats as plain ones and what is missing in these."""
    whole = numbers.astype(float)
    return whole, (numbers - whole).astype(float)


def halves(step: np.ndarray) -> np.ndarray:
    """exp(A/2), exp(A/4), ... of a matrix A, until the norm of what is left is at most 1/2; nothing for a small one."""
    norm = float(np.abs(step).sum(axis=1).max(initial=0.0))
    count = max(0, math.ceil(math.log2(norm)) + 1) if norm > 0.5 else 0
    if not count:
        return np.zeros((0, *step.shape))
    n = len(step)
    found = np.zeros((count, n, n))
    small, *room = _room(n)
    small[:, :n] = step * 0.5 ** (count + 2)
    _climb(small, 1.0, 2, n, 0, np.zeros(0), *room, found)  # rungs upwards from the smallest; no row is known
    return np.ascontiguousarray(found[::-1])


def stiff(matrix: np.ndarray, quantum: float) -> bool:
    """Whether a mode may change within 2^``SHORT`` quanta: products with its matrix are then differences of terms so
    large that only their rounding is left.
    """
    return bool(np.abs(matrix).max(initial=0.0) * quantum * 2.0**SHORT >= 1.0)
