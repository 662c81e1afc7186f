"""Compiling all but the stepping in a process of its own, while the first run compiles the stepping: once a machine.

``python -m weldsim.engine.ahead`` calls each function with next to nothing, so that it is compiled and cached.  It
loads nothing heavy until it has seen to it that Ctrl-C ends it at once: the compiler loses what Python makes of it.
"""

import contextlib
import os
import signal
import subprocess
import sys

_BESIDE: list[subprocess.Popen[bytes]] = []  # kept until the end: nobody waits for it


def compile_the_rest() -> None:
    """Call what every study needs, the last first: the first run meanwhile comes from the other end.

    The types of the arguments are those of a run.
    """
    import numpy as np

    from weldsim.engine.doors import door
    from weldsim.engine.sample_room import room_to_sample

    table, states, whole = np.zeros((1, 8, 8, 8)), np.zeros((9, 8)), np.zeros(1, np.int64)
    locate = door("kernel", "locate")  # a quarter of the stepping, ready before the first run comes to it
    locate.prepare(table, table[0], table, whole, 0, 0, 0, states[0], states[0], states, whole, 0, 0)
    rungs, rows, place = np.zeros((1, 8, 8, 8)), np.zeros((1, 1, 8)), np.zeros(1, np.int64)
    time, mode, state = np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 8))
    log = (place, time, mode, state, 0)
    about, turns, square = np.zeros((1, 7), np.int64), np.zeros(1), np.zeros((8, 8))
    change = np.zeros((1, 1, 8, 2))
    door("readout_kernel", "solve")(np.eye(8)[None], turns, np.zeros((8, 8, 2)), change)
    door("readout_kernel", "ends")(rungs, *log, turns, *square[:2], change, np.zeros(1))
    door("extremes_kernel", "extremes")(
        rungs, rows, rows, rows, 0, *log, 0, about, about, square, square, np.zeros((1, 2)), np.zeros((1, 2), np.int64)
    )
    door("readout_kernel", "second_moments")(
        rungs, place, rungs, rungs[0, :1], np.zeros(2, np.int64), rungs[0], 1.0, rungs[0], rungs[0, :1]
    )
    door("readout_kernel", "moments")(rungs, *log, *square[:2], rungs)
    room = room_to_sample(rows, 1.0, pieces=0, deep=8, signals=1, count=0)
    door("sample_kernel", "sample")(rungs, rows, *log, 0, 1.0, np.zeros((1, 0)), room)
    door("readout_kernel", "carry")(rungs, 0, 0, square, square)
    door("kernel", "leap")(rungs, 0, square[0], 0, *square[:2])
    row, table = np.zeros((1, 8)), np.zeros((1, 1, 8))
    door("kernel", "climb")(row, 1.0, 0, 0, 0, np.zeros(0), row, row, table, table)


def compile_beside() -> None:
    """Start ``compile_the_rest`` in another process; nothing is lost where that does not work."""
    from weldsim.engine.kept import cache_folder

    if cache_folder() is None or (os.cpu_count() or 1) < 2:
        return
    with contextlib.suppress(OSError):
        nothing = subprocess.DEVNULL
        command = [sys.executable, "-P", "-m", "weldsim.engine.ahead"]
        _BESIDE.append(subprocess.Popen(command, stdin=nothing, stdout=nothing, stderr=nothing))


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    os.environ.setdefault("NUMBA_OPT", "1")  # see compiled.py
    compile_the_rest()
