"""An arc with a memory by itself: the rule of a weld's own ticks, driven by a current instead of a supply."""

import numpy as np

from weldsim.engine import wire_layout
from weldsim.engine.doors import door
from weldsim.parts.wire import WireConstants
from weldsim.runs.wire_places import constant_array

KEPT, LAST = slice(18, 20), 20  # places in the state of a wire: conductances after Cassie and Mayr [S], current [A]

_remember = door("wire_kernel", "remember")


class LoneArc:
    """The two conductances that a wire keeps of its arc, the wire's end on the work: no volts per length."""

    def __init__(self, wire: WireConstants, conductance: float) -> None:
        self._wire, self._state = constant_array(wire), np.zeros(wire_layout.STATES)
        self.conductances = (conductance, conductance)

    @property
    def conductances(self) -> tuple[float, float]:
        """After Cassie and after Mayr [S]."""
        cassie, mayr = self._state[KEPT].tolist()
        return cassie, mayr

    @conductances.setter
    def conductances(self, values: tuple[float, float]) -> None:
        self._state[KEPT] = values

    def tick(self, before: float, after: float, time: float) -> None:
        """Go on for a time [s] in which the current goes straight from one value to the other [A]."""
        self._state[LAST] = before
        _remember(self._state, self._wire, after, time)
