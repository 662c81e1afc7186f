"""The first rungs of a ladder in numbers of twice the digits, compiled when a supply first has a mode that needs them.

A number is a pair: a float and what is missing in it, about 32 digits together.  Nothing here may be regrouped or
fused: what a sum or product rounds off is found by calculating it back.

References: the error of a sum after Knuth, that of a quotient after Dekker and Veltkamp (1971); the series in blocks
of four powers after Paterson and Stockmeyer (1973).
"""

from weldsim.engine.compiled import verbatim
from weldsim.engine.products import lost

SPLIT = 134217729.0  # 2^27 + 1: parts a float into two of 26 digits, whose products are exact
BLOCKS = 4  # of four powers each: 15 terms, for a norm of 1/4 to 1e-21


@verbatim
def product(a, a_rest, b, b_rest, c, c_rest):
    """C = A B for pairs."""
    rows, inner, columns = a.shape[0], a.shape[1], b.shape[1]
    for i in range(rows):
        for j in range(columns):
            c[i, j] = c_rest[i, j] = 0.0
        for k in range(inner):
            factor, rest = a[i, k], a_rest[i, k]
            if factor == 0.0:
                continue
            for j in range(columns):
                whole = b[k, j]
                term = factor * whole
                missing = lost(factor, whole, term) + (factor * b_rest[k, j] + rest * whole)
                before = c[i, j]
                total = before + term
                taken = total - before
                c_rest[i, j] += ((before - (total - taken)) + (term - taken)) + missing
                c[i, j] = total
        for j in range(columns):
            total = c[i, j] + c_rest[i, j]
            c_rest[i, j] -= total - c[i, j]
            c[i, j] = total


@verbatim
def add(a, a_rest, factor, b, b_rest):
    """A = factor A + B for pairs; the factor is 1 or 2, so that nothing is rounded by it."""
    for i in range(a.shape[0]):
        for j in range(a.shape[1]):
            before, term = factor * a[i, j], b[i, j]
            total = before + term
            taken = total - before
            rest = ((before - (total - taken)) + (term - taken)) + (factor * a_rest[i, j] + b_rest[i, j])
            a[i, j] = total + rest
            a_rest[i, j] = rest - (a[i, j] - total)


@verbatim
def divide(a, a_rest, divisor):
    """A = A / divisor for pairs, by a small whole number."""
    for i in range(a.shape[0]):
        for j in range(a.shape[1]):
            share = a[i, j] / divisor
            far = SPLIT * share
            high = far - (far - share)
            left = (a[i, j] - high * divisor) - (share - high) * divisor
            a_rest[i, j] = (left + a_rest[i, j]) / divisor
            a[i, j] = share


@verbatim
def climb_finely(matrix, matrix_rest, known, known_rest, last, powers, room, rungs):
    """Fill the lowest ``last`` rungs, and powers[0] with F = exp(A) - 1 of the next: see ladder.py.

    ``matrix`` is A over the first span; ``known`` its rows that are written exactly, over this span and each one twice
    as long, of which those before the last ``last`` + 1 are fractions of a quantum.  ``powers`` are six matrices of
    that size, ``room`` six of its other rows.

    exp(A) = B0 + A^4 / 4! (B1 + 4! A^4 / 8! (B2 + ...)), with Bj = 1 + A / (4j+1) + A^2 / (4j+1)(4j+2) + A^3 / (...).
    """
    n, states = matrix.shape[0], matrix.shape[0] - known.shape[1]
    product(matrix, matrix_rest, matrix, matrix_rest, powers[0], powers[1])
    product(powers[0], powers[1], matrix, matrix_rest, powers[2], powers[3])
    product(powers[0], powers[1], powers[0], powers[1], powers[4], powers[5])
    total, total_rest, g, g_rest, term, term_rest = room[0], room[1], room[2], room[3], room[4], room[5]
    for i in range(states):
        for j in range(n):
            g[i, j] = g_rest[i, j] = 0.0
    for block in range(BLOCKS - 1, -1, -1):
        first = 4 * block
        if block < BLOCKS - 1:
            product(total, total_rest, powers[4], powers[5], g, g_rest)
            divide(g, g_rest, float((first + 1) * (first + 2) * (first + 3) * (first + 4)))
        total, total_rest, g, g_rest = g, g_rest, total, total_rest
        divisor = 1
        for power in range(1, 4):
            divisor *= first + power
            for i in range(states):
                for j in range(n):
                    term[i, j] = matrix[i, j] if power == 1 else powers[2 * power - 4, i, j]
                    term_rest[i, j] = matrix_rest[i, j] if power == 1 else powers[2 * power - 3, i, j]
            divide(term, term_rest, float(divisor))
            add(total, total_rest, 1.0, term, term_rest)
        for i in range(states if block > 0 else 0):
            whole = total[i, i] + 1.0
            total_rest[i, i] += total[i, i] - (whole - 1.0)
            total[i, i] = whole
    f, f_rest = powers[0], powers[1]
    for i in range(n):
        for j in range(n):
            f[i, j] = total[i, j] if i < states else known[0, i - states, j]
            f_rest[i, j] = total_rest[i, j] if i < states else known_rest[0, i - states, j]
    first = known.shape[0] - 1 - last
    for k in range(1, known.shape[0]):
        if k > first:
            for i in range(n):
                for j in range(n):
                    rungs[k - 1 - first, i, j] = f[i, j]
                rungs[k - 1 - first, i, i] = (1.0 + f[i, i]) + f_rest[i, i]  # what is left of a fast part is small
        product(f[:states], f_rest[:states], f, f_rest, g, g_rest)
        add(f[:states], f_rest[:states], 2.0, g, g_rest)
        for i in range(states, n):
            for j in range(n):
                f[i, j], f_rest[i, j] = known[k, i - states, j], known_rest[k, i - states, j]
