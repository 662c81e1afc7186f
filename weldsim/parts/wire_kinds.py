"""What holds for a wire where its table says nothing: by kind, gas and polarity, and by diameter.

Status of the numbers: (m n %) from memory, with how sure that is; (p) common practice, no published source; (a)
assumed, within the range told; (d) derived here.
"""

import math

from weldsim.frozen import dataclass

DIAMETER_12 = 1.2e-3  # [m] wire of the measured melting rate
ALPHA_12, BETA_12 = 0.3e-3, 5e-5  # [m/(A s)], [1/(A2 s)] mild steel, electrode positive: Halmoy, Quintino (m 85 %)
NEGATIVE_MELTS_FASTER = 1.5  # alpha of a solid wire as cathode, of that as anode; 1.3 to 1.8 are told (m 70 %)
# Self-shielded wire melts less per ampere than solid wire as anode: a 0.9 mm wire takes 50 to 90 in/min at 60 to 120 A
# (makers' guides, m 60 %), half of what solid wire takes.  Flux must be melted too, and the arc is on the thin sheath.
SELF_SHIELDED_MELTS = 0.5
SURFACE_TENSION = 1.2  # [N/m] liquid steel with some oxygen and sulphur; 1.0 to 1.8 (m 80 %)
MOLTEN_DENSITY = 7000.0  # [kg/m3] liquid steel at its melting point (m 95 %)
PERMEABILITY = 4e-7 * math.pi  # [H/m] of empty space
GRAVITY = 9.81  # [m/s2]
HOLD_PER_DIAMETER = 12.5e3  # [A/m] 8 to 15 A at 0.8 to 1.0 mm (a)
DRAIN_PER_DIAMETER = 12.5  # [s/m] 10 ms at 0.8 mm: shorts of 2 to 5 ms at 150 to 300 A (a)
USUAL_FEED = ((0.6e-3, 5.5), (0.8e-3, 5.0), (0.9e-3, 4.5), (1.0e-3, 4.2), (1.2e-3, 3.5))  # [m], [m/min] (p)
SELF_SHIELDED_FEED = 0.5  # of that of a solid wire: 1.3 to 2.3 m/min at 0.9 mm (m 60 %)


@dataclass(frozen=True)
class WireKind:
    """Defaults of a kind of wire in its gas."""

    arc_voltage: float  # [V] of an arc without length; 13 to 16 V are told (m 75 %)
    arc_gradient: float  # [V/m] 0.6 to 1.5 V/mm are told, least in argon (m 70 %)
    extension: float  # [m] contact tube to work (p): solid wire 10 to 15 mm, self-shielded 15 to 20 mm
    polarity: str  # of the wire (p)
    resistivity_hot: (
        float  # [ohm m] mean over the extension, counted on the full section; 0.7 to 1.0 for solid (m 80 %)
    )


WIRE_KINDS = {
    ("solid steel", "CO2"): WireKind(15.0, 1.0e3, 12e-3, "positive", 0.85e-6),
    ("solid steel", "argon mix"): WireKind(13.5, 0.7e3, 12e-3, "positive", 0.85e-6),
    ("self-shielded", "none"): WireKind(14.0, 0.9e3, 18e-3, "negative", 1.1e-6),  # the sheath is 3/4 of the section
}
USUAL_GAS = {"solid steel": "CO2", "self-shielded": "none"}


def melting_coefficients(
    diameter: float, *, kind: str = "solid steel", polarity: str = "positive"
) -> tuple[float, float]:
    """Coefficients of the melting rate ``alpha i + beta L i^2`` of a steel wire.

    Parameters
    ----------
    diameter : float
        Of the wire [m].
    kind : str
        "solid steel" or "self-shielded" [-].
    polarity : str
        "positive" or "negative", of the wire [-].

    Returns
    -------
    tuple of float
        alpha [m/(A s)] and beta [1/(A2 s)].

    Notes
    -----
    alpha, heat of the arc, falls with the section; beta, heat of the extension's resistance, with its square.  Solid
    steel, 0.6 to 1.6 mm, 15 %.  Negative solid wire and self-shielded wire are far less sure (30 %); for the latter
    both polarities are taken alike, as no number is known.

    Examples
    --------
    >>> [round(value, 7) for value in melting_coefficients(0.8e-3)]
    [0.000675, 0.0002531]
    >>> round(melting_coefficients(0.8e-3, polarity="negative")[0] * 1e3, 3)
    1.012

    References
    ----------
    Halmoy; Quintino: 1.2 mm mild steel, 0.3 mm/(A s) and 5e-5 1/(A2 s) (from memory, 85 %); scaling derived here.
    """
    ratio = (DIAMETER_12 / diameter) ** 2
    factor = {"solid steel": 1.0, "self-shielded": SELF_SHIELDED_MELTS}[kind]
    cathode = NEGATIVE_MELTS_FASTER if (kind, polarity) == ("solid steel", "negative") else 1.0
    return ALPHA_12 * ratio * factor * cathode, BETA_12 * ratio**2 * factor


def pinch_current(diameter: float, tension: float = SURFACE_TENSION) -> float:
    """Current whose own field squeezes a liquid bridge as hard as its surface tension does.

    Parameters
    ----------
    diameter : float
        Of the bridge; the wire's is a fair measure [m].
    tension : float
        Surface tension [N/m].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    Pinch pressure on the axis ``mu0 i^2 / (4 pi^2 r^2)`` equals capillary pressure ``tension / r``: twice this current
    squeezes four times as hard.  A round, straight bridge; 20 % from the tension, more from its shape.

    Examples
    --------
    >>> round(pinch_current(0.8e-3), 1)
    122.8

    References
    ----------
    Derived here from magnetic pressure and Laplace's law.
    """
    return 2.0 * math.pi * math.sqrt(tension * 0.5 * diameter / PERMEABILITY)


def heaviest_drop(diameter: float, tension: float = SURFACE_TENSION) -> float:
    """Diameter of the drop that falls off the wire by its own weight.

    Parameters
    ----------
    diameter : float
        Of the wire [m].
    tension : float
        Surface tension [N/m].

    Returns
    -------
    float
        Diameter [m].

    Notes
    -----
    Weight ``rho g pi D^3 / 6`` equals ``pi d tension``.  Leaves out pinch (which takes smaller drops off above some 150
    A) and the arc's thrust in CO2 (which holds larger ones up): an upper bound for a quiet long arc, 20 %.

    Examples
    --------
    >>> round(heaviest_drop(0.8e-3) * 1e3, 2)
    4.38

    References
    ----------
    Derived here (balance of weight and surface tension).
    """
    return (6.0 * tension * diameter / (MOLTEN_DENSITY * GRAVITY)) ** (1.0 / 3.0)


def hold_limit(diameter: float) -> float:
    """Current below which the arc's voltage rises: its hold limit.

    Parameters
    ----------
    diameter : float
        Of the wire [m].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    Assumed, in proportion to the diameter; 8 to 15 A are told for 0.8 to 1.0 mm.  The arc does not go out there: it
    needs more voltage, and is out when the circuit no longer gives it and the current has come to zero.

    Examples
    --------
    >>> round(hold_limit(0.9e-3), 2)
    11.25

    References
    ----------
    Common practice, no published source.
    """
    return HOLD_PER_DIAMETER * diameter


def drain_time(diameter: float) -> float:
    """Time in which a liquid bridge drains by surface tension alone.

    Parameters
    ----------
    diameter : float
        Of the wire [m].

    Returns
    -------
    float
        Time [s].

    Notes
    -----
    Assumed: 10 ms at 0.8 mm and in proportion to the diameter, so that bridges last 2 to 5 ms at 150 to 300 A.

    Examples
    --------
    >>> round(drain_time(1.0e-3) * 1e3, 2)
    12.5

    References
    ----------
    Short circuits of 1 to 10 ms, mostly 2 to 5 ms: from memory, 80 %.
    """
    return DRAIN_PER_DIAMETER * diameter


def usual_feed(diameter: float, kind: str = "solid steel") -> float:
    """Wire feed in the middle of a small supply's range.

    Parameters
    ----------
    diameter : float
        Of the wire [m].
    kind : str
        "solid steel" or "self-shielded" [-].

    Returns
    -------
    float
        Speed [m/s].

    Notes
    -----
    Straight lines between 0.6 and 1.2 mm, the end values beyond: some 60 A with 0.6 mm, 150 A with 1.2 mm.

    Examples
    --------
    >>> round(usual_feed(0.8e-3) * 60, 3), round(usual_feed(0.9e-3, "self-shielded") * 60, 3)
    (5.0, 2.25)

    References
    ----------
    Common practice, no published source.
    """
    factor = {"solid steel": 1.0, "self-shielded": SELF_SHIELDED_FEED}[kind] / 60.0
    d = min(max(diameter, USUAL_FEED[0][0]), USUAL_FEED[-1][0])
    for (d0, v0), (d1, v1) in zip(USUAL_FEED, USUAL_FEED[1:], strict=False):
        if d <= d1:
            return factor * (v0 + (v1 - v0) * (d - d0) / (d1 - d0))
    return factor * USUAL_FEED[-1][1]
