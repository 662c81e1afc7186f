"""Flux of the transformer's core in numbers: density and linkage, saturation, and what stays when current has gone.

Derived here from the branch that the network gets, so that accessors and waveforms cannot differ.
"""

import math

from weldsim.parts.hysteresis import after_turning
from weldsim.parts.iron import Core, flux_scale, is_iron, magnetising_branch


def flux_linkage_at(core: Core, flux_density: float, *, primary_turns: int | None) -> float:
    """Primary flux linkage at a flux density: N A B.

    Parameters
    ----------
    core : Core
        The table, with its section [-].
    flux_density : float
        In the iron [T].
    primary_turns : int or None
        Turns of the primary [1].

    Returns
    -------
    float
        Flux linkage [V.s].

    Notes
    -----
    Holds while the flux runs in the iron; beyond saturation the air in the winding carries more of it.

    Examples
    --------
    The shed's toroid at its remanence:

    >>> round(flux_linkage_at(Core(section=55e-4), 1.1, primary_turns=130), 5)
    0.7865
    """
    return flux_density * flux_scale(core, primary_turns, "the flux linkage")


def flux_density_at(core: Core, flux_linkage: float, *, primary_turns: int | None) -> float:
    """Flux density in the iron at a primary flux linkage: flux linkage / (N A).

    Parameters
    ----------
    core : Core
        The table, with its section [-].
    flux_linkage : float
        Of the primary [V.s].
    primary_turns : int or None
        Turns of the primary [1].

    Returns
    -------
    float
        Flux density [T].

    Notes
    -----
    As for ``flux_linkage_at``.

    Examples
    --------
    230 V, 50 Hz on 220 turns and 32 cm2 (REFERENCE 4.1: 1.47069 T):

    >>> flux = math.sqrt(2) * 230 / (2 * math.pi * 50)
    >>> round(flux_density_at(Core(section=32e-4), flux, primary_turns=220), 5)
    1.47069
    """
    return flux_linkage / flux_scale(core, primary_turns, "the flux density")


def saturation_flux_linkage(core: Core, primary_turns: int | None = None) -> float:
    """Primary flux linkage beyond which only air is left.

    Electrical: the corner as given.  Iron, or a curve of the winding: where the last piece, prolonged backward, meets
    zero current (N A B_s).

    Parameters
    ----------
    core : Core
        The table [-].
    primary_turns : int, optional
        Turns of the primary [1].

    Returns
    -------
    float
        Flux linkage [V.s]; infinite for a core that does not saturate.

    Examples
    --------
    >>> toroid = Core(section=55e-4, path_length=0.62, steel="grain-oriented")
    >>> round(saturation_flux_linkage(toroid, 130) / (130 * 55e-4), 2)
    2.04
    """
    branch = magnetising_branch(core, primary_turns)
    if not branch.corners:
        return math.inf
    if core.magnetising_inductance is not None:
        return branch.corners[-1]
    return branch.flux_linkages[-2] - branch.currents[-2] / branch.slopes[-1]


def remanent_flux_linkage(core: Core, primary_turns: int | None = None) -> float:
    """Primary flux linkage that stays after saturation when the current has come back to zero.

    The flux where f and the friction elements add up to nothing on the way down from the last corner; found by halving.

    Parameters
    ----------
    core : Core
        The table [-].
    primary_turns : int, optional
        Turns of the primary [1].

    Returns
    -------
    float
        Flux linkage [V.s]; 0 without friction elements.

    Notes
    -----
    The largest that can stay; a winding that is switched off at a current zero keeps any value between plus and minus.

    Examples
    --------
    One friction element of 50 mA on 4 H keeps 0.2 V.s:

    >>> from weldsim.parts.iron import FrictionRow
    >>> core = Core(magnetising_inductance=4.0, hysteresis=(FrictionRow(current=0.05, flux_linkage=0.1),))
    >>> round(remanent_flux_linkage(core), 6)
    0.2
    """
    branch = magnetising_branch(core, primary_turns)
    if not branch.elements:
        return 0.0
    width = sum(limit for limit, _ in branch.elements)
    if branch.corners:
        top = branch.corners[-1]
    elif branch.slopes[0] > 0.0:
        top = width / branch.slopes[0] + 2.0 * max(reach for _, reach in branch.elements)
    else:
        return math.inf
    low, high = 0.0, top
    for _ in range(200):
        middle = 0.5 * (low + high)
        above = branch.current(middle) + after_turning(branch.elements, top - middle) > 0.0
        low, high = (low, middle) if above else (middle, high)
    return high


def remanence(core: Core, primary_turns: int | None = None) -> float:
    """Flux density that stays after saturation when the current has come back to zero.

    Parameters
    ----------
    core : Core
        The table, with its section [-].
    primary_turns : int, optional
        Turns of the primary; any number gives the same where the core is iron [1].

    Returns
    -------
    float
        Flux density [T].

    Notes
    -----
    As for ``remanent_flux_linkage``.  A gap of 0.1 mm takes most of it away.

    Examples
    --------
    >>> closed = Core(section=55e-4, path_length=0.62, steel="grain-oriented")
    >>> cut = Core(section=55e-4, path_length=0.62, steel="grain-oriented", gap=1e-4)
    >>> round(remanence(closed), 3), round(remanence(cut), 3)
    (1.1, 0.073)
    """
    turns = 1 if primary_turns is None and is_iron(core) else primary_turns
    return flux_density_at(core, remanent_flux_linkage(core, turns), primary_turns=turns)
