"""From measured loops to a core: a single-valued curve in straight pieces and friction elements.

With loops that start demagnetised every figure of a loop is linear in the slopes of the pieces and in the limits of the
elements once corners and reaches are fixed (``hysteresis.py``), so the best values follow from one linear programme:
coercive field, area, tip and, where given, the first-magnetisation curve stay within a share of their tolerance, and
the branches lie as close as they can (sum of absolute deviations).  Corners and reaches are thinned out from a dense
set, always dropping the one that costs least, and then shifted while that helps.

What cannot be had from one loop: how far an element reaches.  The branches of a wide loop look the same whether its
elements let go early or late, but smaller loops do not; give those too, or the first-magnetisation curve.

The rules of loops are Masing's (``hysteresis.py``), the way of fitting is derived here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import field
from typing import Any

from weldsim.frozen import dataclass

CURVE_TOLERANCE = 0.02  # of the field of a first-magnetisation curve, from CURVE_FROM up
CURVE_FROM = 0.65  # [T]
WISH_SCALE = 0.1  # a branch off by 10 % of (coercive field + field) counts as 1; the curve at low flux alike
EXCESS_COST = 20.0  # price of leaving a tolerance by its own size
LEAST_REACH = 0.03  # [T] no sharper turn than this
LONGEST_REACH = 0.95  # longest reach tried, of the largest peak
DENSE = (30, 18)  # corners and reaches to begin with
SHIFTS = (0.05, 0.025, 0.0125)  # relative shifts of corners and reaches, tried in turn


@dataclass(frozen=True)
class MeasuredLoop:
    """One closed static loop, sampled from its upper tip down and back up."""

    field: Sequence[float]  # [A/m]
    flux_density: Sequence[float]  # [T]
    tolerance: float = 0.05  # of coercive field and area
    tip_tolerance: float = 0.10  # of the field at the tip
    remanence_tolerance: float = 0.05  # of the remanence


@dataclass(frozen=True)
class FittedLoop:
    """Curve and elements: H = curve(B) + sum of the elements."""

    curve: tuple[tuple[float, float], ...]  # corners (B [T], H [A/m]), (0, 0) first; the last piece goes on
    stops: tuple[tuple[float, float], ...]  # (limit [A/m], reach [T])
    misfit: float = field(default=0.0, compare=False)  # mean branch deviation in WISH_SCALE, plus priced excess


def falling_branch(loop: MeasuredLoop, points: int = 81) -> tuple[Any, Any]:
    """The falling branch of a measured loop at even steps of angle, averaged with the rising one turned about zero.

    An offset of the instrument's integrator or of its field drops out.

    Parameters
    ----------
    loop : MeasuredLoop
        The loop [A/m, T].
    points : int
        How many points [1].

    Returns
    -------
    tuple of array
        Flux density from -peak to peak [T], field [A/m].

    Examples
    --------
    >>> made = MeasuredLoop((30.0, 6.0, -30.0, -6.0, 30.0), (1.0, 0.8, -1.0, -0.8, 1.0))
    >>> density, field = falling_branch(made, 3)
    >>> [float(round(b, 6)) for b in density], [float(round(h, 6)) for h in field]
    ([-1.0, 0.0, 1.0], [-30.0, -10.0, 30.0])
    """
    import numpy as np

    field, density = np.asarray(loop.field, float), np.asarray(loop.flux_density, float)
    turn = int(np.argmin(density))
    falling = (density[turn::-1], field[turn::-1])
    rising = (density[turn:], field[turn:])
    peak = min(falling[0][-1], -falling[0][0], rising[0][-1])
    grid = peak * np.sin(np.linspace(-0.5 * np.pi, 0.5 * np.pi, points))
    orders = [np.argsort(branch[0], kind="stable") for branch in (falling, rising)]
    down, up = (
        np.interp(grid, branch[0][order], branch[1][order])
        for branch, order in zip((falling, rising), orders, strict=True)
    )
    return grid, 0.5 * (down - up[::-1])


def loop_figures(loop: MeasuredLoop) -> dict[str, float]:
    """Peak, coercive field, remanence, tip field and area of a measured loop.

    Parameters
    ----------
    loop : MeasuredLoop
        The loop [A/m, T].

    Returns
    -------
    dict of str to float
        ``peak`` [T], ``coercive_field`` [A/m], ``remanence`` [T], ``tip`` [A/m], ``area`` [J/m^3].

    Notes
    -----
    From ``falling_branch``; the tip is the mean of the fields at both ends.

    Examples
    --------
    A loop made by hand of one element of 10 A/m, 0.1 T, and 20 A/m for each tesla:

    >>> made = MeasuredLoop((30.0, 6.0, -30.0, -6.0, 30.0), (1.0, 0.8, -1.0, -0.8, 1.0))
    >>> {name: round(value, 2) for name, value in loop_figures(made).items()}
    {'peak': 1.0, 'coercive_field': 10.0, 'remanence': 0.5, 'tip': 30.0, 'area': 35.99}
    """
    import numpy as np

    density, falling = falling_branch(loop)
    area = -float(np.sum((falling[1:] + falling[:-1]) * np.diff(density)))
    return {
        "peak": float(density[-1]),
        "coercive_field": -float(np.interp(0.0, density, falling)),
        "remanence": float(np.interp(0.0, falling, density)),
        "tip": float(falling[-1]),
        "area": area,
    }


@dataclass(frozen=True)
class _Row:
    """One thing the model should give: a field on the first rise or on a falling branch, or an area."""

    kind: str  # "rise", "fall" or "area"
    density: float
    peak: float
    value: float
    scale: float  # tolerance, or what counts as 1


def _loop_rows(loop: MeasuredLoop) -> tuple[list[_Row], list[_Row]]:
    """What must hold and what would be nice, for one loop; the remanence as the field there, by the branch's slope."""
    import numpy as np

    figures = loop_figures(loop)
    peak, width = figures["peak"], figures["coercive_field"]
    must = [
        _Row("fall", 0.0, peak, -width, loop.tolerance * width),
        _Row("area", 0.0, peak, figures["area"], loop.tolerance * figures["area"]),
        _Row("fall", peak, peak, figures["tip"], loop.tip_tolerance * figures["tip"]),
    ]
    density, falling = falling_branch(loop)
    near = [figures["remanence"] * share for share in (0.95, 1.05)]
    slope = float(np.diff(np.interp(near, density, falling))[0]) / (near[1] - near[0])
    must.append(_Row("fall", figures["remanence"], peak, 0.0, loop.remanence_tolerance * figures["remanence"] * slope))
    density, falling = falling_branch(loop, 41)
    return must, [
        _Row("fall", float(b), peak, float(h), WISH_SCALE * (width + abs(float(h))))
        for b, h in zip(density, falling, strict=True)
    ]


def _curve_rows(curve: Sequence[tuple[float, float]]) -> tuple[list[_Row], list[_Row]]:
    """The same for a first-magnetisation curve of (B, H)."""
    upper = [_Row("rise", b, b, h, CURVE_TOLERANCE * h) for b, h in curve if b > CURVE_FROM]
    lower = [_Row("rise", b, b, h, WISH_SCALE * h) for b, h in curve if 0.0 < b <= CURVE_FROM]
    return upper, upper + lower


def _coefficients(row: _Row, corners: Sequence[float], reaches: Sequence[float]) -> list[float]:
    """How much each rise of slope at a corner, and each limit, adds to the row's value."""
    if row.kind == "area":
        return [0.0] * (len(corners) + 1) + [4.0 * max(row.peak - reach, 0.0) for reach in reaches]
    size, sign = abs(row.density), 1.0 if row.density >= 0.0 else -1.0
    slopes = [sign * max(size - corner, 0.0) for corner in (0.0, *corners)]
    if row.kind == "rise":
        return slopes + [min(row.density / reach, 1.0) for reach in reaches]
    back = 0.5 * (row.peak - row.density)
    return slopes + [min(row.peak / reach, 1.0) - 2.0 * min(back / reach, 1.0) for reach in reaches]


class _Fit:
    """The linear programme for given rows; solved again and again with other corners and reaches."""

    def __init__(self, must: list[_Row], wish: list[_Row], margin: float) -> None:
        self.must, self.wish, self.margin = must, wish, margin

    def solve(self, corners: Sequence[float], reaches: Sequence[float]) -> tuple[Any, float]:
        """Rises of slope and limits (all at least 0), and the cost."""
        import numpy as np
        from scipy.optimize import linprog

        must = np.array([_coefficients(row, corners, reaches) for row in self.must])
        wish = np.array([_coefficients(row, corners, reaches) for row in self.wish])
        aim, tolerance = np.array([(row.value, row.scale) for row in self.must]).T
        hope, scale = np.array([(row.value, row.scale) for row in self.wish]).T
        count, unknowns = len(hope), must.shape[1]
        wish, none = wish / scale[:, None], np.zeros((len(aim), count))
        stray, excess = -np.eye(count), -tolerance[:, None]
        table = np.block(
            [
                [must, none, excess],
                [-must, none, excess],
                [wish, stray, np.zeros((count, 1))],
                [-wish, stray, np.zeros((count, 1))],
            ]
        )
        bound = np.concatenate(
            [aim + self.margin * tolerance, -aim + self.margin * tolerance, hope / scale, -hope / scale]
        )
        price = np.concatenate([np.zeros(unknowns), np.full(count, 1.0 / count), [EXCESS_COST]])
        found = linprog(price, A_ub=table, b_ub=bound, bounds=(0.0, None), method="highs")
        return found.x[:unknowns], float(found.fun)


def _without(values: Sequence[float]) -> Iterator[tuple[float, ...]]:
    """The values with one left out, in turn."""
    for place in range(len(values)):
        yield (*values[:place], *values[place + 1 :])


def _thin_out(
    fit: _Fit, corners: tuple[float, ...], reaches: tuple[float, ...], most: tuple[int, int]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Drop corners and reaches, the cheapest first, until no more than ``most`` are left."""
    rises, _ = fit.solve(corners, reaches)
    used = [value > 1e-9 for value in rises[1:]]
    corners, reaches = (
        tuple(value for value, keep in zip(values, kept, strict=True) if keep)
        for values, kept in ((corners, used[: len(corners)]), (reaches, used[len(corners) :]))
    )
    while len(corners) > most[0] or len(reaches) > most[1]:
        choices = [(fewer, reaches) for fewer in _without(corners) if len(corners) > most[0]]
        choices += [(corners, fewer) for fewer in _without(reaches) if len(reaches) > most[1]]
        corners, reaches = min(choices, key=lambda choice: fit.solve(*choice)[1])
    return corners, reaches


def _shift(
    fit: _Fit, corners: tuple[float, ...], reaches: tuple[float, ...]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Move corners and reaches one by one while that helps."""
    places, count = [*corners, *reaches], len(corners)

    def cost() -> float:
        return fit.solve(sorted(places[:count]), places[count:])[1]

    best = cost()
    for shift in SHIFTS:
        helped = True
        while helped:
            helped = False
            for place in range(len(places)):
                for factor in (1.0 + shift, 1.0 - shift):
                    kept = places[place]
                    places[place] = max(kept * factor, LEAST_REACH)
                    now = cost()
                    if now < best - 1e-5:
                        best, helped = now, True
                    else:
                        places[place] = kept
    return tuple(sorted(places[:count])), tuple(places[count:])


def fit_family(
    loops: Sequence[MeasuredLoop],
    *,
    stops: int,
    pieces: int,
    margin: float = 0.9,
    first_curve: Sequence[tuple[float, float]] = (),
) -> FittedLoop:
    """Curve and friction elements that give a family of loops of one sheet.

    Parameters
    ----------
    loops : sequence of MeasuredLoop
        Loops that start demagnetised, the largest first [A/m, T].
    stops : int
        Most friction elements [1].
    pieces : int
        Most straight pieces of the curve in each polarity [1].
    margin : float
        Share of every tolerance that may be used [1].
    first_curve : sequence of (float, float)
        First-magnetisation curve, B against H [T, A/m].

    Returns
    -------
    FittedLoop
        Corners [T, A/m] and elements [A/m, T].

    Notes
    -----
    Takes some seconds.  The slopes of the curve rise from piece to piece, none is negative.

    Examples
    --------
    The loop of ``loop_figures`` is taken apart again:

    >>> made = MeasuredLoop((30.0, 6.0, -30.0, -6.0, 30.0), (1.0, 0.8, -1.0, -0.8, 1.0))
    >>> found = fit_family([made], stops=1, pieces=1)
    >>> [(round(limit, 1), round(reach, 2)) for limit, reach in found.stops]
    [(10.0, 0.1)]
    """
    peak = loop_figures(loops[0])["peak"]
    groups = [*(_loop_rows(loop) for loop in loops), _curve_rows(first_curve)]
    fit = _Fit([row for must, _ in groups for row in must], [row for _, wish in groups for row in wish], margin)
    corners = tuple(peak * (k + 1) / (DENSE[0] + 1) for k in range(DENSE[0]))
    ratio = LONGEST_REACH * peak / LEAST_REACH
    reaches = tuple(LEAST_REACH * ratio ** (k / (DENSE[1] - 1)) for k in range(DENSE[1]))
    corners, reaches = _shift(fit, *_thin_out(fit, corners, reaches, (pieces - 1, stops)))
    rises, cost = fit.solve(corners, reaches)
    limits = [float(value) for value in rises[len(corners) + 1 :]]
    ends = (0.0, *corners, peak)
    heights = [
        sum(float(rise) * max(end - start, 0.0) for rise, start in zip(rises, ends, strict=False)) for end in ends
    ]
    elements = sorted((reach, limit) for limit, reach in zip(limits, reaches, strict=True) if limit > 1e-6)
    return FittedLoop(tuple(zip(ends, heights, strict=True)), tuple((limit, reach) for reach, limit in elements), cost)


def fit_loop(field: Sequence[float], flux_density: Sequence[float], *, stops: int, pieces: int) -> FittedLoop:
    """Curve and friction elements that give one measured loop.

    Parameters
    ----------
    field : sequence of float
        From the upper tip down and back up [A/m].
    flux_density : sequence of float
        At the same moments [T].
    stops : int
        Most friction elements [1].
    pieces : int
        Most straight pieces of the curve in each polarity [1].

    Returns
    -------
    FittedLoop
        Corners [T, A/m] and elements [A/m, T].

    Notes
    -----
    The loop comes out right; smaller loops need not (see the top of this file): use ``fit_family`` where there are any.

    Examples
    --------
    >>> found = fit_loop((30.0, 6.0, -30.0, -6.0, 30.0), (1.0, 0.8, -1.0, -0.8, 1.0), stops=1, pieces=1)
    >>> [round(sum(limit for limit, _ in found.stops), 1)]
    [10.0]
    """
    return fit_family([MeasuredLoop(field, flux_density)], stops=stops, pieces=pieces)
