"""Mode libraries that lie idle, for whoever asks for the same supply next.

Modes are dear to assemble and do not depend on dial, timing or state; what a run gives does not depend on which modes
were known.  A library is one holder's at a time, since a run may drop its modes.
"""

import threading
import weakref
from collections.abc import Callable

from weldsim.engine.library import ModeLibrary

KEPT_BYTES = 250e6  # of all idle libraries; the latest is kept in any case


class _Idle(threading.local):
    """The idle libraries of a thread, the longest idle first."""

    def __init__(self) -> None:
        self.libraries: dict[str, ModeLibrary] = {}


_IDLE = _Idle()


def leased(holder: object, key: str, make: Callable[[], ModeLibrary]) -> ModeLibrary:
    """The idle library of this name, or a new one; it lies idle again once its holder is gone."""
    idle = _IDLE.libraries
    library = idle.pop(key, None) or make()
    weakref.finalize(holder, _take_back, idle, key, library).atexit = False
    return library


def _take_back(idle: dict[str, ModeLibrary], key: str, library: ModeLibrary) -> None:
    idle.pop(key, None)
    idle[key] = library
    while len(idle) > 1 and sum(one.bytes_used for one in idle.values()) > KEPT_BYTES:
        idle.pop(next(iter(idle)))
