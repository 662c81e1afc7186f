"""Scenario -> SwitchedSystem: every part drawn where it stands, from the wall to the work.

    mains - supply lead - phase control - transformer - rectifier - bank - choke - blocking diode - weld leads - load
                                              boost winding - bridge - ballast -'  (or to the bank)

A varistor lies across the primary.  A part whose table is absent is left out and the neighbours are joined.  Where the
transformer isolates, the minus rail is tied to the primary's return, which changes no current; without one a bridge
leaves it floating on its diodes.
"""

import math

from weldsim.network.assembly import switched_system
from weldsim.network.circuit import Circuit
from weldsim.network.devices import Scale
from weldsim.network.draft import CURRENT_SCALE, REFERENCE, Draft
from weldsim.network.loads import draw_load
from weldsim.network.start import starter
from weldsim.network.system import SwitchedSystem
from weldsim.network.wire_load import WireElement, draw_wire
from weldsim.network.wiring_boost import draw_boost
from weldsim.network.wiring_output import (
    draw_bank,
    draw_blocking,
    draw_choke,
    draw_leads,
    draw_rectifier,
)
from weldsim.network.wiring_primary import draw_mains, draw_phase_control, draw_varistor
from weldsim.network.wiring_soft_start import draw_soft_start
from weldsim.network.wiring_transformer import draw_transformer
from weldsim.parts.cable import weld_leads_inductance
from weldsim.parts.choke import flux_curve
from weldsim.parts.transformer import turns_ratio
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import transformers


def wire(scenario: Scenario, *, boost_connected: bool = True, element: WireElement | None = None) -> SwitchedSystem:
    """The switched system of a supply with its load.

    ``boost_connected`` false leaves the boost circuit out but keeps its blocking diode in the main lead; ``element``
    puts the end of a welding wire in place of the scenario's load.

    Raises
    ------
    WiringError : parts that cannot be joined to a network with a solution; names them and the smallest value to write
    """
    circuit = draw(scenario, boost_connected=boost_connected, element=element)
    return switched_system(circuit, lambda layout: starter(scenario, layout))


def draw(scenario: Scenario, *, boost_connected: bool = True, element: WireElement | None = None) -> Circuit:
    """The drawing of a supply, before any equation is made."""
    draft = _empty_draft(scenario)
    boost = boost_connected and scenario.boost is not None
    supply = draw_mains(draft)
    behind = draw_varistor(draft, draw_phase_control(draft, draw_soft_start(draft, supply)))
    plus = draw_rectifier(draft, draw_transformer(draft, behind, boost=boost and _on_transformer(scenario)))
    draw_bank(draft, plus)
    loaded = scenario.load is not None or element is not None
    carries = boost or loaded
    terminal = draw_blocking(draft, draw_choke(draft, plus, boost=boost, carries=carries))
    work = draw_leads(draft, terminal, loaded=loaded)
    if element is None:
        draw_load(draft, work, _inductance_before_load(scenario, boost=boost))
    else:
        before = _inductance_before_load(scenario, boost=boost)
        draw_wire(draft, work, element, inductance_before=before)
    if boost:
        draw_boost(draft, terminal, plus)
    return draft.circuit


def _empty_draft(scenario: Scenario) -> Draft:
    """Nothing drawn yet: the full scales and the minus rail."""
    crest = math.sqrt(2.0) * scenario.mains.voltage or 1.0
    secondary = sum(crest / turns_ratio(one.transformer) for one in transformers(scenario)) or crest
    floating = scenario.transformer is None and scenario.rectifier is not None
    return Draft(
        scenario,
        Circuit(REFERENCE, scenario.mains.frequency),
        Scale(crest, CURRENT_SCALE),
        Scale(secondary, CURRENT_SCALE),
        "minus rail" if floating else REFERENCE,
    )


def _on_transformer(scenario: Scenario) -> bool:
    """Whether the boost is a winding on the transformer."""
    return scenario.boost is not None and scenario.boost.kind == "winding"


def _inductance_before_load(scenario: Scenario, *, boost: bool) -> float:
    """Inductance that stands before the load alone: the leads, and the choke where no boost joins behind it.

    A choke with a second winding does not count either: its current may pass from one winding to the other at once.
    """
    leads = weld_leads_inductance(scenario.weld_leads) if scenario.weld_leads is not None else 0.0
    table = scenario.boost
    apart = table is not None and table.feeds == "bank" and not table.ballast_on_choke
    if scenario.choke is None or (boost and not apart):
        return leads
    curve = flux_curve(scenario.choke)
    return leads + min(curve.inductances)
