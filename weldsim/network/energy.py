"""What is stored where: energy of every part as a function of the circuit states."""

from collections.abc import Callable

import numpy as np

from weldsim.network.branches import (
    Branch,
    Capacitor,
    CoupledInductors,
    Friction,
    Inductor,
    SaturatingInductor,
    two_terminals,
)
from weldsim.network.followers import Follower
from weldsim.network.layout import Layout
from weldsim.network.pieces import current_at, energy_at


def stored_energy(layout: Layout, followers: tuple[Follower, ...]) -> Callable[[np.ndarray], dict[str, float]]:
    """Function of the circuit states that gives part -> energy [J].

    Straight-line inductors store the integral of current over flux, friction elements f^2 / (2 stiffness); a follower's
    current is found from the sum that binds it.
    """
    owners = layout.circuit.owners
    storing = [
        branch
        for branch in layout.circuit.branches
        if isinstance(branch, (Capacitor, CoupledInductors, Friction, Inductor, SaturatingInductor))
        and not (isinstance(branch, Inductor) and branch.inductance == 0.0)
    ]
    irons = {branch.name: branch for branch in storing if isinstance(branch, SaturatingInductor)}

    def current(name: str, states: np.ndarray) -> float:
        value = float(states[layout.state_index[name]])
        return current_at(irons[name], value) if name in irons else value

    def energy(states: np.ndarray) -> dict[str, float]:
        values = {name: float(states[k]) for name, k in layout.state_index.items()}
        for follower in followers:
            values[follower.name] = -sum(factor * current(name, states) for name, factor in follower.others)
        parts: dict[str, float] = {}
        for branch in storing:
            part = owners[two_terminals(branch)[0][0]].part
            parts[part] = parts.get(part, 0.0) + _energy_of(branch, values)
        return parts

    return energy


def _energy_of(branch: Branch, values: dict[str, float]) -> float:
    """Energy of one branch from the values of its states."""
    if isinstance(branch, CoupledInductors):
        currents = np.array([values[coil.name] for coil in branch.coils])
        return float(0.5 * currents @ np.array(branch.matrix) @ currents)
    name = two_terminals(branch)[0][0]
    if isinstance(branch, SaturatingInductor):
        return energy_at(branch, values[name])
    if isinstance(branch, Friction):
        return 0.5 * values[name] ** 2 / branch.stiffness
    size = branch.capacitance if isinstance(branch, Capacitor) else getattr(branch, "inductance", 0.0)
    return 0.5 * size * values[name] ** 2
