"""Compiled readout of single signals from logged pieces: extremes, squares over groups of pieces and over cells.

Arguments are those of readout_kernel.
"""

import numpy as np

from weldsim.engine.compiled import inner
from weldsim.engine.kernel import dot, leap, multiply
from weldsim.engine.layout import STIFF
from weldsim.engine.products import highest_bit, row_times, rows_times

BRIEF = 4  # rungs from one look to the next at the beginning of a mode with fast parts
CLOSE = 12  # rungs below the coarsest at which a look begins behind a change of mode (24 ns at 50 Hz)
STRAIGHT = 5  # rungs below those over which nothing turns by more than library.TURN: what is left is a straight line


@inner
def doubled(propagator, gram, spare, result):
    """result = W + E' W E: the Gramian over twice the span, for W over the span and E its propagator."""
    n = spare.shape[0]
    for i in range(n):  # the innermost loop runs along rows, so that it is done in vectors
        for j in range(n):
            spare[i, j] = 0.0
        for q in range(n):
            factor = gram[i, q]
            for j in range(n):
                spare[i, j] += factor * propagator[q, j]
    for i in range(n):
        for j in range(n):
            result[i, j] = gram[i, j]
        for q in range(n):
            factor = propagator[q, i]
            for j in range(n):
                result[i, j] += factor * spare[q, j]


@inner
def gramians(rungs, m, row, matrix, quantum, parts, room, result):
    """result[k] = integral of E(t)' row row' E(t) over 2^k quanta of mode m: W <- W + E' W E from one rung to the next.

    Over what is left of a quantum behind its ``parts`` (see ladder.halves) by Taylor: W = sum of q^(j+1)/(j+1)!
    L^j(row row') with L(A) = M' A + A M.  ``room`` are three matrices.
    """
    count, n = result.shape[0], matrix.shape[0]
    term, other, total = room[0], room[1], room[2]
    length = quantum * 0.5 ** parts.shape[0]
    for i in range(n):
        for j in range(n):
            term[i, j] = row[i] * row[j] * length
            total[i, j] = term[i, j]
    for order in range(2, 60):
        for i in range(n):
            for j in range(n):
                value = 0.0
                for q in range(n):
                    value += matrix[q, i] * term[q, j] + term[i, q] * matrix[q, j]
                other[i, j] = value * length / order
        largest, change = 0.0, 0.0
        for i in range(n):
            for j in range(n):
                term[i, j] = other[i, j]
                total[i, j] += term[i, j]
                largest = max(largest, abs(total[i, j]))
                change = max(change, abs(term[i, j]))
        if change <= 1e-18 * largest:
            break
    for p in range(parts.shape[0] - 1, -1, -1):
        doubled(parts[p], total, term, other)
        for i in range(n):
            for j in range(n):
                total[i, j] = other[i, j]
    for i in range(n):
        for j in range(n):
            result[0, i, j] = total[i, j]
    for k in range(1, count):
        doubled(rungs[m, k - 1], result[k - 1], term, result[k])


@inner
def square(axes, grams, m, k, stiff, x, c, y):
    """Integral of the square of a signal over 2^k quanta of mode m from x on; c and y are scratch."""
    if stiff == 0:
        multiply(grams, m, k, x, y)
        return row_times(y, 0, x)
    w = x.shape[0]
    rows_times(axes, m * w * w, w, x, c, 0)
    multiply(grams, m, k, c, y)
    return row_times(y, 0, c)


@inner
def groups(
    rungs, axes, grams, rows, slopes, time, mode, state, end, owner, coarse, fine, smooth, quantum, room, peaks, squares
):
    """Largest magnitude and integral of the square of one signal over groups of pieces.

    ``owner`` is a piece's group, -1 none.  States are ``2^coarse`` quanta apart, closer where a part rings or where
    what dies away after a change of mode still turns (``smooth``); a rest over which nothing turns is a straight line.
    ``room`` are five states.
    """
    pieces, w = state.shape
    x, y, z, c, best = room[0], room[1], room[2], room[3], room[4]
    for p in range(pieces):
        stop = time[p + 1] if p + 1 < pieces else end
        group = owner[p]
        if stop <= time[p] or group < 0:
            continue
        for j in range(w):
            x[j] = state[p, j]
        m, now = mode[p], time[p]
        before = row_times(slopes, m * w, x)
        peaks[group] = max(peaks[group], abs(row_times(rows, m * w, x)))
        while now < stop:
            k = coarse
            if now - time[p] < fine[m, 1]:
                k = min(k, fine[m, 0])
            calm = smooth[m, highest_bit(now - time[p])]
            if stop - now < 1 << (coarse - CLOSE) and calm >= coarse - CLOSE + STRAIGHT:
                u, rest = row_times(rows, m * w, x), (stop - now) * quantum
                squares[group] += rest * (u * u + rest * (u * before + rest * before * before / 3.0))
                peaks[group] = max(peaks[group], abs(u + rest * before))
                break
            calm = max(calm, coarse - CLOSE)
            while 1 << k > stop - now or (k > calm and 1 << k > 2 * (now - time[p])):
                k -= 1
            squares[group] += square(axes, grams, m, k, fine[m, STIFF], x, c, z)
            multiply(rungs, m, k, x, y)
            after = row_times(slopes, m * w, y)
            if before * after < 0.0:
                turning_point(rungs, m, rows[m], slopes[m], k, 0, x, z, c, best)
                peaks[group] = max(peaks[group], abs(best[0]))
            before = after
            peaks[group] = max(peaks[group], abs(row_times(rows, m * w, y)))
            for j in range(w):
                x[j] = y[j]
            now += 1 << k


@inner
def cells(
    rungs, axes, grams, rows, slopes, time, mode, state, end, first, width, least, about, smooth, quantum, room, squares
):
    """Add the integral of the square of signals over even cells of time to squares[signal, cell].

    Cell i lies between ``first + i width`` (in quanta, width as float) and the next; ``grams``, ``rows`` and ``slopes``
    are tuples with the tables of each signal.  What is left below rung ``least`` counts as a straight line, but where
    something that is still alive turns within it (``smooth``).  ``room`` are four states.
    """
    pieces, w = state.shape
    signals, count = squares.shape
    top = grams[0].shape[1] - 1
    x, y, z, c = room[0], room[1], room[2], room[3]
    for p in range(pieces):
        stop = time[p + 1] if p + 1 < pieces else end
        if stop <= time[p] or stop <= first:
            continue
        m, now = mode[p], time[p]
        if now < first:
            leap(rungs, m, state[p], first - now, y, z)
            now = first
        else:
            for j in range(w):
                y[j] = state[p, j]
        for j in range(w):
            x[j] = y[j]
        cell = np.int64((now - first) / width)
        while now >= first + np.int64(np.rint((cell + 1) * width)):
            cell += 1
        while cell < count:
            edge = first + np.int64(np.rint((cell + 1) * width))
            span = min(edge, stop) - now
            k = top
            while span >= 1 << least or (
                span > 0 and smooth[m, highest_bit(now - time[p])] < min(highest_bit(span) + 1, least) + STRAIGHT
            ):
                while 1 << k > span:
                    k -= 1
                for s in range(signals):
                    squares[s, cell] += square(axes, grams[s], m, k, about[m, STIFF], x, c, y)
                multiply(rungs, m, k, x, y)
                for j in range(w):
                    x[j] = y[j]
                now += 1 << k
                span -= 1 << k
            rest = span * quantum
            for s in range(signals):
                u, v = row_times(rows[s], m * w, x), row_times(slopes[s], m * w, x)
                value = rest * (u * u + rest * (u * v + rest * v * v / 3.0))
                squares[s, cell] += value
                if edge < stop and cell + 1 < count:
                    squares[s, cell + 1] -= value  # there the walk goes on from where it stands
            if edge >= stop:
                break
            cell += 1


@inner
def turning_point(rungs, m, row, slope, k, short, x, y, here, best):
    """Extreme of row @ x within 2^k quanta of x, where slope @ x changes sign; returns its distance in quanta.

    ``slope`` may be the rise over 2^short quanta: the extreme then lies half that span behind its change of sign.  y
    and ``here`` are room for a state.
    """
    w = x.shape[0]
    sign = 1.0 if dot(slope, x) > 0.0 else -1.0
    for j in range(w):
        here[j] = x[j]
    passed = 0
    for r in range(k - 1, -1, -1):
        multiply(rungs, m, r, here, y)
        if sign * dot(slope, y) > 0.0:
            for j in range(w):
                here[j] = y[j]
            passed += 1 << r
    if short > 0 and passed + (1 << (short - 1)) <= 1 << k:
        multiply(rungs, m, short - 1, here, y)
        for j in range(w):
            here[j] = y[j]
        passed += 1 << (short - 1)
    best[0] = dot(row, here)
    return passed


@inner
def keep(values, times, s, value, at):
    """Update minimum and maximum of signal s."""
    if value < values[s, 0]:
        values[s, 0] = value
        times[s, 0] = at
    if value > values[s, 1]:
        values[s, 1] = value
        times[s, 1] = at


@inner
def extremes(
    rungs, rows, slopes, rises, short, place, time, mode, state, end, coarse, fine, smooth, room, marks, values, times
):
    """Minimum and maximum of every signal with their times: piece ends and stationary points.

    Stationary points are sought between states ``2^coarse`` quanta apart (finer while a mode rings, and closer and
    closer to the beginning of a piece): where the rise over the next 2^short quanta changes sign, and, as long as
    something is alive that turns sooner (``smooth``), where the slope does.  Then the beginning of a piece is looked at
    after 2^4, 2^8 and 2^12 quanta too: a pulse may rise from rest and be over within nanoseconds (of one in
    picoseconds, in a stiff mode, the highest may be missed).  ``room`` are four states, ``marks`` three numbers a
    signal.
    """
    pieces, w = state.shape
    x, y, z, here = room[0], room[1], room[2], room[3]
    before, ahead, best = marks[0], marks[1], marks[2]
    signals = values.shape[0]
    for p in range(pieces):
        stop = time[p + 1] if p + 1 < pieces else end
        if stop <= time[p]:
            continue
        for j in range(w):
            x[j] = state[p, j]
        m = mode[p]
        row, slope, rise = rows[place[m]], slopes[place[m]], rises[place[m]]
        now = time[p]
        for s in range(signals):
            before[s] = dot(slope[s], x)
            ahead[s] = dot(rise[s], x)
            keep(values, times, s, dot(row[s], x), now)
        while now < stop:
            k = coarse
            if now - time[p] < fine[m, 1]:
                k = min(k, fine[m, 0])
            while 1 << k > stop - now or (k > short and 1 << k > 2 * (now - time[p])):
                k -= 1
            brief = smooth[m, highest_bit(now - time[p])] < short
            if brief and now - time[p] < 1 << (short - BRIEF):
                while k > BRIEF and 1 << k > (now - time[p]) << BRIEF:
                    k -= 1
            multiply(rungs, m, k, x, y)
            for s in range(signals):
                after, coming = dot(slope[s], y), dot(rise[s], y)
                turns = k > short and ahead[s] * coming < 0.0
                if turns:
                    passed = turning_point(rungs, m, row[s], rise[s], k, short, x, z, here, best)
                    keep(values, times, s, best[0], now + passed)
                if before[s] * after < 0.0 and (brief or not turns):
                    passed = turning_point(rungs, m, row[s], slope[s], k, 0, x, z, here, best)
                    keep(values, times, s, best[0], now + passed)
                before[s] = after
                ahead[s] = coming
                keep(values, times, s, dot(row[s], y), now + (1 << k))
            for j in range(w):
                x[j] = y[j]
            now += 1 << k
