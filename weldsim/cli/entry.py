"""The command ``weldsim`` as a process of its own: Ctrl-C is heard from the first moment, and ends it at once.

What is imported here, and before it, is as little as can be: until ``start`` an interrupt is answered by Python itself.
"""

import os
import signal
import sys
from types import TracebackType

INTERRUPTED = 130
AGAIN = 0.1  # [s] until an interrupt that was lost is sent once more
_HEARD = [False]  # whether there was an interrupt


def start() -> int:
    """Do what was typed; the exit code."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _hear)
    sys.unraisablehook, sys.excepthook = _lost, _uncaught
    try:
        from weldsim.cli.main import main

        code = main()
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # done: what is left is to close down
    except KeyboardInterrupt:  # before anything was begun
        signal.signal(signal.SIGINT, signal.SIG_IGN)
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


def _hear(number: int, frame: object) -> None:
    _HEARD[0] = True
    raise KeyboardInterrupt


def _lost(trouble: "sys.UnraisableHookArgs") -> None:
    """An interrupt inside a function that the compiler calls is dropped by Python; it is sent again a little later."""
    if not issubclass(trouble.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(trouble)
        return
    import _thread
    import threading

    timer = threading.Timer(AGAIN, _thread.interrupt_main)
    timer.daemon = True
    timer.start()


def _uncaught(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    """Libraries print an interrupt that meets them half loaded, then raise an error of their own: once is enough."""
    if not issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)
