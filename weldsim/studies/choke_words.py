"""How a choke is told of: one that saturates, in every study alike; one that is not for a wire."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.parts.choke import GIVEN_WAY, Choke, inductance_at
from weldsim.parts.wire import USUAL_GAS, Wire
from weldsim.runs.tapped import tap_key
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict
from weldsim.studies.weld_measure import FLUTTER

STRIKES = 0.9  # share of the starts that must strike


def given_way(choke: Choke | None, current: float) -> str:
    """What is left of a choke's inductance at a current [A]; no words where most of it is, or where there is none."""
    if choke is None:
        return ""
    left, at_rest = inductance_at(choke, current), inductance_at(choke, 0.0)
    if left >= GIVEN_WAY * at_rest:
        return ""
    return f"The choke saturates: of its {1e3 * at_rest:.3g} mH {1e3 * left:.2g} mH are left at {current:.4g} A"


def told_of_process(scenario: Scenario) -> list[Verdict]:
    """That shorts of a wire say little of a supply for sticks, TIG or batteries, and what to ask in their place."""
    load = scenario.load
    if scenario.wire is not None or load is None:
        return []
    if load.kind == "battery":
        text = (
            "The load is a battery, but this question is one of a wire that dips: all below stands on a usual wire of "
            "MIG. What a choke does to the charging current: sweep --over choke.inductance=0.5mH:8mH:8 --number "
            "output.current.ripple."
        )
        return [Verdict("process", "note", text)]
    if load.kind != "load line" or load.process == "MIG":
        return []
    text = (
        f"The load is that of {load.process}, but this question is one of a wire that dips: all below stands on a "
        "usual wire of MIG, and says nothing of a stick's arc. A choke for a stick must keep the arc alive between "
        "half cycles: give an arc line with hold_current and reignition_voltage and sweep --over "
        "choke.inductance=0.5mH:8mH:8 --number output.gap.longest --number output.current.min."
    )
    return [Verdict("process", "note", text)]


def for_a_wire(scenario: Scenario, verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Verdicts on the shorts of a wire; of a supply that is none for a wire they judge nothing, and say so."""
    process = told_of_process(scenario)
    if not process:
        return list(verdicts)
    return process + [Verdict(one.name, "note", f"With a wire of MIG: {one.text}") for one in verdicts]


def told_wire(scenario: Scenario) -> list[str]:
    """Which wire was welded with where none is written."""
    if scenario.wire is not None:
        return []
    usual = Wire()
    return [
        f"No [wire] is written: {usual.kind} of {1e3 * usual.diameter:g} mm in {USUAL_GAS[usual.kind]}, with what else "
        "is usual for it."
    ]


def not_found(scenario: Scenario, rise: float, table: Sequence[Mapping[str, Any]]) -> str:
    """Why no inductance of the table gives the wanted rise [A/ms]."""
    tried = [1e3 * row["inductance"] for row in table]
    text = f"No choke from {min(tried):g} to {max(tried):g} mH gives {rise:.3g} A/ms here"
    silent = [row["inductance"] for row in table if not math.isfinite(row["rise"])]
    if len(silent) == len(table):
        return f"{text}: at this setting there is no short to judge one by. {_turned(scenario, table)}"
    known = [1e-3 * row["rise"] for row in table if math.isfinite(row["rise"])]
    text += f": where there are shorts it goes from {min(known):.3g} to {max(known):.3g} A/ms."
    if silent:
        return (
            f"{text} At {_listed(silent)} there is none to judge it by at this setting (the arc is too long, or never "
            f"strikes). {_turned(scenario, table)}"
        )
    return f"{text} The rest of the loop and the voltage behind it set the limit."


def range_verdict(scenario: Scenario, table: Sequence[Mapping[str, Any]]) -> Verdict:
    """Which inductances of the table weld and strike, and how the others fail."""
    poor: dict[str, list[float]] = {}
    good = []
    for row in table:
        if row["regular"] and row["struck"] >= STRIKES:
            good.append(row["inductance"])
        else:
            poor.setdefault(row["reason"] or "poor starts", []).append(row["inductance"])
    told = "; ".join(f"{reason} at {_listed(ones)}" for reason, ones in poor.items())
    if not good:
        text = f"At this setting no inductance welds regularly and strikes: {told}."
        text += _why_it_flutters(table) or f" {_turned(scenario, table)}"
        return Verdict("range", "fault", text)
    text = f"Regular, with 9 of 10 starts and more: {_listed(good)}" + (f". Not: {told}" if told else "")
    return Verdict(
        "range", "good", text + f".{_why_it_flutters(table)} Usual rises are 50 to 150 A/ms (common practice)."
    )


def _why_it_flutters(table: Sequence[Mapping[str, Any]]) -> str:
    """By how much the bank falls in a short where the arc flutters, and where it does not; nothing where none does.

    Behind a small choke the current follows the bank, behind a large one it lasts until the next half cycle: in between
    a bank that a long short has drained leaves the arc without volts.
    """
    known = [row for row in table if math.isfinite(row["bank_fall"])]
    fluttering, regular = (
        [row["bank_fall"] for row in known if kept(row)]
        for kept in (lambda row: FLUTTER in row["reason"], lambda row: row["regular"])
    )
    if not fluttering:
        return ""
    text = f" Where it flutters the bank falls by {_volts(fluttering)} in a short"
    if regular:
        text += f", {_volts(regular)} where it is regular"
    return (
        f"{text}: until the next half cycle has charged it again the arc lives on what the choke holds. A larger choke "
        "or bank bridges that, or so small a choke that its shorts are brief."
    )


def _volts(values: Sequence[float]) -> str:
    ends = sorted({f"{min(values):.2g}", f"{max(values):.2g}"}, key=float)
    return f"{' to '.join(ends)} V"


def _listed(inductances: Sequence[float]) -> str:
    return ", ".join(f"{1e3 * one:.3g}" for one in inductances) + " mH"


def _turned(scenario: Scenario, table: Sequence[Mapping[str, Any]]) -> str:
    """What to turn where no choke helps: dial or tap, or the feed, and what finds the range."""
    few = [row for row in table if "few dips" in row["reason"] and "stubbing" not in row["reason"]]
    way = "Change volts or feed"
    if 2 * len(few) > len(table):
        way = "Where dips are few the arc is long, and no choke mends that: fewer volts or more feed shorten it"
    finds = "`weld --voltage-window` looks for the dials that dip"
    if scenario.phase_control is None:
        finds = f"volts are those of another tap, that is {tap_key(scenario)}"
    return f"{way} ({finds}), and ask again."
