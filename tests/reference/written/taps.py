"""Taps of a primary, and the delay that gives the same output: the rows of ``weldsim/data/reference/taps.csv``.

Seen from the secondary, more turns of the same wire lower the voltage; their resistance goes with the turns over the
turns squared, their leakage with nothing.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from scipy.optimize import brentq

from tests.reference.written.pair import OMEGA, RASHID, cut
from tests.reference.written.rows import Written

REFERRED = "S. J. Chapman, Electric Machinery Fundamentals (transformers, impedances referred to one side)"
STEP, TAPS = 1.08, range(1, 14, 2)
VOLTAGE, SECONDARY = 230.0, 46.0  # [V] at no load
PRIMARY_OHMS, PRIMARY_HENRIES, SECONDARY_OHMS, SECONDARY_HENRIES, LOAD = 0.5, 8e-3, 10e-3, 20e-6, 0.4


def impedance(factor: float) -> tuple[float, float, float]:
    """Ratio of a tap, resistance and reactance of its circuit seen from the secondary [1, ohm, ohm]."""
    ratio = SECONDARY / VOLTAGE / factor
    ohms = LOAD + SECONDARY_OHMS + PRIMARY_OHMS * factor * ratio**2
    return ratio, ohms, OMEGA * (SECONDARY_HENRIES + PRIMARY_HENRIES * factor**2 * ratio**2)


def rows() -> Iterator[Written]:
    """All of them."""
    whole, whole_ohms, whole_reactance = impedance(1.0)
    size, phi = math.hypot(whole_ohms, whole_reactance), math.atan2(whole_reactance, whole_ohms)
    for number in TAPS:
        factor = STEP**number
        ratio, ohms, reactance = impedance(factor)
        output = VOLTAGE * ratio / math.hypot(ohms, reactance)
        place, told = f"turns=1.08^{number}", "V/(n Z), Z = R + R2 + R1 f/n^2 + jw (L2 + L1 f^2/n^2)"
        yield Written("taps", place, "output current", output, "A", REFERRED, told)
        yield Written("taps", place, "output swing", 2.0 * math.sqrt(2.0) * output, "A", REFERRED, told)
        yield Written("taps", place, "primary current", output * ratio, "A", REFERRED, told)
        yield Written("taps", place, "power factor", ohms / math.hypot(ohms, reactance), "1", REFERRED, told)
        share = output * size / (VOLTAGE * whole * math.sqrt(2.0))  # rms over Vm/Z of the circuit without taps
        alpha = brentq(lambda at, share=share: cut(at, phi)[1] - share, phi + 1e-3, 0.85 * math.pi, xtol=1e-13)
        told = "delay whose current through R and L has the same rms"
        yield Written("taps", place, "delay of the same output", math.degrees(alpha), "deg", RASHID, told)
        yield Written("taps", place, "primary current with the dial", output * whole, "A", RASHID, told)
        power = output * whole_ohms / (VOLTAGE * whole)
        yield Written("taps", place, "power factor with the dial", power, "1", RASHID, "I^2 R/(V I1)")
