"""A magnetising curve of one's own: both terms, what is refused, and what friction leaves of it."""

import math

import pytest

from weldsim.errors import ScenarioError
from weldsim.parts.flux import saturation_flux_linkage
from weldsim.parts.iron import Core, FrictionRow, is_iron, magnetising_branch
from weldsim.parts.magnetising_curve import CurvePoint, in_winding_terms, rising_points, without_friction

TURNS, SECTION, PATH = 130, 55e-4, 0.62
IRON = (CurvePoint(field=20.0, flux_density=1.0), CurvePoint(field=300.0, flux_density=1.7))
WINDING = tuple(  # the same points: flux linkage N A B, current H l / N
    CurvePoint(current=h * PATH / TURNS, flux_linkage=TURNS * SECTION * b) for h, b in ((20.0, 1.0), (300.0, 1.7))
)
AIR = 4e-7 * math.pi * TURNS**2 * SECTION / PATH  # what a curve of the iron ends in


def test_both_terms_give_the_same_branch():
    """Points as current and flux linkage, and the same as field and flux density, make the same corners and slopes."""
    iron = magnetising_branch(Core(section=SECTION, path_length=PATH, magnetising_curve=IRON), TURNS)
    winding = magnetising_branch(Core(magnetising_curve=WINDING, saturated_inductance=AIR))
    assert winding.corners == pytest.approx(iron.corners, rel=1e-14)
    assert winding.slopes == pytest.approx(iron.slopes, rel=1e-12)


def test_saturation_of_a_winding_curve_is_where_its_last_piece_comes_from():
    """Beyond 1.2155 V s and 1.4308 A a slope of 1 / 6 mH, which prolonged backward meets no current at 1.2069 V s."""
    core = Core(magnetising_curve=WINDING, saturated_inductance=6e-3)
    flux, current = TURNS * SECTION * 1.7, 300.0 * PATH / TURNS
    assert not is_iron(core)
    assert saturation_flux_linkage(core) == pytest.approx(flux - 6e-3 * current, rel=1e-12)
    assert magnetising_branch(core).current(flux + 6e-3) == pytest.approx(current + 1.0, rel=1e-12)


def test_friction_is_taken_off_the_given_peaks():
    """The branch and its friction elements on the first rise add up to the given currents."""
    rows = (FrictionRow(current=0.05, flux_linkage=0.2), FrictionRow(current=0.03, flux_linkage=0.5))
    branch = magnetising_branch(Core(magnetising_curve=WINDING, saturated_inductance=6e-3, hysteresis=rows))
    for point in WINDING:
        friction = sum(limit * min(point.flux_linkage / reach, 1.0) for limit, reach in branch.elements)
        assert branch.current(point.flux_linkage) + friction == pytest.approx(point.current, rel=1e-12)
    assert without_friction([(1.0, 3.0)], [(10.0, 0.5)]) == [(0.0, 0.0), (1.0, 0.0)]  # never below nothing


@pytest.mark.parametrize(
    ("rows", "fact"),
    [
        ((CurvePoint(field=20.0),), "pair of values"),
        ((CurvePoint(field=20.0, current=1.0, flux_density=1.0),), "pair of values"),
        ((CurvePoint(current=1.0, flux_linkage=1.0), CurvePoint(field=20.0, flux_density=1.0)), "pair of values"),
        (
            (CurvePoint(current=1.0, flux_linkage=1.0), CurvePoint(current=2.0, flux_linkage=0.9)),
            "follows 1 A at 1 V s",
        ),
        ((CurvePoint(current=0.0, flux_linkage=0.0),), "no point but zero"),
    ],
)
def test_what_is_no_curve_is_refused(rows: tuple[CurvePoint, ...], fact: str):
    """Half a point, mixed terms, a curve that turns back and an empty one are told, each with its place."""
    with pytest.raises(ScenarioError, match=fact) as refusal:
        rising_points(rows)
    assert str(refusal.value.place).startswith("core.magnetising_curve")


def test_a_winding_curve_needs_what_comes_beyond_it():
    """Without the inductance in saturation nothing says how large an inrush may grow."""
    with pytest.raises(ScenarioError, match="curve of the winding") as refusal:
        magnetising_branch(Core(magnetising_curve=WINDING))
    assert refusal.value.place == "core.saturated_inductance"
    assert in_winding_terms(WINDING)
    assert not in_winding_terms(IRON)
