"""Groups, subgroups and distortion figures against hand sums, classical figures and an independent library."""

import importlib.util

import numpy as np
import pytest

from weldsim.analysis.grouping import (
    demand_distortion,
    harmonic_groups,
    harmonic_subgroups,
    interharmonic_subgroups,
    partial_weighted_current,
    smoothed,
    total_harmonic_current,
)
from weldsim.errors import WeldsimError

WINDOWS = [(50.0, 10), (60.0, 12)]
RATE = 24_000  # [1/s] a whole number of samples in 200 ms at both


def spectral_lines(samples: np.ndarray) -> np.ndarray:
    """Complex peak amplitudes of whole windows in rows, direct part first; nothing lies at half the sampling rate."""
    lines = np.fft.rfft(samples, axis=-1) * (2.0 / samples.shape[-1])
    lines[..., 0] *= 0.5
    return lines


def dipping_current(frequency: float, seconds: float = 0.2) -> np.ndarray:
    """A phase-controlled current with a third and fifth, a little dc, that swings at 15 and 35 Hz."""
    time = np.arange(round(seconds * RATE)) / RATE
    angle = 2 * np.pi * frequency * time
    current = 20 * np.sin(angle - 0.4) + 9 * np.sin(3 * angle + 1) + 4 * np.sin(5 * angle) + np.sin(40 * angle) + 0.5
    return current * (1 + 0.2 * np.sin(2 * np.pi * 15 * time) + 0.1 * np.cos(2 * np.pi * 35 * time))


@pytest.mark.parametrize(("frequency", "periods"), WINDOWS)
def test_everything_once(frequency, periods):
    """Groups hold the mean square above line N/2; subgroups of both kinds hold every line once.

    Parseval: the mean square of the samples is known without a transform. Rounding only.
    """
    current = dipping_current(frequency)
    lines = spectral_lines(current)
    total = np.mean(current**2)
    power = np.abs(lines) ** 2 / 2
    power[0] *= 2
    assert power.sum() == pytest.approx(total, rel=1e-12)

    orders = 42  # the swing about order 40 reaches to half way to order 41
    groups = harmonic_groups(lines, periods=periods, orders=orders)
    below = power[: periods // 2].sum() + power[periods // 2] / 2
    assert np.sum(groups**2) + below == pytest.approx(total, rel=1e-12)
    harmonics = harmonic_subgroups(lines, periods=periods, orders=orders)
    between = interharmonic_subgroups(lines, periods=periods, orders=orders)
    assert np.sum(harmonics**2) + np.sum(between**2) + power[:2].sum() == pytest.approx(total, rel=1e-12)


@pytest.mark.parametrize(("frequency", "periods"), WINDOWS)
def test_sidebands_by_hand(frequency, periods):
    """20 A peak that swings by 20 % at 15 Hz: sidebands of 2 A peak lie outside the subgroup, inside the group."""
    time = np.arange(RATE // 5) / RATE
    current = 20 * np.sin(2 * np.pi * frequency * time) * (1 + 0.2 * np.sin(2 * np.pi * 15 * time))
    lines = spectral_lines(current)

    assert harmonic_subgroups(lines, periods=periods)[0] == pytest.approx(20 / 2**0.5)
    assert harmonic_groups(lines, periods=periods)[0] == pytest.approx(((400 + 4 + 4) / 2) ** 0.5)
    assert interharmonic_subgroups(lines, periods=periods)[:3] == pytest.approx([2**0.5, 2**0.5, 0], abs=1e-12)


@pytest.mark.parametrize(("frequency", "periods"), WINDOWS)
def test_steady_current(frequency, periods):
    """A current that repeats with the mains is all in its orders: groups and subgroups are the harmonics alone."""
    time = np.arange(RATE // 5) / RATE
    square = np.sign(np.sin(2 * np.pi * frequency * time + 1e-9))
    lines = spectral_lines(square)
    plain = np.abs(lines[periods : 40 * periods + 1 : periods]) / 2**0.5

    assert harmonic_subgroups(lines, periods=periods) == pytest.approx(plain, abs=1e-12)
    assert harmonic_groups(lines, periods=periods) == pytest.approx(plain, abs=1e-12)
    # classical: fundamental 0.900316, distortion 48.3426 %, of which orders above 40 take the rest of pi^2/8 - 1
    rest = np.pi**2 / 8 - sum(1 / n**2 for n in range(1, 41, 2))
    distortion = total_harmonic_current(plain) / plain[0]
    assert plain[0] == pytest.approx(0.900316, rel=2e-4)  # sampled: 400 or 480 samples a period, jump to half of one
    assert np.hypot(distortion, rest**0.5) == pytest.approx(0.483426, rel=5e-3)  # aliases of order n: (n/480)^2


def test_line_half_way_is_shared():
    """A line between two orders gives half its square to each (75 Hz at 50 Hz, 90 Hz at 60 Hz)."""
    for periods in (10, 12):
        lines = np.zeros(periods * 4, complex)
        lines[periods * 3 // 2] = 2.0
        assert harmonic_groups(lines, periods=periods, orders=2) == pytest.approx([1.0, 1.0])


def test_rows_of_windows_and_direct_part():
    """Windows in rows give rows; the direct part stays out of every group."""
    current = 0.7 + dipping_current(50.0, 1.0).reshape(5, -1)
    lines = spectral_lines(current)

    assert lines[:, 0].real == pytest.approx(current.mean(axis=1))
    together = harmonic_groups(lines, periods=10)
    assert together.shape == (5, 40)
    for row, window in enumerate(current):
        assert together[row] == pytest.approx(harmonic_groups(spectral_lines(window - 0.3), periods=10))


def test_too_few_lines():
    """Orders that the lines do not reach are refused with the number of lines needed."""
    with pytest.raises(WeldsimError, match="at least 406 lines"):
        harmonic_groups(np.zeros(401, complex), periods=10)
    with pytest.raises(WeldsimError, match="at least 402 lines"):
        harmonic_subgroups(np.zeros(401, complex), periods=10)


def test_smoothing_as_printed():
    """For windows of 200 ms the standard prints y = (x + 7.012 y_before) / 8.012 (from memory): same to four digits."""
    draws = np.random.default_rng(2).random((30, 3))
    found = smoothed(draws)
    printed = draws[:1]
    for row in draws[1:]:
        printed = np.vstack([printed, (row + 7.012 * printed[-1]) / 8.012])

    assert found == pytest.approx(printed, rel=2e-4)
    assert found[0] == pytest.approx(draws[0])


def test_figures_of_distortion():
    """Total, partial weighted and demand distortion of three orders, by hand."""
    rms = np.zeros(50)
    rms[[0, 2, 13, 39, 48]] = 10.0, 3.0, 2.0, 1.0, 4.0  # orders 1, 3, 14, 40, 49

    assert total_harmonic_current(rms) == pytest.approx(14.0**0.5)
    assert partial_weighted_current(rms) == pytest.approx((14 * 4.0 + 40.0) ** 0.5)
    assert demand_distortion(rms, demand=60.0) == pytest.approx(30.0**0.5 / 60.0)  # to order 50
    assert partial_weighted_current(rms[:10]) == 0.0
    assert np.isnan(demand_distortion(rms, demand=0.0))


@pytest.mark.skipif(importlib.util.find_spec("pqopen") is None, reason="pqopen-lib is not installed")
def test_against_an_independent_library():
    """Subgroups, interharmonics and distortion equal those of pqopen-lib (10 periods at 50 Hz); rounding only."""
    from pqopen.powerquality import calc_harmonics, calc_interharmonics, calc_thd

    current = dipping_current(50.0)
    lines = spectral_lines(current)
    theirs = np.fft.rfft(current) / len(current) * np.sqrt(2)
    harmonics, _ = calc_harmonics(theirs, 10, 50)
    ours = harmonic_subgroups(lines, periods=10, orders=50)

    assert ours == pytest.approx(harmonics[1:], rel=1e-9, abs=1e-12)
    between = calc_interharmonics(theirs, 10, 50)
    assert interharmonic_subgroups(lines, periods=10, orders=49)[1:] == pytest.approx(between[1:50], abs=1e-9)
    assert 100 * total_harmonic_current(ours) / ours[0] == pytest.approx(calc_thd(harmonics), rel=1e-9)
