"""Mode signature -> equations: what is left to solve once the fixed network has been reduced (equations.py).

Every row asked for (rows.py) is projected beforehand onto [z, w], the extended state and the voltages and currents of
the elements.  A mode stacks the law rows of its pieces, solves them for w, and inserts.
"""

import math
from dataclasses import fields, replace

import numpy as np

from weldsim.engine.doors import door
from weldsim.engine.layout import CONDITION, FASTEST, LOST, TOLD
from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.circuit import Reading
from weldsim.network.diagnosis import culprits, unsolvable
from weldsim.network.equations import fixed_rows, reduce_fixed, refined
from weldsim.network.followers import Follower
from weldsim.network.layout import Layout
from weldsim.network.rows import bound_sums, guard_table, law_rows, number_segments, output_rows, state_rates
from weldsim.network.system import ModeEquations, Signature

FAST = 1e10  # [1/s] and more: rounding of a rate by a part in 1e16 moves what is slow by 1e-6 of itself a second
LOST_RATE = 1e-16 * FAST  # [1/s] likewise, where the solution itself is known to fewer digits
_solve, _put_in = door("mode_kernel", "solve"), door("mode_kernel", "put_in")

WORST_CONDITION = 1e14  # of the scaled mode rows; beyond it the network counts as having no solution


@dataclass(frozen=True, eq=False)
class _Rows:
    """The rows of a network over [z, w], in plain or in the widest floats; ``asked`` for: rates, outputs and guards."""

    relations: np.ndarray
    laws: np.ndarray
    sums: np.ndarray
    parts: np.ndarray
    asked: np.ndarray

    def plain(self) -> "_Rows":
        return _Rows(*(np.ascontiguousarray(getattr(self, field.name), dtype=float) for field in fields(self)))


@dataclass(frozen=True, eq=False)
class _Solved:
    """Voltages and currents of the elements as rows over z, how far off these may be, and what they were found by."""

    insert: np.ndarray
    doubt: np.ndarray
    inverse: np.ndarray
    sizes: np.ndarray  # of rows and of columns
    condition: float


class Modes:
    """The equations of all modes of one supply, made on demand; nothing is enumerated and nothing is kept."""

    def __init__(self, layout: Layout, followers: tuple[Follower, ...], readings: list[Reading]) -> None:
        self.layout = layout
        self.followers = followers
        self.fixed = fixed_rows(layout)
        reduction = reduce_fixed(layout, self.fixed)
        self.base = reduction.base
        self.numbering = number_segments(layout)
        self.law_elements = np.array(
            [e for e, segments in enumerate(self.numbering.segments) if segments[0].law], dtype=np.int64
        )
        self.full_laws = law_rows(layout, self.numbering)
        self.full_sums, self.full_parts = bound_sums(layout, followers, self.numbering)
        rates, switched_rates = state_rates(layout)
        outputs, switched_outputs = output_rows(layout, readings)
        self.switches = *switched_rates, *(replace(one, row=one.row + len(rates)) for one in switched_outputs)
        self.guards, self.actions = guard_table(layout, self.numbering)
        self.always = np.arange(len(rates) + len(outputs))  # rows that every mode is asked for
        asked = np.concatenate((rates, outputs, self.guards.rows))
        given = (self.full_laws, self.full_sums, self.full_parts, asked)
        self.wide = _Rows(reduction.relations, *map(self._project, given))
        self.plain = self.wide.plain()
        self.frame = source_frame(layout)

    def _project(self, rows: np.ndarray) -> np.ndarray:
        """Rows over [u, z] as rows over [z, w]."""
        n, size = self.layout.unknowns, self.layout.size
        projected = rows[..., :n] @ self.base
        projected[..., :size] += rows[..., n:]
        return projected

    def assemble(self, signature: Signature) -> ModeEquations:
        """Equations of one mode; in the widest floats first where it has rates that plain ones do not hold.

        Raises
        ------
        WiringError : this combination of pieces has no solution; names the parts and the smallest value to write
        """
        numbers = self._numbers(signature)
        solved = self._solve(signature, numbers)
        guards = np.array(self.guards.of(numbers), dtype=np.int64)
        picked = np.concatenate((self.always, guards + len(self.always)))
        factors = self._factors(signature, len(picked))
        states, last = len(self.layout.states), len(self.always)
        found, told = np.empty((len(picked), self.layout.size)), np.empty(TOLD)
        _put_in(self.plain.asked, picked, factors, states, solved.insert, solved.doubt, found, told)
        exact, rows = self.frame.copy(), found[last:]
        exact[:states] = found[:states]
        matrix, fine = exact, None
        if told[FASTEST] >= FAST or told[LOST] >= LOST_RATE:
            insert = self._refined(numbers, solved)
            some = np.concatenate((picked[:states], picked[last:]))
            wide = (
                _inserted(self.wide.asked[some], insert) * np.concatenate((factors[:states], factors[last:]))[:, None]
            )
            found[states:last] = (
                _inserted(self.plain.asked[states:last], insert.astype(float)) * factors[states:last, None]
            )
            exact, rows = self.frame.astype(wide.dtype), wide[states:]
            exact[:states] = wide[:states]
            matrix, fine = exact.astype(float), exact
        for k, g in enumerate(guards.tolist() if self.guards.rates else ()):
            if g in self.guards.rates:
                rows[k] = rows[k] @ exact
                rows[k, -1] += self.guards.rates[g]
        return ModeEquations(
            matrix,
            found[states:last],
            rows.astype(float),
            self.guards.bands[guards],
            self.guards.elements[guards],
            self.guards.targets[guards],
            self.guards.actions[guards],
            fine,
        )

    def _factors(self, signature: Signature, count: int) -> np.ndarray:
        """By what each row counts that is asked for."""
        factors = np.ones(count)
        for switch in self.switches:
            factors[switch.row] *= switch.factors[signature[switch.element]]
        return factors

    def everything(self, signature: Signature) -> np.ndarray:
        """Node voltages and branch currents of a mode as rows over z, in the layout's order."""
        numbers = self._numbers(signature)
        return _inserted(self.base, self._refined(numbers, self._solve(signature, numbers))).astype(float)

    def equations(self, signature: Signature) -> np.ndarray:
        """All rows over [u, z] that a mode sets to zero; for checks and for messages."""
        numbers = self._numbers(signature)
        return np.vstack(
            [
                self.fixed.rows,
                self.full_laws[numbers[self.law_elements]],
                self.full_sums + self.full_parts[numbers].sum(axis=0),
            ]
        )

    def guard_targets(self, signature: Signature) -> np.ndarray:
        """Where the guards of a mode lead; without its equations."""
        return self.guards.targets[self.guards.of(self._numbers(signature))]

    def _numbers(self, signature: Signature) -> np.ndarray:
        return self.numbering.offsets + np.array(signature, dtype=np.int64)

    def _solve(self, signature: Signature, numbers: np.ndarray) -> _Solved:
        """Voltages and currents of the elements in plain floats, refined twice; refused where there are none."""
        plain, size = self.plain, self.layout.size
        count = plain.asked.shape[1] - size
        sizes, told = np.ones((2, count)), np.ones(TOLD)
        square, inverse = np.empty((2, count, count))
        residual, insert, doubt = np.empty((3, count, size))
        rows, order = np.empty((count, size + count)), np.empty(count, dtype=np.int64)
        given = plain.relations, plain.laws, plain.sums, plain.parts, numbers[self.law_elements], numbers
        solved = _solve(*given, rows, square, inverse, sizes, order, residual, insert, doubt, told)
        condition = float(told[CONDITION])
        if not solved or not condition < WORST_CONDITION:
            raise self._no_solution(signature)
        return _Solved(insert, doubt, inverse, sizes, condition)

    def _refined(self, numbers: np.ndarray, solved: _Solved) -> np.ndarray:
        """The same in the widest floats."""
        size, wide = self.layout.size, self.wide
        if not len(solved.insert):
            return solved.insert.astype(np.longdouble)
        sums = wide.sums + wide.parts[numbers].sum(axis=0)
        rows = np.concatenate((wide.relations, wide.laws[numbers[self.law_elements]], sums)) / solved.sizes[0][:, None]
        square = rows[:, size:] / solved.sizes[1]
        found = refined(solved.inverse, square, -rows[:, :size], condition=solved.condition)
        return found / solved.sizes[1][:, None]

    def _no_solution(self, signature: Signature) -> WiringError:
        """The error for a singular mode: which parts, in which pieces."""
        layout = self.layout
        rows = self.equations(signature)[:, : layout.unknowns]
        owners = (
            *self.fixed.owners,
            *(layout.elements[e].name for e in self.law_elements),
            *(follower.name for follower in self.followers),
        )
        scale = _sizes(rows, axis=1)
        left, _, _ = np.linalg.svd(rows / scale[:, None])
        found, loop = culprits(layout, owners, left[:, -1] / scale)
        error = unsolvable(layout, found, loop)
        pieces = {layout.elements[e].name: self.numbering.segments[e][s].name for e, s in enumerate(signature)}
        state = ", ".join(f"{name} on its piece '{pieces[name]}'" for name in found if name in pieces)
        fact = f"{error.fact} ({state})" if state else error.fact
        return WiringError(fact, place=error.place, advice=error.advice)


def _inserted(rows: np.ndarray, insert: np.ndarray) -> np.ndarray:
    """Rows over [z, w] as rows over z; ``insert`` is w as rows over z."""
    size = insert.shape[1]
    return rows[:, :size] + np.dot(rows[:, size:], insert)  # in wide floats quicker than @


def source_frame(layout: Layout) -> np.ndarray:
    """Extended matrix with the rows of inputs and sources, which no mode changes."""
    matrix = np.zeros((layout.size, layout.size))
    first = len(layout.states)
    for k in range(len(layout.circuit.inputs)):
        matrix[first + 2 * k, first + 2 * k + 1] = 1.0
    first += 2 * len(layout.circuit.inputs)
    for k, order in enumerate(layout.orders):
        speed = 2.0 * math.pi * layout.circuit.frequency * order
        matrix[first + 2 * k, first + 2 * k + 1] = speed
        matrix[first + 2 * k + 1, first + 2 * k] = -speed
    return matrix


def _sizes(matrix: np.ndarray, axis: int) -> np.ndarray:
    """Largest entry of each row or column, 1 where there is none."""
    sizes = np.abs(matrix).max(axis=axis)
    sizes[sizes == 0.0] = 1.0
    return sizes
