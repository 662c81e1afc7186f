"""Numbers of the mains and of spots: the rows of ``weldsim/data/reference/mains.csv``.

Limits and a measured spectrum as printed, what phase-controlled currents make of the limits, the energy of counted half
cycles.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

import numpy as np

from tests.reference.written.rows import Written

RASHID = "M. H. Rashid, Power Electronics (AC voltage controllers)"
LIMITS = "IEC 61000-3-2 (class A as in a test report, welding equipment 1.5 times that)"
DEMAND = "IEEE 519, total demand distortion (definition from memory)"
SITE = "harmonics of the mains of one site, published single facts"
EN_50160 = "EN 50160 (as in two meter manuals)"
CABLES = "IEC 60228"
BREAKERS = "IEC 60898-1, instantaneous bands as in makers' manuals"
WINDINGS = "IEC 60076-2, winding resistance and temperature"

CLASS_A = {3: 2.30, 5: 1.14, 7: 0.77, 9: 0.40, 11: 0.33, 13: 0.21}  # [A rms]
# Order, % of the fundamental, degrees of a cosine from its crest.
EVENING = (
    (3, 1.54, -115.0),
    (5, 1.54, -139.0),
    (7, 1.12, -122.0),
    (9, 0.29, 101.0),
    (11, 0.55, 113.0),
    (13, 0.72, 63.0),
    (15, 0.34, -38.0),
)
BANDS = {"B": (3.0, 5.0), "C": (5.0, 10.0), "D": (10.0, 20.0)}  # of the rating
AT_THE_LIMITS = ((3, 5.0), (5, 6.0), (7, 5.0), (9, 1.5), (11, 3.5), (13, 3.0))
CORES = ((1.5, 13.3), (2.5, 7.98), (4.0, 4.95), (6.0, 3.30), (10.0, 1.91), (16.0, 1.21))  # mm2, ohm/km at 20 degC
VOLTAGE, RESISTANCE = 230.0, 10.0


def rows() -> Iterator[Written]:
    """All of them."""
    yield from _limits()
    yield from _demand()
    yield from _background()
    for section, per_km in CORES:
        drop = 2.0 * 50.0 * 1e-3 * per_km * 10.0
        place, told = f"50 m of section={section:g} mm2, 10 A", "both cores, at 20 degC"
        yield Written("supply_lead", place, "drop", drop, "V", CABLES, told, "published")
    yield from _bands()
    yield from _warm_windings()
    yield from _spots()
    yield from _ramp()


def harmonic(alpha: float, order: int) -> float:
    """Amplitude of an odd order of a phase-controlled sine, over its crest."""
    up, down = order + 1, order - 1
    a = ((math.cos(up * alpha) - 1.0) / up - (math.cos(down * alpha) - 1.0) / down) / math.pi
    b = (math.sin(up * alpha) / up - math.sin(down * alpha) / down) / math.pi
    return math.hypot(a, b)


def effective(delay: float) -> float:
    """Rms of a phase-controlled sine over the sine's."""
    alpha = math.radians(delay)
    return math.sqrt(1.0 - alpha / math.pi + math.sin(2.0 * alpha) / (2.0 * math.pi))


def _limits() -> Iterator[Written]:
    place = "230 V, phase control on 20 ohm, alpha=90 deg"
    for order, amperes in CLASS_A.items():
        told = f"class A {amperes:g} A"
        yield Written("limits", place, f"limit of order {order}", 1.5 * amperes, "A", LIMITS, told, "published")
        share = harmonic(0.5 * math.pi, order) * VOLTAGE / 20.0 / (1.5 * amperes)
        told = "closed form of the harmonic over that limit"
        yield Written("limits", place, f"order {order} over its limit", share, "1", RASHID, told)


def _demand() -> Iterator[Written]:
    for delay, ohms, demand in (
        (30.0, 10.0, 20.0),
        (60.0, 8.0, 25.0),
        (90.0, 20.0, 10.0),
        (115.0, 5.0, 40.0),
        (140.0, 2.0, 16.0),
    ):
        alpha = math.radians(delay)
        place = f"230 V, phase control on R={ohms:g} ohm, alpha={delay:g} deg, demand={demand:g} A"
        others = VOLTAGE / ohms * math.sqrt(sum(harmonic(alpha, order) ** 2 for order in range(3, 41, 2)))
        a, b = 1.0 - alpha / math.pi + math.sin(2.0 * alpha) / (2.0 * math.pi), math.sin(alpha) ** 2 / math.pi
        told = "odd orders 3 to 39 in closed form"
        yield Written("demand", place, "THD", others * ohms / (VOLTAGE * math.hypot(a, b)), "1", RASHID, told)
        yield Written("demand", place, "TDD", others / demand, "1", DEMAND, f"{told}, over the demand", "memory")


def _background() -> Iterator[Written]:
    place = 'background "measured evening"'
    for order, percent, _ in EVENING:
        yield Written("background", place, f"order {order}", 0.01 * percent, "1", SITE, "printed", "published")
    distortion = 0.01 * math.sqrt(sum(percent**2 for _, percent, _ in EVENING))
    yield Written("background", place, "THD", distortion, "1", SITE, "root of the sum of squares")
    angles = np.linspace(-math.pi, math.pi, 2_000_001)
    wave = np.cos(angles) + sum(
        0.01 * percent * np.cos(order * angles + math.radians(degrees)) for order, percent, degrees in EVENING
    )
    crest = float(wave.max()) / math.sqrt(0.5 * (1.0 + distortion**2))
    yield Written("background", place, "crest factor", crest, "1", SITE, "cosines from the fundamental's crest, summed")
    for order, percent in AT_THE_LIMITS:
        place = 'background "at the limits"'
        yield Written("background", place, f"order {order}", 0.01 * percent, "1", EN_50160, "printed", "published")


def _bands() -> Iterator[Written]:
    """A hundredth below and above each edge."""
    for curve, edges in BANDS.items():
        for name, edge in zip(("lower", "upper"), edges, strict=True):
            for share, above in ((0.99, 0.0), (1.01, 1.0)):
                place = f"{curve}16, presses onto a resistor of multiple={share * edge:g} In"
                quantity, told = f"share above the {name} edge", f"{curve}: {edges[0]:g} to {edges[1]:g} In"
                yield Written("magnetic", place, quantity, above, "1", BREAKERS, told, "published")


def _warm_windings() -> Iterator[Written]:
    for degrees in (-20.0, 60.0, 75.0, 100.0, 120.0):
        place, told = (
            f"0.5 ohm of copper at 20 degC, at t={degrees:g} degC",
            "R2/R1 = (235 + t2)/(235 + t1); from memory, 99 %",
        )
        resistance = 0.5 * (235.0 + degrees) / 255.0
        yield Written("warm_winding", place, "resistance", resistance, "ohm", WINDINGS, told, "memory")


def _spots() -> Iterator[Written]:
    told = "whole half cycles of V^2/R (1 - a/pi + sin 2a/(2 pi))"
    for delay in (60.0, 90.0, 120.0):
        for seconds in (0.1, 0.3):
            energy = (VOLTAGE * effective(delay)) ** 2 / RESISTANCE * seconds
            place = f"synchronised timer, 10 ohm, alpha={delay:g} deg, spot={seconds:g} s"
            yield Written("spot", place, "least energy of 20 spots", energy, "J", RASHID, told)
            yield Written("spot", place, "largest energy of 20 spots", energy, "J", RASHID, told)


def _ramp() -> Iterator[Written]:
    """From 170 degrees in ten steps to 50."""
    for number in (1, 3, 5, 7, 9, 11):
        delay = 170.0 - 12.0 * (number - 1)
        place = f"ramp of ten half cycles from 170 to 50 deg, half cycle {number}, fired at alpha={delay:g} deg"
        told = "rms of one half cycle fired at that delay"
        yield Written("ramp", place, "Vo_rms/V", effective(delay), "1", RASHID, told)
