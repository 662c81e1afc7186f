"""The command ``weldsim`` as a process of its own: Ctrl-C is heard from the first moment, and ends it at once.

So does a polite request to end (SIGTERM: ``kill``, a time limit, a batch system), which counts as Ctrl-C.  What is
imported here, and before it, is as little as can be: until ``start`` an interrupt is answered by Python itself.
"""

import _thread
import os
import signal
import sys
import time
from types import TracebackType

INTERRUPTED = 130
AGAIN = 1.0  # [s] after which an interrupt is sent once more, as long as the work goes on
_HEARD = [False]  # whether there was an interrupt


def start() -> int:
    """Do what was typed; the exit code."""
    os.environ.setdefault("NUMBA_OPT", "1")  # no other functions are compiled in this process: see engine/compiled.py
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _hear)
        if signal.getsignal(signal.SIGTERM) is signal.SIG_DFL:
            signal.signal(signal.SIGTERM, _asked_to_end)
    sys.unraisablehook, sys.excepthook = _lost, _uncaught
    try:
        from weldsim.cli.main import main

        code = main()
        hear_no_more()  # what is left is to close down
    except KeyboardInterrupt:  # before anything was begun
        hear_no_more()
        sys.stderr.write("weldsim: interrupted\n")
        code = INTERRUPTED
    if code == INTERRUPTED:
        _leave()
    return code


def _leave() -> None:
    """End here: closing down, Python would tell of libraries that were met half made, or end by the signal itself."""
    import contextlib

    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError, AttributeError):  # nobody listens any more, or ever did
            stream.flush()
    os._exit(INTERRUPTED)


def interrupt_heard() -> bool:
    """Whether there was an interrupt: then what goes wrong is its doing, such as a library that was half loaded."""
    return _HEARD[0]


def hear_no_more() -> None:
    """From now on an interrupt of this process is not heard, where it was heard here before."""
    if signal.getsignal(signal.SIGINT) is _hear:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    if signal.getsignal(signal.SIGTERM) is _asked_to_end:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)


def _asked_to_end(number: int, frame: object) -> None:
    """Send the interrupt, which is held back where it would do harm."""
    signal.raise_signal(signal.SIGINT)


def _hear(number: int, frame: object) -> None:
    if not _HEARD[0]:
        _HEARD[0] = True
        _thread.start_new_thread(_insist, (_thread.get_ident(),))
    raise KeyboardInterrupt


def _insist(main_thread: int) -> None:
    """Send the interrupt again and again: a library may have kept it to itself, or the compiler's callbacks lost it."""
    while True:
        time.sleep(AGAIN)
        handler = signal.getsignal(signal.SIGINT)
        if handler in (None, signal.SIG_IGN, signal.default_int_handler):
            return
        if handler is not _hear:  # held back, where a file is being written
            continue
        if hasattr(signal, "pthread_kill"):
            signal.pthread_kill(main_thread, signal.SIGINT)
        else:
            _thread.interrupt_main()


def _lost(trouble: "sys.UnraisableHookArgs") -> None:
    """What Python can only print: nothing of it is told once there was an interrupt, which is its cause."""
    if not _HEARD[0]:
        sys.__unraisablehook__(trouble)


def _uncaught(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    """Libraries print an interrupt that meets them half loaded, then raise an error of their own: once is enough."""
    if not issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)
