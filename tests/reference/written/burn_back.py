"""Where a burning wire ends once its feed has stopped: the rows of ``weldsim/data/reference/burn_back.csv``.

A bridge on a sine behind a resistance, a choke, perhaps a bank, and an arc whose length follows from the feed and from
the current that melts the wire, integrated from the start.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Callable, Iterator

import numpy as np
from scipy.integrate import solve_ivp

from tests.reference.written.open_arc import ALPHA, ARC, FORM, GRADIENT, HEIGHT, LESNEWICH, WIRE
from tests.reference.written.pair import OMEGA
from tests.reference.written.rows import Written

CREST, SOURCE_OHMS, CHOKE_OHMS = math.sqrt(2.0) * 45.0, 0.1, 5e-3  # [V], [ohm]
HELD, HALF = 0.6, 0.01  # [s] of trigger and half cycle
BETA = 5e-5  # [1/(A2 s)]
SPOT = 100.0 * (0.2 * math.pi * 0.6**2) ** 2  # [A2 s] that burn through the spot on which the wire stands
LEFT = 3.0  # [mm] of gap that this leaves
LEAST = 0.35  # [A] at which the arc is over
CASES = ((3.0, None, 3.0, 1.0), (6.0, None, 3.0, 60.0), (1.0, 20.0, 3.0, 1.0), (3.0, 60.0, 4.0, 60.0))
TIMES = (0.0, 0.02, 0.06, 0.1, 0.2)  # [s] of burn-back
Rates = Callable[[float, np.ndarray], list[float]]


def rows() -> Iterator[Written]:
    """All of them."""
    told = f"bridge, choke and arc integrated until the current ends; {FORM}"
    for henries, farads, feed, lag in CASES:
        bank = "" if farads is None else f"C={farads:g} mF, "
        for time in TIMES:
            place = f"L={henries:g} mH, {bank}feed={feed:g} m/min, lag={lag:g} ms, burn-back b={1e3 * time:g} ms"
            end = round(
                wire_end(1e-3 * henries, None if farads is None else 1e-3 * farads, (feed, 1e-3 * lag), time), 3
            )
            yield Written("wire_ends", place, "wire end", end, "mm", LESNEWICH, told, "memory")


def wire_end(henries: float, farads: float | None, motor: tuple[float, float], burn_back: float) -> float:
    """Wire out of the tube when all has come to rest [mm]; power is on from 0 to a whole number of half cycles."""
    off = round((HELD + burn_back) / HALF) * HALF
    stop, speed = off - burn_back, motor[0] * 1e3 / 60.0

    def fed(time: float) -> float:
        """A motor that follows with a lag [mm/s]."""
        reached = speed * (1.0 - math.exp(-min(time, stop) / motor[1]))
        return reached * math.exp(-max(time - stop, 0.0) / motor[1])

    def rates(time: float, at: np.ndarray, arc: bool) -> list[float]:
        current, bank, gap, _ = at
        volts = abs(CREST * math.sin(OMEGA * time)) if time < off else 0.0
        if farads is None:
            driving, charging = max(volts - SOURCE_OHMS * current, 0.0), 0.0
        else:
            driving, charging = bank, (max(volts - bank, 0.0) / SOURCE_OHMS - current) / farads
        drop = (CHOKE_OHMS + WIRE * (HEIGHT - gap)) * current + (ARC + GRADIENT * gap if arc else 0.0)
        melts = ALPHA * current + BETA * (HEIGHT - gap) * current**2 - fed(time) if arc else 0.0
        return [(driving - drop) / henries, charging, melts, current**2]

    spot = _until(rates, arc=False, begin=(0.0, [0.0, 0.0, 0.0, 0.0]), end=lambda at: at[3] - SPOT)
    time, (current, bank, _, squares) = spot
    time, (_, _, gap, _) = _until(
        rates, arc=True, begin=(time, [current, bank, LEFT, squares]), end=lambda at: at[0] - LEAST
    )
    coming = motor[1] * fed(time) if time > stop else math.nan  # nothing melts what still comes
    return HEIGHT - gap + coming


def _until(
    rates: Callable[[float, np.ndarray, bool], list[float]],
    *,
    arc: bool,
    begin: tuple[float, list[float]],
    end: Callable[[np.ndarray], float],
) -> tuple[float, list[float]]:
    """Integrate half cycle by half cycle, since the sine has its corners there, until a value comes to zero."""

    def over(_: float, at: np.ndarray, __: bool) -> float:
        return end(at)

    over.terminal = True  # type: ignore[attr-defined]
    over.direction = -1.0 if arc else 1.0  # type: ignore[attr-defined]
    time, at = begin
    for _ in range(200):
        following = (math.floor(time / HALF + 1e-9) + 1) * HALF
        found = solve_ivp(rates, (time, following), at, "LSODA", events=over, args=(arc,), rtol=1e-7, atol=1e-7)
        time, at = float(found.t[-1]), [float(value) for value in found.y[:, -1]]
        if found.status == 1:
            return time, at
    raise ValueError("it never ends")
