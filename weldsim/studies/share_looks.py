"""Two transformers under one condition: what each gives, carries and loses, exact figures of a settled setting."""

import math
from collections.abc import Mapping
from dataclasses import replace

from weldsim.frozen import dataclass
from weldsim.parts.flux import saturation_flux_linkage
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import OneTransformer, is_tapped, transformers
from weldsim.scenario.vary import vary
from weldsim.studies.operating import Setting, operate, welding, with_load
from weldsim.studies.running_trips import SHORT

LEAST = 0.02  # of what both give by themselves: where less arrives, nothing is shared
DUST = 1e-6  # of the peak of a flux: a mean below it is what settling leaves of none
NO_LOAD, AT_THE_SETTING, DEAD_SHORT = "no load", "setting", "dead short"
CONDITIONS = (NO_LOAD, AT_THE_SETTING, DEAD_SHORT)
WAVES = (
    "secondary.current",
    "second_secondary.current",
    "core.flux_linkage",
    "second_core.flux_linkage",
    "core.magnetising_current",
    "second_core.magnetising_current",
)


@dataclass(frozen=True)
class Half:
    """One of the two transformers under a condition; what there is no core for is not a number."""

    which: str  # "first" or "second"
    current: float  # [A rms] of its secondary
    voltage: float  # [V rms] at its secondary's terminals
    share: float  # of what is shared, over half of what both give together [1]
    primary_current: float  # [A rms]
    primary_voltage: float  # [V rms]
    flux_peak: float  # [V s]
    flux_mean: float  # [V s]
    saturation: float  # peak flux over that at which only air is left [1]
    magnetising_peak: float  # [A] on its primary
    copper: float  # [W]
    iron: float  # [W]

    @property
    def heat(self) -> float:
        """Copper and iron together [W]."""
        return self.copper + self.iron


@dataclass(frozen=True)
class Look:
    """Both transformers under a condition."""

    condition: str
    setting: Setting
    halves: tuple[Half, Half]
    circulating: float  # [A rms] half the difference of two parallel secondaries; not a number in series

    @property
    def output(self) -> float:
        """Output current, none where rounding is all that arrives [A]."""
        carried = self.halves[0].current + self.halves[1].current
        return self.setting.current if abs(self.setting.current) > DUST * carried else 0.0

    @property
    def output_voltage(self) -> float:
        """Output voltage likewise [V]."""
        given = self.halves[0].primary_voltage + self.halves[1].primary_voltage
        return self.setting.voltage if abs(self.setting.voltage) > DUST * given else 0.0


def shares_amperes(scenario: Scenario) -> bool:
    """Whether amperes are shared (parallel, or the halves of a centre-tap), not volts."""
    table = scenario.second_transformer
    return table is not None and (table.secondaries == "parallel" or is_tapped(scenario))


def look(
    scenario: Scenario, condition: str, *, dial: float | None = None, delay: float | None = None, mains: float = 1.0
) -> Look:
    """Settle a condition and read both transformers."""
    if condition == NO_LOAD:
        loaded = vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario
    elif condition == DEAD_SHORT:
        loaded = with_load(scenario, {"load.kind": "short", "load.resistance": SHORT})
    else:
        loaded = welding(scenario)
    names = [name for name in WAVES if scenario.core is not None or "core." not in name]
    setting = operate(loaded, dial=dial, delay=delay, mains_factor=mains, signals=[*names, "output.voltage"])
    found = [_half(setting, one) for one in transformers(scenario)]
    first, second = _shared(scenario, condition, setting)
    halves = (replace(found[0], share=first), replace(found[1], share=second))
    circulates = shares_amperes(scenario) and not is_tapped(scenario)
    return Look(condition, setting, halves, _half_difference(setting) if circulates else math.nan)


def _half(setting: Setting, one: OneTransformer) -> Half:
    """One transformer, its share left open."""
    recording, prefix, word = setting.recording, one.prefix, one.word
    integrals, ledger = recording.integrals, recording.run.ledger
    primary = f"{prefix or 'first_'}primary"
    least, most, peak, mean = math.nan, math.nan, math.nan, math.nan
    if one.core is not None:
        names = [f"{prefix}core.flux_linkage", f"{prefix}core.magnetising_current"]
        extremes, _ = recording.trace.extremes(names, *recording.window)
        (least, most), magnetising = extremes[0], extremes[1]
        peak, mean = float(max(abs(magnetising[0]), abs(magnetising[1]))), integrals.mean(names[0])

    def lost(*parts: str) -> float:
        entries = [ledger.get(f"{word}{part}") for part in parts]
        energy = sum(entry.get("loss", 0.0) for entry in entries if isinstance(entry, Mapping))
        return energy / (recording.run.window[1] - recording.run.window[0])

    flux = float(max(abs(least), abs(most)))
    mean = 0.0 if abs(mean) < DUST * flux else mean
    corner = math.nan if one.core is None else saturation_flux_linkage(one.core, one.primary_turns)
    return Half(
        which="second" if prefix else "first",
        current=integrals.rms(f"{prefix}secondary.current"),
        voltage=integrals.rms(f"{prefix}secondary.voltage"),
        share=math.nan,
        primary_current=integrals.rms(f"{primary}.current"),
        primary_voltage=integrals.rms(f"{primary}.voltage"),
        flux_peak=flux,
        flux_mean=mean,
        saturation=flux / corner,
        magnetising_peak=peak,
        copper=lost("transformer primary winding", "transformer secondary winding"),
        iron=lost("core loss", "core hysteresis"),
    )


def _shared(scenario: Scenario, condition: str, setting: Setting) -> tuple[float, float]:
    """What each takes over half of what both give together: amperes, or volts; where nothing arrives, no share."""
    amperes, integrals = shares_amperes(scenario), setting.recording.integrals
    if condition == NO_LOAD and amperes or condition == DEAD_SHORT and not amperes:
        return math.nan, math.nan
    names = [f"{prefix}secondary.{'current' if amperes else 'voltage'}" for prefix in ("", "second_")]
    both = [integrals.rms(name) for name in names]
    squares = both[0] ** 2 + both[1] ** 2
    if is_tapped(scenario):
        even = math.sqrt(squares / 2.0)
    else:
        together = squares + 2.0 * integrals.product(names[0], names[1]) / integrals.length
        even = 0.5 * math.sqrt(max(together, 0.0))
    return (both[0] / even, both[1] / even) if even > LEAST * sum(both) else (math.nan, math.nan)


def _half_difference(setting: Setting) -> float:
    """Half the difference of both secondary currents: without load what runs round the loop [A rms]."""
    integrals, names = setting.recording.integrals, ("secondary.current", "second_secondary.current")
    squares = sum(integrals.rms(name) ** 2 for name in names)
    return 0.5 * math.sqrt(max(squares - 2.0 * integrals.product(*names) / integrals.length, 0.0))
