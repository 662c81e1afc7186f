"""Values that readings on the bench tell, each with its doubt: what every instrument changes, added up as squares."""

import math
import statistics
from collections.abc import Callable, Iterator, Sequence

from weldsim.frozen import dataclass
from weldsim.parts.bench_parts import bank_capacitance, bank_resistance, choke_inductance, loop_resistance
from weldsim.parts.bench_set import cooling_of, lead_resistance, resistance_to_air, temperature_by_resistance
from weldsim.parts.identified import Guess, Identified, identify, variants
from weldsim.parts.readings import Readings
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import amount

GUESSES = (  # what no reading tells: name, and how far it may be off
    ("flux of saturation, assumed", Guess(saturation=0.9), Guess(saturation=1.1)),
    ("inductance of air, assumed", Guess(air=0.5), Guess(air=2.0)),
    ("split of the iron loss, assumed", Guess(eddy=-0.25), Guess(eddy=0.25)),
    ("sharing of the leakage, assumed", Guess(leakage=0.0), Guess(leakage=1.0)),
    ("sharing of the copper, assumed", Guess(copper=0.3), Guess(copper=0.7)),
)
UNREAD = {name for name, *_ in GUESSES[:2]}  # what of it decides the peaks of switch-on


@dataclass(frozen=True)
class Bench:
    """Readings, and the transformer that they tell of; None where they are those of other parts alone."""

    readings: Readings
    transformer: Identified | None
    conductor: str = "copper"  # of its windings


@dataclass(frozen=True)
class Quantity:
    """A value that is sought: its key, the kind of its unit (none for a pure number), and how it is read off.

    ``at`` says where it holds, for a value that there are several of.  Doubts of one that is the root of a difference
    are added up in its square, which may go below nothing (told with the value's sign).
    """

    key: str
    kind: str
    of: Callable[[Bench], float | None]
    at: str = ""
    root: bool = False


@dataclass(frozen=True)
class Found:
    """One value: as it is, least and most, and which instrument's doubt weighs most in it."""

    quantity: Quantity
    value: float
    low: float
    high: float
    weighs: str


def _of_transformer(key: str, kind: str, of: Callable[[Identified], float | None], *, root: bool = False) -> Quantity:
    return Quantity(key, kind, lambda bench: None if bench.transformer is None else of(bench.transformer), root=root)


def _secondary_turns(found: Identified) -> float | None:
    return None if found.primary_turns is None else found.primary_turns / found.ratio


def _leakage(found: Identified) -> float | None:
    """Of both windings, seen from the primary, below 0 where the resistance read exceeds the impedance."""
    if found.primary_leakage is None:
        return None
    return math.copysign(math.sqrt(abs(found.leakage_squared)), found.leakage_squared)


def _leakage_at_the_primary(found: Identified) -> float | None:
    both = _leakage(found)
    return None if both is None else found.leakage_share * both


def _leakage_at_the_secondary(found: Identified) -> float | None:
    both = _leakage(found)
    return None if both is None else (1.0 - found.leakage_share) * both / found.ratio**2


def _inductance_at_the_secondary(found: Identified) -> float | None:
    both = _leakage(found)
    return None if both is None else both / found.ratio**2


def resistance_at_the_secondary(found: Identified) -> float | None:
    """Both windings in the short circuit, seen from the secondary, at 20 degC [ohm]."""
    if found.winding is None or found.primary_resistance is None or found.secondary_resistance is None:
        return None
    return found.primary_resistance / found.ratio**2 + found.secondary_resistance


_OF_THE_TRANSFORMER = (
    _of_transformer("transformer.ratio", "", lambda found: found.ratio),
    _of_transformer("transformer.primary_turns", "", lambda found: found.primary_turns),
    _of_transformer("transformer.secondary_turns", "", _secondary_turns),
    _of_transformer("transformer.primary_resistance", "resistance", lambda found: found.primary_resistance),
    _of_transformer("transformer.secondary_resistance", "resistance", lambda found: found.secondary_resistance),
    _of_transformer("transformer.primary_leakage_inductance", "inductance", _leakage_at_the_primary, root=True),
    _of_transformer("transformer.secondary_leakage_inductance", "inductance", _leakage_at_the_secondary, root=True),
    _of_transformer("short_circuit.resistance", "resistance", resistance_at_the_secondary),
    _of_transformer("short_circuit.inductance", "inductance", _inductance_at_the_secondary, root=True),
    _of_transformer("core.loss_resistance", "resistance", lambda found: found.loss_resistance),
    _of_transformer("core.friction_current", "current", lambda found: sum(limit for limit, _ in found.frictions)),
    _of_transformer("core.magnetising_inductance", "inductance", lambda found: found.magnetising_inductance),
    _of_transformer("core.saturation_flux_linkage", "flux_linkage", lambda found: found.saturation),
    _of_transformer("core.saturated_inductance", "inductance", lambda found: found.saturated_inductance),
)


def choke_curve(readings: Readings) -> list[tuple[float, float]]:
    """Current [A] and incremental inductance [H] of each reading of the choke."""
    resistance = readings.choke_resistance or 0.0
    return [(row.current, choke_inductance(row, resistance)) for row in readings.choke or ()]


def rows_of_bank(readings: Readings) -> tuple[list[float], list[float]]:
    """Capacitance [F] and series resistance [ohm] of the bank by each reading."""
    rows = readings.bank or ()
    steps = [step for row in rows if (step := bank_resistance(row)) is not None]
    return [bank_capacitance(row) for row in rows], steps


def bank_values(readings: Readings) -> tuple[float | None, float | None]:
    """Capacitance [F] and series resistance [ohm] of the bank: the medians of its readings."""
    capacitances, steps = rows_of_bank(readings)
    return statistics.median(capacitances) if capacitances else None, statistics.median(steps) if steps else None


def rows_of_socket(readings: Readings) -> list[float]:
    """Resistance of the mains up to the socket by each reading [ohm]."""
    return [loop_resistance(row) for row in readings.socket or ()]


def mains_resistance(readings: Readings) -> float | None:
    """Resistance of the mains up to the socket: the median of its readings [ohm]."""
    return statistics.median(rows_of_socket(readings)) if readings.socket else None


def leads_resistance(readings: Readings) -> float | None:
    """Resistance of weld leads and contacts: the median of its readings [ohm]."""
    return statistics.median(map(lead_resistance, readings.leads)) if readings.leads else None


@dataclass(frozen=True)
class Cooled:
    """A winding that was switched off warm: its temperature then [degC], time constant [s], way to the air [K/W]."""

    temperature: float
    time: float
    to_air: float | None


def cooled(bench: Bench) -> Cooled | None:
    """What the readings of a winding that cools tell; None without them, or where one is as cold as the air."""
    readings = bench.readings
    cold, air = readings.primary_resistance, readings.winding_temperature
    if not readings.warm_up or cold is None:
        return None
    temperatures = [
        temperature_by_resistance(row.resistance, cold=cold, at=air, conductor=bench.conductor)
        for row in readings.warm_up
    ]
    if min(temperatures) <= air:
        return None
    temperature, time = cooling_of([row.time for row in readings.warm_up], temperatures, air=air)
    if readings.heating_power is None or readings.heating_time is None or math.isinf(time):
        return Cooled(temperature, time, None)
    heated = {"duration": readings.heating_time, "time_constant": time}
    return Cooled(temperature, time, resistance_to_air(temperature - air, readings.heating_power, **heated))


def _of_cooling(key: str, kind: str, of: Callable[[Cooled], float | None]) -> Quantity:
    def found(bench: Bench) -> float | None:
        one = cooled(bench)
        return None if one is None else of(one)

    return Quantity(key, kind, found)


def _quantities(readings: Readings) -> Iterator[Quantity]:
    """Everything that these readings may tell."""
    yield from _OF_THE_TRANSFORMER
    for number, row in enumerate(readings.choke or ()):
        yield Quantity(
            f"choke.inductance_{number + 1}",
            "inductance",
            lambda bench, number=number: choke_curve(bench.readings)[number][1],  # type: ignore[misc]
            f"at {amount(row.current, 'A')}",
        )
    yield Quantity("bank.capacitance", "capacitance", lambda bench: bank_values(bench.readings)[0])
    yield Quantity("bank.resistance", "resistance", lambda bench: bank_values(bench.readings)[1])
    yield Quantity("mains.resistance", "resistance", lambda bench: mains_resistance(bench.readings))
    yield Quantity("weld_leads.resistance", "resistance", lambda bench: leads_resistance(bench.readings))
    yield _of_cooling("warm_up.temperature", "temperature", lambda one: one.temperature)
    yield _of_cooling("cooling.winding_time", "time", lambda one: one.time)
    yield _of_cooling("cooling.winding_to_air", "thermal_resistance", lambda one: one.to_air)


def worked_out(readings: Readings, scenario: Scenario, guess: Guess | None = None) -> Bench:
    """What readings tell where the transformer is to work on a scenario's mains."""
    mains, wound = scenario.mains, scenario.transformer
    conductor = "copper" if wound is None else wound.conductor
    if not readings.no_load:
        return Bench(readings, None, conductor)
    found = identify(readings, frequency=mains.frequency, mains_voltage=mains.voltage, guess=guess or Guess())
    return Bench(readings, found, conductor)


def doubted(bench: Bench, scenario: Scenario) -> list[tuple[str, Bench, Bench]]:
    """What it would be with each instrument, and what no reading tells, off by what it may, downward and upward."""
    own = bench.readings
    read = [(name, worked_out(low, scenario), worked_out(high, scenario)) for name, low, high in variants(own)]
    return read + [
        (name, worked_out(own, scenario, low), worked_out(own, scenario, high)) for name, low, high in GUESSES
    ]


def values_of(bench: Bench, others: Sequence[tuple[str, Bench, Bench]]) -> list[Found]:
    """Every value with its doubt; ``others`` as of ``doubted``."""
    return [one for quantity in _quantities(bench.readings) if (one := with_doubt(quantity, bench, others)) is not None]


def with_doubt(quantity: Quantity, bench: Bench, others: Sequence[tuple[str, Bench, Bench]]) -> Found | None:
    """One value; upward and downward doubts add up apart."""
    value = quantity.of(bench)
    if value is None or not math.isfinite(value):
        return None

    def added(one: float) -> float:
        return one * abs(one) if quantity.root else one

    def back(one: float) -> float:
        return max(math.copysign(math.sqrt(abs(one)), one) if quantity.root else one, 0.0)

    down = up = most = 0.0
    weighs = "none"
    for name, *pair in others:
        told = [other for one in pair if (other := quantity.of(one)) is not None and math.isfinite(other)]
        changed = [added(other) - added(value) for other in told] or [0.0]
        down += min(0.0, *changed) ** 2
        up += max(0.0, *changed) ** 2
        if max(map(abs, changed)) > most:
            most, weighs = max(map(abs, changed)), name
    own = added(value)
    return Found(quantity, max(value, 0.0), back(own - math.sqrt(down)), back(own + math.sqrt(up)), weighs)
