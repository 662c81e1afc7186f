"""The line that a characteristic is crossed with: a process's conventional one, or that of a load which is no arc."""

import math

from weldsim.frozen import dataclass
from weldsim.parts.load import load_line, short_resistance
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import amount

NO_ARC = 0.5  # [A] below which the load line is not reached: leakage and what a meter takes
ON_LINE = 0.02  # of the load line's volts: means within it lie on the line, beyond it the current rests between pulses


@dataclass(frozen=True)
class LoadLine:
    """Volts that a load asks for: ``base + slope I``, at most ``most``; and that load as changes of a scenario."""

    words: str
    process: str  # none of a load of its own
    base: float  # [V]
    slope: float  # [ohm]
    most: float  # [V]
    load: dict[str, object]

    def volts(self, current: float) -> float:
        """Its volts at a current."""
        return min(self.base + self.slope * current, self.most)

    def holds(self, current: float, voltage: float) -> bool:
        """Whether a point lies on it."""
        asked = self.volts(current)
        return abs(voltage - asked) <= ON_LINE * asked

    def corners(self, largest: float) -> list[float]:
        """Its ends and its bend, up to a current [A]."""
        corner = (self.most - self.base) / self.slope if self.slope else math.inf
        return [0.0, corner, largest] if corner < largest else [0.0, largest]


def conventional(scenario: Scenario) -> LoadLine:
    """That of the process whose load line the scenario has, of MIG without one."""
    load = scenario.load
    process = load.process if load is not None and load.kind == "load line" else "MIG"
    changes: dict[str, object] = {"load.kind": "load line", "load.process": process}
    return LoadLine("the load line", process, *load_line(process), changes)


def own_line(scenario: Scenario) -> LoadLine | None:
    """That of a load which is a plain resistance or a battery, where there is no wire; None of others."""
    load = scenario.load
    if load is None or scenario.wire is not None or load.kind not in ("resistor", "short", "battery"):
        return None
    ohms = short_resistance(load) if load.kind == "short" else load.resistance or 0.0
    base = load.voltage or 0.0 if load.kind == "battery" else 0.0
    if not (ohms or base) or load.inductance:
        return None
    changes: dict[str, object] = {"load.kind": load.kind, "load.resistance": ohms}
    words = f"the scenario's own load, {amount(1e3 * ohms, 'mohm')}"
    if load.kind == "battery":
        changes["load.voltage"] = base
        words = f"the scenario's own load, {amount(base, 'V')} behind {amount(1e3 * ohms, 'mohm')}"
    return LoadLine(words, "", base, ohms, math.inf, changes)


def told(line: LoadLine, kind: str) -> tuple[str, str]:
    """Which line is crossed, and what a crossing stands on."""
    if not line.process:
        arc = load_line("MIG")
        return (
            f"No setting reaches the {arc[0]:g} V at which an arc's load line begins: crossings are those with "
            f"{line.words}.",
            "",
        )
    head = (
        f"Conventional load line of {line.process}: {line.base:g} V + {line.slope:g} ohm x I, at most {line.most:g} V "
        f"(IEC 60974-1); real short arcs lie below it."
    )
    if kind == "mean":
        return head, " The crossing stands on a load that follows the load line at every instant."
    return head, (
        " The crossing is that of the resistor on which volts and amperes lie on the line; where none does, of a load "
        "that follows the line at every instant."
    )
