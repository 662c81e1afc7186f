"""The handover sheet between network and engine: a switched linear system.

A supply is, between two switchings, one linear circuit (a *mode*).  This sheet says what the engine may know
of it: plain numbers and names, nothing of welding.  The extended state vector is, in this order:

* ``len(states)`` circuit states (capacitor voltages, currents or flux linkages, friction currents),
* two entries per input: its value and its slope, ``value' = slope``, ``slope' = 0``,
* two entries per source order k: ``sin(k w t)`` and ``cos(k w t)`` with t counted from a zero crossing of the mains,
* the constant 1, always last.

A *segment* is one straight piece of one element (a diode blocked, a core beyond its knee); a *signature* is the tuple
of the segments of all elements and names a mode.
"""

from collections.abc import Callable, Mapping
from dataclasses import field
from functools import cached_property

import numpy as np

from weldsim.frozen import dataclass

Signature = tuple[int, ...]


@dataclass(frozen=True)
class Signal:
    """One output row: its name, its unit, and what a plot axis calls it."""

    name: str
    unit: str
    label: str = ""


@dataclass(frozen=True)
class Element:
    """A part that changes its piece: its name and the names of its segments."""

    name: str
    segments: tuple[str, ...]


@dataclass(frozen=True)
class Action:
    """What a guard does besides changing its element: a jump of one state, and an event given to another element.

    ``state`` gets the value ``row @ x`` (x before the jump); -1 for no jump.  ``energy_factor`` is the k of the stored
    energy k x^2 / 2 of that state, so that the ledger can count what the jump takes away.  ``event`` happens at once,
    ``later_event`` after ``delay`` [s]; -1 for none.
    """

    state: int = -1
    row: np.ndarray | None = None
    energy_factor: float = 0.0
    event: int = -1
    later_event: int = -1
    delay: float = 0.0


@dataclass(frozen=True)
class EventRule:
    """What a scheduled event does to one element.

    ``targets[segment]`` is the new segment.  Where ``conditions[segment]`` is an output index (not -1), the target
    holds only if ``sign * output >= threshold``; otherwise the segment becomes ``otherwise[segment]``.  Where
    ``idle[segment]`` is true the target has the same equations and the same guards, which may lead elsewhere: a run
    need not stop for the event.
    """

    name: str
    element: int
    targets: tuple[int, ...]
    conditions: tuple[int, ...]
    signs: tuple[float, ...]
    thresholds: tuple[float, ...]
    otherwise: tuple[int, ...]
    idle: tuple[bool, ...] = ()


@dataclass(frozen=True)
class LedgerEntry:
    """One line of the energy ledger: power = voltage output x current output.

    ``role`` is "source" (energy given to the circuit, counted positive when it flows in), "loss" or "load".
    """

    part: str
    voltage: int
    current: int
    role: str


@dataclass(frozen=True)
class ModeEquations:
    """One mode: x' = matrix @ x, outputs y = outputs @ x, legal while guard_rows @ x >= -guard_bands.

    Guard g, once violated, changes element ``guard_elements[g]`` to segment ``guard_targets[g]`` and performs
    ``system.actions[guard_actions[g]]`` (-1: none).  ``fine`` is the matrix in the widest floats, where it was made in
    them: what is slow in a stiff mode is a small difference of its terms.
    """

    matrix: np.ndarray  # (n, n), n = system.size
    outputs: np.ndarray  # (m, n)
    guard_rows: np.ndarray  # (g, n)
    guard_bands: np.ndarray  # (g,) dead band, about 1e-11 of the quantity's full scale
    guard_elements: np.ndarray  # (g,) int
    guard_targets: np.ndarray  # (g,) int
    guard_actions: np.ndarray  # (g,) int
    fine: np.ndarray | None = None


@dataclass(frozen=True)
class SwitchedSystem:
    """Everything the engine needs of a supply; dial, timing and initial state are not in it.

    An element whose guard takes it out of a segment takes those ``alongside`` with it that are in the same segment:
    elements alike across the same nodes, whose guards there watch the same quantity.
    """

    states: tuple[str, ...]
    inputs: tuple[str, ...]
    orders: tuple[int, ...]  # source harmonics, fundamental first
    frequency: float  # [Hz]
    signals: tuple[Signal, ...]
    elements: tuple[Element, ...]
    events: tuple[EventRule, ...]
    actions: tuple[Action, ...]
    ledger: tuple[LedgerEntry, ...]
    assemble: Callable[[Signature], ModeEquations]
    stored_energy: Callable[[np.ndarray], dict[str, float]]  # circuit states -> part -> J
    start: Callable[..., tuple[np.ndarray, Signature]]  # start(**initial values) -> (x before the sources, signature)
    guard_targets: Callable[[Signature], np.ndarray] | None = None  # as in ModeEquations, without assembling
    alongside: Mapping[tuple[int, int], tuple[int, ...]] = field(default_factory=dict)  # (element, segment) -> elements
    most_guards: int = 16  # hint: guards that a mode has at most
    notes: tuple[str, ...] = field(default=())

    def leads(self, signature: Signature) -> np.ndarray:
        """Where the guards of a mode lead, in the order of its equations."""
        return self.guard_targets(signature) if self.guard_targets else self.assemble(signature).guard_targets

    def after(self, signature: Signature, element: int, segment: int) -> Signature:
        """The signature that a guard leads to which asks for a segment of an element."""
        moving = {element} | {
            other
            for other in self.alongside.get((element, signature[element]), ())
            if signature[other] == signature[element]
        }
        return tuple(segment if e in moving else present for e, present in enumerate(signature))

    @cached_property
    def size(self) -> int:
        """Length of the extended state vector."""
        return len(self.states) + 2 * len(self.inputs) + 2 * len(self.orders) + 1

    @cached_property
    def signal_numbers(self) -> dict[str, int]:
        """Number of each signal by its name."""
        return {signal.name: number for number, signal in enumerate(self.signals)}
