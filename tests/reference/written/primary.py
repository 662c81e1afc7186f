"""Closed forms of a varistor and a thermistor in the primary: the rows of ``weldsim/data/reference/primary.csv``.

Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from scipy.integrate import quad
from scipy.optimize import brentq

from tests.reference.written.rows import Written

RASHID = "M. H. Rashid, Power Electronics (battery charger)"
MOHAN = "Mohan, Undeland, Robbins, Power Electronics"
FRADEN = "J. Fraden, Handbook of Modern Sensors (thermistors: beta equation, self-heating)"

CREST, OMEGA = math.sqrt(2.0) * 230.0, 100.0 * math.pi
COLD, BETA, LOSS, CAPACITY = 10.0, 3000.0, 20e-3, 1.0  # [ohm at 25 degC], [K], [W/K], [J/K]
VOLTS = 50.0  # [V] direct
KELVIN, WARM = 273.15, 298.15


def rows() -> Iterator[Written]:
    """All of them."""
    for clamp in (100.0, 200.0, 250.0, 300.0):
        yield from _clipped(clamp)
    for henries, current in ((4.0, 0.05), (1.0, 0.5), (0.2, 2.0)):
        yield from _broken_off(henries, current)
    for outer in (10.0, 20.0):
        yield from _warming(outer)
    for outer in (20.0, 50.0, 100.0):
        yield from _warm(outer)


def _clipped(clamp: float) -> Iterator[Written]:
    """The charger's battery is the clamp voltage, alike in both polarities."""
    resistance, slope = 10.0, 9.0
    alpha = math.asin(clamp / CREST)
    mean = (2.0 * CREST * math.cos(alpha) + 2.0 * clamp * alpha - math.pi * clamp) / (math.pi * resistance)
    square = (0.5 * CREST**2 + clamp**2) * (math.pi - 2.0 * alpha) + 0.5 * CREST**2 * math.sin(2.0 * alpha)
    square = (square - 4.0 * CREST * clamp * math.cos(alpha)) / math.pi / resistance**2
    place = f"mains of 230 V behind 1 ohm, clamp={clamp:g} V with 9 ohm"
    told = "a = asin(E/Vm), i = (Vm sin t - E)/R between a and pi - a, in both half waves"
    yield Written("varistor", place, "current, rms", math.sqrt(square), "A", RASHID, told)
    yield Written("varistor", place, "current, largest", (CREST - clamp) / resistance, "A", RASHID, told)
    yield Written("varistor", place, "begin of its current", math.degrees(alpha), "deg", RASHID, told)
    told = "P = E I_mean + r I_rms^2"
    yield Written("varistor", place, "mean heat", clamp * mean + slope * square, "W", RASHID, told)


def _broken_off(henries: float, current: float) -> Iterator[Written]:
    """L di/dt = -(E + r i) from the current that the switch breaks off."""
    clamp, slope = 430.0, 5.6
    place = f"unloaded transformer, L={henries:g} H, cut off at I={current:g} A, clamp 430 V with 5.6 ohm"
    told = "L di/dt = -(E + r i) until i = 0: all of L I^2/2 goes into it"
    yield Written("varistor", place, "largest voltage", clamp + slope * current, "V", MOHAN, told)
    yield Written("varistor", place, "heat of one turn-off", 0.5 * henries * current**2, "J", MOHAN, told)
    lasts = henries / slope * math.log1p(slope * current / clamp)
    yield Written("varistor", place, "time that it conducts", lasts, "s", MOHAN, told)


def resistance(kelvin: float) -> float:
    """R = R_25 exp(B (1/T - 1/T_25)) [ohm]."""
    return COLD * math.exp(BETA * (1.0 / kelvin - 1.0 / WARM))


def _heat(kelvin: float, outer: float) -> float:
    """I^2 R(T), I = U/(R_L + R(T)) [W]."""
    return (VOLTS / (outer + resistance(kelvin))) ** 2 * resistance(kelvin)


def _warming(outer: float) -> Iterator[Written]:
    """Time from 25 degC on: the integral of C dT/(I^2 R(T) - D (T - T_a))."""
    for ohms in (6.0, 4.0, 3.0, 2.0):
        end = 1.0 / (1.0 / WARM + math.log(ohms / COLD) / BETA)
        time, _ = quad(
            lambda kelvin: CAPACITY / (_heat(kelvin, outer) - LOSS * (kelvin - WARM)), WARM, end, epsrel=1e-11
        )
        yield Written(
            "thermistor",
            f"10 ohm at 25 degC, B=3000 K, 1 J/K, 20 mW/K, 50 V on it and RL={outer:g} ohm, down to {ohms:g} ohm",
            "time",
            time,
            "s",
            FRADEN,
            "C dT/dt = I^2 R(T) - D (T - T_a), R = R_25 exp(B (1/T - 1/T_25)), by quadrature",
        )


def _warm(outer: float) -> Iterator[Written]:
    """Where its heat is given off."""
    loss = 5.0 * LOSS
    kelvin = brentq(lambda at: _heat(at, outer) - loss * (at - WARM), WARM, WARM + 300.0, xtol=1e-12)
    place = f"10 ohm at 25 degC, B=3000 K, 100 mW/K, 50 V on it and RL={outer:g} ohm for long"
    told = "I^2 R(T) = D (T - T_a)"
    yield Written("thermistor", place, "resistance", resistance(kelvin), "ohm", FRADEN, told)
    yield Written("thermistor", place, "current", VOLTS / (outer + resistance(kelvin)), "A", FRADEN, told)
