"""Vector instructions (or, uncompiled, their plain twins) against sums and geometry written out here."""

import math

import numba
import numpy as np
import pytest

from weldsim.engine.products import any_dip, any_negative, any_turn, eights_times, row_times, rows_times

SPAN = 0.5


@numba.njit
def call_rows_times(matrix, first, rows, x, y, into):
    """Rows from a place on."""
    rows_times(matrix, first, rows, x, y, into)


@numba.njit
def call_row_times(matrix, first, x):
    """One row from a place on."""
    return row_times(matrix, first, x)


@numba.njit
def call_eights_times(table, shape, x, y, places):
    """Columns of the second of two tables, of a shape, written from a place on and so far apart."""
    (eights, deep), (into, apart) = shape, places
    eights_times(table, eights * deep * 8, eights, deep, x, y, into, apart)


@numba.njit
def call_any_negative(values, rows):
    """Any of the first values."""
    return any_negative(values, rows)


@numba.njit
def call_any_dip(before, after, half, rows, span):
    """Any dip."""
    return any_dip(before, after, half, rows, span)


@numba.njit
def call_any_turn(before, after, half, rows, span):
    """Any turn."""
    return any_turn(before, after, half, rows, span)


@pytest.mark.parametrize("width", [4, 8, 12])
@pytest.mark.parametrize("rows", [4, 5, 7, 8])
def test_products_of_rows(width, rows):
    """Each product is the exactly rounded sum of its terms to some roundings, and nothing beside them is written."""
    draw = np.random.default_rng(10 * width + rows)
    matrix, x = draw.normal(size=(3, rows, width)), draw.normal(size=width)
    found = np.full(rows + 2, 7.0)
    call_rows_times(matrix, rows * width, rows, x, found, 1)
    told = [math.fsum(matrix[1, r] * x) for r in range(rows)]
    assert found[1:-1] == pytest.approx(told, abs=1e-14 * width)
    assert (found[0], found[-1]) == (7.0, 7.0)
    assert call_row_times(matrix, (rows + 2) * width, x) == pytest.approx(told[2], abs=1e-14 * width)


@pytest.mark.parametrize("deep", [1, 5, 8])
@pytest.mark.parametrize("eights", [1, 2, 5])
def test_products_of_columns(eights, deep):
    """Each number of each eight is the exactly rounded sum of its terms to some roundings, and nothing between them is
    written; of the state no more is read than is asked for.
    """
    draw = np.random.default_rng(10 * eights + deep)
    table, x = draw.normal(size=(2, eights, deep, 8)), np.append(draw.normal(size=deep), np.nan)
    found = np.full((eights + 1, 11), 7.0)
    call_eights_times(table, (eights, deep), x, found, (2, 11))
    told = [[math.fsum(table[1, k, :, lane] * x[:deep]) for lane in range(8)] for k in range(eights)]
    np.testing.assert_allclose(found[:eights, 2:10], told, atol=1e-14 * deep)
    found[:eights, 2:10] = 7.0
    assert (found == 7.0).all()


@pytest.mark.parametrize("place", range(8))
def test_a_negative_value_is_seen_in_every_lane(place):
    """One of eight values is negative; zeros, positive values and what is not a number are not."""
    values = np.array([0.0, 1.0, np.nan, np.inf, -0.0, 2.0, 3.0, 1e-300])
    assert not call_any_negative(values, 8)
    values[place] = -1e-300
    assert call_any_negative(values, 8)
    assert call_any_negative(values, 4) == (place < 4)


def tangents(first, fall, last, rise):
    """Where the tangents at both ends meet (time and height), and their heights at the far ends, by geometry."""
    at = (last - rise * SPAN - first) / (fall - rise)
    return at, first + fall * at, first + fall * SPAN, last - rise * SPAN


@pytest.mark.parametrize("seed", range(4))
def test_dips_and_turns_by_their_tangents(seed):
    """A value that falls first and rises last may dip where its tangents meet below zero, or, where they meet outside
    the span, if the one of that end reaches zero within; it turns steeply where either does.  In each of eight lanes.
    """
    draw = np.random.default_rng(seed)
    dips = turns = 0
    for trial in range(100):
        first, last, fall, rise = draw.uniform(0.0, 1.0), draw.uniform(0.0, 1.0), *draw.normal(scale=3.0, size=2)
        before, after = np.ones(16), np.ones(16)  # rising at both ends: no dip
        k = trial % 8
        before[k], before[8 + k], after[k], after[8 + k] = first, fall, last, rise
        at, height, reached, left = tangents(first, fall, last, rise)
        dip = turn = False
        if fall < 0.0 < rise:
            between = 0.0 <= at <= SPAN
            dip = height < 0.0 if between else (reached < 0.0 if at < 0.0 else left < 0.0)
            turn = reached < 0.0 or left < 0.0
        assert call_any_dip(before, after, 8, 8, SPAN) == dip, (first, last, fall, rise)
        assert call_any_turn(before, after, 8, 8, SPAN) == turn
        dips, turns = dips + dip, turns + turn
    assert dips > 5
    assert turns > dips
