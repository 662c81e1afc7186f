"""A core given without hysteresis forgets: what its presses would be if it kept as much as iron does."""

import dataclasses

from weldsim.frozen import dataclass
from weldsim.parts.flux import remanent_flux_linkage
from weldsim.parts.iron import is_iron
from weldsim.runs.crew import Crew
from weldsim.runs.flux_left import FALLS_BACK, most_remanence
from weldsim.runs.press_batches import press_by
from weldsim.runs.presses import Press, Presser
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import OneTransformer, transformers
from weldsim.studies.answer import Verdict, of_hundred
from weldsim.studies.breaker_words import called
from weldsim.studies.press_trips import count_trips

PRESSES = 100  # at most, with the flux that iron would keep


@dataclass(frozen=True)
class Remembered:
    """Presses of the same draws, had the core kept a flux linkage [V s]."""

    flux_linkage: float
    presses: list[Press]


def forgetful(scenario: Scenario) -> list[OneTransformer]:
    """Those whose core is given by electrical values alone, without anything that could keep a flux."""
    return [
        one
        for one in transformers(scenario)
        if one.core is not None
        and not is_iron(one.core)
        and not remanent_flux_linkage(one.core, one.primary_turns) > 0.0
    ]


def told_forgetful(scenario: Scenario) -> list[str]:
    """What is assumed of a core that forgets; nothing where each remembers."""
    found = forgetful(scenario)
    if not found:
        return []
    return [
        f"{_given(scenario, found)} without hysteresis: its remanence is what is left after the last conduction of a "
        "lossless core, usually none."
    ]


def _given(scenario: Scenario, found: list[OneTransformer]) -> str:
    """Which core is given so."""
    if len(found) > 1:
        return "Each core is given"
    alone = len(transformers(scenario)) == 1
    return f"The {'' if alone else found[0].word or 'first '}core is given"


def remembered(presser: Presser, crew: Crew, *, seed: int, count: int) -> Remembered | None:
    """Presses with the flux that the map ends at left in the core; none where it keeps one, or one was typed in."""
    if presser.setting.flux_linkage is not None or not forgetful(presser.asked):
        return None
    most = most_remanence(presser.scenario)
    setting = dataclasses.replace(presser.setting, flux_linkage=most)
    batches = press_by(crew, presser.asked, count=min(count, PRESSES), seed=seed, setting=setting)
    return Remembered(most, [press for batch in batches for press in batch])


def _of(scenario: Scenario) -> str:
    """Where that flux comes from, and in which core it is."""
    one = transformers(scenario)[0]
    assert one.core is not None
    where = " in the first core and the second as dense" if len(transformers(scenario)) > 1 else ""
    if remanent_flux_linkage(one.core, one.primary_turns) > 0.0:
        return f"{where}, the most that the first keeps"
    return f"{where}, {FALLS_BACK:g} of what the mains swing it to (common practice, no published source)"


def forgetful_verdicts(scenario: Scenario, found: Remembered | None) -> list[Verdict]:
    """That the statistic is one of a core that forgets, and what a core that remembers would do."""
    if found is None:
        return []
    worst = max(press.largest for press in found.presses)
    trips = count_trips(scenario.breaker, [press.half_cycles for press in found.presses])
    told = f"the worst of {len(found.presses)} presses of the same draws peaks at {worst:.3g} A"
    if trips is not None and scenario.breaker is not None:
        told += (
            f", and {of_hundred(trips.above_middle / trips.count)} of 100 trip a {called(scenario.breaker)} at the "
            f"middle of its band (lower edge {of_hundred(trips.above_low / trips.count)}, upper edge "
            f"{of_hundred(trips.above_high / trips.count)})"
        )
    return [
        Verdict(
            "forgetful_core",
            "good" if trips is not None and not trips.above_low else "note",
            f"{_given(scenario, forgetful(scenario))} without hysteresis, so each press above finds next to nothing "
            f"left in it. Iron without a gap remembers: with {found.flux_linkage:.3g} V s left{_of(scenario)}, {told}. "
            f"To know, give the iron (core.section, path_length, steel and "
            "transformer.primary_turns), or ask for another flux with --flux-linkage.",
        )
    ]
