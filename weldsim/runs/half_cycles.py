"""Half cycles of primary current, as the pieces of a run tell them."""

import numpy as np

from weldsim.engine.pieces import of_modes
from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass

DEVICE = "phase_control"
_PLUS, _MINUS = ("plus", "gated_plus"), ("minus", "gated_minus")  # how the names of its conducting segments begin


@dataclass(frozen=True)
class HalfCycle:
    """One half cycle of primary current.

    When it begins after the trigger [s], its polarity, peak [A] and I2t [A2 s].
    """

    begin: float
    polarity: int
    peak: float
    i2t: float


def last_polarity(trace: Trace) -> int:
    """Polarity of the last conduction of the device; 0 where there was none."""
    signs = _signs(trace)
    conducting = signs[signs != 0]
    return int(conducting[-1]) if len(conducting) else 0


def half_cycles(trace: Trace, begin: float) -> tuple[HalfCycle, ...]:
    """Half cycles of primary current: runs of pieces in which the device conducts with one polarity."""
    polarity = _signs(trace)
    new = polarity != 0
    new[1:] &= polarity[1:] != polarity[:-1]
    member = np.cumsum(new) - 1
    member[polarity == 0] = -1
    first = np.flatnonzero(new)
    if not len(first):
        return ()
    peaks, squares = trace.groups("primary.current", member)
    begins = trace.time[first] * trace.quantum - begin
    columns = (column.tolist() for column in (begins, polarity[first], peaks, squares))
    return tuple(HalfCycle(*row) for row in zip(*columns, strict=True))


def _signs(trace: Trace) -> np.ndarray:
    """Polarity in which the device conducts in each piece; 0 where it blocks."""
    return _polarities(trace)[trace.mode]


def conducting(trace: Trace) -> np.ndarray:
    """For every mode, whether the device conducts in it."""
    return _polarities(trace) != 0


def _polarities(trace: Trace) -> np.ndarray:
    """For every mode, the polarity in which the device conducts; 0 where it blocks."""
    number = [element.name for element in trace.system.elements].index(DEVICE)
    names = trace.system.elements[number].segments
    of_segment = [1 if name.startswith(_PLUS) else -1 if name.startswith(_MINUS) else 0 for name in names]
    return of_modes(trace, "polarity of the device", lambda signature: of_segment[signature[number]])
