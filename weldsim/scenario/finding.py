"""What a judgement of a scenario is made of: the finding, and the no-load figures that several findings need."""

from weldsim.frozen import dataclass
from weldsim.parts.boost import no_load_voltage
from weldsim.parts.generator import as_mains
from weldsim.parts.mains import Mains, crest_flux_linkage, crest_voltage
from weldsim.parts.rectifier import diodes_in_series
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import secondary_crest
from weldsim.units import to_text

GOOD, NOTE, FAULT = "good", "note", "fault"


@dataclass(frozen=True)
class Finding:
    """One judgement: what was looked at, how it stands, the sentence, and the number behind it."""

    name: str  # "bank.rated_voltage"
    level: str  # "good", "note" or "fault"
    text: str
    number: float | None = None
    unit: str = "1"


@dataclass(frozen=True)
class NoLoad:
    """Crest values with nothing connected, at one mains voltage; full conduction, no drop but the diodes'."""

    factor: float  # mains voltage over its nominal value
    mains_crest: float  # [V]
    secondary_crest: float  # [V] of one half for a centre-tap
    flux_linkage: float  # [V.s] half of its swing, with the whole mains on one primary
    rectified: float  # [V] behind the main rectifier, or the crest without one
    boosted: float | None  # [V] behind the boost's bridge; None without boost winding
    bank: float  # [V] what the bank is charged to; rectified where there is no bank
    output: float  # [V]


def source_of(scenario: Scenario) -> Mains:
    """What stands behind the plug: the mains, or the generator in their place at its rated voltage."""
    return scenario.mains if scenario.generator is None else as_mains(scenario.generator, scenario.mains)


def no_load(scenario: Scenario, *, factor: float) -> NoLoad:
    """The no-load figures at a mains voltage of ``factor`` times its nominal value."""
    crest = crest_voltage(source_of(scenario), factor=factor)
    flux = crest_flux_linkage(source_of(scenario), factor=factor)
    secondary = crest if scenario.transformer is None else secondary_crest(scenario, crest, flux_linkage=flux)
    rectified = secondary
    if scenario.rectifier is not None:
        rectified = max(secondary - diodes_in_series(scenario.rectifier) * scenario.rectifier.threshold, 0.0)
    boosted = _boosted(scenario, crest, factor)
    return NoLoad(
        factor=factor,
        mains_crest=crest,
        secondary_crest=secondary,
        flux_linkage=flux,
        rectified=rectified,
        boosted=boosted,
        bank=max(rectified, boosted or 0.0) if boost_reaches_bank(scenario) else rectified,
        output=max(rectified, boosted or 0.0),
    )


def highest(scenario: Scenario) -> NoLoad:
    """The no-load figures at the highest mains voltage of the scenario's tolerance."""
    return no_load(scenario, factor=1.0 + scenario.mains.tolerance)


def _boosted(scenario: Scenario, crest: float, factor: float) -> float | None:
    """Voltage behind the bridge of a boost winding."""
    boost = scenario.boost
    if boost is None or boost.kind != "winding" or scenario.mains.voltage == 0.0:
        return None
    nominal = no_load_voltage(boost, volts_per_turn=scenario.mains.voltage / (primary_turns(scenario) or 1))
    return max(nominal * crest / scenario.mains.voltage - 2.0 * boost.threshold, 0.0)


def boost_reaches_bank(scenario: Scenario) -> bool:
    """Whether a boost winding can charge the bank: led to it, or through the choke with no diode in the way."""
    boost = scenario.boost
    return boost is not None and boost.kind == "winding" and (boost.feeds == "bank" or not boost.blocking_diode)


def shown(value: float, kind: str) -> str:
    """A value as it stands in a sentence."""
    return to_text(value, kind, digits=3)


def mains_word(scenario: Scenario) -> str:
    """The highest mains as a person says it: "mains +10 %"."""
    return f"mains +{to_text(scenario.mains.tolerance, 'fraction', digits=3)}"
