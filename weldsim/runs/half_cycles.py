"""Half cycles of primary current, as the pieces of a run tell them."""

from dataclasses import dataclass

import numpy as np

from weldsim.engine.trace import Trace

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
    new = np.concatenate(([True], polarity[1:] != polarity[:-1])) & (polarity != 0)
    member = np.where(polarity != 0, np.cumsum(new) - 1, -1)
    if not new.any():
        return ()
    peaks, squares = trace.groups("primary.current", member)
    return tuple(
        HalfCycle(float(trace.time[p] * trace.quantum) - begin, int(polarity[p]), float(peak), float(square))
        for p, peak, square in zip(np.nonzero(new)[0], peaks, squares, strict=True)
    )


def _signs(trace: Trace) -> np.ndarray:
    """Polarity in which the device conducts in each piece; 0 where it blocks."""
    number = [element.name for element in trace.system.elements].index(DEVICE)
    names = trace.system.elements[number].segments
    of_segment = [1 if name.startswith(_PLUS) else -1 if name.startswith(_MINUS) else 0 for name in names]
    used, place = np.unique(trace.mode, return_inverse=True)
    return np.array([of_segment[trace.signatures[mode][number]] for mode in used], dtype=np.int64)[place]


def conducting(trace: Trace) -> np.ndarray:
    """For every mode, whether the device conducts in it."""
    number = [element.name for element in trace.system.elements].index(DEVICE)
    names = trace.system.elements[number].segments
    return np.array([names[signature[number]].startswith((*_PLUS, *_MINUS)) for signature in trace.signatures])
