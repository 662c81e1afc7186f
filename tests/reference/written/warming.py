"""Bodies that losses warm, and the duty they bear: the rows of ``weldsim/data/reference/warming.csv``.

Losses by quadrature of the current on resistors.  One body that gives its heat to the air, and whose copper takes a
share a more per kelvin, goes to T_air + R P_air/(1 - k), k = R a P, with the time constant tau/(1 - k).  Nothing of
weldsim is imported.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from scipy.integrate import quad
from scipy.optimize import brentq

from tests.reference.written.rows import Written

BODY = "J. P. Holman, Heat Transfer (lumped capacity), duty over ten minutes as in IEC 60974-1"
RASHID = "M. H. Rashid, Power Electronics (AC voltage controllers, losses of devices)"
CYCLE, MINUTE = 600.0, 60.0  # [s]
VOLTAGE, CREST = 230.0, 230.0 * math.sqrt(2.0)
COPPER = 0.00393  # [1/K] of the value at 20 degC
RATIO, PRIMARY, SECONDARY = 10.0, 0.5, 10e-3  # windings: 1, ohm, ohm
THRESHOLD, SLOPE = 1.0, 12e-3  # device: V, ohm
# Load [ohm], thermal resistance [K/W], time constant [s], air and limit [degC]
WINDINGS = ((0.15, 0.6, 780.0, 25.0, 130.0), (0.25, 1.0, 900.0, 40.0, 155.0), (0.45, 0.3, 600.0, 10.0, 120.0))
# Delay [deg], load [ohm], thermal resistance, time constant, air, limit
SINKS = ((30.0, 8.0, 3.0, 120.0, 25.0, 85.0), (75.0, 6.0, 3.5, 200.0, 35.0, 85.0), (120.0, 10.0, 1.5, 90.0, 20.0, 70.0))


@dataclass(frozen=True)
class Heated:
    """A loss ``heat`` [W] at 20 degC that grows by ``growth`` [1/K]; the rest as in the rows above."""

    heat: float
    growth: float
    to_air: float
    time: float
    air: float
    limit: float

    @property
    def end(self) -> float:
        """Where it goes [degC], beyond all bounds below zero where copper takes more than the air takes away."""
        return self.air + self.to_air * self.heat * (1.0 + self.growth * (self.air - 20.0)) / self.left

    @property
    def left(self) -> float:
        """1 - k."""
        return 1.0 - self.to_air * self.growth * self.heat

    def welded(self, begin: float, duration: float) -> float:
        """Temperature after welding."""
        return self.end + (begin - self.end) * math.exp(-self.left * duration / self.time)

    def rested(self, begin: float, duration: float) -> float:
        """Temperature after resting."""
        return self.air + (begin - self.air) * math.exp(-duration / self.time)

    def lasts(self) -> float:
        """Time from the air's temperature to the limit [s]."""
        return self.time / self.left * math.log((self.air - self.end) / (self.limit - self.end))

    def duty(self) -> float:
        """Share of each cycle after which it stands at its limit, cycle after cycle."""

        def over(share: float) -> float:
            return self.welded(self.rested(self.limit, (1.0 - share) * CYCLE), share * CYCLE) - self.limit

        return brentq(over, 1e-6, 1.0, xtol=1e-14)

    def rest(self) -> float:
        """Rest at the limit [s] after which a minute of welding leads back there."""
        begin = self.end + (self.limit - self.end) * math.exp(self.left * MINUTE / self.time)
        return self.time * math.log((self.limit - self.air) / (begin - self.air))


def rows() -> Iterator[Written]:
    """All of them."""
    for load, to_air, time, air, limit in WINDINGS:
        ohms = SECONDARY + PRIMARY / RATIO**2
        heat = ohms * (VOLTAGE / RATIO / (load + ohms)) ** 2
        place = f"winding, load={load:g} ohm, {_cooling(to_air, time, air, limit)}"
        yield Written("windings", place, "heat", heat, "W", BODY, "I^2 R of both windings at 20 degC")
        yield from _told("windings", place, Heated(heat, COPPER, to_air, time, air, limit))
    for delay, load, to_air, time, air, limit in SINKS:
        heat = _device_loss(math.radians(delay), load)
        place = f"heat sink, alpha={delay:g} deg, load={load:g} ohm, {_cooling(to_air, time, air, limit)}"
        told = "quadrature of (V0 + r i) i over the current of the resistor"
        yield Written("heat_sinks", place, "heat", heat, "W", RASHID, told)
        yield from _told("heat_sinks", place, Heated(heat, 0.0, to_air, time, air, limit))


def _cooling(to_air: float, time: float, air: float, limit: float) -> str:
    return f"cooling={to_air:g} K/W, tau={time:g} s, air={air:g} degC, limit={limit:g} degC"


def _told(check: str, place: str, body: Heated) -> Iterator[Written]:
    if body.left > 0.0 and body.end <= body.limit:
        yield Written(check, place, "settled", body.end, "degC", BODY, "T_air + R P/(1 - R a P)")
        return
    yield Written(check, place, "time to the limit", body.lasts(), "s", BODY, "exponential with tau/(1 - R a P)")
    yield Written(check, place, "duty", body.duty(), "1", BODY, "ten minutes that end where they began, root of")
    yield Written(check, place, "rest before a minute", body.rest(), "s", BODY, "backward over a minute, then rest")


def _device_loss(alpha: float, load: float) -> float:
    """Mean loss of a device with threshold and slope [W]: it conducts until the mains are down to its threshold."""
    last = math.pi - math.asin(THRESHOLD / CREST)

    def power(angle: float) -> float:
        current = (CREST * math.sin(angle) - THRESHOLD) / (load + SLOPE)
        return (THRESHOLD + SLOPE * current) * current

    return quad(power, alpha, last, epsabs=1e-12, epsrel=1e-13)[0] / math.pi
