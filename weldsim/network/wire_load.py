"""The welding wire as an element: an open gap, contact in a few resistance levels, a falling arc and an arc.

The process (engine/wire_kernel.py) says by events which piece holds and adds a voltage, the input ``wire.voltage``,
that makes the piece exact at every tick: a changing resistance or arc length never makes a new mode.

    open      10 kohm: clear of the work, or an arc that is lost
    contact   v = level x i + input
    falling   v = (R - rise / break current) i + rise + input, below the break current; opens where its current reaches
    zero, to 5 mA: what blocked diodes let through is no arc
    rising    the same while an arc that comes back has not yet grown to twice that; opens at zero
    arc       v = R i + input
"""

from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.branches import Event, Guard, Law, Move, PiecewiseBranch, Segment, resistive
from weldsim.network.draft import Draft
from weldsim.network.loads import LEAST_INDUCTANCE, LOAD, OUT_RESISTANCE

INPUT = "wire.voltage"
NOTHING = 5e-3  # [A] with which a dying arc breaks off (assumed): no more than 50 V at the open wire
LEVELS = (10e-3, 30e-3, 90e-3)  # [ohm] of contacts, bridges and the extension behind them


@dataclass(frozen=True)
class WireElement:
    """What the element's pieces need.

    Resistance of a burning arc's circuit [ohm], rise [V] and break current [A] of its falling part.
    """

    resistance: float
    rise: float
    break_current: float


def draw_wire(draft: Draft, node: str, element: WireElement, *, inductance_before: float) -> None:
    """The wire's end between a node and the minus rail; ``inductance_before`` [H] stands before it alone."""
    if inductance_before < LEAST_INDUCTANCE:
        raise WiringError(
            f"an arc with a falling part stands behind {1e6 * inductance_before:.3g} uH, where its current has no "
            "unique value",
            place="weld_leads.inductance",
            advice="write at least 1 uH",
        )
    circuit, band = draft.circuit, draft.secondary.current_band
    draft.voltage("output.voltage", "output voltage", plus=node, minus=draft.minus)
    draft.current("output.current", "output current", LOAD)
    circuit.inputs.append(INPUT)
    falling = element.resistance - element.rise / element.break_current
    pieces = (
        Segment("open", resistive(OUT_RESISTANCE)),
        *(Segment(f"contact_{k}", _law(level)) for k, level in enumerate(LEVELS)),
        Segment(
            "rising",
            _law(falling, element.rise),
            (Guard("current", 1, 0.0, "open", band), Guard("current", -1, 2.0 * NOTHING, "falling", band)),
        ),
        Segment(
            "falling",
            _law(falling, element.rise),
            (Guard("current", 1, NOTHING, "open", band), Guard("current", -1, element.break_current, "arc", band)),
        ),
        Segment("arc", _law(element.resistance), (Guard("current", 1, element.break_current, "falling", band),)),
    )
    circuit.add(PiecewiseBranch(LOAD, node, draft.minus, pieces), LOAD, role="load", key="wire")
    names = [piece.name for piece in pieces]
    for event, target in (
        ("wire open", "open"),
        ("wire arc", "arc"),
        ("wire ignite", "rising"),
        *((f"wire contact {k}", f"contact_{k}") for k in range(len(LEVELS))),
    ):
        circuit.events.append(Event(event, LOAD, tuple(Move(name, target) for name in names if name != target)))


def _law(resistance: float, constant: float = 0.0) -> Law:
    """v = resistance x i + constant + input."""
    return resistive(resistance, constant, (INPUT,))
