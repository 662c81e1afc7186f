"""Compiled readout of logged pieces: second moments, products, Fourier vectors.

All take the pieces of a log (start time, mode, state) that overlap a span of time.  Nothing is approximated but where
said.
"""

import numpy as np

from weldsim.engine.compiled import inner
from weldsim.engine.kernel import dot, fours, leap, multiply
from weldsim.engine.layout import JUMP, KIN, TWIN
from weldsim.engine.products import highest_bit, row_times, rows_times

NINE = np.array([989.0, 5888.0, -928.0, 10496.0, -4540.0, 10496.0, -928.0, 5888.0, 989.0]) * (4.0 / 14175.0)
FIVE = np.array([7.0, 32.0, 12.0, 32.0, 14.0, 32.0, 12.0, 32.0, 7.0]) * (2.0 / 45.0)


@inner
def moments(rungs, place, time, mode, state, end, x, y, sums):
    """Add x x' at the start of every rung used, to sums[mode place, rung]; lower triangles only; x and y are room."""
    pieces, w = state.shape
    top = rungs.shape[1] - 1
    for p in range(pieces):
        span = (time[p + 1] if p + 1 < pieces else end) - time[p]
        if span <= 0:
            continue
        for j in range(w):
            x[j] = state[p, j]
        m = mode[p]
        block = place[m]
        for k in range(top, -1, -1):
            while span >= 1 << k:
                span -= 1 << k
                for a in range(w):
                    value = x[a]
                    for b in range(a + 1):
                        sums[block, k, a, b] += value * x[b]
                if span > 0:
                    multiply(rungs, m, k, x, y)
                    for j in range(w):
                        x[j] = y[j]


@inner
def second_moments(rungs, modes, sums, steps, offsets, parts, quantum, room, totals):
    """Integrals of x x' over all time spent in each of some modes, from the ``sums`` of ``moments``; all padded.

    ``steps`` are M over what is left of a quantum after its halves ``parts[offsets[p] : offsets[p + 1]]`` (see
    ladder.halves); ``room`` is that of two matrices.
    """
    for p in range(modes.shape[0]):
        gather(rungs, modes[p], sums[p], room[0], room[1], totals[p])
        over_a_quantum(steps[p], quantum, parts, offsets[p], offsets[p + 1], room[0], room[1], totals[p])


@inner
def times_transposed(a, b, c):
    """c = a b' for padded square matrices."""
    w = b.shape[0]
    for i in range(w):
        rows_times(b, 0, w, a[i], c, i * w)


@inner
def gather(rungs, m, sums, half, term, total):
    """B_0 of the second moments of mode m as ``total``; ``half`` and ``term`` are room.

    B_k = A_k + B_(k+1) + E_k B_(k+1) E_k', from lower triangles A_k (see trace.py).
    """
    top, w = rungs.shape[1] - 1, total.shape[0]
    empty = True
    for k in range(top, -1, -1):
        if not empty:
            times_transposed(rungs[m, k], total, half)
            for i in range(w):  # symmetric: the lower triangle will do
                rows_times(rungs, (m * rungs.shape[1] + k) * w * w, fours(i + 1), half[i], term, i * w)
                for j in range(i + 1):
                    total[i, j] += sums[k, i, j] + term[i, j]
        else:
            for i in range(w):
                for j in range(i + 1):
                    total[i, j] = sums[k, i, j]
                    empty = empty and total[i, j] == 0.0
        for i in range(w):
            for j in range(i):
                total[j, i] = total[i, j]


@inner
def over_a_quantum(step, quantum, parts, first, last, half, term, total):
    """Integral of E(t) A E(t)' over a quantum, for A = ``total`` (overwritten) and E(t) = exp(M t).

    ``parts`` from ``first`` on are the propagators of a half, a quarter, ... of the quantum (see ladder.halves), before
    ``last``; ``step`` is M over what is left after them, short enough for the series; ``half`` and ``term`` are room.
    """
    w = total.shape[0]
    for p in range(first, last):
        times_transposed(parts[p], total, half)
        times_transposed(half, parts[p], term)
        for i in range(w):
            for j in range(w):
                total[i, j] += 0.5 * (term[i, j] + term[j, i])
    length = quantum * 0.5 ** (last - first)
    for i in range(w):
        for j in range(w):
            total[i, j] *= length
            term[i, j] = total[i, j]
    for order in range(2, 80):  # the next term is (step term + its transpose) / order
        times_transposed(step, term, half)
        largest, latest = 0.0, 0.0
        for i in range(w):
            for j in range(w):
                term[i, j] = (half[i, j] + half[j, i]) / order
                total[i, j] += term[i, j]
                largest = max(largest, abs(total[i, j]))
                latest = max(latest, abs(term[i, j]))
        if latest <= 1e-18 * largest:
            break


@inner
def quadrature(rungs, rows, place, time, mode, state, end, panel, smooth, fine, room, values, totals, doubts):
    """Add the integrals [quanta] of products of signals to totals[mode place, pair], and their doubt to ``doubts``.

    ``rows`` holds the first signals of the pairs, then the second ones, both padded to fours.  Modes of place -1 are
    left out.  Each piece is cut where the time since its beginning doubles, and at least at eight panels of rung
    ``panel`` (finer while a mode rings), unless nothing that is still alive turns much within a panel (``smooth``).
    Eight panels are integrated by nine points, and doubted by what five points differ; spans within which
    nothing turns by more than 0.01 by three points, and by more than 0.0002 by two.  ``room`` are three
    rows as long as a state and as ``rows``, ``values`` nine numbers a pair.
    """
    pieces, w = state.shape
    pairs, half = totals.shape[1], rows.shape[1] // 2
    x, y, seen = room[0, :w], room[1, :w], room[2]
    for p in range(pieces):
        span = (time[p + 1] if p + 1 < pieces else end) - time[p]
        m = mode[p]
        block = place[m] * 2 * half * w
        if span <= 0 or block < 0:
            continue
        for j in range(w):
            x[j] = state[p, j]
        rows_times(rows, block, 2 * half, x, seen, 0)
        for s in range(pairs):
            values[0, s] = seen[s] * seen[half + s]
        now = 0
        while now < span:
            k = panel
            if now < fine[m, 1]:
                k = max(min(k, fine[m, 0] - 3), 0)
            while k > 0 and 8 << k > max(now, 8):
                k -= 1
            calm = smooth[m, highest_bit(now)]
            k = max(k, calm)
            while k > 0 and 8 << k > span - now:
                k -= 1
            count = 8 if now + (8 << k) <= span else 1
            if count == 8 and k <= calm - 12:
                count, k = 1, k + 3
            elif count == 8 and k <= calm - 6:
                count, k = 2, k + 2
            for i in range(1, count + 1):
                multiply(rungs, m, k, x, y)
                for j in range(w):
                    x[j] = y[j]
                rows_times(rows, block, 2 * half, x, seen, 0)
                for s in range(pairs):
                    values[i, s] = seen[s] * seen[half + s]
            length = np.float64(1 << k)
            for s in range(pairs):
                if count == 8:
                    close, rough = 0.0, 0.0
                    for i in range(9):
                        close += NINE[i] * values[i, s]
                        rough += FIVE[i] * values[i, s]
                elif count == 2:
                    close = (values[0, s] + 4.0 * values[1, s] + values[2, s]) / 3.0
                    rough = close + 1e-4 * (values[0, s] - 2.0 * values[1, s] + values[2, s])
                else:
                    close = 0.5 * (values[0, s] + values[1, s])
                    rough = close + (1e-3 if k <= calm - 9 else 0.5) * (values[1, s] - values[0, s])
                totals[place[m], s] += close * length
                doubts[place[m], s] += abs(close - rough) * length
                values[0, s] = values[count, s]
            now += count << k


@inner
def carry(rungs, m, span, room, states):
    """Take each of some states, the rows of an array, on by a span in quanta; ``room`` are two states."""
    for p in range(states.shape[0]):
        leap(rungs, m, states[p], span, room[0], room[1])
        for j in range(states.shape[1]):
            states[p, j] = room[0, j]


@inner
def derive(rungs, watch, moves, jumps, about, matrices, place, time, mode, cause, state, end, room, result):
    """Take the rows of ``result``, derivatives of the state at the start of a run, on to its end.

    ``matrices`` are padded, the equations of a mode at the place of its kin.  At a located switching the derivative
    changes as told in runs/steady.py; ``room`` are five states, or as many numbers as ``result`` has rows.
    """
    pieces, w = state.shape
    before, after, moved = room[2], room[3], room[4]
    p = 0
    while p < pieces:
        while p + 1 < pieces and time[p + 1] == time[p]:
            p += 1
        stop = time[p + 1] if p + 1 < pieces else end
        carry(rungs, about[mode[p], KIN], stop - time[p], room, result)
        p += 1
        if p >= pieces or cause[p] < 0:
            continue
        last = p
        while last + 1 < pieces and time[last + 1] == time[p]:
            last += 1
        left, guard = mode[p - 1], cause[p]
        jump = moves[left, guard, JUMP]
        if jump < 0:
            rows_times(matrices, place[about[left, KIN]] * w * w, w, state[p], before, 0)
        else:  # the state logged is that behind the jump
            leap(rungs, about[left, KIN], state[p - 1], time[p] - time[p - 1], room[0], room[1])
            rows_times(matrices, place[about[left, KIN]] * w * w, w, room[0], before, 0)
        rows_times(matrices, place[about[mode[last], KIN]] * w * w, w, state[last], after, 0)
        row = (about[left, TWIN] * watch.shape[1] + guard) * w  # scaled: that cancels
        rate = row_times(watch, row, before)
        for k in range(result.shape[0]):
            moved[k] = row_times(watch, row, result[k])
        if jump >= 0:
            for k in range(result.shape[0]):
                result[k, jump] = dot(jumps[left, guard], result[k])
            before[jump] = dot(jumps[left, guard], before)
        if rate != 0.0:
            for k in range(result.shape[0]):
                for j in range(w):
                    result[k, j] += moved[k] / rate * (after[j] - before[j])


@inner
def ends(rungs, place, time, mode, state, end, turns, y, z, change, spent):
    """Add the change of x exp(-j turn t) over every piece to change [place, order, state], and its length to spent.

    y and z are room for a state.  Complex numbers are pairs here and in ``solve``: to have numba bring its own
    arithmetic of them takes as long as to compile both.
    """
    pieces, n = state.shape[0], change.shape[2]
    for p in range(pieces):
        stop = time[p + 1] if p + 1 < pieces else end
        if stop <= time[p]:
            continue
        block = place[mode[p]]
        spent[block] += stop - time[p]
        leap(rungs, mode[p], state[p], stop - time[p], y, z)
        for h in range(turns.shape[0]):
            before, after = turns[h] * time[p], turns[h] * stop
            c, s, d, e = np.cos(before), np.sin(before), np.cos(after), np.sin(after)
            for a in range(n):
                change[block, h, a, 0] += d * y[a] - c * state[p, a]
                change[block, h, a, 1] += s * state[p, a] - e * y[a]


@inner
def solve(matrices, turns, a, values):
    """values[m, h] = (matrices[m] - j turns[h])^-1 values[m, h], by elimination with row exchange; a is room."""
    modes, n = matrices.shape[0], matrices.shape[1]
    for m in range(modes):
        for h in range(turns.shape[0]):
            x = values[m, h]
            for i in range(n):
                for j in range(n):
                    a[i, j, 0], a[i, j, 1] = matrices[m, i, j], 0.0
                a[i, i, 1] = -turns[h]
            for k in range(n):
                best = k
                for i in range(k + 1, n):
                    if abs(a[i, k, 0]) + abs(a[i, k, 1]) > abs(a[best, k, 0]) + abs(a[best, k, 1]):
                        best = i
                if best != k:
                    for part in range(2):
                        for j in range(k, n):
                            a[k, j, part], a[best, j, part] = a[best, j, part], a[k, j, part]
                        x[k, part], x[best, part] = x[best, part], x[k, part]
                size = a[k, k, 0] * a[k, k, 0] + a[k, k, 1] * a[k, k, 1]
                if size == 0.0:
                    size = 1e-300  # resonance at the very order, without any loss: this state is left out
                real, imaginary = a[k, k, 0] / size, -a[k, k, 1] / size
                for j in range(k + 1, n):
                    before = a[k, j, 0]
                    a[k, j, 0] = real * before - imaginary * a[k, j, 1]
                    a[k, j, 1] = real * a[k, j, 1] + imaginary * before
                before = x[k, 0]
                x[k, 0] = real * before - imaginary * x[k, 1]
                x[k, 1] = real * x[k, 1] + imaginary * before
                for i in range(k + 1, n):
                    real, imaginary = a[i, k, 0], a[i, k, 1]
                    if real != 0.0 or imaginary != 0.0:
                        for j in range(k + 1, n):
                            a[i, j, 0] -= real * a[k, j, 0] - imaginary * a[k, j, 1]
                            a[i, j, 1] -= real * a[k, j, 1] + imaginary * a[k, j, 0]
                        x[i, 0] -= real * x[k, 0] - imaginary * x[k, 1]
                        x[i, 1] -= real * x[k, 1] + imaginary * x[k, 0]
            for k in range(n - 1, -1, -1):
                for j in range(k + 1, n):
                    x[k, 0] -= a[k, j, 0] * x[j, 0] - a[k, j, 1] * x[j, 1]
                    x[k, 1] -= a[k, j, 0] * x[j, 1] + a[k, j, 1] * x[j, 0]
