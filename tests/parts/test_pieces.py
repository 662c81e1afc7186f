"""Chains of straight pieces."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.pieces import even_corners, on_chain, slopes


@given(x=st.floats(-3.0, 3.0))
def test_chain_is_numpy_inside_and_odd(x):
    """Inside the corners numpy's interpolation says the same (rounding); the chain is odd."""
    xs, ys = (0.0, 0.5, 1.25, 3.0), (0.0, 1.0, 1.5, 9.0)

    assert on_chain(x, xs, ys) == pytest.approx(np.sign(x) * np.interp(abs(x), xs, ys), abs=1e-12)
    assert on_chain(-x, xs, ys) == -on_chain(x, xs, ys)


def test_last_piece_goes_on():
    """Slope 4 beyond the last corner, by hand."""
    assert on_chain(5.0, (0.0, 1.0, 2.0), (0.0, 1.0, 5.0)) == 17.0
    assert slopes((0.0, 1.0, 2.0), (0.0, 1.0, 5.0)) == (1.0, 4.0)


def test_even_corners_share_the_error():
    """On x + x^5 every chord strays the same way along x within 25 %: the rule is exact only for narrow pieces."""

    def law(x):
        return x + x**5

    corners = even_corners(law, (0.0, 3.0), 6)
    strays = []
    for low, high in zip(corners, corners[1:], strict=False):
        x = np.linspace(low, high, 2001)
        chord = np.interp(law(x), [law(low), law(high)], [low, high])
        strays.append(np.max(x - chord))

    assert corners[0] == 0.0
    assert corners[-1] == 3.0
    assert max(strays[1:]) / min(strays[1:]) < 1.25
