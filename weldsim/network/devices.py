"""Switching devices in straight pieces: diode, varistor, triac, thyristor pair, and the events of their gates.

    diode          i = max(v / leakage, (v - threshold) / slope)
    varistor       i = sgn(v) max(|v| / leakage, (|v| - threshold) / slope)
    triac, pair    i = sgn(v) max(|v| / off, (|v| - threshold) / slope)

Turn-on by a rate of rise can be asked for: a blocked device then faces the direction of its voltage, and conducts that
way once the voltage changes faster than its limit, by itself and without gate until its current has reached latching:
as after a gate, what has not latched is not held.  (Were it held from holding on, a device that goes out at holding and
whose voltage then rises too fast would go out and fire again without end.)
The rate is that of the solution between switchings; the jump by which its own drop comes and goes does not count.

Not modelled: reverse recovery, turn-on by overvoltage, the spread of current in a fresh junction.
"""

from dataclasses import replace
from itertools import product

from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.branches import Event, Guard, Law, Move, PiecewiseBranch, Segment, resistive
from weldsim.network.pieces import BAND

BLOCKED, ON = "blocked", "on"
CORNER_BAND = 1e-2  # of the band of currents, where a diode goes out: see ``diode``
RATE_BAND = 1e-9  # dead band of a rate, as a share of its limit: the rate is a difference of large terms
_WAYS = {1: "plus", -1: "minus"}


@dataclass(frozen=True)
class Scale:
    """Full scale of voltages [V] and currents [A] around a device; dead bands are 1e-11 of it."""

    voltage: float
    current: float

    @property
    def voltage_band(self) -> float:
        """Dead band of a voltage."""
        return BAND * self.voltage

    @property
    def current_band(self) -> float:
        """Dead band of a current."""
        return BAND * self.current


@dataclass(frozen=True)
class Line:
    """A device's straight lines: threshold and slope when it conducts, a resistance when it blocks."""

    threshold: float
    slope: float
    off_resistance: float

    def corner(self, place: str) -> tuple[float, float]:
        """Voltage and current where the two lines meet."""
        if not self.slope < self.off_resistance:
            raise WiringError(
                "the slope resistance is not below the off-state resistance",
                place=place,
                advice="write a smaller slope",
            )
        voltage = self.threshold / (1.0 - self.slope / self.off_resistance)
        return voltage, voltage / self.off_resistance


def diode(name: str, plus: str, minus: str, *, line: Line, scale: Scale) -> PiecewiseBranch:
    """A diode from anode ``plus`` to cathode ``minus``.

    Its two lines meet at the corner, and a dead band makes a step there: a nanoampere over a megohm of leakage is
    a millivolt.  Such a step feeds what rings with the leakage, without end; so the band of the current is narrow.
    """
    voltage, current = line.corner(name)
    band = CORNER_BAND * scale.current_band
    blocked = Segment(BLOCKED, resistive(line.off_resistance), (Guard("voltage", -1, voltage, ON, scale.voltage_band),))
    conducting = Segment(ON, resistive(line.slope, line.threshold), (Guard("current", 1, current, BLOCKED, band),))
    return PiecewiseBranch(name, plus, minus, (blocked, conducting))


def two_sided(name: str, ends: tuple[str, str], *, line: Line, scale: Scale) -> PiecewiseBranch:
    """A varistor between two nodes: a diode's two lines in both directions, with its narrow band of the current."""
    voltage, current = line.corner(name)
    band = CORNER_BAND * scale.current_band
    guards = tuple(Guard("voltage", -way, way * voltage, _WAYS[way], scale.voltage_band) for way in (1, -1))
    conducting = (
        Segment(
            _WAYS[way],
            resistive(line.slope, way * line.threshold),
            (Guard("current", way, way * current, BLOCKED, band),),
        )
        for way in (1, -1)
    )
    return PiecewiseBranch(name, *ends, (Segment(BLOCKED, resistive(line.off_resistance), guards), *conducting))


@dataclass(frozen=True)
class Gating:
    """How a controlled device latches: currents, and one gate for both directions or two."""

    latching_current: float
    holding_current: float
    paired: bool  # a thyristor pair has a gate for each direction, a triac one for both
    critical_rate: float | None = None  # [V/s] above which a blocked device fires by itself; None: it never does
    train: bool = False  # many short pulses: a run need not stop at those that a device which conducts does not notice


@dataclass(frozen=True)
class _Situation:
    """One segment in meaning: direction of conduction (0: blocked), which direction's gate is on.

    With a critical rate: the direction that a blocked device faces, and whether it has fired by itself and not
    latched yet.  ``latched``, of a train: its own gate came when it conducted already, so that nothing is lost when
    that gate goes.
    """

    direction: int
    gate_plus: bool
    gate_minus: bool
    facing: int = 0
    by_itself: bool = False
    latched: bool = False

    def gate(self, direction: int) -> bool:
        return self.gate_plus if direction > 0 else self.gate_minus

    def name(self, paired: bool) -> str:
        """Segment name.  Conducting ones begin with "plus", "minus", "gated_plus" or "gated_minus"."""
        if self.facing:
            return f"{replace(self, facing=0).name(paired)}_facing_{_WAYS[self.facing]}"
        if self.by_itself:
            return f"{replace(self, by_itself=False).name(paired)}_by_itself"
        if self.latched:
            return f"{replace(self, latched=False).name(paired)}_latched"
        if self.direction == 0:
            if not (self.gate_plus or self.gate_minus):
                return "off"
            if not paired:
                return "gated"
            return "ready_both" if self.gate_plus and self.gate_minus else f"ready_{_WAYS[1 if self.gate_plus else -1]}"
        way = _WAYS[self.direction]
        own = f"gated_{way}" if self.gate(self.direction) else way
        return f"{own}_with_other_gate" if paired and self.gate(-self.direction) else own


def controlled(name: str, ends: tuple[str, str], *, line: Line, gating: Gating, scale: Scale) -> PiecewiseBranch:
    """A triac or an antiparallel thyristor pair between two nodes."""
    if gating.holding_current > gating.latching_current:
        raise WiringError(
            f"the holding current of {gating.holding_current:g} A is above the latching current of "
            f"{gating.latching_current:g} A",
            place=name,
            advice="a device latches above what holds it",
        )
    segments = tuple(
        Segment(
            situation.name(gating.paired), _law(situation, line), _guards(situation, line.corner(name), gating, scale)
        )
        for situation in _situations(gating)
    )
    return PiecewiseBranch(name, *ends, segments)


def _situations(gating: Gating) -> list[_Situation]:
    gates = list(product((False, True), repeat=2) if gating.paired else ((False, False), (True, True)))
    found = [_Situation(way, plus, minus) for plus, minus in gates for way in (0, 1, -1)]
    gated = [situation for situation in found if situation.direction and situation.gate(situation.direction)]
    latched = [replace(situation, latched=True) for situation in gated] if gating.train else []
    if gating.critical_rate is None:
        return found + latched
    alone = [(way, situation) for situation in found[::3] for way in (1, -1) if not situation.gate(way)]
    found += [replace(situation, facing=way) for way, situation in alone]
    return found + latched + [replace(situation, direction=way, by_itself=True) for way, situation in alone]


def _law(situation: _Situation, line: Line) -> Law:
    if situation.direction == 0:
        return resistive(line.off_resistance)
    return resistive(line.slope, situation.direction * line.threshold)


def _guards(situation: _Situation, corner: tuple[float, float], gating: Gating, scale: Scale) -> tuple[Guard, ...]:
    """What ends a situation: a gated blocked device turns on, a conducting one goes out."""
    if situation.direction == 0:
        return _while_blocked(situation, corner[0], gating, scale)
    way, gated = situation.direction, situation.gate(situation.direction)
    if situation.latched:
        below = replace(situation, latched=False).name(gating.paired)
        return (Guard("current", way, way * gating.holding_current, below, scale.current_band),)
    out = replace(situation, direction=0, by_itself=False).name(gating.paired)
    lowest = corner[1] if gated or situation.by_itself else gating.holding_current
    guards: tuple[Guard, ...] = (Guard("current", way, way * lowest, out, scale.current_band),)
    if situation.by_itself:
        held = replace(situation, by_itself=False).name(gating.paired)
        guards += (Guard("current", -way, way * gating.latching_current, held, scale.current_band),)
    return guards


def _while_blocked(situation: _Situation, corner: float, gating: Gating, scale: Scale) -> tuple[Guard, ...]:
    """Blocked: a gate's direction is entered at the corner, the others are faced there and fire at the limit."""
    clear = corner + 3.0 * scale.voltage_band  # so that what fires by itself carries current at once
    paired, limit, side = gating.paired, gating.critical_rate, situation.facing
    if side and limit is not None:
        fired = replace(situation, direction=side, facing=0, by_itself=True).name(paired)
        unfaced = replace(situation, facing=0).name(paired)
        return (
            Guard("voltage rate", -side, side * limit, fired, RATE_BAND * limit),
            Guard("voltage", side, side * clear, unfaced, scale.voltage_band),
        )
    guards = []
    for side in (1, -1):
        if situation.gate(side):
            there, least = replace(situation, direction=side), corner
        elif limit is not None:
            there, least = replace(situation, facing=side), clear
        else:
            continue
        guards.append(Guard("voltage", -side, side * least, there.name(paired), scale.voltage_band))
    return tuple(guards)


def gate_events(device: PiecewiseBranch, gating: Gating) -> tuple[Event, ...]:
    """ "gate on" and "gate off" of a triac; the same for "gate plus" and "gate minus" of a thyristor pair.

    At the end of the gate a conducting device stays on only if its own current has reached latching by then.  One that
    has outlived a pulse of a train is latched until its current falls below holding, whatever pulses come and go
    meanwhile: latching is what it takes right after turning on from the blocked state.
    """
    if not gating.paired:
        return (
            _gate_event("gate on", device, gating, (True, True), on=True),
            _gate_event("gate off", device, gating, (True, True), on=False),
        )
    return tuple(
        _gate_event(f"gate {way} {'on' if on else 'off'}", device, gating, touched, on=on)
        for way, touched in (("plus", (True, False)), ("minus", (False, True)))
        for on in (True, False)
    )


def _gate_event(name: str, device: PiecewiseBranch, gating: Gating, touched: tuple[bool, bool], *, on: bool) -> Event:
    moves = []
    for situation in _situations(gating):
        plus = on if touched[0] else situation.gate_plus
        minus = on if touched[1] else situation.gate_minus
        target, way = replace(situation, gate_plus=plus, gate_minus=minus), situation.direction
        own = target.facing or way
        if own and target.gate(own):  # what it did or might do by itself is now its gate's
            target = replace(target, facing=0, by_itself=False)
        kept = situation.latched or not (situation.gate(way) or situation.by_itself)
        if way:
            target = replace(target, latched=gating.train and kept and target.gate(way))
        loses = way != 0 and situation.gate(way) and not target.gate(way) and not situation.latched
        here, there = situation.name(gating.paired), target.name(gating.paired)
        if loses:
            out = _Situation(0, plus, minus).name(gating.paired)
            moves.append(Move(here, there, way, gating.latching_current, out))
        elif here != there:
            idle = gating.train and way != 0 and kept and situation.gate(way) != target.gate(way)
            moves.append(Move(here, there, idle=idle))
    return Event(name, device.name, tuple(moves))
