"""An arc that burns all the time on a source with a resistance: the rows of ``weldsim/data/reference/open_arc.csv``.

H contact tube to work, g the gap, L = H - g the extension, v the feed, U and R of the source; the wire's resistivity
rho is the least that may be written.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from scipy.integrate import quad
from scipy.optimize import brentq

from tests.reference.written.rows import Written

LESNEWICH = "A. Lesnewich, Control of melting rate, Welding Journal 37, 1958"

VOLTS, RESISTANCE, ARC, GRADIENT, HEIGHT = 45.0, 0.1, 20.0, 1.0, 25.0  # [V], [ohm], [V], [V/mm], [mm]
WIRE = 0.05e-6 * 1e-3 / (math.pi * 0.6e-3**2)  # [ohm/mm] of 1.2 mm
ALPHA = 0.3  # [mm/(A s)]
FORM = "v = alpha I + beta L I^2 (form from memory, 90 %), U = (R + rho L/A) I + U_a + G g"


def current(gap: float) -> float:
    """That the source gives an arc of a length [mm]."""
    return (VOLTS - ARC - GRADIENT * gap) / (RESISTANCE + WIRE * (HEIGHT - gap))


def melting(gap: float, beta: float) -> float:
    """Speed at which the end melts back [mm/s]."""
    return ALPHA * current(gap) + beta * (HEIGHT - gap) * current(gap) ** 2


def rows() -> Iterator[Written]:
    """All of them."""
    for feed, beta in ((3.0, 5e-5), (4.0, 5e-5), (5.0, 5e-5), (3.0, 0.0), (4.0, 0.0)):
        speed = feed * 1e3 / 60.0
        gap = brentq(lambda at, beta=beta, speed=speed: melting(at, beta) - speed, 0.0, 24.0, xtol=1e-13)
        place = f"1.2 mm, alpha=0.3 mm/(A s), beta={beta:g} 1/(A2 s), feed={feed:g} m/min"
        yield Written("open_arc", place, "current", current(gap), "A", LESNEWICH, FORM, "memory")
        yield Written("open_arc", place, "arc length", gap, "mm", LESNEWICH, FORM, "memory")
        for begin, end in ((4.0, 5.0), (5.0, 7.0), (0.5 * (4.0 + gap), 0.1 * 4.0 + 0.9 * gap)):
            if begin < end < gap:
                begins, ends = round(begin, 1), round(end, 1)
                time, _ = quad(
                    lambda at, beta=beta, speed=speed: 1.0 / (melting(at, beta) - speed), begins, ends, epsrel=1e-11
                )
                told = f"dg/dt = alpha I + beta L I^2 - v by quadrature; {FORM}"
                quantity = f"time from {begins:g} to {ends:g} mm"
                yield Written("open_arc", place, quantity, time, "s", LESNEWICH, told, "memory")
