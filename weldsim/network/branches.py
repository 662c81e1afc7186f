"""What a supply is drawn with: branches between named nodes, as plain frozen data.

A current counts positive when it flows inside the branch from its ``plus`` to its ``minus`` node, so voltage times
current is the power a branch takes in.  Branches whose law has several straight pieces are *elements* of the switched
system; their first segment is the one they rest in before anything has happened.
"""

from dataclasses import field

from weldsim.frozen import dataclass


@dataclass(frozen=True)
class Resistor:
    """A resistance; 0 ohm is a plain connection whose current is still known."""

    name: str
    plus: str
    minus: str
    resistance: float


@dataclass(frozen=True)
class Capacitor:
    """A capacitance; its state is its voltage."""

    name: str
    plus: str
    minus: str
    capacitance: float


@dataclass(frozen=True)
class Inductor:
    """A constant inductance; its state is its current; 0 H is a plain connection."""

    name: str
    plus: str
    minus: str
    inductance: float


@dataclass(frozen=True)
class Coil:
    """One coil of a group of coupled inductors."""

    name: str
    plus: str
    minus: str


@dataclass(frozen=True)
class CoupledInductors:
    """Coils that share flux: voltages = matrix times the rates of change of the currents, which are the states."""

    coils: tuple[Coil, ...]
    matrix: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Winding:
    """One winding of an ideal transformer; the turns count only relative to the other windings."""

    name: str
    plus: str
    minus: str
    turns: float


@dataclass(frozen=True)
class Windings:
    """Ideal transformer: equal volts per turn, ampere-turns that sum to zero."""

    windings: tuple[Winding, ...]


@dataclass(frozen=True)
class Source:
    """Ideal voltage source: a constant plus harmonics (order, sine amplitude, cosine amplitude) of the mains."""

    name: str
    plus: str
    minus: str
    constant: float = 0.0
    harmonics: tuple[tuple[int, float, float], ...] = ()


@dataclass(frozen=True)
class SaturatingInductor:
    """An inductance in straight pieces; its state is its flux linkage.

    ``flux_linkages`` and ``currents`` are the corners in rising order, both polarities; the first and the last piece go
    on without end.  A curve without corners between its ends is one piece.
    """

    name: str
    plus: str
    minus: str
    flux_linkages: tuple[float, ...]
    currents: tuple[float, ...]


@dataclass(frozen=True)
class Friction:
    """A stop: its current follows the flux with a slope (``stiffness`` [A/(V s)]) until it slides at ``limit``."""

    name: str
    plus: str
    minus: str
    stiffness: float
    limit: float
    voltage_scale: float


@dataclass(frozen=True)
class Jump:
    """What a guard does to a state: new value = factor * old value + offset; and events it gives."""

    branch: str
    factor: float
    offset: float
    event: str = ""
    later_event: str = ""
    delay: float = 0.0


@dataclass(frozen=True)
class Guard:
    """A segment is legal while sign * (quantity - limit) >= 0, within a dead band; else the element goes to ``target``.

    ``quantity`` is "voltage", "current" or "state" of the branch itself, or of the branch named in ``of``, or
    "voltage rate" [V/s]: that of the solution within a mode, in which jumps from mode to mode do not show.
    """

    quantity: str
    sign: int
    limit: float
    target: str
    band: float
    of: str = ""
    jump: Jump | None = None


@dataclass(frozen=True)
class Law:
    """One straight piece: voltage_factor * v + current_factor * i + state_factor * state = constant + named inputs."""

    voltage_factor: float
    current_factor: float
    constant: float = 0.0
    inputs: tuple[str, ...] = ()
    state_factor: float = 0.0


@dataclass(frozen=True)
class Segment:
    """A named piece of an element: its law (None for an element without a branch) and the guards that end it."""

    name: str
    law: Law | None
    guards: tuple[Guard, ...] = ()


@dataclass(frozen=True)
class PiecewiseBranch:
    """A branch whose law changes: diode, triac, arc.  It rests in its first segment."""

    name: str
    plus: str
    minus: str
    segments: tuple[Segment, ...]


@dataclass(frozen=True)
class Watcher:
    """An element without a branch of its own that watches others, such as a diac on its capacitor."""

    name: str
    segments: tuple[Segment, ...]


@dataclass(frozen=True)
class Move:
    """What an event does in one segment; with ``sign`` != 0 only if sign * current of the branch >= threshold.

    ``idle``: the target has the same law and the same guards but for where they lead, so the circuit does not notice.
    """

    segment: str
    target: str
    sign: int = 0
    threshold: float = 0.0
    otherwise: str = ""
    idle: bool = False


@dataclass(frozen=True)
class Event:
    """A scheduled change of one element; segments without a move stay as they are."""

    name: str
    element: str
    moves: tuple[Move, ...] = field(default=())


Branch = (
    Resistor
    | Capacitor
    | Inductor
    | CoupledInductors
    | Windings
    | Source
    | SaturatingInductor
    | Friction
    | PiecewiseBranch
    | Watcher
)


def resistive(resistance: float, offset: float = 0.0, inputs: tuple[str, ...] = ()) -> Law:
    """The piece v = resistance * i + offset + inputs, which also holds for 0 ohm."""
    return Law(1.0, -resistance, offset, inputs)


def two_terminals(branch: Branch) -> tuple[tuple[str, str, str], ...]:
    """Name, plus node and minus node of every two-terminal thing in a branch."""
    if isinstance(branch, CoupledInductors):
        return tuple((coil.name, coil.plus, coil.minus) for coil in branch.coils)
    if isinstance(branch, Windings):
        return tuple((winding.name, winding.plus, winding.minus) for winding in branch.windings)
    if isinstance(branch, Watcher):
        return ()
    return ((branch.name, branch.plus, branch.minus),)
