"""Index reduction: inductors whose currents are bound to each other by Kirchhoff's current law.

Where a set of nodes is joined to the rest by inductors alone (mains and leakage around a triac, choke and leads), their
currents sum to zero whatever the voltages do: sum(a_j i_j) = 0.  As many linear inductors as there are such sums become
*followers*: their currents are unknowns instead of states, and the sum differentiated once, sum(a_j di_j/dt) = 0 with
di_j/dt from the voltages, supplies the missing equation.  This is exact; no loss resistance is invented.

The sums are found as the left null vectors of the network's matrix, written for a mode in which every element and every
resistance has some ordinary value, so that the null space speaks of the structure and not of the numbers.
"""

import numpy as np

from weldsim.frozen import dataclass
from weldsim.network.branches import (
    CoupledInductors,
    Inductor,
    PiecewiseBranch,
    Resistor,
    SaturatingInductor,
)
from weldsim.network.circuit import Circuit
from weldsim.network.diagnosis import hopeless
from weldsim.network.equations import fixed_rows
from weldsim.network.layout import Layout

NULL = 1e-9  # singular values and coefficients below this count as zero; structural entries are near 1
ROUNDS = 8  # of scaling rows and columns in turn; the scales need not be sharp
GOLDEN = 0.6180339887498949


@dataclass(frozen=True)
class Follower:
    """current(name) + sum(factor * current(branch)) = 0; the branches keep their states."""

    name: str
    others: tuple[tuple[str, float], ...]


def find_followers(circuit: Circuit) -> tuple[Follower, ...]:
    """The followers of a drawing, the latest drawn inductors first chosen.

    Raises
    ------
    WiringError : a network without a solution, or a bound sum without a linear inductor in it
    """
    layout = Layout(circuit)
    rows, owners = _ordinary_mode(layout)
    left, sums = _bound_sums(rows, layout)
    linear = [layout.state_index[name] for name in _linear_inductors(circuit)]
    pivots = _eliminate(sums, left, linear[::-1])
    bearing = {*_linear_inductors(circuit), *layout.element_index}  # what may stand in a sum of currents
    for k in range(len(sums)):
        if k not in pivots or not bearing.issuperset(layout.states[j].branch for j in np.flatnonzero(sums[k])):
            raise hopeless(layout, owners, null_vector=left[k], bound=_members(layout, sums[k]))
    return tuple(
        Follower(
            layout.states[pivots[k]].branch,
            tuple((layout.states[j].branch, float(sums[k, j])) for j in np.flatnonzero(sums[k]) if j != pivots[k]),
        )
        for k in sorted(pivots)
    )


def _ordinary_mode(layout: Layout) -> tuple[np.ndarray, tuple[str, ...]]:
    """All rows of the network with ordinary values for whatever has a resistance, and their owners."""
    fixed = fixed_rows(layout)
    rows, owners = list(fixed.rows), list(fixed.owners)
    values = iter(0.5 + (GOLDEN * k) % 1.0 for k in range(1, 10_000))
    for branch in layout.circuit.branches:
        if isinstance(branch, Resistor) and branch.resistance != 0.0:
            where = owners.index(branch.name)
            rows[where] = layout.voltage(branch.name) - next(values) * layout.current(branch.name)
        elif isinstance(branch, PiecewiseBranch):
            rows.append(layout.voltage(branch.name) - next(values) * layout.current(branch.name))
            owners.append(branch.name)
        elif isinstance(branch, SaturatingInductor):
            rows.append(layout.current(branch.name) - layout.state(branch.name))
            owners.append(branch.name)
    return np.array(rows), tuple(owners)


def _bound_sums(rows: np.ndarray, layout: Layout) -> tuple[np.ndarray, np.ndarray]:
    """Left null vectors of the unknowns' matrix, and the sums over the extended state that they force to zero."""
    matrix = rows[:, : layout.unknowns]
    by_row, by_column = _even_scales(matrix)
    u, values, _ = np.linalg.svd(by_row[:, None] * matrix * by_column)
    null = (u[:, values < NULL * values[0]].T * by_row) if len(values) else np.zeros((0, len(rows)))
    return null, null @ rows[:, layout.unknowns :]


def _even_scales(matrix: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Factors for rows and columns that bring all entries near 1, so that a far turns ratio is no null vector."""
    sizes = np.abs(matrix)
    there = sizes > 0.0
    logs = np.log(np.where(there, sizes, 1.0))
    by_row, by_column = np.zeros(len(matrix)), np.zeros(matrix.shape[1])
    for _ in range(ROUNDS):
        by_row = -(logs + by_column).sum(axis=1, where=there) / np.maximum(there.sum(axis=1), 1)
        by_column = -(logs + by_row[:, None]).sum(axis=0, where=there) / np.maximum(there.sum(axis=0), 1)
    return np.exp(by_row), np.exp(by_column)


def _linear_inductors(circuit: Circuit) -> list[str]:
    """Names of constant inductors and coupled coils in drawing order; plain inductors are preferred as followers."""
    branches = circuit.branches
    coupled = [coil.name for branch in branches if isinstance(branch, CoupledInductors) for coil in branch.coils]
    plain = [branch.name for branch in branches if isinstance(branch, Inductor) and branch.inductance != 0.0]
    return coupled + plain


def _eliminate(sums: np.ndarray, left: np.ndarray, columns: list[int]) -> dict[int, int]:
    """Gauss-Jordan on the sums (and alike on the null vectors); row -> column of its pivot."""
    pivots: dict[int, int] = {}
    for column in columns:
        open_rows = [k for k in range(len(sums)) if k not in pivots]
        if not open_rows:
            break
        best = max(open_rows, key=lambda k: abs(sums[k, column]))
        if abs(sums[best, column]) < 1e-6 * max(1e-30, float(np.max(np.abs(sums[best])))):
            continue
        pivot = sums[best, column]
        left[best] /= pivot
        sums[best] /= pivot
        for k in range(len(sums)):
            if k != best:
                left[k] -= sums[k, column] * left[best]
                sums[k] -= sums[k, column] * sums[best]
        pivots[best] = column
    sums[np.abs(sums) < NULL] = 0.0
    return pivots


def _members(layout: Layout, total: np.ndarray) -> list[str]:
    """Branches whose states appear in a sum that has no follower."""
    large = np.flatnonzero(np.abs(total[: len(layout.states)]) > NULL)
    return [layout.states[j].branch for j in large]
