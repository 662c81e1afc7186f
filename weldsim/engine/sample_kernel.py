"""Compiled samples of logged pieces at even instants.

Within a piece a sample is a row times a power of one propagator E times the state at the piece's first sample.  So a
mode in which many samples follow one another gets a table: of every signal the row times E, E^2, ... E^8 side by side,
and behind them the rows of E^8.  The next eight samples of all signals, and the state eight samples on, are then
products with columns, written to where the samples belong.  What a last eight has too many of the pieces that follow
overwrite.  Where samples are no whole number of quanta apart, a table holds eight signals side by side, and the rows
of E.  Each sample so has a short step next to its row: what two states differ by, which a voltage behind blocked diodes
makes much of, is no better known than the size of the step that led to them.
"""

import numpy as np

from weldsim.engine.compiled import inner
from weldsim.engine.kernel import leap
from weldsim.engine.layout import EIGHT, OFTEN
from weldsim.engine.products import eights_times, rows_times
from weldsim.engine.readout_kernel import times_transposed


@inner
def turned_power(rungs, m, span, room):
    """room[0] = the transpose of exp(M span) for a span in quanta."""
    w = rungs.shape[3]
    for i in range(w):
        for j in range(w):
            room[0, i, j] = 1.0 if i == j else 0.0
    k = rungs.shape[1] - 1
    while span > 0:
        while 1 << k > span:
            k -= 1
        span -= 1 << k
        times_transposed(room[0], rungs[m, k], room[1])
        for i in range(w):
            for j in range(w):
                room[0, i, j] = room[1, i, j]


@inner
def make_table(rungs, m, rows, block, signals, step, together, x, y, room, table):
    """Write the table of mode m for samples ``step`` quanta apart, eight of them or one at once (``together``).

    x, y and ``room`` are room for two states and two matrices.
    """
    w, deep = rows.shape[2], table.shape[1]
    turned_power(rungs, m, step, room)
    for s in range(signals):
        for j in range(w):
            x[j] = rows[block, s, j]
        for lane in range(s * together, (s + 1) * together):
            rows_times(room, 0, w, x, y, 0)
            x, y = y, x
            for q in range(deep):
                table[lane // EIGHT, q, lane % EIGHT] = x[q]
    turned_power(rungs, m, together * step, room)
    across = -(-signals * together // EIGHT)
    for i in range(w):
        for q in range(deep):
            table[across + i // EIGHT, q, i % EIGHT] = room[0, q, i]


@inner
def sample(rungs, rows, place, time, mode, state, end, first, spacing, values, room):
    """Fill values[signal, i] with rows @ x at ``first + i * spacing`` (spacing in quanta, as float) for a run of
    pieces.  Those before the first, or behind the end, are left: room[0] tells the first of each piece, and the end.

    ``place[m]`` is the row block of mode m, if a piece of it lasts; a block has four rows at least.  A sample on a
    change of mode belongs to the later piece.  ``room`` is that of sample_room.py.
    """
    pieces, w = state.shape
    begins, often, tables, x, y, near_x, near_y, z, found, square = room
    signals, count = values.shape
    step, deep, size = np.int64(np.floor(spacing)), tables.shape[2], tables.shape[1] * tables.shape[2] * EIGHT
    together = EIGHT if spacing == step else 1
    across = -(-signals * together // EIGHT)
    before, per = 0, 1.0 / max(spacing, 1.0)
    for p in range(pieces + 1):
        begin = time[p] if p < pieces else end + 1
        i = min(max(np.int64((begin - first) * per), before), count)
        while i < count and first + np.int64(np.rint(i * spacing)) < begin:
            i += 1
        while i > before and first + np.int64(np.rint((i - 1) * spacing)) >= begin:
            i -= 1
        begins[p] = i
        if p > 0 and i > before:
            often[place[mode[p - 1]]] += i - before - 1
        before = i
    last, made = begins[pieces], 0
    for p in range(pieces):
        i, stop, m = begins[p], begins[p + 1], mode[p]
        if i == stop:
            continue
        block = place[m]
        if often[block] >= OFTEN:
            make_table(rungs, m, rows, block, signals, step, together, near_x, near_y, square, tables[made])
            made += 1
            often[block] = -made  # from here on the number of its table
        table, now = (-often[block] - 1) * size, time[p]
        for j in range(w):
            near_x[j] = state[p, j]
        while i < stop:  # the state is that of the sample before, or of the piece's beginning
            span = first + np.int64(np.rint(i * spacing)) - now
            alone = table < 0 or i == begins[p] or span < step
            at_once = 1 if alone else together
            straight = at_once > 1 and i + at_once <= last
            if alone or span > step:
                leap(rungs, m, near_x, span if alone else span - step, near_y, z)
                x, y, near_x, near_y = y, x, near_y, near_x
            if alone:
                rows_times(rows, block * rows.shape[1] * w, rows.shape[1], near_x, found, 0)
            else:
                target, into, apart = (values, i, count) if straight else (found, 0, EIGHT)
                eights_times(tables, table, across, deep, x, target, into, apart)
                if i + at_once < stop:
                    eights_times(tables, table + across * deep * EIGHT, tables.shape[1] - across, deep, x, y, 0, EIGHT)
                    x, y, near_x, near_y = y, x, near_y, near_x
            if not straight:
                for s in range(signals):
                    for j in range(min(at_once, last - i)):
                        values[s, i + j] = found[0, s * at_once + j]
            i += at_once
            now += span + (at_once - 1) * step
