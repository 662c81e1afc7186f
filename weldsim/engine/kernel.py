"""The compiled loop: step, guard, locate, switch, log.  It knows nothing of welding and imports nothing of the project.

Time is an integer count of quanta; rung k of a mode's ladder advances the state by 2^k quanta.  A run is logged as
*pieces*: start time, mode and state at each change of mode.  Between two entries the solution is known in closed form,
so samples, integrals and extremes are read out of the pieces afterwards (readout_kernel.py), without a trace here.

Arrays of ``Tables`` (first axis: mode; n states, w = n rounded up to 4, G = most guards of a mode rounded up to 4):

    rungs   (modes, R, n, w)   propagators, rows padded with zeros
    watch   (modes, 2 G, w)    guard rows (legal while >= 0; scaled, dead band folded into the constant), then their
        slopes
    guard_count (modes,)       guards that a mode has
    finders (modes, K, G, w)   guard row times E_k, for locating a crossing by dot products
    after_guard (modes, G)     next mode, -1 not known yet
    jump_state (modes, G), jump_row (modes, G, w), jump_energy (modes, G): what a guard does to the state (-1: nothing)
    guard_event (modes, G), guard_later (modes, G), guard_delay (modes, G): event now, event later, delay in quanta
    plain   (modes, G)         1 where a guard neither makes a jump nor gives an event
    conditions (modes, V, w)   condition row of event v, legal while >= 0;  after_event (modes, V, 2): [otherwise,
    target]
    fine    (modes, 2)         rung to use and for how long (quanta) after the mode was entered
    phase   (4,)               first source row, number of sources, quanta of a mains period, top rung
    orders  (sources,)         harmonic order of each source

The hot loop hands plain arrays and numbers to its helpers: slices and tuples of arrays cost more than the arithmetic.

``control`` (int64): 0 time, 1 mode, 2 settle flag, 3 next scheduled event, 4 pieces logged, 5 pending kind (1 guard,
2 event, 3 event of a guard), 6 pending index, 7 pending branch, 8 flips at this instant, 9 time the mode was entered,
10 steps made, 11 located events, 12 changes of mode, 13 limit of mode changes, 14 mode that a guard's event starts
from, 15 number of later events.

``account`` (float): 0 energy taken away by jumps of the state [J], 1 scale of all sources (the mains tolerance).
"""

from typing import NamedTuple

import numpy as np

from weldsim.engine.compiled import compiled

DONE, NEED_MODE, LOG_FULL, UNSETTLED, TOO_MANY, NOT_FINITE = 0, 1, 2, 3, 4, 5


class Tables(NamedTuple):
    """Flat arrays of all assembled modes (see the module's docstring)."""

    rungs: np.ndarray
    watch: np.ndarray
    guard_count: np.ndarray
    finders: np.ndarray
    after_guard: np.ndarray
    jump_state: np.ndarray
    jump_row: np.ndarray
    jump_energy: np.ndarray
    guard_event: np.ndarray
    guard_later: np.ndarray
    guard_delay: np.ndarray
    plain: np.ndarray
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
def square_up(a, b, c):
    """c = a b for small square matrices."""
    n = a.shape[0]
    for i in range(n):
        for j in range(n):
            c[i, j] = 0.0
        for k in range(n):
            factor = a[i, k]
            if factor != 0.0:
                for j in range(n):
                    c[i, j] += factor * b[k, j]


@compiled
def exact_rows(f, span, states, inputs, omegas):
    """Write the rows of F = exp(M span) - 1 that are known in closed form: inputs, sines and cosines, the constant."""
    n = f.shape[0]
    for i in range(states, n):
        for j in range(n):
            f[i, j] = 0.0
    row = states
    for _ in range(inputs):
        f[row, row + 1] = span
        row += 2
    for s in range(omegas.shape[0]):
        half = np.sin(0.5 * omegas[s] * span)
        sine = np.sin(omegas[s] * span)
        f[row, row] = -2.0 * half * half
        f[row + 1, row + 1] = f[row, row]
        f[row, row + 1] = sine
        f[row + 1, row] = -sine
        row += 2


@compiled
def climb(matrix, quantum, extra, states, inputs, omegas, rungs):
    """Fill rungs[k, :, :n] with exp(M quantum 2^k), in increments from quantum / 2^extra upwards (see ladder.py)."""
    n = matrix.shape[0]
    first = quantum * 0.5**extra
    small = matrix * first
    f, g = np.zeros((n, n)), np.zeros((n, n))
    for i in range(n):
        f[i, i] = 1.0
    for term in range(16, 1, -1):  # Horner: 1 + a/2 (1 + a/3 (...)); norm at most 1/4
        square_up(small, f, g)
        for i in range(n):
            for j in range(n):
                f[i, j] = g[i, j] / term
            f[i, i] += 1.0
    square_up(small, f, g)
    f, g = g, f
    exact_rows(f, first, states, inputs, omegas)
    for k in range(-extra, rungs.shape[0]):
        if k >= 0:
            for i in range(n):
                for j in range(n):
                    rungs[k, i, j] = f[i, j]
                rungs[k, i, i] += 1.0
        square_up(f, f, g)
        for i in range(n):
            for j in range(n):
                f[i, j] = 2.0 * f[i, j] + g[i, j]
        exact_rows(f, quantum * 2.0 ** (k + 1), states, inputs, omegas)


@compiled
def multiply(rungs, m, k, x, y):
    """y = E x for rung k of mode m."""
    n, w = rungs.shape[2], rungs.shape[3]
    for i in range(n):
        total = 0.0
        for j in range(w):
            total += rungs[m, k, i, j] * x[j]
        y[i] = total


@compiled
def look(watch, count, m, x, values):
    """Values of the guards of mode m at state x, and behind them their slopes."""
    half, w = values.shape[0] // 2, watch.shape[2]
    for g in range(count):
        value, slope = 0.0, 0.0
        for j in range(w):
            value += watch[m, g, j] * x[j]
            slope += watch[m, half + g, j] * x[j]
        values[g] = value
        values[half + g] = slope


@compiled
def dot(row, x):
    """Scalar product over the padded length."""
    total = 0.0
    for i in range(row.shape[0]):
        total += row[i] * x[i]
    return total


@compiled
def leap(rungs, m, x, span, y, z):
    """y = state of mode m after ``span`` quanta from x: one product per set bit, z is scratch."""
    w = x.shape[0]
    for i in range(w):
        y[i] = x[i]
    k = 0
    top = rungs.shape[1] - 1
    while span > 0:
        repeat = span if k == top else span & 1
        for _ in range(repeat):
            multiply(rungs, m, k, y, z)
            for i in range(w):
                y[i] = z[i]
        if k == top:
            return
        span >>= 1
        k += 1


@compiled
def set_clock(x, time, phase, orders, scale):
    """Write the sources' sines and cosines, times ``scale``, from the clock."""
    first, period = phase[0], phase[2]
    angle = 2.0 * np.pi * (time % period) / period
    for s in range(orders.shape[0]):
        x[first + 2 * s] = scale * np.sin(orders[s] * angle)
        x[first + 2 * s + 1] = scale * np.cos(orders[s] * angle)


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
def fire(tables, g, log, control, x, later, account):
    """Perform what guard g asks for; False if the next mode is not assembled yet."""
    mode = control[1]
    target = tables.after_guard[mode, g]
    if target < 0:
        control[5], control[6], control[7] = 1, g, 0
        return False
    if tables.plain[mode, g] == 0 and not act(tables, g, target, control, x, later, account):
        return False
    change_mode(target, g, log, control, x)
    event = tables.guard_event[mode, g]
    if event >= 0:
        after = tables.after_event[target, event, control[7]]
        if after != target:
            change_mode(after, -2 - event, log, control, x)
    control[8] += 1
    return True


@compiled
def act(tables, g, target, control, x, later, account):
    """The jump of the state and the events that a guard gives; False if a mode is missing (nothing is done then)."""
    mode = control[1]
    event = tables.guard_event[mode, g]
    if event >= 0:
        control[7] = 1 if dot(tables.conditions[target, event], x) >= 0.0 else 0
        if tables.after_event[target, event, control[7]] < 0:
            control[5], control[6] = 3, event
            control[14] = target
            return False
    state = tables.jump_state[mode, g]
    if state >= 0:
        value = dot(tables.jump_row[mode, g], x)
        account[0] += 0.5 * tables.jump_energy[mode, g] * (x[state] * x[state] - value * value)
        x[state] = value
    if tables.guard_later[mode, g] >= 0 and control[15] < later.shape[0]:
        q = control[15]
        later[q, 0] = control[0] + tables.guard_delay[mode, g]
        later[q, 1] = tables.guard_later[mode, g]
        control[15] = q + 1
    return True


@compiled
def settle(tables, log, control, x, values, later, account):
    """Change violated elements one by one, the worst first, until the mode is consistent.

    Returns a code (DONE: settled).
    """
    watch = tables.watch
    room = log.time.shape[0] - 2
    while True:
        guards = tables.guard_count[control[1]]
        look(watch, guards, control[1], x, values)
        worst, which = 0.0, -1
        for g in range(guards):
            if values[g] < worst:
                worst, which = values[g], g
        if which < 0:
            control[2] = 0
            control[8] = 0
            return DONE
        if control[4] >= room:
            return LOG_FULL
        if control[8] > 60:
            return UNSETTLED
        if not fire(tables, which, log, control, x, later, account):
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
def locate(rungs, finders, control, top, x, y, suspects, count):
    """Advance x to the first quantum at which a suspected guard is violated; returns that guard."""
    m = control[1]
    w = x.shape[0]
    for r in range(top - 1, -1, -1):
        legal = True
        for s in range(count):
            g = suspects[s]
            total = 0.0
            for i in range(w):
                total += finders[m, r, g, i] * x[i]
            if total < 0.0:
                legal = False
                break
        if legal:
            multiply(rungs, m, r, x, y)
            for i in range(w):
                x[i] = y[i]
            control[0] += 1 << r
    multiply(rungs, m, 0, x, y)
    for i in range(w):
        x[i] = y[i]
    control[0] += 1
    worst, which = np.inf, suspects[0]
    for s in range(count):
        value = dot(finders[m, 0, suspects[s]], x)  # a quantum ahead: the order is the same
        if value < worst:
            worst, which = value, suspects[s]
    return which


@compiled
def violations(before, after, guards, span, suspects):
    """Guards violated at the end of a step (listed in ``suspects``); -1 if one may dip below its limit inside the step.

    ``before`` and ``after`` hold values, then slopes.  For a guard that falls at the start and rises at the end, the
    two tangents bound a convex dip from below.
    """
    half = before.shape[0] // 2
    count = 0
    for g in range(guards):
        if after[g] < 0.0:
            suspects[count] = g
            count += 1
    if count > 0:
        return count
    for g in range(guards):
        fall, rise = before[half + g], after[half + g]
        if fall < 0.0 and rise > 0.0 and before[g] >= 0.0:
            at = (after[g] - before[g] - rise * span) / (fall - rise)
            if before[g] + fall * at < 0.0:
                return -1
    return 0


@compiled
def early_pulse(finders, m, x, before, guards, span, top):
    """Lowest rung at which a guard that falls when its mode is entered is violated; -1 none below ``top``.

    Fast transients follow a change of mode, and may come and go within a step; the ladder looks at every power of two
    of a quantum.
    """
    half, w = before.shape[0] // 2, x.shape[0]
    lowest = top
    for g in range(guards):
        if before[half + g] < 0.0 and before[g] + before[half + g] * span < 0.0:
            for r in range(lowest):
                total = 0.0
                for i in range(w):
                    total += finders[m, r, g, i] * x[i]
                if total < 0.0:
                    lowest = r
                    break
    return lowest if lowest < top else -1


@compiled
def highest_bit(span):
    """Position of the highest set bit."""
    k = 0
    while span > 1:
        span >>= 1
        k += 1
    return k


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
def advance(tables, log, control, x, schedule_time, schedule_event, later, account, end, quantum):
    """Run until ``end`` (quanta) or until Python is needed.

    Returns a code.  Everything is kept, so a call continues the last.
    """
    scratch = np.zeros((2, x.shape[0]))  # padded with zeros, as x is
    looks = np.empty((2, tables.watch.shape[1]))
    suspects = np.empty(tables.watch.shape[1], np.int64)
    return run(
        tables,
        log,
        control,
        x,
        schedule_time,
        schedule_event,
        later,
        account,
        end,
        quantum,
        scratch[0],
        scratch[1],
        looks[0],
        looks[1],
        suspects,
    )


@compiled
def run(
    tables, log, control, x, schedule_time, schedule_event, later, account, end, quantum, y, z, before, after, suspects
):
    """advance, on scratch arrays of the caller."""
    rungs, watch, counts, finders, fine = tables.rungs, tables.watch, tables.guard_count, tables.finders, tables.fine
    w = x.shape[0]
    top = tables.phase[3]
    lowest = top - 13
    limit = 62
    stop = next_stop(control, schedule_time, later, end)
    look(watch, counts[control[1]], control[1], x, before)
    while True:
        if control[2] == 1:
            code = settle(tables, log, control, x, before, later, account)
            if code != DONE:
                return code
            if control[12] > control[13]:
                return TOO_MANY
            stop = next_stop(control, schedule_time, later, end)
        if control[4] + 4 >= log.time.shape[0]:
            return LOG_FULL
        if control[0] >= stop:
            if control[0] >= end:
                return DONE
            event, place = due_event(control, schedule_time, schedule_event, later)
            if not apply_event(tables, event, log, control, x):
                return NEED_MODE
            drop_event(control, later, place)
            set_clock(x, control[0], tables.phase, tables.orders, account[1])
            stop = next_stop(control, schedule_time, later, end)
            look(watch, counts[control[1]], control[1], x, before)
            continue
        m = control[1]
        span = stop - control[0]
        k = top
        if control[0] - control[9] < fine[m, 1]:
            k = fine[m, 0]
        k = min(k, limit)
        if span >= 1 << k:
            span = 1 << k
            multiply(rungs, m, k, x, y)
        elif limit < 62 or span & (span - 1) == 0:
            k = min(k, highest_bit(span))
            span = 1 << k
            multiply(rungs, m, k, x, y)
        else:
            leap(rungs, m, x, span, y, z)
            k = -1
        look(watch, counts[m], m, y, after)
        total = 0.0
        for i in range(w):
            total += y[i]
        finite = np.isfinite(total)  # growth beyond all numbers: look at a shorter step
        count = violations(before, after, counts[m], span * quantum, suspects) if finite else -1
        control[10] += 1
        if count >= 0 and control[0] == control[9] and limit == 62:
            early = early_pulse(finders, m, x, before, counts[m], span * quantum, min(highest_bit(span), top))
            if early >= 0:
                limit = early
                continue
        if count == 0 or (count < 0 and k >= 0 and k <= lowest):
            if not finite:
                return NOT_FINITE
            for i in range(w):
                x[i] = y[i]
            before, after = after, before
            control[0] += span
            limit = 62
        elif count < 0 or k < 0:
            limit = highest_bit(span) if (k < 0 and span & (span - 1)) else highest_bit(span) - 1
        else:
            guard = locate(rungs, finders, control, k, x, y, suspects, count)
            control[11] += 1
            control[8] = 0
            limit = 62
            if not fire(tables, guard, log, control, x, later, account):
                control[2] = 1  # continue with this crossing once the mode is there
                return NEED_MODE


@compiled
def coast(tables, log, control, x, schedule_time, schedule_event, later, account, end, quantum):
    """As advance, in leaps of whole mains periods wherever a period passes without a change of mode; returns a code.

    After a leap one period is simulated with all guards watched; if any part switches in it, the leap is undone and
    halved.  Between leaps the guards are not looked at: a part that would switch and switch back within a leap, while
    the supply only relaxes from one quiet period to the next, would be missed.
    """
    period = tables.phase[2]
    kept, kept_control = x.copy(), control.copy()
    y, z = np.zeros(x.shape[0]), np.zeros(x.shape[0])
    leaps, patience, wait = 1, 1, 0
    while end - control[0] > period:
        changes = control[12]
        code = advance(
            tables, log, control, x, schedule_time, schedule_event, later, account, control[0] + period, quantum
        )
        if code != DONE:
            return code
        if control[12] != changes or next_stop(control, schedule_time, later, end) < end:
            leaps = 1
            continue
        if wait > 0:  # a leap has failed lately: the supply has not come to rest
            wait -= 1
            continue
        while leaps > 0 and end - control[0] > (leaps + 1) * period:
            for i in range(x.shape[0]):
                kept[i] = x[i]
            for i in range(control.shape[0]):
                kept_control[i] = control[i]
            leap(tables.rungs, control[1], x, leaps * period, y, z)
            for i in range(x.shape[0]):
                x[i] = y[i]
            control[0] += leaps * period
            code = advance(
                tables, log, control, x, schedule_time, schedule_event, later, account, control[0] + period, quantum
            )
            if code == DONE and control[12] == changes:
                leaps *= 2
                patience = 1
                continue
            for i in range(x.shape[0]):  # pieces logged since are overwritten
                x[i] = kept[i]
            for i in range(control.shape[0]):
                control[i] = kept_control[i]
            leaps //= 2
            if leaps == 0:
                patience = min(2 * patience, 16)
                wait = patience
        leaps = max(leaps // 2, 1)
    return advance(tables, log, control, x, schedule_time, schedule_event, later, account, end, quantum)
