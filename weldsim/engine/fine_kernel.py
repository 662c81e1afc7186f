"""The first rungs of a ladder in numbers of twice the digits, compiled when a supply first has a mode that needs them.

A number is a pair: a float and what is missing in it, about 32 digits together.  Nothing here may be regrouped or
fused: what a sum or product rounds off is found by calculating it back.

References: the error of a sum after Knuth, that of a product after Dekker and Veltkamp (1971).
"""

from weldsim.engine.compiled import verbatim

SPLIT = 134217729.0  # 2^27 + 1: parts a float into two of 26 digits, whose products are exact


@verbatim
def product(a, a_rest, b, b_rest, upper, c, c_rest):
    """C = A B for pairs; ``upper`` is room for the upper halves of B."""
    rows, inner, columns = a.shape[0], a.shape[1], b.shape[1]
    for k in range(inner):
        for j in range(columns):
            far = SPLIT * b[k, j]
            upper[k, j] = far - (far - b[k, j])
    for i in range(rows):
        for j in range(columns):
            c[i, j] = c_rest[i, j] = 0.0
        for k in range(inner):
            factor, rest = a[i, k], a_rest[i, k]
            if factor == 0.0:
                continue
            far = SPLIT * factor
            high = far - (far - factor)
            low = factor - high
            for j in range(columns):
                whole, top = b[k, j], upper[k, j]
                bottom = whole - top
                term = factor * whole
                missing = ((high * top - term) + high * bottom + low * top) + low * bottom
                missing += factor * b_rest[k, j] + rest * whole
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
def climb_finely(matrix, matrix_rest, terms, known, known_rest, last, room, rungs):
    """Fill the lowest ``last`` rungs, and room[0] with F = exp(A) - 1 of the next: see ladder.py.

    ``matrix`` is A over the first span; ``known`` its rows that are written exactly, over this span and each one twice
    as long, of which those before the last ``last`` + 1 are fractions of a quantum; ``room`` are seven matrices.
    """
    n, states = matrix.shape[0], matrix.shape[0] - known.shape[1]
    f, f_rest, upper = room[0], room[1], room[2]
    term, term_rest, g, g_rest = room[3, :states], room[4, :states], room[5, :states], room[6, :states]
    for i in range(n):
        for j in range(n):
            if i < states:
                term[i, j] = f[i, j] = matrix[i, j]
                term_rest[i, j] = f_rest[i, j] = matrix_rest[i, j]
            else:
                f[i, j], f_rest[i, j] = known[0, i - states, j], known_rest[0, i - states, j]
    for power in range(2, terms + 1):
        product(term, term_rest, matrix, matrix_rest, upper, g, g_rest)
        divide(g, g_rest, float(power))
        add(f[:states], f_rest[:states], 1.0, g, g_rest)
        term, g = g, term
        term_rest, g_rest = g_rest, term_rest
    first = known.shape[0] - 1 - last
    for k in range(1, known.shape[0]):
        if k > first:
            for i in range(n):
                for j in range(n):
                    rungs[k - 1 - first, i, j] = f[i, j]
                rungs[k - 1 - first, i, i] = (1.0 + f[i, i]) + f_rest[i, i]  # what is left of a fast part is small
        product(f[:states], f_rest[:states], f, f_rest, upper, g, g_rest)
        add(f[:states], f_rest[:states], 2.0, g, g_rest)
        for i in range(states, n):
            for j in range(n):
                f[i, j], f_rest[i, j] = known[k, i - states, j], known_rest[k, i - states, j]
