"""Rows of everything a mode may ask for, over unknowns and extended state, before the fixed network is put in.

Segments of all elements are numbered through: segment s of element e is number ``offsets[e] + s``.
"""

import numpy as np

from weldsim.frozen import dataclass
from weldsim.network.branches import (
    Capacitor,
    CoupledInductors,
    Friction,
    Guard,
    Inductor,
    Jump,
    SaturatingInductor,
    Segment,
    two_terminals,
)
from weldsim.network.circuit import Reading
from weldsim.network.equations import rate_row
from weldsim.network.followers import Follower
from weldsim.network.layout import Layout
from weldsim.network.pieces import STUCK, segments_of, straight_pieces
from weldsim.network.system import Action

RATE = "voltage rate"
QUANTITIES = {"voltage": Layout.voltage, RATE: Layout.voltage, "current": Layout.current, "state": Layout.state}


@dataclass(frozen=True)
class Switch:
    """A row that counts by a factor that depends on the segment of one element."""

    row: int
    element: int
    factors: np.ndarray


@dataclass(frozen=True)
class Numbering:
    """All segments numbered through."""

    segments: tuple[tuple[Segment, ...], ...]
    offsets: np.ndarray
    total: int


def number_segments(layout: Layout) -> Numbering:
    """The segments of every element, and the number of each element's first."""
    segments = tuple(segments_of(element) for element in layout.elements)
    counts = [len(group) for group in segments]
    offsets = np.array([sum(counts[:e]) for e in range(len(counts))], dtype=np.int64)
    return Numbering(segments, offsets, sum(counts))


def empty(layout: Layout, count: int) -> np.ndarray:
    """So many empty rows."""
    return np.zeros((count, layout.width))


def law_rows(layout: Layout, numbering: Numbering) -> np.ndarray:
    """Law of every segment; an empty row where the element has no branch."""
    rows = empty(layout, numbering.total)
    for e, segments in enumerate(numbering.segments):
        for s, segment in enumerate(segments):
            if segment.law:
                rows[numbering.offsets[e] + s] = _law_row(layout, layout.elements[e].name, segment)
    return rows


def _law_row(layout: Layout, name: str, segment: Segment) -> np.ndarray:
    law = segment.law
    assert law is not None
    row = law.voltage_factor * layout.voltage(name) + law.current_factor * layout.current(name)
    row -= law.constant * layout.constant()
    if law.state_factor:
        row += law.state_factor * layout.state(name)
    for entry in law.inputs:
        row -= layout.input(entry)
    return row


def state_rates(layout: Layout) -> tuple[np.ndarray, tuple[Switch, ...]]:
    """Rate of change of every state, and those that stand still in some segments."""
    rows, switches = empty(layout, len(layout.states)), []
    for branch in layout.circuit.branches:
        for name, _, _ in two_terminals(branch):
            if name in layout.state_index:
                rows[layout.state_index[name]] = _rate(layout, branch, name)
        if isinstance(branch, Friction):
            switches.append(
                Switch(layout.state_index[branch.name], layout.element_index[branch.name], _while_stuck(branch))
            )
    return rows, tuple(switches)


def _rate(layout: Layout, branch: object, name: str) -> np.ndarray:
    if isinstance(branch, Capacitor):
        return layout.current(name) / branch.capacitance
    if isinstance(branch, (Inductor, CoupledInductors)):
        return rate_row(layout, name)
    if isinstance(branch, Friction):
        return branch.stiffness * layout.voltage(name)
    return layout.voltage(name)


def _while_stuck(friction: Friction) -> np.ndarray:
    """1 in the segment that follows the flux, 0 in those that slide."""
    return np.array([float(segment.name == STUCK) for segment in segments_of(friction)])


def bound_sums(layout: Layout, followers: tuple[Follower, ...], numbering: Numbering) -> tuple[np.ndarray, np.ndarray]:
    """Rows of sum(a di/dt), one for each follower: a common part, and what each segment of an element adds to it."""
    base, parts = empty(layout, len(followers)), np.zeros((numbering.total, len(followers), layout.width))
    for k, follower in enumerate(followers):
        base[k] = rate_row(layout, follower.name)
        for name, factor in follower.others:
            if name not in layout.element_index:
                base[k] += factor * rate_row(layout, name)
                continue
            element = layout.element_index[name]
            slopes = _current_over_flux(layout.elements[element])
            first = numbering.offsets[element]
            parts[first : first + len(slopes), k] += factor * slopes[:, None] * layout.voltage(name)
    return base, parts


def _current_over_flux(element: object) -> np.ndarray:
    """Incremental slope [A/(V s)] of each segment of an iron element."""
    if isinstance(element, SaturatingInductor):
        return np.array([slope for slope, _ in straight_pieces(element)])
    assert isinstance(element, Friction)
    return element.stiffness * _while_stuck(element)


def output_rows(layout: Layout, readings: list[Reading]) -> tuple[np.ndarray, tuple[Switch, ...]]:
    """Output rows, and those currents of friction elements that count only while they slide."""
    rows, switches = empty(layout, len(readings)), []
    for k, reading in enumerate(readings):
        for probe in reading.probes:
            if probe.quantity == "sliding":
                element = layout.element_index[probe.of]
                friction = layout.elements[element]
                assert isinstance(friction, Friction)
                switches.append(Switch(k, element, 1.0 - _while_stuck(friction)))
                rows[k] += probe.factor * layout.state(probe.of)
            else:
                rows[k] += layout.probe(probe)
    return rows, tuple(switches)


@dataclass(frozen=True)
class GuardTable:
    """Guards of all segments; ``of_segment[number]`` lists those of one.

    ``rates`` says which rows are to be multiplied by the mode's matrix, and the constant that is added then.
    """

    rows: np.ndarray
    rates: dict[int, float]
    bands: np.ndarray
    elements: np.ndarray
    targets: np.ndarray
    actions: np.ndarray
    of_segment: tuple[tuple[int, ...], ...]

    def of(self, numbers: np.ndarray) -> list[int]:
        """The guards of the segments with these numbers."""
        return [guard for number in numbers for guard in self.of_segment[number]]


def guard_table(layout: Layout, numbering: Numbering) -> tuple[GuardTable, tuple[Action, ...]]:
    """The guards, and the actions that some of them perform."""
    rows: list[np.ndarray] = []
    actions: list[Action] = []
    facts, of_segment, rates = [], [], {}
    for e, segments in enumerate(numbering.segments):
        names = [segment.name for segment in segments]
        for segment in segments:
            of_segment.append(tuple(range(len(rows), len(rows) + len(segment.guards))))
            for guard in segment.guards:
                if guard.quantity == RATE:
                    rates[len(rows)] = -guard.sign * guard.limit
                rows.append(_guard_row(layout, layout.elements[e].name, guard))
                facts.append((e, names.index(guard.target), len(actions) if guard.jump else -1, guard.band))
                if guard.jump:
                    actions.append(_action(layout, guard.jump))
    numbers = np.array([fact[:3] for fact in facts], dtype=np.int64).reshape(-1, 3)
    bands = np.array([fact[3] for fact in facts], dtype=float)
    table = GuardTable(
        np.array(rows).reshape(len(rows), layout.width),
        rates,
        bands,
        numbers[:, 0],
        numbers[:, 1],
        numbers[:, 2],
        tuple(of_segment),
    )
    return table, tuple(actions)


def _guard_row(layout: Layout, element: str, guard: Guard) -> np.ndarray:
    name = guard.of or element
    quantity = QUANTITIES[guard.quantity](layout, name)
    return guard.sign * (quantity - guard.limit * layout.constant())


def _action(layout: Layout, jump: Jump) -> Action:
    """The state a jump sets, and the events it gives."""
    row = (jump.factor * layout.state(jump.branch) + jump.offset * layout.constant())[layout.unknowns :]
    numbers = {event.name: k for k, event in enumerate(layout.circuit.events)}
    branches = layout.circuit.branches
    stored = {branch.name: branch.capacitance for branch in branches if isinstance(branch, Capacitor)}
    stored |= {branch.name: 1.0 / branch.stiffness for branch in branches if isinstance(branch, Friction)}
    return Action(
        layout.state_index[jump.branch],
        row,
        stored[jump.branch],
        numbers[jump.event] if jump.event else -1,
        numbers[jump.later_event] if jump.later_event else -1,
        jump.delay,
    )
