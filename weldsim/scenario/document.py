"""The Scenario: which tables a file may hold, and one frozen object for each that it holds."""

import dataclasses
import os
from dataclasses import field
from typing import Any

from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass
from weldsim.parts.boost import Boost
from weldsim.parts.cable import SupplyLead, WeldLeads
from weldsim.parts.capacitors import Bank
from weldsim.parts.choke import Choke
from weldsim.parts.cooling import Cooling
from weldsim.parts.feed_motor import FeedMotor
from weldsim.parts.feed_supply import FeedSupply
from weldsim.parts.generator import Generator
from weldsim.parts.iron import Core
from weldsim.parts.load import Load
from weldsim.parts.mains import Mains
from weldsim.parts.phase_control import PhaseControl
from weldsim.parts.protection import Breaker
from weldsim.parts.readings import Readings
from weldsim.parts.rectifier import Rectifier
from weldsim.parts.second_transformer import SecondCore, SecondTransformer
from weldsim.parts.soft_start import SoftStart
from weldsim.parts.start import Start
from weldsim.parts.transformer import Transformer
from weldsim.parts.trigger import Trigger
from weldsim.parts.varistor import Varistor
from weldsim.parts.wire import Wire
from weldsim.units import Text

FORMAT = 1  # of the files; a later, incompatible one counts up

# Table -> its dataclass, in the order of the current: from the wall to the work.
TABLES: dict[str, type] = {
    "mains": Mains,
    "generator": Generator,
    "breaker": Breaker,
    "supply_lead": SupplyLead,
    "soft_start": SoftStart,
    "phase_control": PhaseControl,
    "varistor": Varistor,
    "transformer": Transformer,
    "core": Core,
    "second_transformer": SecondTransformer,
    "second_core": SecondCore,
    "rectifier": Rectifier,
    "bank": Bank,
    "choke": Choke,
    "boost": Boost,
    "weld_leads": WeldLeads,
    "load": Load,
    "wire": Wire,
    "trigger": Trigger,
    "feed_motor": FeedMotor,
    "feed_supply": FeedSupply,
    "start": Start,
    "cooling": Cooling,
    "readings": Readings,
}
TEXTS = {"title": Text("one line that names the supply", 200), "notes": Text("what a reader should know")}
NEEDED = ("mains",)


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """A supply and what it works on, as read from a file; a part is None where its table is absent."""

    mains: Mains
    title: str = ""
    notes: str = ""
    generator: Generator | None = None
    breaker: Breaker | None = None
    supply_lead: SupplyLead | None = None
    soft_start: SoftStart | None = None
    phase_control: PhaseControl | None = None
    varistor: Varistor | None = None
    transformer: Transformer | None = None
    core: Core | None = None
    second_transformer: SecondTransformer | None = None
    second_core: SecondCore | None = None
    rectifier: Rectifier | None = None
    bank: Bank | None = None
    choke: Choke | None = None
    boost: Boost | None = None
    weld_leads: WeldLeads | None = None
    load: Load | None = None
    start: Start = Start()
    wire: Wire | None = None
    trigger: Trigger | None = None
    feed_motor: FeedMotor | None = None
    feed_supply: FeedSupply | None = None
    cooling: Cooling | None = None
    readings: Readings | None = None
    text: str = field(default="", compare=False, repr=False)  # the TOML text it was read from
    source: str = field(default="", compare=False)  # the file, and what was varied since


def check_is_read(scenario: Any) -> None:
    """Refuse the name of a file, or its text, where the scenario itself is wanted."""
    if isinstance(scenario, (str, os.PathLike)):
        name = str(scenario)
        reads = "read_text(...)" if "\n" in name else f'read("{name[:80]}")'
        raise ScenarioError(
            "a text, not a scenario that has been read", place="scenario", advice=f"write weldsim.{reads} in its place"
        )


def given_fields(part: Any) -> dict[str, Any]:
    """Fields of a table that say something: name -> value, without those that equal their default."""
    return {
        item.name: getattr(part, item.name)
        for item in dataclasses.fields(part)
        if getattr(part, item.name) != item.default
    }
