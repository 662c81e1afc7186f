"""Processes of our own that compute cases, deaf to Ctrl-C: it is for the process that keeps the results.

They end with that process, however it ends: killed, it can tell nobody, and they would wait for work for ever.
"""

import contextlib
import multiprocessing
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from multiprocessing import connection, resource_tracker
from typing import Any, TypeVar

from weldsim.runs.interrupts import blocked_for_children, held_back, leave_to_the_parent

Done = TypeVar("Done")


class _Processes(ProcessPoolExecutor):
    """Processes that never hear Ctrl-C, not even while they start, which is when they are given their first work."""

    def submit(self, work: Callable[..., Done], /, *arguments: Any, **named: Any) -> Future[Done]:
        """Hand out a piece of work; a process may be started for it."""
        with held_back(), blocked_for_children():
            return super().submit(work, *arguments, **named)


def _begin() -> None:
    """First act of a process."""
    leave_to_the_parent()
    threading.Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


@contextlib.contextmanager
def processes(count: int) -> Iterator[Executor]:
    """Processes of our own, started afresh; they end at once where the block ends, whatever they are doing."""
    others = set(multiprocessing.active_children())
    if os.name == "posix":
        with held_back():
            resource_tracker.ensure_running()  # now, since it unblocks Ctrl-C when it starts
    context = multiprocessing.get_context("spawn")
    pool = _Processes(count, mp_context=context, initializer=_begin)
    try:
        yield pool
    finally:
        with held_back():
            for process in set(multiprocessing.active_children()) - others:
                process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)
