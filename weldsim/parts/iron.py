"""The iron core of the transformer: magnetising current from flux, friction elements, remanence and loss.

    o---+---------+----------------+
        |         |                |
     [ f(flux) ] [friction x n]  [loss R]      all three across the primary's flux-linking voltage
        |         |                |
    o---+---------+----------------+

The magnetising current is a single-valued odd chain of straight pieces f(flux) plus the sum of the friction elements
(``hysteresis.py``).  The resistor carries only the eddy part of the iron loss, which goes with the voltage; the static
part goes with the flux and is what the friction elements lose.  The split matters: at the voltage's zero crossing the
resistor carries nothing and the friction elements their full limit, and a triac latches on the sum.

References
----------
Ampere's law and the EMF equation as in any textbook of transformers; the split of the loss by voltage and flux is
common practice, no published source.
"""

import math

from weldsim import units
from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass
from weldsim.parts.hysteresis import after_turning, loop_area
from weldsim.parts.magnetising_curve import CurvePoint, in_winding_terms, rising_points, without_friction
from weldsim.parts.pieces import on_chain, slopes
from weldsim.parts.steel import DENSITY, FRICTION_SHARES, MU_0, STEELS, straight_curve

LOSS_FLUX_DENSITY = 1.5  # [T] the loss of sheet is named at this peak
LOSS_FREQUENCY = 50.0  # [Hz] and this frequency
ROUGHLY = 0.8  # a measured curve may end this much less steeply in amperes than it went before


@dataclass(frozen=True, kw_only=True)
class FrictionRow:
    """One friction element: limit and reach, in the winding's terms or the iron's."""

    current: float | None = units.quantity(
        "current", doc="limit, on the primary side", low=0.0, high="1 kA", default=None
    )
    flux_linkage: float | None = units.quantity(
        "flux_linkage", doc="reach, on the primary side", low=1e-9, high="1000 V.s", default=None
    )
    field: float | None = units.quantity("field", doc="limit", low=0.0, high=1e6, default=None)
    flux_density: float | None = units.quantity("flux_density", doc="reach", low=1e-6, high="10 T", default=None)


@dataclass(frozen=True, kw_only=True)
class Core:
    """Table [core]: electrical values seen from the primary, or iron from which they follow."""

    magnetising_inductance: float | None = units.quantity(
        "inductance", doc="on the primary, below saturation", low="1 uH", high="10000 H", default=None
    )
    saturation_flux_linkage: float | None = units.quantity(
        "flux_linkage", doc="primary flux linkage at the corner", low=1e-6, high="1000 V.s", default=None
    )
    saturated_inductance: float | None = units.quantity(
        "inductance", doc="primary inductance beyond saturation", low="1 nH", high="1000 H", default=None
    )
    loss_resistance: float | None = units.quantity(
        "resistance", doc="eddy loss as a resistor across the primary", low="1 mohm", high="1000 Mohm", default=None
    )
    section: float | None = units.quantity("area", doc="iron cross section", low="1 mm2", high="1 m2", default=None)
    path_length: float | None = units.quantity(
        "length", doc="mean length of the iron path", low="1 mm", high="10 m", default=None
    )
    stacking: float = units.quantity(
        "fraction", doc="share of iron in the section (1 where a net section is given)", low=0.1, high=1.0, default=1.0
    )
    steel: str | None = units.choice(tuple(STEELS), doc="kind of steel", default=None)
    magnetising_curve: tuple[CurvePoint, ...] | None = units.rows(
        CurvePoint, doc="own magnetising curve, from low to high (peak values), of the iron or the winding", shortest=1
    )
    gap: float = units.quantity("length", doc="air gaps along the path, added up", low=0.0, high="0.1 m", default=0.0)
    mass: float | None = units.quantity("mass", doc="of the iron", low="1 g", high="10000 kg", default=None)
    coercive_field: float | None = units.quantity(
        "field", doc="half the width of the static loop at zero flux", low=0.0, high="100 kA/m", default=None
    )
    hysteresis: tuple[FrictionRow, ...] | None = units.rows(
        FrictionRow, doc="friction elements, instead of coercive_field", shortest=1
    )
    remanence: float | None = units.quantity(
        "flux_density", doc="left after saturation, without the gap", low=0.0, high="2.5 T", default=None
    )
    loss_per_mass: float | None = units.quantity(
        "loss_per_mass", doc="iron loss at 1.5 T, 50 Hz", low=0.0, high="1000 W/kg", default=None
    )
    eddy_share: float | None = units.quantity(
        "fraction", doc="share of the iron loss that goes with the voltage", low=0.0, high=1.0, default=None
    )


@dataclass(frozen=True)
class MagnetisingBranch:
    """What the network needs of a core; flux linkages and currents are the primary's.

    ``flux_linkages`` [V.s] and ``currents`` [A] are the corners of f in the first quadrant, (0, 0) first; f is odd and
    its last piece goes on for ever.  ``frictions`` holds (stiffness [A/(V.s)], limit [A]) of each element.
    ``loss_resistance`` [ohm] is None where there is no eddy loss.
    """

    flux_linkages: tuple[float, ...]
    currents: tuple[float, ...]
    frictions: tuple[tuple[float, float], ...] = ()
    loss_resistance: float | None = None

    @property
    def corners(self) -> tuple[float, ...]:
        """Flux linkages at which f changes its slope, in the first quadrant [V.s]."""
        return self.flux_linkages[1:-1]

    @property
    def slopes(self) -> tuple[float, ...]:
        """Slope of each piece of f, from the middle outward [A/(V.s)]; one more than ``corners``."""
        return slopes(self.flux_linkages, self.currents)

    @property
    def elements(self) -> tuple[tuple[float, float], ...]:
        """The friction elements as (limit [A], reach [V.s])."""
        return tuple((limit, limit / stiffness) for stiffness, limit in self.frictions)

    def current(self, flux_linkage: float) -> float:
        """The single-valued part f at a flux linkage [A]."""
        return on_chain(flux_linkage, self.flux_linkages, self.currents)


@dataclass(frozen=True)
class _Scale:
    """From iron to winding: flux linkage = flux x B, current = current x H."""

    flux: float  # [V.s/T]
    current: float  # [A/(A/m)]


def _missing(key: str, why: str) -> ScenarioError:
    return ScenarioError(f"not given, but needed for {why}", place=f"core.{key}", advice=f"add core.{key}")


def flux_scale(core: Core, primary_turns: int | None, why: str) -> float:
    """Primary flux linkage for each tesla in the iron: N A.

    Parameters
    ----------
    core : Core
        The table, with its section [-].
    primary_turns : int or None
        Turns of the primary [1].
    why : str
        What it is needed for, for the message where it cannot be had [-].

    Returns
    -------
    float
        N A, of the iron alone [V.s/T].

    Examples
    --------
    >>> round(flux_scale(Core(section=55e-4), 130, "the flux density"), 4)
    0.715
    """
    if core.section is None:
        raise _missing("section", why)
    if primary_turns is None:
        raise ScenarioError(
            f"not given, but needed for {why}",
            place="transformer.primary_turns",
            advice="add transformer.primary_turns, or give the core by electrical values only",
        )
    return primary_turns * core.section * core.stacking


def _scale(core: Core, primary_turns: int | None, why: str) -> _Scale:
    flux = flux_scale(core, primary_turns, why)
    if core.path_length is None:
        raise _missing("path_length", why)
    assert primary_turns is not None
    return _Scale(flux, core.path_length / primary_turns)


def is_iron(core: Core) -> bool:
    """Whether the magnetising current follows from the iron, not from electrical values of the winding.

    Parameters
    ----------
    core : Core
        The table [-].

    Returns
    -------
    bool
        True for a steel or an own curve of the iron, without a magnetising inductance [-].

    Examples
    --------
    >>> is_iron(Core(steel="unknown")), is_iron(Core(magnetising_inductance=4.0))
    (True, False)
    """
    if core.magnetising_inductance is not None:
        return False
    return core.steel is not None if core.magnetising_curve is None else not in_winding_terms(core.magnetising_curve)


def _elements(core: Core, scale: _Scale | None, primary_turns: int | None) -> tuple[tuple[float, float], ...]:
    """Friction elements as (limit [A], reach [V.s])."""
    if core.hysteresis is not None:
        rows = [_row(core, row, place, primary_turns) for place, row in enumerate(core.hysteresis, start=1)]
        return tuple(row for row in rows if row[0] > 0.0)
    steel = STEELS[core.steel] if core.steel is not None and is_iron(core) else None
    width = core.coercive_field if core.coercive_field is not None else steel.coercive_field if steel else 0.0
    if not width:
        return ()
    scale = scale or _scale(core, primary_turns, "core.coercive_field")
    return tuple((share * width * scale.current, reach * scale.flux) for share, reach in FRICTION_SHARES)


def _row(core: Core, row: FrictionRow, place: int, primary_turns: int | None) -> tuple[float, float]:
    if row.current is not None and row.flux_linkage is not None and row.field is None and row.flux_density is None:
        return row.current, row.flux_linkage
    if row.field is not None and row.flux_density is not None and row.current is None and row.flux_linkage is None:
        scale = _scale(core, primary_turns, "friction elements given as field and flux density")
        return row.field * scale.current, row.flux_density * scale.flux
    raise ScenarioError(
        "a friction element is a limit and a reach",
        place=f"core.hysteresis, row {place}",
        advice="give current and flux_linkage, or field and flux_density",
    )


def _electrical_chain(core: Core) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Corners of f from electrical values alone."""
    if core.magnetising_inductance is None:
        if core.loss_resistance is None and core.hysteresis is None:
            raise ScenarioError(
                "says nothing of the magnetising current",
                place="core",
                advice="give magnetising_inductance, or section, path_length and steel",
            )
        return (0.0, 1.0), (0.0, 0.0)
    slope = 1.0 / core.magnetising_inductance
    corner, beyond = core.saturation_flux_linkage, core.saturated_inductance
    if corner is None:
        return (0.0, 1.0), (0.0, slope)
    if beyond is None:
        raise _missing("saturated_inductance", "a core that saturates")
    return (0.0, corner, 2.0 * corner), (0.0, corner * slope, corner * slope + corner / beyond)


def _iron_chain(
    core: Core, scale: _Scale, elements: tuple[tuple[float, float], ...]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Corners of f from the iron: the steel's curve sheared by the gap, the air's slope beyond the last point."""
    curve = _own_curve(core, scale, elements) if core.magnetising_curve else _steel_curve(core, scale, elements)
    gap_slope = core.gap / MU_0 * scale.current / (core.path_length or 1.0)  # H l + B g / mu0, both over the turns
    fluxes = tuple(scale.flux * b for b, _ in curve)
    currents = [scale.current * h + gap_slope * b for b, h in curve]
    if core.saturated_inductance is not None:
        currents[-1] = currents[-2] + (fluxes[-1] - fluxes[-2]) / core.saturated_inductance
    return fluxes, tuple(currents)


def _steel_curve(
    core: Core, scale: _Scale, elements: tuple[tuple[float, float], ...]
) -> tuple[tuple[float, float], ...]:
    steel = STEELS[str(core.steel)]
    remanence = steel.remanence if core.remanence is None else core.remanence
    back = (steel.corners[-1] - remanence) * scale.flux
    friction = after_turning(elements, back) / scale.current
    return straight_curve(steel, remanence=remanence, friction_at_remanence=friction)


def _own_curve(core: Core, scale: _Scale, elements: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """The given peak values less the friction on the first rise, then the air's slope."""
    given = rising_points(core.magnetising_curve or ())
    own = tuple((limit / scale.current, reach / scale.flux) for limit, reach in elements)
    kept = []
    if core.remanence is not None and 0.0 < core.remanence < given[-1][0]:
        back = given[-1][0] - core.remanence
        kept.append((core.remanence, max(-after_turning(own, back), 0.0)))
    curve = without_friction(given, own, kept=kept)
    return (*curve, (curve[-1][0] + 1.0, curve[-1][1] + 1.0 / MU_0))


def _winding_chain(
    core: Core, elements: tuple[tuple[float, float], ...]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Corners of f from a curve that is given in the winding's terms; beyond it the inductance in saturation."""
    if core.saturated_inductance is None:
        raise _missing("saturated_inductance", "a magnetising curve of the winding, which ends somewhere")
    curve = without_friction(rising_points(core.magnetising_curve or ()), elements)
    flux, current = curve[-1]
    fluxes, currents = zip(*curve, (2.0 * flux, current + flux / core.saturated_inductance), strict=True)
    return fluxes, currents


def _loss_resistance(core: Core, primary_turns: int | None, elements: tuple[tuple[float, float], ...]) -> float | None:
    """Resistance across the primary that takes the eddy part of the loss at 1.5 T, 50 Hz."""
    steel = STEELS[core.steel] if core.steel is not None and is_iron(core) else None
    per_mass = core.loss_per_mass if core.loss_per_mass is not None else steel.loss_per_mass if steel else 0.0
    if core.loss_resistance is not None or not per_mass:
        return core.loss_resistance
    peak = LOSS_FLUX_DENSITY * flux_scale(core, primary_turns, "the iron loss")
    voltage = 2.0 * math.pi * LOSS_FREQUENCY * peak / math.sqrt(2.0)
    loss = per_mass * iron_mass(core)
    static = LOSS_FREQUENCY * loop_area(elements, peak)
    eddy = core.eddy_share * loss if core.eddy_share is not None else loss - static
    return voltage * voltage / eddy if eddy > 0.0 else None


def iron_mass(core: Core) -> float:
    """Mass of the iron, as given or from section, path and 7650 kg/m^3.

    Parameters
    ----------
    core : Core
        The table [-].

    Returns
    -------
    float
        Mass [kg].

    Examples
    --------
    >>> round(iron_mass(Core(section=55e-4, path_length=0.62)), 1)
    26.1
    """
    if core.mass is not None:
        return core.mass
    if core.section is None or core.path_length is None:
        raise _missing("mass", "core.loss_per_mass")
    return DENSITY * core.section * core.stacking * core.path_length


def magnetising_branch(core: Core, primary_turns: int | None = None) -> MagnetisingBranch:
    """The core as a branch across the primary: straight pieces, friction elements, eddy loss.

    Electrical: i = flux / L below the corner, i_corner + (flux - corner) / L_saturated above; no corner: no saturation.
    Or through the peak values of a ``magnetising_curve`` in the winding's terms, and with L_saturated beyond its end.
    Iron: N i = h(B) l + B g / mu0 with B = flux / (N A), h the steel's own single-valued curve (``steel.py``) or the
    given peak values less the friction on the first rise; beyond the last point the slope of an air-cored winding of
    the iron's section, L = mu0 N^2 A / (l + g), or ``saturated_inductance`` where given.

    Parameters
    ----------
    core : Core
        The table [-].
    primary_turns : int, optional
        Turns of the primary [1]; needed for iron only.

    Returns
    -------
    MagnetisingBranch
        Corners, friction elements [A/(V.s), A] and loss resistance [ohm].

    Notes
    -----
    The resistor takes ``eddy_share`` of the loss at 1.5 T and 50 Hz, or, where no share is given, what the friction
    elements leave of it.  A loss resistance given outright is taken as it is.  The winding's section is larger than the
    iron's: without ``saturated_inductance`` the switch-on peaks are estimated on the high side.

    Examples
    --------
    The benchmark supply's core:

    >>> core = Core(magnetising_inductance=4.0, saturation_flux_linkage=1.10, saturated_inductance=6e-3)
    >>> branch = magnetising_branch(core)
    >>> branch.corners, [round(slope, 4) for slope in branch.slopes]
    ((1.1,), [0.25, 166.6667])

    The shed's toroid, 130 turns on 55 cm2 of grain-oriented strip, at 1.45 T:

    >>> toroid = Core(section=55e-4, path_length=0.62, steel="grain-oriented")
    >>> branch = magnetising_branch(toroid, 130)
    >>> len(branch.slopes), len(branch.frictions), round(branch.current(1.45 * 130 * 55e-4), 3)
    (7, 4, 0.076)
    """
    scale = _scale(core, primary_turns, "a core given as iron") if is_iron(core) else None
    elements = _elements(core, scale, primary_turns)
    if scale:
        chain = _iron_chain(core, scale, elements)
    elif core.magnetising_inductance is None and core.magnetising_curve is not None:
        chain = _winding_chain(core, elements)
    else:
        chain = _electrical_chain(core)
    *_, before, beyond = (0.0, *slopes(*chain))
    if not scale and core.saturated_inductance is not None and beyond < ROUGHLY * before:
        left = units.to_text(1.0 / before, "inductance", digits=3)
        raise ScenarioError(
            f"above the {left} that are left before saturation", place="core.saturated_inductance", advice="give less"
        )
    frictions = tuple((limit / reach, limit) for limit, reach in elements)
    return MagnetisingBranch(*chain, frictions, _loss_resistance(core, primary_turns, elements))
