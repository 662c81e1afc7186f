"""Chains of straight pieces: the form in which iron and chokes reach the network.

A chain is given by its corners in the first quadrant, (0, 0) first; it is odd, and its last piece goes on for ever.
"""

import math
from collections.abc import Callable, Sequence


def on_chain(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Value of an odd chain of straight pieces, the last piece prolonged.

    Parameters
    ----------
    x : float
        Where [any].
    xs : sequence of float
        Abscissas of the corners, rising from 0 [any].
    ys : sequence of float
        Ordinates of the corners, from 0 [any].

    Returns
    -------
    float
        The ordinate [any].

    Examples
    --------
    A magnetising branch of 4 H up to 1.10 V.s, then 6 mH:

    >>> round(on_chain(-1.16, (0.0, 1.10, 1.16), (0.0, 0.275, 10.275)), 6)
    -10.275
    >>> round(on_chain(1.22, (0.0, 1.10, 1.16), (0.0, 0.275, 10.275)), 6)
    20.275
    """
    size = abs(x)
    last = len(xs) - 1
    piece = next((index for index in range(1, last) if size <= xs[index]), last)
    slope = (ys[piece] - ys[piece - 1]) / (xs[piece] - xs[piece - 1])
    return math.copysign(ys[piece - 1] + slope * (size - xs[piece - 1]), x) if x else 0.0


def slopes(xs: Sequence[float], ys: Sequence[float]) -> tuple[float, ...]:
    """Slope of each straight piece of a chain.

    Parameters
    ----------
    xs : sequence of float
        Abscissas of the corners [any].
    ys : sequence of float
        Ordinates of the corners [any].

    Returns
    -------
    tuple of float
        One slope for each piece [any].

    Examples
    --------
    >>> slopes((0.0, 1.0, 2.0), (0.0, 0.5, 4.5))
    (0.5, 4.0)
    """
    return tuple((ys[k + 1] - ys[k]) / (xs[k + 1] - xs[k]) for k in range(len(xs) - 1))


def even_corners(law: Callable[[float], float], span: tuple[float, float], pieces: int) -> tuple[float, ...]:
    """Corners on a rising smooth law y(x), placed so that every chord strays equally far from it along x.

    A chord over a small width w strays by w^2 |y''| / 8 along y and by that over y' along x, so corners at equal steps
    of the sum of sqrt(|y''| / y') share the error out evenly (Derived here).

    Parameters
    ----------
    law : callable
        The smooth law, rising [any].
    span : tuple of float
        First and last corner [any].
    pieces : int
        How many straight pieces [1].

    Returns
    -------
    tuple of float
        Abscissas of the corners, both ends included [any].

    Examples
    --------
    An exponential bends against its slope evenly, so its corners lie at even steps:

    >>> [round(corner, 3) for corner in even_corners(math.exp, (0.0, 4.0), 4)]
    [0.0, 1.0, 2.0, 3.0, 4.0]
    """
    cells = 40 * pieces
    step = (span[1] - span[0]) / cells
    grid = [span[0] + step * k for k in range(cells + 1)]
    value = [law(x) for x in grid]
    bend = [
        math.sqrt(2.0 * abs(value[k - 1] - 2.0 * value[k] + value[k + 1]) / (value[k + 1] - value[k - 1]))
        for k in range(1, cells)
    ]
    bend = [bend[0], *bend, bend[-1]]
    total = [0.0]
    for k in range(cells):
        total.append(total[-1] + 0.5 * (bend[k] + bend[k + 1]))
    corners = [span[0]]
    for share in range(1, pieces):
        wanted = total[-1] * share / pieces
        k = next(index for index in range(cells) if total[index + 1] >= wanted)
        corners.append(grid[k] + step * (wanted - total[k]) / (total[k + 1] - total[k]))
    return (*corners, span[1])
