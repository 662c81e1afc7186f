"""Mode signature -> equations: what is left to solve once the fixed network has been reduced (equations.py).

Every row asked for (rows.py) is projected beforehand onto [z, w], the extended state and the voltages and currents of
the elements.  A mode stacks the law rows of its pieces, solves them for w, and inserts.
"""

import math
from dataclasses import fields

import numpy as np

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
LOST = 1e-16 * FAST  # [1/s] likewise, where the solution itself is known to fewer digits
WORST_CONDITION = 1e14  # of the scaled mode rows; beyond it the network counts as having no solution


@dataclass(frozen=True, eq=False)
class _Rows:
    """The rows of a network over [z, w], in plain or in the widest floats."""

    relations: np.ndarray
    laws: np.ndarray
    sums: np.ndarray
    parts: np.ndarray
    rates: np.ndarray
    guards: np.ndarray

    def plain(self) -> "_Rows":
        return _Rows(*(getattr(self, field.name).astype(float) for field in fields(self)))


@dataclass(frozen=True, eq=False)
class _Solved:
    """Voltages and currents of the elements as rows over z, how far off these may be, and what they were found by."""

    insert: np.ndarray
    doubt: np.ndarray
    inverse: np.ndarray
    row_sizes: np.ndarray
    column_sizes: np.ndarray
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
        rates, self.switched_rates = state_rates(layout)
        outputs, self.switched_outputs = output_rows(layout, readings)
        self.guards, self.actions = guard_table(layout, self.numbering)
        self.outputs = self._project(outputs).astype(float)
        asked = (self.full_laws, self.full_sums, self.full_parts, rates, self.guards.rows)
        self.wide = _Rows(reduction.relations, *map(self._project, asked))
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
        solved, rows = self._solve(signature), self.plain
        insert = solved.insert
        rates = self._rates(signature, rows, insert)
        if np.abs(rates).max(initial=0.0) >= FAST or _lost(self.plain.rates, solved) >= LOST:
            rows, insert = self.wide, self._refined(signature, solved)
            rates = self._rates(signature, rows, insert)
        matrix = self.frame.astype(rates.dtype)
        matrix[: len(rates)] = rates
        outputs = _inserted(self.outputs, insert.astype(float))
        for switch in self.switched_outputs:
            outputs[switch.row] *= switch.factors[signature[switch.element]]
        guards = self.guards
        picked = guards.of(self._numbers(signature))
        guard_rows = _inserted(rows.guards[picked], insert)
        for k, g in enumerate(picked):
            if g in guards.rates:
                guard_rows[k] = guard_rows[k] @ matrix
                guard_rows[k, -1] += guards.rates[g]
        return ModeEquations(
            matrix.astype(float),
            outputs,
            guard_rows.astype(float),
            guards.bands[picked],
            guards.elements[picked],
            guards.targets[picked],
            guards.actions[picked],
            matrix if rows is self.wide else None,
        )

    def _rates(self, signature: Signature, rows: _Rows, insert: np.ndarray) -> np.ndarray:
        """The rows of the states' own rates."""
        rates = _inserted(rows.rates, insert)
        for switch in self.switched_rates:
            rates[switch.row] *= switch.factors[signature[switch.element]]
        return rates

    def everything(self, signature: Signature) -> np.ndarray:
        """Node voltages and branch currents of a mode as rows over z, in the layout's order."""
        return _inserted(self.base, self._refined(signature, self._solve(signature))).astype(float)

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

    def _stacked(self, signature: Signature, rows: _Rows) -> np.ndarray:
        """All rows over [z, w] that a mode sets to zero."""
        numbers = self._numbers(signature)
        return np.concatenate(
            (rows.relations, rows.laws[numbers[self.law_elements]], rows.sums + rows.parts[numbers].sum(axis=0))
        )

    def _solve(self, signature: Signature) -> _Solved:
        """Voltages and currents of the elements in plain floats, refined twice; refused where there are none."""
        size, rows = self.layout.size, self._stacked(signature, self.plain)
        if len(rows) == 0:
            nothing = np.zeros((0, 0))
            none = np.zeros((0, size))
            return _Solved(none, none, nothing, nothing, nothing, 1.0)
        row_sizes = _sizes(rows[:, size:], axis=1)[:, None]
        rows /= row_sizes
        column_sizes = _sizes(rows[:, size:], axis=0)
        square, right = rows[:, size:] / column_sizes, rows[:, :size]
        try:
            inverse = np.linalg.inv(square)
        except np.linalg.LinAlgError:
            raise self._no_solution(signature) from None
        condition = _norm(square) * _norm(inverse)
        if not condition < WORST_CONDITION:
            raise self._no_solution(signature)
        solved = -(inverse @ right)
        for _ in range(2):
            change = inverse @ (right + square @ solved)
            solved -= change
        insert, doubt = solved / column_sizes[:, None], np.abs(change) / column_sizes[:, None]
        return _Solved(insert, doubt, inverse, row_sizes, column_sizes, condition)

    def _refined(self, signature: Signature, solved: _Solved) -> np.ndarray:
        """The same in the widest floats."""
        size, rows = self.layout.size, self._stacked(signature, self.wide)
        if len(rows) == 0:
            return solved.insert.astype(np.longdouble)
        rows /= solved.row_sizes
        square = rows[:, size:] / solved.column_sizes
        found = refined(solved.inverse, square, -rows[:, :size], condition=solved.condition)
        return found / solved.column_sizes[:, None]

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


def _lost(rates: np.ndarray, solved: _Solved) -> float:
    """What a rate may be off by: the last change that the solution had in plain floats, where it had settled."""
    through = np.abs(rates[:, rates.shape[1] - len(solved.doubt) :])
    return float((through @ solved.doubt).max(initial=0.0))


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


def _norm(matrix: np.ndarray) -> float:
    """The 1-norm."""
    return float(np.abs(matrix).sum(axis=0).max())
