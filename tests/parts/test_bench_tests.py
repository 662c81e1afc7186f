"""The classical tests of a transformer: closed forms, numerical integration of a current, and worked examples."""

import math

import numpy as np
import pytest

from weldsim.parts.bench_tests import (
    Impedance,
    air_inductance,
    behind_the_winding,
    effective_current,
    peak_curve,
    series_impedance,
)
from weldsim.parts.hysteresis import drive, first_rise

# Rms of sin^k over its amplitude by the Wallis integral (computed outside this project, see data/reference).
WALLIS = {5: 0.4960783708246107, 7: 0.4576818286211503}


@pytest.mark.parametrize("power", [5, 7])
def test_a_smooth_curve_is_found_from_its_effective_currents(power: int):
    """Rms currents of i = flux^k, by the closed form, give corners on that curve.

    A chord of twenty pieces lies above the curve by at most 2 % of its end; corners answer for it by as much.
    """
    fluxes = np.linspace(0.05, 1.0, 20)
    corners = peak_curve([(flux, WALLIS[power] * flux**power, 0.0) for flux in fluxes])
    assert [flux for flux, _ in corners] == pytest.approx(list(fluxes))
    assert [amps for _, amps in corners] == pytest.approx([flux**power for flux in fluxes], abs=0.02)


def test_effective_currents_are_those_of_the_waveform():
    """They agree with a sum over 200 000 angles of a quarter, for amplitudes on every piece, to 1e-5."""
    curve = [(0.4, 0.05), (0.9, 0.3), (1.1, 2.0)]
    angles = (np.arange(200_000) + 0.5) * (0.5 * np.pi / 200_000)
    for flux in (0.3, 0.4, 0.75, 1.0, 1.1, 1.4):
        beyond = (2.0 - 0.3) / (1.1 - 0.9)
        amps = np.interp(flux * np.sin(angles), [0.0, 0.4, 0.9, 1.1, 3.0], [0.0, 0.05, 0.3, 2.0, 2.0 + 1.9 * beyond])
        assert effective_current(curve, flux) == pytest.approx(math.sqrt((amps**2).mean()), rel=1e-5)


ELEMENTS = ((0.03, 0.05), (0.02, 0.3))  # friction: limits [A] and reaches [V s]


def test_friction_adds_its_loop():
    """A loop driven step by step through two cycles, a resistor beside it: rms of the second cycle, to 1e-4."""
    curve, flux, working = [(0.5, 0.2), (1.0, 0.9)], 0.8, 0.1
    angles = np.linspace(0.0, 4.0 * np.pi, 80_001)
    course = flux * np.sin(angles)
    friction = np.array(drive(ELEMENTS, list(course))).sum(axis=1)
    rise = first_rise(ELEMENTS, 0.5), first_rise(ELEMENTS, 1.0)
    single = np.sign(course) * np.interp(np.abs(course), [0.0, 0.5, 1.0], [0.0, 0.2 - rise[0], 0.9 - rise[1]])
    amps = (single + friction + math.sqrt(2.0) * working * np.cos(angles))[40_000:]
    found = effective_current(curve, flux, elements=ELEMENTS, working=working)
    assert found == pytest.approx(math.sqrt((amps**2).mean()), rel=1e-4)


def test_corners_give_their_effective_currents_back():
    """Whatever rises is met exactly, also far in saturation."""
    points = [(0.3, 0.06, 0.01), (0.6, 0.1, 0.02), (1.0, 0.3, 0.03), (1.1, 1.5, 0.035), (1.2, 9.0, 0.04)]
    corners = peak_curve(points, ELEMENTS)
    for number, (flux, amps, working) in enumerate(points, start=1):
        found = effective_current(corners[:number], flux, elements=ELEMENTS, working=working)
        assert found == pytest.approx(amps, rel=1e-12)


def test_a_current_that_is_too_small_leaves_the_curve_level():
    """Corners below already take more than was read: the piece is level, not falling."""
    (_, first), (_, second) = peak_curve([(1.0, 1.0, 0.0), (1.2, 0.5, 0.0)])
    assert second == first


def test_worked_examples():
    """Open- and short-circuit test of 20 kVA, 8000/240 V, 60 Hz (S. J. Chapman, example 2-2; from memory, 90 %)."""
    shorted = series_impedance(489.0, 2.5, power=240.0, resistance=None)
    assert (shorted.resistance, shorted.reactance) == pytest.approx((38.4, 191.8), rel=1e-3)
    volts, loss = behind_the_winding(8000.0, 0.214, power=400.0, winding=Impedance(0.0, 0.0))
    assert volts**2 / loss == pytest.approx(160e3, rel=1e-3)  # the book rounds to 159 kohm
    ((flux, amps),) = peak_curve([(math.sqrt(2.0) * volts / (120.0 * math.pi), 0.214, loss / volts)])
    assert 120.0 * math.pi * flux / amps == pytest.approx(38.4e3, rel=3e-3)  # the magnetising reactance


def test_the_drop_in_the_winding_is_that_of_phasors():
    """A known branch behind a known winding: what is seen at the terminals leads back to the branch."""
    branch = 1.0 / complex(1.0 / 900.0, -1.0 / 250.0)  # resistor and reactance side by side
    winding = Impedance(2.0, 3.0)
    whole = branch + complex(winding.resistance, winding.reactance)
    amps = 230.0 / whole
    power = (230.0 * amps.conjugate()).real
    volts, loss = behind_the_winding(230.0, abs(amps), power=power, winding=winding)
    assert volts == pytest.approx(abs(amps * branch), rel=1e-12)
    assert loss == pytest.approx(volts**2 / 900.0, rel=1e-12)


def test_readings_at_the_edge_stay_within_reason():
    """More resistance than impedance is all of it; more watts than amperes allow count as in step with the volts."""
    assert series_impedance(10.0, 10.0, power=104.0, resistance=None) == Impedance(1.0, 0.0)
    volts, _ = behind_the_winding(230.0, 0.1, power=24.0, winding=Impedance(10.0, 0.0))
    assert volts == pytest.approx(229.0)


def test_air_takes_the_square_of_the_turns():
    """A coil of 100 turns, 10 cm2 and 20 cm: 62.8 uH, by hand; twice the turns four times as much."""
    assert air_inductance(100, 10e-4, 0.2) == pytest.approx(62.83e-6, rel=1e-4)
    assert air_inductance(200, 10e-4, 0.2) == pytest.approx(4.0 * air_inductance(100, 10e-4, 0.2))
