"""What every real supply has and a scenario leaves at nothing: impedances that hold currents and peaks down."""

from collections.abc import Iterator

from weldsim.parts.transformer import leakage_inductances, winding_resistance
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import NOTE, Finding
from weldsim.scenario.pair import transformers


def left_at_nothing(scenario: Scenario) -> list[str]:
    """Resistances and inductances that are zero, as their keys; only where there is a transformer to be loaded."""
    if scenario.transformer is None:
        return []
    values = {"mains.resistance": scenario.mains.resistance if scenario.generator is None else 1.0}
    for one in transformers(scenario):
        values |= {
            f"{one.prefix}transformer.primary_resistance": winding_resistance(one.transformer, "primary"),
            f"{one.prefix}transformer.secondary_resistance": winding_resistance(one.transformer, "secondary"),
            f"{one.prefix}transformer.secondary_leakage_inductance": sum(leakage_inductances(one.transformer)),
        }
    values |= {
        "bank.resistance": 1.0 if scenario.bank is None else scenario.bank.resistance,
        "choke.resistance": 1.0 if scenario.choke is None else scenario.choke.resistance,
    }
    return [key for key, value in values.items() if not value > 0.0]


def left_out(scenario: Scenario) -> Iterator[Finding]:
    """A note with all of them; and one on readings that no transformer was made of yet."""
    if scenario.readings is not None and scenario.transformer is None:
        yield Finding(
            "left_out",
            NOTE,
            "There is no [transformer]: the [readings] alone enter no run. `weldsim identify FILE --write NEW.toml` "
            "makes the tables of them.",
        )
    keys = left_at_nothing(scenario)
    if keys:
        yield Finding(
            "left_out",
            NOTE,
            f"Counted as nothing, since nothing is given: {', '.join(keys)}. A real supply has "
            f"{'it' if len(keys) == 1 else 'all of them'}: without, output, short-circuit current and the peaks of "
            "charging and inrush come out too high, losses too low. README tells how to measure most of them.",
            float(len(keys)),
        )
