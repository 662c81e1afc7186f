"""How long a wire stands a current: the rows of ``weldsim/data/reference/fusing.csv``.

A wire on a direct source behind R and L, all of its section in contact or a spot of it, keeps its heat or loses it with
a time constant.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from scipy.optimize import brentq

from tests.reference.written.rows import Written

ONDERDONK = "I. M. Onderdonk, fusing of copper"
ACTION = "H. Knoepfel, Pulsed High Magnetic Fields (action integral of a wire); R-L transients"
NISE = "N. S. Nise, Control Systems Engineering (first-order system)"
CIRCULAR_MIL = math.pi / 4.0 * 0.0254**2  # [mm2]
VOLTS, OHMS = 45.0, 0.1  # of the source
STEEL = 14_700.0  # [A2 s/mm4] told in the condition
LEAST_RESISTIVITY, LENGTH = 0.05e-3, 3.0  # [ohm mm], [mm] of the wire


def section(diameter: float) -> float:
    """Of a round wire [mm2]."""
    return math.pi / 4.0 * diameter**2


def rows() -> Iterator[Written]:
    """All of them."""
    yield from _copper()
    yield from _rising()
    yield from _spots()


def _copper() -> Iterator[Written]:
    told = "33 (I/A)^2 t = log10((Tm - Ta)/(234 + Ta) + 1), A in circular mils, Tm 1083 and Ta 25 degC"
    for diameter, time in ((0.3, 0.01), (0.5, 0.01), (0.5, 1.0), (1.0, 0.1), (1.0, 1.0), (1.0, 5.0), (1.6, 1.0)):
        mils = section(diameter) / CIRCULAR_MIL
        current = mils * math.sqrt(math.log10((1083.0 - 25.0) / (234.0 + 25.0) + 1.0) / (33.0 * time))
        place = f"copper, d={diameter:g} mm, I={current:.6g} A"
        yield Written("fusing", place, "time to the rupture", time, "s", ONDERDONK, told)


def _rising() -> Iterator[Written]:
    """Heat of a current that rises towards U/R."""
    told = "integral of (U/R)^2 (1 - exp(-R t/L))^2 is a A^2, nothing of the heat lost"
    for diameter, henries in ((0.6, 0.1e-3), (0.6, 1e-3), (0.8, 0.3e-3), (0.8, 3e-3), (1.0, 1e-3), (1.2, 3e-3)):
        ohms = OHMS + LEAST_RESISTIVITY * LENGTH / section(diameter)
        tau, most = henries / ohms, VOLTS / ohms

        def short_of(time: float, diameter: float = diameter, tau: float = tau, most: float = most) -> float:
            left = math.exp(-time / tau)
            squares = time - 2.0 * tau * (1.0 - left) + 0.5 * tau * (1.0 - left**2)
            return most**2 * squares - STEEL * section(diameter) ** 2

        place = f"a={STEEL:g} A2 s/mm4, d={diameter:g} mm, L={1e3 * henries:g} mH"
        yield Written("fusing", place, "time to the rupture", brentq(short_of, 0.0, 1.0, xtol=1e-13), "s", ACTION, told)


def _spots() -> Iterator[Written]:
    """A contact spot that cools while it is heated, by a steady current."""
    told = "heat settles at I^2 tau/(a s^2): t = -tau ln(1 - a s^2/(tau I^2))"
    for share, tau, current in (
        (0.2, 0.05, 80.0),
        (0.2, 0.05, 60.0),
        (0.3, 0.1, 80.0),
        (0.3, 0.3, 45.0),
        (0.4, 0.1, 100.0),
    ):
        least = STEEL * (share * section(0.8)) ** 2 / tau
        place = f"a={STEEL:g} A2 s/mm4, d=0.8 mm, spot={100.0 * share:g} %, tau={1e3 * tau:g} ms, I={current:g} A"
        time = -tau * math.log(1.0 - least / current**2)
        yield Written("fusing", place, "time to the rupture", time, "s", NISE, told)
