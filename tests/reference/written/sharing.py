"""Two transformers on one load, by phasors: the rows of ``weldsim/data/reference/sharing.csv``.

Each is a voltage behind an impedance (seen from its secondary, with its primary on the mains), or, where the primaries
share the mains, a pair of windings around one flux.  Kirchhoff's laws for the four joins, solved by hand; nothing of
weldsim is imported.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from tests.reference.written.rows import Written

MACHINES = "Kirchhoff's laws on the equivalent circuits of both (as in the texts on transformers in parallel)"
VOLTAGE, OMEGA, PRIMARY_TURNS = 230.0, 100.0 * math.pi, 240
PRIMARY = complex(1.2, OMEGA * 3e-3)  # [ohm] of each primary
CORES = ((4.0, 900.0), (2.5, 700.0))  # [H, ohm] magnetising inductance and loss resistance of straight cores


@dataclass(frozen=True)
class Pair:
    """Turns, resistance [mohm] and leakage [uH] of both secondaries, load [ohm, mH] and mains [ohm, mH]."""

    turns: tuple[int, int] = (20, 20)
    ohms: tuple[float, float] = (8.0, 8.0)
    henries: tuple[float, float] = (25.0, 25.0)
    load: tuple[float, float] = (0.3, 0.0)
    mains: tuple[float, float] = (0.0, 0.0)
    backward: bool = False

    @property
    def words(self) -> str:
        """As a condition."""
        parts = [
            f"n1={self.turns[0]}, n2={self.turns[1]}, r1={self.ohms[0]:g} mohm, r2={self.ohms[1]:g} mohm",
            f"l1={self.henries[0]:g} uH, l2={self.henries[1]:g} uH, R={self.load[0]:g} ohm, L={self.load[1]:g} mH",
            f"Rm={self.mains[0]:g} ohm, Lm={self.mains[1]:g} mH",
        ]
        return ", ".join(parts) + ", the second reversed" * self.backward

    @property
    def ratios(self) -> tuple[float, float]:
        """Secondary over primary turns, negative the wrong way round."""
        return self.turns[0] / PRIMARY_TURNS, (-1.0 if self.backward else 1.0) * self.turns[1] / PRIMARY_TURNS

    @property
    def secondaries(self) -> tuple[complex, complex]:
        """Impedance of each secondary alone [ohm]."""
        first, second = (complex(1e-3 * self.ohms[k], OMEGA * 1e-6 * self.henries[k]) for k in (0, 1))
        return first, second

    @property
    def whole(self) -> tuple[complex, complex]:
        """Impedance of each seen from its secondary [ohm]."""
        first, second = (z + PRIMARY * a**2 for z, a in zip(self.secondaries, self.ratios, strict=True))
        return first, second

    @property
    def on_the_output(self) -> complex:
        """Load [ohm]."""
        return complex(self.load[0], OMEGA * 1e-3 * self.load[1])

    @property
    def of_the_mains(self) -> complex:
        """Mains [ohm]."""
        return complex(self.mains[0], OMEGA * 1e-3 * self.mains[1])


ALL_PARALLEL = (
    Pair(ohms=(8.0, 20.0), henries=(25.0, 60.0)),
    Pair(turns=(20, 19)),
    Pair(turns=(20, 19), ohms=(8.0, 6.0), load=(0.2, 0.5)),
    Pair(turns=(20, 18), ohms=(8.0, 20.0), mains=(0.3, 0.35)),
    Pair(backward=True),
)
ADDED = (Pair(turns=(18, 17)), Pair(turns=(18, 17), ohms=(8.0, 30.0), load=(0.2, 0.5), mains=(0.3, 0.35)))
SHARED_MAINS = (Pair(turns=(20, 16)), Pair(turns=(20, 20), ohms=(8.0, 40.0), load=(0.2, 0.5)))
ALL_SERIES = (Pair(), Pair(turns=(20, 18), ohms=(8.0, 12.0), load=(0.6, 0.0)))


def rows() -> Iterator[Written]:
    """All of them."""
    for pair in ALL_PARALLEL:
        yield from _all_parallel(pair)
    for pair in ADDED:
        yield from _added(pair)
    yield from _taken_away(Pair(turns=(20, 17), backward=True))
    for pair in SHARED_MAINS:
        yield from _shared_mains(pair)
    for pair in ALL_SERIES:
        yield from _all_series(pair)


def _row(place: str, quantity: str, value: float, unit: str, told: str) -> Written:
    return Written("sharing", place, quantity, value, unit, MACHINES, told)


def _currents(place: str, currents: tuple[complex, complex], told: str) -> Iterator[Written]:
    """What each carries, and the shares of an even one."""
    together = abs(sum(currents))
    for which, current in zip(("first", "second"), currents, strict=True):
        yield _row(place, f"{which} current", abs(current), "A", told)
        if together > 0.02 * sum(map(abs, currents)):
            yield _row(place, f"{which} share", abs(current) / (0.5 * together), "1", told)


def parallel(pair: Pair, admittance: complex) -> tuple[tuple[complex, complex], complex]:
    """Currents of both secondaries, and the output's voltage, with an admittance on the output [A, V].

    I_k = (a_k U - V) / Z_k, V G = I_1 + I_2, U = U_0 - Z_m (a_1 I_1 + a_2 I_2).
    """
    a, z = pair.ratios, pair.whole
    one = sum(x / y for x, y in zip(a, z, strict=True))  # sum of a/Z
    two = sum(x * x / y for x, y in zip(a, z, strict=True))  # sum of a^2/Z
    gain = one / (admittance + sum(1.0 / y for y in z))
    volts = VOLTAGE / (1.0 + pair.of_the_mains * (two - gain * one))
    first, second = ((x * volts - gain * volts) / y for x, y in zip(a, z, strict=True))
    return (first, second), gain * volts


def _all_parallel(pair: Pair) -> Iterator[Written]:
    """Textbook case of unequal impedances, and of unequal volts, which drive a current round the loop."""
    place = f"parallel/parallel, {pair.words}"
    told = "I1 = (a1 U - V)/Z1, I2 = (a2 U - V)/Z2, V = Z (I1 + I2)"
    (first, _), volts = parallel(pair, 0j)
    loop = "(E1 - E2)/(Z1 + Z2), from the volts at the primaries"
    if pair.turns[0] != pair.turns[1] or pair.backward:
        yield _row(place, "current round the loop without load", abs(first), "A", loop)
    if not pair.backward:
        yield _row(place, "voltage without load", abs(volts), "V", "(E1 Z2 + E2 Z1)/(Z1 + Z2)")
        currents, volts = parallel(pair, 1.0 / pair.on_the_output)
        yield from _currents(place, currents, told)
        yield _row(place, "load current", abs(sum(currents)), "A", told)
        for which, current, ohms, ratio in zip(("first", "second"), currents, pair.ohms, pair.ratios, strict=True):
            copper = abs(current) ** 2 * (1e-3 * ohms + PRIMARY.real * ratio**2)
            yield _row(place, f"{which} copper loss", copper, "W", "I^2 (R2 + R1 a^2)")


def _added(pair: Pair) -> Iterator[Written]:
    """Secondaries in series: one current, and the volts that each keeps."""
    place, a, z = f"parallel/series, {pair.words}", pair.ratios, pair.whole
    told = "I = (a1 + a2) U/(Z1 + Z2 + Z), V1 = a1 U - I Z1; the mains see (a1 + a2)^2"
    seen = (sum(z) + pair.on_the_output) / sum(a) ** 2
    volts = VOLTAGE * seen / (seen + pair.of_the_mains)
    current = sum(a) * volts / (sum(z) + pair.on_the_output)
    yield _row(place, "voltage without load", sum(a) * VOLTAGE, "V", "(a1 + a2) U")
    yield _row(place, "load current", abs(current), "A", told)
    each = [x * volts - current * y for x, y in zip(a, z, strict=True)]
    for which, own in zip(("first", "second"), each, strict=True):
        yield _row(place, f"{which} share", abs(own) / abs(0.5 * sum(each)), "1", told)


def _taken_away(pair: Pair) -> Iterator[Written]:
    """The second the wrong way round: the difference is left."""
    place, current = f"parallel/series, {pair.words}", abs(sum(pair.ratios)) * VOLTAGE
    yield _row(place, "voltage without load", current, "V", "(a1 - a2) U")
    current /= abs(sum(pair.whole) + pair.on_the_output)
    yield _row(place, "load current", current, "A", "(a1 - a2) U/(Z1 + Z2 + Z)")


def _shared_mains(pair: Pair) -> Iterator[Written]:
    """Primaries in series carry one current, so that the secondaries' go with the other's turns."""
    place, (a1, a2), (z1, z2) = f"series/parallel, {pair.words}", pair.ratios, pair.secondaries
    place += ", no core"
    told = "Ip = U/(Z11 + Z12 + Z21/a1^2 + Z22/a2^2 + (1/a1 + 1/a2)^2 Z), I1 = Ip/a1, I2 = Ip/a2"
    seen = 2.0 * PRIMARY + z1 / a1**2 + z2 / a2**2 + (1.0 / a1 + 1.0 / a2) ** 2 * pair.on_the_output
    current = VOLTAGE / seen
    yield _row(place, "voltage without load", VOLTAGE / (1.0 / a1 + 1.0 / a2), "V", "U/(1/a1 + 1/a2)")
    yield from _currents(place, (current / a1, current / a2), told)
    yield _row(place, "load current", abs(current * (1.0 / a1 + 1.0 / a2)), "A", told)


def _all_series(pair: Pair) -> Iterator[Written]:
    """One current through both primaries and one through both secondaries: straight cores share by their impedance.

    U = Ip (Z11 + Z12) + M1 (Ip - a1 I) + M2 (Ip - a2 I) and a1 M1 (Ip - a1 I) + a2 M2 (Ip - a2 I) = I (Z21 + Z22 + Z).
    """
    place, a = f"series/series, {pair.words}, L and R of the cores 4 H, 900 ohm and 2.5 H, 700 ohm", pair.ratios
    m = [1.0 / (1.0 / loss + 1.0 / complex(0.0, OMEGA * henries)) for henries, loss in CORES]
    idle = VOLTAGE / (2.0 * PRIMARY + sum(m))
    divider = "U M1/(Z11 + Z12 + M1 + M2), its crest over w; M = R || jwL"
    for which, own in zip(("first", "second"), m, strict=True):
        flux = math.sqrt(2.0) * abs(idle * own) / OMEGA
        yield _row(place, f"flux of the {which} core without load", flux, "V.s", divider)
    both = 2.0 * PRIMARY + sum(m)
    mutual = sum(x * y for x, y in zip(a, m, strict=True))
    output = sum(x * x * y for x, y in zip(a, m, strict=True)) + sum(pair.secondaries) + pair.on_the_output
    primary = VOLTAGE * output / (both * output - mutual**2)
    current = primary * mutual / output
    told = "two meshes, M1 and M2 in common"
    yield _row(place, "load current", abs(current), "A", told)
    for which, x, own in zip(("first", "second"), a, m, strict=True):
        flux = math.sqrt(2.0) * abs(own * (primary - x * current)) / OMEGA
        yield _row(place, f"flux of the {which} core", flux, "V.s", told)
