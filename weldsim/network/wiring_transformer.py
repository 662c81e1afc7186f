"""The transformer: primary winding, core, ideal windings, and the secondary windings with their leakage.

Each winding's leakage and resistance lie outside the ideal winding; the core lies across the primary's flux-linking
voltage.  The dotted end of every winding is its plus end; leakage coils carry current outward from the dotted end, so
that shared leakage couples them with one sign.  A second transformer is drawn as the first is, its primary beside or
behind the first's; a secondary joined the wrong way round has turns that count backward.
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
from weldsim.parts.transformer import Transformer, leakage_inductances, turns_ratio, winding_resistance
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.pair import OneTransformer, is_tapped, ratios, transformers

PRIMARY, SECONDARY = "transformer primary winding", "transformer secondary winding"
BETWEEN = "between secondaries"


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

    @property
    def winding(self) -> str:
        """Its name among the windings of its transformer."""
        return self.name.removeprefix("second_")


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
    found, table = transformers(draft.scenario), draft.scenario.second_transformer
    if not found:
        return Terminals(behind, REFERENCE)
    if table is None:
        _draw_one(draft, found[0], (behind, REFERENCE), _main_outlets(draft, found[0].transformer), boost=boost)
        return _main_terminals(draft)
    between = behind if table.primaries == "parallel" else "between primaries"
    ends = ((behind, REFERENCE if between == behind else between), (between, REFERENCE))
    for one, (plus, minus), ratio in zip(found, ends, ratios(draft.scenario), strict=True):
        _draw_one(draft, one, (plus, minus), [_own_outlet(draft, one, ratio)], boost=boost and not one.prefix)
        place = f"{one.prefix or 'first_'}primary"
        branches = _primary_branches(draft, one)
        draft.current(f"{place}.current", f"current of the {one.word or 'first '}primary", *branches)
        draft.voltage(f"{place}.voltage", f"voltage of the {one.word or 'first '}primary", plus=plus, minus=minus)
    return _pair_terminals(draft)


def _draw_one(draft: Draft, one: OneTransformer, ends: tuple[str, str], outlets: list[Outlet], *, boost: bool) -> None:
    """Primary between two nodes, core, ideal windings and leakages of one transformer."""
    leakage, _ = leakage_inductances(one.transformer)
    prefix, table = one.prefix, f"{one.prefix}transformer"
    core = draft.series(
        one.word + PRIMARY,
        ends[0],
        [
            Resistance(
                f"{prefix}primary.resistance",
                winding_resistance(one.transformer, "primary"),
                f"{table}.primary_resistance",
            ),
            Inductance(f"{prefix}primary.leakage", leakage, f"{table}.primary_leakage_inductance"),
        ],
    )
    _draw_core(draft, one, (core, ends[1]))
    if boost:
        outlets = [*outlets, _boost_outlet(draft)]
    windings = [Winding(f"{table}.{outlet.winding}", *outlet.inner, outlet.ratio) for outlet in outlets]
    draft.circuit.add(
        Windings((Winding(f"{table}.primary", core, ends[1], 1.0), *windings)),
        f"{one.word}transformer",
        key=f"{table}.primary_resistance",
    )
    _draw_leakages(draft, outlets)


def _primary_branches(draft: Draft, one: OneTransformer) -> list[str]:
    """What the current of a primary passes through behind its resistance and leakage: winding, iron, loss, friction."""
    winding, core = f"{one.prefix}transformer.primary", f"{one.prefix}core"
    names = draft.circuit.owners
    return [name for name in names if name in (winding, core) or name.startswith(f"{core}.")]


def _low(draft: Draft) -> str:
    """The end of the secondary that is not dotted: the minus rail with a tap or without a rectifier."""
    return draft.minus if is_tapped(draft.scenario) or draft.scenario.rectifier is None else "secondary low"


def _main_outlets(draft: Draft, transformer: Transformer) -> list[Outlet]:
    """The main secondary: one winding, or two halves either side of the tap."""
    key = "transformer.secondary_leakage_inductance"
    ratio, (_, leakage) = 1.0 / turns_ratio(transformer), leakage_inductances(transformer)
    first = Outlet(
        "secondary",
        SECONDARY,
        ratio,
        leakage,
        key,
        ("secondary dot", _low(draft)),
        ("secondary dot", "secondary coil end"),
    )
    if not is_tapped(draft.scenario):
        return [first]
    return [
        first,
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


def _own_outlet(draft: Draft, one: OneTransformer, ratio: float) -> Outlet:
    """The secondary of one transformer of a pair; with a centre-tap each is one half.

    The second ends at the low end, the first at the second's outer end where the two are in series.
    """
    table = draft.scenario.second_transformer
    assert table is not None
    low = _low(draft)
    if table.secondaries == "series" and not one.prefix and not is_tapped(draft.scenario):
        low = BETWEEN
    dot, coil_end = f"{one.word}secondary dot", f"{one.word}secondary coil end"
    inner, coil = (dot, low), (dot, coil_end)
    if one.prefix and is_tapped(draft.scenario):
        inner, coil = (low, dot), (coil_end, dot)
    return Outlet(
        f"{one.prefix}secondary",
        one.word + SECONDARY,
        ratio,
        leakage_inductances(one.transformer)[1],
        f"{one.prefix}transformer.secondary_leakage_inductance",
        inner,
        coil,
    )


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
    low = _low(draft)
    draft.voltage("secondary.voltage", "secondary voltage at its terminals", plus=first, minus=low)
    if not is_tapped(draft.scenario):
        return Terminals(first, low)
    second = draft.series(SECONDARY, "half 2 coil end", [Resistance("secondary_half_2.resistance", resistance, key)])
    draft.current("secondary_half_2.current", "current of the second half", "secondary_half_2.leakage", factor=-1.0)
    return Terminals(first, second, draft.minus)


def _pair_terminals(draft: Draft) -> Terminals:
    """Winding resistances of both secondaries, their signals, and the terminals of what they are joined to."""
    table = draft.scenario.second_transformer
    assert table is not None
    low, series, tapped = _low(draft), table.secondaries == "series", is_tapped(draft.scenario)
    first = _behind_resistance(draft, 0)
    end = "" if tapped else BETWEEN if series else first
    second = _behind_resistance(draft, 1, end=end)
    draft.current("secondary.current", "secondary current", "secondary.leakage")
    draft.current(
        "second_secondary.current",
        "current of the second secondary",
        "second_secondary.leakage",
        factor=-1.0 if tapped else 1.0,
    )
    lowest = BETWEEN if series and not tapped else low
    draft.voltage("secondary.voltage", "secondary voltage at its terminals", plus=first, minus=lowest)
    plus, minus = (low, second) if tapped else (second, low)
    draft.voltage("second_secondary.voltage", "second secondary voltage at its terminals", plus=plus, minus=minus)
    return Terminals(first, second, draft.minus) if tapped else Terminals(first, low)


def _behind_resistance(draft: Draft, which: int, *, end: str = "") -> str:
    """The resistance of one of two secondaries; the node behind it."""
    one = transformers(draft.scenario)[which]
    resistance = winding_resistance(one.transformer, "secondary")
    key = f"{one.prefix}transformer.secondary_resistance"
    pieces = [Resistance(f"{one.prefix}secondary.resistance", resistance, key)]
    return draft.series(one.word + SECONDARY, f"{one.word}secondary coil end", pieces, end=end)


def _draw_core(draft: Draft, one: OneTransformer, ends: tuple[str, str]) -> None:
    """Magnetising curve, friction elements and loss resistance across the primary's flux-linking voltage."""
    core, circuit, name = one.core, draft.circuit, f"{one.prefix}core"
    if core is None:
        return
    branch = magnetising_branch(core, one.primary_turns)
    fluxes, currents = branch.flux_linkages[1:], branch.currents[1:]
    circuit.add(
        SaturatingInductor(
            name,
            *ends,
            (*(-flux for flux in reversed(fluxes)), *fluxes),
            (*(-current for current in reversed(currents)), *currents),
        ),
        f"{one.word}core",
        key=f"{name}.magnetising_inductance",
    )
    names = [f"{name}.friction_{k}" for k in range(1, len(branch.frictions) + 1)]
    for friction, (stiffness, limit) in zip(names, branch.frictions, strict=True):
        circuit.add(
            Friction(friction, *ends, stiffness, limit, draft.primary.voltage),
            f"{one.word}core hysteresis",
            key=f"{name}.hysteresis",
        )
    if branch.loss_resistance is not None:
        loss = Resistor(f"{name}.loss", *ends, branch.loss_resistance)
        circuit.add(loss, f"{one.word}core loss", key=f"{name}.loss_resistance")
    circuit.read(f"{name}.flux_linkage", "V.s", f"flux linkage of the {one.word}primary", Probe("state", name))
    draft.current(f"{name}.magnetising_current", f"{one.word}magnetising current", name, *names)
    wound = one.primary_turns
    if core.section is not None and wound is not None:
        per_tesla = flux_scale(core, wound, "the flux density")
        label = f"flux density in the {one.word}core"
        circuit.read(f"{name}.flux_density", "T", label, Probe("state", name, 1.0 / per_tesla))
