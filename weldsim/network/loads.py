"""Loads as branches: resistor, short, battery, load line, arc line with knee or falling part, programmed shorts.

knee        u = knee_resistance i below the corner, so that no current means no voltage
falling     from falling_voltage at no current down to the line; the arc goes out when its current reaches zero and
            comes back when the gap's voltage reaches reignition_voltage
"""

from dataclasses import replace

from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.branches import Event, Guard, Move, PiecewiseBranch, Resistor, Segment, resistive
from weldsim.network.devices import Scale
from weldsim.network.draft import Draft, Inductance
from weldsim.parts.load import LINE_KNEE, Load, arc_voltage, load_line, short_resistance

OUT_RESISTANCE = 10e3  # [ohm] of a gap without an arc: a meter's and the fume's leakage (a choice of this project)
NEEDED_VOLTAGE = 1.5  # at no current, over the arc's own, where only hold_current is given (assumed)
LEAST_INDUCTANCE = 1e-6  # [H] that must stand before a falling line
LOAD, SHORT = "load", "short"
ARCS = ("arc line", "shorted arc")
_KEY_OF_SLOPE = {"battery": "load.resistance", "load line": ""}  # the standard's line has none of its own


@dataclass(frozen=True)
class FallingPart:
    """Needed voltage at no current, current where the fall ends, and voltage that brings a lost arc back."""

    voltage: float
    current: float
    reignition: float


def draw_load(draft: Draft, node: str, inductance_before: float) -> None:
    """The load between a node and the minus rail, with output voltage and current; nothing where there is none."""
    load, circuit = draft.scenario.load, draft.circuit
    draft.voltage("output.voltage", "output voltage", plus=node, minus=draft.minus)
    if load is None:
        draft.current("output.current", "output current")
        return
    draft.current("output.current", "output current", LOAD)
    if load.kind == "resistor":
        node = draft.series(LOAD, node, [Inductance("load.inductance", load.inductance, "load.inductance")])
    branch = _branch(load, (node, draft.minus), draft.secondary, alternating=draft.scenario.rectifier is None)
    if branch is None:
        resistance = short_resistance(load) if load.kind == "short" else load.resistance or 0.0
        circuit.add(Resistor(LOAD, node, draft.minus, resistance), LOAD, role="load", key="load.resistance")
        return
    fall = falling_part(load) if load.kind in ARCS else None
    _refuse_bare_fall(fall, inductance_before)
    circuit.add(branch, LOAD, role="load", key=_KEY_OF_SLOPE.get(load.kind, "load.slope"))
    if load.kind == "shorted arc":
        circuit.events += _short_events(branch)
    if load.kind == "wire":
        circuit.notes.append("The wire counts as its arc line here: the electrical side of a burning arc, never lost.")
    if load.hold_current is not None and fall is not None:
        circuit.notes.append(
            "The arc is never opened while it carries current: below its hold current it asks for "
            "more voltage, and goes out when the current has reached zero."
        )


def _branch(load: Load, ends: tuple[str, str], scale: Scale, *, alternating: bool) -> PiecewiseBranch | None:
    """The load as a piecewise branch; None for a plain resistance."""
    if load.kind == "battery":
        law = resistive(load.resistance or 0.0, load.voltage or 0.0)
        return PiecewiseBranch(LOAD, *ends, (Segment("battery", law),))
    if load.kind == "load line":
        segments = _line_segments(load.process, scale)
        return PiecewiseBranch(LOAD, *ends, both_ways(segments) if alternating else segments)
    if load.kind in ("resistor", "short"):
        return None
    segments = arc_segments(load, scale)
    segments = both_ways(segments) if alternating else segments
    if load.kind == "shorted arc":
        segments = (*segments, Segment(SHORT, resistive(load.short_resistance)))
    return PiecewiseBranch(LOAD, *ends, segments)


def both_ways(segments: tuple[Segment, ...]) -> tuple[Segment, ...]:
    """A line that begins at no current, and the same for current of the other direction."""
    first, *rest = segments

    def mirrored(segment: Segment) -> Segment:
        assert segment.law is not None
        guards = tuple(
            replace(one, sign=-one.sign, limit=-one.limit, target=_other_way(one.target, first.name))
            for one in segment.guards
        )
        law = replace(segment.law, constant=-segment.law.constant)
        return Segment(_other_way(segment.name, first.name), law, guards)

    back = mirrored(first)
    return replace(first, guards=(*first.guards, *back.guards)), *rest, *map(mirrored, rest)


def _other_way(name: str, first: str) -> str:
    return name if name == first else f"{name} backwards"


def _line_segments(process: str, scale: Scale) -> tuple[Segment, ...]:
    """Conventional load line: knee, line, and the cap of the standard at high current."""
    offset, slope, cap = load_line(process)
    knee = offset / (LINE_KNEE - slope)
    full, band = (cap - offset) / slope, scale.current_band
    return (
        Segment("knee", resistive(LINE_KNEE), (Guard("current", -1, knee, "line", band),)),
        Segment(
            "line",
            resistive(slope, offset),
            (Guard("current", 1, knee, "knee", band), Guard("current", -1, full, "cap", band)),
        ),
        Segment("cap", resistive(0.0, cap), (Guard("current", 1, full, "line", band),)),
    )


def falling_part(load: Load) -> FallingPart | None:
    """The falling part of an arc line, if any of its values is given."""
    if load.kind == "wire" or (
        load.falling_voltage is None and load.hold_current is None and load.reignition_voltage is None
    ):
        return None
    level = arc_voltage(load)
    current = load.falling_current or load.hold_current or 0.0
    top = load.falling_voltage
    if top is None:
        top = NEEDED_VOLTAGE * level if current else level
    back = load.reignition_voltage if load.reignition_voltage is not None else top
    if back < top:
        raise WiringError(
            f"an arc that comes back at {back:g} V but needs {top:g} V at no current goes out at once",
            place="load.reignition_voltage",
            advice=f"write at least {top:g} V",
        )
    return FallingPart(top, current, back)


def arc_segments(load: Load, scale: Scale) -> tuple[Segment, ...]:
    """Segments of an arc line: knee and arc, or out, falling part and arc."""
    level, slope = arc_voltage(load), load.slope
    fall, flow = falling_part(load), scale.current_band
    if fall is None:
        if not slope < load.knee_resistance:
            raise WiringError(
                "the slope is not below the knee resistance",
                place="load.slope",
                advice=f"write less than {load.knee_resistance:g} ohm",
            )
        knee = level / (load.knee_resistance - slope)
        return (
            Segment("knee", resistive(load.knee_resistance), (Guard("current", -1, knee, "arc", flow),)),
            Segment("arc", resistive(slope, level), (Guard("current", 1, knee, "knee", flow),)),
        )
    first = "falling" if fall.current else "arc"
    out = Segment("out", resistive(OUT_RESISTANCE), (Guard("voltage", -1, fall.reignition, first, scale.voltage_band),))
    if not fall.current:
        return out, Segment("arc", resistive(slope, level), (Guard("current", 1, 0.0, "out", flow),))
    steepness = (level + slope * fall.current - fall.voltage) / fall.current
    if steepness >= slope:
        raise WiringError(
            "the voltage needed at no current is not above the arc's own: no fall",
            place="load.falling_voltage",
            advice=f"write more than {level + slope * fall.current:g} V, or leave it out",
        )
    return (
        out,
        Segment(
            "falling",
            resistive(steepness, fall.voltage),
            (Guard("current", 1, 0.0, "out", flow), Guard("current", -1, fall.current, "arc", flow)),
        ),
        Segment("arc", resistive(slope, level), (Guard("current", 1, fall.current, "falling", flow),)),
    )


def _refuse_bare_fall(fall: FallingPart | None, inductance_before: float) -> None:
    """A falling line needs an inductance of its own before it."""
    if fall is not None and fall.current and inductance_before < LEAST_INDUCTANCE:
        raise WiringError(
            f"an arc with a falling part stands behind {1e6 * inductance_before:.3g} uH, where its "
            "current has no unique value",
            place="weld_leads.inductance",
            advice="write at least 1 uH",
        )


def _short_events(branch: PiecewiseBranch) -> tuple[Event, ...]:
    """ "short on" bridges the arc whatever it does, "short off" lets it burn on with the current that flows."""
    others = [segment.name for segment in branch.segments if segment.name != SHORT]
    return (
        Event("short on", LOAD, tuple(Move(name, SHORT) for name in others)),
        Event("short off", LOAD, (Move(SHORT, "arc"),)),
    )
