"""Room for tables of which most is never written."""

import math
import mmap

import numpy as np

ON_DEMAND = hasattr(mmap, "MAP_PRIVATE")  # not on Windows, where what is asked for counts at once


def untouched(*shape: int, dtype: type = np.float64) -> np.ndarray:
    """Zeros that take memory page by page, as they are written.

    numpy asks for pages of megabytes for an array of megabytes, and to have those cleared takes longer than to
    assemble the modes that are written there.
    """
    if not ON_DEMAND:  # numpy does not ask for large pages there
        return np.zeros(shape, dtype)
    count = math.prod(shape)
    room = mmap.mmap(-1, max(1, count) * np.dtype(dtype).itemsize, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
    return np.frombuffer(room, dtype, count=count).reshape(shape)
