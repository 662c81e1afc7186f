"""A battery behind a resistor on a rectified sine: the rows of ``weldsim/data/reference/charger.csv``.

Vm the crest, E the battery, R the resistor, a = asin(E/Vm).  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from tests.reference.written.rows import Written

RASHID = "M. H. Rashid, Power Electronics (battery charger)"


def rows() -> Iterator[Written]:
    """All of them: a bridge in units of Vm and R, and the book's own example with one diode."""
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        alpha = math.asin(share)
        mean = (2.0 * math.cos(alpha) + 2.0 * share * alpha - math.pi * share) / math.pi
        square = (0.5 + share**2) * (math.pi - 2.0 * alpha) + 0.5 * math.sin(2.0 * alpha)
        rms = math.sqrt((square - 4.0 * share * math.cos(alpha)) / math.pi)
        place = f"bridge, E/Vm={share:g}"
        told = "(Vm sin t - E)/R between a and pi - a, twice the half-wave charger"
        yield Written("charger", place, "Idc/(Vm/R)", mean, "1", RASHID, told)
        yield Written("charger", place, "Irms/(Vm/R)", rms, "1", RASHID, told)
        yield Written("charger", place, "conduction angle", 180.0 - 2.0 * math.degrees(alpha), "deg", RASHID, told)
    place = "worked example: one diode, 60 V 60 Hz, E=12 V, R=4.26 ohm"
    told = "example 3.3 of a 100 Wh battery, from memory, 90 % sure; it follows from the formulas above"
    yield Written("charger", place, "mean current", 5.0, "A", RASHID, told, "memory")
    yield Written("charger", place, "conduction angle", 163.74, "deg", RASHID, told, "memory")
    yield Written("charger", place, "heat in the resistor", 286.4, "W", RASHID, told, "memory")
    yield Written("charger", place, "efficiency", 0.1732, "1", RASHID, told, "memory")
