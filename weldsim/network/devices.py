"""Switching devices in straight pieces: diode, triac, thyristor pair, and the events of their gates.

    diode          i = max(v / leakage, (v - threshold) / slope)
    triac, pair    i = sgn(v) max(|v| / off, (|v| - threshold) / slope)

Not modelled: reverse recovery, turn-on by rate of rise or by overvoltage, the spread of current in a fresh junction.
"""

from dataclasses import dataclass
from itertools import product

from weldsim.errors import WiringError
from weldsim.network.branches import Event, Guard, Law, Move, PiecewiseBranch, Segment, resistive
from weldsim.network.pieces import BAND

BLOCKED, ON = "blocked", "on"
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
    """A diode from anode ``plus`` to cathode ``minus``."""
    voltage, current = line.corner(name)
    blocked = Segment(BLOCKED, resistive(line.off_resistance), (Guard("voltage", -1, voltage, ON, scale.voltage_band),))
    conducting = Segment(
        ON, resistive(line.slope, line.threshold), (Guard("current", 1, current, BLOCKED, scale.current_band),)
    )
    return PiecewiseBranch(name, plus, minus, (blocked, conducting))


@dataclass(frozen=True)
class Gating:
    """How a controlled device latches: currents, and one gate for both directions or two."""

    latching_current: float
    holding_current: float
    paired: bool  # a thyristor pair has a gate for each direction, a triac one for both


@dataclass(frozen=True)
class _Situation:
    """One segment in meaning: direction of conduction (0: blocked) and which direction's gate is on."""

    direction: int
    gate_plus: bool
    gate_minus: bool

    def gate(self, direction: int) -> bool:
        return self.gate_plus if direction > 0 else self.gate_minus

    def name(self, paired: bool) -> str:
        """Segment name.  Conducting ones begin with "plus", "minus", "gated_plus" or "gated_minus"."""
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
        for situation in _situations(gating.paired)
    )
    return PiecewiseBranch(name, *ends, segments)


def _situations(paired: bool) -> list[_Situation]:
    gates = product((False, True), repeat=2) if paired else ((False, False), (True, True))
    return [_Situation(way, plus, minus) for plus, minus in gates for way in (0, 1, -1)]


def _law(situation: _Situation, line: Line) -> Law:
    if situation.direction == 0:
        return resistive(line.off_resistance)
    return resistive(line.slope, situation.direction * line.threshold)


def _guards(situation: _Situation, corner: tuple[float, float], gating: Gating, scale: Scale) -> tuple[Guard, ...]:
    """What ends a situation: a gated blocked device turns on, a conducting one goes out."""

    def to(direction: int, plus: bool, minus: bool) -> str:
        return _Situation(direction, plus, minus).name(gating.paired)

    plus, minus, way = situation.gate_plus, situation.gate_minus, situation.direction
    if way == 0:
        return tuple(
            Guard("voltage", -side, side * corner[0], to(side, plus, minus), scale.voltage_band)
            for side in (1, -1)
            if situation.gate(side)
        )
    gated = situation.gate(way)
    lowest = corner[1] if gated else gating.holding_current
    return (Guard("current", way, way * lowest, to(0, plus, minus), scale.current_band),)


def gate_events(device: PiecewiseBranch, gating: Gating) -> tuple[Event, ...]:
    """ "gate on" and "gate off" of a triac; the same for "gate plus" and "gate minus" of a thyristor pair.

    At the end of the gate a conducting device stays on only if its own current has reached latching by then.
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
    for situation in _situations(gating.paired):
        plus = on if touched[0] else situation.gate_plus
        minus = on if touched[1] else situation.gate_minus
        way = situation.direction
        target = _Situation(way, plus, minus)
        loses = way != 0 and situation.gate(way) and not target.gate(way)
        here, there = situation.name(gating.paired), target.name(gating.paired)
        if loses:
            out = _Situation(0, plus, minus).name(gating.paired)
            moves.append(Move(here, there, way, gating.latching_current, out))
        elif here != there:
            moves.append(Move(here, there))
    return Event(name, device.name, tuple(moves))
