"""The flickermeter against the test points of the standard's edition 2, and what must hold for any voltage.

The older editions' points, whose digits are rounder, are among the proofs.
"""

import csv
import importlib.util
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from weldsim.analysis.flicker import (
    PAIRS,
    RATE,
    Flickermeter,
    SensationClasses,
    long_term_severity,
    pair_for,
)
from weldsim.analysis.modulation import modulated_mean_squares
from weldsim.errors import QuestionError

# Published: performance tables of IEC 61000-4-15 (qwtb, verify_flicker_sim.m), see the README beside the file.
POINTS = Path(__file__).parents[2] / "weldsim" / "data" / "flicker" / "test_points.csv"
TOLERANCE = {"sensation": 0.08, "severity": 0.05}  # of the standard, edition 2


def points(edition: str, criterion: str) -> dict[tuple[str, str], list[tuple[float, float]]]:
    """Pair and shape -> rate and depth of each test point."""
    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    with POINTS.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if (row["edition"], row["criterion"]) == (edition, criterion):
                place = found.setdefault((row["pair"], row["shape"]), [])
                place.append((float(row["rate"]), float(row["percent"]) / 100.0))
    return found


def fed(pair: str, shape: str, *, depth: float, modulation: float, duration: float, rate: float = RATE) -> np.ndarray:
    """Sensation of a modulated voltage of 1 V that was still before."""
    squares = modulated_mean_squares(
        shape, depth=depth, modulation=modulation, frequency=PAIRS[pair][1], duration=duration, rate=rate
    )
    return Flickermeter(pair, rate=rate, start=1.0).feed_mean_squares(squares)


def largest_sensation(pair: str, shape: str, modulation: float, depth: float, rate: float = RATE) -> float:
    """Largest Pinst of the last whole periods: 12 s, at 0.5 Hz 16 s, let the 3 s of the high pass pass."""
    duration = 12.0 if modulation >= 1.0 else 16.0
    sensation = fed(pair, shape, depth=depth, modulation=modulation, duration=duration, rate=rate)
    return float(sensation[-round(4.0 * rate) :].max())


def severity(pair: str, shape: str, changes: float, depth: float, rate: float = RATE) -> float:
    """Pst of ten minutes after two others, in which the 27 s of the slow mean pass."""
    classes = SensationClasses()
    sensation = fed(pair, shape, depth=depth, modulation=changes / 120.0, duration=720.0, rate=rate)
    classes.add(sensation[-round(600.0 * rate) :])
    return classes.short_term_severity()


@pytest.mark.parametrize(("pair", "shape"), points("2", "sensation"))
def test_sensation_of_edition_2(pair, shape):
    """Every point of edition 2 has a largest sensation of 1, far within the standard's 8 %.

    2 %: at 40 Hz, means over 1/1200 s droop by (pi 40/1200)^2 / 6 = 0.2 % and the bilinear filters are bent by 0.4 % of
    the frequency, where the curve falls with its fifth power; printed depths of three digits add 0.3 %.
    """
    for modulation, depth in points("2", "sensation")[pair, shape]:
        assert largest_sensation(pair, shape, modulation, depth) == pytest.approx(1.0, abs=0.02), modulation


@pytest.mark.parametrize("pair", PAIRS)
def test_severity_of_edition_2(pair):
    """Every point of edition 2 has a Pst of 1 within 1 %; the standard asks for 5 %."""
    for changes, depth in points("2", "severity")[pair, "rectangular"]:
        assert severity(pair, "rectangular", changes, depth) == pytest.approx(1.0, abs=0.01), changes


@pytest.mark.parametrize("criterion", TOLERANCE)
def test_least_rate(criterion):
    """At 600 means per second, the least that is taken, the standard's tolerance still holds at every point."""
    measure = largest_sensation if criterion == "sensation" else severity
    for (pair, shape), rows in points("2", criterion).items():
        for rate, depth in rows:
            found = measure(pair, shape, rate, depth, rate=600.0)
            assert found == pytest.approx(1.0, abs=TOLERANCE[criterion]), (pair, shape, rate)


@pytest.mark.parametrize("pair", PAIRS)
def test_bare_samples_of_the_voltage(pair):
    """2000 (2400) samples of the voltage itself keep the standard's tolerance, also where steps lock to the mains."""
    frequency = PAIRS[pair][1]
    rate = 40.0 * frequency
    time = np.arange(round(12.0 * rate)) / rate + 0.5 / rate  # no sample falls upon a jump
    for modulation, depth in points("2", "sensation").get((pair, "rectangular"), []):
        steps = np.sign(np.sin(2 * np.pi * modulation * time))
        voltage = 325.3 * np.sin(2 * np.pi * frequency * time) * (1 + 0.5 * depth * steps)
        sensation = Flickermeter(pair, rate=rate, start=230.0).feed(voltage)
        assert sensation[-round(4 * rate) :].max() == pytest.approx(1.0, abs=0.08), modulation


def test_blocks_of_any_length():
    """The meter gives the same, to rounding, whether it is fed at once or in crumbs."""
    squares = modulated_mean_squares("rectangular", depth=0.02, modulation=0.7, frequency=60.0, duration=3.0, rate=RATE)
    cuts = [30, 31, 500, 500, 1777]
    whole = Flickermeter("120 V 60 Hz").feed_mean_squares(squares)
    meter = Flickermeter("120 V 60 Hz")
    parts = [meter.feed_mean_squares(part) for part in np.split(squares, cuts)]
    np.testing.assert_allclose(np.concatenate(parts), whole, rtol=1e-9, atol=1e-12)


def test_still_mains_is_not_felt():
    """A voltage that never changes, distorted or not, has next to no sensation from its first sample on.

    What is left is the ripple at twice the mains frequency behind the low pass: 35 Hz of sixth order leave 1/540 at
    100 Hz, the eye another tenth or less.
    """
    time = np.arange(0, 10, 1 / 2400)
    voltage = np.sin(100 * np.pi * time + 0.4) + 0.05 * np.sin(300 * np.pi * time)
    sensation = Flickermeter("230 V 50 Hz", rate=2400.0).feed(voltage)

    assert sensation.max() < 0.01  # Pst below 0.07
    classes = SensationClasses()
    classes.add(sensation)
    assert classes.short_term_severity() < 0.07


def test_size_of_the_voltage_does_not_matter():
    """Sensation is of relative changes: a thousand times the voltage gives the same, twice the depth four times."""
    squares = modulated_mean_squares("sinusoidal", depth=0.002, modulation=8.8, frequency=50.0, duration=8.0, rate=RATE)
    small = Flickermeter("230 V 50 Hz", start=1.0).feed_mean_squares(squares)
    large = Flickermeter("230 V 50 Hz", start=1e3).feed_mean_squares(1e6 * squares)
    np.testing.assert_allclose(large, small, rtol=1e-9, atol=1e-12)

    deep = fed("230 V 50 Hz", "sinusoidal", depth=0.004, modulation=8.8, duration=8.0)
    # the ripple of the mains is in both: some 1e-3 of the larger one
    assert deep[-4800:].max() / small[-4800:].max() == pytest.approx(4.0, rel=5e-3)


def test_level_before_the_start():
    """A weld that begins with the first sample is felt as a step from the level given, one that was on is not."""
    squares = np.full(round(5 * RATE), 225.0**2)
    stepped = Flickermeter("230 V 50 Hz", start=230.0).feed_mean_squares(squares)
    settled = Flickermeter("230 V 50 Hz").feed_mean_squares(squares)

    assert stepped.max() > 10.0  # a step of 2.2 %
    assert settled.max() < 1e-12  # rounding: these means have no ripple


def test_levels_exceeded():
    """Levels exceeded by a known spread of values are its quantiles, within the 0.4 % of a counter."""
    values = np.random.default_rng(1).permutation(np.linspace(0.0, 10.0, 100_001))  # evenly spread
    classes = SensationClasses()
    for part in np.array_split(values, 7):
        classes.add(part)

    assert classes.count == 100_001
    assert classes.peak == 10.0
    for percent in (0.1, 3.0, 50.0, 80.0, 99.0):
        assert classes.exceeded(percent) == pytest.approx(10.0 * (1 - percent / 100), rel=0.004), percent
    assert classes.exceeded(0.0) == pytest.approx(10.0, rel=0.004)
    # Pst of an even spread 0..10, by hand: level of k % is 10 (1 - k/100)
    shares = ((0.0314, 0.1), (0.0525, 3.2 / 3), (0.0657, 9.2 / 3), (0.28, 54.0 / 5), (0.08, 160.0 / 3))
    by_hand = sum(weight * 10.0 * (1 - share / 100) for weight, share in shares) ** 0.5
    assert classes.short_term_severity() == pytest.approx(by_hand, rel=0.002)


def test_classes_at_their_ends():
    """No value gives not a number, silence gives zero, and what is beyond the last counter stays in it."""
    assert np.isnan(SensationClasses().short_term_severity())
    silent, loud = SensationClasses(), SensationClasses()
    silent.add(np.zeros(10))
    silent.add(np.zeros(0))
    loud.add(np.full(10, 1e12))
    assert silent.short_term_severity() == 0.0
    assert loud.exceeded(50.0) == pytest.approx(1e-6 * np.exp(32.0), rel=0.004)  # top of 8000 counters of 0.4 %


def test_long_term():
    """Plt is the cube root of the mean cube: equal values give themselves, one of twelve 12^(-1/3) of itself."""
    assert long_term_severity(np.full(12, 0.8)) == pytest.approx(0.8)
    assert long_term_severity(np.array([1.0] + 11 * [0.0])) == pytest.approx(12 ** (-1 / 3))
    assert np.isnan(long_term_severity(np.array([])))


def test_pairs_by_supply():
    """Supplies of the world find the nearest lamp and grid."""
    found = {
        supply: pair_for(supply[0], frequency=supply[1]) for supply in [(230, 50), (120, 60), (100, 50), (240, 60)]
    }

    assert list(found.values()) == ["230 V 50 Hz", "120 V 60 Hz", "120 V 50 Hz", "230 V 60 Hz"]


def test_refusals():
    """Unknown pairs, rates that do not fit, broken first blocks and a dead mains are refused with advice."""
    with pytest.raises(QuestionError, match="none of 230 V 50 Hz"):
        Flickermeter("110 V 50 Hz")
    for rate in (1250.0, 500.0, 400.0):
        with pytest.raises(QuestionError, match="take 1200, or another multiple of 100"):
            Flickermeter("230 V 50 Hz", rate=rate)
    with pytest.raises(QuestionError, match="whole period"):
        Flickermeter("230 V 50 Hz").feed(np.ones(10))
    with pytest.raises(QuestionError, match="a voltage that is there"):
        Flickermeter("230 V 50 Hz").feed(np.zeros(1000))
    meter = Flickermeter("230 V 50 Hz")
    assert meter.feed(np.empty(0)).size == 0


def test_start_up():
    """Importing the meter does not load scipy.signal, which takes half a second; building one does."""
    code = "import sys, weldsim.analysis.flicker as f; a = 'scipy.signal' in sys.modules; f.Flickermeter('230 V 50 Hz')"
    shown = f"{code}; print(a, 'scipy.signal' in sys.modules)"
    answer = subprocess.run(
        [sys.executable, "-c", shown], capture_output=True, text=True, check=True, cwd=POINTS.parents[3]
    )

    assert answer.stdout.split() == ["False", "True"]


@pytest.mark.skipif(importlib.util.find_spec("pqopen") is None, reason="pqopen-lib is not installed")
def test_against_an_independent_library():
    """A voltage that steps at random has the Pst that an independent library finds (pqopen-lib, 230 V 50 Hz).

    Within 3 %: that one normalises half periods in a Python loop and starts unsettled, so both get 60 s first.
    """
    from pqopen.powerquality import VoltageFluctuation

    rate, per_half = 10_000.0, 100
    draws = np.random.default_rng(3)
    levels = np.repeat(230.0 * (1 - 0.03 * draws.random(1800)), 1000)  # a new level every 0.1 s
    time = np.arange(len(levels)) / rate
    voltage = np.sqrt(2.0) * levels * np.sin(100 * np.pi * time)
    squares = (voltage**2).reshape(-1, 10).mean(axis=1)
    sensation = Flickermeter("230 V 50 Hz", rate=1000.0).feed_mean_squares(squares)
    classes = SensationClasses()
    classes.add(sensation[60_000:])

    other = VoltageFluctuation(rate)
    for start in range(0, len(voltage), 2000):  # 0.2 s at a time
        block = voltage[start : start + 2000]
        other.process(start, np.sqrt((block**2).reshape(-1, per_half).mean(axis=1)), block)
    assert classes.short_term_severity() == pytest.approx(other.calc_pst(600_000, len(voltage)), rel=0.03)
