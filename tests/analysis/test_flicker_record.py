"""Minutes of a voltage: Pst of the whole, of each minute and of each ten, and blocks of any length."""

import numpy as np
import pytest

from weldsim.analysis.flicker import RATE
from weldsim.analysis.flicker_record import FlickerRecord
from weldsim.analysis.modulation import modulated_mean_squares


def steps(duration, *, changes=39.0, depth=0.00894):
    """Rectangular changes of the voltage that the tables give a Pst of 1."""
    squares = modulated_mean_squares(
        "rectangular", depth=depth, modulation=changes / 120.0, frequency=50.0, duration=duration, rate=RATE
    )
    return 230.0**2 * squares


def fed(blocks):
    """A record of these blocks."""
    record = FlickerRecord(nominal=230.0, frequency=50.0, start=230.0)
    for block in blocks:
        record.feed(block)
    return record.figures()


def test_ten_minutes_of_the_tables():
    """39 changes of 0.894 % a minute have Pst 1 (published: IEC 61000-4-15, table 5; 5 % is its tolerance).

    Each minute alone has it too, and Plt, which takes the rest of two hours to be like that.
    """
    found = fed([steps(600.0)])
    assert found.pst == pytest.approx(1.0, abs=0.05)
    assert found.plt == pytest.approx(found.pst, rel=1e-12)
    assert len(found.minutes) == 10
    assert found.minutes[2:] == pytest.approx([1.0] * 8, abs=0.05)
    assert found.changes.d_max == pytest.approx(0.00894, rel=0.6)  # from the level before: half of it, or all


@pytest.mark.parametrize("size", [7, 1200, 5000])
def test_blocks_do_not_matter(size):
    """Any length of block gives the same figures; a second that is not whole is left for later."""
    squares = steps(20.5)
    whole, cut = fed([squares]), fed(np.split(squares, range(size, len(squares), size)))
    assert cut.pst == whole.pst
    assert cut.changes == whole.changes
    assert len(cut.sensation) == 20


def test_long_term():
    """Twenty minutes, the second still: Plt is the cube root of the mean cube of two Pst, 2^(-1/3) of the first."""
    still = np.full(round(600.0 * RATE), 230.0**2)
    found, one = fed([steps(600.0), still]), fed([steps(600.0)])
    assert found.plt == pytest.approx(one.pst * 2.0 ** (-1.0 / 3.0), rel=1e-3)
