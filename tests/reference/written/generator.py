"""Closed forms of a generator under load: the rows of ``weldsim/data/reference/generator.csv``.

E its emf, R + jX its impedance, V the rated voltage, Z the load's impedance.  Nothing of weldsim is imported.
"""

import cmath
import math
from collections.abc import Iterator

from scipy.integrate import quad
from scipy.optimize import brentq

from tests.reference.written.rows import Written

CHAPMAN = "S. J. Chapman, Electric Machinery Fundamentals (synchronous generators)"
NISE = "N. S. Nise, Control Systems Engineering (first-order system)"
RASHID = "M. H. Rashid, Power Electronics (AC voltage controllers, R-L load)"

VOLTAGE, FREQUENCY = 230.0, 50.0
OMEGA = 2.0 * math.pi * FREQUENCY
MACHINES = {"R=0.6 ohm, L=3 mH": complex(0.6, OMEGA * 3e-3), "R=2 ohm, L=0 mH": complex(2.0, 0.0)}
LOADS = {"10 ohm": complex(10.0, 0.0), "8 ohm, 20 mH": complex(8.0, OMEGA * 20e-3), "30 ohm": complex(30.0, 0.0)}
REACTANCES = {30.0: (60.0, 90.0, 120.0), 45.0: (60.0, 90.0, 120.0)}  # load angle of the whole circuit: delays [deg]


def rows() -> Iterator[Written]:
    """All of them."""
    for machine, inner in MACHINES.items():
        for load, outer in LOADS.items():
            yield from _loaded(f"{machine}, load {load}", inner, outer)
    yield from _steps()
    for phi, delays in REACTANCES.items():
        for delay in delays:
            yield from _distorted(phi, delay)


def _loaded(place: str, inner: complex, outer: complex) -> Iterator[Written]:
    share = abs(outer) / abs(outer + inner)
    told = "phasors in series: V = E Z/(Z + R + jX); regulation (V_nl - V_fl)/V_fl"
    bare = f"no regulator, {place}"
    yield Written("generator", bare, "terminal voltage", VOLTAGE * share, "V", CHAPMAN, told)
    yield Written("generator", bare, "voltage regulation", 1.0 / share - 1.0, "1", CHAPMAN, told)
    lag = math.degrees(cmath.phase(outer + inner))
    if lag:
        yield Written("generator", bare, "current behind its emf", lag, "deg", CHAPMAN, "phase of Z + R + jX")
    told = "E = V + I (R + jX), V held at its rated value"
    yield Written("generator", f"regulated, {place}", "emf", VOLTAGE / share, "V", CHAPMAN, told)
    apparent = VOLTAGE**2 / abs(outer)
    yield Written("generator", f"regulated, {place}", "apparent power", apparent, "VA", CHAPMAN, "S = V^2/|Z|")
    low = f"ceiling=1.05, {place}"
    held = min(1.0, 1.05 * share)
    told = "V = E Z/(Z + R + jX) with E at its ceiling of 1.05 V, where V is not reached below it"
    yield Written("generator", low, "terminal voltage", VOLTAGE * held, "V", CHAPMAN, told)


def _steps() -> Iterator[Written]:
    """An integrator of time constant T with the share a of its emf fed back: 1 + (a - 1) exp(-a t/T)."""
    inner, lag = 2.0, 1.0
    for outer in (10.0, 5.0):
        share = outer / (outer + inner)
        for time in (0.0, 0.2, 0.5, 1.0, 2.0):
            yield Written(
                "generator",
                f"step of load, R=2 ohm, L=0 mH, load {outer:g} ohm, regulator 1 s, t={time:g} s",
                "terminal voltage",
                VOLTAGE * (1.0 + (share - 1.0) * math.exp(-share * time / lag)),
                "V",
                NISE,
                "T dE/dt = V_set - a E, a = Z/(Z + R): a first-order lag of T/a",
            )


def _distorted(phi: float, delay: float) -> Iterator[Written]:
    """A phase-controlled resistor behind wL alone: the circuit of the controller with R-L load; V_n = n w L I_n."""
    tangent, alpha = math.tan(math.radians(phi)), math.radians(delay)
    angle = math.radians(phi)

    def current(at: float) -> float:  # in units of Vm/Z
        return math.sin(at - angle) - math.sin(alpha - angle) * math.exp(-(at - alpha) / tangent)

    end = brentq(current, alpha + 0.2, alpha + math.pi, xtol=1e-14)
    for order in (3, 5, 7):
        real, _ = quad(current, alpha, end, weight="cos", wvar=order)
        imaginary, _ = quad(current, alpha, end, weight="sin", wvar=order)
        size = 2.0 / math.pi * math.hypot(real, imaginary)
        yield Written(
            "generator",
            f"controller on 10 ohm behind an inductance, phi={phi:g} deg, alpha={delay:g} deg",
            f"terminal voltage, harmonic {order}/emf",
            order * math.sin(angle) * size,
            "1",
            RASHID,
            "n w L times the current's harmonic, the current's closed form integrated by quadrature",
        )
