"""From the secondary to the work: rectifier, bank, choke, blocking diode, weld leads.

plus rail --+-- choke --- [blocking diode] --- terminal --- weld leads --- output
            bank, bleed                        (boost joins here or at the bank)
minus rail -+---------------------------------------------------------------
"""

from weldsim.network.branches import (
    Capacitor,
    Inductor,
    Resistor,
    SaturatingInductor,
    Winding,
    Windings,
)
from weldsim.network.devices import Line, Scale, diode
from weldsim.network.draft import Draft, Inductance, Resistance
from weldsim.network.wiring_transformer import Terminals
from weldsim.parts.boost import choke_turns_ratio
from weldsim.parts.cable import weld_leads_inductance, weld_leads_resistance
from weldsim.parts.choke import FluxCurve, flux_curve

PLUS = "plus rail"
BOOST_RAIL = "boost rail"
SHORTED = 1e-3  # [ohm] of a diode that has failed short (a choice of this project)


def draw_rectifier(draft: Draft, ends: Terminals) -> str:
    """Bridge or centre-tap diodes; the plus rail, which is the first terminal itself without a rectifier."""
    rectifier = draft.scenario.rectifier
    if rectifier is None:
        return ends.first
    line = Line(rectifier.threshold, rectifier.slope, rectifier.leakage_resistance)
    if rectifier.kind == "centre-tap":
        paths = [(ends.first, PLUS), (ends.second, PLUS)]
    else:
        paths = bridge_paths(ends.first, ends.second, plus=PLUS, minus=draft.minus)
    broken = {"one diode shorted": SHORTED, "one diode open": rectifier.leakage_resistance}.get(rectifier.fault)
    names = draw_diodes(draft, "rectifier", "rectifier", paths=paths, line=line, scale=draft.secondary, broken=broken)
    draft.current("rectifier.current", "rectifier current, direct side", names[0], names[1])
    return PLUS


def bridge_paths(first: str, second: str, *, plus: str, minus: str) -> list[tuple[str, str]]:
    """Anode and cathode of the four diodes: 1 and 4 conduct while the first end is positive."""
    return [(first, plus), (second, plus), (minus, first), (minus, second)]


def draw_diodes(  # noqa: PLR0913 (all by keyword)
    draft: Draft,
    table: str,
    part: str,
    *,
    paths: list[tuple[str, str]],
    line: Line,
    scale: Scale,
    broken: float | None = None,
) -> list[str]:
    """Equal diodes along the paths, each with its voltage and current; their names.

    With ``broken`` the first one is a plain resistance [ohm] in both directions: shorted, or open but for its leakage.
    """
    names = [f"{table}.diode_{k}" for k in range(1, len(paths) + 1)]
    for name, (anode, cathode) in zip(names, paths, strict=True):
        if broken is not None and name == names[0]:
            draft.circuit.add(Resistor(name, anode, cathode, broken), part, key=f"{table}.fault")
            continue
        draft.circuit.add(diode(name, anode, cathode, line=line, scale=scale), part, key=f"{table}.slope")
    return names


def draw_bank(draft: Draft, plus: str) -> None:
    """The bank with its series resistance, and the bleed resistor across its terminals."""
    bank, circuit = draft.scenario.bank, draft.circuit
    if bank is None:
        return
    inner = draft.series("bank", plus, [Resistance("bank.resistance", bank.resistance, "bank.resistance")])
    circuit.add(Capacitor("bank", inner, draft.minus, bank.capacitance), "bank", key="bank.resistance")
    draft.voltage("bank.voltage", "bank voltage at its terminals", plus=plus, minus=draft.minus)
    draft.current("bank.current", "current into the bank", "bank")
    if bank.bleed_resistance is not None:
        circuit.add(Resistor("bleed", plus, draft.minus, bank.bleed_resistance), "bleed", key="bank.bleed_resistance")


def second_winding(draft: Draft, *, boost: bool) -> bool:
    """Whether the output choke carries a second winding."""
    table = draft.scenario.boost
    return boost and table is not None and (table.kind == "choke" or table.ballast_on_choke)


def draw_choke(draft: Draft, plus: str, *, boost: bool, carries: bool) -> str:
    """The output choke, with the second winding of a boost on it; the node behind it.

    Without a path for current (``carries`` false: unloaded) its current stays zero, so that it is drawn unsaturated.
    """
    choke, circuit = draft.scenario.choke, draft.circuit
    if choke is None:
        return plus
    curve, behind = flux_curve(choke), "behind choke"
    if len(curve.currents) == 2 or not carries:
        circuit.add(
            Inductor("choke", plus, behind, curve.flux_linkages[1] / curve.currents[1]), "choke", key="choke.inductance"
        )
    else:
        circuit.add(_saturating(curve, plus, behind), "choke", key="choke.inductance")
    carriers = ["choke"]
    if second_winding(draft, boost=boost):
        assert draft.scenario.boost is not None
        ratio = choke_turns_ratio(draft.scenario.boost, main_turns=choke.turns) or 1.0
        entry = "second in" if draft.scenario.boost.kind == "choke" else BOOST_RAIL
        circuit.add(
            Windings((Winding("choke.main", plus, behind, 1.0), Winding("choke.second", entry, "second out", ratio))),
            "choke",
            key="choke.resistance",
        )
        carriers.append("choke.main")
    draft.current("choke.current", "choke current", *carriers)
    return draft.series("choke", behind, [Resistance("choke.resistance", choke.resistance, "choke.resistance")])


def _saturating(curve: FluxCurve, plus: str, minus: str) -> SaturatingInductor:
    """The choke's odd flux curve in both polarities."""
    fluxes, currents = curve.flux_linkages[1:], curve.currents[1:]
    return SaturatingInductor(
        "choke",
        plus,
        minus,
        (*(-flux for flux in reversed(fluxes)), *fluxes),
        (*(-current for current in reversed(currents)), *currents),
    )


def draw_blocking(draft: Draft, node: str) -> str:
    """The blocking diode in the main lead, where a boost has one; the terminal."""
    boost = draft.scenario.boost
    if boost is None or not boost.blocking_diode:
        return node
    line = Line(boost.blocking_threshold, boost.blocking_slope, boost.blocking_leakage_resistance)
    draft.circuit.add(
        diode("blocking", node, "terminal", line=line, scale=draft.secondary),
        "boost blocking diode",
        key="boost.blocking_slope",
    )
    return "terminal"


def draw_leads(draft: Draft, terminal: str, *, loaded: bool) -> str:
    """Weld leads with their contacts, where something hangs on them; the node at the work."""
    leads = draft.scenario.weld_leads
    draft.voltage("terminal.voltage", "voltage at the terminals", plus=terminal, minus=draft.minus)
    if leads is None or not loaded:
        return terminal
    return draft.series(
        "weld leads",
        terminal,
        [
            Inductance("weld_leads.inductance", weld_leads_inductance(leads), "weld_leads.inductance"),
            Resistance("weld_leads.resistance", weld_leads_resistance(leads), "weld_leads.resistance"),
        ],
    )
