"""Assembling a mode: what its pieces leave to solve, and what its equations say of how it moves.

The formulas stand in network/modes.py and engine/coordinates.py; here they are loops, since a mode is a dozen small
matrices, and a call of a library for each takes ten times as long as what it does.
"""

import math

import numpy as np

from weldsim.engine.compiled import inlined, inner
from weldsim.engine.layout import CONDITION, EIGHT, FASTEST, FINE, FINE_FOR, LEAST_RUNG, LOST, LOW, PAIRS
from weldsim.engine.products import eights_times

SOUND = 1e12  # eigenvectors of a worse condition are not used: the states themselves do, with wide bounds
RESONANT = 1e-9  # of a source's speed: a part as near to it as that counts as driven without limit
TURN = 0.08  # [rad] of the fastest part within which six states give a polynomial good to 1e-12
ALIVE = 30.0  # time constants after which nothing is left of what decays
EVERY, SOON = 5, 10  # rungs from one to the next that is looked at for the sizes of its terms; the last of these
DAMPED = math.log(1e5)  # a ringing is over when it has fallen by this factor


@inlined
def or_one(size):
    """A size to divide by."""
    return size if size > 0.0 else 1.0


@inner
def invert(a, order):
    """A = 1 / A, by elimination with the largest pivot of each column; false where there is none."""
    n = a.shape[0]
    for k in range(n):
        best = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[best, k]):
                best = i
        order[k] = best
        if a[best, k] == 0.0:
            return False
        for j in range(n):
            a[k, j], a[best, j] = a[best, j], a[k, j]
        factor = 1.0 / a[k, k]
        a[k, k] = 1.0
        for j in range(n):
            a[k, j] *= factor
        for i in range(n):
            share = a[i, k]
            if i == k or share == 0.0:
                continue
            a[i, k] = 0.0
            for j in range(n):
                a[i, j] -= share * a[k, j]
    for k in range(n - 1, -1, -1):
        other = order[k]
        if other != k:
            for i in range(n):
                a[i, k], a[i, other] = a[i, other], a[i, k]
    return True


@inner
def norm(matrix):
    """The 1-norm."""
    largest = 0.0
    for j in range(matrix.shape[1]):
        total = 0.0
        for i in range(matrix.shape[0]):
            total += abs(matrix[i, j])
        largest = max(largest, total)
    return largest


@inner
def add_product(sign, left, right, into):
    """INTO = INTO + sign LEFT RIGHT, for matrices with many zeros."""
    for i in range(left.shape[0]):
        for k in range(left.shape[1]):
            factor = sign * left[i, k]
            if factor != 0.0:
                for j in range(into.shape[1]):
                    into[i, j] += factor * right[k, j]


@inner
def stack(relations, laws, sums, parts, law_numbers, numbers, rows):
    """All rows over [z, w] that a mode sets to zero: relations, laws of its pieces, sums with what its pieces add."""
    place, columns = 0, rows.shape[1]
    for i in range(relations.shape[0]):
        for j in range(columns):
            rows[place, j] = relations[i, j]
        place += 1
    for e in range(law_numbers.shape[0]):
        for j in range(columns):
            rows[place, j] = laws[law_numbers[e], j]
        place += 1
    for i in range(sums.shape[0]):
        for j in range(columns):
            rows[place, j] = sums[i, j]
        for e in range(numbers.shape[0]):
            for j in range(columns):
                rows[place, j] += parts[numbers[e], i, j]
        place += 1


@inner
def solve(
    relations,
    laws,
    sums,
    parts,
    law_numbers,
    numbers,
    rows,
    square,
    inverse,
    sizes,
    order,
    residual,
    insert,
    doubt,
    told,
):
    """The voltages and currents w of a mode's elements as rows over its state z, refined twice: see network/modes.py.

    Leaves the scaled square system and its inverse, ``sizes`` (of rows, of columns), w in ``insert``, its last change
    in ``doubt``, and the condition in told[CONDITION]; false where there is no w at all.
    """
    stack(relations, laws, sums, parts, law_numbers, numbers, rows)
    count, size = square.shape[0], insert.shape[1]
    for i in range(count):
        largest = 0.0
        for j in range(count):
            largest = max(largest, abs(rows[i, size + j]))
        sizes[0, i] = or_one(largest)
        for j in range(size + count):
            rows[i, j] /= sizes[0, i]
    for j in range(count):
        largest = 0.0
        for i in range(count):
            largest = max(largest, abs(rows[i, size + j]))
        sizes[1, j] = or_one(largest)
        for i in range(count):
            square[i, j] = inverse[i, j] = rows[i, size + j] / sizes[1, j]
    if not invert(inverse, order):
        return False
    told[CONDITION] = norm(square) * norm(inverse)
    for i in range(count):
        for j in range(size):
            insert[i, j] = 0.0
    for again in range(3):
        for i in range(count):
            for j in range(size):
                residual[i, j], doubt[i, j] = rows[i, j], 0.0
        if again:
            add_product(1.0, square, insert, residual)
        add_product(1.0, inverse, residual, doubt)
        for i in range(count):
            for j in range(size):
                insert[i, j] -= doubt[i, j]
    for i in range(count):
        for j in range(size):
            insert[i, j] /= sizes[1, i]
            doubt[i, j] = abs(doubt[i, j]) / sizes[1, i]
    return True


@inner
def put_in(rows, picked, factors, rates, insert, doubt, found, told):
    """The rows picked over z: found = factor (rows over z + rows over w times ``insert``).

    Of the first ``rates`` of them, which are the states' own, told[FASTEST] gets the largest number, and told[LOST]
    what the ``doubt`` makes of one.
    """
    count, size = insert.shape
    told[FASTEST] = told[LOST] = 0.0
    for r in range(picked.shape[0]):
        row = picked[r]
        for j in range(size):
            found[r, j] = rows[row, j]
        for k in range(count):
            share = rows[row, size + k]
            if share != 0.0:
                for j in range(size):
                    found[r, j] += share * insert[k, j]
        for j in range(size):
            found[r, j] *= factors[r]
            if r < rates:
                told[FASTEST] = max(told[FASTEST], abs(found[r, j]))
                lost = 0.0
                for k in range(count):
                    lost += abs(rows[row, size + k]) * doubt[k, j]
                told[LOST] = max(told[LOST], lost)


@inner
def driven_by(value, drive, inputs, omegas, share):
    """The sources' share of a left eigenvector, as pairs of numbers: see coordinates.py."""
    slowest, count = omegas[0] if omegas.shape[0] else 1.0, drive.shape[0] // 2
    settled = 0.0 * value
    if abs(value) > RESONANT * slowest:
        settled = 1.0 / value
    for k in range(inputs):
        first = complex(drive[4 * k], drive[4 * k + 1]) * settled
        put(share, 2 * k, first)
        put(share, 2 * k + 1, (first + complex(drive[4 * k + 2], drive[4 * k + 3])) * settled)
    for k in range(omegas.shape[0]):
        place, omega = 2 * (inputs + k), omegas[k]
        square = value * value + omega * omega
        answer = 0.0 * value
        if abs(square) > RESONANT * omega * omega:
            answer = 1.0 / square
        sine = complex(drive[2 * place], drive[2 * place + 1])
        cosine = complex(drive[2 * place + 2], drive[2 * place + 3])
        put(share, place, (sine * value - cosine * omega) * answer)
        put(share, place + 1, (sine * omega + cosine * value) * answer)
    put(share, count - 1, complex(drive[2 * count - 2], drive[2 * count - 1]) * settled)


@inlined
def put(row, place, number):
    """Write a complex number as a pair."""
    row[2 * place], row[2 * place + 1] = number.real, number.imag


@inner
def paired_norm(matrix, columns):
    """The 1-norm of a matrix of complex numbers, given as pairs, over its first columns."""
    largest = 0.0
    for j in range(columns):
        total = 0.0
        for i in range(matrix.shape[0]):
            total += np.hypot(matrix[i, 2 * j], matrix[i, 2 * j + 1])
        largest = max(largest, total)
    return largest


@inner
def take_apart(values, vectors, matrix, inputs, omegas, inverse, order, drive, left, axes, back, told):
    """Left eigenvectors of a mode's whole matrix, and its coordinates: see coordinates.py.

    Values, vectors (one a column) and left vectors (one a row) are pairs of numbers, a value with its partner behind
    it.  told[CONDITION] gets the condition of the vectors; beyond ``SOUND`` the coordinates are the states themselves.
    """
    states, n = values.shape[0], matrix.shape[0]
    for i in range(n):
        for j in range(n):
            axes[i, j] = back[i, j] = 1.0 if i == j else 0.0
    for t in range(states):  # real and imaginary part of the first of a pair stand for both
        part = t - 1 if values[t, 1] < 0.0 else t
        for i in range(states):
            inverse[i, t] = vectors[i, 2 * part + (t - part)]
    told[CONDITION] = np.inf
    if not invert(inverse, order):
        return
    for t in range(states):
        for j in range(states):
            left[t, 2 * j], left[t, 2 * j + 1] = inverse[t, j], 0.0
            if values[t, 1] > 0.0:
                left[t, 2 * j], left[t, 2 * j + 1] = 0.5 * inverse[t, j], -0.5 * inverse[t + 1, j]
            elif values[t, 1] < 0.0:
                left[t, 2 * j], left[t, 2 * j + 1] = 0.5 * inverse[t - 1, j], 0.5 * inverse[t, j]
    condition = paired_norm(vectors, states) * paired_norm(left, states)
    if not condition < SOUND:
        return
    told[CONDITION] = condition
    for t in range(states):
        for j in range(n - states):
            real = imaginary = 0.0
            for i in range(states):
                real += left[t, 2 * i] * matrix[i, states + j]
                imaginary += left[t, 2 * i + 1] * matrix[i, states + j]
            drive[2 * j], drive[2 * j + 1] = real, imaginary
        driven_by(complex(values[t, 0], values[t, 1]), drive, inputs, omegas, left[t, 2 * states :])
    write_coordinates(values, vectors, left, axes, back)


@inner
def write_coordinates(values, vectors, left, axes, back):
    """Rows of ``axes`` along the left vectors, columns of ``back`` along the right ones."""
    states, n = values.shape[0], back.shape[0]
    row, paired = 0, states
    for t in range(states):
        if values[t, 1] > 0.0:
            paired -= 1
    for t in range(states):
        if values[t, 1] < 0.0:
            continue
        size = 0.0
        for j in range(n):
            size = max(size, np.hypot(left[t, 2 * j], left[t, 2 * j + 1]))
        twice = 2.0 * size if values[t, 1] > 0.0 else size
        for j in range(n):
            axes[row, j] = left[t, 2 * j] / size
        for i in range(states):
            back[i, row] = vectors[i, 2 * t] * twice
        row += 1
        if values[t, 1] > 0.0:
            for j in range(n):
                axes[paired, j] = left[t, 2 * j + 1] / size
            for i in range(states):
                back[i, paired] = -vectors[i, 2 * t + 1] * twice
            paired += 1
    for i in range(states):
        for k in range(states):
            for j in range(states, n):
                back[i, j] -= back[i, k] * axes[k, j]


@inner
def write_pace(values, omegas, quantum, bits, smooth, about):
    """How far polynomials may follow a mode, by the highest bit of its age, and how finely it is stepped as it rings.

    ``smooth``: the highest rung over which nothing that is still alive turns by more than ``TURN``.  Of the parts of
    the solution the circuit's own have the values given; the sources turn for ever.  The first entry is for the very
    beginning too, where what dies away within the first quantum is alive.  A mode that rings is stepped by about a
    fifth of its shortest ringing, for as long [quanta] as the slowest takes to fall by ``DAMPED``; about[PAIRS] is how
    many parts turn within a step faster than they die away.
    """
    step = quantum * 2.0**bits
    sources = 0.0
    for k in range(omegas.shape[0]):
        sources = max(sources, omegas[k])
    for bit in range(smooth.shape[0]):
        age = quantum * 2.0**bit if bit else 0.0
        fastest = sources
        for t in range(values.shape[0]):
            if -values[t, 0] * age < ALIVE:
                fastest = max(fastest, np.hypot(values[t, 0], values[t, 1]))
        rung = np.floor(np.log2(TURN / max(fastest * quantum, 1e-300)))
        smooth[bit] = int(min(rung, bits - 1.0)) if rung > LEAST_RUNG else 0
    ringing, shortest, slowest = 0, 0.0, np.inf
    for t in range(values.shape[0]):
        if values[t, 1] * step > 1.0 and values[t, 1] > 0.2 * abs(values[t, 0]):
            ringing += 1
            shortest, slowest = max(shortest, values[t, 1]), min(slowest, -values[t, 0])
    about[FINE], about[FINE_FOR], about[PAIRS] = bits, 0, ringing
    if ringing:
        rung = bits - max(1.0, np.ceil(np.log2(shortest * step / 1.3)))
        about[FINE] = int(max(rung, 4.0))
        about[FINE_FOR] = int(np.rint(min(DAMPED / max(1e-3 * shortest, slowest) / quantum, 2.0**60)))


@inlined
def fill_eights(f, table):
    """Write the columns of a matrix as a table for ``eights_times``: groups of eight, row below row; zeros beyond."""
    for block in range(table.shape[0]):
        for i in range(table.shape[1]):
            for j in range(EIGHT):
                column = block * EIGHT + j
                table[block, i, j] = f[i, column] if column < f.shape[1] else 0.0


@inner
def look_ahead(watch, rungs, pace, back, count, slopes, table, back_table, line, finders, reach):
    """What a mode's guards (the first ``count`` rows of ``watch``) are ahead of a state, and the most that they change.

    Writes their slopes from row ``slopes`` of ``watch`` on; guard row times propagator in ``finders``, behind them the
    sum of its terms' sizes where that is largest, up to rung ``SOON``; and in ``reach`` the most that a unit of each
    coordinate changes a guard by, over the lower rungs and over all: NaN, which bounds nothing, where a propagator
    overflows.  ``line`` is room for three rows.
    """
    n, blocks, width = pace.shape[0], table.shape[0], table.shape[0] * EIGHT
    last = finders.shape[1] - 1
    low = last - LOW
    fill_eights(pace, table)
    fill_eights(back, back_table)
    for g in range(count):
        eights_times(table, 0, blocks, n, watch[g], line, 0, EIGHT)
        for j in range(n):
            watch[slopes + g, j] = line[0, j]
            reach[0, g, j] = reach[1, g, j] = 0.0
            finders[g, last, j] = abs(watch[g, j])
    for k in range(last):
        fill_eights(rungs[k], table)
        which = 0 if k < low else 1
        for g in range(count):
            eights_times(table, 0, blocks, n, watch[g], line, 0, EIGHT)
            for j in range(n):
                finders[g, k, j] = line[0, j]
                line[1, j] = line[0, j] - watch[g, j]
            eights_times(back_table, 0, blocks, n, line[1], line, 2 * width, EIGHT)
            for j in range(n):
                most = reach[0 if k <= low else 1, g, j]
                size = abs(line[2, j])
                reach[which, g, j] = most if size <= most or most != most else size
        if k % EVERY or k > SOON:  # what is fast cancels here; what grows has not grown yet
            continue
        for block in range(blocks):
            for i in range(n):
                for j in range(EIGHT):
                    table[block, i, j] = abs(table[block, i, j])
        for g in range(count):
            for j in range(n):
                line[1, j] = abs(watch[g, j])
            eights_times(table, 0, blocks, n, line[1], line, 0, EIGHT)
            for j in range(n):
                if line[0, j] > finders[g, last, j]:
                    finders[g, last, j] = line[0, j]
