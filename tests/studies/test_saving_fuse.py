"""Which fuse clears a fault before the switch has had its I2t: by the gates of the ratings, from hand."""

import pytest

import weldsim
from weldsim.studies import inrush
from weldsim.studies.inrush_stress import saving_fuse


def shed(i2t):
    """The shed with a switch of another I2t [A2 s]."""
    return weldsim.vary(weldsim.read("toroid_shed"), {"phase_control.i2t": i2t})


# Most melting I2t at 10 ms of gG fuses, IEC 60269-1 (from memory, 80 %): 10 A 576, 16 A 1000, 20 A 1800 A2 s; twice
# that is let through (common practice, no published source).
@pytest.mark.parametrize(("i2t", "rating"), [(1151.0, 6), (1153.0, 10), (1999.0, 10), (2001.0, 16), (3601.0, 20)])
def test_the_largest_fuse_that_is_quick_enough(i2t, rating):
    """Twice what surely melts it has to stay below the I2t of the switch."""
    (found,) = saving_fuse(shed(i2t), pressed=0.0)
    assert f"A gG fuse of up to {rating} A clears" in found.text
    assert found.level == "good"


def test_a_fuse_that_a_press_may_melt_is_no_answer():
    """A 10 A fuse may melt from 100 A2s on: a press of 120 A2s is told."""
    (found,) = saving_fuse(shed(1500.0), pressed=120.0)
    assert (found.level, "may melt at a press already (120 A2s, from 100 A2s on)" in found.text) == ("note", True)


def test_none_is_quick_enough_for_a_small_switch():
    """A switch of 40 A2s is gone before a 2 A fuse (up to 23 A2s, twice) has cleared."""
    (found,) = saving_fuse(shed(40.0), pressed=0.0)
    assert "No gG fuse" in found.text


@pytest.mark.slow
def test_an_inrush_tells_it():
    """The study hands over the worst press's own I2t of 60 ms."""
    answer = inrush.ask(weldsim.read("toroid_shed"), presses=5)
    (found,) = [one for one in answer.verdicts if one.name == "saving_fuse"]
    assert f"{answer.numbers['press.i2t.worst'].value:.3g} of at least 100 A2s" in found.text
