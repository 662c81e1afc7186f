"""Products of rows with a state, in vectors of four numbers; numba itself leaves so short loops in single numbers.

``rows_times`` is three to four times as fast as the plain loop on a state of 9 to 24 numbers.  All arrays are
contiguous, the length of ``x`` is a multiple of four, and so is the number of rows of guards.  With compiling
switched off the same names are plain Python.
"""

# The bodies of intrinsics write instructions for the compiler: flat, and with the arguments that numba hands over.
# ruff: noqa: PLR0913, PLR0917

from fractions import Fraction
from typing import Any

import numba
import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

from weldsim.engine.layout import EIGHT

LANES = 4
FAST = ("contract", "reassoc", "nsz")  # sums may be regrouped, products fused: only the last digit moves
NUMBER = ir.DoubleType()
VECTOR = ir.VectorType(NUMBER, LANES)
ZERO = ir.Constant(VECTOR, [0.0] * LANES)


def _data(context: Any, builder: Any, kind: Any, array: Any) -> Any:
    """Address of an array's first number."""
    return context.make_array(kind)(context, builder, value=array).data


def _load(builder: Any, base: Any, place: Any) -> Any:
    """Four numbers from a place of an array."""
    return builder.load(builder.bitcast(builder.gep(base, [place]), VECTOR.as_pointer()), align=8)


def _store(builder: Any, values: Any, base: Any, place: Any) -> None:
    builder.store(values, builder.bitcast(builder.gep(base, [place]), VECTOR.as_pointer()), align=8)


def _shuffle(builder: Any, a: Any, b: Any, order: list[int]) -> Any:
    return builder.shuffle_vector(a, b, ir.Constant(ir.VectorType(ir.IntType(32), len(order)), order))


def _across(builder: Any, sums: list[Any]) -> Any:
    """The four totals of four vectors, as one vector."""

    def pairs(a: Any, b: Any, first: list[int], second: list[int]) -> Any:
        return builder.fadd(_shuffle(builder, a, b, first), _shuffle(builder, a, b, second), flags=FAST)

    low = pairs(sums[0], sums[1], [0, 4, 2, 6], [1, 5, 3, 7])
    high = pairs(sums[2], sums[3], [0, 4, 2, 6], [1, 5, 3, 7])
    return pairs(low, high, [0, 1, 4, 5], [2, 3, 6, 7])


def _row_sums(builder: Any, matrix: Any, starts: list[Any], x: Any, width: Any) -> list[Any]:
    """For each row that starts at a place of the matrix its products with x, summed in four lanes."""
    sums = [cgutils.alloca_once_value(builder, ZERO) for _ in starts]
    for total in sums:
        builder.store(ZERO, total)
    zero, step = ir.Constant(width.type, 0), ir.Constant(width.type, LANES)
    with cgutils.for_range_slice(builder, zero, width, step, intp=width.type) as (j, _):
        values = _load(builder, x, j)
        for start, total in zip(starts, sums, strict=True):
            product = builder.fmul(_load(builder, matrix, builder.add(start, j)), values, flags=FAST)
            builder.store(builder.fadd(builder.load(total), product, flags=FAST), total)
    return [builder.load(total) for total in sums]


@intrinsic
def _rows_times(typing, matrix, first, rows, x, y, into):
    """y[into : into + rows] = the rows of a matrix, from place ``first`` of its numbers on, times x; at least 4 rows.

    Where the rows are no multiple of four, the last group overlaps the one before it.
    """
    signature = types.void(matrix, types.intp, types.intp, x, y, types.intp)

    def write(context, builder, signature, arguments):
        kinds = signature.args
        a, into_x, into_y = (_data(context, builder, kinds[k], arguments[k]) for k in (0, 3, 4))
        first, rows, into = arguments[1], arguments[2], arguments[5]
        shape = context.make_array(kinds[3])(context, builder, value=arguments[3]).shape
        width = builder.extract_value(shape, 0)
        zero, step = ir.Constant(rows.type, 0), ir.Constant(rows.type, LANES)
        last = builder.sub(rows, step)
        with cgutils.for_range_slice(builder, zero, rows, step, intp=rows.type) as (i, _):
            row = builder.select(builder.icmp_signed("<", i, last), i, last)
            starts = [
                builder.add(first, builder.mul(builder.add(row, ir.Constant(rows.type, k)), width))
                for k in range(LANES)
            ]
            totals = _across(builder, _row_sums(builder, a, starts, into_x, width))
            _store(builder, totals, into_y, builder.add(into, row))
        return context.get_dummy_value()

    return signature, write


@intrinsic
def _row_times(typing, matrix, first, x):
    """One row of a matrix, from place ``first`` of its numbers on, times x."""
    signature = types.float64(matrix, types.intp, x)

    def write(context, builder, signature, arguments):
        kinds = signature.args
        a, into_x = _data(context, builder, kinds[0], arguments[0]), _data(context, builder, kinds[2], arguments[2])
        shape = context.make_array(kinds[2])(context, builder, value=arguments[2]).shape
        (total,) = _row_sums(builder, a, [arguments[1]], into_x, builder.extract_value(shape, 0))
        halves = builder.fadd(
            _shuffle(builder, total, ZERO, [0, 1]), _shuffle(builder, total, ZERO, [2, 3]), flags=FAST
        )
        low, high = (builder.extract_element(halves, ir.Constant(ir.IntType(32), k)) for k in (0, 1))
        return builder.fadd(low, high, flags=FAST)

    return signature, write


@intrinsic
def _eights_times(typing, table, first, eights, deep, x, y, into, apart):
    """Groups of eight numbers, written to places of y that are ``apart`` from one another, the first to ``into``.

    The k-th eight is the sum over q < ``deep`` of x[q] times the eight numbers of the table at
    ``first + 8 (k deep + q)``: a product with columns, which needs no sums across.
    """
    signature = types.void(table, types.intp, types.intp, types.intp, x, y, types.intp, types.intp)

    def write(context, builder, signature, arguments):
        from_table, from_x, to_y = (_data(context, builder, signature.args[k], arguments[k]) for k in (0, 4, 5))
        first, eights, deep, into, apart = (arguments[k] for k in (1, 2, 3, 6, 7))
        kind = ir.VectorType(NUMBER, EIGHT)
        nothing = ir.Constant(kind, [0.0] * EIGHT)
        zero, one, two, wide = (ir.Constant(first.type, k) for k in (0, 1, 2, EIGHT))
        last, size = builder.sub(eights, one), builder.mul(deep, wide)
        totals = [cgutils.alloca_once_value(builder, nothing) for _ in range(2)]
        with cgutils.for_range_slice(builder, zero, eights, two, intp=first.type) as (k, _):
            other = builder.add(k, one)
            pair = k, builder.select(builder.icmp_signed("<", other, last), other, last)
            starts = [builder.add(first, builder.mul(which, size)) for which in pair]
            for total in totals:
                builder.store(nothing, total)
            with cgutils.for_range_slice(builder, zero, deep, one, intp=first.type) as (q, _):
                number = builder.load(builder.gep(from_x, [q]))
                lanes = builder.insert_element(ir.Constant(kind, ir.Undefined), number, ir.Constant(ir.IntType(32), 0))
                lanes = _shuffle(builder, lanes, lanes, [0] * EIGHT)
                for start, total in zip(starts, totals, strict=True):
                    place = builder.gep(from_table, [builder.add(start, builder.mul(q, wide))])
                    column = builder.load(builder.bitcast(place, kind.as_pointer()), align=8)
                    product = builder.fmul(column, lanes, flags=FAST)
                    builder.store(builder.fadd(builder.load(total), product, flags=FAST), total)
            for which, total in zip(pair, totals, strict=True):
                place = builder.gep(to_y, [builder.add(into, builder.mul(which, apart))])
                builder.store(builder.load(total), builder.bitcast(place, kind.as_pointer()), align=8)
        return context.get_dummy_value()

    return signature, write


def _any(builder: Any, hits: Any) -> Any:
    """Whether any lane of a vector of truth values is set."""
    bits = builder.bitcast(hits, ir.IntType(LANES))
    return builder.icmp_unsigned("!=", bits, ir.Constant(ir.IntType(LANES), 0))


@intrinsic
def _any_negative(typing, values, rows):
    """Whether one of the first ``rows`` values is negative."""
    signature = types.boolean(values, types.intp)

    def write(context, builder, signature, arguments):
        base, rows = _data(context, builder, signature.args[0], arguments[0]), arguments[1]
        hits = ir.VectorType(ir.IntType(1), LANES)
        found = cgutils.alloca_once_value(builder, ir.Constant(hits, [0] * LANES))
        builder.store(ir.Constant(hits, [0] * LANES), found)
        zero, step = ir.Constant(rows.type, 0), ir.Constant(rows.type, LANES)
        with cgutils.for_range_slice(builder, zero, rows, step, intp=rows.type) as (i, _):
            below = builder.fcmp_ordered("<", _load(builder, base, i), ZERO)
            builder.store(builder.or_(builder.load(found), below), found)
        return _any(builder, builder.load(found))

    return signature, write


@intrinsic
def _any_dip(typing, before, after, half, rows, span):
    """Whether one of the first ``rows`` values may dip below zero within a span.

    Values stand before their slopes, ``half`` apart; where one falls at the start and rises at the end, the two
    tangents bound a convex dip from below: they meet at before (fall - rise) + fall (after - before - rise span), over
    (fall - rise), which is negative.  Where they would meet before the start or behind the end the value is not convex;
    there it may dip if the nearer tangent reaches zero within the span.
    """
    signature = types.boolean(before, after, types.intp, types.intp, types.float64)

    def write(context, builder, signature, arguments):
        start, end = (_data(context, builder, signature.args[k], arguments[k]) for k in (0, 1))
        half, rows, span = arguments[2:]
        spans = ir.Constant(VECTOR, ir.Undefined)
        for k in range(LANES):
            spans = builder.insert_element(spans, span, ir.Constant(ir.IntType(32), k))
        hits = ir.VectorType(ir.IntType(1), LANES)
        found = cgutils.alloca_once_value(builder, ir.Constant(hits, [0] * LANES))
        builder.store(ir.Constant(hits, [0] * LANES), found)
        zero, step = ir.Constant(rows.type, 0), ir.Constant(rows.type, LANES)
        with cgutils.for_range_slice(builder, zero, rows, step, intp=rows.type) as (i, _):
            slopes = builder.add(half, i)
            fall, rise = _load(builder, start, slopes), _load(builder, end, slopes)
            first, last = _load(builder, start, i), _load(builder, end, i)
            change = builder.fsub(builder.fsub(last, first), builder.fmul(rise, spans))
            meeting = builder.fadd(builder.fmul(first, builder.fsub(fall, rise)), builder.fmul(fall, change))
            bent = builder.fcmp_ordered(">", change, ZERO)
            reached = builder.fadd(first, builder.fmul(fall, spans))
            bent = builder.and_(bent, builder.fcmp_ordered("<", reached, ZERO))
            late = builder.fcmp_ordered("<", last, reached)
            late = builder.and_(late, builder.fcmp_ordered("<", builder.fadd(first, change), ZERO))
            bent = builder.or_(bent, late)
            hit = builder.or_(builder.fcmp_ordered(">", meeting, ZERO), bent)
            for condition in (
                builder.fcmp_ordered("<", fall, ZERO),
                builder.fcmp_ordered(">", rise, ZERO),
                builder.fcmp_ordered(">=", first, ZERO),
            ):
                hit = builder.and_(hit, condition)
            builder.store(builder.or_(builder.load(found), hit), found)
        return _any(builder, builder.load(found))

    return signature, write


@intrinsic
def _any_turn(typing, before, after, half, rows, span):
    """Whether one of the first ``rows`` values falls at the start and rises at the end, so steeply that a tangent
    reaches zero within the span.
    """
    signature = types.boolean(before, after, types.intp, types.intp, types.float64)

    def write(context, builder, signature, arguments):
        start, end = (_data(context, builder, signature.args[k], arguments[k]) for k in (0, 1))
        half, rows, span = arguments[2:]
        spans = ir.Constant(VECTOR, ir.Undefined)
        for k in range(LANES):
            spans = builder.insert_element(spans, span, ir.Constant(ir.IntType(32), k))
        hits = ir.VectorType(ir.IntType(1), LANES)
        found = cgutils.alloca_once_value(builder, ir.Constant(hits, [0] * LANES))
        builder.store(ir.Constant(hits, [0] * LANES), found)
        zero, step = ir.Constant(rows.type, 0), ir.Constant(rows.type, LANES)
        with cgutils.for_range_slice(builder, zero, rows, step, intp=rows.type) as (i, _):
            slopes = builder.add(half, i)
            fall, rise = _load(builder, start, slopes), _load(builder, end, slopes)
            reached = builder.fadd(_load(builder, start, i), builder.fmul(fall, spans))
            left = builder.fsub(_load(builder, end, i), builder.fmul(rise, spans))
            hit = builder.or_(builder.fcmp_ordered("<", reached, ZERO), builder.fcmp_ordered("<", left, ZERO))
            hit = builder.and_(hit, builder.fcmp_ordered("<", fall, ZERO))
            hit = builder.and_(hit, builder.fcmp_ordered(">", rise, ZERO))
            builder.store(builder.or_(builder.load(found), hit), found)
        return _any(builder, builder.load(found))

    return signature, write


@intrinsic
def _highest_bit(typing, number):
    """Position of the highest set bit; 0 for what is not positive."""
    signature = types.int64(types.int64)

    def write(context, builder, signature, arguments):
        (number,) = arguments
        one = ir.Constant(number.type, 1)
        positive = builder.select(builder.icmp_signed("<", number, one), one, number)
        zeros = builder.ctlz(positive, ir.Constant(ir.IntType(1), 1))
        return builder.sub(ir.Constant(number.type, 63), zeros)

    return signature, write


@intrinsic
def _lost(typing, a, b, product):
    """What the product of two numbers is more than its rounded value: a b - product, exactly."""
    signature = types.float64(types.float64, types.float64, types.float64)

    def write(context, builder, signature, arguments):
        a, b, product = arguments
        return builder.fma(a, b, builder.fsub(ir.Constant(NUMBER, -0.0), product))

    return signature, write


def _plain_lost(a: float, b: float, product: float) -> float:
    """In exact fractions: no float of Python's has so many digits."""
    return float(Fraction(float(a)) * Fraction(float(b)) - Fraction(float(product)))


def _plain_highest_bit(number: int) -> int:
    return max(int(number), 1).bit_length() - 1


def _plain_rows_times(matrix: Any, first: int, rows: int, x: Any, y: Any, into: int) -> None:
    table = matrix.reshape(-1)[first : first + rows * len(x)].reshape(rows, len(x))
    y.reshape(-1)[into : into + rows] = table @ x


def _plain_row_times(matrix: Any, first: int, x: Any) -> float:
    return float(matrix.reshape(-1)[first : first + len(x)] @ x)


def _plain_eights_times(table: Any, first: int, eights: int, deep: int, x: Any, y: Any, into: int, apart: int) -> None:
    columns = table.reshape(-1)[first : first + eights * deep * EIGHT].reshape(eights, deep, EIGHT)
    for k in range(eights):
        y.reshape(-1)[into + k * apart : into + k * apart + EIGHT] = x[:deep] @ columns[k]


def _plain_any_negative(values: Any, rows: int) -> bool:
    return bool((values[:rows] < 0.0).any())


def _plain_any_dip(before: Any, after: Any, half: int, rows: int, span: float) -> bool:
    first, last = before[:rows], after[:rows]
    fall, rise = before[half : half + rows], after[half : half + rows]
    change = last - first - rise * span
    meeting = first * (fall - rise) + fall * change
    reached = first + fall * span
    bent = ((change > 0.0) & (reached < 0.0)) | ((last < reached) & (first + change < 0.0))
    return bool(np.any(((meeting > 0.0) | bent) & (fall < 0.0) & (rise > 0.0) & (first >= 0.0)))


def _plain_any_turn(before: Any, after: Any, half: int, rows: int, span: float) -> bool:
    fall, rise = before[half : half + rows], after[half : half + rows]
    steep = (before[:rows] + fall * span < 0.0) | (after[:rows] - rise * span < 0.0)
    return bool(np.any(steep & (fall < 0.0) & (rise > 0.0)))


_SETTINGS: Any = numba.config
_PLAIN = bool(_SETTINGS.DISABLE_JIT)
rows_times: Any = _plain_rows_times if _PLAIN else _rows_times
row_times: Any = _plain_row_times if _PLAIN else _row_times
eights_times: Any = _plain_eights_times if _PLAIN else _eights_times
any_negative: Any = _plain_any_negative if _PLAIN else _any_negative
any_dip: Any = _plain_any_dip if _PLAIN else _any_dip
any_turn: Any = _plain_any_turn if _PLAIN else _any_turn
lost: Any = _plain_lost if _PLAIN else _lost
highest_bit: Any = _plain_highest_bit if _PLAIN else _highest_bit
