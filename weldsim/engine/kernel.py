"""The compiled loop: step, guard, locate, switch, log.  It knows nothing of welding and imports nothing of the project.

Time is an integer count of quanta; rung k of a mode's ladder advances the state by 2^k quanta.  A run is logged as
*pieces*: start time, mode and state at each change of mode.  Between two entries the solution is known in closed form,
so samples, integrals and extremes are read out of the pieces afterwards (readout_kernel.py), without a trace here.

Arrays of ``Tables`` (first axis: mode):

    rungs   (modes, R, n, w)   propagators, transposed: rungs[m, k, j, i] = E_k[i, j]; w is n rounded up to 4
    guards  (modes, G, w)      scaled rows, dead band folded into the constant's column: legal while >= 0
    slopes  (modes, G, w)      guard row times M
    finders (modes, K, G, w)   guard row times E_k, for locating a crossing by dot products
    guard_count (modes,)       after_guard (modes, G): next mode, -1 not known yet
    jump_state (modes, G), jump_row (modes, G, w), jump_energy (modes, G): what a guard does to the state (-1: nothing)
    guard_event (modes, G), guard_later (modes, G), guard_delay (modes, G): event now, event later, delay in quanta
    conditions (modes, V, w)   condition row of event v, legal while >= 0;  after_event (modes, V, 2): [otherwise, target]
    fine    (modes, 2)         rung to use and for how long (quanta) after the mode was entered
    phase   (4,)               first source row, number of sources, quanta of a mains period, top rung
    orders  (sources,)         harmonic order of each source

``control`` (int64): 0 time, 1 mode, 2 settle flag, 3 next scheduled event, 4 pieces logged, 5 pending kind (1 guard, 2 event),
6 pending index, 7 pending branch, 8 flips at this instant, 9 time the mode was entered, 10 steps made, 11 located events, 12 changes of mode,
13 limit of mode changes, 14 first flip's count at this time (reserved), 15 number of later events.
"""

from typing import NamedTuple

import numpy as np

from weldsim.engine.compiled import compiled

DONE, NEED_MODE, LOG_FULL, UNSETTLED, TOO_MANY, NOT_FINITE = 0, 1, 2, 3, 4, 5


class Tables(NamedTuple):
    """Flat arrays of all assembled modes (see the module's docstring)."""

    rungs: np.ndarray
    guards: np.ndarray
    slopes: np.ndarray
    finders: np.ndarray
    guard_count: np.ndarray
    after_guard: np.ndarray
    jump_state: np.ndarray
    jump_row: np.ndarray
    jump_energy: np.ndarray
    guard_event: np.ndarray
    guard_later: np.ndarray
    guard_delay: np.ndarray
    conditions: np.ndarray
    after_event: np.ndarray
    fine: np.ndarray
    phase: np.ndarray
    orders: np.ndarray


class Log(NamedTuple):
    """Room for pieces: start time, mode, cause (guard index, or -2 - event, or -1) and state."""

    time: np.ndarray
    mode: np.ndarray
    cause: np.ndarray
    state: np.ndarray


@compiled
def multiply(propagator, x, y):
    """y = E x for a transposed, padded propagator."""
    n, w = propagator.shape
    for i in range(w):
        y[i] = 0.0
    for j in range(n):
        a = x[j]
        column = propagator[j]
        for i in range(w):
            y[i] += column[i] * a


@compiled
def dot(row, x):
    """Scalar product over the padded length."""
    total = 0.0
    for i in range(row.shape[0]):
        total += row[i] * x[i]
    return total


@compiled
def leap(rungs, x, span, y, z):
    """y = state after ``span`` quanta: one product per set bit, z is scratch."""
    w = x.shape[0]
    for i in range(w):
        y[i] = x[i]
    k = 0
    top = rungs.shape[0] - 1
    while span > 0:
        if k == top:
            for _ in range(span):
                multiply(rungs[k], y, z)
                for i in range(w):
                    y[i] = z[i]
            return
        if span & 1:
            multiply(rungs[k], y, z)
            for i in range(w):
                y[i] = z[i]
        span >>= 1
        k += 1


@compiled
def set_clock(x, time, phase, orders):
    """Write the sources' sines and cosines from the clock."""
    first, period = phase[0], phase[2]
    angle = 2.0 * np.pi * (time % period) / period
    for s in range(orders.shape[0]):
        x[first + 2 * s] = np.sin(orders[s] * angle)
        x[first + 2 * s + 1] = np.cos(orders[s] * angle)


@compiled
def write_log(log, control, cause, x):
    """Append the piece that begins now."""
    p = control[4]
    log.time[p] = control[0]
    log.mode[p] = control[1]
    log.cause[p] = cause
    for i in range(log.state.shape[1]):
        log.state[p, i] = x[i]
    control[4] = p + 1


@compiled
def change_mode(target, cause, log, control, x):
    """Enter another mode and have its guards looked at."""
    control[1] = target
    control[2] = 1
    control[9] = control[0]
    control[12] += 1
    write_log(log, control, cause, x)


@compiled
def fire(tables, g, log, control, x, later, ledger):
    """Perform what guard g asks for; False if the next mode is not assembled yet."""
    mode = control[1]
    target = tables.after_guard[mode, g]
    event = tables.guard_event[mode, g]
    if target < 0:
        control[5], control[6], control[7] = 1, g, 0
        return False
    branch = 0
    after = target
    if event >= 0:
        if dot(tables.conditions[target, event], x) >= 0.0:
            branch = 1
        after = tables.after_event[target, event, branch]
        if after < 0:
            control[5], control[6], control[7] = 3, event, branch
            control[14] = target
            return False
    state = tables.jump_state[mode, g]
    if state >= 0:
        value = dot(tables.jump_row[mode, g], x)
        ledger[0] += 0.5 * tables.jump_energy[mode, g] * (x[state] * x[state] - value * value)
        x[state] = value
    if tables.guard_later[mode, g] >= 0 and control[15] < later.shape[0]:
        q = control[15]
        later[q, 0] = control[0] + tables.guard_delay[mode, g]
        later[q, 1] = tables.guard_later[mode, g]
        control[15] = q + 1
    change_mode(target, g, log, control, x)
    if event >= 0 and after != target:
        change_mode(after, -2 - event, log, control, x)
    control[8] += 1
    return True


@compiled
def settle(tables, log, control, x, later, ledger):
    """Change violated elements one by one, the worst first, until the mode is consistent.  Returns a code (DONE: settled)."""
    while True:
        mode = control[1]
        worst, which = 0.0, -1
        for g in range(tables.guard_count[mode]):
            value = dot(tables.guards[mode, g], x)
            if value < worst:
                worst, which = value, g
        if which < 0:
            control[2] = 0
            control[8] = 0
            return DONE
        if control[4] + 2 >= log.time.shape[0]:
            return LOG_FULL
        if control[8] > 60:
            return UNSETTLED
        if not fire(tables, which, log, control, x, later, ledger):
            return NEED_MODE


@compiled
def apply_event(tables, event, log, control, x):
    """Let a scheduled event change its element; False if the next mode is not assembled yet."""
    mode = control[1]
    branch = 1 if dot(tables.conditions[mode, event], x) >= 0.0 else 0
    target = tables.after_event[mode, event, branch]
    if target < 0:
        control[5], control[6], control[7] = 2, event, branch
        return False
    control[8] = 0
    if target != mode:
        change_mode(target, -2 - event, log, control, x)
    return True


@compiled
def locate(tables, mode, top, x, y, suspects, suspect_count, control):
    """Advance x to the first quantum at which a suspected guard is violated; returns that guard."""
    w = x.shape[0]
    for r in range(top - 1, -1, -1):
        legal = True
        for s in range(suspect_count):
            if dot(tables.finders[mode, r, suspects[s]], x) < 0.0:
                legal = False
                break
        if legal:
            multiply(tables.rungs[mode, r], x, y)
            for i in range(w):
                x[i] = y[i]
            control[0] += 1 << r
    multiply(tables.rungs[mode, 0], x, y)
    for i in range(w):
        x[i] = y[i]
    control[0] += 1
    worst, which = np.inf, suspects[0]
    for s in range(suspect_count):
        value = dot(tables.guards[mode, suspects[s]], x)
        if value < worst:
            worst, which = value, suspects[s]
    return which


@compiled
def violations(tables, mode, y, span, before, suspects):
    """Guards violated at the end state y (listed in ``suspects``); -1 if one may dip below its limit inside the step.

    ``before`` holds value and slope of each guard at the start of the step and gets those of the end.  For a guard that
    falls at the start and rises at the end, the two tangents bound a convex dip from below.
    """
    count = 0
    dip = False
    for g in range(tables.guard_count[mode]):
        value = dot(tables.guards[mode, g], y)
        slope = dot(tables.slopes[mode, g], y)
        if value < 0.0:
            suspects[count] = g
            count += 1
        elif before[g, 1] < 0.0 and slope > 0.0 and before[g, 0] >= 0.0:
            at = (value - before[g, 0] - slope * span) / (before[g, 1] - slope)
            if before[g, 0] + before[g, 1] * at < 0.0:
                dip = True
        before[g, 2] = value
        before[g, 3] = slope
    if count == 0 and dip:
        return -1
    return count


@compiled
def step_rung(tables, control, limit):
    """The rung that the mode allows now: finer for a while after it was entered, where it rings."""
    mode = control[1]
    k = tables.phase[3]
    if control[0] - control[9] < tables.fine[mode, 1]:
        k = tables.fine[mode, 0]
    return min(k, limit)


@compiled
def highest_bit(span):
    """Position of the highest set bit."""
    k = 0
    while span > 1:
        span >>= 1
        k += 1
    return k


@compiled
def prepare(tables, mode, x, before):
    """Values and slopes of the guards at the start of a step."""
    for g in range(tables.guard_count[mode]):
        before[g, 0] = dot(tables.guards[mode, g], x)
        before[g, 1] = dot(tables.slopes[mode, g], x)


@compiled
def next_stop(control, schedule_time, later, end):
    """Time of the next scheduled or later event, at most ``end``."""
    stop = end
    if control[3] < schedule_time.shape[0]:
        stop = min(stop, schedule_time[control[3]])
    for q in range(control[15]):
        stop = min(stop, later[q, 0])
    return stop


@compiled
def due_event(control, schedule_time, schedule_event, later):
    """The event due now (-1: none) and where it stands: -1 in the schedule, else its place among the later ones."""
    for q in range(control[15]):
        if later[q, 0] <= control[0]:
            return later[q, 1], q
    if control[3] < schedule_time.shape[0] and schedule_time[control[3]] <= control[0]:
        return schedule_event[control[3]], -1
    return -1, -1


@compiled
def drop_event(control, later, place):
    """Take an event that has happened from its list."""
    if place < 0:
        control[3] += 1
        return
    last = control[15] - 1
    later[place, 0] = later[last, 0]
    later[place, 1] = later[last, 1]
    control[15] = last


@compiled
def advance(tables, log, control, x, schedule_time, schedule_event, later, ledger, end, quantum):
    """Run until ``end`` (quanta) or until Python is needed; returns a code.  Everything is kept, so a call continues the last."""
    w = x.shape[0]
    y = np.empty(w)
    z = np.empty(w)
    suspects = np.empty(tables.guards.shape[1], np.int64)
    before = np.empty((tables.guards.shape[1], 4))
    ready = False
    limit = 62
    lowest = tables.phase[3] - 13
    while True:
        if control[2] == 1:
            code = settle(tables, log, control, x, later, ledger)
            if code != DONE:
                return code
            ready = False
            if control[12] > control[13]:
                return TOO_MANY
        if control[4] + 4 >= log.time.shape[0]:
            return LOG_FULL
        if control[0] >= end:
            return DONE
        event, place = due_event(control, schedule_time, schedule_event, later)
        if event >= 0:
            if not apply_event(tables, event, log, control, x):
                return NEED_MODE
            drop_event(control, later, place)
            set_clock(x, control[0], tables.phase, tables.orders)
            continue
        mode = control[1]
        span = next_stop(control, schedule_time, later, end) - control[0]
        k = step_rung(tables, control, limit)
        if not ready:
            prepare(tables, mode, x, before)
            ready = True
        if span >= 1 << k:
            span = 1 << k
            multiply(tables.rungs[mode, k], x, y)
        elif limit < 62:
            k = min(k, highest_bit(span))
            span = 1 << k
            multiply(tables.rungs[mode, k], x, y)
        else:
            leap(tables.rungs[mode], x, span, y, z)
            k = -1
        count = violations(tables, mode, y, span * quantum, before, suspects)
        control[10] += 1
        if count == 0 or (count < 0 and k >= 0 and k <= lowest):
            if not np.isfinite(y[0]):
                return NOT_FINITE
            for i in range(w):
                x[i] = y[i]
            control[0] += span
            for g in range(tables.guard_count[mode]):
                before[g, 0] = before[g, 2]
                before[g, 1] = before[g, 3]
            limit = 62
            if control[10] & 63 == 0:
                set_clock(x, control[0], tables.phase, tables.orders)
        elif count < 0 or k < 0:
            limit = highest_bit(span) if (k < 0 and span & (span - 1)) else highest_bit(span) - 1
        elif count > 0:
            guard = locate(tables, mode, k, x, y, suspects, count, control)
            control[11] += 1
            control[8] = 0
            limit = 62
            ready = False
            if not fire(tables, guard, log, control, x, later, ledger):
                return NEED_MODE
