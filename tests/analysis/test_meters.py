"""What instruments show, against published examples and closed forms."""

import numpy as np
import pytest

from tests.analysis.shapes import controlled
from weldsim.analysis.meters import average_responding, moving_coil, readings, true_rms

# Angle, average-responding reading over true rms, moving coil (rectified) over crest, crest factor: formulas of a
# controller on a resistor, computed with 30 digits and again by a second method.
CONTROLLED = [
    (0, 1.00000, 0.63662, 1.4142),
    (30, 0.94676, 0.59397, 1.4351),
    (60, 0.83618, 0.47746, 1.5767),
    (90, 0.70711, 0.31831, 2.0000),
    (120, 0.56541, 0.15915, 2.7699),
    (150, 0.39449, 0.04265, 4.1642),
]


def mean(time, values):
    """By trapezoids over the span of the samples."""
    return np.trapezoid(values, time) / (time[-1] - time[0])


@pytest.mark.parametrize(("angle", "average", "coil", "crest"), CONTROLLED)
def test_phase_controlled_sine(angle, average, coil, crest):
    """Readings of a phase-controlled sine; the source gives five digits."""
    time, values = controlled(angle)
    average_of = mean(time, np.abs(values))
    numbers = {"mean_absolute": average_of, "rms": mean(time, values**2) ** 0.5, "peak": np.max(np.abs(values))}
    shown = readings(mean=average_of, **numbers)

    assert shown["average-responding"].value / numbers["rms"] == pytest.approx(average, abs=6e-6)
    assert shown["moving coil"].value / 1.0 == pytest.approx(coil, abs=6e-6)
    assert shown["true rms"].value == numbers["rms"]
    assert numbers["peak"] / numbers["rms"] == pytest.approx(crest, abs=6e-5)
    assert shown["true rms"].trusted == (crest <= 3.0)


def test_square_wave_reads_11_percent_high():
    """An average-responding instrument shows 11 % too much of a square wave (published: two pages on meters)."""
    assert average_responding(10.0).value == pytest.approx(11.1, abs=0.05)  # the source says 11 %


def test_sawtooth_reads_low():
    """A sawtooth of 150 V: true 86.6 V rms, mean 75 V, ratio 0.961 (published: Helfrick and Cooper, example 6-2)."""
    time = np.linspace(0.0, 1.0, 100_001)
    sawtooth = 150.0 * time
    effective = mean(time, sawtooth**2) ** 0.5

    assert effective == pytest.approx(86.6, abs=0.05)  # three digits printed
    assert mean(time, sawtooth) == pytest.approx(75.0, abs=0.05)
    ratio = average_responding(mean(time, sawtooth)).value / effective
    assert ratio == pytest.approx(0.961, abs=1e-3)  # printed as 0.961, exactly 0.96191


def test_direct_current_reads_the_same_everywhere_but_on_the_rectifier():
    """Direct current of 100 A: moving coil and true rms show 100 A, a rectifier instrument 111 A."""
    shown = readings(mean=100.0, mean_absolute=100.0, rms=100.0, peak=100.0)

    assert (shown["moving coil"].value, shown["true rms"].value) == (100.0, 100.0)
    assert shown["average-responding"].value == pytest.approx(111.07, abs=0.005)  # pi / (2 root 2), by hand


def test_moving_coil_keeps_the_sign():
    """A moving coil swings the wrong way on reversed polarity and rests on alternating current."""
    assert moving_coil(-20.0).value == -20.0
    assert moving_coil(0.0).value == 0.0


@pytest.mark.parametrize(
    ("peak", "limit", "trusted"), [(30.0, 3.0, True), (30.1, 3.0, False), (60.0, 7.0, True), (0.0, 3.0, True)]
)
def test_crest_factor_limit(peak, limit, trusted):
    """A true-rms instrument is to be trusted up to its crest-factor limit, the limit included."""
    assert true_rms(10.0, peak=peak, crest_limit=limit).trusted is trusted


def test_reason_of_distrust():
    """A reading that is not to be trusted says why, with both crest factors; a spike without rms is no crash."""
    assert true_rms(10.0, peak=45.0).reason == "crest factor 4.5 is above the instrument's 3"
    assert "inf" in true_rms(0.0, peak=1.0).reason
    assert true_rms(10.0, peak=15.0).reason == ""
