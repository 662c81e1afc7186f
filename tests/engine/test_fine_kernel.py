"""Numbers of twice the digits: against fractions, which are exact."""

from fractions import Fraction

import numpy as np
import pytest

from weldsim.engine.doors import door

ROOM = Fraction(1, 2**98)  # of the terms' size: 106 digits of two in a pair, less some for a sum of six terms


@pytest.fixture
def two():
    """Two matrices of pairs whose entries go from 1e-9 to 1e9, and room for a third."""
    dice = np.random.default_rng(5)
    wholes = [dice.normal(size=(6, 6)) * 10.0 ** dice.integers(-9, 10, size=(6, 6)) for _ in range(2)]
    return [(whole, whole * dice.normal(size=(6, 6)) * 2.0**-54) for whole in wholes]


def exact(pair):
    """The numbers as fractions."""
    whole, rest = pair
    return np.array([Fraction(a) + Fraction(b) for a, b in zip(whole.flat, rest.flat, strict=True)]).reshape(
        whole.shape
    )


def test_a_product_keeps_twice_the_digits(two):
    """Sums of products, with what each rounding takes away put back."""
    (a, a_rest), (b, b_rest) = two
    c, c_rest = np.zeros((6, 6)), np.zeros((6, 6))
    door("fine_kernel", "product")(a, a_rest, b, b_rest, c, c_rest)
    wanted, sizes = exact(two[0]) @ exact(two[1]), abs(exact(two[0])) @ abs(exact(two[1]))
    assert (abs(exact((c, c_rest)) - wanted) <= sizes * ROOM).all()


@pytest.mark.parametrize("factor", [1.0, 2.0])
def test_a_sum_keeps_twice_the_digits(two, factor):
    """Sums of numbers of very different sizes."""
    (a, a_rest), (b, b_rest) = two
    first, second = exact(two[0]), exact(two[1])
    door("fine_kernel", "add")(a, a_rest, factor, b, b_rest)
    room = (abs(first) + abs(second)) * ROOM
    assert (abs(exact((a, a_rest)) - (Fraction(factor) * first + second)) <= room).all()


def test_a_quotient_keeps_twice_the_digits(two):
    """Seven does not divide anything in binary."""
    wanted = exact(two[0]) / 7
    door("fine_kernel", "divide")(*two[0], 7.0)
    assert (abs(exact(two[0]) - wanted) <= abs(wanted) * ROOM).all()
