"""A supply while it is being drawn: the scenario, the circuit so far, and the full scales on both sides."""

import dataclasses
from collections.abc import Sequence

from weldsim.frozen import dataclass
from weldsim.network.branches import Inductor, Resistor
from weldsim.network.circuit import Circuit, Probe
from weldsim.network.devices import Scale
from weldsim.scenario.document import Scenario

REFERENCE = "return"  # the primary's return conductor; the minus rail too, where a transformer isolates it
CURRENT_SCALE = 100.0  # [A] full scale of currents, for dead bands


@dataclass(frozen=True)
class Resistance:
    """A resistance [ohm] to be drawn in series: branch name, value, scenario key."""

    name: str
    value: float
    key: str


@dataclass(frozen=True)
class Inductance:
    """An inductance [H] to be drawn in series: branch name, value, scenario key."""

    name: str
    value: float
    key: str


@dataclasses.dataclass
class Draft:
    """What the drawing functions hand on to each other."""

    scenario: Scenario
    circuit: Circuit
    primary: Scale
    secondary: Scale
    minus: str = REFERENCE  # the minus rail of the secondary side

    def voltage(self, name: str, label: str, *, plus: str, minus: str) -> None:
        """Offer the voltage between two nodes as a signal."""
        self.circuit.read(name, "V", label, *([Probe("between", plus, minus=minus)] if plus != minus else []))

    def current(self, name: str, label: str, *branches: str, factor: float = 1.0) -> None:
        """Offer the sum of branch currents as a signal."""
        self.circuit.read(name, "A", label, *(Probe("current", branch, factor) for branch in branches))

    def series(self, part: str, start: str, pieces: Sequence[Resistance | Inductance], *, end: str = "") -> str:
        """Draw resistances and inductances in series from a node, leaving out those of zero; the last node.

        With ``end`` the chain ends there, by a plain connection if everything is zero.
        """
        left = [piece for piece in pieces if piece.value != 0.0]
        if end and not left:
            self.circuit.add(Resistor(pieces[0].name, start, end, 0.0), part, key=pieces[0].key)
            return end
        node = start
        for piece in left:
            following = end if end and piece is left[-1] else f"behind {piece.name}"
            branch = (
                Resistor(piece.name, node, following, piece.value)
                if isinstance(piece, Resistance)
                else Inductor(piece.name, node, following, piece.value)
            )
            self.circuit.add(branch, part, key=piece.key)
            node = following
        return node
