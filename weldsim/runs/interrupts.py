"""Ctrl-C where it would do harm: inside a file that is being written, and while processes are being started."""

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator


@contextlib.contextmanager
def held_back(note: Callable[[], None] = lambda: None) -> Iterator[None]:
    """Call ``note`` at Ctrl-C and let it through at the end; other threads than the main one never see it."""
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or before is None:
        yield
        return
    heard = []

    def hear(number: int, frame: object) -> None:
        heard.append(number)
        note()

    signal.signal(signal.SIGINT, hear)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if heard:
            signal.raise_signal(signal.SIGINT)


@contextlib.contextmanager
def blocked_for_children() -> Iterator[None]:
    """A process started meanwhile begins with Ctrl-C blocked, where the system knows how."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def leave_to_the_parent() -> None:
    """First act of a process started so: Ctrl-C is for the one that keeps the results."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
