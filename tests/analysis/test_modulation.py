"""Modulated test voltages against plain sampling."""

import numpy as np
import pytest

from weldsim.analysis.modulation import modulated_mean_squares
from weldsim.errors import QuestionError


@pytest.mark.parametrize("shape", ["sinusoidal", "rectangular"])
@pytest.mark.parametrize("modulation", [0.3, 8.8, 33.3333, 40.0])
def test_against_samples(shape, modulation):
    """Means of the square agree with fine sampling of the voltage as the standard writes it.

    400 midpoints to a mean: (pi 100 Hz / 480 kHz)^2 / 6 or 7e-8 of it; a jump of u^2 by up to 4 d inside one of them
    is wrong by half a sample: 2.5e-4.
    """
    rate, fine, depth = 1200.0, 400, 0.05
    time = (np.arange(round(0.5 * rate) * fine) + 0.5) / (rate * fine)
    swing = np.sin(2 * np.pi * modulation * time)
    swing = swing if shape == "sinusoidal" else np.sign(swing)
    voltage = np.sqrt(2.0) * np.sin(100 * np.pi * time) * (1 + 0.5 * depth * swing)
    sampled = (voltage**2).reshape(-1, fine).mean(axis=1)
    found = modulated_mean_squares(shape, depth=depth, modulation=modulation, frequency=50.0, duration=0.5, rate=rate)

    assert found == pytest.approx(sampled, abs=1e-6 if shape == "sinusoidal" else 2.5e-4)


def test_no_modulation():
    """Without swing every half period has a mean square of 1."""
    for shape in ("sinusoidal", "rectangular"):
        found = modulated_mean_squares(shape, depth=0.0, modulation=5.0, frequency=60.0, duration=1.0, rate=120.0)
        assert found == pytest.approx(np.ones(120), abs=1e-12)


def test_unknown_shape():
    """A shape that is not one of the two is refused by name."""
    with pytest.raises(QuestionError, match="'triangular' is none of sinusoidal, rectangular"):
        modulated_mean_squares("triangular", depth=0.1, modulation=1.0, frequency=50.0, duration=1.0, rate=100.0)
