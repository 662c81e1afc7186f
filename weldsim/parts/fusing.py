"""How much current for how long melts a metal: action integrals, and the trade's fusing rules as a check on them.

The action integral is that of the squared current density over time.  Without loss of heat it is the integral of heat
capacity per volume over resistivity, from the first temperature to the last, whatever the current does in between.

Tables of low-carbon steel: resistivity of 0.06 % carbon steel (physical constants of steels, British Iron and Steel
Research Association, 1953; from memory, 90 %; the value at 1500 degC an extrapolation, 5 %).  Heat capacity from EN
1993-1-2, 3.4.1.2 (formula from memory, 95 %), carried on unchanged above 1200 degC.  Welding wire with 1.5 % manganese
and 0.9 % silicon has some 40 % more resistivity when cold and the same when hot: its action integral is 5 to 10 % less.
"""

import functools
import math

STEEL_TEMPERATURES = (20, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200, 1500)  # [degC]
STEEL_RESISTIVITIES = (
    0.130, 0.178, 0.252, 0.344, 0.448, 0.575, 0.725, 0.898, 1.073, 1.124, 1.160, 1.189, 1.216, 1.28,
)  # fmt: skip  # [uohm m]
STEEL_DENSITY = 7850.0  # [kg/m3] EN 1993-1-2, 3.2.2
MELTING_STEEL = 1500.0  # [degC] between solidus and liquidus of low-carbon steel (from memory, 1 %)
LATENT_HEAT_STEEL = 2.47e5  # [J/kg] iron (from memory, 5 %)
CIRCULAR_MIL = 5.06707e-10  # [m2] circle of 0.001 inch
PREECE_IRON = 3148.0 / 0.0254**1.5  # [A/m^1.5] 3148 A/inch^1.5 (W. H. Preece; published)
HOLM_MELTING_IRON = 0.60  # [V] drop at which an iron contact melts: Holm, Electric Contacts (from memory, 85 %)


def steel_heat_capacity(temperature: float) -> float:
    """Heat capacity of carbon steel per mass, with the peak where its crystal changes.

    Parameters
    ----------
    temperature : float
        From 20 degC; above 1200 degC the last value is kept [degC].

    Returns
    -------
    float
        Heat capacity [J/(kg K)].

    Notes
    -----
    Made for steel in fire; in a millisecond the change of crystal may lag behind its
    temperature.  What lies above 650 J/(kg K) between 680 and 830 degC is 8 % of all the heat to melting.

    Examples
    --------
    >>> [round(steel_heat_capacity(value), 1) for value in (20.0, 500.0, 735.0, 1000.0)]
    [439.8, 666.5, 5000.0, 650.0]

    References
    ----------
    EN 1993-1-2:2005, 3.4.1.2 (from memory, 95 %).
    """
    t = temperature
    if t < 600.0:
        return 425.0 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    if t < 735.0:
        return 666.0 + 13002.0 / (738.0 - t)
    if t < 900.0:
        return 545.0 + 17820.0 / (t - 731.0)
    return 650.0


def steel_resistivity(temperature: float) -> float:
    """Resistivity of low-carbon steel, solid.

    Parameters
    ----------
    temperature : float
        From 20 to 1500 degC; the end values are kept beyond [degC].

    Returns
    -------
    float
        Resistivity [ohm m].

    Notes
    -----
    Straight lines between the table's points, 5 %.

    Examples
    --------
    >>> round(steel_resistivity(750.0) * 1e6, 4)
    0.9855

    References
    ----------
    The module's docstring.
    """
    points = list(zip(STEEL_TEMPERATURES, STEEL_RESISTIVITIES, strict=True))
    t = min(max(temperature, points[0][0]), points[-1][0])
    for (t0, r0), (t1, r1) in zip(points, points[1:], strict=False):
        if t <= t1:
            return 1e-6 * (r0 + (r1 - r0) * (t - t0) / (t1 - t0))
    return 1e-6 * points[-1][1]


@functools.cache
def steel_action(temperature: float = MELTING_STEEL, *, molten: bool = True) -> float:
    """Action integral of steel from 20 degC: density times heat capacity over resistivity, integrated.

    Parameters
    ----------
    temperature : float
        End of the heating [degC].
    molten : bool
        Whether the latent heat of melting, at the last resistivity, is to be added [-].

    Returns
    -------
    float
        Integral of the squared current density over time [A2 s/m4].

    Notes
    -----
    Without loss of heat: 0.8 mm wire in air needs tens of seconds to lose as much.  1.32e16 to the begin of melting,
    1.47e16 until it is molten and parts.  Tables 5 %, kind of steel 10 %.

    Examples
    --------
    >>> [round(steel_action(molten=value) * 1e-16, 2) for value in (False, True)]
    [1.32, 1.47]

    References
    ----------
    Derived here (Joule heat into heat capacity); tables as in the module's docstring.
    """
    steps = max(1, round(temperature - 20.0))
    width = (temperature - 20.0) / steps
    middles = [20.0 + (k + 0.5) * width for k in range(steps)]
    heated = sum(steel_heat_capacity(t) / steel_resistivity(t) for t in middles) * width
    latent = LATENT_HEAT_STEEL / steel_resistivity(temperature) if molten else 0.0
    return STEEL_DENSITY * (heated + latent)


def linear_action(volume_heat: float, resistivity: float, *, coefficient: float, begin: float, end: float) -> float:
    """Action integral of a metal with constant heat capacity whose resistivity grows in a straight line.

    Parameters
    ----------
    volume_heat : float
        Heat capacity per volume [J/(m3 K)].
    resistivity : float
        At ``begin`` [ohm m].
    coefficient : float
        Growth of the resistivity, of its value at ``begin`` [1/K].
    begin, end : float
        First and last temperature [degC].

    Returns
    -------
    float
        Integral of the squared current density over time [A2 s/m4].

    Notes
    -----
    Onderdonk's rule is this with the constants of copper.

    Examples
    --------
    >>> round(linear_action(3.45e6, 1.757e-8, coefficient=1 / 259.5, begin=25.0, end=1083.0) * 1e-16, 2)
    8.28

    References
    ----------
    Derived here: c (end - begin) / r for a coefficient of none, else c ln(1 + a (end - begin)) / (r a).
    """
    rise = end - begin
    if coefficient == 0.0:
        return volume_heat * rise / resistivity
    return volume_heat * math.log1p(coefficient * rise) / (resistivity * coefficient)


def onderdonk_current(section: float, time: float, *, ambient: float = 25.0, melting: float = 1083.0) -> float:
    """Current that melts a copper wire in a given time.

    Parameters
    ----------
    section : float
        Of the wire [m2].
    time : float
        Up to about ten seconds [s].
    ambient, melting : float
        First and last temperature [degC].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    ``33 (I/A)^2 t = log10[(Tm - Ta)/(234 + Ta) + 1]``, A in circular mils; no loss of heat, nothing for melting itself.
    An example told with it (2581 circular mils, 5 s, 25 degC: 178 A) does not follow from it; the equation gives 169 A.

    Examples
    --------
    >>> round(onderdonk_current(0.7854e-6, 1.0), 1)
    226.8

    References
    ----------
    I. M. Onderdonk's equation, as told in the trade (published).
    """
    mils = section / CIRCULAR_MIL
    return mils * math.sqrt(math.log10((melting - ambient) / (234.0 + ambient) + 1.0) / (33.0 * time))


def preece_current(diameter: float) -> float:
    """Current that melts a long iron wire in still air, given minutes.

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
    ``C d^1.5``: heat made against heat lost at the surface.  A short wire between cold ends stands several times as
    much: never the limit of an electrode extension.

    Examples
    --------
    >>> round(preece_current(0.8e-3), 1)
    17.6

    References
    ----------
    W. H. Preece, Proc. Royal Society, 1880s: iron 3148 A/inch^1.5 (the number is published).
    """
    return PREECE_IRON * diameter**1.5


def contact_melting_current(resistance: float) -> float:
    """Current at which a contact between iron parts melts: its drop is then the metal's melting voltage.

    Parameters
    ----------
    resistance : float
        Of the contact while it is warm [ohm].

    Returns
    -------
    float
        Current [A].

    Notes
    -----
    Settled state (a spot of 0.2 mm settles within a millisecond or two) of a clean contact whose parts stay cold behind
    the spot.  Not used by the process; it stands beside the rule for the spot as a check on it.

    Examples
    --------
    >>> round(contact_melting_current(6e-3), 1)
    100.0

    References
    ----------
    R. Holm, Electric Contacts: relation of voltage and temperature, iron 0.60 V (from memory, 85 %).
    """
    return HOLM_MELTING_IRON / resistance
