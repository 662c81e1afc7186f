"""Steels: start values for the single-valued part of the magnetising curve, the friction width and the loss.

The law of the single-valued part (the middle line between the two branches of a wide loop) is

    H(B) = (k1 exp(k2 B^2) + k3) B        up to the flux density where the iron counts as full,
    dH/dB = 1 / mu0                       beyond it (nothing but the air inside the winding).

The exponential form is Brauer's (J. R. Brauer, "Simple equations for the magnetization and reluctivity curves of
steel", IEEE Trans. Magn. 11, 1975, p. 81; from memory).  k1 and k2 set knee and saturation; k3 follows from coercive
field and remanence, because the falling branch must pass through H = 0 at the remanence.  The network gets the law in
six straight pieces and one for the air; their corners lie a fixed share below the law so that the chords stray as far
above it as below: at most 17 % of field plus coercive field (shown by a test).
"""

import math

from weldsim.frozen import dataclass

MU_0 = 4e-7 * math.pi  # [H/m] magnetic constant
DENSITY = 7650.0  # [kg/m^3] silicon steel; from memory


@dataclass(frozen=True)
class Steel:
    """Start values of one kind of steel; every number can be replaced in the scenario."""

    knee_scale: float  # k1 [A/(m T)]
    knee_exponent: float  # k2 [1/T^2]
    corners: tuple[float, ...]  # [T] ends of the straight pieces, the last one where the iron counts as full
    shrink: float  # [1] corner height as a share of the law
    coercive_field: float  # [A/m]
    remanence: float  # [T] in the core as it is usually built
    loss_per_mass: float  # [W/kg] at 1.5 T, 50 Hz
    source: str


STEELS = {
    "grain-oriented": Steel(
        knee_scale=2e-3,
        knee_exponent=3.6,
        corners=(1.42, 1.607, 1.737, 1.852, 1.959, 2.06),
        shrink=0.875,
        coercive_field=10.0,
        remanence=1.1,
        loss_per_mass=1.1,
        source="knee 1.75 T, 1.84 T at 800 A/m, saturation 2.03 T, 1.1 W/kg (0.35 mm sheet): from memory;"
        " coercive field and remanence of an uncut toroid: common practice, no published source",
    ),
    "non-oriented": Steel(
        knee_scale=36.0,
        knee_exponent=1.6,
        corners=(0.586, 1.039, 1.369, 1.642, 1.883, 2.1),
        shrink=0.875,
        coercive_field=55.0,
        remanence=0.5,
        loss_per_mass=4.0,
        source="middle line near the measured 0.20 mm ring stack of weldsim/data (at 1.0, 1.4, 1.6 T: 0.85, 1.35, 1.05"
        " of its field); coercive field, remanence of a stack, loss: common practice, no published source",
    ),
    "unknown": Steel(
        knee_scale=60.0,
        knee_exponent=1.5,
        corners=(0.557, 0.974, 1.331, 1.606, 1.812, 2.05),
        shrink=0.875,
        coercive_field=80.0,
        remanence=0.6,
        loss_per_mass=7.0,
        source="hot-rolled or unmarked sheet, taken on the poor side: from memory",
    ),
}

# Friction width shared out over four elements: share of the coercive field, reach [T].  Chosen between the two
# measured steels of weldsim/data so that a loop of 0.43 T has 0.62 and one of 0.95 T 0.88 of the full width.
FRICTION_SHARES = ((0.35, 0.05), (0.25, 0.15), (0.25, 0.40), (0.15, 0.80))


def law_field(steel: Steel, flux_density: float, *, low_field_slope: float) -> float:
    """Field that the smooth law asks for at a flux density.

    H = (k1 exp(k2 B^2) + k3) B, prolonged by 1/mu0 beyond the last corner.

    Parameters
    ----------
    steel : Steel
        One of ``STEELS`` [-].
    flux_density : float
        B [T].
    low_field_slope : float
        k3 [A/(m T)].

    Returns
    -------
    float
        H [A/m].

    Examples
    --------
    Grain-oriented sheet at its knee and at 1.845 T:

    >>> steel = STEELS["grain-oriented"]
    >>> round(law_field(steel, 1.75, low_field_slope=8.5)), round(law_field(steel, 1.845, low_field_slope=8.5))
    (230, 790)

    Notes
    -----
    A start value for planning: sheets of one grade differ by tens of per cent in field below the knee.
    """
    size = abs(flux_density)
    full = steel.corners[-1]
    inside = min(size, full)
    field = (steel.knee_scale * math.exp(steel.knee_exponent * inside**2) + low_field_slope) * inside
    return math.copysign(field + max(size - full, 0.0) / MU_0, flux_density)


def straight_curve(steel: Steel, *, remanence: float, friction_at_remanence: float) -> tuple[tuple[float, float], ...]:
    """The law in straight pieces whose falling branch crosses zero field at the remanence.

    k3 is the one value for which the straight pieces give h(B_r) = - friction(B_r).  Where that would need a negative
    slope (so small a coercive field that the iron cannot hold the remanence), k3 is 0 and the remanence comes out less.

    Parameters
    ----------
    steel : Steel
        One of ``STEELS`` [-].
    remanence : float
        B_r [T].
    friction_at_remanence : float
        Sum of the friction fields at B_r, coming down from saturation; negative as a rule [A/m].

    Returns
    -------
    tuple of (float, float)
        Corners (B [T], H [A/m]), from (0, 0) up; the last piece is the air's and goes on for ever.

    Examples
    --------
    >>> steel = STEELS["grain-oriented"]
    >>> curve = straight_curve(steel, remanence=1.1, friction_at_remanence=-8.0)
    >>> [(corner, round(field, 1)) for corner, field in curve[1:4]]
    [(1.42, 10.3), (1.607, 38.4), (1.737, 166.8)]
    """
    base = ((0.0, 0.0), *((b, steel.shrink * law_field(steel, b, low_field_slope=0.0)) for b in steel.corners))
    needed = -friction_at_remanence - _between(base, remanence)
    slope = max(needed, 0.0) / remanence if remanence > 0.0 else 0.0
    full, field = steel.corners[-1], base[-1][1] + slope * steel.corners[-1]
    return (*((b, h + slope * b) for b, h in base), (full + 1.0, field + 1.0 / MU_0))


def _between(curve: tuple[tuple[float, float], ...], flux_density: float) -> float:
    """Field on the straight pieces at a flux density within them."""
    for (b0, h0), (b1, h1) in zip(curve, curve[1:], strict=False):
        if flux_density <= b1:
            return h0 + (h1 - h0) * (flux_density - b0) / (b1 - b0)
    return curve[-1][1]
