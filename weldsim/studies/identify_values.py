"""Values that readings on the bench tell, each with its doubt: what every instrument changes, added up as squares."""

import math
import statistics
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from weldsim.parts.bench_parts import bank_capacitance, bank_resistance, choke_inductance, loop_resistance
from weldsim.parts.identified import Guess, Identified, identify, variants
from weldsim.parts.mains import Mains
from weldsim.parts.readings import Readings
from weldsim.studies.answer import amount

GUESSES = (  # what no reading tells: name, and how far it may be off
    ("flux of saturation, assumed", Guess(saturation=0.9), Guess(saturation=1.1)),
    ("inductance of air, assumed", Guess(air=0.5), Guess(air=2.0)),
    ("split of the iron loss, assumed", Guess(eddy=-0.25), Guess(eddy=0.25)),
)


@dataclass(frozen=True)
class Bench:
    """Readings, and the transformer that they tell of; None where they are those of other parts alone."""

    readings: Readings
    transformer: Identified | None


@dataclass(frozen=True)
class Quantity:
    """A value that is sought: its key, the kind of its unit (none for a pure number), and how it is read off.

    ``at`` says where it holds, for a value that there are several of.
    """

    key: str
    kind: str
    of: Callable[[Bench], float | None]
    at: str = ""


@dataclass(frozen=True)
class Found:
    """One value: as it is, least and most, and which instrument's doubt weighs most in it."""

    quantity: Quantity
    value: float
    low: float
    high: float
    weighs: str


def _of_transformer(key: str, kind: str, of: Callable[[Identified], float | None]) -> Quantity:
    return Quantity(key, kind, lambda bench: None if bench.transformer is None else of(bench.transformer))


def _secondary_turns(found: Identified) -> float | None:
    return None if found.primary_turns is None else found.primary_turns / found.ratio


def _resistance_at_the_secondary(found: Identified) -> float | None:
    return None if found.winding is None else found.winding.resistance / found.ratio**2


def _inductance_at_the_secondary(found: Identified) -> float | None:
    return None if found.primary_leakage is None else 2.0 * found.primary_leakage / found.ratio**2


_OF_THE_TRANSFORMER = (
    _of_transformer("transformer.ratio", "", lambda found: found.ratio),
    _of_transformer("transformer.primary_turns", "", lambda found: found.primary_turns),
    _of_transformer("transformer.secondary_turns", "", _secondary_turns),
    _of_transformer("transformer.primary_resistance", "resistance", lambda found: found.primary_resistance),
    _of_transformer("transformer.secondary_resistance", "resistance", lambda found: found.secondary_resistance),
    _of_transformer("transformer.primary_leakage_inductance", "inductance", lambda found: found.primary_leakage),
    _of_transformer("transformer.secondary_leakage_inductance", "inductance", lambda found: found.secondary_leakage),
    _of_transformer("short_circuit.resistance", "resistance", _resistance_at_the_secondary),
    _of_transformer("short_circuit.inductance", "inductance", _inductance_at_the_secondary),
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


def bank_values(readings: Readings) -> tuple[float | None, float | None]:
    """Capacitance [F] and series resistance [ohm] of the bank: the medians of its readings."""
    rows = readings.bank or ()
    steps = [step for row in rows if (step := bank_resistance(row)) is not None]
    return (
        statistics.median(map(bank_capacitance, rows)) if rows else None,
        statistics.median(steps) if steps else None,
    )


def mains_resistance(readings: Readings) -> float | None:
    """Resistance of the mains up to the socket: the median of its readings [ohm]."""
    return statistics.median(map(loop_resistance, readings.socket)) if readings.socket else None


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


def worked_out(readings: Readings, mains: Mains, guess: Guess | None = None) -> Bench:
    """What readings tell where the transformer is to work on these mains."""
    if not readings.no_load:
        return Bench(readings, None)
    return Bench(
        readings, identify(readings, frequency=mains.frequency, mains_voltage=mains.voltage, guess=guess or Guess())
    )


def values_of(bench: Bench, mains: Mains) -> list[Found]:
    """Every value with its doubt."""
    others = [(name, worked_out(low, mains), worked_out(high, mains)) for name, low, high in variants(bench.readings)]
    others += [
        (name, worked_out(bench.readings, mains, low), worked_out(bench.readings, mains, high))
        for name, low, high in GUESSES
    ]
    return [one for quantity in _quantities(bench.readings) if (one := _found(quantity, bench, others)) is not None]


def _found(quantity: Quantity, bench: Bench, others: list[tuple[str, Bench, Bench]]) -> Found | None:
    """One value; upward and downward doubts add up apart."""
    value = quantity.of(bench)
    if value is None or not math.isfinite(value):
        return None
    down = up = most = 0.0
    weighs = "none"
    for name, *pair in others:
        changed = [other - value for one in pair if (other := quantity.of(one)) is not None]
        down += min(0.0, *changed) ** 2
        up += max(0.0, *changed) ** 2
        if max(map(abs, changed)) > most:
            most, weighs = max(map(abs, changed)), name
    return Found(quantity, value, max(value - math.sqrt(down), 0.0), value + math.sqrt(up), weighs)
