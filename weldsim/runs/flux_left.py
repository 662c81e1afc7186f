"""Flux that rests in the cores of a supply: how much they keep, what a press finds in them, how far it drives them."""

import math

import numpy as np

from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass
from weldsim.parts.flux import remanent_flux_linkage, saturation_flux_linkage
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import OneTransformer, second_flux_factor, transformers

FALLS_BACK = 0.7  # of the flux of settled running, for a core without hysteresis (common practice)


@dataclass(frozen=True)
class Driven:
    """How far a run drives one core."""

    one: OneTransformer
    flux_peak: float  # [V s]
    saturation: float  # flux_peak over that at which only air is left [1]


def most_remanence(scenario: Scenario) -> float:
    """Largest flux linkage that the first core keeps without a current [V s].

    0.7 of the flux of settled running where it has no hysteresis.
    """
    first = transformers(scenario)[0]
    assert first.core is not None
    kept = remanent_flux_linkage(first.core, first.primary_turns)
    crest = math.sqrt(2.0) * scenario.mains.voltage / (2.0 * math.pi * scenario.mains.frequency)
    return kept if kept > 0.0 else FALLS_BACK * crest


def second_beside(scenario: Scenario, flux_linkage: float) -> dict[str, float]:
    """Flux linkage of the second core where the first rests with so much [V s], by the name of the start value.

    As dense as in the first, but no more than the second keeps by itself, if it keeps any; nothing of one transformer.
    """
    both = transformers(scenario)
    if len(both) < 2 or both[1].core is None:
        return {}
    alike = flux_linkage * second_flux_factor(scenario)
    kept = remanent_flux_linkage(both[1].core, both[1].primary_turns)
    return {"second_flux_linkage": math.copysign(min(abs(alike), kept), alike) if kept > 0.0 else alike}


def starting_values(trace: Trace) -> dict[str, float]:
    """Flux linkage and density of the cores, and the bank's volts, at the beginning of a run, as far as they are."""
    known = {signal.name for signal in trace.system.signals}
    wanted = (f"{core}.{what}" for core in ("core", "second_core") for what in ("flux_linkage", "flux_density"))
    names = [name for name in (*wanted, "bank.voltage") if name in known]
    values = trace.rows(names, trace.mode[:1])[0] @ trace.state[0]
    return dict(zip(names, (float(value) for value in values), strict=True))


def driven(scenario: Scenario, trace: Trace) -> list[Driven]:
    """How far a run drives each core."""
    found = []
    for one in transformers(scenario):
        if one.core is None:
            continue
        peak = float(np.abs(trace.extremes([f"{one.prefix}core.flux_linkage"])[0]).max())
        found.append(Driven(one, peak, peak / saturation_flux_linkage(one.core, one.primary_turns)))
    return found
