"""A magnetising curve of one's own: peak values from low to high, of the iron (field, flux density) or of the winding
(current, flux linkage).

As a data sheet, a measured loop or a no-load test gives it.  Between the points it is straight.
"""

from collections.abc import Sequence

from weldsim import units
from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass
from weldsim.parts.hysteresis import Elements, first_rise

PLACE = "core.magnetising_curve"


@dataclass(frozen=True, kw_only=True)
class CurvePoint:
    """One point: peak field and peak density of the iron, or peak current and flux linkage on the primary side."""

    field: float | None = units.quantity("field", doc="peak magnetic field", low=0.0, high=1e7, default=None)
    flux_density: float | None = units.quantity(
        "flux_density", doc="peak flux density", low=0.0, high="20 T", default=None
    )
    current: float | None = units.quantity(
        "current", doc="peak magnetising current, on the primary side", low=0.0, high="100 kA", default=None
    )
    flux_linkage: float | None = units.quantity(
        "flux_linkage", doc="peak flux linkage, on the primary side", low=0.0, high="1000 V.s", default=None
    )


def in_winding_terms(points: Sequence[CurvePoint]) -> bool:
    """Whether a curve is given as current and flux linkage.

    Parameters
    ----------
    points : sequence of CurvePoint
        The rows of the table [-].

    Returns
    -------
    bool
        True for current and flux linkage [-].

    Examples
    --------
    >>> in_winding_terms([CurvePoint(current=0.1, flux_linkage=1.0)])
    True
    """
    return any(point.current is not None or point.flux_linkage is not None for point in points)


def rising_points(points: Sequence[CurvePoint]) -> list[tuple[float, float]]:
    """The points as (flux, what drives it), without the origin.

    Parameters
    ----------
    points : sequence of CurvePoint
        The rows of the table, all in the same terms [-].

    Returns
    -------
    list of (float, float)
        Flux density and field, or flux linkage and current [T and A/m, or V.s and A].

    Raises
    ------
    ScenarioError : a row that is not one pair, rows in different terms, points that do not rise, none but the origin.

    Examples
    --------
    >>> rising_points([CurvePoint(field=0.0, flux_density=0.0), CurvePoint(field=60.0, flux_density=1.4)])
    [(1.4, 60.0)]
    """
    names = ("flux_linkage", "current") if in_winding_terms(points) else ("flux_density", "field")
    found: list[tuple[float, float]] = []
    before = (0.0, 0.0)
    for number, point in enumerate(points, start=1):
        flux, driving = (getattr(point, name) for name in names)
        given = sum(value is not None for value in vars(point).values())
        if flux is None or driving is None or given != 2:
            raise ScenarioError(
                "a point is a pair of values, all points alike",
                place=f"{PLACE}, row {number}",
                advice="give field and flux_density, or current and flux_linkage",
            )
        if (flux, driving) == (0.0, 0.0):
            continue
        if flux <= before[0] or driving < before[1]:
            units_of = ("V s", "A") if names[1] == "current" else ("T", "A/m")
            raise ScenarioError(
                f"{driving:g} {units_of[1]} at {flux:g} {units_of[0]} follows {before[1]:g} {units_of[1]} at "
                f"{before[0]:g} {units_of[0]}",
                place=PLACE,
                advice="list the points from low to high",
            )
        before = flux, driving
        found.append(before)
    if not found:
        raise ScenarioError("holds no point but zero", place=PLACE, advice="add measured points")
    return found


def without_friction(
    points: Sequence[tuple[float, float]], elements: Elements, *, kept: Sequence[tuple[float, float]] = ()
) -> list[tuple[float, float]]:
    """The single-valued part of a curve of peak values: what its friction elements do not take on the first rise.

    Parameters
    ----------
    points : sequence of (float, float)
        Flux and what drives it, rising [T and A/m, or V.s and A].
    elements : sequence of (float, float)
        Limits and reaches of the friction elements, in the same terms [A/m and T, or A and V.s].
    kept : sequence of (float, float)
        Points that come first, as they are; none of the others below them counts [as points].

    Returns
    -------
    list of (float, float)
        Corners from the origin on; what would fall stays level [as points].

    Examples
    --------
    >>> without_friction([(1.0, 12.0), (1.5, 100.0)], [(10.0, 0.5)])
    [(0.0, 0.0), (1.0, 2.0), (1.5, 90.0)]

    References
    ----------
    Derived here.
    """
    curve = [(0.0, 0.0), *kept]
    for flux, driving in points:
        if flux > curve[-1][0]:
            curve.append((flux, max(driving - first_rise(elements, flux), curve[-1][1])))
    return curve
