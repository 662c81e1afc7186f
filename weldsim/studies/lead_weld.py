"""The other cable: volts, heat and temperature of torch and return lead against their length and section.

Each pair of leads is simulated at the same dial, on the scenario's own supply lead.
"""

import math
from collections.abc import Sequence

from weldsim.analysis.conductor_heat import (
    WELD_LIMIT,
    WELD_TIME,
    cover_at,
    cycle_current,
    known_temperature,
    weld_cable_temperature,
)
from weldsim.frozen import dataclass
from weldsim.parts.cable import WELD_INDUCTANCE_PER_LENGTH, WeldLeads, cable_resistance, weld_leads_resistance
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict, amount, spread
from weldsim.studies.lead_heat import written_section, written_temperature
from weldsim.studies.operating import Setting, operate

SECTIONS = (10e-6, 16e-6, 25e-6, 35e-6, 50e-6)  # [m2]
LENGTHS = (6.0, 10.0, 20.0)  # [m] torch plus return
USUAL = 6.0  # [m] where the scenario tells none
LOST = 1.0  # [V] half of the good window
KEPT = 0.9  # of the current, where the amps decide
ALIKE = 5e-3  # [V]
MUCH = 4.0  # [V] that a whole weld circuit should not exceed (a manual of a welding machine)


@dataclass(frozen=True)
class WeldLeadsAnswer:
    """What of an answer speaks of the weld leads."""

    numbers: dict[str, Number]
    rows: list[dict]
    verdict: Verdict
    assumption: str


def weld_leads_asked(
    over: Sequence[Setting], *, dial: float | None, sections: Sequence[float] | None, duty: float, by_volts: bool
) -> WeldLeadsAnswer:
    """Weld leads of several lengths and sections in place of the scenario's own.

    ``over`` is what these give at mains -10, 0 and +10 %.
    """
    own = over[1]
    scenario = own.recording.supply.scenario
    leads = scenario.weld_leads or WeldLeads(resistance=0.0)
    length = leads.length or USUAL
    sections = sorted(sections or _bearable(own, leads, length))
    rows = [
        _row(own, leads, operate(_with_leads(scenario, leads, one, section), dial=dial), duty=duty, by_volts=by_volts)
        for section in sections
        for one in sorted({*LENGTHS, length})
    ]
    at_home = [row for row in rows if row["length"] == length]
    return WeldLeadsAnswer(
        _numbers(own, leads, at_home, duty=duty),
        rows,
        _verdict(over, leads, at_home, by_volts=by_volts),
        _assumed(leads),
    )


def _bearable(own: Setting, leads: WeldLeads, length: float) -> list[float]:
    """Usual sections that take less, at this current, than all that stands at the supply's terminals [m2]."""
    at_terminals = own.voltage + weld_leads_resistance(leads) * own.current
    return [one for one in SECTIONS if _ohms(leads, length, one) * own.current < at_terminals]


def _with_leads(scenario: Scenario, leads: WeldLeads, length: float, section: float) -> Scenario:
    """The scenario on other cables with the same contacts."""
    bare = vary(scenario, {"weld_leads": "absent"}) if scenario.weld_leads is not None else scenario
    return vary(
        bare,
        weld_leads={
            "length": length,
            "section": section,
            "conductor": leads.conductor,
            "temperature": leads.temperature,
            "contact_resistance": leads.contact_resistance,
        },
    )


def _ohms(leads: WeldLeads, length: float, section: float) -> float:
    """Both cables, without contacts [ohm]."""
    return cable_resistance(length, section, conductor=leads.conductor, temperature=leads.temperature)


def _row(own: Setting, leads: WeldLeads, there: Setting, *, duty: float, by_volts: bool) -> dict:
    """One pair of leads at the same dial."""
    asked = there.recording.supply.scenario.weld_leads
    assert asked is not None
    length, section = asked.length or 0.0, asked.section or 0.0
    ohms, rms = _ohms(leads, length, section), there["output.current.rms"]
    more = (weld_leads_resistance(asked) - weld_leads_resistance(leads)) * own.current
    settled = _hottest(rms, duty=duty, section=section)
    warmth = {"temperature": written_temperature(settled), "cover": cover_at(settled, limit=WELD_LIMIT)}
    return {
        "kind": "weld_lead",
        "length": length,
        "section": section,
        "resistance": ohms,
        "volts_in_leads": ohms * own.current,
        "volts_lost": more,
        "output_current": there.current,
        "in_window": abs(more) <= LOST if by_volts else there.current >= KEPT * own.current,
        "heat": ohms * rms**2,
        "heat_per_length": ohms * rms**2 / length,
        **(warmth if leads.conductor == "copper" else {}),
    }


def _numbers(own: Setting, leads: WeldLeads, at_home: Sequence[dict], *, duty: float) -> dict[str, Number]:
    """The scenario's own leads, and each section in their place."""
    ohms, rms = weld_leads_resistance(leads), own["output.current.rms"]
    numbers = {
        "weld_leads.resistance": Number(ohms, "ohm"),
        f"weld_leads.voltage_drop.{own.kind}": Number(ohms * own.current, "V"),
        "weld_leads.heat": Number(ohms * rms**2, "W"),
    }
    if leads.section and leads.conductor == "copper":
        settled = _hottest(rms, duty=duty, section=leads.section)
        numbers["weld_leads.temperature"] = Number(known_temperature(settled), "degC")
    for row in at_home:
        name = f"weld_leads.section_{written_section(row['section']).replace('.', '_')}"
        numbers |= {
            f"{name}.voltage_drop": Number(row["volts_in_leads"], "V"),
            f"{name}.window": Number(_longest(own, leads, row["section"]), "m"),
        }
    return numbers


def _hottest(current: float, *, duty: float, section: float) -> float:
    """How hot the copper is at the end of a weld, at the duty [degC]."""
    return weld_cable_temperature(cycle_current(current, duty=duty, time=WELD_TIME), section=section)


def _longest(own: Setting, leads: WeldLeads, section: float) -> float:
    """The longest pair of this section that takes no more than half the window from the arc [m]."""
    room = weld_leads_resistance(leads) - leads.contact_resistance + LOST / own.current if own.current else math.inf
    return room / _ohms(leads, 1.0, section)


def _verdict(over: Sequence[Setting], leads: WeldLeads, at_home: Sequence[dict], *, by_volts: bool) -> Verdict:
    """What the own weld leads take, and what others would."""
    own, ohms = over[1], weld_leads_resistance(leads)
    size = f"{leads.length:g} m of {written_section(leads.section)} mm2, " if leads.length and leads.section else ""
    contacts = f", {1e3 * leads.contact_resistance:.2g} of them in contacts" if leads.contact_resistance else ""
    others = "; ".join(_other(row, by_volts=by_volts) for row in at_home)
    text = (
        f"At {amount(own.current, 'A')} the weld leads ({size}{1e3 * ohms:.3g} mohm{contacts}) take "
        f"{spread([ohms * one.current for one in over], 'V')} and {ohms * own['output.current.rms'] ** 2:.0f} W."
    )
    if not at_home:
        most = _ohms(leads, leads.length or USUAL, SECTIONS[-1]) * own.current
        return Verdict(
            "weld_leads",
            "note",
            f"{text} No usual cable stands for them: {leads.length or USUAL:g} m of "
            f"{written_section(SECTIONS[-1])} mm2, torch and return together, would take {amount(most, 'V')} at this "
            "current, more than there is.",
        )
    text += f" Other cables of {at_home[0]['length']:g} m, torch and return together: {others}."
    if by_volts:
        longest = (
            f"{written_section(row['section'])} mm2 {_longest(own, leads, row['section']):.3g} m" for row in at_home
        )
        text += f" {LOST:g} V more than now, half of the good window, is lost with: {', '.join(longest)}."
    hot = [written_section(row["section"]) for row in at_home if row.get("cover", "bears it") != "bears it"]
    if hot:
        text += f" Too hot at this duty: {', '.join(hot)} mm2."
    level = "note" if ohms * own.current > MUCH or hot else "good"
    return Verdict("weld_leads", level, text)


def _other(row: dict, *, by_volts: bool) -> str:
    """Another section in place of the own one, in words."""
    text = f"{written_section(row['section'])} mm2 {row['volts_in_leads']:.2g} V, {row['heat']:.0f} W"
    if not by_volts:
        return f"{text}, {amount(row['output_current'], 'A')} at the same setting"
    if abs(row["volts_lost"]) < ALIKE:
        return f"{text}, as now"
    way = "less" if row["volts_lost"] > 0.0 else "more"
    where = "within" if row["in_window"] else "outside"
    return f"{text}, {abs(row['volts_lost']):.2g} V {way} at the arc, {where} the good window"


def _assumed(leads: WeldLeads) -> str:
    """What the weld leads' figures stand on."""
    return (
        f"Weld leads: both cables together, {leads.conductor} at {leads.temperature:g} degC, on the scenario's own "
        f"supply lead, contacts as they are, {1e6 * WELD_INDUCTANCE_PER_LENGTH:g} uH per metre of both (common "
        "practice); their warmth by a table of rubber cables (from memory, 85 %), laid out, when a weld ends, with a "
        f"time constant of {WELD_TIME / 60.0:g} min (derived, 40 %)."
    )
