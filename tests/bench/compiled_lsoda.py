"""The benchmark supply on a compiled LSODA: nothing of Python in the loop.  Needs numbalsoda.

The library has no events: the fall below holding is looked for between samples and found by false position, each trial
an
integration from the last sample before it.
"""

import numba
import numpy as np
from numbalsoda import lsoda, lsoda_sig

from tests.bench.peers import above_holding, right_hand_side, triac_side


@numba.cfunc(lsoda_sig)
def slopes(t, u, out, data):
    """Give x' in the library's calling form; data: the triac's flag, and whether the load is an arc."""
    given = numba.carray(data, 2)
    result = right_hand_side(t, numba.carray(u, 6), given[0] > 0.5, given[1] > 0.5)
    for i in range(6):
        out[i] = result[i]


ADDRESS = slopes.address


@numba.njit
def _reach(t0, t1, x, data, tolerances):
    states, success = lsoda(ADDRESS, x, np.array([t0, t1]), data, tolerances[0], tolerances[1])
    if not success:
        raise ArithmeticError("LSODA gave up")
    return states[1]


@numba.njit
def _holding_lost(t0, t1, x, side, data, tolerances):
    """Find when the current falls below holding in t0 .. t1, and the state there."""
    low, high = 0.0, t1 - t0
    at_low = above_holding(x, side)
    at_high = above_holding(_reach(t0, t1, x, data, tolerances), side)
    there, at_there = x, at_low
    span = 0.0
    for _ in range(60):
        span = high - at_high * (high - low) / (at_high - at_low)
        there = _reach(t0, t0 + span, x, data, tolerances)
        at_there = above_holding(there, side)
        if abs(at_there) < tolerances[1] or high - low < 1e-12:
            break
        if at_there > 0.0:
            low, at_low, at_high = span, at_there, 0.5 * at_high
        else:
            high, at_high, at_low = span, at_there, 0.5 * at_low
    return t0 + span, there


@numba.njit
def _samples_between(times, first, t0, t1):
    last = first
    while last < len(times) and times[last] <= t1:
        last += 1
    return last


@numba.njit
def integrate(times, switchings, arc, tolerances):
    """Give states and flags at the sample times."""
    states, flags = np.zeros((len(times), 6)), np.zeros(len(times), dtype=np.bool_)
    duration = times[-1]
    data = np.array([0.0, 1.0 if arc else 0.0])
    t, x, side, filled, gates = 0.0, np.zeros(6), 0.0, 1, 0
    while t < duration:
        at = switchings[gates]
        stop = min(at, duration)
        last = _samples_between(times, filled, t, stop)
        wanted = np.empty(last - filled + 2)
        wanted[0], wanted[-1] = t, stop
        wanted[1:-1] = times[filled:last]
        exact = last > filled and wanted[-2] == stop
        values, success = lsoda(ADDRESS, x, wanted[:-1] if exact else wanted, data, tolerances[0], tolerances[1])
        if not success:
            raise ArithmeticError("LSODA gave up")
        lost = -1
        if side != 0.0:
            for i in range(1, len(values)):
                if above_holding(values[i], side) < 0.0:
                    lost = i
                    break
        if lost > 0:
            kept = lost - 1
            t, x = _holding_lost(wanted[kept], wanted[lost], values[kept], side, data, tolerances)
        else:
            kept = last - filled
            t, x = stop, values[len(values) - 1].copy()
        states[filled : filled + kept] = values[1 : 1 + kept]
        flags[filled : filled + kept] = data[0] > 0.5
        filled += kept
        if lost > 0:
            data[0], side = 0.0, 0.0
        elif at <= duration and gates % 2 == 0:
            data[0], side, gates = 1.0, 0.0, gates + 1
        elif at <= duration:
            side = triac_side(x, arc)
            data[0], gates = abs(side), gates + 1
    return states, flags
