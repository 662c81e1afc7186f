"""Saturation and remanence of a core: the accessors against what the elements do when driven."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.flux import (
    flux_density_at,
    flux_linkage_at,
    remanence,
    remanent_flux_linkage,
    saturation_flux_linkage,
)
from weldsim.parts.iron import Core, FrictionRow, magnetising_branch
from weldsim.parts.magnetising_curve import CurvePoint
from weldsim.parts.steel import STEELS

TOROID = Core(section=55e-4, path_length=0.62, steel="grain-oriented")


def let_go(branch, course, step):
    """Drive the elements along a course, then step the flux to where the total current is zero; returns that flux."""
    flux, frictions = 0.0, [0.0] * len(branch.frictions)

    def move(target):
        nonlocal flux
        for j, (stiffness, limit) in enumerate(branch.frictions):
            frictions[j] = min(max(frictions[j] + stiffness * (target - flux), -limit), limit)
        flux = target

    def total():
        return branch.current(flux) + sum(frictions)

    for target in course:
        move(target)
    direction = -math.copysign(1.0, total())
    while total() * direction < 0.0:
        move(flux + direction * step)
    return flux


@pytest.mark.parametrize("name", STEELS)
def test_remanence_of_the_steels(name):
    """The named remanence comes out of the branch, and stepping down from saturation ends there (one step of 1 mT)."""
    core = Core(section=55e-4, path_length=0.62, steel=name)
    steel = STEELS[name]
    branch = magnetising_branch(core, 130)
    scale = 130 * 55e-4

    assert remanence(core) == pytest.approx(steel.remanence, rel=1e-9)
    left = let_go(branch, [steel.corners[-1] * scale], 1e-3 * scale)
    assert left / scale == pytest.approx(steel.remanence, abs=2e-3)


@pytest.mark.parametrize("wanted", [0.3, 0.7, 1.3])
def test_remanence_can_be_asked_for(wanted):
    """core.remanence is what stays, for a steel and for an own curve (halving to rounding)."""
    curve = (CurvePoint(field=60.0, flux_density=1.45), CurvePoint(field=5000.0, flux_density=1.9))
    for kind in ({"steel": "grain-oriented"}, {"magnetising_curve": curve, "coercive_field": 12.0}):
        core = Core(section=55e-4, path_length=0.62, remanence=wanted, **kind)
        assert remanence(core) == pytest.approx(wanted, rel=1e-6)


@given(course=st.lists(st.floats(-2.0, 2.0), min_size=1, max_size=6))
def test_remanence_is_the_bound(course):
    """Whatever has gone before, a current that dies out leaves no more than the remanence (one step of 2 mT)."""
    branch = magnetising_branch(TOROID, 130)
    scale = 130 * 55e-4

    left = let_go(branch, [value * scale for value in course], 2e-3 * scale)
    assert abs(left) <= (STEELS["grain-oriented"].remanence + 4e-3) * scale


def test_gap_takes_the_remanence():
    """A gap of g sets the line B = -mu0 H l / g: at 8 to 10 A/m of friction, 0.62 m and 0.1 mm that is 62 to 78 mT."""
    cut = Core(section=55e-4, path_length=0.62, steel="grain-oriented", gap=1e-4)

    assert 0.058 < remanence(cut) < 0.078


def test_without_friction_nothing_stays():
    """Single-valued iron keeps no flux."""
    assert remanent_flux_linkage(Core(magnetising_inductance=4.0)) == 0.0


def test_friction_on_a_plain_inductance():
    """All elements reversed, L times their sum stays: 4 H x 60 mA = 0.24 V.s (by hand)."""
    rows = (FrictionRow(current=0.05, flux_linkage=0.05), FrictionRow(current=0.01, flux_linkage=0.2))

    assert remanent_flux_linkage(Core(magnetising_inductance=4.0, hysteresis=rows)) == pytest.approx(0.24, rel=1e-9)


def test_saturation():
    """The corner as given; none for a plain inductance; N A 2.04 T for the toroid (2.03 T from memory, 1 %)."""
    given_corner = Core(magnetising_inductance=4.0, saturation_flux_linkage=1.1, saturated_inductance=6e-3)

    assert saturation_flux_linkage(given_corner) == 1.1
    assert saturation_flux_linkage(Core(magnetising_inductance=4.0)) == math.inf
    assert saturation_flux_linkage(TOROID, 130) == pytest.approx(2.03 * 130 * 55e-4, rel=0.01)


def test_density_and_linkage():
    """There and back; 230 V, 50 Hz, 220 turns, 32 cm2 gives 1.47069 T (computed in advance from the EMF equation)."""
    core = Core(section=32e-4)
    peak = math.sqrt(2.0) * 230.0 / (100.0 * math.pi)

    assert flux_density_at(core, peak, primary_turns=220) == pytest.approx(1.47069, rel=1e-5)
    for density in np.linspace(-2.0, 2.0, 5):
        there = flux_linkage_at(core, density, primary_turns=220)
        assert flux_density_at(core, there, primary_turns=220) == pytest.approx(density, abs=1e-12)
