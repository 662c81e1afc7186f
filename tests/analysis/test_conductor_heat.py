"""Heat of leads and plugs: the table's own points, the square of the current, the drum."""

import math

import pytest

from weldsim.analysis.conductor_heat import (
    cycle_current,
    flexible_rating,
    lead_temperature,
    plug_rise,
    reel_factor,
)

# Flexible leads in air of 30 degC, two or three loaded cores [mm2: A]; drums [layers: factor]: VDE 0298-4, from memory.
RATINGS = {0.75: 12.0, 1.0: 15.0, 1.5: 18.0, 2.5: 26.0, 4.0: 34.0, 6.0: 44.0, 10.0: 61.0, 16.0: 82.0, 25.0: 108.0}
# Hottest rise of settled cycles of ten minutes over that of the same current without pauses [duty, s: 1]: computed.
HOTTEST = {
    (0.1, 300.0): 0.209641,
    (0.35, 300.0): 0.582208,
    (0.35, 600.0): 0.467177,
    (0.35, 1200.0): 0.408019,
    (0.6, 300.0): 0.808181,
    (0.6, 3600.0): 0.619878,
}
DRUMS = {1: 0.80, 2: 0.61, 3: 0.49, 4: 0.42, 5: 0.38}


@pytest.mark.parametrize(("size", "current"), RATINGS.items())
def test_the_rated_current_reaches_the_limit(size, current):
    """At the table's current the cores settle at 70 degC, laid out in 30 degC: that is what the table says."""
    assert flexible_rating(1e-6 * size) == pytest.approx(current, rel=1e-12)
    assert lead_temperature(current, section=1e-6 * size) == pytest.approx(70.0)


def test_between_the_sections_the_rating_lies_between():
    """Gauge 14 (2.08 mm2) lies between 1.5 and 2.5 mm2; half the rise comes at the current over root 2."""
    assert 18.0 < flexible_rating(2.08e-6) < 26.0
    assert lead_temperature(18.0 / math.sqrt(2.0), section=1.5e-6) == pytest.approx(50.0)


@pytest.mark.parametrize(("layers", "factor"), DRUMS.items())
def test_a_drum_takes_its_share(layers, factor):
    """On a drum the limit is reached at the table's factor times the current; nothing is taken laid out."""
    assert reel_factor(layers) == factor
    assert lead_temperature(factor * 26.0, section=2.5e-6, layers=layers) == pytest.approx(70.0)
    assert reel_factor(0) == 1.0
    assert reel_factor(9) == DRUMS[5]


def test_the_plug_of_the_standard():
    """45 K at 22 A for a 16 A plug (IEC 60884-1, from memory, 85 %), and by the square of the current beside it."""
    assert plug_rise(22.0, rating=16.0) == pytest.approx(45.0)
    assert plug_rise(44.0, rating=32.0) == pytest.approx(45.0)
    assert plug_rise(11.0, rating=16.0) == pytest.approx(45.0 / 4.0)


@pytest.mark.parametrize(("asked", "share"), HOTTEST.items())
def test_a_weld_of_minutes_warms_more_than_the_root_of_the_duty(asked, share):
    """The rise goes with the square of the current: hottest over continuous, of one time constant (computed)."""
    duty, time = asked
    assert cycle_current(10.0, duty=duty, time=time) == pytest.approx(10.0 * math.sqrt(share), rel=2e-6)
    assert cycle_current(10.0, duty=duty, time=time) > 10.0 * math.sqrt(duty)
    assert cycle_current(10.0, duty=1.0, time=time) == pytest.approx(10.0)
