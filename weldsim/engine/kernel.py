"""The compiled loop: step, guard, locate, switch, log.  It knows nothing of welding.

Time is an integer count of quanta; rung k of a mode's ladder advances the state by 2^k quanta.  A run is logged as
*pieces*: start time, mode and state at each change of mode.  Between two entries the solution is known in closed form,
so samples, integrals and extremes are read out of the pieces afterwards (readout_kernel.py and
extremes_kernel.py), without a trace here.

The hot loop works on plain arrays: a tuple of arrays handed to a function costs more than the arithmetic in it.
What stands where in them is told in layout.py.
"""

import numpy as np

from weldsim.engine.compiled import inlined, inner
from weldsim.engine.layout import (
    DEAD_BAND,
    DELAY,
    DONE,
    EIGHT,
    EVENT,
    FINE,
    FINE_FOR,
    GUARDS,
    IDLE,
    JUMP,
    KIN,
    LATER,
    LEAST_RUNG,
    LOG_FULL,
    LOW,
    NEED_MODE,
    NEXT,
    NOT_FINITE,
    PAIRS,
    PLAIN,
    READY,
    TARGET,
    TOO_MANY,
    TWIN,
    UNSETTLED,
)
from weldsim.engine.products import (
    any_dip,
    any_negative,
    any_turn,
    eights_times,
    highest_bit,
    row_times,
    rows_times,
)

NODES = (0.0, 0.125, 0.25, 0.5, 0.75, 1.0)  # of a span, where locate interpolates
MADE = 2e-15  # of the sum of a guard's terms: what is left of it in its finders
ROUNDED = 1e-14  # of the sum of its terms: a guard no further below its limit says nothing
BENT = 1e-6  # of a guard's values: as far below its tangent it is not convex
SHARE = 5  # rungs below that of a span: how closely the bottom of a dip is met
LEAST_DIP = 20  # rungs of a step below which what may be a dip is not looked into
OVERSHOT = 1e-4  # of a guard, where one is a hundredth of full scale: so far below its limit a quantum is long
BURST = 1e3  # of a guard, ten times full scale: what goes as far beyond its limit is looked into within a quantum
LEAST = 1e-300  # of a guard in a quantum: what falls or rises by less does neither, and nothing is divided by nothing
AT_ONCE = 1.0 / 256.0  # of a quantum behind a change: no time at all
LIMIT = 0.999 * DEAD_BAND  # where one that takes turns with another is put to: beyond its limit by next to nothing
MANY, SOON = 30, 64  # changes in a row, each within some quanta of the last, before they count as taking turns
MOST_DIPS, FAR = 6, 1 << 62  # places of a dip looked at before steps are halved; the end of all time
AHEAD = 8  # steps that events are looked through for one that matters


@inlined
def in_eights(f, table):
    """Write the columns of a matrix as a table for ``eights_times``: groups of eight, row below row."""
    for block in range(table.shape[0]):
        for i in range(f.shape[0]):
            for j in range(EIGHT):
                table[block, i, j] = f[i, block * EIGHT + j]


@inner
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


@inner
def climb(small, quantum, extra, states, inputs, omegas, f, g, table, rungs):
    """Fill rungs[k, :, :n] with exp(M quantum 2^k), in increments from quantum / 2^extra upwards (see ladder.py).

    ``small`` is M quantum / 2^extra, as wide as whole eights; f and g are room as large, ``table`` for their eights.
    """
    n = small.shape[0]
    norm = 0.0
    for i in range(n):
        total = 0.0
        for j in range(n):
            f[i, j] = 0.0
            total += abs(small[i, j])
        f[i, i] = 1.0
        norm = max(norm, total)
    terms, size = 1, 0.5 * norm
    while size > 1e-20 and terms < 16:  # of what is left out
        terms += 1
        size *= norm / (terms + 1)
    for term in range(terms, 0, -1):  # Horner: a (1 + a/2 (1 + a/3 (...))); norm at most 1/4
        in_eights(f, table)
        for i in range(n):
            eights_times(table, 0, table.shape[0], n, small[i], g, i * f.shape[1], EIGHT)
        if term > 1:
            for i in range(n):
                for j in range(n):
                    f[i, j] = g[i, j] / term
                f[i, i] += 1.0
    exact_rows(g, quantum * 0.5**extra, states, inputs, omegas)
    climb_on(g, -extra, quantum, states, inputs, omegas, f, table, rungs)


@inner
def climb_on(f, start, quantum, states, inputs, omegas, g, table, rungs):
    """Fill the rungs from the one numbered ``start`` (below 0: fractions of a quantum) on, of which f is one less.

    g and ``table`` are room, see ``climb``.
    """
    n = f.shape[0]
    for k in range(start, rungs.shape[0]):
        if k >= 0:
            for i in range(n):
                for j in range(n):
                    rungs[k, i, j] = f[i, j]
                rungs[k, i, i] += 1.0
        in_eights(f, table)
        for i in range(states):
            eights_times(table, 0, table.shape[0], n, f[i], g, i * f.shape[1], EIGHT)
        for i in range(states):
            for j in range(n):
                f[i, j] = 2.0 * f[i, j] + g[i, j]
        exact_rows(f, quantum * 2.0 ** (k + 1), states, inputs, omegas)


@inlined
def multiply(rungs, m, k, x, y):
    """y = E x for rung k of mode m."""
    w = rungs.shape[3]
    rows_times(rungs, (m * rungs.shape[1] + k) * w * w, w, x, y, 0)


@inlined
def fours(count):
    """A count rounded up to four, as the rows of guards are laid out."""
    return (count + 3) & ~3


@inlined
def look(watch, count, m, x, values):
    """Values of the guards of mode m at state x, then, behind as many fours as they fill, their slopes."""
    if count > 0:
        rows_times(watch, m * watch.shape[1] * watch.shape[2], 2 * fours(count), x, values, 0)


@inner
def dot(row, x):
    """Scalar product over the padded length."""
    total = 0.0
    for i in range(row.shape[0]):
        total += row[i] * x[i]
    return total


@inner
def leap(rungs, m, x, span, y, z):
    """y = state of mode m after ``span`` quanta from x: one product per set bit, z is scratch."""
    w, top = x.shape[0], rungs.shape[1] - 1
    here, there, odd = y, z, False
    for i in range(w):
        here[i] = x[i]
    while span > 0:
        k = min(highest_bit(span & -span), top)
        multiply(rungs, m, k, here, there)
        here, there, odd = there, here, not odd
        span -= 1 << k
    if odd:
        for i in range(w):
            y[i] = z[i]


@inner
def set_clock(x, time, phase, orders, scale):
    """Write the sources' sines and cosines, times ``scale``, from the clock."""
    first, period = phase[0], phase[2]
    angle = 2.0 * np.pi * (time % period) / period
    for s in range(orders.shape[0]):
        x[first + 2 * s] = scale * np.sin(orders[s] * angle)
        x[first + 2 * s + 1] = scale * np.cos(orders[s] * angle)


@inner
def write_log(log, control, cause, x):
    """Append the piece that begins now."""
    p = control[4]
    log.time[p] = control[0]
    log.mode[p] = control[1]
    log.cause[p] = cause
    for i in range(x.shape[0]):
        log.state[p, i] = x[i]
    control[4] = p + 1


@inner
def change_mode(target, cause, about, log, control, x):
    """Enter another mode and have its guards looked at.

    Where a gate comes or goes on a device that conducts, the equations stay: nothing begins anew.
    """
    if about[target, KIN] != about[control[1], KIN]:
        control[9] = control[0]
    control[1] = target
    control[2] = 1
    control[12] += 1
    write_log(log, control, cause, x)


@inner
def act(tables, g, log, control, x, later, account):
    """Perform what guard g asks for beyond another mode: a jump of the state, an event now, an event later.

    False if a mode is missing; nothing is done then.
    """
    mode = control[1]
    moves = tables.moves
    target, state, event = moves[mode, g, NEXT], moves[mode, g, JUMP], moves[mode, g, EVENT]
    if event >= 0:
        control[7] = 1 if dot(tables.conditions[target, event], x) >= 0.0 else 0
        if tables.after_event[target, event, control[7]] < 0:
            control[5], control[6] = 3, event
            control[14] = target
            return False
    if state >= 0:
        value = dot(tables.jumps[mode, g], x)
        account[0] += 0.5 * tables.jump_energy[mode, g] * (x[state] * x[state] - value * value)
        x[state] = value
        control[9] = control[0]
    if moves[mode, g, LATER] >= 0 and control[15] < later.shape[0]:
        q = control[15]
        later[q, 0] = control[0] + moves[mode, g, DELAY]
        later[q, 1] = moves[mode, g, LATER]
        control[15] = q + 1
    change_mode(target, g, tables.about, log, control, x)
    if event >= 0:
        after = tables.after_event[target, event, control[7]]
        if after != target:
            change_mode(after, -2 - event, tables.about, log, control, x)
    return True


@inner
def apply_event(tables, event, log, control, x):
    """Let a scheduled event change its element; False if the next mode is not assembled yet."""
    mode = control[1]
    branch = 1 if dot(tables.conditions[mode, event], x) >= 0.0 else 0
    target = tables.after_event[mode, event, branch]
    if target < 0:
        control[5], control[6], control[7] = 2, event, branch
        return False
    if tables.after_event[mode, event, IDLE] != 0:
        control[1] = target
        return True
    control[8] = 0
    if target != mode:
        change_mode(target, -2 - event, tables.about, log, control, x)
    return True


@inner
def locate(rungs, watch, finders, control, m, span, smooth, x, y, nodes, suspects, count, first):
    """Advance x to the first quantum at which a suspected guard is violated, within ``span``; returns that guard.

    Bit by bit down the ladder; from rung ``smooth`` on by interpolation, where the solution allows it.
    """
    w, end = x.shape[0], control[0] + span
    across = finders.shape[2] * w  # from one guard to the next
    found, r = False, highest_bit(span - 1)
    while r >= 0 and not found:
        if LEAST_RUNG <= r < smooth:
            smooth = 0
            found = pin_down(rungs, watch, control, m, r + 1, x, y, nodes, suspects, count)
            if found:
                break
        start = m * finders.shape[1] * across + r * w
        legal, s = control[0] + (1 << r) < end, 0
        while legal and s < count:
            legal = row_times(finders, start + suspects[s] * across, x) >= 0.0
            s += 1
        if legal:
            multiply(rungs, m, r, x, y)
            for i in range(w):
                x[i] = y[i]
            control[0] += 1 << r
        r -= 1
    if not found:
        for i in range(w):
            nodes[8, i] = x[i]
        multiply(rungs, m, 0, x, y)
        for i in range(w):
            x[i] = y[i]
        control[0] += 1
    worst, which = np.inf, suspects[0]
    for s in range(count):
        value = row_times(finders, (m * finders.shape[1] + suspects[s]) * across, x)  # a quantum ahead: same order
        if value < worst:
            worst, which = value, suspects[s]
    control[17] = control[17] + 1 if control[0] - control[9] <= SOON else 0
    if not found and control[17] > MANY:
        land(watch, (m * watch.shape[1] + which) * w, x, nodes[8], first)
    elif not found and control[0] - control[9] == 1 and worst < -OVERSHOT:
        early = at_once(watch, m, x, nodes[8], suspects, count)
        if early >= 0:
            control[0] -= 1
            which = early
    return which


@inner
def at_once(watch, m, x, y, suspects, count):
    """Take x, a quantum behind y, where its mode began, back to where a first guard meets its limit if that is at once.

    What has no way to flow but through parts that block, such as the current of a core magnetised beforehand, makes
    megavolts within picoseconds: what these switch is part of the change itself.  Gives the guard; -1 if none is met so
    early, with x as it was.
    """
    w = x.shape[0]
    least, which = AT_ONCE, -1
    for s in range(count):
        start = (m * watch.shape[1] + suspects[s]) * w
        before, after = row_times(watch, start, y), row_times(watch, start, x)
        if after < -OVERSHOT and before >= 0.0:
            share = max(before - LIMIT, 0.0) / (before - after)
            if share < least:
                least, which = share, suspects[s]
    if which >= 0:
        for i in range(w):
            x[i] = y[i] + least * (x[i] - y[i])
    return which


@inner
def land(watch, start, x, y, first):
    """Take x, a quantum behind y, back along the line through both to where a guard meets its limit itself.

    What a current is beyond its limit, be it a quantum's fall or no more than the dead band, is forced through a part
    that has just gone out, a megohm perhaps, and two parts take turns on it: this ends it.  Sources follow the clock:
    they stay (in y they are made those of x).
    """
    after = row_times(watch, start, x)
    for i in range(first, x.shape[0]):
        y[i] = x[i]
    before = row_times(watch, start, y)
    if after < 0.0 and after < before:
        share = max((before - LIMIT) / (before - after), -float(SOON))
        for i in range(first):
            x[i] = y[i] + share * (x[i] - y[i])


@inner
def pin_down(rungs, watch, control, m, k, x, y, nodes, suspects, count):
    """Advance x to the crossing within 2^k quanta by interpolation between exact states; False: x is as it was.

    The polynomial of degree 5 through the states at 0, 1/8, 1/4, 1/2, 3/4 and 1 of the span is used only if it meets
    the exact state at 3/8 to 3e-13 (its error is at most eight times as large elsewhere: Derived here, from the product
    of the distances to the nodes), and only if the guard is violated in the state that it gives.
    """
    w, rows = x.shape[0], watch.shape[1] // 2
    for i in range(w):
        nodes[0, i] = x[i]
    multiply(rungs, m, k - 3, nodes[0], nodes[1])
    multiply(rungs, m, k - 2, nodes[0], nodes[2])
    multiply(rungs, m, k - 1, nodes[0], nodes[3])
    multiply(rungs, m, k - 2, nodes[3], nodes[4])
    multiply(rungs, m, k, nodes[0], nodes[5])
    multiply(rungs, m, k - 3, nodes[2], nodes[6])
    weights(0.375, nodes[7])
    a, b, c, d, e, f = nodes[7, 0], nodes[7, 1], nodes[7, 2], nodes[7, 3], nodes[7, 4], nodes[7, 5]
    largest = 0.0
    for i in range(w):
        largest += abs(nodes[5, i])
    off = 0
    for i in range(w):
        o, p, q, u, v, z = nodes[0, i], nodes[1, i], nodes[2, i], nodes[3, i], nodes[4, i], nodes[5, i]
        size = abs(o) + abs(p) + abs(q) + abs(u) + abs(v) + abs(z)
        if not abs(a * o + b * p + c * q + d * u + e * v + f * z - nodes[6, i]) <= 1e-13 * size + 1e-16 * largest:
            off += 1
    if off > 0:
        return False
    first, which, earliest = 2.0, -1, 6
    for s in range(count):
        start = (m * 2 * rows + suspects[s]) * w
        place = 0
        while place < 6:
            nodes[8, place] = row_times(watch, start, nodes[place])
            if nodes[8, place] < 0.0 or place > earliest:
                break
            place += 1
        if place < 6 and place <= earliest:
            for j in range(place + 1, 6):
                nodes[8, j] = row_times(watch, start, nodes[j])
            at = first_root(nodes[8], place)
            if at < first:
                first, which, earliest = at, suspects[s], place
    if which < 0:
        return False
    quanta = min(np.int64(np.ceil(first * 2.0**k)), 1 << k)
    quanta = max(quanta, 1)
    weights(quanta / 2.0**k, nodes[7])
    a, b, c, d, e = nodes[7, 1], nodes[7, 2], nodes[7, 3], nodes[7, 4], nodes[7, 5]
    for i in range(w):  # differences: what is constant stays so to the last digit
        u = nodes[0, i]
        p, q, r = nodes[1, i] - u, nodes[2, i] - u, nodes[3, i] - u
        y[i] = u + (a * p + b * q + c * r + d * (nodes[4, i] - u) + e * (nodes[5, i] - u))
    for _ in range(4):  # rounding may leave the guard a little short of its limit
        if row_times(watch, (m * 2 * rows + which) * w, y) < 0.0:
            for i in range(w):
                x[i] = y[i]
            control[0] += quanta
            return True
        multiply(rungs, m, 0, y, nodes[6])
        quanta += 1
        for i in range(w):
            y[i] = nodes[6, i]
    return False


@inner
def weights(t, result):
    """Weights of the six nodes of ``pin_down`` at a place t of the span (Lagrange)."""
    a, b, c, d, e, f = t, t - 0.125, t - 0.25, t - 0.5, t - 0.75, t - 1.0
    ab, ef, cd = a * b, e * f, c * d
    result[0] = b * cd * ef * (1.0 / (-0.125 * -0.25 * -0.5 * -0.75 * -1.0))
    result[1] = a * cd * ef * (1.0 / (0.125 * -0.125 * -0.375 * -0.625 * -0.875))
    result[2] = ab * d * ef * (1.0 / (0.25 * 0.125 * -0.25 * -0.5 * -0.75))
    result[3] = ab * c * ef * (1.0 / (0.5 * 0.375 * 0.25 * -0.25 * -0.5))
    result[4] = ab * cd * f * (1.0 / (0.75 * 0.625 * 0.5 * 0.25 * -0.25))
    result[5] = ab * cd * e * (1.0 / (1.0 * 0.875 * 0.75 * 0.5 * 0.25))


@inner
def first_root(v, last):
    """Where the polynomial through six values at the nodes of ``pin_down`` turns negative, at node ``last`` or before.

    Newton's form by divided differences, Newton's iteration within the bracket.
    """
    if last == 0:
        return 0.0
    a1, b1 = 8.0 * (v[1] - v[0]), 8.0 * (v[2] - v[1])
    c1, d1, e1 = 4.0 * (v[3] - v[2]), 4.0 * (v[4] - v[3]), 4.0 * (v[5] - v[4])
    a2, b2, c2, d2 = 4.0 * (b1 - a1), (c1 - b1) / 0.375, 2.0 * (d1 - c1), 2.0 * (e1 - d1)
    a3, b3, c3 = 2.0 * (b2 - a2), 1.6 * (c2 - b2), (d2 - c2) / 0.75
    a4, b4 = (b3 - a3) / 0.75, (c3 - b3) / 0.875
    a5 = b4 - a4
    low, high = NODES[last - 1], NODES[last]
    at = low + (high - low) * v[last - 1] / (v[last - 1] - v[last])
    for _ in range(60):
        value = a5
        slope = a5
        value = value * (at - 0.75) + a4
        slope = slope * (at - 0.5) + value
        value = value * (at - 0.5) + a3
        slope = slope * (at - 0.25) + value
        value = value * (at - 0.25) + a2
        slope = slope * (at - 0.125) + value
        value = value * (at - 0.125) + a1
        slope = slope * at + value
        value = value * at + v[0]
        if value >= 0.0:
            low = at
        else:
            high = at
        step = at - value / slope if slope < 0.0 else low
        if not low < step < high:
            step = 0.5 * (low + high)
        if abs(step - at) < 1e-8:  # the next would differ by the square of this
            return step
        at = step
    return at


@inner
def told(row, x, value):
    """Whether a guard, below its limit, is further below it than the rounding of its terms (row times x).

    A blocked diode's voltage is a difference of two large currents times its leakage; what is left of it may be mere
    rounding, and two parts would take turns on it without end.
    """
    size = 0.0
    for i in range(x.shape[0]):
        size += abs(row[i] * x[i])
    return value < -ROUNDED * size


@inner
def told_ahead(finders, m, g, k, x, value):
    """As ``told``, of a guard's value 2^k quanta after x by its finder.

    In its row large terms may have gone, of the guard's own and of the propagator; what rounding left of them, ``MADE``
    of their sum, is in it still.
    """
    size, last = 0.0, finders.shape[2] - 1
    for i in range(x.shape[0]):
        size += ROUNDED * abs(finders[m, g, k, i] * x[i]) + MADE * abs(finders[m, g, last, i] * x[i])
    return value < -size


@inner
def foretold(finders, m, g, k, x):
    """Whether a guard is below its limit 2^k quanta after x, by the terms of its row for that."""
    if not 0 <= k < finders.shape[2] - 1:
        return False
    value = row_times(finders, ((m * finders.shape[1] + g) * finders.shape[2] + k) * x.shape[0], x)
    return value < 0.0 and told_ahead(finders, m, g, k, x, value)


@inner
def worst_violated(watch, m, x, before, guards):
    """The guard that is furthest beyond its limit; -1 if none is."""
    guard, least = -1, 0.0
    for g in range(guards):
        if before[g] < least and told(watch[m, g], x, before[g]):
            least, guard = before[g], g
    return guard


@inner
def may_dip(finders, m, x, before, after, guards, quanta, quantum):
    """Whether a guard may dip below its limit between x and ``quanta`` later.

    Where one falls at the start and rises at the end, the two tangents bound it from below if it is convex.  If a
    tangent reaches zero within the span, it is looked whether some powers of two of a quantum lie above both tangents.
    A fall that ``dies_away`` is none.
    """
    rows, span = fours(guards), quanta * quantum
    if not any_turn(before, after, rows, rows, span):
        return False
    w, high = x.shape[0], highest_bit(quanta - 1)
    if high >= finders.shape[2] - 1:
        return True
    for g in range(guards):
        first, last, fall, rise = before[g], after[g], before[rows + g], after[rows + g]
        falls, rises = first + fall * span, last - rise * span
        if not (fall < 0.0 and rise > 0.0 and first >= 0.0 and (falls < 0.0 or rises < 0.0)):
            continue
        start = (m * finders.shape[1] + g) * finders.shape[2]
        if falls < 0.0 and dies_away(finders, start, x, first / max(-fall * quantum, LEAST), high):
            continue
        if crosses(first, last, fall, rise, span):
            return True
        for r in range(max(high - 3, 0), high + 1):
            at = quantum * 2.0**r
            value = row_times(finders, (start + r) * w, x)
            tangent = max(first + fall * at, last - rise * (span - at))
            if value < tangent - BENT * (first + last):
                return True
    return False


@inner
def crosses(first, last, fall, rise, span):
    """Whether the tangents at both ends of a span, falling and rising, bound a convex dip from below by less than zero.

    They meet at first (fall - rise) + fall (last - first - rise span), over (fall - rise), which is negative.  Where
    they would meet before the start or behind the end the value is not convex; there it may dip if the nearer tangent
    reaches zero within the span.
    """
    change, reached = last - first - rise * span, first + fall * span
    if first * (fall - rise) + fall * change > 0.0:
        return True
    return (change > 0.0 and reached < 0.0) or (last < reached and first + change < 0.0)


@inner
def dies_away(finders, start, x, zero, high):
    """Whether a guard's fall at the start of a span is that of what dies away at once, and leaves it legal and rising.

    Its tangent reaches zero after ``zero`` quanta; a convex fall stays above.  From an eighth of that time on it is
    looked at on every power of two up to ``high``: it must be legal and rise to the last.  Where it turns from falling
    to rising, beyond that time, the lines through the values before and behind must stay above zero (``sinks``).
    """
    w = x.shape[0]
    begin = max(highest_bit(np.int64(min(zero, 2.0**62))) - 3, 0)
    earlier, last, fell = np.inf, np.inf, True
    for r in range(begin, high + 1):
        value = row_times(finders, (start + r) * w, x)
        if value < 0.0:
            return False
        if value <= last:
            fell = True
        elif fell:
            fell = False
            if r > begin + 3:
                if 3.0 * last <= 2.0 * earlier:  # the line before, at this power of two
                    return False
                if value > 3.0 * last and sinks(finders, start * w, x, r, last, value - last):
                    return False
        earlier, last = last, value
    return not fell


@inner
def bottom(before, after, guards, span, quantum):
    """Where a guard that may dip below its limit within a span of quanta is lowest, in quanta.

    By the cubic through values and slopes at both ends; the earliest of all, ``span`` where there is none.  To a
    ``SHARE`` of the span: few set bits are few products to go there.
    """
    rows, earliest, length = fours(guards), 1.0, span * quantum
    for g in range(guards):
        first, last, fall, rise = before[g], after[g], before[rows + g] * length, after[rows + g] * length
        if fall < 0.0 and rise > 0.0 and (first + fall < 0.0 or last - rise < 0.0):
            bend = 3.0 * (last - first) - 2.0 * fall - rise
            twist = 3.0 * (2.0 * (first - last) + fall + rise)
            root = np.sqrt(bend * bend - twist * fall)
            # twice the same: that sum is not to be a small difference, nor nothing
            earliest = min(earliest, -fall / (bend + root) if bend > 0.0 else (root - bend) / twist)
    grain = max(highest_bit(span) - SHARE, 0)
    return (np.int64(earliest * span + 0.5 * 2.0**grain) >> grain) << grain


@inner
def violations(watch, finders, m, k, x, y, before, after, guards, quanta, quantum, suspects):
    """Guards violated at the end of a step (listed in ``suspects``); -1 if one may dip below its limit inside the step.

    ``before`` and ``after`` hold values, then slopes.  What the end does not tell of a guard, a small difference of
    large terms there, the step's own rung k (-1: none) may: its terms at the start have lost what dies away at once.
    """
    if any_negative(after, fours(guards)):
        count = 0
        for g in range(guards):
            if after[g] < 0.0 and (told(watch[m, g], y, after[g]) or foretold(finders, m, g, k, x)):
                suspects[count] = g
                count += 1
        if count > 0:
            return count
    return -1 if may_dip(finders, m, x, before, after, guards, quanta, quantum) else 0


@inner
def hidden(watch, finders, m, x, y, before, after, guards, quanta, quantum, suspects, count):
    """Whether a guard may have been violated before a crossing at the end of a span: another than the suspects, or a
    suspect in a dip, where its tangent at the start meets zero in less than half the time to the crossing.
    """
    if may_dip(finders, m, x, before, after, guards, quanta, quantum):
        return True
    for s in range(count):
        value, fall = before[suspects[s]], before[fours(guards) + suspects[s]]
        if value > 0.0 and value + 0.5 * fall * quanta * quantum < 0.0:
            start = (m * finders.shape[1] + suspects[s]) * finders.shape[2]
            high = highest_bit(quanta - 1)
            for r in range(max(high - 3, 0), high + 1):
                last, value = value, row_times(finders, (start + r) * x.shape[0], x)
                if value < 0.0 or value > last:
                    return True
    for g in range(guards):
        if after[g] < 0.0 and told(watch[m, g], y, after[g]):
            known = False
            for s in range(count):
                known = known or suspects[s] == g
            if not known:
                return True
    return False


@inner
def early_pulse(finders, watch, axes, reach, m, x, before, after, guards, span, quantum, top, sizes, seen):
    """Lowest rung at which a guard is violated in the first step of its mode; -1 none below ``top``.

    Fast transients follow a change of mode, and may come and go within a step.  A guard that is farther from its limit
    than anything in the state can carry it (``reach`` times the sizes along ``axes``) is not violated.  Others are
    looked at on every fourth power of two of a quantum, and on each of the six below ``top``.  What rises at the end
    may have fallen before, though its slope at the start is nothing or mere rounding, as behind a stiff state: there
    every second power is looked at.  What falls to its limit by its tangent is looked at on every power from an eighth
    of that time (a convex fall stays above its tangent; what begins to fall slowly does not).  Where the line
    through two falling values meets zero before the tangent at the end does, a dip may lie between: the step ends at
    the second.  So it does where values fall, then rise, and lines through them meet below zero (``sinks``).
    """
    if guards == 0 or top < 1:
        return -1
    half, w = fours(guards), x.shape[0]
    low = finders.shape[2] - 2 - LOW
    block, across = reach.shape[2] * w, finders.shape[2] * w
    rows_times(axes, m * w * w, w, x, sizes, 0)
    for i in range(w):
        sizes[i] = abs(sizes[i])
    rows_times(reach, (2 * m + 1) * block, fours(guards), sizes, seen, 0)
    lowest = top
    for g in range(guards):
        if before[g] >= seen[g]:
            continue
        fall = before[half + g]
        if seen[g] > BURST:
            value = row_times(finders, (m * finders.shape[1] + g) * across, x)
            if value < -BURST:
                return 0
        first = low + 1 if before[g] >= row_times(reach, 2 * m * block + g * w, sizes) else 0
        stride, dense = 4, top - 6
        if fall < 0.0 and before[g] + fall * span < 0.0:
            dense = highest_bit(np.int64(max(before[g], 0.0) / max(-fall * quantum, LEAST))) - 3
            first = max(first, min(dense, 4))
        else:
            if after[half + g] > 0.0:
                stride = 2
            first = max(first, 4)
            first += (top - 1 - first) & (stride - 1)
        rises = stride == 2 and after[g] >= 0.0  # and its fall is not seen at the start
        until = span / quantum - after[g] / max(after[half + g] * quantum, LEAST) if rises else 0.0
        last, since, r, fell = -1.0, 0.0, first, False
        while r < lowest:
            value = row_times(finders, (m * finders.shape[1] + g) * across + r * w, x)
            if value < 0.0 and told_ahead(finders, m, g, r, x, value):
                lowest = r
                break
            at = 2.0**r
            if rises and value < last and at + value * (at - since) / (last - value) < until:
                lowest = r
                break
            if value < last:
                fell = True
            elif fell and r >= 3:
                fell, start = False, (m * finders.shape[1] + g) * across
                c = row_times(finders, start + (r - 1) * w, x)
                if value > 3.0 * c and sinks(finders, start, x, r, c, value - c):  # else its line stays above zero
                    lowest = r - 2
                    break
            last, since = value, at
            r += min(stride, dense - r) if r < dense else 1
    return lowest if lowest < top else -1


@inner
def sinks(finders, start, x, r, c, rise):
    """Whether a guard may dip between rungs r - 2 and r - 1, before it rises from c there by ``rise`` to rung r.

    Lines through the values at r - 3 and r - 2, falling, and at r - 1 and r, rising, bound a convex dip between them
    from below; times in units of rung r - 3.
    """
    a = row_times(finders, start + (r - 3) * x.shape[0], x)
    b = row_times(finders, start + (r - 2) * x.shape[0], x)
    fall, rise = b - a, 0.25 * rise
    if fall >= 0.0:
        return False
    meeting = (b - c - 2.0 * fall + 4.0 * rise) / (rise - fall)
    return 2.0 < meeting < 4.0 and b + fall * (meeting - 2.0) < 0.0


@inner
def calm(quiet, rings, ring_sizes, m, pairs, x, y, guards, span, before, after):
    """Whether no guard can be violated from x to y, a span [s] later, whatever the damped ringing does on the way.

    The slow part of each guard is bounded by its tangents, the ringing by its amplitude at the start.  ``before`` and
    ``after`` are overwritten.
    """
    if guards == 0:
        return True
    w, rows = x.shape[0], fours(guards)
    start = m * quiet.shape[1] * w
    rows_times(quiet, start, rows, x, before, 0)
    rows_times(quiet, start, rows, y, after, 0)
    for p in range(pairs):
        real = row_times(rings, (m * 4 + 2 * p) * w, x)
        imaginary = row_times(rings, (m * 4 + 2 * p + 1) * w, x)
        amplitude = np.sqrt(real * real + imaginary * imaginary)
        for g in range(guards):
            before[g] -= ring_sizes[m, g, p] * amplitude
            after[g] -= ring_sizes[m, g, p] * amplitude
    if any_negative(before, rows) or any_negative(after, rows):
        return False
    rows_times(quiet, start + rows * w, rows, x, before, rows)
    rows_times(quiet, start + rows * w, rows, y, after, rows)
    return not any_dip(before, after, rows, rows, span)


@inner
def next_stop(after_event, control, schedule_time, schedule_event, later, end, ahead):
    """Time of the next scheduled event that is not idle, or of a later event; at most ``end``, nor far ahead.

    A train of pulses may go on for hours: it is looked through for some steps at a time.
    """
    stop = end
    for q in range(control[15]):
        stop = min(stop, later[q, 0])
    mode, place = control[1], control[3]
    while place < schedule_time.shape[0] and schedule_time[place] < stop:
        event = schedule_event[place]
        if after_event[mode, event, IDLE] == 0:
            return schedule_time[place]
        if schedule_time[place] - control[0] > ahead:
            return control[0] + ahead
        mode = after_event[mode, event, TARGET]
        place += 1
    return stop


@inner
def pass_idle(after_event, control, schedule_time, schedule_event):
    """Let the idle events that a step has run over change their element."""
    while control[3] < schedule_time.shape[0] and schedule_time[control[3]] < control[0]:
        control[1] = after_event[control[1], schedule_event[control[3]], TARGET]
        control[3] += 1


@inner
def due_event(control, schedule_time, schedule_event, later):
    """The event due now (-1: none) and where it stands: -1 in the schedule, else its place among the later ones."""
    for q in range(control[15]):
        if later[q, 0] <= control[0]:
            return later[q, 1], q
    if control[3] < schedule_time.shape[0] and schedule_time[control[3]] <= control[0]:
        return schedule_event[control[3]], -1
    return -1, -1


@inner
def drop_event(control, later, place):
    """Take an event that has happened from its list."""
    if place < 0:
        control[3] += 1
        return
    last = control[15] - 1
    later[place, 0] = later[last, 0]
    later[place, 1] = later[last, 1]
    control[15] = last


@inlined
def plain_step(tables, control, x, schedule_time, schedule_event, later, stop, quantum, scratch):
    """Go on to ``stop`` in one product if ``advance`` would do no more; False if it might, and nothing is done.

    For what stops at every tick: to hand all tables over to ``advance`` takes longer than such a step.
    """
    rungs, watch, about, w = tables.rungs, tables.watch, tables.about, x.shape[0]
    y, before, after = scratch[0, :w], scratch[2], scratch[3]
    span, age, m = stop - control[0], control[0] - control[9], about[control[1], TWIN]
    if span & (span - 1) != 0 or span > 1 << tables.phase[3] or age < span or age < about[m, FINE_FOR]:
        return False
    if control[2] != 0 or control[16] != 0 or control[15] != 0:
        return False
    passing = control[3] < schedule_time.shape[0] and schedule_time[control[3]] < stop
    if passing and next_stop(tables.after_event, control, schedule_time, schedule_event, later, stop, span) < stop:
        return False
    guards = about[m, GUARDS]
    look(watch, guards, m, x, before)
    multiply(rungs, m, highest_bit(span), x, y)
    look(watch, guards, m, y, after)
    rows, total = fours(guards), 0.0
    for i in range(w):
        total += y[i]
    if any_negative(after, rows) or any_turn(before, after, rows, rows, span * quantum) or not np.isfinite(total):
        return False
    for i in range(w):
        x[i] = y[i]
    control[0] = stop
    control[10] += 1
    if passing:
        pass_idle(tables.after_event, control, schedule_time, schedule_event)
    return True


@inner
def advance(tables, log, control, x, schedule_time, schedule_event, later, account, end, quantum, scratch, suspects):
    """Run until ``end`` (quanta) or until Python is needed; returns a code.

    Everything is kept, so a call continues the last.  What is in ``scratch`` (5 rows as long as a state and twice as
    long as the guards) and ``suspects`` does not matter, but that it is finite.
    """
    rungs, watch, finders, about, moves = tables.rungs, tables.watch, tables.finders, tables.about, tables.moves
    w = x.shape[0]
    y, z = scratch[0, :w], scratch[1, :w]
    before, after, seen = scratch[2], scratch[3], scratch[4]
    top = tables.phase[3]
    lowest = top - LEAST_DIP
    limit = 62
    searched = control[0] - 1  # when the first step of a mode was last searched for an early pulse
    calm_from = control[0]  # when a ringing may have become small enough for a whole step
    wide, wide_from = control[23], control[0]  # from when on a longer step may be tried again
    dip, dips = FAR, 0  # where a guard may be lowest, and how often such a place has been tried for this step
    room = log.time.shape[0] - 4
    nodes = log.state[log.time.shape[0] :]
    after_event, ahead = tables.after_event, AHEAD << top
    stop = next_stop(after_event, control, schedule_time, schedule_event, later, end, ahead)
    pending, control[16] = control[16] - 1, 0  # goes on as if the mode had been there
    fresh = False  # whether ``before`` holds the guards' values and slopes at x
    while True:
        pass_idle(after_event, control, schedule_time, schedule_event)
        m = about[control[1], TWIN]
        guards = about[m, GUARDS]
        guard, pending = pending, -1
        if (
            guard < 0 and control[2] == 1
        ):  # change violated elements one by one, the worst first, until the mode is consistent
            fresh = False
            look(watch, guards, m, x, before)
            if any_negative(before, fours(guards)):
                guard = worst_violated(watch, m, x, before, guards)
            if guard >= 0:
                if control[8] > 60:
                    return UNSETTLED
            elif about[m, READY] == 0:
                control[5] = 4
                return NEED_MODE
            else:
                fresh = True
                control[2] = 0
                control[8] = 0
                dip, dips = FAR, 0
                calm_from = wide_from = control[0]
                searched = control[0] - 1
                stop = next_stop(after_event, control, schedule_time, schedule_event, later, end, ahead)
        if control[12] > control[13]:
            return TOO_MANY
        if control[4] >= room:
            control[16] = guard + 1
            return LOG_FULL
        if guard < 0 and control[0] >= stop:
            if control[0] >= end:
                return DONE
            event, place = due_event(control, schedule_time, schedule_event, later)
            if event >= 0:
                if not apply_event(tables, event, log, control, x):
                    return NEED_MODE
                drop_event(control, later, place)
                set_clock(x, control[0], tables.phase, tables.orders, account[1])
                fresh = False
                dip, dips = FAR, 0  # as after a return for a mode: what follows does not tell whether one was missing
                calm_from = wide_from = control[0]
                searched = control[0] - 1
            stop = next_stop(after_event, control, schedule_time, schedule_event, later, end, ahead)
            continue
        if guard < 0:
            if not fresh:
                look(watch, guards, m, x, before)
                fresh = True
            if control[0] >= dip:
                dip, dips = FAR, 0
            span = min(stop, dip) - control[0]
            entered = control[0] == control[9] and control[0] != searched
            k = top
            if wide > 0 and control[0] >= wide_from and control[0] - control[9] >= 2 << top:
                k = min(top + wide, highest_bit(control[0] - control[9]))
            if control[0] - control[9] < about[m, FINE_FOR]:
                longest, k = 1 << k, about[m, FINE]
                if about[m, PAIRS] > 0 and limit == 62 and control[0] >= calm_from:
                    far = min(span, longest)
                    leap(rungs, m, x, far, y, z)
                    early = -1
                    if entered:
                        look(watch, guards, m, y, after)
                        early = early_pulse(
                            finders,
                            watch,
                            tables.axes,
                            tables.reach,
                            m,
                            x,
                            before,
                            after,
                            guards,
                            far * quantum,
                            quantum,
                            highest_bit(far),
                            nodes[8],
                            seen,
                        )
                    fresh = False
                    if early < 0 and calm(
                        tables.quiet,
                        tables.rings,
                        tables.ring_sizes,
                        m,
                        about[m, PAIRS],
                        x,
                        y,
                        guards,
                        far * quantum,
                        before,
                        after,
                    ):
                        for i in range(w):
                            x[i] = y[i]
                        control[0] += far
                        control[10] += 1
                    elif far > 1 << top:
                        wide_from = control[0] + far
                    else:
                        calm_from = control[0] + (1 << (top - 3))
                    continue
            k = min(k, limit)
            if span < 1 << k:  # a mode just entered may not last: it is worth no more than one product at first
                k = min(k, highest_bit(span)) if limit < 62 or entered or span & (span - 1) == 0 else -1
            if k < 0:
                leap(rungs, m, x, span, y, z)
            else:
                span = 1 << k
                rows_times(rungs, (m * rungs.shape[1] + k) * w * w, w, x, y, 0)
            look(watch, guards, m, y, after)
            young = control[0] - control[9] < span and control[0] != searched
            total = 0.0
            for i in range(w):
                total += y[i]
            finite = np.isfinite(total)  # growth beyond all numbers: look at a shorter step
            count = (
                violations(watch, finders, m, k, x, y, before, after, guards, span, quantum, suspects) if finite else -1
            )
            control[10] += 1
            if young and finite:
                searched = control[0]
                early = early_pulse(
                    finders,
                    watch,
                    tables.axes,
                    tables.reach,
                    m,
                    x,
                    before,
                    after,
                    guards,
                    span * quantum,
                    quantum,
                    min(highest_bit(span), top),
                    nodes[8],
                    seen,
                )
                if early >= 0:
                    limit = early
                    continue
            place = np.int64(0)
            if count < 0 and finite and dips < MOST_DIPS:
                place = bottom(before, after, guards, span, quantum)
            if 0 < place < span:  # if the guards are well there, and between, the step stands
                leap(rungs, m, x, place, nodes[7], z)
                look(watch, guards, m, nodes[7], seen)
                if not (
                    any_negative(seen, fours(guards))
                    or may_dip(finders, m, x, before, seen, guards, place, quantum)
                    or may_dip(finders, m, nodes[7], seen, after, guards, span - place, quantum)
                ):
                    count = 0
            if count == 0 or (count < 0 and k >= 0 and k <= lowest):
                if not finite:
                    return NOT_FINITE
                for i in range(w):
                    x[i] = y[i]
                before, after = after, before
                control[0] += span
                limit = 62
                continue
            if 0 < place < span:
                dip, dips = control[0] + place, dips + 1
                continue
            if span > 1 << top:
                limit, wide_from = highest_bit(span) - 1, control[0] + span
                continue
            if count < 0:
                limit = highest_bit(span) if (k < 0 and span & (span - 1)) else highest_bit(span) - 1
                continue
            smooth = tables.smooth[m, highest_bit(control[0] - control[9])]
            begun, asked = control[0], highest_bit(span - 1)
            for i in range(w):
                z[i] = x[i]
            guard = locate(
                rungs, watch, finders, control, m, span, smooth, x, y, nodes, suspects, count, tables.phase[0]
            )
            look(watch, guards, m, x, after)
            span = control[0] - begun
            early = -1
            if span > 0 and begun - control[9] < span:
                early = early_pulse(
                    finders,
                    watch,
                    tables.axes,
                    tables.reach,
                    m,
                    z,
                    before,
                    after,
                    guards,
                    span * quantum,
                    quantum,
                    highest_bit(span - 1) + 1,
                    nodes[8],
                    seen,
                )
                if early >= limit:  # looked into already: the crossing lies within some quanta of that rung
                    early = -1
            unseen = (
                asked >= lowest
                and span > 0
                and hidden(watch, finders, m, z, x, before, after, guards, span, quantum, suspects, count)
            )
            if early >= 0 or unseen:
                for i in range(w):  # go there in shorter steps
                    x[i] = z[i]
                control[0] = begun
                limit = early if early >= 0 else min(highest_bit(span), asked)
                continue
            control[11] += 1
            if span > 0:
                control[8] = 0
            limit, dip, dips = 62, FAR, 0
        pass_idle(after_event, control, schedule_time, schedule_event)
        m = control[1]
        target = moves[m, guard, NEXT]
        if target < 0:
            control[5], control[6], control[7] = 1, guard, 0
            control[16] = guard + 1
            return NEED_MODE
        if moves[m, guard, PLAIN] == 1:
            change_mode(target, guard, about, log, control, x)
        elif not act(tables, guard, log, control, x, later, account):
            control[16] = guard + 1
            return NEED_MODE
        control[8] += 1


@inner
def coast(
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
    scratch,
    suspects,
    states,
    kept_control,
):
    """As advance, in leaps of whole mains periods wherever a period passes without a change of mode; returns a code.

    After a leap one period is simulated with all guards watched; if any part switches in it, the leap is undone and
    halved.  Between leaps the guards are not looked at: a part that would switch and switch back within a leap, while
    the supply only relaxes from one quiet period to the next, would be missed.
    ``states`` is room for three states, ``kept_control`` for ``control``.
    """
    period = tables.phase[2]
    kept, y, z = states[0], states[1], states[2]
    leaps, patience, wait = control[20], control[21], control[22]
    while control[18] > 0 or end - control[0] > period:
        if control[18] == 0:
            control[18], control[19] = control[0] + period, control[12]
        code = advance(
            tables,
            log,
            control,
            x,
            schedule_time,
            schedule_event,
            later,
            account,
            control[18],
            quantum,
            scratch,
            suspects,
        )
        if code != DONE:  # goes on with this period
            control[20], control[21], control[22] = leaps, patience, wait
            return code
        control[18], changes = 0, control[19]
        stop = next_stop(tables.after_event, control, schedule_time, schedule_event, later, end, period)
        if control[12] != changes or stop < end:
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
            leap(tables.rungs, tables.about[control[1], TWIN], x, leaps * period, y, z)
            for i in range(x.shape[0]):
                x[i] = y[i]
            control[0] += leaps * period
            code = advance(
                tables,
                log,
                control,
                x,
                schedule_time,
                schedule_event,
                later,
                account,
                control[0] + period,
                quantum,
                scratch,
                suspects,
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
    return advance(
        tables, log, control, x, schedule_time, schedule_event, later, account, end, quantum, scratch, suspects
    )
