"""Findings about transformers and their cores: flux against saturation, and whether two transformers fit together."""

import math
from collections.abc import Callable, Iterator

from weldsim.parts.flux import remanent_flux_linkage, saturation_flux_linkage
from weldsim.parts.hysteresis import first_rise
from weldsim.parts.iron import MagnetisingBranch, magnetising_branch
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import FAULT, GOOD, NOTE, Finding, highest, mains_word, no_load, shown
from weldsim.scenario.pair import (
    OneTransformer,
    is_tapped,
    joined,
    loop_impedance,
    ratios,
    shares,
    start_fluxes,
    transformers,
)

USUAL_BREAKER = 16.0  # [A] of a household socket where none is given (common practice)
QUARTER = 180  # looks at a quarter of a sine: peaks of a saturated core to 1 %
FLUX_MARGIN = 0.95  # of saturation; above it the idle current grows steeply (common practice)
TOLERATED = 1.05  # of a current that the file gives: a core that takes more is told
UNLIKE, VERY_UNLIKE = 0.005, 0.05  # of the volts of parallel secondaries: told, a fault (choices of this project)


def _flux(scenario: Scenario) -> Iterator[Finding]:
    """Flux of each core at the highest mains against saturation."""
    whole = highest(scenario).flux_linkage
    for one, share in zip(transformers(scenario), shares(scenario, whole), strict=True):
        if one.core is not None:
            yield _flux_of(scenario, one, share)


def _flux_of(scenario: Scenario, one: OneTransformer, share: float) -> Finding:
    """One core with a share of the mains."""
    core, wound, flux = one.core, one.primary_turns, share * highest(scenario).flux_linkage
    assert core is not None
    name, limit = f"{one.prefix}core.flux", saturation_flux_linkage(core, wound)
    if math.isinf(limit):
        return Finding(name, NOTE, f"The {one.word}core has no saturation: inrush is not to be believed.", flux, "V.s")
    part = flux / limit
    branch = magnetising_branch(core, wound)
    current, heats = branch.current(flux), _rms_of_a_sine(branch, flux)
    carried = USUAL_BREAKER if scenario.breaker is None else scenario.breaker.current
    idle = heats > carried
    steep = part > FLUX_MARGIN or current > math.sqrt(2.0) * carried
    level = FAULT if part > 1.0 or idle else NOTE if steep else GOOD
    density = ""
    if core.section is not None and wound:
        density = f" ({shown(flux / (wound * core.section * core.stacking), 'flux_density')})"
    told = ""
    if idle:
        told = (
            f", {shown(heats, 'current')} rms: more than a breaker of {shown(carried, 'current')} carries, without load"
        )
    whose = f" of the {one.word}core" if one.prefix else ""
    taken = f", with {shown(share, 'fraction')} of the mains on its primary" if share < 1.0 else ""
    return Finding(
        name,
        level,
        f"Flux linkage{whose} peaks at {shown(flux, 'flux_linkage')}{density} at {mains_word(scenario)}{taken}, "
        f"{shown(part, 'fraction')} of saturation; magnetising peak about {shown(current, 'current')}{told}. "
        "Assumed: settled, no load, full conduction, no drop in the primary.",
        flux,
        "V.s",
    )


def _rms_of_a_sine(branch: MagnetisingBranch, flux: float) -> float:
    """What the magnetising current of a sine of flux heats with: near saturation its peaks are far above its rms."""
    angles = [math.pi / 2.0 * (step + 0.5) / QUARTER for step in range(QUARTER)]
    return math.sqrt(sum(branch.current(flux * math.sin(angle)) ** 2 for angle in angles) / QUARTER)


def _friction(scenario: Scenario) -> Iterator[Finding]:
    """A winding's own curve whose peak currents the friction elements alone exceed: what is left of it stays level."""
    for one in transformers(scenario):
        if one.core is None or one.core.magnetising_curve is None:
            continue
        branch = magnetising_branch(one.core, one.primary_turns)
        rising = [(row.flux_linkage or 0.0, row.current) for row in one.core.magnetising_curve if row.current]
        over = [(flux, given) for flux, given in rising if _peak(branch, flux) > TOLERATED * given]
        if over:
            flux, given = max(over, key=lambda row: _peak(branch, row[0]) / row[1])
            most = _peak(branch, flux)
            yield Finding(
                f"{one.prefix}core.hysteresis",
                NOTE,
                f"At {shown(flux, 'flux_linkage')} the magnetising curve gives {shown(given, 'current')}, but the "
                f"friction elements make it {shown(most, 'current')}: a curve of peak values holds their friction too. "
                f"Give less friction, or a curve above it; as it stands the {one.word}core takes the larger.",
                most,
                "A",
            )


def _peak(branch: MagnetisingBranch, flux: float) -> float:
    """Magnetising current on the first rise to a flux linkage, friction included [A]."""
    return branch.current(flux) + first_rise(branch.elements, flux)


def _start_flux(scenario: Scenario) -> Iterator[Finding]:
    """Flux at the start against what each core keeps without current."""
    if not scenario.start.magnetised:
        return
    cores = [one for one in transformers(scenario) if one.core is not None]
    for one, flux in zip(cores, start_fluxes(scenario), strict=True):
        assert one.core is not None
        kept = remanent_flux_linkage(one.core, one.primary_turns)
        if abs(flux) > 1.02 * kept:
            yield Finding(
                f"{one.prefix}start.flux",
                NOTE,
                f"The run starts with {shown(flux, 'flux_linkage')} in the {one.word}core, which keeps at most "
                f"{shown(kept, 'flux_linkage')} without current: it begins with a jolt that no resting supply has. "
                "For remanence as switching off leaves it, ask inrush.",
                abs(flux),
                "V.s",
            )


def _polarity(scenario: Scenario) -> Iterator[Finding]:
    """A second secondary joined the wrong way round."""
    table = scenario.second_transformer
    if table is None or not table.reversed:
        return
    mains = scenario.mains
    if table.secondaries == "parallel":
        volts, loop = sum(map(abs, _volts(scenario))), abs(loop_impedance(scenario, mains.frequency))
        limit = f"some {shown(volts / loop, 'current')}" if loop else "a current without limit"
        told = f"a short circuit on both, {limit} without load: it burns whatever is the weakest"
        volts = volts / loop if loop else math.inf
    elif is_tapped(scenario):
        told, volts = "both halves conduct in the same half cycle, none in the other: the cores are magnetised", 0.0
    else:
        volts = no_load(scenario, factor=1.0).secondary_crest / math.sqrt(2.0)
        told = f"the volts are taken from each other, {shown(volts, 'voltage')} are left without load"
    yield Finding(
        "second_transformer.reversed",
        FAULT,
        f"The second secondary is joined the wrong way round ({joined(table)}): {told}. Swap its two ends. Before two "
        "are joined in parallel, a voltmeter between the ends that are to be joined must show next to nothing.",
        volts,
        "A" if table.secondaries == "parallel" else "V",
    )


def _join(scenario: Scenario) -> Iterator[Finding]:
    """The volts of both secondaries, and what the join makes of them."""
    table = scenario.second_transformer
    if table is None or table.reversed:
        return
    volts, crest = _volts(scenario), no_load(scenario, factor=1.0).secondary_crest
    yield Finding(
        "second_transformer.join",
        GOOD,
        f"Two transformers, {joined(table)}: secondaries of {shown(volts[0], 'voltage')} and "
        f"{shown(volts[1], 'voltage')} make {shown(crest / math.sqrt(2.0), 'voltage')} without load. Assumed: sine, no "
        "drop, joined the right way round, which a voltmeter across the open join tells.",
        crest / math.sqrt(2.0),
        "V",
    )


def _volts(scenario: Scenario) -> list[float]:
    """Volts (rms) of each secondary without load, by itself with its share of the mains."""
    parts = shares(scenario, no_load(scenario, factor=1.0).flux_linkage)
    return [part * ratio * scenario.mains.voltage for part, ratio in zip(parts, ratios(scenario), strict=True)]


def _unlike(scenario: Scenario) -> Iterator[Finding]:
    """Parallel secondaries of unlike volts: what circulates between them without load."""
    table = scenario.second_transformer
    if table is None or table.reversed or table.secondaries == "series" or table.primaries == "series":
        return
    if scenario.mains.voltage == 0.0:
        return
    volts, loop = _volts(scenario), abs(loop_impedance(scenario, scenario.mains.frequency))
    apart = abs(volts[0] - volts[1])
    part, current = apart / max(volts), apart / loop if loop else math.inf if apart else 0.0
    told = f"{shown(current, 'current')} circulate" if loop else "nothing limits what circulates"
    yield Finding(
        "second_transformer.unlike",
        FAULT if part > VERY_UNLIKE else NOTE if part > UNLIKE else GOOD,
        f"The parallel secondaries give {shown(volts[0], 'voltage')} and {shown(volts[1], 'voltage')} without load: "
        f"{told} between them. Assumed: both primaries on the mains, neither core near saturation; rectifier and load "
        "are behind the join. `weldsim share` tells how they share a load.",
        current,
        "A",
    )


IRON_QUESTIONS: tuple[Callable[[Scenario], Iterator[Finding]], ...] = (
    _flux,
    _friction,
    _start_flux,
    _join,
    _polarity,
    _unlike,
)
