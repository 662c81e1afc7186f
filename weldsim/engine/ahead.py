"""Compiling the readout of runs in a process of its own, while the first run compiles the stepping: once a machine.

``python -m weldsim.engine.ahead`` calls each readout with nothing to read, so that it is compiled and cached.
"""

import contextlib
import os
import subprocess
import sys

import numpy as np

from weldsim.engine import extremes_kernel, readout_kernel
from weldsim.engine.compiled import cache_folder

_BESIDE: list[subprocess.Popen[bytes]] = []  # kept until the end: nobody waits for it


def compile_readouts() -> None:
    """Call what every study reads a run with on an empty log; the types of the arguments are those of a real one."""
    rungs, rows, place = np.zeros((1, 8, 8, 8)), np.zeros((1, 1, 8)), np.zeros(1, np.int64)
    time, mode, state = np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 8))
    log = (place, time, mode, state, 0)
    about, turns = np.zeros((1, 4), np.int64), np.zeros(1)
    extremes_kernel.extremes(rungs, rows, rows, rows, 0, *log, 0, about, np.zeros((1, 2)), np.zeros((1, 2), np.int64))
    readout_kernel.sample(rungs, rows, *log, 0, 1.0, np.zeros((1, 0)))
    readout_kernel.moments(rungs, *log, np.zeros((1, 8, 8, 8)))
    readout_kernel.gather(rungs, 0, np.zeros((8, 8, 8)))
    readout_kernel.ends(rungs, *log, turns, np.zeros((1, 1, 8), complex), np.zeros(1))
    readout_kernel.solve(np.eye(8)[None], turns, np.zeros((1, 1, 8), complex))


def compile_beside() -> None:
    """Start ``compile_readouts`` in another process; nothing is lost where that does not work."""
    if cache_folder() is None or (os.cpu_count() or 1) < 2:
        return
    with contextlib.suppress(OSError):
        nothing = subprocess.DEVNULL
        command = [sys.executable, "-P", "-m", "weldsim.engine.ahead"]
        _BESIDE.append(subprocess.Popen(command, stdin=nothing, stdout=nothing, stderr=nothing))


if __name__ == "__main__":
    compile_readouts()
