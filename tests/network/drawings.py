"""Hand-made drawings and what can be done with an assembled mode."""

import numpy as np
from scipy.linalg import expm

from weldsim.network.assembly import switched_system
from weldsim.network.branches import Resistor, Source
from weldsim.network.circuit import Circuit, Probe

FREQUENCY = 50.0


def at_rest(layout):
    """Start function with every state zero and every element in its first segment."""
    size = len(layout.states) + 2 * len(layout.circuit.inputs)
    return lambda: (np.zeros(size), (0,) * len(layout.elements))


def system_of(branches, readings=(), *, amplitude=None, inputs=(), start=at_rest):
    """The switched system of some branches between "line" and "return", with a sine source where an amplitude is given.

    ``readings`` are (name, quantity, branch).
    """
    circuit = Circuit("return", FREQUENCY, inputs=list(inputs))
    if amplitude is not None:
        circuit.add(Source("mains", "line", "return", 0.0, ((1, amplitude, 0.0),)), "mains")
    for branch in branches:
        circuit.add(branch, "parts", key=f"parts.{getattr(branch, 'name', 'group')}")
    for name, quantity, branch in readings:
        circuit.read(name, "", name, Probe(quantity, branch))
    return switched_system(circuit, start)


def row(system, signature, name):
    """One output row of a mode."""
    names = [signal.name for signal in system.signals]
    return system.assemble(signature).outputs[names.index(name)]


def state_row(system, signature, name):
    """Rate of one state in a mode, as a dict of what it depends on."""
    labels = (*system.states, *system.inputs, *(f"{name}.slope" for name in system.inputs), "sine", "cosine", "one")
    return dict(zip(labels, system.assemble(signature).matrix[system.states.index(name)], strict=True))


def run_one_mode(system, signature, end):
    """Extended state after a time in one mode, from rest at a zero crossing of the mains."""
    x = np.zeros(system.size)
    x[-2], x[-1] = 1.0, 1.0
    x[: len(system.states)] = system.start()[0][: len(system.states)]
    return expm(system.assemble(signature).matrix * end) @ x


def resistor(name, plus, minus, value):
    """Short for a resistor."""
    return Resistor(name, plus, minus, value)
