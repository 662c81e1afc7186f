"""Closed forms of a thyristor pair on a choke with resistance: the rows of ``weldsim/data/reference/pair.csv``.

Delays of 30 and 50 degrees on both sides of the load angle phi, and devices that let go below a holding current.
Nothing of weldsim is imported.
"""

import math
from collections.abc import Callable, Iterator

from scipy.integrate import quad
from scipy.optimize import brentq

from tests.reference.written.rows import Written

RASHID = "M. H. Rashid, Power Electronics (AC voltage controllers, R-L load)"
PIECEWISE = (
    "R-L circuit with a device's straight lines, solved piece by piece (Mohan, Undeland, Robbins, ideal switches)"
)

DEVICES = ("thyristor pair", "triac")
LATER = {30.0: (15.0, 25.0), 50.0: (15.0, 30.0, 45.0)}  # delay: load angles below it [deg]
EARLIER = {30.0: (45.0, 60.0, 75.0), 50.0: (60.0, 75.0)}  # above it
CREST, OMEGA = math.sqrt(2.0) * 230.0, 100.0 * math.pi


def rows() -> Iterator[Written]:
    """All of them."""
    for device in DEVICES:
        for delay, angles in LATER.items():
            for phi in angles:
                yield from _cut(f"{device}, phi={phi:g} deg, alpha={delay:g} deg", math.radians(phi), delay)
        for delay, angles in EARLIER.items():
            for phi in angles:
                yield from _whole(f"{device}, lasting pulses, phi={phi:g} deg, alpha={delay:g} deg", math.radians(phi))
    for delay, angles in EARLIER.items():
        for phi in angles:
            yield from _holding(phi, delay)


def cut(alpha: float, phi: float) -> tuple[float, float]:
    """Extinction angle [rad], and rms current over Vm/Z, of a delay beyond the load angle [rad]."""

    def current(at: float) -> float:  # of Vm/Z
        return math.sin(at - phi) - math.sin(alpha - phi) * math.exp(-(at - alpha) / math.tan(phi))

    beta = brentq(current, alpha + 0.3, alpha + math.pi, xtol=1e-14)
    gamma = beta - alpha
    square = (gamma - math.sin(gamma) * math.cos(2.0 * alpha + phi + gamma) / math.cos(phi)) / (2.0 * math.pi)
    return beta, math.sqrt(square)


def _cut(place: str, phi: float, delay: float) -> Iterator[Written]:
    """Section 1.2 of any text: extinction, means, rms."""
    alpha = math.radians(delay)
    beta, rms = cut(alpha, phi)
    gamma = beta - alpha
    mean = (math.cos(alpha) - math.cos(beta)) / (2.0 * math.pi * math.cos(phi))
    volts = math.sqrt((gamma + 0.5 * (math.sin(2.0 * alpha) - math.sin(2.0 * beta))) / math.pi)
    told = "sin(b - phi) = sin(a - phi) exp(-(b - a)/tan phi), and the integrals of its current"
    for quantity, value, unit in (
        ("extinction angle beta", math.degrees(beta), "deg"),
        ("I_rms/(Vm/Z)", rms, "1"),
        ("thyristor mean/(Vm/Z)", mean, "1"),
        ("Vo_rms/V", volts, "1"),
        ("power factor", math.sqrt(2.0) * rms * math.cos(phi), "1"),
    ):
        yield Written("pair", place, quantity, value, unit, RASHID, told)


def _whole(place: str, phi: float) -> Iterator[Written]:
    """At a <= phi the output is the whole sine."""
    told = "a <= phi and pulses that last: conduction is complete, further advance changes nothing"
    yield Written("pair", place, "I_rms/(Vm/Z)", math.sqrt(0.5), "1", RASHID, told)
    yield Written("pair", place, "power factor", math.cos(phi), "1", RASHID, told)


def _holding(phi: float, delay: float, resistance: float = 10.0) -> Iterator[Written]:
    """1 V and 12 mohm; off below 50 mA, then 200 kohm until the other device, gated long since, sees 1 V.

    Settled where a half cycle begins as the one before it, turned round.
    """
    henries = resistance * math.tan(math.radians(phi)) / OMEGA
    begin, first = math.radians(phi) / OMEGA, 0.0
    for _ in range(200):
        on = _piece(resistance + 12e-3, henries, 1.0, (begin, first))
        off_at = brentq(lambda time, on=on: on(time) - 50e-3, begin + 3e-3, begin + 11e-3, xtol=1e-15)
        off = _piece(resistance + 200e3, henries, 0.0, (off_at, 50e-3))
        end = brentq(lambda time, off=off: 200e3 * off(time) + 1.0, off_at, off_at + 1e-4, xtol=1e-16)
        before, begin, first = begin, end - 0.01, -off(end)
        if abs(begin - before) < 1e-15:
            break
    square = quad(lambda time: on(time) ** 2, begin, off_at, epsrel=1e-12)[0]
    square += quad(lambda time: off(time) ** 2, off_at, end, epsrel=1e-9)[0]
    place = f"thyristor pair, 1 V and 12 mohm, holding 50 mA, R=10 ohm, phi={phi:g} deg, alpha={delay:g} deg"
    told = "half cycles of three exponential pieces, repeated until they settle; the pulse lasts"
    yield Written("pair", place, "I_rms", math.sqrt(square / 0.01), "A", PIECEWISE, told)


def _piece(resistance: float, henries: float, drop: float, start: tuple[float, float]) -> Callable[[float], float]:
    """Current of a sine less a drop through R and L, from an instant and a current on."""
    impedance, angle = math.hypot(resistance, OMEGA * henries), math.atan2(OMEGA * henries, resistance)

    def forced(time: float) -> float:
        return CREST / impedance * math.sin(OMEGA * time - angle) - drop / resistance

    at, current = start

    def value(time: float) -> float:
        return forced(time) + (current - forced(at)) * math.exp(-(time - at) * resistance / henries)

    return value
