"""Room for the compiled samples (sample_kernel.py)."""

import numpy as np

from weldsim.engine.layout import EIGHT, OFTEN


def room_to_sample(
    rows: np.ndarray, spacing: float, *, pieces: int, deep: int, signals: int, count: int
) -> tuple[np.ndarray, ...]:
    """Arrays for ``sample``: first sample of each piece, how often each mode was seen, tables, two states in eights and
    as they are, one more, what is found, two matrices.

    ``deep`` is how many numbers of a state, from the first on, are not padding.
    """
    modes, _, w = rows.shape
    eights = (signals if spacing == np.floor(spacing) else -(-signals // EIGHT)) + -(-w // EIGHT)
    states = np.zeros((2, -(-w // EIGHT) * EIGHT))
    return (
        np.empty(pieces + 1, np.int64),
        np.zeros(modes, np.int64),
        _aligned(min(modes, count // OFTEN), eights, deep),
        states[0],
        states[1],
        states[0, :w],
        states[1, :w],
        np.zeros(w),
        np.empty((1, EIGHT * max(signals, 1))),
        np.empty((2, w, w)),
    )


def _aligned(tables: int, eights: int, deep: int) -> np.ndarray:
    """Room for tables, zero (what is left in memory may be numbers so small that each costs much time); no eight lies
    across two lines of the cache.
    """
    room = np.zeros((tables * eights * deep + 1) * EIGHT)
    first = -room.ctypes.data // 8 % EIGHT
    return room[first : first + tables * eights * deep * EIGHT].reshape(tables, eights, deep, EIGHT)
