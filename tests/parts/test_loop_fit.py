"""Fitting loops: what was built by hand must be found again, and limits asked for must be kept."""

import numpy as np
import pytest

from weldsim.parts.hysteresis import first_rise
from weldsim.parts.loop_fit import FittedLoop, MeasuredLoop, falling_branch, fit_family, fit_loop, loop_figures

STOPS = ((20.0, 0.05), (15.0, 0.4))
CURVE = ((0.0, 0.0), (0.9, 45.0), (1.2, 245.0), (1.5, 1745.0))


def made_loop(peak, offset=0.0):
    """A loop of the elements above, stepped by hand: elements pushed and clipped from the demagnetised state."""
    course = np.concatenate([np.linspace(0.0, peak, 300), peak * np.cos(np.linspace(0.0, 2.0 * np.pi, 1201))])
    field, state = [], np.zeros(2)
    limits, reaches = np.array(STOPS).T
    for before, b in zip(np.concatenate([[0.0], course]), course, strict=False):
        state = np.clip(state + limits / reaches * (b - before), -limits, limits)
        field.append(np.sign(b) * np.interp(abs(b), *np.transpose(CURVE)) + state.sum())
    return MeasuredLoop(np.array(field[300:]), course[300:] + offset)


def test_figures_of_a_made_loop():
    """By hand at 1.5 T: width 35 A/m, area 4 (20 x 1.45 + 15 x 1.1) = 182 J/m3, tip 1780 A/m, remanence 0.7 T.

    0.5 % for 81 points, 1 % for the remanence, which lies at a corner of the branch.
    """
    figures = loop_figures(made_loop(1.5))

    assert figures["peak"] == pytest.approx(1.5)
    assert figures["coercive_field"] == pytest.approx(35.0, rel=5e-3)
    assert figures["area"] == pytest.approx(182.0, rel=5e-3)
    assert figures["tip"] == pytest.approx(1780.0, rel=5e-3)
    assert figures["remanence"] == pytest.approx(0.7, rel=0.01)


def test_offset_of_the_integrator_drops_out():
    """A shift of 5 mT leaves coercive field and area within 1 %, as the two branches are averaged."""
    straight, shifted = loop_figures(made_loop(1.5)), loop_figures(made_loop(1.5, offset=5e-3))

    assert shifted["coercive_field"] == pytest.approx(straight["coercive_field"], rel=0.01)
    assert shifted["area"] == pytest.approx(straight["area"], rel=0.01)


def test_falling_branch_is_the_upper_left_one():
    """From -peak to peak, with negative field where the flux is zero."""
    density, field = falling_branch(made_loop(1.5))

    assert density[0] == -density[-1]
    assert np.interp(0.0, density, field) < 0.0


def test_a_family_is_taken_apart():
    """Loops at 1.5 and 0.5 T fix curve and elements: the first rise at other fluxes within 5 % (loops of 81 points)."""
    found = fit_family([made_loop(1.5), made_loop(0.5)], stops=3, pieces=4)
    for density in (0.2, 0.6, 1.0, 1.3):
        made = np.interp(density, *np.transpose(CURVE)) + first_rise(STOPS, density)
        again = np.interp(density, *np.transpose(found.curve)) + first_rise(found.stops, density)
        assert again == pytest.approx(made, rel=0.05)
    assert found.misfit < 0.1


@pytest.mark.parametrize(("stops", "pieces"), [(1, 2), (2, 3)])
def test_no_more_than_asked_for(stops, pieces):
    """The numbers of elements and pieces are kept, slopes rise, and reaches are no sharper than 30 mT."""
    loop = made_loop(1.5)
    found = fit_loop(loop.field, loop.flux_density, stops=stops, pieces=pieces)
    slopes = np.diff([h for _, h in found.curve]) / np.diff([b for b, _ in found.curve])

    assert isinstance(found, FittedLoop)
    assert len(found.stops) <= stops
    assert len(slopes) <= pieces
    assert np.all(np.diff(slopes) > -1e-9)
    assert slopes[0] >= 0.0
    assert min(reach for _, reach in found.stops) >= 0.03
