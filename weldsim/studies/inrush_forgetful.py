"""A core given without hysteresis forgets: what its presses would be if it kept as much as iron does."""

import dataclasses

from weldsim.frozen import dataclass
from weldsim.parts.flux import remanent_flux_linkage
from weldsim.parts.iron import Core, is_iron
from weldsim.runs.crew import Crew
from weldsim.runs.press_batches import press_by
from weldsim.runs.presses import Press, Presser
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict, of_hundred
from weldsim.studies.breaker_words import called
from weldsim.studies.press_trips import count_trips

PRESSES = 100  # at most, with the flux that iron would keep
TOLD = (
    "The core is given without hysteresis: its remanence is what is left after the last conduction of a lossless core, "
    "usually none."
)


@dataclass(frozen=True)
class Remembered:
    """Presses of the same draws, had the core kept a flux linkage [V s]."""

    flux_linkage: float
    presses: list[Press]


def forgets(scenario: Scenario) -> bool:
    """Whether the core is given by electrical values alone, without anything that could keep a flux."""
    core: Core | None = scenario.core
    return core is not None and not is_iron(core) and not remanent_flux_linkage(core, primary_turns(scenario)) > 0.0


def remembered(presser: Presser, crew: Crew, *, seed: int, count: int) -> Remembered | None:
    """Presses with the flux that the map ends at left in the core; none where it keeps one, or one was typed in."""
    if presser.setting.flux_linkage is not None or not forgets(presser.asked):
        return None
    most = presser.most_remanence()
    setting = dataclasses.replace(presser.setting, flux_linkage=most)
    batches = press_by(crew, presser.asked, count=min(count, PRESSES), seed=seed, setting=setting)
    return Remembered(most, [press for batch in batches for press in batch])


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
            f"The core is given without hysteresis, so each press above finds next to nothing left in it. Iron without "
            f"a gap remembers: with {found.flux_linkage:.3g} V s left, 0.7 of what the mains swing it to (common "
            f"practice, no published source), {told}. To know, give the iron (core.section, path_length, steel and "
            "transformer.primary_turns), or ask for another flux with --flux-linkage.",
        )
    ]
