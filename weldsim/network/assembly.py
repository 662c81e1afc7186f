"""Drawing -> SwitchedSystem: index reduction, ledger, outputs, events and the function that assembles modes."""

from collections.abc import Callable

import numpy as np

from weldsim.network.branches import Friction, PiecewiseBranch, Resistor
from weldsim.network.circuit import Circuit, Probe
from weldsim.network.energy import stored_energy
from weldsim.network.followers import find_followers
from weldsim.network.layout import Layout
from weldsim.network.modes import Modes
from weldsim.network.pieces import STUCK, friction_segments
from weldsim.network.system import Element, EventRule, LedgerEntry, Signal, Signature, SwitchedSystem

Start = Callable[..., tuple[np.ndarray, Signature]]


def switched_system(circuit: Circuit, make_start: Callable[[Layout], Start]) -> SwitchedSystem:
    """The handover sheet of a drawing; ``make_start`` gives its start function once the states are known.

    Raises
    ------
    WiringError : a network without a solution
    """
    followers = find_followers(circuit)
    layout = Layout(circuit, tuple(follower.name for follower in followers))
    lines = _ledger(circuit)
    readings = list(circuit.readings.values())
    modes = Modes(layout, followers, readings)
    index = {reading.name: k for k, reading in enumerate(readings)}
    start = make_start(layout)
    modes.assemble(start()[1])
    return SwitchedSystem(
        states=tuple(state.name for state in layout.states),
        inputs=tuple(circuit.inputs),
        orders=layout.orders,
        frequency=circuit.frequency,
        signals=tuple(Signal(reading.name, reading.unit, reading.label) for reading in readings),
        elements=tuple(
            Element(element.name, tuple(segment.name for segment in segments))
            for element, segments in zip(layout.elements, modes.numbering.segments, strict=True)
        ),
        events=tuple(_rules(layout, modes, index)),
        actions=modes.actions,
        ledger=tuple(LedgerEntry(part, index[volts], index[amps], role) for part, volts, amps, role in lines),
        assemble=modes.assemble,
        guard_targets=modes.guard_targets,
        alongside=_alongside(layout),
        stored_energy=stored_energy(layout, followers),
        start=start,
        most_guards=sum(max(len(segment.guards) for segment in segments) for segments in modes.numbering.segments),
        notes=tuple(circuit.notes),
    )


def _alongside(layout: Layout) -> dict[tuple[int, int], tuple[int, ...]]:
    """Friction elements across the same nodes: those that slide the same way stick together when the voltage reverses.

    The current of one that sticks begins to follow the flux, which may change the size of the voltage but not its sign.
    """
    found = {}
    frictions = [(e, element) for e, element in enumerate(layout.elements) if isinstance(element, Friction)]
    for e, element in frictions:
        nodes = element.plus, element.minus
        others = tuple(o for o, other in frictions if o != e and (other.plus, other.minus) == nodes)
        for number, segment in enumerate(friction_segments(element)):
            if segment.name != STUCK:
                found[e, number] = others
    return found


def _ledger(circuit: Circuit) -> list[tuple[str, str, str, str]]:
    """Part, voltage signal, current signal and role of every branch that gives or takes power for good."""
    entries = [(part, voltage, current, "source") for part, voltage, current in circuit.sources]
    for branch in circuit.branches:
        if not isinstance(branch, (Resistor, PiecewiseBranch, Friction)):
            continue
        if isinstance(branch, Resistor) and branch.resistance == 0.0:
            continue
        owner, name = circuit.owners[branch.name], branch.name
        flow = f"{name}.current"
        circuit.read(f"{name}.voltage", "V", f"{name} voltage", Probe("voltage", name))
        if isinstance(branch, Friction):
            flow = f"{name}.sliding_current"
            circuit.read(flow, "A", f"{name} sliding current", Probe("sliding", name))
        else:
            circuit.read(flow, "A", f"{name} current", Probe("current", name))
        entries.append((owner.part, f"{name}.voltage", flow, owner.role))
    return entries


def _rules(layout: Layout, modes: Modes, index: dict[str, int]) -> list[EventRule]:
    """Events as tables over the segments of their elements."""
    rules = []
    for event in layout.circuit.events:
        element = layout.element_index[event.element]
        names = [segment.name for segment in modes.numbering.segments[element]]
        moves = {move.segment: move for move in event.moves}
        targets, otherwise = list(range(len(names))), list(range(len(names)))
        conditions, signs, thresholds = [-1] * len(names), [1.0] * len(names), [0.0] * len(names)
        for k, name in enumerate(names):
            if name not in moves:
                continue
            move = moves[name]
            targets[k] = otherwise[k] = names.index(move.target)
            if move.sign:
                conditions[k], signs[k] = index[f"{event.element}.current"], float(move.sign)
                thresholds[k], otherwise[k] = move.threshold, names.index(move.otherwise)
        rules.append(
            EventRule(
                event.name,
                element,
                tuple(targets),
                tuple(conditions),
                tuple(signs),
                tuple(thresholds),
                tuple(otherwise),
                tuple(name in moves and moves[name].idle for name in names),
            )
        )
    return rules
