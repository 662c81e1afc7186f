"""Candidate causes of a trace that differs: values of the scenario between bounds, and the usual faults."""

import math
from collections.abc import Callable
from dataclasses import field
from functools import partial
from typing import Any

from weldsim.frozen import dataclass
from weldsim.parts.load import arc_voltage, load_line, short_resistance
from weldsim.parts.transformer import leakage_inductances, winding_resistance
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import transformers
from weldsim.scenario.vary import vary
from weldsim.studies.meter_faults import DRY_SHARE, FAULTS
from weldsim.units import to_text

DECADE = 10.0  # either way, of a value that is no angle, temperature or mains voltage
DELAY_BAND, ASYMMETRY_BAND = 30.0, 15.0  # [deg] either way
MAINS_BAND = 0.2  # of the mains voltage, either way
LEVEL_BAND = 0.5  # of the volts of an arc or a battery, either way
CORE_BAND = 2.0  # times, either way: the iron of a core
LEAST_DELAY, MOST_DELAY = 0.0, 179.0  # [deg]
COLDEST, HOTTEST = -10.0, 200.0  # [degC] of windings
OFFSET_BAND = 5.0  # [V] of direct voltage on the mains, either way
USUAL = {  # what is looked for around where the scenario has none
    "mains.resistance": 0.2,
    "mains.inductance": 0.2e-3,
    "transformer.secondary_leakage_inductance": 20e-6,
    "second_transformer.secondary_leakage_inductance": 20e-6,
    "bank.resistance": 5e-3,
    "choke.resistance": 5e-3,
    "weld_leads.contact_resistance": 5e-3,
}
DRIED = "bank dried out"
FITTED = ("clamp with", "1 V of direct")  # faults that are values, looked for among those
FIRST = 0.45  # of the way from the value as written to its bound: where is looked first
LEAST_STEP = 1e-3  # of the axis: a bound so near to the value as written is no place of its own
EDGES = ("delay", "phase_control.dial", "phase_control.asymmetry")
QUICK = ("delay", "phase_control.asymmetry", "mains.voltage")  # need no other network


@dataclass(frozen=True)
class Variation:
    """One change of a scenario: other keys, another delay [deg] or another mains voltage (factor)."""

    keys: dict[str, object] = field(default_factory=dict)
    delay: float | None = None
    factor: float = 1.0

    def of(self, scenario: Scenario) -> Scenario:
        """The scenario with its other keys."""
        return vary(scenario, self.keys) if self.keys else scenario


@dataclass(frozen=True)
class Value:
    """A value that may be another than written: its bounds, whether it is searched in the logarithm, what it changes.

    ``written`` is as in the scenario [SI, deg, degC], ``kind`` its kind of unit.
    """

    words: str
    key: str
    kind: str
    written: float
    bounds: tuple[float, float]
    change: Callable[[float], Variation]
    by_factor: bool = True

    def place(self, value: float) -> float:
        """A value on the axis that is searched."""
        return math.log(value) if self.by_factor else value

    def value(self, place: float) -> float:
        """Back from there, within the bounds."""
        return min(max(math.exp(place) if self.by_factor else place, self.bounds[0]), self.bounds[1])

    @property
    def starts_inside(self) -> bool:
        """Whether the value as written lies on the axis; none does not, where the axis is a logarithm."""
        return self.bounds[0] <= self.written <= self.bounds[1]

    @property
    def quick(self) -> bool:
        """Whether another value needs no other network."""
        return self.key in QUICK

    @property
    def moves_edges(self) -> bool:
        """Whether it shifts edges in time, of which a parabola through waveforms knows nothing."""
        return self.key in EDGES

    def nodes(self) -> list[float]:
        """Places on the axis that are looked at in any case, beside the value as written."""
        low, high = (self.place(one) for one in self.bounds)
        if not self.starts_inside:
            return [low, 0.5 * (low + high), high]
        own = self.place(self.written)
        found = [own + FIRST * (bound - own) for bound in (low, high)]
        return [place for place in found if abs(place - own) > LEAST_STEP * (high - low)]

    def spoken(self, value: float) -> str:
        """A value of it with its unit."""
        return to_text(value, self.kind, digits=3)


@dataclass(frozen=True)
class Fault:
    """A usual fault, as ``meters --faults`` knows it."""

    words: str
    variation: Variation


def faults_of(scenario: Scenario) -> list[Fault]:
    """The usual faults that this supply can have, but for those that are a value."""
    return [
        Fault(_told(one.name), Variation(one.change(scenario), one.delay))
        for one in FAULTS
        if one.possible(scenario) and not one.name.startswith(FITTED)
    ]


def _told(name: str) -> str:
    """A fault in words, with how far it goes where that is a choice."""
    return f"{name} to {100.0 * DRY_SHARE:.0f} %" if name == DRIED else name


def values_of(scenario: Scenario, delay: float | None) -> list[Value]:
    """The values that may explain a difference, those first that need no other network."""
    found = [*_of_the_firing(scenario, delay), *_of_the_mains(scenario)]
    for table, own in (
        ("transformer", _of_the_transformer),
        ("core", _of_the_core),
        ("bank", _of_the_bank),
        ("choke", _of_the_choke),
        ("boost", _of_the_boost),
        ("weld_leads", _of_the_leads),
        ("load", _of_the_load),
    ):
        part = getattr(scenario, table)
        if part is not None:
            found += own(scenario, part)
    if scenario.second_transformer is not None:
        second = transformers(scenario)[1]
        found += _of_the_transformer(scenario, second.transformer, second=True)
        found += [] if second.core is None else _of_the_core(scenario, second.core, second=True)
    return found


def _by_factor(words: str, key: str, kind: str, written: float, *, most: float = DECADE) -> Value:
    """A key between a tenth and ten times of what is written, or of what is usual where that is nothing."""
    usual = written or USUAL[key]
    bounds = (usual / most, usual * most)
    return Value(words, key, kind, written, bounds, partial(_keyed, key))


def _between(words: str, key: str, kind: str, written: float, *, bounds: tuple[float, float]) -> Value:
    """A key between two bounds, searched as it is."""
    return Value(words, key, kind, written, bounds, partial(_keyed, key), by_factor=False)


def _keyed(key: str, value: float) -> Variation:
    return Variation({key: value})


def _of_the_firing(scenario: Scenario, delay: float | None) -> list[Value]:
    control = scenario.phase_control
    if control is None:
        return []
    if delay is None:  # a circuit of resistance and diac makes it
        return [
            _between("position of the dial", "phase_control.dial", "fraction", control.dial, bounds=(0.0, 1.0)),
        ]
    near = max(delay - DELAY_BAND, LEAST_DELAY), min(delay + DELAY_BAND, MOST_DELAY)
    own = control.asymmetry
    apart = (own - ASYMMETRY_BAND, own + ASYMMETRY_BAND)
    return [
        Value("firing delay", "delay", "angle", delay, near, lambda value: Variation(delay=value), by_factor=False),
        _between("asymmetry of the firing", "phase_control.asymmetry", "angle", own, bounds=apart),
    ]


def _of_the_mains(scenario: Scenario) -> list[Value]:
    mains, volts = scenario.mains, scenario.mains.voltage
    around = ((1.0 - MAINS_BAND) * volts, (1.0 + MAINS_BAND) * volts)
    found = [
        Value(
            "mains voltage",
            "mains.voltage",
            "voltage",
            volts,
            around,
            lambda value: Variation(factor=value / volts),
            by_factor=False,
        )
    ]
    if scenario.generator is None:
        found += [
            _by_factor("resistance of the mains", "mains.resistance", "resistance", mains.resistance),
            _by_factor("inductance of the mains", "mains.inductance", "inductance", mains.inductance),
        ]
    if scenario.core is not None:
        own = mains.dc_offset
        bounds = (own - OFFSET_BAND, own + OFFSET_BAND)
        found.append(_between("direct voltage on the mains", "mains.dc_offset", "voltage", own, bounds=bounds))
    return found


def _of_the_transformer(scenario: Scenario, transformer: Any, *, second: bool = False) -> list[Value]:
    """Leakage and warmth of a transformer; what the second of two takes from the first moves along with the first."""
    table = "second_transformer" if second else "transformer"
    primary, secondary = leakage_inductances(transformer)
    key, own = f"{table}.secondary_leakage_inductance", secondary
    if primary and not secondary:
        key, own = f"{table}.primary_leakage_inductance", primary
    leakage = _by_factor(f"leakage of {_whose(scenario, key, 'transformer')}", key, "inductance", own)
    if winding_resistance(transformer, "primary") + winding_resistance(transformer, "secondary") == 0.0:
        return [leakage]
    warm, key = transformer.winding_temperature, f"{table}.winding_temperature"
    bounds = (min(COLDEST, warm), max(HOTTEST, warm))
    words = f"temperature of the windings{_of_which(scenario, key, 'transformer')}"
    return [leakage, _between(words, key, "temperature", warm, bounds=bounds)]


def _of_the_core(scenario: Scenario, core: Any, *, second: bool = False) -> list[Value]:
    table = "second_core" if second else "core"
    if core.section is not None:
        key, own = f"{table}.section", core.section
        return [_by_factor(f"iron section of {_whose(scenario, key, 'core')}", key, "area", own, most=CORE_BAND)]
    if core.saturation_flux_linkage is not None:
        key, own = f"{table}.saturation_flux_linkage", core.saturation_flux_linkage
        return [_by_factor(f"saturation of {_whose(scenario, key, 'core')}", key, "flux_linkage", own, most=CORE_BAND)]
    if core.magnetising_inductance is not None:
        key, own = f"{table}.magnetising_inductance", core.magnetising_inductance
        return [_by_factor(f"magnetising inductance{_of_which(scenario, key, 'core')}", key, "inductance", own)]
    return []


def _of_which(scenario: Scenario, key: str, part: str) -> str:
    """Of which of two; nothing of one."""
    return "" if scenario.second_transformer is None else f" of {_whose(scenario, key, part)}"


def _whose(scenario: Scenario, key: str, part: str) -> str:
    """Which transformer or core another value of a key changes: of two the first, the second, or both alike."""
    if scenario.second_transformer is None:
        return f"the {part}"
    if key.startswith("second_"):
        return f"the second {part}"
    name = key.partition(".")[2]
    given = getattr(getattr(scenario, f"second_{part}"), name, None)
    first, second = (getattr(getattr(one, part), name) for one in transformers(scenario))
    return f"both {part}s" if given is None and first == second else f"the first {part}"


def _of_the_bank(scenario: Scenario, bank: Any) -> list[Value]:
    return [
        _by_factor("capacitance of the bank", "bank.capacitance", "capacitance", bank.capacitance),
        _by_factor("series resistance of the bank", "bank.resistance", "resistance", bank.resistance),
    ]


def _of_the_choke(scenario: Scenario, choke: Any) -> list[Value]:
    found = [_by_factor("resistance of the choke", "choke.resistance", "resistance", choke.resistance)]
    if choke.turns is not None and choke.gap:
        found.append(_by_factor("gap of the choke", "choke.gap", "length", choke.gap))
    elif choke.inductance_curve is None and choke.inductance is not None:
        found.append(_by_factor("inductance of the choke", "choke.inductance", "inductance", choke.inductance))
        if choke.saturation_current is not None:
            key = "choke.saturation_current"
            found.append(_by_factor("saturation of the choke", key, "current", choke.saturation_current))
    return found


def _of_the_boost(scenario: Scenario, boost: Any) -> list[Value]:
    if not boost.ballast_resistance:
        return []
    key = "boost.ballast_resistance"
    return [_by_factor("ballast of the boost", key, "resistance", boost.ballast_resistance)]


def _of_the_leads(scenario: Scenario, leads: Any) -> list[Value]:
    key = "weld_leads.contact_resistance"
    return [_by_factor("contacts of the weld leads", key, "resistance", leads.contact_resistance)]


def _of_the_load(scenario: Scenario, load: Any) -> list[Value]:
    if load.kind in ("resistor", "short"):
        resistance = short_resistance(load) if load.kind == "short" else load.resistance
        return [_by_factor("resistance of the load", "load.resistance", "resistance", resistance)] if resistance else []
    volts, change = load.voltage, partial(_keyed, "load.voltage")
    if load.kind == "load line":
        volts, slope, _ = load_line(load.process)
        change = partial(_line, slope)
    elif load.kind == "arc line":
        volts = arc_voltage(load)
    words = "volts of the battery" if load.kind == "battery" else "volts of the arc at no current"
    bounds = ((1.0 - LEVEL_BAND) * volts, (1.0 + LEVEL_BAND) * volts)
    found = [Value(words, "load.voltage", "voltage", volts, bounds, change, by_factor=False)] if volts else []
    if load.kind == "battery" and load.resistance:
        found.append(_by_factor("resistance of the battery", "load.resistance", "resistance", load.resistance))
    return found


def _line(slope: float, volts: float) -> Variation:
    """An arc line in place of the conventional load line, which has no volts to change."""
    return Variation({"load": {"kind": "arc line", "voltage": volts, "slope": slope}})


Candidate = Value | Fault
