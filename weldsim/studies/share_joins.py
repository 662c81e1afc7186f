"""The same two transformers joined in all four ways, and with a turn more or less on the second secondary."""

import math
from typing import Any

from weldsim.errors import ScenarioError, SimulationError, WiringError
from weldsim.frozen import dataclass
from weldsim.scenario.checks import findings
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import FAULT, highest
from weldsim.scenario.pair import transformers
from weldsim.scenario.vary import vary
from weldsim.studies.share_looks import AT_THE_SETTING, NO_LOAD, Look, look

JOINS = tuple(
    (primaries, secondaries) for primaries in ("parallel", "series") for secondaries in ("series", "parallel")
)
# Findings of `check` that make a join a dangerous one, in a few words.
DANGERS = {
    "bank.rated_voltage": "bank over its rating",
    "output.open_circuit": "open-circuit voltage over the limit",
    "core.flux": "first core saturates",
    "second_core.flux": "second core saturates",
    "rectifier.rated_voltage": "diodes over their rating",
    "second_transformer.unlike": "secondaries too unlike",
}
GOES_WITH_TURNS = (("secondary_resistance", 1), ("secondary_leakage_inductance", 2))  # and with what power


@dataclass(frozen=True)
class Join:
    """One way to join the two: without load and at the setting; None where it cannot be, which ``refused`` tells."""

    primaries: str
    secondaries: str
    as_built: bool
    idle: Look | None
    loaded: Look | None
    highest: float  # [V] crest of the output without load at the highest mains
    dangers: str
    refused: str = ""

    @property
    def row(self) -> dict[str, Any]:
        """The join among the rows."""
        row: dict[str, Any] = {
            "kind": "join",
            "primaries": self.primaries,
            "secondaries": self.secondaries,
            "as_built": self.as_built,
        }
        if self.idle is None or self.loaded is None:
            return row | {"dangers": self.refused}
        first, second = self.idle.halves
        return row | {
            "no_load": self.idle.output_voltage,
            "no_load_crest": self.highest,
            "output_current": self.loaded.output,
            "output_voltage": self.loaded.output_voltage,
            "primary_rms": self.loaded.setting.primary,
            "share_of_even": self.loaded.halves[0].share,
            "circulating": self.idle.circulating,
            "first_saturation": first.saturation,
            "second_saturation": second.saturation,
            "dangers": self.dangers,
        }


@dataclass(frozen=True)
class Turns:
    """The second secondary with another number of turns: without load and at the setting."""

    turns: int
    as_built: bool
    idle: Look
    loaded: Look

    @property
    def row(self) -> dict[str, Any]:
        """The number of turns among the rows."""
        return {
            "kind": "turns",
            "turns": self.turns,
            "as_built": self.as_built,
            "no_load": self.idle.output_voltage,
            "circulating": self.idle.circulating,
            "output_current": self.loaded.output,
            "share_of_even": self.loaded.halves[0].share,
            "first_copper": self.loaded.halves[0].copper,
            "second_copper": self.loaded.halves[1].copper,
        }


def joins_of(scenario: Scenario, *, dial: float | None, delay: float | None) -> list[Join]:
    """All four joins, the right way round, at the same dial or delay."""
    table, found = scenario.second_transformer, []
    assert table is not None
    for primaries, secondaries in JOINS:
        built = (primaries, secondaries) == (table.primaries, table.secondaries) and not table.reversed
        try:
            other = _joined(scenario, primaries, secondaries)
            idle = look(other, NO_LOAD, dial=dial, delay=delay)
            loaded = look(other, AT_THE_SETTING, dial=dial, delay=delay)
        except (ScenarioError, WiringError, SimulationError) as error:
            told = getattr(error, "complaints", ())
            fact = told[0].fact if told else error.fact
            found.append(Join(primaries, secondaries, built, None, None, math.nan, "", f"not to be had: {fact}"))
            continue
        words = [DANGERS[one.name] for one in findings(other) if one.level == FAULT and one.name in DANGERS]
        found.append(Join(primaries, secondaries, built, idle, loaded, highest(other).output, ", ".join(words)))
    return found


def _joined(scenario: Scenario, primaries: str, secondaries: str) -> Scenario:
    """The two transformers joined otherwise, the right way round."""
    return vary(
        scenario,
        {
            "second_transformer.primaries": primaries,
            "second_transformer.secondaries": secondaries,
            "second_transformer.reversed": False,
        },
    )


def turns_of(scenario: Scenario, *, dial: float | None, delay: float | None) -> list[Turns]:
    """A turn less, as it is, a turn more; nothing where the turns of the second are not known."""
    second = transformers(scenario)[1].transformer
    if second.secondary_turns is None or second.ratio is not None:
        return []
    found = []
    for turns in (second.secondary_turns - 1, second.secondary_turns, second.secondary_turns + 1):
        if turns < 1:
            continue
        other = _rewound(scenario, turns)
        idle, loaded = (look(other, condition, dial=dial, delay=delay) for condition in (NO_LOAD, AT_THE_SETTING))
        found.append(Turns(turns, turns == second.secondary_turns, idle, loaded))
    return found


def _rewound(scenario: Scenario, turns: int) -> Scenario:
    """The second secondary with other turns of the same wire: its resistance and leakage go along."""
    second = transformers(scenario)[1].transformer
    if second.secondary_turns is None or turns == second.secondary_turns:
        return scenario
    factor = turns / second.secondary_turns
    changes: dict[str, object] = {"second_transformer.secondary_turns": turns}
    for name, power in GOES_WITH_TURNS:
        value = getattr(second, name)
        if value is not None:
            changes[f"second_transformer.{name}"] = value * factor**power
    return vary(scenario, changes)
