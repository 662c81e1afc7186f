"""Fourier integrals of a trace, exact, from the ends of its pieces alone.

Inside a piece x' = M x, so X = integral of x exp(-j w t) solves (M - j w) X = [x exp(-j w t)] between its ends (by
parts; derived here).  Summed over all pieces of a mode that is one small system of equations a mode and frequency.  M
is singular at the source's own frequencies only: their sines and cosines, z = cos + j sin = A exp(j v t), are
integrated in closed form, A times the time spent where v = w, and drive the rest.
"""

from typing import Any

import numpy as np

from weldsim.engine.doors import door
from weldsim.engine.pieces import Pieces

_ends, _solve = door("readout_kernel", "ends"), door("readout_kernel", "solve")


def fourier_integrals(trace: Any, pieces: Pieces, turns: np.ndarray) -> np.ndarray:
    """Integral of x exp(-j turn t) over all time in each mode used, in quanta; of shape (modes, orders, n).

    ``turns`` [rad/quantum], none of them zero.
    """
    change, spent = np.zeros((len(pieces.used), len(turns), trace.system.size), complex), np.zeros(len(pieces.used))
    _ends(
        trace.tables.rungs,
        pieces.place(len(trace.equations)),
        pieces.time,
        pieces.mode,
        pieces.state,
        pieces.end,
        turns,
        *np.zeros((2, pieces.state.shape[1])),
        _pairs(change),
        spent,
    )
    own = _source(trace, pieces, turns, change=change, spent=spent)
    matrices = np.array([trace.equations[mode].matrix for mode in pieces.used]) * trace.quantum
    driving, rest = np.flatnonzero(own), np.flatnonzero(~own)
    right = change[:, :, rest] - change[:, :, driving] @ matrices[:, rest[:, None], driving].transpose(0, 2, 1)
    left, right = np.ascontiguousarray(matrices[:, rest[:, None], rest]), np.ascontiguousarray(right)
    _solve(left, turns, np.empty((*left.shape[1:], 2)), _pairs(right))
    change[:, :, rest] = right
    return change


def _pairs(numbers: np.ndarray) -> np.ndarray:
    """The same memory as pairs of real and imaginary part."""
    return numbers.view(float).reshape(*numbers.shape, 2)


def _source(trace: Any, pieces: Pieces, turns: np.ndarray, *, change: np.ndarray, spent: np.ndarray) -> np.ndarray:
    """Put integrals of the source's sines and cosines in place of their changes; tells which columns those are."""
    first = len(trace.system.states) + 2 * len(trace.system.inputs)
    start, own = pieces.state[0], np.zeros(change.shape[2], dtype=bool)
    for number, order in enumerate(trace.system.orders):
        k, speed = first + 2 * number, 2.0 * np.pi * order / trace.period
        own[k : k + 2] = True
        amplitude = (start[k + 1] + 1j * start[k]) * np.exp(-1j * speed * float(pieces.time[0]))
        locked = np.abs(speed - turns) < 1e-12 * speed
        sine, cosine = change[:, :, k].copy(), change[:, :, k + 1].copy()
        forward = (cosine + 1j * sine) / (1j * np.where(locked, 1.0, speed - turns))
        forward[:, locked] = (amplitude * spent)[:, None]
        backward = (cosine - 1j * sine) / (-1j * (speed + turns))
        change[:, :, k], change[:, :, k + 1] = (forward - backward) / 2j, (forward + backward) / 2.0
    return own
