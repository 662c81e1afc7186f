"""What is left in the core, and how far it is driven, in words: of one transformer, or of both of two."""

from collections.abc import Sequence

from weldsim.parts.flux import flux_density_at
from weldsim.runs.flux_left import Driven
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import OneTransformer, transformers

LEAST_TOLD = 1e-4  # [V.s]


def flux_told(one: OneTransformer, flux_linkage: float, *, sign: str = "") -> str:
    """A flux as density where section and turns are known, else as linkage of the primary."""
    if one.core is None or one.core.section is None or one.primary_turns is None:
        return f"{or_none(flux_linkage):{sign}.3g} V s"
    return f"{flux_density_at(one.core, flux_linkage, primary_turns=one.primary_turns):{sign}.3g} T"


def or_none(flux_linkage: float) -> float:
    """A flux linkage [V s]; none where only the sources' rest is left of it."""
    return flux_linkage if abs(flux_linkage) >= LEAST_TOLD else 0.0


def left_told(scenario: Scenario, first: float, second: float) -> str:
    """What is left in the core, or in both [V s], with their signs: "+0.44 T left in the core"."""
    both = transformers(scenario)
    told = flux_told(both[0], first, sign="+")
    if len(both) < 2:
        return f"{told} left in the core"
    return f"{told} left in the first core and {flux_told(both[1], second, sign='+')} in the second"


def linkages_told(scenario: Scenario, first: float, second: float, *, left: str = "") -> str:
    """The same as flux linkage of each primary: "+0.29 V.s in the core"; ``left`` may stand before the place."""
    if len(transformers(scenario)) < 2:
        return f"{or_none(first):+.3g} V.s {left}in the core"
    return f"{or_none(first):+.3g} V.s {left}in the first core and {or_none(second):+.3g} V.s in the second"


def first_core(scenario: Scenario) -> str:
    """The core, or the first of two."""
    return "core" if len(transformers(scenario)) < 2 else "first core"


def cores_word(scenario: Scenario) -> str:
    """Core or cores."""
    return "core" if len(transformers(scenario)) < 2 else "cores"


def driven_told(found: Sequence[Driven]) -> str:
    """How near each core comes to saturation, and which saturates; no words without a core."""
    if not found:
        return ""
    parts = [f"{100.0 * one.saturation:.0f} %" for one in found]
    over = [one.saturation > 1.0 for one in found]
    if len(found) == 1:
        return f"That press drives the flux to {parts[0]} of saturation{': the core saturates' * over[0]}."
    which = {(True, True): "both saturate", (True, False): "the first saturates", (False, True): "the second saturates"}
    end = which.get((over[0], over[1]), "neither saturates")
    return (
        f"That press drives the flux to {parts[0]} of saturation in the first core and {parts[1]} in the second: {end}."
    )
