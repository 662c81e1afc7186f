"""Closed forms of both boosts on plain loads: the rows of ``weldsim/data/reference/boost.csv``.

Winding kind: two rectified sines, of which the smaller has no resistance and the larger a ballast.  Choke kind: an
ideal transformer of ratio n across the choke's inductance L, its second winding rectified and led to the output by a
ballast R_b.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from tests.reference.written.rows import Written

RASHID = "M. H. Rashid, Power Electronics (controlled rectifiers; battery charger)"
MILLMAN = "J. Millman, H. Taub, Pulse, Digital and Switching Waveforms (sources joined by diodes)"
COUPLED = "R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics (coupled inductors); R-L transients"

MAIN, BOOST, BALLAST = 40.0, 80.0, 10.0  # [V] rms, [V] rms, [ohm]
MEAN = 2.0 * math.sqrt(2.0) / math.pi  # of a rectified sine over its rms


def rows() -> Iterator[Written]:
    """All of them."""
    yield from _two_sources()
    yield from _controlled()
    yield from _into_a_battery()
    yield from _switched_on()
    yield from _short_to_arc()


def _two_sources() -> Iterator[Written]:
    place = f"boost of {BOOST:g} V behind {BALLAST:g} ohm, main of {MAIN:g} V"
    told = "the boost alone carries the load where R/(R + R_b) of it is above the main voltage; rectified sines"
    for outer in (100.0, 30.0, 15.0):
        share = outer / (outer + BALLAST)
        where = f"{place}, R={outer:g} ohm"
        current = BOOST / (outer + BALLAST)
        yield Written("winding", where, "output voltage, mean", MEAN * BOOST * share, "V", MILLMAN, told)
        yield Written("winding", where, "output voltage, rms", BOOST * share, "V", MILLMAN, told)
        yield Written("winding", where, "boost current, mean", MEAN * current, "A", MILLMAN, told)
        yield Written("winding", where, "heat in the ballast", BALLAST * current**2, "W", MILLMAN, told)
    told = "the main voltage holds the output, the boost adds (V_boost - V_main)/R_b; means of rectified sines"
    for outer in (5.0, 1.0):
        where, current = f"{place}, R={outer:g} ohm", (BOOST - MAIN) / BALLAST
        yield Written("winding", where, "output voltage, mean", MEAN * MAIN, "V", MILLMAN, told)
        yield Written("winding", where, "boost current, mean", MEAN * current, "A", MILLMAN, told)
        yield Written("winding", where, "rectifier current, mean", MEAN * (MAIN / outer - current), "A", MILLMAN, told)
        yield Written("winding", where, "heat in the ballast", BALLAST * current**2, "W", MILLMAN, told)
    crest, told = math.sqrt(2.0), "no current, no drop: crest of each winding; the diode keeps the boost off the bank"
    where = f"{place}, unloaded, bank behind a blocking diode"
    yield Written("winding", where, "output voltage, largest", crest * BOOST, "V", MILLMAN, told)
    yield Written("winding", where, "bank voltage, mean", crest * MAIN, "V", MILLMAN, told)


def _controlled() -> Iterator[Written]:
    for degrees in (60.0, 90.0, 120.0):
        alpha, share = math.radians(degrees), 30.0 / 40.0
        place = f"boost of {BOOST:g} V behind {BALLAST:g} ohm, main of {MAIN:g} V, R=30 ohm, alpha={degrees:g} deg"
        mean = math.sqrt(2.0) * BOOST * share / math.pi * (1.0 + math.cos(alpha))
        rms = BOOST * share * math.sqrt(1.0 - alpha / math.pi + math.sin(2.0 * alpha) / (2.0 * math.pi))
        told = "(Vm/pi)(1 + cos a) and V sqrt(1 - a/pi + sin 2a/(2 pi)), times R/(R + R_b)"
        yield Written("winding", place, "output voltage, mean", mean, "V", RASHID, told)
        yield Written("winding", place, "output voltage, rms", rms, "V", RASHID, told)


def _into_a_battery() -> Iterator[Written]:
    """The main voltage lies below the battery's at every instant."""
    crest = math.sqrt(2.0) * BOOST
    for volts in (20.0, 50.0, 80.0):
        alpha = math.asin(volts / crest)
        mean = (2.0 * crest * math.cos(alpha) + 2.0 * volts * alpha - math.pi * volts) / (math.pi * BALLAST)
        square = (0.5 * crest**2 + volts**2) * (math.pi - 2.0 * alpha) + 0.5 * crest**2 * math.sin(2.0 * alpha)
        rms = math.sqrt((square - 4.0 * crest * volts * math.cos(alpha)) / math.pi) / BALLAST
        place = f"boost of {BOOST:g} V behind {BALLAST:g} ohm, main of 10 V, battery of E={volts:g} V"
        told = "turn-on a = asin(E/Vm), current (Vm sin t - E)/R between a and pi - a; twice the half-wave charger"
        yield Written("winding", place, "boost current, mean", mean, "A", RASHID, told)
        yield Written("winding", place, "boost current, rms", rms, "A", RASHID, told)
        yield Written("winding", place, "begin of the boost current", math.degrees(alpha), "deg", RASHID, told)


def _switched_on() -> Iterator[Written]:
    """A direct voltage U comes onto choke and resistor R: the second winding feeds R while n U > (n + 1) u.

    Magnetising current i_m, output voltage u, D = 1 + R (n + 1)^2/R_b: u D = R i_m + R n (n + 1) U/R_b and
    L di_m/dt = U - u, so that i_m rises towards (1 + R (n + 1)/R_b) U/R with L D/R until u = n U/(n + 1).
    """
    volts, outer, henries = 40.0, 2.0, 20e-3
    for ratio, ballast in ((2.0, 5.0), (3.0, 20.0)):
        more = ratio + 1.0
        wide = 1.0 + outer * more**2 / ballast
        lag, goal = henries * wide / outer, (1.0 + outer * more / ballast) * volts / outer
        end_current = ratio * volts / more / outer
        end = lag * math.log(goal / (goal - end_current))
        place = f"choke of 20 mH, second winding n={ratio:g}, ballast Rb={ballast:g} ohm, 40 V put on R={outer:g} ohm"
        told = "ideal transformer across L, bridge conducts while n U > (n + 1) u; then u = U + (u_1 - U) exp(-t R/L)"
        yield Written("choke", place, "end of the boost current", end, "s", COUPLED, told)
        for time in (1e-3, 4e-3, 10e-3):
            flux_current = goal * -math.expm1(-time / lag)
            output = (outer * flux_current + outer * ratio * more * volts / ballast) / wide
            boost = (ratio * volts - more * output) / ballast
            at = f"{place}, t={1e3 * time:g} ms"
            yield Written("choke", at, "output voltage", output, "V", COUPLED, told)
            yield Written("choke", at, "boost current", boost, "A", COUPLED, told)
        output = volts - volts / more * math.exp(-(25e-3 - end) * outer / henries)
        yield Written("choke", f"{place}, t=25 ms", "output voltage", output, "V", COUPLED, told)


def _short_to_arc() -> Iterator[Written]:
    """A short of U/r is opened by an arc of a fixed voltage: the second winding, turned round, feeds the arc.

    w = -v of the choke: w (1 + r n^2/R_b) = U_a - U + r i_m + r n U_a/R_b, L di_m/dt = -w, boost current
    (n w - U_a)/R_b, main current i_m - n times that.
    """
    volts, resistance, henries, arc = 20.0, 0.2, 1e-3, 30.0
    for ratio, ballast in ((3.0, 2.0), (5.0, 10.0)):
        wide = 1.0 + resistance * ratio**2 / ballast
        lag = henries * wide / resistance
        floor = -(arc - volts + resistance * ratio * arc / ballast) / resistance
        start = volts / resistance
        place = f"choke of 1 mH, second winding n={ratio:g}, ballast Rb={ballast:g} ohm, short of 100 A, arc of 30 V"
        told = "ideal transformer across L, turned round by the bridge: (n w - U_a)/R_b into the arc"
        for milliseconds in (0.1, 0.5, 1.0):
            current = floor + (start - floor) * math.exp(-1e-3 * milliseconds / lag)
            falls = (arc - volts + resistance * current + resistance * ratio * arc / ballast) / wide
            boost = (ratio * falls - arc) / ballast
            at = f"{place}, t={milliseconds:g} ms"
            yield Written("choke", at, "boost current", boost, "A", COUPLED, told)
            yield Written("choke", at, "output current", current - (ratio - 1.0) * boost, "A", COUPLED, told)
