"""How a choke is told of: one that saturates, in every study alike; one that is not for a wire."""

from collections.abc import Sequence

from weldsim.parts.choke import GIVEN_WAY, Choke, inductance_at
from weldsim.parts.wire import USUAL_GAS, Wire
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict


def given_way(choke: Choke | None, current: float) -> str:
    """What is left of a choke's inductance at a current [A]; no words where most of it is, or where there is none."""
    if choke is None:
        return ""
    left, at_rest = inductance_at(choke, current), inductance_at(choke, 0.0)
    if left >= GIVEN_WAY * at_rest:
        return ""
    return f"The choke saturates: of its {1e3 * at_rest:.3g} mH {1e3 * left:.2g} mH are left at {current:.4g} A"


def told_of_process(scenario: Scenario) -> list[Verdict]:
    """That shorts of a wire say little of a supply for sticks, TIG or batteries, and what to ask in their place."""
    load = scenario.load
    if scenario.wire is not None or load is None:
        return []
    if load.kind == "battery":
        text = (
            "The load is a battery, but this question is one of a wire that dips: all below stands on a usual wire of "
            "MIG. What a choke does to the charging current: sweep --over choke.inductance=0.5mH:8mH:8 --number "
            "output.current.ripple."
        )
        return [Verdict("process", "note", text)]
    if load.kind != "load line" or load.process == "MIG":
        return []
    text = (
        f"The load is that of {load.process}, but this question is one of a wire that dips: all below stands on a "
        "usual wire of MIG, and says nothing of a stick's arc. A choke for a stick must keep the arc alive between "
        "half cycles: give an arc line with hold_current and reignition_voltage and sweep --over "
        "choke.inductance=0.5mH:8mH:8 --number output.gap.longest --number output.current.min."
    )
    return [Verdict("process", "note", text)]


def for_a_wire(scenario: Scenario, verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Verdicts on the shorts of a wire; of a supply that is none for a wire they judge nothing, and say so."""
    process = told_of_process(scenario)
    if not process:
        return list(verdicts)
    return process + [Verdict(one.name, "note", f"With a wire of MIG: {one.text}") for one in verdicts]


def told_wire(scenario: Scenario) -> list[str]:
    """Which wire was welded with where none is written."""
    if scenario.wire is not None:
        return []
    usual = Wire()
    return [
        f"No [wire] is written: {usual.kind} of {1e3 * usual.diameter:g} mm in {USUAL_GAS[usual.kind]}, with what else "
        "is usual for it."
    ]
