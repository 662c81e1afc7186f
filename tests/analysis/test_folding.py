"""Folding of captures: period, noise, shift and sign are those that were put in."""

import numpy as np
import pytest

from weldsim.analysis.folding import BINS, difference_between_periods, folded, found_period, laid_over, least_remainder

PLACE = (np.arange(BINS) + 0.5) / BINS


def sawtooth(phase):
    """A waveform with every order, an edge and no symmetry: falls from 1 to -1, then half way up again."""
    return np.where(phase % 1.0 < 0.6, 1.0 - 2.0 * (phase % 1.0) / 0.6, 0.3)


def sampled(cycles=3.3, *, frequency=50.0, shift=0.0, count=4000, seed=1, noise=0.0):
    """A capture of it: times [s] and values."""
    time = np.linspace(0.0, cycles / frequency, count)
    chance = np.random.default_rng(seed)
    return time, sawtooth(time * frequency + shift) + noise * chance.standard_normal(count)


@pytest.mark.parametrize("shift", [0.0, 0.123, 0.5, 0.9995])
def test_the_shift_is_found(shift):
    """To less than half a bin, 5 us at 50 Hz, where samples fall anywhere within the bins."""
    found = laid_over(folded(*sampled(shift=shift), 0.02), sawtooth(PLACE))
    assert abs((found.shift - shift + 0.5) % 1.0 - 0.5) < 0.5 / BINS
    assert found.correlation > 0.999


def test_a_reversed_probe_is_found():
    """Where it fits clearly better only: a sine turned round is a sine half a period later."""
    trace = folded(*sampled(shift=0.2), 0.02)
    found = laid_over(trace, -sawtooth(PLACE), signs=(1.0, -1.0))
    assert (found.sign, round(found.shift, 3)) == (-1.0, 0.2)
    time = np.linspace(0.0, 0.04, 4001)
    sine = folded(time, np.sin(2.0 * np.pi * 50.0 * time), 0.02)
    turned = laid_over(sine, -np.sin(2.0 * np.pi * PLACE), signs=(1.0, -1.0), clearly=0.95)
    assert (turned.sign, round(turned.shift, 3)) == (1.0, 0.5)


@pytest.mark.parametrize("noise", [0.02, 0.1])
def test_what_remains_is_the_noise(noise):
    """White noise of a known rms on a fitting waveform: 5 %, the chance of 4000 samples being 1 %, and the edge.

    From cycle to cycle it is told where there is no edge, of which a straight line between samples makes more.
    """
    time, values = sampled(noise=noise)
    trace = folded(time, values, 0.02)
    assert laid_over(trace, sawtooth(PLACE)).remainder == pytest.approx(noise, rel=0.05)
    assert least_remainder(trace, sawtooth(PLACE)) == pytest.approx(noise, rel=0.05)
    between = difference_between_periods(time, values - sawtooth(50.0 * time) + np.sin(100.0 * np.pi * time), 0.02)
    assert between == pytest.approx(noise, rel=0.05)


def test_the_remainder_is_that_of_plain_sums():
    """Against the definition written out: the mean square over all samples, at every shift of whole bins."""
    time = np.sort(np.random.default_rng(4).uniform(0.0, 0.05, 300))  # uneven
    values = np.cos(2.0 * np.pi * 50.0 * time) + 0.2
    wave = sawtooth(PLACE)
    places = ((time - time[0]) / 0.02 % 1.0 * BINS).astype(int) % BINS
    plain = min(float(np.mean((values - wave[(places + shift) % BINS]) ** 2)) for shift in range(BINS)) ** 0.5
    assert least_remainder(folded(time, values, 0.02), wave) == pytest.approx(plain, rel=1e-9)


@pytest.mark.parametrize("frequency", [49.2, 49.95, 50.0, 50.05, 50.8])
@pytest.mark.parametrize("cycles", [2.2, 3.3, 12.0])
def test_the_mains_has_its_own_frequency(frequency, cycles):
    """With noise of 2 %: to 0.02 Hz over two cycles, of which little more than one meets itself again."""
    time, values = sampled(cycles, frequency=frequency, noise=0.02)
    assert 1.0 / found_period(time, values, 0.02) == pytest.approx(frequency, abs=0.02)


@pytest.mark.parametrize("values", [np.ones(500), np.random.default_rng(2).standard_normal(500)])
def test_what_tells_no_period_has_the_nominal_one(values):
    """A constant, and noise."""
    assert found_period(np.linspace(0.0, 0.06, 500), values, 0.02) == 0.02


def test_less_than_two_cycles_have_the_nominal_period():
    """Nothing meets itself again."""
    assert found_period(*sampled(1.4), 0.0201) == 0.0201
    assert np.isnan(difference_between_periods(*sampled(0.9), 0.02))


def test_a_constant_has_no_correlation():
    """And remains what it is beside the waveform."""
    found = laid_over(folded(np.linspace(0.0, 0.02, 50), np.full(50, 3.0), 0.02), np.full(BINS, 1.0))
    assert found.remainder == pytest.approx(2.0, rel=1e-9)
    assert np.isnan(found.correlation)
