"""The output choke: flux linkage from current as an odd chain of straight pieces, with its resistance.

    o---[ resistance ]---( flux linkage of current )---o

Four ways to give it, the first that is complete counts: a list of measured inductances against current; core, gap and
turns; an inductance that halves at a saturation current; a plain inductance.  "Inductance" always means the
incremental one, d(flux linkage)/d(current), because that is what limits the rise of a short-circuit current.
"""

import math

from weldsim import units
from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass
from weldsim.parts.pieces import even_corners, slopes
from weldsim.parts.steel import MU_0, STEELS, law_field

CORE_PIECES = 4  # straight pieces in each polarity up to full iron, for core, gap and turns
GIVEN_WAY = 0.5  # of the inductance at rest; where less is left a choke is called saturated
SATURATED_SHARE = 0.1  # inductance far beyond saturation over the unsaturated one; common practice
# Corners of the integral of 1 / (1 + x^4) in four straight pieces: first slope 1 and last height exact, the rest placed
# for the least greatest deviation, 1.9 % of the last height (a test repeats the search).
LAW_CORNERS = ((0.6463, 0.6463), (1.2198, 0.9756), (2.5192, math.pi / math.sqrt(8.0)))


@dataclass(frozen=True, kw_only=True)
class InductancePoint:
    """One measured value: incremental inductance at a bias current."""

    current: float = units.quantity("current", doc="bias current", low=0.0, high="100 kA")
    inductance: float = units.quantity("inductance", doc="incremental inductance there", low="1 nH", high="100 H")


@dataclass(frozen=True, kw_only=True)
class Choke:
    """Table [choke]: electrical values, a measured curve, or core, gap and turns."""

    inductance: float | None = units.quantity(
        "inductance", doc="at small current", low="1 nH", high="100 H", default=None
    )
    resistance: float = units.quantity("resistance", doc="of the winding", low=0.0, high="1 kohm", default=0.0)
    saturation_current: float | None = units.quantity(
        "current", doc="where the inductance has fallen to half", low="1 mA", high="100 kA", default=None
    )
    saturated_inductance: float | None = units.quantity(
        "inductance", doc="far beyond saturation", low="1 nH", high="100 H", default=None
    )
    inductance_curve: tuple[InductancePoint, ...] | None = units.rows(
        InductancePoint, doc="measured incremental inductances, from low to high current", shortest=1
    )
    turns: int | None = units.count(doc="turns on the core", low=1, high=10_000, default=None)
    section: float | None = units.quantity("area", doc="iron cross section", low="1 mm2", high="1 m2", default=None)
    path_length: float | None = units.quantity(
        "length", doc="mean length of the iron path", low="1 mm", high="10 m", default=None
    )
    gap: float | None = units.quantity(
        "length", doc="air gaps along the path, added up", low=0.0, high="0.2 m", default=None
    )
    steel: str = units.choice(tuple(STEELS), doc="kind of steel", default="unknown")


@dataclass(frozen=True)
class FluxCurve:
    """What the network needs of a choke: corners in the first quadrant, (0, 0) first, the last piece going on for ever.

    The curve is odd.  ``currents`` [A], ``flux_linkages`` [V.s].
    """

    currents: tuple[float, ...]
    flux_linkages: tuple[float, ...]

    @property
    def corners(self) -> tuple[float, ...]:
        """Currents at which the inductance changes, in the first quadrant [A]."""
        return self.currents[1:-1]

    @property
    def inductances(self) -> tuple[float, ...]:
        """Inductance of each piece, from the middle outward [H]; one more than ``corners``."""
        return slopes(self.currents, self.flux_linkages)


def halving_inductance(current: float, inductance: float, saturation_current: float, *, saturated: float) -> float:
    """Smooth law of a choke known by three numbers: incremental inductance against current.

    L(i) = L_s + (L_0 - L_s) / (1 + (i / a)^4), with a such that L = L_0 / 2 at the saturation current.

    Parameters
    ----------
    current : float
        Bias current [A].
    inductance : float
        L_0, at small current [H].
    saturation_current : float
        Where the inductance has fallen to half [A].
    saturated : float
        L_s, far beyond; less than half of L_0 [H].

    Returns
    -------
    float
        Incremental inductance [H].

    Notes
    -----
    Derived here: the fourth power gives the flat middle and the fall within about one octave of current that gapped
    iron shows.  A core without a gap falls earlier and more slowly; give its curve.

    Examples
    --------
    The shed's choke, 0.30 mH, half at 260 A, here with 0.03 mH left:

    >>> [round(1e3 * halving_inductance(i, 0.3e-3, 260.0, saturated=0.03e-3), 3) for i in (0.0, 150.0, 260.0, 400.0)]
    [0.3, 0.267, 0.15, 0.064]
    """
    scale = _law_scale(inductance, saturation_current, saturated)
    return saturated + (inductance - saturated) / (1.0 + (current / scale) ** 4)


def _law_scale(inductance: float, saturation_current: float, saturated: float) -> float:
    """The a of the law [A]."""
    return saturation_current / ((inductance - saturated) / (0.5 * inductance - saturated) - 1.0) ** 0.25


def halving_flux_linkage(current: float, inductance: float, saturation_current: float, *, saturated: float) -> float:
    """Flux linkage of ``halving_inductance``: its integral from zero, in closed form.

    With x = i / a and the integral of 1 / (1 + x^4) taken from 0:
    L_s i + (L_0 - L_s) a [ ln((x^2 + sqrt2 x + 1) / (x^2 - sqrt2 x + 1)) / 2 + atan(sqrt2 x + 1) + atan(sqrt2 x - 1) ]
    / (2 sqrt2).

    Parameters
    ----------
    current : float
        Bias current [A].
    inductance : float
        L_0, at small current [H].
    saturation_current : float
        Where the inductance has fallen to half [A].
    saturated : float
        L_s, far beyond [H].

    Returns
    -------
    float
        Flux linkage [V.s].

    Examples
    --------
    >>> round(halving_flux_linkage(260.0, 0.3e-3, 260.0, saturated=0.03e-3), 5)
    0.06716
    """
    scale = _law_scale(inductance, saturation_current, saturated)
    x, root = current / scale, math.sqrt(2.0)
    integral = (
        0.5 * math.log((x * x + root * x + 1.0) / (x * x - root * x + 1.0))
        + math.atan(root * x + 1.0)
        + math.atan(root * x - 1.0)
    ) / (2.0 * root)
    return saturated * current + (inductance - saturated) * scale * integral


def gap_section(section: float, gap: float) -> float:
    """Section that the flux takes in the gap: a square leg grown by the gap's length on both sides taken together.

    A_g = (sqrt(A) + g)^2.

    Parameters
    ----------
    section : float
        Of the iron [m2].
    gap : float
        Length of one air gap [m].

    Returns
    -------
    float
        Section in the gap [m2].

    Notes
    -----
    Common practice, no published source ("add the gap to each side of the leg"); good to about 10 % while the gap is
    less than a fifth of the leg's width.

    Examples
    --------
    >>> round(1e4 * gap_section(25e-4, 2e-3), 2)
    27.04
    """
    return (math.sqrt(section) + gap) ** 2


def core_current(choke: Choke, flux_linkage: float) -> float:
    """Current that a choke given as core, gap and turns needs for a flux linkage.

    N i = H(B) l + B A / A_g g / mu0, with B = flux linkage / (N A), H(B) the steel's smooth law without friction.

    Parameters
    ----------
    choke : Choke
        The table, with turns, section, path length and gap [-].
    flux_linkage : float
        N B A [V.s].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    The gap is taken as one; where it is split over two legs the fringing is a little overestimated.

    Examples
    --------
    20 turns on 25 cm2 with 3 mm of gap, at 1.2 T:

    >>> choke = Choke(turns=20, section=25e-4, path_length=0.3, gap=3e-3, steel="non-oriented")
    >>> round(core_current(choke, 20 * 25e-4 * 1.2), 1)
    135.0
    """
    turns, section, path, gap = _core_sizes(choke)
    density = flux_linkage / (turns * section)
    in_iron = law_field(STEELS[choke.steel], density, low_field_slope=_low_field_slope(choke)) * path
    in_gap = density * section / gap_section(section, gap) * gap / MU_0
    return (in_iron + in_gap) / turns


def _core_sizes(choke: Choke) -> tuple[int, float, float, float]:
    for key in ("turns", "section", "path_length", "gap"):
        if getattr(choke, key) is None:
            raise ScenarioError(
                "not given, but needed for a choke given as core, gap and turns",
                place=f"choke.{key}",
                advice=f"add choke.{key}, or give choke.inductance",
            )
    assert choke.turns is not None
    return choke.turns, choke.section or 0.0, choke.path_length or 0.0, choke.gap or 0.0


def _low_field_slope(choke: Choke) -> float:
    """k3 of the steel's law without remanence to meet: the coercive field spread over one tesla [A/(m T)]."""
    return STEELS[choke.steel].coercive_field


def _saturated_inductance(choke: Choke) -> float:
    inductance = choke.inductance or 0.0
    saturated = SATURATED_SHARE * inductance if choke.saturated_inductance is None else choke.saturated_inductance
    if saturated >= 0.5 * inductance:
        raise ScenarioError(
            "is not less than half of choke.inductance",
            place="choke.saturated_inductance",
            advice="give what is left far beyond saturation, or leave saturation_current out",
        )
    return saturated


def flux_curve(choke: Choke) -> FluxCurve:
    """The choke as an odd chain of straight pieces.

    Plain inductance: one piece.  Measured list: a piece between each two currents, with the mean of the two
    inductances, so that the flux linkage at every given current is exact; beyond the last current its inductance holds.
    Saturation current: four pieces near ``halving_flux_linkage``, the first with L_0 and the last with L_s exactly.
    Core, gap and turns: four pieces near ``core_current`` until the iron is full, then the air's slope.

    Parameters
    ----------
    choke : Choke
        The table [-].

    Returns
    -------
    FluxCurve
        Corners [A, V.s].

    Notes
    -----
    Greatest deviation of the flux linkage from the smooth law (shown by tests): with a saturation current 2 % of the
    saturation flux linkage (L_0 - L_s) a pi / sqrt8; for core, gap and turns 2 % of that at full iron where the gap is
    1 % of the path or more (at small current up to 6 % too little), 7 % without a gap.  Iron loss is left out.

    Examples
    --------
    The shed's choke, 0.30 mH, half at 260 A:

    >>> curve = flux_curve(Choke(inductance=0.3e-3, saturation_current=260.0))
    >>> [round(corner) for corner in curve.corners]
    [159, 300, 619]
    >>> [round(1e3 * inductance, 3) for inductance in curve.inductances]
    [0.3, 0.185, 0.058, 0.03]
    """
    if choke.inductance_curve is not None:
        return _measured_curve(choke.inductance_curve)
    if choke.turns is not None and choke.section is not None or choke.inductance is None:
        return _core_curve(choke)
    if choke.saturation_current is None:
        return FluxCurve((0.0, 1.0), (0.0, choke.inductance))
    return _halving_curve(choke.inductance, choke.saturation_current, _saturated_inductance(choke))


def _measured_curve(points: tuple[InductancePoint, ...]) -> FluxCurve:
    currents, fluxes = [0.0], [0.0]
    before = points[0]
    for point in points:
        if point.current <= currents[-1] and point is not points[0]:
            raise ScenarioError(
                f"{point.current:g} A follows {before.current:g} A",
                place="choke.inductance_curve",
                advice="list the points from low to high current",
            )
        if point.current > currents[-1]:
            step = point.current - currents[-1]
            fluxes.append(fluxes[-1] + 0.5 * (before.inductance + point.inductance) * step)
            currents.append(point.current)
        before = point
    beyond = max(currents[-1], 1.0)
    return FluxCurve((*currents, currents[-1] + beyond), (*fluxes, fluxes[-1] + before.inductance * beyond))


def _halving_curve(inductance: float, saturation_current: float, saturated: float) -> FluxCurve:
    scale = _law_scale(inductance, saturation_current, saturated)
    currents = [scale * x for x, _ in LAW_CORNERS]
    fluxes = [saturated * scale * x + (inductance - saturated) * scale * y for x, y in LAW_CORNERS]
    end = 2.0 * currents[-1]
    return FluxCurve((0.0, *currents, end), (0.0, *fluxes, fluxes[-1] + saturated * currents[-1]))


def _core_curve(choke: Choke) -> FluxCurve:
    """Corners at which chords stray evenly, raised by half of what the chords beside them stray."""
    turns, section, path, gap = _core_sizes(choke)
    full = turns * section * STEELS[choke.steel].corners[-1]
    fluxes = even_corners(lambda flux: core_current(choke, flux), (0.0, full), CORE_PIECES)
    currents = tuple(core_current(choke, flux) for flux in fluxes)
    strays = [_stray(choke, piece) for piece in zip(fluxes, fluxes[1:], currents, currents[1:], strict=False)]
    raised = [flux + 0.25 * (strays[k] + strays[k + 1]) for k, flux in enumerate(fluxes[1:-1])]
    air = MU_0 * turns**2 * section / (path + gap)
    return FluxCurve((*currents, 2.0 * currents[-1]), (0.0, *raised, full, full + air * currents[-1]))


def _stray(choke: Choke, piece: tuple[float, float, float, float]) -> float:
    """How far the law lies above the middle of a chord [V.s]."""
    low, high, current_low, current_high = piece
    middle = 0.5 * (low + high)
    share = (core_current(choke, middle) - current_low) / (current_high - current_low)
    return middle - (low + share * (high - low))


def inductance_at(choke: Choke, current: float) -> float:
    """Incremental inductance of the straight piece that a current lies on.

    Parameters
    ----------
    choke : Choke
        The table [-].
    current : float
        Bias current [A].

    Returns
    -------
    float
        Inductance, as the network has it [H].

    Notes
    -----
    A staircase in place of the smooth law: at a corner it jumps.

    Examples
    --------
    >>> curve = (InductancePoint(current=0.0, inductance=0.4e-3), InductancePoint(current=200.0, inductance=0.2e-3))
    >>> choke = Choke(inductance_curve=curve)
    >>> round(inductance_at(choke, -100.0), 9), inductance_at(choke, 300.0)
    (0.0003, 0.0002)
    """
    curve = flux_curve(choke)
    piece = sum(abs(current) > corner for corner in curve.corners)
    return curve.inductances[piece]
