"""The transformer: primary winding, core, ideal windings, and the secondary windings with their leakage.

Each winding's leakage and resistance lie outside the ideal winding; the core lies across the primary's flux-linking
voltage.  The dotted end of every winding is its plus end; leakage coils carry current outward from the dotted end, so
that shared leakage couples them with one sign.
"""

import math

from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.branches import (
    Coil,
    CoupledInductors,
    Friction,
    Inductor,
    Resistor,
    SaturatingInductor,
    Winding,
    Windings,
)
from weldsim.network.circuit import Probe
from weldsim.network.draft import REFERENCE, Draft, Inductance, Resistance
from weldsim.parts.iron import flux_scale, magnetising_branch
from weldsim.parts.transformer import leakage_inductances, turns, turns_ratio, winding_resistance
from weldsim.scenario.consistency import primary_turns

PRIMARY, SECONDARY = "transformer primary winding", "transformer secondary winding"


@dataclass(frozen=True)
class Terminals:
    """Where the secondary side can be taken: the two ends, and the tap where there is one."""

    first: str
    second: str
    tap: str = ""


@dataclass(frozen=True)
class Outlet:
    """A secondary winding to be drawn: its name, turns over the primary's, leakage, and the nodes of its ends."""

    name: str
    part: str
    ratio: float
    leakage: float
    leakage_key: str
    inner: tuple[str, str]  # the ideal winding's ends, dotted one first
    coil: tuple[str, str]  # the leakage coil's ends, from the dotted side outward


def boost_ratio(draft: Draft) -> float:
    """Turns of the boost winding over those of the primary."""
    boost, count = draft.scenario.boost, primary_turns(draft.scenario)
    assert boost is not None
    if boost.voltage is not None and draft.scenario.mains.voltage > 0.0:
        return boost.voltage / draft.scenario.mains.voltage
    if boost.turns is None or count is None:
        raise WiringError(
            "the turns of the boost winding or of the primary are not known",
            place="boost.turns",
            advice="write boost.voltage and a mains.voltage above zero, or turns for both",
        )
    return boost.turns / count


def draw_transformer(draft: Draft, behind: str, *, boost: bool) -> Terminals:
    """All windings and the core; the terminals of the main secondary.  The boost winding ends at "boost coil end"."""
    transformer = draft.scenario.transformer
    if transformer is None:
        return Terminals(behind, REFERENCE)
    leakage, secondary_leakage = leakage_inductances(transformer)
    core = draft.series(
        PRIMARY,
        behind,
        [
            Resistance(
                "primary.resistance", winding_resistance(transformer, "primary"), "transformer.primary_resistance"
            ),
            Inductance("primary.leakage", leakage, "transformer.primary_leakage_inductance"),
        ],
    )
    _draw_core(draft, core)
    outlets = _main_outlets(draft, 1.0 / turns_ratio(transformer), secondary_leakage)
    if boost:
        outlets.append(_boost_outlet(draft))
    windings = [Winding(f"transformer.{outlet.name}", *outlet.inner, outlet.ratio) for outlet in outlets]
    draft.circuit.add(
        Windings((Winding("transformer.primary", core, REFERENCE, 1.0), *windings)),
        "transformer",
        key="transformer.primary_resistance",
    )
    _draw_leakages(draft, outlets)
    return _main_terminals(draft)


def _centre_tap(draft: Draft) -> bool:
    return draft.scenario.rectifier is not None and draft.scenario.rectifier.kind == "centre-tap"


def _main_outlets(draft: Draft, ratio: float, leakage: float) -> list[Outlet]:
    """The main secondary: one winding, or two halves either side of the tap."""
    key = "transformer.secondary_leakage_inductance"
    if not _centre_tap(draft):
        low = draft.minus if draft.scenario.rectifier is None else "secondary low"
        return [
            Outlet(
                "secondary",
                SECONDARY,
                ratio,
                leakage,
                key,
                ("secondary dot", low),
                ("secondary dot", "secondary coil end"),
            )
        ]
    return [
        Outlet(
            "secondary",
            SECONDARY,
            ratio,
            leakage,
            key,
            ("secondary dot", draft.minus),
            ("secondary dot", "secondary coil end"),
        ),
        Outlet(
            "secondary_half_2",
            SECONDARY,
            ratio,
            leakage,
            key,
            (draft.minus, "half 2 inner"),
            ("half 2 coil end", "half 2 inner"),
        ),
    ]


def _boost_outlet(draft: Draft) -> Outlet:
    boost = draft.scenario.boost
    assert boost is not None
    return Outlet(
        "boost",
        "boost winding",
        boost_ratio(draft),
        boost.leakage_inductance,
        "boost.leakage_inductance",
        ("boost dot", "boost low"),
        ("boost dot", "boost coil end"),
    )


def _draw_leakages(draft: Draft, outlets: list[Outlet]) -> None:
    """Leakage coil of every outlet; coupled where the boost shares leakage with the main secondary."""
    boost = draft.scenario.boost
    shared = boost.shared_leakage_inductance if boost is not None and outlets[-1].name == "boost" else 0.0
    if shared == 0.0:
        for outlet in outlets:
            draft.circuit.add(
                Inductor(f"{outlet.name}.leakage", *outlet.coil, outlet.leakage), outlet.part, key=outlet.leakage_key
            )
        return
    own = [outlet.leakage for outlet in outlets]
    highest = math.sqrt(own[-1] * own[0] / (len(own) - 1))
    if not shared < highest:
        raise WiringError(
            f"the shared leakage of {1e6 * shared:.4g} uH is more than the windings' own leakages allow",
            place="boost.shared_leakage_inductance",
            advice=f"write less than {1e6 * highest:.4g} uH, or a larger boost.leakage_inductance",
        )
    matrix = [[own[j] if j == k else 0.0 for k in range(len(own))] for j in range(len(own))]
    for j in range(len(own) - 1):
        matrix[j][-1] = matrix[-1][j] = shared
    coils = tuple(Coil(f"{outlet.name}.leakage", *outlet.coil) for outlet in outlets)
    draft.circuit.add(
        CoupledInductors(coils, tuple(map(tuple, matrix))), "transformer leakage", key="boost.leakage_inductance"
    )


def _main_terminals(draft: Draft) -> Terminals:
    """Winding resistances of the main secondary, its signals, and its terminals."""
    transformer = draft.scenario.transformer
    assert transformer is not None
    resistance, key = winding_resistance(transformer, "secondary"), "transformer.secondary_resistance"
    first = draft.series(SECONDARY, "secondary coil end", [Resistance("secondary.resistance", resistance, key)])
    draft.current("secondary.current", "secondary current", "secondary.leakage")
    low = draft.minus if _centre_tap(draft) or draft.scenario.rectifier is None else "secondary low"
    draft.voltage("secondary.voltage", "secondary voltage at its terminals", plus=first, minus=low)
    if not _centre_tap(draft):
        return Terminals(first, low)
    second = draft.series(SECONDARY, "half 2 coil end", [Resistance("secondary_half_2.resistance", resistance, key)])
    draft.current("secondary_half_2.current", "current of the second half", "secondary_half_2.leakage", factor=-1.0)
    return Terminals(first, second, draft.minus)


def _draw_core(draft: Draft, node: str) -> None:
    """Magnetising curve, friction elements and loss resistance across the primary's flux-linking voltage."""
    core, circuit = draft.scenario.core, draft.circuit
    if core is None:
        return
    branch = magnetising_branch(core, primary_turns(draft.scenario))
    fluxes, currents = branch.flux_linkages[1:], branch.currents[1:]
    circuit.add(
        SaturatingInductor(
            "core",
            node,
            REFERENCE,
            (*(-flux for flux in reversed(fluxes)), *fluxes),
            (*(-current for current in reversed(currents)), *currents),
        ),
        "core",
        key="core.magnetising_inductance",
    )
    names = []
    for k, (stiffness, limit) in enumerate(branch.frictions, start=1):
        names.append(f"core.friction_{k}")
        circuit.add(
            Friction(names[-1], node, REFERENCE, stiffness, limit, draft.primary.voltage),
            "core hysteresis",
            key="core.hysteresis",
        )
    if branch.loss_resistance is not None:
        loss = Resistor("core.loss", node, REFERENCE, branch.loss_resistance)
        circuit.add(loss, "core loss", key="core.loss_resistance")
    circuit.read("core.flux_linkage", "V.s", "flux linkage of the primary", Probe("state", "core"))
    draft.current("core.magnetising_current", "magnetising current", "core", *names)
    transformer = draft.scenario.transformer
    wound = turns(transformer, "primary") if transformer is not None else None
    if core.section is not None and wound is not None:
        per_tesla = flux_scale(core, round(wound), "the flux density")
        circuit.read("core.flux_density", "T", "flux density in the core", Probe("state", "core", 1.0 / per_tesla))
