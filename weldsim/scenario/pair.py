"""One transformer or two: which there are, how two are joined, and how they share the mains without load."""

import math

from weldsim.frozen import dataclass
from weldsim.parts.iron import Core, flux_scale, magnetising_branch
from weldsim.parts.second_transformer import SecondTransformer, second_core, second_transformer
from weldsim.parts.transformer import Transformer, leakage_inductances, turns, turns_ratio, winding_resistance
from weldsim.scenario.document import Scenario

HALVINGS = 200  # of a share, until no two numbers lie between


@dataclass(frozen=True)
class OneTransformer:
    """A transformer with its core; ``prefix`` stands before its names: nothing, or "second_"."""

    prefix: str
    transformer: Transformer
    core: Core | None

    @property
    def word(self) -> str:
        """The prefix in words."""
        return self.prefix.replace("_", " ")

    @property
    def primary_turns(self) -> int | None:
        """Turns of its primary where they are known."""
        known = turns(self.transformer, "primary")
        return None if known is None else round(known)


def transformers(scenario: Scenario) -> tuple[OneTransformer, ...]:
    """The first transformer, and the second where there is one."""
    if scenario.transformer is None:
        return ()
    first = OneTransformer("", scenario.transformer, scenario.core)
    table = scenario.second_transformer
    if table is None:
        return (first,)
    core = None if scenario.core is None else second_core(scenario.core, scenario.second_core)
    return first, OneTransformer("second_", second_transformer(scenario.transformer, table), core)


def ratios(scenario: Scenario) -> list[float]:
    """Secondary over primary turns of each transformer; negative where the second is joined the wrong way round."""
    table = scenario.second_transformer
    found = [1.0 / turns_ratio(one.transformer) for one in transformers(scenario)]
    if table is not None and table.reversed:
        found[1] = -found[1]
    return found


def shares(scenario: Scenario, flux_linkage: float) -> list[float]:
    """What each primary takes of the mains without load, as a fraction; ``flux_linkage`` [V s] is the mains' crest.

    In series, parallel secondaries force equal volts on both; with series secondaries the same current magnetises both
    cores, each at its own flux.  Losses and hysteresis are neglected.
    """
    table = scenario.second_transformer
    count = len(transformers(scenario))
    if table is None or table.primaries == "parallel":
        return [1.0] * count
    if table.secondaries == "parallel":
        first, second = (abs(ratio) for ratio in ratios(scenario))
        return [second / (first + second), first / (first + second)]
    own = _series_share(transformers(scenario), flux_linkage)
    return [own, 1.0 - own]


def _series_share(both: tuple[OneTransformer, ...], flux_linkage: float) -> float:
    """Share of the first of two cores that carry the same magnetising current."""
    if any(one.core is None for one in both) or not flux_linkage > 0.0:
        return 0.5
    first, second = (magnetising_branch(one.core, one.primary_turns) for one in both if one.core is not None)
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        more = first.current(middle * flux_linkage) > second.current((1.0 - middle) * flux_linkage)
        low, high = (low, middle) if more else (middle, high)
    return 0.5 * (low + high)


def is_tapped(scenario: Scenario) -> bool:
    """Whether a centre-tap rectifier takes two halves in turn: two windings of one transformer, or one of each."""
    return scenario.rectifier is not None and scenario.rectifier.kind == "centre-tap"


def secondary_crest(scenario: Scenario, crest: float, *, flux_linkage: float) -> float:
    """Crest of the joined secondaries without load at a crest of the mains [V]; of one half for a centre-tap.

    Of unlike secondaries in parallel the larger one's, which the output does not exceed.
    """
    table, found = scenario.second_transformer, transformers(scenario)
    parts = zip(shares(scenario, flux_linkage), found, strict=True)
    volts = [share * crest / turns_ratio(one.transformer) for share, one in parts]
    if table is None or table.secondaries == "parallel" or is_tapped(scenario):
        return max(volts)
    return abs(volts[0] - volts[1]) if table.reversed else volts[0] + volts[1]


def second_flux_factor(scenario: Scenario) -> float:
    """Flux linkage of the second core over the first's where both are magnetised alike.

    The same flux density where section and turns of both are known, else the same flux linkage.
    """
    scales = []
    for one in transformers(scenario):
        if one.core is None or one.core.section is None or one.primary_turns is None:
            return 1.0
        scales.append(flux_scale(one.core, one.primary_turns, "the flux density"))
    return scales[1] / scales[0] if len(scales) > 1 else 1.0


def start_fluxes(scenario: Scenario) -> list[float]:
    """Flux linkage of each core by the [start] table [V s]; a second one not told of is magnetised as the first."""
    start, found = scenario.start, []
    for one in transformers(scenario):
        if one.core is None:
            continue
        dense = start.second_remanence if one.prefix else start.remanence
        plain = start.second_flux_linkage if one.prefix else start.flux_linkage
        if dense is not None:
            found.append(dense * flux_scale(one.core, one.primary_turns, f"start.{one.prefix}remanence"))
        elif plain is not None:
            found.append(plain)
        else:
            found.append(found[0] * second_flux_factor(scenario))
    return found


def loop_impedance(scenario: Scenario, frequency: float) -> complex:
    """Impedance around two parallel secondaries, with primaries that are both on the mains, seen from them [ohm]."""
    return sum((impedance(one, frequency) for one in transformers(scenario)), 0j)


def impedance(one: OneTransformer, frequency: float) -> complex:
    """Both windings of a transformer with its primary on stiff mains, seen from the secondary [ohm]."""
    square = turns_ratio(one.transformer) ** 2
    primary, secondary = leakage_inductances(one.transformer)
    resistance = winding_resistance(one.transformer, "secondary")
    resistance += winding_resistance(one.transformer, "primary") / square
    return resistance + 2j * math.pi * frequency * (secondary + primary / square)


def joined(table: SecondTransformer) -> str:
    """How the two are joined, in words."""
    return f"primaries in {table.primaries}, secondaries in {table.secondaries}"
