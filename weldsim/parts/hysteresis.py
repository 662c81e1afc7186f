"""Friction elements of an iron core: what gives its loops their width, its static loss and its remanence.

One element follows the flux with a slope until its force reaches a limit, then slides with the flux at that limit; when
the flux turns it lets go at once and follows again (a spring in series with a dry-friction slider).  In iron terms an
element has a limit H_j [A/m] and a reach B_j [T], its stiffness being H_j / B_j; in a winding's terms a limit [A] and
a reach [V.s].  The functions here take either, as pairs (limit, reach).

With the elements demagnetised, loops between -B_m and +B_m follow from the first rise F(B) = sum H_j min(B / B_j, 1)
by doubling it (G. Masing's rule for such elements, 1926; from memory): falling branch F(B_m) - 2 F((B_m - B) / 2).

What constant limits cannot do: the loop is widest at B = 0 and its area stays below 4 H_c B_m, while measured sheets
widen toward the knee.  So a loop with the right coercive field is some per cent too small in area, or the reverse.
"""

from collections.abc import Sequence

Elements = Sequence[tuple[float, float]]  # (limit, reach) of each friction element


def first_rise(elements: Elements, flux: float) -> float:
    """Friction on the first magnetisation from the demagnetised state.

    F(B) = sum H_j min(B / B_j, 1), odd in B.

    Parameters
    ----------
    elements : sequence of (float, float)
        Limits and reaches [A/m and T, or A and V.s].
    flux : float
        Flux density or flux linkage reached [T or V.s].

    Returns
    -------
    float
        Friction field or current [A/m or A].

    Examples
    --------
    >>> first_rise(((4.0, 0.1), (6.0, 0.5)), 0.25)
    7.0
    """
    return sum(limit * max(-1.0, min(flux / reach, 1.0)) for limit, reach in elements)


def after_turning(elements: Elements, travelled: float) -> float:
    """Friction after the flux has turned at a tip where every element was sliding upward, and has come back a way.

    sum H_j max(1 - s / B_j, -1), s the way back.

    Parameters
    ----------
    elements : sequence of (float, float)
        Limits and reaches [A/m and T, or A and V.s].
    travelled : float
        The way back from the tip [T or V.s].

    Returns
    -------
    float
        Friction field or current [A/m or A].

    Examples
    --------
    After twice the reach an element slides the other way:

    >>> after_turning(((4.0, 0.1), (6.0, 0.5)), 0.5)
    -4.0
    >>> after_turning(((4.0, 0.1), (6.0, 0.5)), 1.0)
    -10.0
    """
    return sum(limit * max(1.0 - travelled / reach, -1.0) for limit, reach in elements)


def loop_area(elements: Elements, peak: float) -> float:
    """Area of the closed loop between -peak and +peak: the static loss of one cycle.

    4 sum H_j (B_m - B_j) over the elements whose reach is less than the peak (Derived here: integrating both branches
    of Masing's rule gives 8 times the area under F up to B_m, less 4 B_m F(B_m); an element that never slides gives 0).

    Parameters
    ----------
    elements : sequence of (float, float)
        Limits and reaches [A/m and T, or A and V.s].
    peak : float
        B_m, or the peak flux linkage [T or V.s].

    Returns
    -------
    float
        Loss of a cycle [J/m^3, or J].

    Examples
    --------
    A toroid of 10 A/m at 1.5 T, 50 Hz: 49 J/m^3, 0.32 W/kg of static loss.

    >>> area = loop_area(((3.5, 0.05), (2.5, 0.15), (2.5, 0.4), (1.5, 0.8)), 1.5)
    >>> area, round(area * 50 / 7650, 3)
    (49.0, 0.32)
    """
    return sum(4.0 * limit * max(peak - reach, 0.0) for limit, reach in elements)


def loop_half_width(elements: Elements, peak: float) -> float:
    """Coercive field of the loop between -peak and +peak: 2 F(B_m / 2) - F(B_m).

    Parameters
    ----------
    elements : sequence of (float, float)
        Limits and reaches [A/m and T, or A and V.s].
    peak : float
        B_m, or the peak flux linkage [T or V.s].

    Returns
    -------
    float
        Half the width at zero flux [A/m or A].

    Examples
    --------
    A small loop is narrower than the full one (10 A/m):

    >>> elements = ((3.5, 0.05), (2.5, 0.15), (2.5, 0.4), (1.5, 0.8))
    >>> [round(loop_half_width(elements, peak), 2) for peak in (0.1, 0.43, 0.95, 1.7)]
    [3.5, 6.19, 8.78, 10.0]
    """
    return 2.0 * first_rise(elements, 0.5 * peak) - first_rise(elements, peak)


def drive(elements: Elements, fluxes: Sequence[float], *, start: Sequence[float] | None = None) -> list[list[float]]:
    """Friction of every element along a given course of the flux, each straight way between two values taken exactly.

    Parameters
    ----------
    elements : sequence of (float, float)
        Limits and reaches [A/m and T, or A and V.s].
    fluxes : sequence of float
        The course, value by value; the first is the starting point [T or V.s].
    start : sequence of float, optional
        Friction of each element at the starting point; demagnetised (all 0) when left out [A/m or A].

    Returns
    -------
    list of list of float
        For each value of the course the friction of each element [A/m or A].

    Examples
    --------
    Up beyond the reach, and back by less than twice the reach:

    >>> drive([(4.0, 0.25)], [0.0, 0.125, 0.5, 0.375])
    [[0.0], [2.0], [4.0], [2.0]]
    """
    friction = list(start) if start is not None else [0.0] * len(elements)
    course = [list(friction)]
    for before, after in zip(fluxes, fluxes[1:], strict=False):
        for number, (limit, reach) in enumerate(elements):
            free = friction[number] + limit / reach * (after - before)
            friction[number] = max(-limit, min(free, limit))
        course.append(list(friction))
    return course
