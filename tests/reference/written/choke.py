"""Closed forms of a choke on a core with a gap: the rows of ``weldsim/data/reference/choke.csv``.

Iron of the books costs no ampere turns, but in the example that gives its permeability.  Nothing of weldsim is
imported.
"""

import math
from collections.abc import Iterator

from tests.reference.written.rows import Written

FITZGERALD = "A. E. Fitzgerald, C. Kingsley, S. D. Umans, Electric Machinery (magnetic circuits)"
ERICKSON = "R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics (inductor design)"

MU_0 = 4e-7 * math.pi
CORES = (
    (20, 25.0, 3.0, 0.3),
    (40, 25.0, 3.0, 0.3),
    (30, 9.0, 2.0, 0.15),
    (60, 9.0, 4.0, 0.15),
    (34, 20.0, 6.0, 0.3),
)  # turns, cm2, mm, m; all gaps are 1 % and more of the path
DESIGNS = ((0.3e-3, 260.0, 20.0), (0.3e-3, 260.0, 40.0), (0.15e-3, 400.0, 25.0), (1e-3, 100.0, 16.0))  # H, A, cm2


def reluctance(section: float, gap: float) -> float:
    """Of the gap, a square leg's section grown by its length in each direction [1/H]."""
    return gap / (MU_0 * (math.sqrt(section) + gap) ** 2)


def rows() -> Iterator[Written]:
    """All of them."""
    for turns, square_cm, millimetres, path in CORES:
        section, gap = 1e-4 * square_cm, 1e-3 * millimetres
        place = f"N={turns}, A={square_cm:g} cm2, g={millimetres:g} mm, l={path:g} m"
        told = "L = N^2 mu0 A_g/g, A_g a square section with the gap's length added to both sides"
        inductance = turns**2 / reluctance(section, gap)
        yield Written("gapped_core", place, "inductance at small current", inductance, "H", FITZGERALD, told)
        current = 1.2 * section * reluctance(section, gap) / turns
        told = "N i = B A g/(mu0 A_g), no ampere turns in the iron"
        yield Written("gapped_core", f"{place}, B=1.2 T", "current", current, "A", FITZGERALD, told)
    told = "worked example: 500 turns, 9 cm2, 0.5 mm, 30 cm of iron of 70000 mu0; from memory, 95 % sure"
    place = "Fitzgerald example, N=500, A=9 cm2, g=0.5 mm, l=0.3 m"
    yield Written("gapped_core", f"{place}, B=1 T", "current", 0.80, "A", FITZGERALD, told, "memory")
    yield Written("gapped_core", place, "inductance at small current", 0.561, "H", FITZGERALD, told, "memory")
    for henries, current, square_cm in DESIGNS:
        place = f"designed for L={1e3 * henries:g} mH at I={current:g} A, A={square_cm:g} cm2"
        told = "n B A = L I"
        yield Written("choke_design", place, "volt-seconds at the current", henries * current, "V.s", ERICKSON, told)
        told = "what was asked for"
        yield Written("choke_design", place, "inductance at the current", henries, "H", ERICKSON, told)
