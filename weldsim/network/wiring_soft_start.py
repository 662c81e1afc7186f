"""The soft start between supply lead and phase control: a resistance in steps, and the contact that bypasses it.

supply lead ---+--- step 0, step 1 ... (a thermistor cold, warmer, ...; a resistor has one) ---+--- phase control
               +--- contact -------------------------------------------------------------------+

Which step or the contact carries the current is told by timed events; the circuit itself changes nothing.
"""

from weldsim.network.branches import Event, Move, PiecewiseBranch, Segment, resistive
from weldsim.network.draft import Draft
from weldsim.parts.soft_start import SoftStart
from weldsim.parts.thermistor import resistance_ladder

NAME = "soft_start"
BYPASSED = "bypassed"
STEPS = 32  # of a thermistor, 25 degC to HOTTEST: 15 % apart for B = 3000 K
HOTTEST = 250.0  # [degC] beyond it the resistance falls no further (parts are rated to 170 to 200 degC)


def step_name(number: int) -> str:
    """Name of a step, and of the event that leads to it."""
    return f"soft start step {number}"


def in_series(soft_start: SoftStart | None) -> bool:
    """Whether a soft start stands in the circuit; rules of firing do not."""
    return soft_start is not None and soft_start.kind in ("resistor", "ntc")


def step_resistances(soft_start: SoftStart) -> tuple[float, ...]:
    """Resistances of the steps [ohm], the coldest first."""
    if soft_start.kind == "ntc":
        return resistance_ladder(soft_start, hottest=HOTTEST, count=STEPS)
    assert soft_start.resistance is not None
    return (soft_start.resistance,)


def draw_soft_start(draft: Draft, supply: str) -> str:
    """The resistance with its contact; the node behind it, which is ``supply`` itself where there is none."""
    soft_start = draft.scenario.soft_start
    if soft_start is None or not in_series(soft_start):
        return supply
    behind, steps = "behind the soft start", step_resistances(soft_start)
    contact = soft_start.contact_resistance
    names = [step_name(k) for k in range(len(steps))]
    segments = [Segment(name, resistive(value)) for name, value in zip(names, steps, strict=True)]
    segments.append(Segment(BYPASSED, resistive(contact * steps[0] / (contact + steps[0]))))
    branch = PiecewiseBranch(NAME, supply, behind, tuple(segments))
    draft.circuit.add(branch, "soft start", key="soft_start.resistance")
    for target in (*names, BYPASSED):
        moves = tuple(Move(segment.name, target) for segment in segments if segment.name != target)
        draft.circuit.events.append(Event(target if target != BYPASSED else "soft start bypass", NAME, moves))
    return behind
