"""The supply lead: output, dial and heat against its length and section, and where the good window ends."""

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor

import numpy as np

from weldsim.analysis.conductor_heat import DRUM_TIME, LEAD_TIME, cover_at, known_temperature
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.cable import LEAD_INDUCTANCE_PER_LENGTH, supply_lead_resistance
from weldsim.runs.crew import Crew
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Answer, Number, Verdict, spread
from weldsim.studies.lead_heat import heat_verdicts, own_temperature, written_section, written_temperature
from weldsim.studies.lead_map import STATES, LeadMap, loop_resistance, mapped
from weldsim.studies.lead_weld import weld_leads_asked
from weldsim.studies.operating import (
    Setting,
    firing_verdicts,
    found_by,
    has_dial,
    over_the_mains,
    sound,
    sweep,
    told_backlash,
    told_load,
    welding,
)
from weldsim.studies.progress import Progress, silent

LONGEST = 60.0  # [m]
SECTIONS = (1e-6, 1.5e-6, 2.5e-6, 4e-6, 6e-6)  # [m2]
STEPS = 12  # lengths of the map
DIALS = tuple(round(0.1 * step, 1) for step in range(2, 11))
WINDOW = 2.0  # [V] usable zone at a given feed (from memory: a tuning guide)
KEPT = 0.9  # of the current, on loads whose volts at given amps mean nothing
DUTY = 0.35


@dataclass(frozen=True)
class Question:
    """What was asked, and what was found by simulation."""

    scenario: Scenario
    wanted: float  # [A] that the weld takes
    dial: float | None  # that gives it when plugged in directly
    crest: float  # peak over rms of the primary current there
    map: LeadMap
    sections: tuple[float, ...]
    longest: float
    duty: float

    @property
    def by_volts(self) -> bool:
        """Whether volts at given amps decide, as where a wire feed sets the amps; else the amps themselves."""
        load = self.scenario.load
        return self.map.slope is not None and not (load and load.kind == "load line" and load.process != "MIG")

    @property
    def conductor(self) -> str:
        """Metal of the cores."""
        return self.scenario.supply_lead.conductor if self.scenario.supply_lead is not None else "copper"

    def ohms(self, length: float, section: float, state: str) -> float:
        """Loop resistance of a lead [ohm]."""
        return loop_resistance(length, section=section, state=state, conductor=self.conductor)

    def in_window(self, resistance: float, length: float) -> bool:
        """Whether the weld goes on at the same dial."""
        if not self.by_volts:
            return self.map.output(resistance, length) >= KEPT * self.wanted
        return self.map.volts_lost(self.wanted, resistance, length=length) <= 0.5 * WINDOW

    def longest_with(self, section: float, state: str, holds: Callable[[float, float], bool]) -> float:
        """The longest lead for which something holds [m]; infinite where it holds for the longest one looked at."""
        per_metre = self.ohms(1.0, section, state)
        low, high = 0.0, self.end(section, state)
        if not holds(0.0, 0.0):
            return 0.0
        if holds(high * per_metre, high):
            return math.inf
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if holds(middle * per_metre, middle) else (low, middle)
        return low

    def end(self, section: float, state: str) -> float:
        """The longest lead of this section that was looked at [m]: as long as has the largest resistance of the map."""
        return float(self.map.resistances[-1]) / self.ohms(1.0, section, state)

    def metres(self, length: float, section: float, state: str) -> str:
        """A longest length in words."""
        if length == 0.0:
            return "nowhere"
        if math.isinf(length):
            return f"over {self.end(section, state):.0f} m"
        return f"{length:.0f} m" if length >= 10.0 else f"{length:.1f} m"

    def window(self, section: float, state: str) -> float:
        """The longest lead within the good window, at the same dial [m]."""
        return self.longest_with(section, state, self.in_window)

    def reach(self, section: float, state: str, step: int = 1) -> float:
        """The longest lead on which some dial still gives the wanted current [m], at one of the mains voltages."""
        return self.longest_with(
            section, state, lambda ohms, length: self.map.most(ohms, length, step=step) >= self.wanted
        )


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    current: float | None = None,
    length: float = LONGEST,
    sections: Sequence[float] | None = None,
    weld_sections: Sequence[float] | None = None,
    duty: float = DUTY,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Answer:
    """Leads of every length up to ``length`` and several sections, cold, warm and coiled, under one setting.

    Parameters
    ----------
    scenario : Scenario
    dial : float or None
        Setting of the dial when plugged in directly [1]; the scenario's own.
    current : float or None
        Output current that is wanted, in place of a dial [A].
    length : float
        Longest lead of the map, one way [m].
    sections, weld_sections : sequence of float or None
        Sections of one core; of the weld leads, torch and return [m2].
    duty : float
        Share of each ten minutes in which it welds [1].
    workers, executor
        Who simulates the leads: so many threads (None: as many as cores), or any concurrent.futures Executor.

    Returns
    -------
    Answer : rows "lead" (length by section by state), "longest" (section by state) and "weld_lead" (length by section
    of torch and return, on the scenario's own supply lead); runs "window".

    Raises
    ------
    QuestionError : a current that the supply never gives; WiringError, SimulationError.
    """
    loaded = vary(welding(scenario), {} if dial is None or not has_dial(scenario) else {"phase_control.dial": dial})
    direct = vary(loaded, {"supply_lead": "absent"})
    chosen = tuple(sorted(sections or SECTIONS))
    reference = _reference(direct, current)
    wanted = reference.current if current is None else current
    most = max(loop_resistance(length, section=chosen[0], state=state, conductor=_metal(scenario)) for state in STATES)
    with Crew(workers, executor) as crew:
        field = mapped(
            direct, dials=DIALS, reference=reference.dial, most=most, longest=length, crew=crew, progress=progress
        )
    crest = reference["primary.current.peak"] / reference.primary if reference.primary else math.nan
    asked = Question(loaded, wanted, reference.dial, crest, field, chosen, length, duty)
    own = over_the_mains(loaded, dial=reference.dial)
    weld = weld_leads_asked(own, dial=reference.dial, sections=weld_sections, duty=duty, by_volts=asked.by_volts)
    heat = heat_verdicts(loaded, own, primary=field.primary[:, 0].tolist(), sections=chosen, duty=duty)
    verdicts = [*firing_verdicts(own), _lead_verdict(asked, own), *_longest_verdicts(asked), *heat, weld.verdict]
    return Answer(
        "lead",
        scenario,
        _numbers(asked, own[1], reference) | weld.numbers,
        verdicts,
        [*_assumptions(asked), weld.assumption],
        rows=[*_longest_rows(asked), *_lead_rows(asked), *weld.rows],
        runs={"window": own[1].recording.run},
    )


def _metal(scenario: Scenario) -> str:
    return scenario.supply_lead.conductor if scenario.supply_lead is not None else "copper"


def _reference(direct: Scenario, current: float | None) -> Setting:
    """The setting, plugged in directly: the scenario's dial, or the one that gives the wanted current."""
    if current is None:
        control = direct.phase_control
        return sweep(direct, [control.dial if control is not None else 0.0])[0]
    swept = sound(sweep(direct))
    found = found_by(direct, current, measure=lambda one: one.current, among=swept)
    if found is None:
        raise _out_of_reach(current, [one.current for one in swept])
    return found


def _out_of_reach(wanted: float, given: list[float]) -> QuestionError:
    """Why no setting gives a current [A], by what the settings give that miss no half cycle."""
    if not given:
        why, advice = "the phase control misfires at every setting", "ask `preview` for the cause"
    elif len(given) == 1:
        why, advice = f"its only one gives {given[0]:.4g} A", "leave --current out"
    elif wanted > max(given):
        why, advice = f"its most is {max(given):.4g} A", "ask for less, or leave --current out"
    elif wanted < min(given):
        why, advice = f"its least is {min(given):.4g} A", "ask for more, or leave --current out"
    else:
        low, high = max(one for one in given if one <= wanted), min(one for one in given if one >= wanted)
        why, advice = f"its settings jump from {low:.4g} A to {high:.4g} A", "leave --current out"
    return QuestionError(
        f"no setting of this supply gives {wanted:g} A, even plugged in directly: {why}", place="current", advice=advice
    )


def _numbers(asked: Question, own: Setting, reference: Setting) -> dict[str, Number]:
    """The scenario's own lead at the setting, and the longest leads."""
    numbers = {
        "wanted.output.current": Number(asked.wanted, "A"),
        "wanted.output.voltage": Number(reference.voltage, "V"),
        "wanted.dial": Number(math.nan if asked.dial is None else asked.dial, "1"),
        f"output.current.{own.kind}": Number(own.current, "A"),
        f"output.voltage.{own.kind}": Number(own.voltage, "V"),
        "primary.current.rms": Number(own.primary, "A"),
        "plug.voltage.rms": Number(own["plug.voltage.rms"], "V"),
    }
    lead = asked.scenario.supply_lead
    if lead is not None:
        ohms = supply_lead_resistance(lead)
        numbers |= {
            "supply_lead.resistance": Number(ohms, "ohm"),
            "supply_lead.voltage_drop.rms": Number(ohms * own.primary, "V"),
            "supply_lead.heat": Number(ohms * own.primary**2, "W"),
            "lead.dial_needed": Number(_or_nan(_dial_needed(asked, ohms, lead.length or 0.0)), "1"),
        }
        if lead.length:
            numbers["supply_lead.heat_per_length"] = Number(ohms * own.primary**2 / lead.length, "W/m")
        if lead.section and lead.conductor == "copper":
            settled = own_temperature(own.primary, duty=asked.duty, section=lead.section, coiled=lead.coiled)
            numbers["supply_lead.temperature"] = Number(known_temperature(settled), "degC")
    for section in asked.sections:
        for state in STATES:
            name = f"lead.section_{written_section(section).replace('.', '_')}.{state}"
            numbers[f"{name}.window"] = Number(asked.window(section, state), "m")
            if asked.dial is not None:
                numbers[f"{name}.reach"] = Number(asked.reach(section, state), "m")
    return numbers


def _dial_needed(asked: Question, ohms: float, length: float) -> float | None:
    return asked.map.dial_for(asked.wanted, ohms, length=length) if asked.dial is not None else None


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value


def _lead_rows(asked: Question) -> list[dict]:
    """One row for each length, section and state."""
    rows = []
    for section in asked.sections:
        for state in STATES:
            for length in np.linspace(0.0, asked.longest, STEPS + 1):
                rows.append(_lead_row(asked, float(length), section, state))
    return rows


def _lead_row(asked: Question, length: float, section: float, state: str) -> dict:
    """One lead under the setting."""
    ohms, field = asked.ohms(length, section, state), asked.map
    primary = field.drawn(ohms, length)
    lost = None if not asked.by_volts else field.volts_lost(asked.wanted, ohms, length=length)
    return {
        "kind": "lead",
        "length": length,
        "section": section,
        "state": state,
        "resistance": ohms,
        "output_current": field.output(ohms, length),
        "output_voltage": field.figure(field.voltage, ohms),
        "volts_lost": lost,
        "dial_needed": _dial_needed(asked, ohms, length),
        "in_window": asked.in_window(ohms, length),
        "primary_rms": primary,
        "plug_voltage": field.figure(field.plug, ohms),
        "heat": ohms * primary**2,
        "heat_per_length": asked.ohms(1.0, section, state) * primary**2,
    }


def _longest_rows(asked: Question) -> list[dict]:
    """The longest leads of each section and state, and where their cores settle at full current."""
    rows = []
    for section in asked.sections:
        for state, (_, layers) in STATES.items():
            row: dict = {"kind": "longest", "section": section, "state": state, "window": asked.window(section, state)}
            if asked.dial is not None:
                low, middle, high = (asked.reach(section, state, at) for at in range(3))
                row |= {"reach": middle, "reach_mains_low": low, "reach_mains_high": high}
            primary = float(asked.map.primary[1, 0])
            if asked.conductor == "copper":
                settled = own_temperature(primary, duty=asked.duty, section=section, coiled=layers > 0)
                row |= {"temperature": written_temperature(settled), "cover": cover_at(settled)}
            rows.append(row)
    return rows


def _lead_verdict(asked: Question, own: Sequence[Setting]) -> Verdict:
    """What the scenario's own lead does to the setting."""
    lead, wanted = asked.scenario.supply_lead, asked.wanted
    setting = "the same setting" if asked.dial is None else f"dial {100.0 * asked.dial:.0f} %"
    if lead is None:
        return Verdict(
            "lead",
            "good",
            f"No lead: plugged in directly {setting} gives {spread([one.current for one in own], 'A')}.",
        )
    ohms, length = supply_lead_resistance(lead), lead.length or 0.0
    size = f"{lead.length:g} m of {written_section(lead.section)} mm2, " if lead.length and lead.section else ""
    needed, kept = _dial_needed(asked, ohms, length), asked.in_window(ohms, length)
    text = (
        f"On its lead ({size}{ohms:.3g} ohm both cores) {setting} gives {spread([one.current for one in own], 'A')}, "
        f"against {wanted:.4g} A plugged in directly: {ohms * own[1].primary:.3g} V rms stay in the lead, and more at "
        f"the crest of the current{', where the bank charges' if asked.scenario.bank is not None else ''}."
    )
    if asked.by_volts:
        lost = asked.map.volts_lost(wanted, ohms, length=length)
        text += (
            f" At the same {wanted:.4g} A, which an unchanged wire feed asks for, {max(lost, 0.0):.2g} V are missing; "
            f"the good window is some {WINDOW:g} V wide."
        )
    else:
        left = 100.0 * asked.map.output(ohms, length) / wanted
        text += f" {left:.0f} % of the current is left; the good window ends at {100.0 * KEPT:.0f} %."
    if kept:
        return Verdict("lead", "good", text + " It stays within it.")
    if asked.dial is None:
        return Verdict("lead", "fault", text + " It leaves it.")
    if needed is None:
        most = asked.map.most(ohms, length)
        return Verdict(
            "lead", "fault", f"{text} It leaves it, and no dial brings it back: {most:.4g} A is the most there."
        )
    return Verdict("lead", "note", f"{text} It leaves it; dial {100.0 * needed:.0f} % brings it back.")


def _longest_verdicts(asked: Question) -> list[Verdict]:
    """The longest leads of every section in one sentence each."""
    windows = "; ".join(
        f"{written_section(one)} mm2: "
        + ", ".join(f"{asked.metres(asked.window(one, at), one, at)} {at}" for at in STATES)
        for one in asked.sections
    )
    what = "the volts fall by less than 1 V" if asked.by_volts else "the current stays above 90 %"
    untouched = "As it stands" if asked.scenario.phase_control is None else "Without touching the dial"
    verdicts = [
        Verdict(
            "window",
            "note",
            f"{untouched} {what} up to: {windows}. Cause: the current has a crest of {asked.crest:.1f} times "
            "its rms, and the lead takes its share just there.",
        )
    ]
    if asked.dial is None:
        return verdicts
    told = []
    for one in asked.sections:
        low, middle, high = (asked.metres(asked.reach(one, "cold", at), one, "cold") for at in range(3))
        told.append(
            f"{written_section(one)} mm2: {middle} (mains -10 %: {low}, +10 %: {high}), coiled "
            f"{asked.metres(asked.reach(one, 'coiled'), one, 'coiled')}"
        )
    verdicts.append(
        Verdict("reach", "note", f"With the dial turned up {asked.wanted:.4g} A can be had up to: {'; '.join(told)}.")
    )
    return verdicts


def _assumptions(asked: Question) -> list[str]:
    """What every figure stands on."""
    states = ", ".join(f"{name} {temperature:g} degC" for name, (temperature, _) in STATES.items())
    return [
        f"Load: {told_load(asked.scenario)}; settled, means behind a rectifier, windings at the scenario's "
        "temperature.",
        f"Cores at: {states} (coiled: on a drum of {STATES['coiled'][1]} layers; temperatures common practice); "
        f"{1e6 * LEAD_INDUCTANCE_PER_LENGTH:g} uH per metre of pair (common practice).",
        f"Good window: the volts at the wanted amps may fall by {0.5 * WINDOW:g} V, half of the {WINDOW:g} V that are "
        "usable at a given feed (from memory: a tuning guide); amps are held by the wire feed. On other loads, stick "
        "and TIG among them: 90 % of the current.",
        "Leads between those simulated by a curve through them: outputs within 0.1 %, dials within 1 %. Settings that "
        "misfire on any lead are left out.",
        "Warmth: a table of flexible leads in air of 30 degC and the factor for a drum (both from memory, 85 %); "
        f"hottest, at the end of each weld of {100.0 * asked.duty:.0f} % of ten minutes, with time constants of "
        f"{LEAD_TIME / 60.0:g} min laid out and {DRUM_TIME / 60.0:g} min on a drum (derived from common leads, 40 %).",
        "Spread: mains -10, 0 and +10 %, same setting; for the reach any dial.",
        *told_backlash(asked.scenario),
    ]
