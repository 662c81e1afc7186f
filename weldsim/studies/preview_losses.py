"""Where the power goes: what each part of a supply takes of the mains' power over a recorded window."""

from collections.abc import Mapping
from typing import Any

from weldsim.runs.run import Run
from weldsim.studies.answer import Verdict, amount

TOLD = 3  # largest losses in words
WORTHWHILE = 0.4  # at the load, of the power from the sources; a low dial has as much
UNSETTLED = 0.02  # of the power from the sources: what goes into charge and flux is told from here on
DUST = 1e-6  # of the power from the sources: what is below is what rounding and settling leave


def part_rows(run: Run) -> list[dict[str, Any]]:
    """Rows of kind "part": part, role (source, load or loss), mean power [W], its share of what the sources give."""
    length = run.window[1] - run.window[0]
    entries = [
        (part, role, energy / length)
        for part, entry in run.ledger.items()
        if isinstance(entry, Mapping) and length > 0.0
        for role, energy in entry.items()
    ]
    given = sum(power for _, role, power in entries if role == "source")
    if given <= 0.0:
        return []
    rows = [
        {"kind": "part", "part": part.replace("_", " "), "role": role, "power": power, "share": power / given}
        for part, role, power in entries
        if abs(power) > DUST * given
    ]
    order = ("source", "load", "loss")
    return sorted(rows, key=lambda row: (order.index(row["role"]) if row["role"] in order else 2, -row["power"]))


def power_verdicts(rows: list[dict[str, Any]], loaded: bool) -> list[Verdict]:
    """How much arrives at the load, and where most of the rest is lost."""
    if not rows:
        return []
    given = sum(row["power"] for row in rows if row["role"] == "source")
    arrives = sum(row["power"] for row in rows if row["role"] == "load")
    lost = [row for row in rows if row["role"] == "loss"][:TOLD]
    told = ", ".join(f"{row['part']} {amount(row['power'], 'W')}" for row in lost)
    if loaded and arrives < 0.0:
        text = f"The load gives {amount(-arrives, 'W')} back; {amount(given, 'W')} come from the source"
        text += f"; most of both is lost in: {told}" if lost else ""
    elif loaded:
        text = f"Of {amount(given, 'W')} from the source {100.0 * arrives / given:.0f} % arrive at the load"
        text += f"; most of the rest is lost in: {told}" if lost else ""
    else:
        text = f"Without load {amount(given, 'W')} come from the source" + (f", most of it for: {told}" if lost else "")
    stored = given - sum(row["power"] for row in rows if row["role"] != "source")
    if abs(stored) > UNSETTLED * given:
        way = "go into" if stored > 0.0 else "come out of"
        text += f"; {amount(abs(stored), 'W')} {way} charge and flux, since this window does not repeat"
    assumed = "Means over the window, the impedance of the mains included; windings at the scenario's temperature."
    return [Verdict("power", "note" if loaded and arrives < WORTHWHILE * given else "good", f"{text}. {assumed}")]
