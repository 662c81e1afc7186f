"""Numbering of a drawing: unknowns, extended state and elements, and the row of every quantity that can be asked for.

A *row* is a vector over the unknowns u (node voltages, branch currents, voltages of elements) followed by the extended
state z of system.py; it stands for the number row @ [u, z], or, as an equation, for row @ [u, z] = 0.
"""

import numpy as np

from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.branches import (
    Capacitor,
    CoupledInductors,
    Friction,
    Inductor,
    PiecewiseBranch,
    SaturatingInductor,
    Source,
    Watcher,
    two_terminals,
)
from weldsim.network.circuit import Circuit, Probe

KIND_OF_STATE = {
    Capacitor: "voltage",
    Inductor: "current",
    CoupledInductors: "current",
    SaturatingInductor: "flux linkage",
    Friction: "friction current",
}


@dataclass(frozen=True)
class State:
    """One circuit state: the branch it belongs to and what it is."""

    branch: str
    kind: str

    @property
    def name(self) -> str:
        """The state's name in the handover sheet."""
        return f"{self.branch}.{self.kind.replace(' ', '_')}"


def states_of(circuit: Circuit) -> list[State]:
    """Every state of the drawing in drawing order, before index reduction."""
    found = []
    for branch in circuit.branches:
        kind = KIND_OF_STATE.get(type(branch))
        if kind and not (isinstance(branch, Inductor) and branch.inductance == 0.0):
            found += [State(name, kind) for name, _, _ in two_terminals(branch)]
    return found


class Layout:
    """Numbers the unknowns and the extended state of a circuit, without the states of ``followers``."""

    def __init__(self, circuit: Circuit, followers: tuple[str, ...] = ()) -> None:
        self.circuit = circuit
        self.followers = followers
        self.terminals = circuit.terminals()
        names = dict.fromkeys(node for pair in self.terminals.values() for node in pair)
        self.nodes = {node: k for k, node in enumerate(name for name in names if name != circuit.reference)}
        self.columns = {name: len(self.nodes) + k for k, name in enumerate(self.terminals)}
        switched = [
            branch.name for branch in circuit.branches if isinstance(branch, (PiecewiseBranch, SaturatingInductor))
        ]
        first = len(self.nodes) + len(self.columns)
        self.ports = {name: first + k for k, name in enumerate(switched)}
        self.unknowns = first + len(self.ports)
        self.states = [state for state in states_of(circuit) if state.branch not in followers]
        self.state_index = {state.branch: k for k, state in enumerate(self.states)}
        self.orders = self._orders()
        self.elements = [
            branch
            for branch in circuit.branches
            if isinstance(branch, (PiecewiseBranch, Watcher, SaturatingInductor, Friction))
        ]
        self.element_index = {branch.name: k for k, branch in enumerate(self.elements)}
        self.size = len(self.states) + 2 * len(circuit.inputs) + 2 * len(self.orders) + 1
        self.width = self.unknowns + self.size

    def _orders(self) -> tuple[int, ...]:
        used = {
            order
            for branch in self.circuit.branches
            if isinstance(branch, Source)
            for order, sine, cosine in branch.harmonics
            if sine or cosine
        }
        return (1, *sorted(used - {1}))

    def row(self) -> np.ndarray:
        """An empty row."""
        return np.zeros(self.width)

    def single(self, column: int) -> np.ndarray:
        """Row of one unknown or one entry of the extended state."""
        row = self.row()
        row[column] = 1.0
        return row

    def between(self, plus: str, minus: str) -> np.ndarray:
        """Row of the voltage from one node to another."""
        row = self.row()
        for node, sign in ((plus, 1.0), (minus, -1.0)):
            if node in self.nodes:
                row[self.nodes[node]] += sign
            elif node != self.circuit.reference:
                raise WiringError(f"no branch touches the node '{node}'")
        return row

    def voltage(self, name: str) -> np.ndarray:
        """Row of the voltage across a branch."""
        return self.single(self.ports[name]) if name in self.ports else self.between(*self.terminals[name])

    def current(self, name: str) -> np.ndarray:
        """Row of the current through a branch."""
        return self.single(self.columns[name])

    def state(self, branch: str) -> np.ndarray:
        """Row of the state of a branch; a follower has none and is read by its current."""
        if branch in self.followers:
            return self.current(branch)
        return self.single(self.unknowns + self.state_index[branch])

    def constant(self) -> np.ndarray:
        """Row of the constant 1."""
        return self.single(self.width - 1)

    def input(self, name: str) -> np.ndarray:
        """Row of the value of a system input."""
        return self.single(self.unknowns + len(self.states) + 2 * self.circuit.inputs.index(name))

    def harmonic(self, order: int, *, sine: float, cosine: float) -> np.ndarray:
        """Row of sine * sin(order w t) + cosine * cos(order w t)."""
        row = self.row()
        first = self.unknowns + len(self.states) + 2 * len(self.circuit.inputs) + 2 * self.orders.index(order)
        row[first : first + 2] = sine, cosine
        return row

    def probe(self, probe: Probe) -> np.ndarray:
        """Row of one term of a signal."""
        if probe.quantity == "between":
            return probe.factor * self.between(probe.of, probe.minus)
        return probe.factor * {"voltage": self.voltage, "current": self.current, "state": self.state}[probe.quantity](
            probe.of
        )
