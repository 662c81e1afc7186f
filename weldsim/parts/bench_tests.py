"""From readings on the bench to a transformer's values: the classical tests without load and with a shorted secondary.

     R1     X1       X2'    R2'
o--[===]--(((---+---(((---[===]--o       without load:  E = U - (R1 + j X1) I, P = E^2 / Rc + I^2 R1
                |                        shorted:       Z = U / I, R = P / I^2, X = sqrt(Z^2 - R^2)
         Rc ||  f(flux)
o---------------+----------------o
"""

import math
from collections.abc import Sequence
from typing import Any

from weldsim.frozen import dataclass
from weldsim.parts.hysteresis import Elements, first_rise
from weldsim.parts.magnetising_curve import without_friction
from weldsim.parts.steel import MU_0

ROUNDS = 12  # of a solution by turns: to 1e-6 and better
MOST_TAKEN = 0.5  # of the current by the magnetising branch: beyond it this is no short circuit
ANGLES = 720  # of a half cycle: rms values to 1e-5 with corners anywhere


@dataclass(frozen=True)
class Impedance:
    """Both windings in series, seen from the primary."""

    resistance: float  # [ohm]
    reactance: float  # [ohm]

    @property
    def complex(self) -> complex:
        """R + j X [ohm]."""
        return complex(self.resistance, self.reactance)


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


def without_magnetising(both: Impedance, *, share: complex, admittance: complex) -> Impedance:
    """The windings in series alone, where the magnetising branch took part of the current with the secondary shorted.

    ``U / I = Z1 + 1 / (1 / Z2' + Y)`` with ``Z1`` and ``Z2'`` parts of ``Z``, solved by turns.

    Parameters
    ----------
    both : Impedance
        ``U / I`` as resistance and reactance [ohm].
    share : complex
        Of the primary in the resistance (real part) and in the reactance (imaginary part) [1].
    admittance : complex
        Of the magnetising branch at the volts that the iron sees in this test, seen from the primary [1/ohm].

    Returns
    -------
    Impedance
        Seen from the primary [ohm].

    Notes
    -----
    Nothing where the iron is good and leakage small; several percent of the resistance of a transformer with shunts,
    whose short circuit takes a fifth of the mains voltage, as the iron's loss counts as copper there.

    Examples
    --------
    3 + j4 ohm in the secondary behind 1 ohm, and a branch of 100 ohm beside it:

    >>> measured = 1.0 + 1.0 / (1.0 / (3.0 + 4.0j) + 0.01)
    >>> found = without_magnetising(Impedance(measured.real, measured.imag), share=0.25, admittance=0.01)
    >>> round(found.resistance, 3), round(found.reactance, 3)
    (4.0, 4.0)

    References
    ----------
    Derived here.
    """
    measured, found = both.complex, both
    for _ in range(ROUNDS):
        primary = complex(share.real * found.resistance, share.imag * found.reactance)
        behind = measured - primary
        secondary = behind / (1.0 - behind * admittance) if abs(behind * admittance) < MOST_TAKEN else behind
        found = Impedance(max(primary.real + secondary.real, 0.0), max(primary.imag + secondary.imag, 0.0))
    return found


def behind_the_winding(voltage: float, current: float, *, power: float, winding: Impedance) -> tuple[float, float]:
    """What the iron sees of a reading without load.

    ``P_iron = P - I^2 R1``, ``E = |U - (R1 + j X1)(I_w - j I_m)|`` with ``I_w = P / U``, ``I_m = sqrt(I^2 - I_w^2)``.

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
        Voltage that the flux makes, rms [V]; loss in the iron [W].

    Notes
    -----
    The current counts as a sine for the drop in the winding, which is a percent of the voltage at most.

    Examples
    --------
    240 V, 0.8 A and 72 W on a winding of 1 ohm: 0.3 A in step with the volts take 0.3 V off, 0.64 W stay in it.

    >>> [round(value, 2) for value in behind_the_winding(240.0, 0.8, power=72.0, winding=Impedance(1.0, 0.0))]
    [239.7, 71.36]
    """
    working = min(power / voltage, current)
    idle = math.sqrt(current**2 - working**2)
    drop = complex(winding.resistance, winding.reactance) * complex(working, -idle)
    flux_voltage = max(abs(voltage - drop), 1e-3 * voltage)
    return flux_voltage, max(power - current**2 * winding.resistance, 0.0)


def peak_curve(points: Sequence[tuple[float, float, float]], elements: Elements = ()) -> list[tuple[float, float]]:
    """Corners of a magnetising curve from rms currents at rising amplitudes of a sinusoidal flux.

    Piece by piece: with flux ``F sin a``, the friction of the closed loop r(a), the loss current w(a) in step with the
    volts and all corners below F known, the slope s of the last piece is the larger root of

        I^2 = mean of (i_below(a) + r(a) + w(a) + s (|F sin a| - F_b))^2 over the half cycle in which the flux rises

    from the last corner F_b on.

    Parameters
    ----------
    points : sequence of (float, float, float)
        Peak flux linkage, rising; rms current there; rms of what of it a resistor takes [V.s, A, A].
    elements : sequence of (float, float)
        Limits and reaches of the friction elements [A, V.s].

    Returns
    -------
    list of (float, float)
        Peak flux linkage and peak current of each, friction included [V.s, A]; a current too small for what is known
        leaves the curve level.

    Notes
    -----
    The curve that is straight between these corners gives every one of the rms currents back.  The true curve bends in
    between, and lies a little below the straight pieces.

    Examples
    --------
    A straight line stays one:

    >>> [(flux, round(current, 4)) for flux, current in peak_curve([(1.0, 0.5**0.5, 0.0), (2.0, 2 * 0.5**0.5, 0.0)])]
    [(1.0, 1.0), (2.0, 2.0)]

    References
    ----------
    H. W. Dommel, Electromagnetic Transients Program Reference Manual (Theory Book), 1986, section 6.10.3, and S. Prusty
    and M. V. S. Rao, IEEE Trans. Magn. 16 (1980) 156, without friction (both from memory, 85 %); friction by Masing's
    rule (``hysteresis.py``), added here.
    """
    import numpy as np

    corners = [(0.0, 0.0)]
    for flux, effective, working in points:
        fluxes, beside = _rising_half(flux, elements, working)
        known = beside + _on_curve(np.clip(fluxes, -corners[-1][0], corners[-1][0]), corners)
        ahead = np.sign(fluxes) * np.maximum(np.abs(fluxes) - corners[-1][0], 0.0)
        a, half_b, c = (float(np.mean(one)) for one in (ahead * ahead, ahead * known, known * known))
        lacking = effective * effective - c
        slope = (-half_b + math.sqrt(max(half_b * half_b + a * lacking, 0.0))) / a if a > 0.0 and lacking > 0.0 else 0.0
        corners.append((flux, corners[-1][1] + max(slope, 0.0) * (flux - corners[-1][0])))
    return [(flux, current + first_rise(elements, flux)) for flux, current in corners[1:]]


def effective_current(
    curve: Sequence[tuple[float, float]], flux: float, *, elements: Elements = (), working: float = 0.0
) -> float:
    """Rms current without load of a magnetising curve at an amplitude of a sinusoidal flux.

    Parameters
    ----------
    curve : sequence of (float, float)
        Peak values without the origin, friction included; the last piece goes on [V.s, A].
    flux : float
        Peak flux linkage [V.s].
    elements : sequence of (float, float)
        Limits and reaches of the friction elements [A, V.s].
    working : float
        Rms current of a resistor beside it [A].

    Returns
    -------
    float
        Rms current [A].

    Examples
    --------
    >>> round(effective_current([(1.0, 1.0), (2.0, 3.0)], 1.0), 4)
    0.7071

    References
    ----------
    As ``peak_curve``.
    """
    import numpy as np

    fluxes, beside = _rising_half(flux, elements, working)
    corners = without_friction(curve, elements)
    return float(np.sqrt(np.mean((beside + _on_curve(fluxes, corners)) ** 2)))


def _rising_half(flux: float, elements: Elements, working: float) -> tuple[Any, Any]:
    """The flux over the half cycle in which it rises, and the current of friction and of the resistor there."""
    import numpy as np

    angles = (np.arange(ANGLES) + 0.5) * (np.pi / ANGLES) - 0.5 * np.pi
    fluxes = flux * np.sin(angles)
    beside = math.sqrt(2.0) * working * np.cos(angles) - first_rise(elements, flux)
    for limit, reach in elements:
        beside = beside + 2.0 * limit * np.minimum(0.5 * (fluxes + flux) / reach, 1.0)
    return fluxes, beside


def _on_curve(fluxes: Any, corners: Sequence[tuple[float, float]]) -> Any:
    """Current of the single-valued part; beyond its last corner it goes on as it came."""
    import numpy as np

    sizes = np.abs(fluxes)
    places, currents = (np.array(column) for column in zip(*corners, strict=True))
    found = np.interp(sizes, places, currents)
    if len(corners) > 1:
        rise = (currents[-1] - currents[-2]) / (places[-1] - places[-2])
        found = found + rise * np.maximum(sizes - places[-1], 0.0)
    return np.sign(fluxes) * found


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
    return MU_0 * turns**2 * section / path_length
