"""How a choke is told of: one that saturates, in every study alike; one that is not for a wire."""

from weldsim.parts.choke import GIVEN_WAY, Choke, inductance_at
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
    """That shorts of a wire say little of a supply for sticks or TIG, and what to ask in their place."""
    load = scenario.load
    if scenario.wire is not None or load is None or load.kind != "load line" or load.process == "MIG":
        return []
    text = (
        f"The load is that of {load.process}, but this question is one of a wire that dips: all below stands on a "
        "usual wire of MIG. A choke for a stick must keep the arc alive between half cycles: give an arc line with "
        "hold_current and reignition_voltage and sweep --over choke.inductance=0.5mH:8mH:8 --number "
        "output.gap.longest --number output.current.min."
    )
    return [Verdict("process", "note", text)]
