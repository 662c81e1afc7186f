"""The equations that no switching changes: Kirchhoff's laws and the laws of linear branches, solved once per supply.

The unknowns are all node voltages and all branch currents (capacitors stand as voltage sources, inductors as current
sources of their state).  The rows that change with the mode (pieces of elements, followers) are left open.  What lies
between the elements is eliminated once: every unknown becomes base @ [z, w], where w are the voltages and currents of
the elements themselves (and the rare node that only a follower's equation fixes), bound to each other by the remaining
relations @ [z, w] = 0.  A mode adds the laws of its pieces and solves for w, with pivoting of its own, so that the
microamperes of a blocked diode do not drown in the hundreds of amperes of its neighbour.
"""

import math

import numpy as np

from weldsim.frozen import dataclass
from weldsim.network.branches import (
    Capacitor,
    CoupledInductors,
    Friction,
    Inductor,
    PiecewiseBranch,
    Resistor,
    SaturatingInductor,
    Source,
    Watcher,
    Windings,
)
from weldsim.network.layout import Layout

NO_PIVOT = 1e-11  # entries of scaled rows below this are rounding
WIDE_DIGITS = 20  # of the widest floats of common machines


@dataclass(frozen=True)
class FixedRows:
    """Equations rows @ [u, z] = 0 and, for each, the branch or node it was written for."""

    rows: np.ndarray
    owners: tuple[str, ...]


def fixed_rows(layout: Layout) -> FixedRows:
    """Current balance of every node but the reference, and the laws of all linear branches."""
    rows, owners = [], []
    incidence = np.zeros((len(layout.nodes), layout.width))
    for name, ends in layout.terminals.items():
        for node, sign in zip(ends, (1.0, -1.0), strict=True):
            if node in layout.nodes:
                incidence[layout.nodes[node], layout.columns[name]] += sign
    for branch in layout.circuit.branches:
        for owner, row in _laws(layout, branch):
            rows.append(row)
            owners.append(owner)
    for name in layout.ports:
        rows.append(layout.voltage(name) - layout.between(*layout.terminals[name]))
        owners.append(name)
    return FixedRows(np.vstack([incidence, *rows]), (*(f"node {node}" for node in layout.nodes), *owners))


def _laws(layout: Layout, branch: object) -> list[tuple[str, np.ndarray]]:
    """Law rows of one branch; none where the law changes with the mode."""
    if isinstance(branch, (PiecewiseBranch, SaturatingInductor, Watcher)):
        return []
    if isinstance(branch, Resistor):
        drop = layout.voltage(branch.name) - branch.resistance * layout.current(branch.name)
        return [(branch.name, drop)]
    if isinstance(branch, Source):
        return [(branch.name, _source_law(layout, branch))]
    if isinstance(branch, Capacitor):
        return [(branch.name, layout.voltage(branch.name) - layout.state(branch.name))]
    if isinstance(branch, Windings):
        return _winding_laws(layout, branch)
    if isinstance(branch, Inductor) and branch.inductance == 0.0:
        return [(branch.name, layout.voltage(branch.name))]
    if isinstance(branch, CoupledInductors):
        names = [coil.name for coil in branch.coils]
    elif isinstance(branch, (Inductor, Friction)):
        names = [branch.name]
    else:
        raise TypeError(f"no law for {branch!r}")
    return [(name, layout.current(name) - layout.state(name)) for name in names if name not in layout.followers]


def _source_law(layout: Layout, source: Source) -> np.ndarray:
    row = layout.voltage(source.name) - source.constant * layout.constant()
    for order, sine, cosine in source.harmonics:
        if sine or cosine:
            row -= layout.harmonic(order, sine=sine, cosine=cosine)
    return row


def _winding_laws(layout: Layout, group: Windings) -> list[tuple[str, np.ndarray]]:
    first = group.windings[0]
    balance = sum(
        (winding.turns / first.turns * layout.current(winding.name) for winding in group.windings), start=layout.row()
    )
    laws = [(first.name, balance)]
    for winding in group.windings[1:]:
        ratio = winding.turns / first.turns
        laws.append((winding.name, layout.voltage(winding.name) - ratio * layout.voltage(first.name)))
    return laws


def rate_row(layout: Layout, name: str) -> np.ndarray:
    """Row of the rate of change of the current of a linear inductor or coupled coil."""
    for branch in layout.circuit.branches:
        if isinstance(branch, Inductor) and branch.name == name:
            return layout.voltage(name) / branch.inductance
        if isinstance(branch, CoupledInductors):
            names = [coil.name for coil in branch.coils]
            if name in names:
                inverse = np.linalg.inv(np.array(branch.matrix))[names.index(name)]
                return sum(
                    (factor * layout.voltage(coil) for factor, coil in zip(inverse, names, strict=True)),
                    start=layout.row(),
                )
    raise KeyError(name)


@dataclass(frozen=True)
class Reduction:
    """The fixed network solved: u = base @ [z, w], and the relations @ [z, w] = 0 that remain between the w."""

    base: np.ndarray
    relations: np.ndarray


def reduce_fixed(layout: Layout, fixed: FixedRows) -> Reduction:
    """Eliminate all unknowns but voltages and currents of elements, by complete pivoting."""
    every = fixed.rows.astype(np.longdouble)
    every /= np.max(np.abs(every[:, : layout.unknowns]), axis=1, keepdims=True)
    matrix, sources = every[:, : layout.unknowns], every[:, layout.unknowns :]
    kept = {*layout.ports.values(), *(layout.columns[name] for name in layout.ports)}
    rows, bound = _pivots(matrix.astype(float), [column for column in range(layout.unknowns) if column not in kept])
    free, others = _rest(layout.unknowns, bound), _rest(len(matrix), rows)
    square = matrix[np.ix_(rows, bound)]
    right = -np.hstack([sources[rows], matrix[np.ix_(rows, free)]])
    inverse = np.linalg.inv(square.astype(float))
    solved = refined(inverse, square, right, condition=float(np.linalg.cond(square.astype(float), 1)))
    base = np.zeros((layout.unknowns, right.shape[1]), dtype=np.longdouble)
    base[bound] = solved
    base[free, sources.shape[1] + np.arange(len(free))] = 1.0
    relations = np.hstack([sources[others], matrix[np.ix_(others, free)]]) + matrix[np.ix_(others, bound)] @ solved
    return Reduction(base, relations)


def refined(inverse: np.ndarray, square: np.ndarray, right: np.ndarray, *, condition: float) -> np.ndarray:
    """Solution of square @ x = right in the widest floats, from an inverse in plain ones.

    A blocked diode's megohms over microhenries make rates of 1e13 per second, of which sixteen digits leave an error of
    1e-3 per second in what is slow.  (Where a machine has no wider floats it stays at that.)  The first
    solution has as many digits as the condition leaves of sixteen, and each round gains as many.
    """
    gained = max(16.0 - math.log10(max(condition, 1.0)), 1.0)
    solved = (inverse @ right.astype(float)).astype(np.longdouble)
    for _ in range(max(math.ceil(WIDE_DIGITS / gained) - 1, 1)):
        solved += inverse @ (right - np.dot(square, solved)).astype(float)
    return solved


def _rest(count: int, taken: np.ndarray) -> np.ndarray:
    """The numbers below ``count`` that are not taken, in order."""
    left = np.ones(count, dtype=bool)
    left[taken] = False
    return np.flatnonzero(left)


def _pivots(matrix: np.ndarray, columns: list[int]) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns that elimination with complete pivoting among ``columns`` picks, as far as it goes."""
    work = matrix[:, columns].copy()
    order = np.arange(len(work))
    picked = []
    for k in range(min(work.shape)):
        row, column = divmod(int(np.argmax(np.abs(work[k:]))), work.shape[1])
        row += k
        if abs(work[row, column]) < NO_PIVOT:
            break
        work[[k, row]], order[[k, row]] = work[[row, k]], order[[row, k]]
        work[k + 1 :] -= np.outer(work[k + 1 :, column] / work[k, column], work[k])
        work[k + 1 :, column] = 0.0
        picked.append(columns[column])
    return order[: len(picked)], np.array(picked, dtype=np.int64)
