"""Arcs with a memory driven tick by tick by a given current, against closed forms over the whole time.

Driven is the rule by which a weld's own ticks follow such an arc; there is no supply around it, since none gives such a
current.  ``arc_circuit`` has one around it.
"""

import math
import re
from functools import cache

from weldsim.parts.wire import Wire, constants
from weldsim.runs.lone_arc import LoneArc
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

EXACT = 1e-5  # a tick is exact for a straight piece of current; the sine's bend within 4 us leaves less than 1e-6
TICK = 4e-6  # [s]
FINE = 0.2e-6  # [s] a tick at a given voltage, where the current within it bends as the conductance does: 1e-6
TRIED = 4  # times: the current at the end of such a tick needs the conductance there, which then is off by 1e-10
APART = 15.0  # [deg] from angle to angle
SETTLING = 20  # time constants until the start is forgotten: exp(-20) = 2e-9
KINDS = ("Cassie", "Mayr")


class Arc:
    """The arc of a condition, in a wire of its own."""

    def __init__(self, condition: str) -> None:
        self.said = numbers_in(re.sub(r"(\d) kW", r"\1e3 W", condition.replace("=50 us", "=50e-6")))
        self.kind = KINDS.index(condition.split(",")[0])
        volts, power = self.said.get("Uc", 20.0), self.said.get("P0", 600.0)
        wire = Wire(arc_time_constant=self.said["tau"], arc_voltage=volts, arc_power=power)
        self.alone = LoneArc(constants(wire), self.said.get("g0", 1.0))

    @property
    def conductance(self) -> float:
        """After the one whom the condition names [S]."""
        return self.alone.conductances[self.kind]

    def tick_at(self, voltage: float, time: float) -> None:
        """Go on for a short time [s] at a voltage [V]."""
        begin, first = self.alone.conductances, self.conductance * voltage
        for _ in range(TRIED):
            last = self.conductance * voltage
            self.alone.conductances = begin
            self.alone.tick(first, last, time)


def dynamic_arc() -> list[Row]:
    """Conductance of Mayr and Cassie arcs: constant current, constant voltage, and sine in the settled state."""
    return side_by_side(
        "dynamic arc, given current",
        references("arc", "dynamic_arc"),
        lambda text: {"g": Reading(_ticked(text), EXACT)},
    )


def _ticked(condition: str) -> float:
    """Conductance at the end of a condition, reached in ticks [S]."""
    wave, _, angle = condition.rpartition(", wt=")
    if wave:
        return _through_angles(wave)[round(float(angle.split()[0]) / APART)]
    arc = Arc(condition)
    if "U" in arc.said:
        for _ in range(round(arc.said["t"] / FINE)):
            arc.tick_at(arc.said["U"], FINE)
    else:
        for _ in range(round(arc.said["t"] / TICK)):
            arc.alone.tick(arc.said["I"], arc.said["I"], TICK)
    return arc.conductance


@cache
def _through_angles(wave: str) -> tuple[float, ...]:
    """Conductance every 15 degrees of half a sine; the start is any conductance, so it is forgotten before that."""
    arc, given = Arc(wave), re.search(r"i=(\d+) sin wt A, (\d+) Hz", wave)
    assert given is not None
    peak, omega = float(given[1]), 2.0 * math.pi * float(given[2])
    part = math.radians(APART) / omega
    ticks, before = math.ceil(part / TICK), math.ceil(SETTLING * arc.said["tau"] / part)
    found = []
    for number in range(-before, round(180.0 / APART) + 1):
        found.append(arc.conductance)
        currents = [peak * math.sin(omega * part * (number + k / ticks)) for k in range(ticks + 1)]
        for first, last in zip(currents, currents[1:], strict=False):
            arc.alone.tick(first, last, part / ticks)
    return tuple(found[before:])
