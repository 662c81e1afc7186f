"""Energy accounts against hand calculation and closed forms."""

import numpy as np
import pytest

from weldsim.analysis.energy import balance, energy_of, relative_residual
from weldsim.errors import WeldsimError


def test_balance_by_hand():
    """What is supplied and neither lost, delivered nor stored is the residual; giving stored energy back counts too."""
    assert balance(1000.0, lost=300.0, delivered=650.0, stored=49.0) == 1.0
    assert balance(0.0, lost=20.0, delivered=60.0, stored=-80.0) == 0.0
    assert relative_residual(1000.0, lost=300.0, delivered=650.0, stored=49.0) == 1e-3
    assert relative_residual(0.0, lost=20.0, delivered=59.2, stored=-80.0) == pytest.approx(0.8 / 159.2, rel=1e-12)
    assert relative_residual(0.0, lost=0.0, delivered=0.0, stored=0.0) == 0.0


def test_small_residual_of_large_energies():
    """A microjoule is found among megajoules: the sum is rounded once."""
    assert balance(1e6 + 1e-6, lost=1e6, delivered=1e-6, stored=0.0) == pytest.approx(0.0, abs=1e-10)
    assert balance(3e6, lost=1e6 + 1e-6, delivered=1e6, stored=1e6) == pytest.approx(-1e-6, abs=1e-10)


def test_charging_a_bank_loses_half():
    """A bank charged from a fixed voltage through a resistor takes C U^2, of which half is lost (textbook).

    0.1 F, 40 V, 0.02 ohm: 160 J supplied, 80 J lost, 80 J stored, over 20 time constants (rest e^-20 = 2e-9).  The
    trapezoids miss (dt/tau)^2/12 of the decaying current: 1e-4 of a time constant, so 1e-9.
    """
    tau = 0.1 * 0.02
    time = np.linspace(0.0, 20 * tau, 200_001)
    current = 40.0 / 0.02 * np.exp(-time / tau)
    supplied = energy_of(time, np.full(len(time), 40.0), current)
    lost = energy_of(time, 0.02 * current, current)

    assert supplied == pytest.approx(160.0, rel=1e-8)
    assert lost == pytest.approx(80.0, rel=1e-8)
    assert abs(relative_residual(supplied, lost=lost, delivered=0.0, stored=80.0)) < 1e-8


def test_unlike_columns():
    """Voltages, currents and times of unlike number are refused."""
    with pytest.raises(WeldsimError, match="2 voltages and 3 currents at 2 times"):
        energy_of(np.zeros(2), np.zeros(2), np.zeros(3))
