"""Harmonics and distortion of sampled waveforms against closed forms."""

import numpy as np
import pytest

from tests.analysis.shapes import PERIOD, controlled, even, sine
from weldsim.analysis.spectrum import displacement_factor, harmonics, rms_of_orders, total_harmonic_distortion
from weldsim.errors import WeldsimError

# Angle -> amplitudes of orders 1, 3, 5, 7, 9 over the crest, displacement factor, distortion with all orders: textbook
# formulas of a controller on a resistor (Rashid), computed with 30 digits and again by a second method.
CONTROLLED = {
    30: ((0.974420, 0.07958, 0.07018, 0.05781, 0.04431), 0.99666, 0.15107),
    60: ((0.839173, 0.23873, 0.13783, 0.06892, 0.06316), 0.95868, 0.37737),
    90: ((0.592724, 0.31831, 0.10610, 0.10610, 0.06366), 0.84356, 0.65054),
    120: ((0.308567, 0.23873, 0.13783, 0.06892, 0.06316), 0.63358, 1.02630),
    150: ((0.084640, 0.07958, 0.07018, 0.05781, 0.04431), 0.34067, 1.73923),
}


@pytest.mark.parametrize("angle", CONTROLLED)
def test_phase_controlled_sine(angle):
    """Harmonics, displacement and distortion of a phase-controlled sine agree with the textbook.

    The source gives five digits.  Its distortion counts all orders, ours here 400: above them a jump J leaves
    4 J^2 / (2 pi^2 400) of the square, at most 0.32 % of these distortions.
    """
    amplitudes, displacement, distortion = CONTROLLED[angle]
    time, values = controlled(angle)
    found = harmonics(time, values, frequency=50, orders=400)
    voltage = harmonics(time, sine(time), frequency=50, orders=1)[0]

    assert np.abs(found[[0, 2, 4, 6, 8]]) == pytest.approx(amplitudes, abs=6e-6)
    assert np.abs(found[1:40:2]) == pytest.approx(np.zeros(20), abs=1e-9)  # even orders: rounding only
    assert displacement_factor(voltage, found[0]) == pytest.approx(displacement, abs=6e-6)
    assert total_harmonic_distortion(found) == pytest.approx(distortion, rel=3.2e-3)


@pytest.mark.parametrize(
    ("power", "amplitudes"),
    [
        (3, (0.75, -0.25)),
        (5, (0.625, -0.3125, 0.0625)),
        (7, (0.546875, -0.328125, 0.109375, -0.015625)),
        (11, (0.451171875, -0.322265625, 0.1611328125, -0.0537109375, 0.0107421875, -0.0009765625)),
    ],
)
def test_powers_of_a_sine(power, amplitudes):
    """The magnetising current of a core i = flux^k has the harmonics of the binomial expansion, signs included.

    Few even samples suffice: the waveform holds no order above k, so only rounding remains.
    """
    time = even(64)
    found = harmonics(time, sine(time) ** power, frequency=50, orders=power + 4)
    expected = np.zeros(power + 4)
    expected[0:power:2] = amplitudes

    np.testing.assert_allclose(found, -1j * expected, atol=1e-13)  # a sine of amplitude A is -j A


def test_rectified_sine():
    """|sin| has even orders only, 4/pi/(n^2 - 1): 0.424413, 0.084883, 0.036378 (classical)."""
    time = even()
    found = np.abs(harmonics(time, np.abs(sine(time)), frequency=50, orders=6))

    assert found == pytest.approx([0, 0.424413, 0, 0.084883, 0, 0.036378], abs=1e-6)  # six digits given


def test_square_wave():
    """The line current of a bridge with constant direct current: I1/I 0.900316, In = I1/n (classical).

    Its distortion of all orders is 0.483426; the first 40 orders alone have 0.4658 (sum of 1/n^2, by hand).
    """
    time = np.array([0.0, PERIOD / 2, PERIOD / 2, PERIOD])
    time = np.sort(np.concatenate([time, even()[1:-1]]))
    values = np.where(np.arange(len(time)) <= 9001, 1.0, -1.0)  # the samples at the half period: two of each sign
    found = rms_of_orders(harmonics(time, values, frequency=50))

    assert found[0] == pytest.approx(0.900316, abs=1e-6)
    assert found[[2, 4, 12]] == pytest.approx(0.900316 / np.array([3, 5, 13]), abs=1e-6)
    first_40 = np.sqrt(sum(1 / order**2 for order in range(3, 41, 2)))
    assert total_harmonic_distortion(found) == pytest.approx(first_40, rel=1e-4)  # aliasing of the jump at order 39


def test_phase_counts_from_zero_of_the_time_axis():
    """A window that starts a quarter period later finds the same amplitudes and phases."""
    for start in (0.0, 0.005, 0.0123):
        time = start + np.linspace(0.0, 2 * PERIOD, 4001)
        found = harmonics(time, 3 * np.cos(100 * np.pi * time - 0.7), frequency=50, orders=2)
        assert found[0] == pytest.approx(3 * np.exp(-0.7j), abs=1e-10)  # rounding
        assert abs(found[1]) < 1e-10


def test_uneven_times():
    """Samples at uneven times give the fundamental as well as their spacing allows: (2 pi dt / T)^2 / 12 or so."""
    time = PERIOD * np.linspace(0.0, 1.0, 5001) ** 1.5
    found = harmonics(time, 2 * sine(time) + 5.0, frequency=50, orders=3)

    assert found == pytest.approx([-2j, 0, 0], abs=2e-6)  # widest step 1.5/5000 of a period; the mean leaks too


@pytest.mark.parametrize("span", [0.0, 0.01, 0.0303, 0.005])
def test_windows_that_are_not_whole_periods(span):
    """A window of broken periods is refused with its length, since its harmonics would mean nothing."""
    time = np.linspace(0.0, span, 100)

    with pytest.raises(WeldsimError, match="choose a span of whole periods"):
        harmonics(time, np.ones(100), frequency=50)


def test_unlike_columns():
    """Times and samples of unlike number are refused."""
    with pytest.raises(WeldsimError, match="whole periods"):
        harmonics(even(10), np.ones(5), frequency=50)


def test_no_fundamental():
    """Without a fundamental there is neither distortion nor displacement: not a number."""
    assert np.isnan(total_harmonic_distortion(np.zeros(40)))
    assert np.isnan(total_harmonic_distortion(np.array([])))
    assert np.isnan(displacement_factor(0j, 1j))
    assert displacement_factor(325 + 0j, -2 + 0j) == -1.0  # power flows back
