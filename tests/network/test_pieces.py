"""Straight pieces of iron: segments, currents and energies."""

import pytest
from scipy.integrate import quad

from weldsim.errors import WiringError
from weldsim.network.branches import Friction, SaturatingInductor
from weldsim.network.pieces import current_at, energy_at, friction_segments, piece_at, saturation_segments

CORE = SaturatingInductor("core", "a", "b", (-3.0, -1.1, -1.0, 1.0, 1.1, 3.0), (-300.0, -2.0, -0.25, 0.25, 2.0, 300.0))


def test_names_count_from_the_middle():
    """The piece through zero flux is the middle; others are numbered outward with their sign."""
    assert [segment.name for segment in saturation_segments(CORE)] == ["-2", "-1", "middle", "+1", "+2"]


@pytest.mark.parametrize(
    ("flux", "piece", "current"),
    [(0.5, 2, 0.125), (-0.5, 2, -0.125), (1.05, 3, 1.125), (5.0, 4, 2.0 + 3.9 * 298.0 / 1.9), (-1.05, 1, -1.125)],
)
def test_current_follows_the_corners(flux, piece, current):
    """Between corners the current is on the chord, beyond the last one on its prolongation (worked by hand)."""
    assert piece_at(CORE, flux) == piece
    assert current_at(CORE, flux) == pytest.approx(current, rel=1e-14)


@pytest.mark.parametrize("flux", [0.7, -0.7, 1.07, -2.5, 4.0])
def test_energy_is_the_integral_of_current_over_flux(flux):
    """Against numerical quadrature with the corners told; its own error is below 1e-12."""
    corners = [corner for corner in (-1.1, -1.0, 1.0, 1.1) if min(0.0, flux) < corner < max(0.0, flux)]
    expected, _ = quad(lambda psi: current_at(CORE, psi), 0.0, flux, points=corners or None)

    assert energy_at(CORE, flux) == pytest.approx(expected, rel=1e-11)
    assert energy_at(CORE, flux) > 0.0


def test_friction_sticks_and_slides():
    """Stuck ends at either limit with the current set to it; sliding ends when the voltage reverses."""
    stuck, up, down = friction_segments(Friction("stop", "a", "b", 2.0, 0.3, 325.0))

    assert [(g.sign, g.limit, g.target, g.jump.offset) for g in stuck.guards] == [
        (-1, 0.3, "slide_up", 0.3),
        (1, -0.3, "slide_down", -0.3),
    ]
    assert [(g.quantity, g.sign, g.target) for g in (*up.guards, *down.guards)] == [
        ("voltage", 1, "stuck"),
        ("voltage", -1, "stuck"),
    ]


@pytest.mark.parametrize("points", [((0.0,), (0.0,)), ((0.0, 0.0), (0.0, 1.0)), ((0.0, 1.0), (1.0, 0.0))])
def test_curves_that_do_not_rise_are_refused(points):
    """A magnetising curve needs two points, rising flux and current that does not fall."""
    with pytest.raises(WiringError, match="core: a magnetising curve"):
        saturation_segments(SaturatingInductor("core", "a", "b", *points))
