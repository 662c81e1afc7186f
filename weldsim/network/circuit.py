"""The drawing of one supply: branches, what belongs to which part, what can be read off, what can happen to it."""

import dataclasses
from dataclasses import field

from weldsim.errors import WiringError
from weldsim.frozen import dataclass
from weldsim.network.branches import Branch, Event, two_terminals


@dataclass(frozen=True)
class Probe:
    """One term of a signal: factor times the "voltage", "current" or "state" of a branch.

    Quantity "between" reads the voltage from node ``of`` to node ``minus``.
    """

    quantity: str
    of: str
    factor: float = 1.0
    minus: str = ""


@dataclass(frozen=True)
class Reading:
    """A signal as drawn: name, unit, axis label and the terms it is the sum of."""

    name: str
    unit: str
    label: str
    probes: tuple[Probe, ...]


@dataclass(frozen=True)
class Owner:
    """Whose branch it is: the part of the ledger, its role there, and the scenario key that holds its value."""

    part: str
    role: str = "loss"
    key: str = ""


@dataclasses.dataclass
class Circuit:
    """A drawing being made; ``reference`` is the node that counts as 0 V."""

    reference: str
    frequency: float
    branches: list[Branch] = field(default_factory=list)
    owners: dict[str, Owner] = field(default_factory=dict)
    readings: dict[str, Reading] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    inputs: list[str] = field(default_factory=list)
    sources: list[tuple[str, str, str]] = field(default_factory=list)  # part, voltage signal, current signal
    notes: list[str] = field(default_factory=list)

    def add(self, branch: Branch, part: str, *, role: str = "loss", key: str = "") -> None:
        """Draw a branch that belongs to ``part``; every name may be drawn once."""
        names = [name for name, _, _ in two_terminals(branch)] or [branch.name]  # type: ignore[union-attr]
        for name in names:
            if name in self.owners:
                raise WiringError(f"two branches are called '{name}'", place=part)
            self.owners[name] = Owner(part, role, key)
        self.branches.append(branch)

    def read(self, name: str, unit: str, label: str, *probes: Probe) -> None:
        """Offer a signal, the sum of the probes; the first reading of a name stays."""
        self.readings.setdefault(name, Reading(name, unit, label, probes))

    def terminals(self) -> dict[str, tuple[str, str]]:
        """Plus and minus node of every two-terminal thing."""
        return {name: (plus, minus) for branch in self.branches for name, plus, minus in two_terminals(branch)}
