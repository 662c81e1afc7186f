"""Friction elements: laws that any course of the flux must keep, and the closed forms against plain stepping."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.hysteresis import after_turning, drive, first_rise, loop_area, loop_half_width

ELEMENTS = st.lists(st.tuples(st.floats(0.1, 50.0), st.floats(0.02, 1.0)), min_size=1, max_size=5)
COURSE = st.lists(st.floats(-1.8, 1.8), min_size=2, max_size=12)


def stepped(elements, course, steps=400):
    """Total friction along a course in small equal steps, each element pushed and clipped."""
    state = [0.0] * len(elements)
    fluxes, totals = [course[0]], [0.0]
    for start, end in itertools.pairwise(course):
        for k in range(1, steps + 1):
            flux = start + (end - start) * k / steps
            for j, (limit, reach) in enumerate(elements):
                state[j] = min(max(state[j] + limit / reach * (flux - fluxes[-1]), -limit), limit)
            fluxes.append(flux)
            totals.append(sum(state))
    return fluxes, totals


@given(elements=ELEMENTS, peak=st.floats(0.05, 1.8))
def test_area_of_a_loop(elements, peak):
    """Area of the stepped loop; 4 sum H (B_m - B_j): trapezoids miss a corner by a step squared at most."""
    fluxes, totals = stepped(elements, [0.0, peak, -peak, peak])
    loop = range(400, 1200)
    area = sum(0.5 * (totals[k] + totals[k + 1]) * (fluxes[k + 1] - fluxes[k]) for k in loop)

    assert area == pytest.approx(loop_area(elements, peak), abs=1e-4 * sum(h for h, _ in elements) * peak * 10)


@given(elements=ELEMENTS, peak=st.floats(0.05, 1.8))
def test_width_of_a_loop(elements, peak):
    """Friction at zero flux on the stepped falling branch is minus the coercive field (rounding of 400 steps)."""
    _, totals = stepped(elements, [0.0, peak, -peak])

    assert totals[600] == pytest.approx(-loop_half_width(elements, peak), abs=1e-9 * sum(h for h, _ in elements) * 400)


@given(elements=ELEMENTS, far=st.floats(1.0, 1.8), back=st.floats(0.0, 3.6))
def test_after_turning_is_what_stepping_gives(elements, far, back):
    """From a tip beyond every reach back by some way: rounding only."""
    total = sum(drive(elements, [0.0, far, far - back])[-1])

    assert total == pytest.approx(after_turning(elements, back), abs=1e-9 * sum(h / b for h, b in elements))


@given(elements=ELEMENTS, first=st.floats(-1.8, 1.8), course=COURSE)
def test_return_point_memory(elements, first, course):
    """An excursion that stays inside and comes back to where it turned leaves no trace (return-point memory)."""
    outer = [0.0, 2.0 if first >= 0.0 else -2.0, first]
    inside = [min(max(value, min(first, outer[1])), max(first, outer[1])) for value in course]
    before = drive(elements, outer)[-1]
    after = drive(elements, [*outer, *inside, first])[-1]

    assert after == pytest.approx(before, abs=1e-9 * max(h / b for h, b in elements))


@given(elements=ELEMENTS, course=COURSE)
def test_elements_only_take(elements, course):
    """Work put in, less what the springs hold, is never negative on any course (400 steps a stretch, trapezoids)."""
    fluxes, totals = stepped(elements, [0.0, *course])
    work = sum(0.5 * (totals[k] + totals[k + 1]) * (fluxes[k + 1] - fluxes[k]) for k in range(len(totals) - 1))
    held = sum(
        0.5 * friction**2 / (limit / reach)
        for friction, (limit, reach) in zip(drive(elements, [0.0, *course])[-1], elements, strict=True)
    )

    assert work - held > -1e-3 * sum(h for h, _ in elements)


@given(elements=ELEMENTS, course=COURSE)
def test_no_matter_how_finely_it_is_driven(elements, course):
    """A stretch in one stride or in 400 steps ends in the same state: the course alone counts (rounding)."""
    fine = stepped(elements, [0.0, *course])[1][-1]
    coarse = sum(drive(elements, [0.0, *course])[-1])

    assert coarse == pytest.approx(fine, abs=1e-9 * sum(h / b for h, b in elements))


def test_first_rise_is_odd():
    """Demagnetised iron knows no direction; exact."""
    elements = [(4.0, 0.1), (6.0, 0.5)]

    assert [first_rise(elements, -b) for b in (0.05, 0.3, 2.0)] == [-first_rise(elements, b) for b in (0.05, 0.3, 2.0)]
