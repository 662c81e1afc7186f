"""Mean, rms and shape factors of sampled waveforms against closed forms."""

import numpy as np
import pytest

from tests.analysis.shapes import PERIOD, controlled, even, sine
from weldsim.analysis import waveform
from weldsim.errors import WeldsimError

# Angle, rms / rms of the full sine, mean magnitude / crest: textbook formulas of a controller on a resistor
# (Rashid, chapter on ac voltage controllers), computed with 30 digits and again by a second method.
CONTROLLED = [
    (0, 1.000000, 0.636620),
    (30, 0.985477, 0.593974),
    (60, 0.896939, 0.477465),
    (90, 0.707107, 0.318310),
    (120, 0.442155, 0.159155),
    (150, 0.169807, 0.042645),
    (165, 0.061285, 0.010846),
]


@pytest.mark.parametrize(("angle", "effective", "average"), CONTROLLED)
def test_phase_controlled_sine(angle, effective, average):
    """Rms and mean magnitude of a phase-controlled sine agree with the textbook (which gives six digits)."""
    time, values = controlled(angle)

    assert waveform.rms(time, values) * np.sqrt(2) == pytest.approx(effective, abs=1e-6)
    assert waveform.mean_absolute(time, values) == pytest.approx(average, abs=1e-6)
    assert waveform.mean(time, values) == pytest.approx(0.0, abs=1e-12)  # half waves cancel but for rounding


# Shape, mean/crest, rms/crest, form factor, ripple factor: classical, any power-electronics text; the three-phase
# figures relative to the crest of the line voltage.
RECTIFIED = [
    ("bridge", lambda angle: np.abs(np.sin(angle)), 0.636620, 0.707107, 1.110721, 0.483426),
    ("half wave", lambda angle: np.maximum(np.sin(angle), 0.0), 0.318310, 0.5, 1.570796, 1.211363),
    (
        "three-phase",
        lambda angle: np.max([np.abs(np.sin(angle + shift * np.pi / 3)) for shift in range(3)], axis=0),
        1.350474 / np.sqrt(2),
        0.955770,
        1.000880,
        0.041967,
    ),
]


@pytest.mark.parametrize(
    ("shape", "mean", "rms", "form", "ripple"), [row[1:] for row in RECTIFIED], ids=[row[0] for row in RECTIFIED]
)
def test_rectified_sine(shape, mean, rms, form, ripple):
    """Mean, rms, form and ripple factor of the classical rectifiers; the source gives six digits."""
    time = even()
    values = shape(2 * np.pi * time / PERIOD)
    average, effective = waveform.mean(time, values), waveform.rms(time, values)

    assert average == pytest.approx(mean, abs=1e-6)
    assert effective == pytest.approx(rms, abs=1e-6)
    assert waveform.form_factor(effective, average) == pytest.approx(form, abs=2e-6)  # quotient of two of them
    assert waveform.ripple_factor(effective, average) == pytest.approx(ripple, abs=2e-5)  # small difference


def test_crest_factor():
    """Crest factors of sine, square and triangle: root of 2, 1, root of 3 (by hand)."""
    time = even()
    for values, crest in [
        (sine(time), np.sqrt(2)),
        (np.where(time < PERIOD / 2, 5.0, -5.0), 1.0),
        (np.abs(time - PERIOD / 2) * 4 / PERIOD - 1, np.sqrt(3)),
    ]:
        peak = np.max(np.abs(values))
        # corners of the triangle cost a step squared: 1/18000^2
        assert waveform.crest_factor(peak, waveform.rms(time, values)) == pytest.approx(crest, rel=1e-7)


def test_uneven_times_and_jumps():
    """Uneven times weigh each sample by its neighbourhood, and two samples at one time make a jump (by hand)."""
    time = np.array([0.0, 1.0, 1.0, 4.0])
    values = np.array([2.0, 2.0, -6.0, -6.0])

    assert waveform.mean(time, values) == (2 * 1 - 6 * 3) / 4
    assert waveform.mean_absolute(time, values) == (2 * 1 + 6 * 3) / 4
    assert waveform.rms(time, values) == np.sqrt((4 * 1 + 36 * 3) / 4)
    assert waveform.ripple(values) == 8.0


def test_uneven_times_of_a_smooth_waveform():
    """Samples at random times give the rms of a sine as well as their spacing allows.

    The widest gap among 20000 random times is about 10 even steps: error (2 pi 10 / 20000)^2 / 12, below 1e-6.
    """
    time = np.sort(np.concatenate([[0.0, PERIOD], np.random.default_rng(1).uniform(0.0, PERIOD, 20_000)]))

    assert waveform.rms(time, sine(time)) == pytest.approx(np.sqrt(0.5), rel=1e-6)


def test_direct_current():
    """A constant has its own value as mean and rms, no ripple, and factors of one."""
    time, values = np.array([0.0, 3.0]), np.array([-7.0, -7.0])

    assert waveform.mean(time, values) == -7.0
    assert waveform.rms(time, values) == 7.0
    assert waveform.ripple(values) == 0.0
    assert waveform.ripple_factor(7.0, -7.0) == 0.0
    assert waveform.form_factor(7.0, 7.0) == waveform.crest_factor(7.0, 7.0) == 1.0


def test_nothing_flows():
    """Factors of a waveform that is zero are not numbers, rather than an error."""
    for factor in (waveform.ripple_factor, waveform.form_factor, waveform.crest_factor):
        assert np.isnan(factor(0.0, 0.0))


def test_float32_samples_are_summed_as_float64():
    """Samples of a run file are float32; their squares are summed with 16 digits."""
    time = even(100_000)
    values = np.full(len(time), 300.1, np.float32)

    assert waveform.rms(time, values) == pytest.approx(float(np.float32(300.1)), rel=1e-13)  # rounding of 1e5 sums


@pytest.mark.parametrize(
    ("time", "values"),
    [([], []), ([0.0], [1.0]), ([0.0, 0.0], [1.0, 1.0]), ([0.0, 1.0], [1.0]), ([1.0, 0.0], [1.0, 1.0])],
)
def test_samples_that_span_nothing(time, values):
    """Too few samples, times that stand still or run back and columns of unlike length are refused."""
    for figure in (waveform.mean, waveform.rms, waveform.mean_absolute):
        with pytest.raises(WeldsimError, match="span nothing"):
            figure(np.array(time), np.array(values))


def test_ripple_of_nothing():
    """No samples have no ripple to give."""
    with pytest.raises(WeldsimError, match="no samples"):
        waveform.ripple(np.array([]))
