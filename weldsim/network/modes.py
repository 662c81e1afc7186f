"""Mode signature -> equations: what is left to solve once the fixed network has been reduced (equations.py).

Every row asked for (rows.py) is projected beforehand onto [z, w], the extended state and the voltages and currents of
the elements.  A mode stacks the law rows of its pieces, solves them for w, and inserts.
"""

import math

import numpy as np

from weldsim.errors import WiringError
from weldsim.network.circuit import Reading
from weldsim.network.diagnosis import culprits, unsolvable
from weldsim.network.equations import fixed_rows, reduce_fixed, refined
from weldsim.network.followers import Follower
from weldsim.network.layout import Layout
from weldsim.network.rows import bound_sums, guard_table, law_rows, number_segments, output_rows, state_rates
from weldsim.network.system import ModeEquations, Signature

WORST_CONDITION = 1e14  # of the scaled mode rows; beyond it the network counts as having no solution


class Modes:
    """The equations of all modes of one supply, made on demand; nothing is enumerated and nothing is kept."""

    def __init__(self, layout: Layout, followers: tuple[Follower, ...], readings: list[Reading]) -> None:
        self.layout = layout
        self.followers = followers
        self.fixed = fixed_rows(layout)
        reduction = reduce_fixed(layout, self.fixed)
        self.base, self.relations = reduction.base, reduction.relations
        self.numbering = number_segments(layout)
        self.law_elements = np.array(
            [e for e, segments in enumerate(self.numbering.segments) if segments[0].law], dtype=np.int64
        )
        self.full_laws = law_rows(layout, self.numbering)
        self.full_sums, self.full_parts = bound_sums(layout, followers, self.numbering)
        rates, self.switched_rates = state_rates(layout)
        outputs, self.switched_outputs = output_rows(layout, readings)
        self.guards, self.actions = guard_table(layout, self.numbering)
        self.laws, self.sums, self.parts = map(self._project, (self.full_laws, self.full_sums, self.full_parts))
        self.rates, self.outputs, self.guard_rows = map(self._project, (rates, outputs, self.guards.rows))
        self.frame = source_frame(layout)

    def _project(self, rows: np.ndarray) -> np.ndarray:
        """Rows over [u, z] as rows over [z, w]."""
        n, size = self.layout.unknowns, self.layout.size
        projected = rows[..., :n] @ self.base
        projected[..., :size] += rows[..., n:]
        return projected

    def assemble(self, signature: Signature) -> ModeEquations:
        """Equations of one mode.

        Raises
        ------
        WiringError : this combination of pieces has no solution; names the parts and the smallest value to write
        """
        insert = self._solve(signature)
        rates = self._inserted(self.rates, insert)
        for switch in self.switched_rates:
            rates[switch.row] *= switch.factors[signature[switch.element]]
        outputs = self._inserted(self.outputs, insert).astype(float)
        for switch in self.switched_outputs:
            outputs[switch.row] *= switch.factors[signature[switch.element]]
        fine = self.frame.astype(np.longdouble)
        fine[: len(rates)] = rates
        guards = self.guards
        picked = [g for number in self._numbers(signature) for g in guards.of_segment[number]]
        guard_rows = self._inserted(self.guard_rows[picked], insert)
        for k, g in enumerate(picked):
            if g in guards.rates:
                guard_rows[k] = guard_rows[k] @ fine
                guard_rows[k, -1] += guards.rates[g]
        return ModeEquations(
            fine.astype(float),
            outputs,
            guard_rows.astype(float),
            guards.bands[picked],
            guards.elements[picked],
            guards.targets[picked],
            guards.actions[picked],
            fine,
        )

    def everything(self, signature: Signature) -> np.ndarray:
        """Node voltages and branch currents of a mode as rows over z, in the layout's order."""
        return self._inserted(self.base, self._solve(signature)).astype(float)

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

    def _numbers(self, signature: Signature) -> np.ndarray:
        return self.numbering.offsets + np.array(signature, dtype=np.int64)

    def _inserted(self, rows: np.ndarray, insert: np.ndarray) -> np.ndarray:
        """Rows over [z, w] as rows over z."""
        size = self.layout.size
        return rows[:, :size] + rows[:, size:] @ insert

    def _solve(self, signature: Signature) -> np.ndarray:
        """Voltages and currents of the elements as rows over z, in the widest floats; refused where none are."""
        numbers, size = self._numbers(signature), self.layout.size
        rows = np.concatenate(
            (self.relations, self.laws[numbers[self.law_elements]], self.sums + self.parts[numbers].sum(axis=0))
        )
        if len(rows) == 0:
            return np.zeros((0, size), dtype=np.longdouble)
        rows /= _sizes(rows[:, size:], axis=1)[:, None]
        column_size = _sizes(rows[:, size:], axis=0)
        square, right = rows[:, size:] / column_size, -rows[:, :size]
        try:
            inverse = np.linalg.inv(square.astype(float))
        except np.linalg.LinAlgError:
            raise self._no_solution(signature) from None
        if not _norm(square.astype(float)) * _norm(inverse) < WORST_CONDITION:
            raise self._no_solution(signature)
        return refined(inverse, square, right) / column_size[:, None]

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
        state = ", ".join(f"{name} {pieces[name]}" for name in found if name in pieces)
        fact = f"{error.fact} (while {state})" if state else error.fact
        return WiringError(fact, place=error.place, advice=error.advice)


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
