"""Transformers read on a bench, captures of a chopped current: the rows of ``weldsim/data/reference/identified.csv``.

A transformer is its equivalent circuit, straight and solved with complex numbers without load and shorted; what meters
show there stands in the condition, the parts of the circuit are the values to be found.  A capture is the closed form
of ``pair.py``, sampled.  Nothing of weldsim is imported.
"""

import cmath
import math
from collections.abc import Iterator
from dataclasses import dataclass

from tests.reference.written.pair import CREST, RASHID
from tests.reference.written.rows import Written

TESTS = "S. J. Chapman, Electric Machinery Fundamentals (open-circuit and short-circuit test)"
BIRD = "J. Bird, Electrical Circuit Theory and Technology"
WARMING = 0.00393  # per kelvin from 20 degC, copper (IEC 60028)


@dataclass(frozen=True)
class Made:
    """A transformer and its tests; each winding has half of the leakage."""

    volts: float
    frequency: float
    ratio: float
    first: float  # resistances at 20 degC [ohm]
    second: float
    leakage: float  # of both, from the primary [H]
    loss: float  # [ohm]
    magnetising: float  # [H]
    shorted: float  # [V]
    temperature: float = 20.0  # [degC]


MADE = {
    "isolating transformer": Made(230.0, 50.0, 8.0, 0.6, 8e-3, 3e-3, 1800.0, 1.2, 10.0),
    "transformer with shunts": Made(230.0, 50.0, 10.5, 1.2, 4e-3, 33e-3, 900.0, 0.6, 45.0),
    "60 Hz, warm": Made(120.0, 60.0, 5.0, 0.25, 9e-3, 1e-3, 500.0, 0.4, 8.0, 70.0),
    "400 V, little copper": Made(400.0, 50.0, 16.0, 0.3, 1.2e-3, 6e-3, 2500.0, 2.5, 20.0),
}
TRACES = ((100.0, 30.0), (75.0, 45.0))  # firing delay, load angle [deg]
IMPEDANCE, SAMPLES = 20.0, 400  # [ohm]; of a period


def rows() -> Iterator[Written]:
    """All of them."""
    for name, made in MADE.items():
        yield from _bench(name, made)
    place = "Bird problem 20.7: U0=240 V, I0=0.8 A, P0=72 W, U2=24 V, f=50 Hz"
    for quantity, value in (("core-loss current", 0.3), ("magnetising current", 0.7416198487095663)):
        yield Written("identified", place, quantity, value, "A", BIRD, "companion file read", "published")
    for delay, phi in TRACES:
        yield from _trace(delay, phi)


def _bench(name: str, made: Made) -> Iterator[Written]:
    """Readings by the circuit of a transformer; resistances grow with its temperature."""
    omega, warm = 2.0 * math.pi * made.frequency, 1.0 + WARMING * (made.temperature - 20.0)
    primary = complex(made.first * warm, 0.5 * omega * made.leakage)
    secondary = complex(made.second * made.ratio**2 * warm, 0.5 * omega * made.leakage)
    branch = 1.0 / (1.0 / made.loss + 1.0 / complex(0.0, omega * made.magnetising))
    idle = made.volts / (primary + branch)
    into = made.shorted / (primary + 1.0 / (1.0 / branch + 1.0 / secondary))
    read = {
        "U0": (made.volts, "V"),
        "I0": (abs(idle), "A"),
        "P0": ((made.volts * idle.conjugate()).real, "W"),
        "U2": (abs(idle * branch) / made.ratio, "V"),
        "Uk": (made.shorted, "V"),
        "Ik": (abs(into), "A"),
        "Pk": ((made.shorted * into.conjugate()).real, "W"),
        "R1": (made.first * warm, "ohm"),
        "R2": (made.second * warm, "ohm"),
        "f": (made.frequency, "Hz"),
        "T": (made.temperature, "degC"),
    }
    place = f"{name}: " + ", ".join(f"{key}={value:.9g} {unit}" for key, (value, unit) in read.items())
    told = "equivalent circuit with half of the leakage on either side, without load and shorted, complex numbers"
    for quantity, value, unit in (
        ("ratio", made.ratio, "1"),
        ("primary resistance at 20 degC", made.first, "ohm"),
        ("secondary resistance at 20 degC", made.second, "ohm"),
        ("leakage at the secondary", made.leakage / made.ratio**2, "H"),
        ("loss resistance", made.loss, "ohm"),
        ("magnetising inductance", made.magnetising, "H"),
    ):
        yield Written("identified", place, quantity, value, unit, TESTS, told)


def _trace(delay: float, phi: float) -> Iterator[Written]:
    """Samples of the current of a choke with resistance behind a pair, then what it was made with."""
    place, told = f"phi={phi:g} deg, alpha={delay:g} deg", "sin(t - phi) - sin(a - phi) exp(-(t - a)/tan phi)"
    alpha, angle = math.radians(delay), math.radians(phi)
    for number in range(SAMPLES):
        at = 2.0 * math.pi * number / SAMPLES
        since = (at - alpha) % math.pi  # half waves are alike but for their sign
        sign = 1.0 if (at - alpha) % (2.0 * math.pi) < math.pi else -1.0
        value = math.sin(since + alpha - angle) - math.sin(alpha - angle) * math.exp(-since / math.tan(angle))
        value = sign * CREST / IMPEDANCE * max(value, 0.0)
        yield Written("capture", place, f"i at {number}/{SAMPLES} period", value, "A", RASHID, told)
    whole = cmath.rect(IMPEDANCE, angle)
    for quantity, value, unit in (
        ("remainder, as it is", 0.0, "1"),
        ("firing delay, written 9 deg later", delay, "deg"),
        ("mains inductance, written half", whole.imag / (100.0 * math.pi), "H"),
        ("load resistance, written half as much again", whole.real, "ohm"),
    ):
        yield Written("compared", place, quantity, value, unit, RASHID, told)
