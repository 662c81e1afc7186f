"""Arcs with a memory driven tick by tick by a given current, against closed forms over the whole time.

These are rules without a supply around them, since no supply gives such a current; ``arc_circuit`` has one around them.
"""

import math
import re
from functools import cache

from weldsim.parts.dynamic_arc import cassie_at_current, mayr_at_current, mayr_at_voltage
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

EXACT = 1e-5  # a tick is exact for a straight piece of current; the sine's bend within 4 us leaves less than 1e-6
TICK = 4e-6  # [s]
APART = 15.0  # [deg] from angle to angle
SETTLING = 20  # time constants until the start is forgotten: exp(-20) = 2e-9


def dynamic_arc() -> list[Row]:
    """Conductance of Mayr and Cassie arcs: constant current, constant voltage, and sine in the settled state."""
    return side_by_side(
        "dynamic arc, given current",
        references("arc", "dynamic_arc"),
        lambda text: {"g": Reading(_ticked(text), EXACT)},
    )


def _ticked(condition: str) -> float:
    """Conductance at the end of a condition, reached in ticks [S]."""
    said = numbers_in(re.sub(r"(\d) kW", r"\1e3 W", condition.replace("=50 us", "=50e-6")))
    mayr = condition.startswith("Mayr")
    if "sin wt" in condition:
        found = re.search(r"i=(\d+) sin wt A, (\d+) Hz", condition)
        assert found is not None
        return _settled_sine(said, mayr=mayr, peak=float(found[1]), frequency=float(found[2]))
    ticks = round(said["t"] / TICK)
    g = said["g0"]
    for _ in range(ticks):
        if "U" in said:
            g = mayr_at_voltage(g, TICK, voltage=said["U"], time_constant=said["tau"], power=said["P0"])
        else:
            g = _tick(g, (said["I"], said["I"]), said, mayr=mayr)
    return g


def _settled_sine(said: dict[str, float], *, mayr: bool, peak: float, frequency: float) -> float:
    """Conductance at the angle wt of a settled sine."""
    constants = tuple((name, said[name]) for name in ("tau", "P0", "Uc") if name in said)
    return _through_angles(constants, mayr, peak, frequency)[round(said["wt"] / APART)]


@cache
def _through_angles(
    constants: tuple[tuple[str, float], ...], mayr: bool, peak: float, frequency: float
) -> tuple[float, ...]:
    """Conductance every 15 degrees of half a sine; the start is any conductance, so it is forgotten before that."""
    said, omega = dict(constants), 2.0 * math.pi * frequency
    part = math.radians(APART) / omega
    ticks, before = math.ceil(part / TICK), math.ceil(SETTLING * said["tau"] / part)
    g, found = 1.0, []
    for number in range(-before, round(180.0 / APART) + 1):
        found.append(g)
        currents = [peak * math.sin(omega * part * (number + k / ticks)) for k in range(ticks + 1)]
        for pair in zip(currents, currents[1:], strict=False):
            g = _tick(g, pair, said, mayr=mayr, time=part / ticks)
    return tuple(found[before:])


def _tick(g: float, currents: tuple[float, float], said: dict[str, float], *, mayr: bool, time: float = TICK) -> float:
    """One tick at a given current."""
    before, after = currents
    if mayr:
        return mayr_at_current(g, time, before=before, after=after, time_constant=said["tau"], power=said["P0"])
    return cassie_at_current(g, time, before=before, after=after, time_constant=said["tau"], arc_voltage=said["Uc"])
