"""From readings on the bench to a transformer's values: the classical tests without load and with a shorted secondary.

     R1     X1       X2'    R2'
o--[===]--(((---+---(((---[===]--o       without load:  E = U - (R1 + j X1) I, P = E^2 / Rc + I^2 R1
                |                        shorted:       Z = U / I, R = P / I^2, X = sqrt(Z^2 - R^2)
         Rc ||  f(flux)
o---------------+----------------o
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Impedance:
    """Both windings in series, seen from the primary."""

    resistance: float  # [ohm]
    reactance: float  # [ohm]


def series_impedance(voltage: float, current: float, *, power: float | None, resistance: float | None) -> Impedance:
    """Resistance and reactance of both windings from a reading with shorted secondary.

    ``Z = U / I``, ``R = P / I^2``, ``X = sqrt(Z^2 - R^2)``.

    Parameters
    ----------
    voltage, current : float
        At the primary, rms [V, A].
    power : float or None
        Into the primary [W].
    resistance : float or None
        Of both windings by direct current, seen from the primary, which counts where no power was read [ohm].

    Returns
    -------
    Impedance
        Seen from the primary [ohm]; a resistance beyond Z counts as Z.

    Notes
    -----
    The magnetising branch is neglected, far below 1 % at the few volts of the test.  Where R makes up most of Z, X is a
    small difference: an error of Z grows by (Z / X)^2 on its way into X.

    Examples
    --------
    The short-circuit test of a 20 kVA distribution transformer, 489 V, 2.5 A, 240 W: 38.4 + j192 ohm.

    >>> found = series_impedance(489.0, 2.5, power=240.0, resistance=None)
    >>> round(found.resistance, 1), round(found.reactance)
    (38.4, 192)

    References
    ----------
    Any textbook of electrical machines; the example is S. J. Chapman, Electric Machinery Fundamentals, example 2-2
    (from memory, 90 %).
    """
    size = voltage / current
    known = power / current**2 if power is not None else resistance or 0.0
    real = min(known, size)
    return Impedance(real, math.sqrt(max(size * size - real * real, 0.0)))


def behind_the_winding(
    voltage: float, current: float, *, power: float, winding: Impedance
) -> tuple[float, float, float]:
    """What the iron sees of a reading without load.

    ``P_iron = P - I^2 R1``, ``E = |U - (R1 + j X1)(I_w - j I_m)|`` with ``I_w = P / U``, ``I_m = sqrt(I^2 - I_w^2)``;
    then the magnetising current is ``sqrt(I^2 - (P_iron / E)^2)``.

    Parameters
    ----------
    voltage, current : float
        At the primary, rms [V, A].
    power : float
        Into the primary [W].
    winding : Impedance
        Of the primary alone [ohm].

    Returns
    -------
    tuple of float
        Voltage that the flux makes, rms [V]; magnetising current, rms [A]; loss in the iron [W].

    Notes
    -----
    The current counts as a sine for the drop in the winding, which is a percent of the voltage at most.

    Examples
    --------
    240 V, 0.8 A and 72 W on a winding without drop: 0.742 A magnetise (J. Bird, problem 20.7).

    >>> [round(value, 4) for value in behind_the_winding(240.0, 0.8, power=72.0, winding=Impedance(0.0, 0.0))]
    [240.0, 0.7416, 72.0]
    """
    working = min(power / voltage, current)
    idle = math.sqrt(current**2 - working**2)
    drop = complex(winding.resistance, winding.reactance) * complex(working, -idle)
    flux_voltage = max(abs(voltage - drop), 1e-3 * voltage)
    loss = max(power - current**2 * winding.resistance, 0.0)
    loss_current = min(loss / flux_voltage, current)
    return flux_voltage, math.sqrt(current**2 - loss_current**2), loss


def peak_curve(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Corners of a magnetising curve from rms currents at rising amplitudes of a sinusoidal flux.

    Piece by piece: with flux ``F sin a`` and all corners below F known, the slope s of the last piece is the root of

        (pi / 2) I^2 = (integral of i^2 over the pieces below) + int (i_b + s (F sin a - F_b))^2 da

    from the angle at which the last corner (F_b, i_b) is passed up to pi / 2; every integral is closed.

    Parameters
    ----------
    points : sequence of (float, float)
        Peak flux linkage, rising, and rms magnetising current there [V.s, A].

    Returns
    -------
    list of (float, float)
        Peak flux linkage and peak current of each [V.s, A]; a current too small for the corners below it leaves the
        curve level.

    Notes
    -----
    The curve that is straight between these corners gives every one of the rms currents back.  The true curve bends in
    between, and lies a little below the straight pieces.

    Examples
    --------
    A straight line stays one, a doubled slope beyond 1 V s is found:

    >>> [(flux, round(current, 6)) for flux, current in peak_curve([(1.0, 0.5**0.5), (2.0, 2 * 0.5**0.5)])]
    [(1.0, 1.0), (2.0, 2.0)]

    References
    ----------
    H. W. Dommel, Electromagnetic Transients Program Reference Manual (Theory Book), 1986, section 6.10.3, and S. Prusty
    and M. V. S. Rao, IEEE Trans. Magn. 16 (1980) 156 (both from memory, 85 %); the integrals derived here.
    """
    corners = [(0.0, 0.0)]
    for flux, effective in points:
        foot_flux, foot = corners[-1]
        wanted = 0.5 * math.pi * effective**2 - _squares(corners, flux)
        begin = math.asin(min(foot_flux / flux, 1.0))
        one, first, second = _moments(flux, foot_flux, begin, 0.5 * math.pi)
        a, half_b, c = second, foot * first, foot**2 * one - wanted
        slope = max((-half_b + math.sqrt(max(half_b**2 - a * c, 0.0))) / a, 0.0) if a > 0.0 else 0.0
        corners.append((flux, foot + slope * (flux - foot_flux)))
    return corners[1:]


def effective_current(curve: Sequence[tuple[float, float]], flux: float) -> float:
    """Rms of the magnetising current of a curve at an amplitude of a sinusoidal flux.

    Parameters
    ----------
    curve : sequence of (float, float)
        Corners without the origin; the last piece goes on [V.s, A].
    flux : float
        Peak flux linkage [V.s].

    Returns
    -------
    float
        Rms current [A].

    Examples
    --------
    >>> round(effective_current([(1.0, 1.0), (2.0, 3.0)], 1.0), 6)
    0.707107

    References
    ----------
    Derived here.
    """
    corners = [(0.0, 0.0), *curve]
    inside = [corner for corner in corners if corner[0] < flux]
    foot_flux, foot = inside[-1]
    beyond = len(inside) == len(corners)  # of all of them: the last piece goes on
    before, ahead = (inside[-2], inside[-1]) if beyond else (inside[-1], corners[len(inside)])
    slope = (ahead[1] - before[1]) / (ahead[0] - before[0])
    one, first, second = _moments(flux, foot_flux, math.asin(foot_flux / flux), 0.5 * math.pi)
    total = _squares(inside, flux) + foot**2 * one + 2.0 * foot * slope * first + slope**2 * second
    return math.sqrt(2.0 / math.pi * total)


def _squares(corners: Sequence[tuple[float, float]], flux: float) -> float:
    """Integral of i^2 over the angles at which a flux of this amplitude lies on the pieces between the corners."""
    total = 0.0
    for (low, foot), (high, top) in zip(corners, corners[1:], strict=False):
        slope = (top - foot) / (high - low)
        one, first, second = _moments(flux, low, math.asin(low / flux), math.asin(min(high / flux, 1.0)))
        total += foot**2 * one + 2.0 * foot * slope * first + slope**2 * second
    return total


def _moments(flux: float, foot: float, begin: float, end: float) -> tuple[float, float, float]:
    """Integrals of 1, g and g^2 with g = flux sin a - foot from one angle to another."""
    one = end - begin
    first = flux * (math.cos(begin) - math.cos(end)) - foot * one
    sine_squared = 0.5 * one - 0.25 * (math.sin(2.0 * end) - math.sin(2.0 * begin))
    second = flux**2 * sine_squared - 2.0 * foot * flux * (math.cos(begin) - math.cos(end)) + foot**2 * one
    return one, first, second


def air_inductance(turns: float, section: float, path_length: float) -> float:
    """Inductance of a winding whose iron is saturated through, taken as air: ``mu0 N^2 A / l``.

    Parameters
    ----------
    turns : float
        Of the winding [1].
    section : float
        Of the iron [m2].
    path_length : float
        Of the iron [m].

    Returns
    -------
    float
        Inductance [H].

    Notes
    -----
    The section of the winding is larger than that of the iron, by a tenth to a half: true inductances are larger, and
    peaks of inrush smaller.

    Examples
    --------
    >>> round(1e3 * air_inductance(130, 55e-4, 0.62), 3)
    0.188

    References
    ----------
    Ampere's law; common practice for estimates of inrush.
    """
    return 4e-7 * math.pi * turns**2 * section / path_length
