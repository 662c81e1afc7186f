"""Findings across tables, made without simulating: does what was written down fit together and stay within ratings?

Each finding has a level (good, note, fault), a number, and says what was assumed.  All are figures at no load or rough
estimates on the safe side; what happens in the arc is for the simulation.
"""

import math
from collections.abc import Callable, Iterator

from weldsim.parts.cable import cable_resistance
from weldsim.parts.capacitors import Bank, bleed_time, stored_energy
from weldsim.parts.rectifier import reverse_voltage
from weldsim.parts.varistor import voltage_at
from weldsim.scenario.checks_of_firing import FIRING_QUESTIONS
from weldsim.scenario.checks_of_iron import IRON_QUESTIONS
from weldsim.scenario.document import TABLES, Scenario, given_fields
from weldsim.scenario.finding import (
    FAULT,
    GOOD,
    NOTE,
    Finding,
    boost_reaches_bank,
    highest,
    mains_word,
    no_load,
    shown,
)
from weldsim.scenario.idle import idle_values
from weldsim.scenario.left_out import left_out

DC_LIMIT, AC_PEAK_LIMIT = (
    113.0,
    113.0,
)  # [V] IEC 60974-1, no-load peak (dc: makers' manuals; ac: from memory, 95 %)
# Section of a copper core [m2] and the largest breaker in front of it [A] (common practice, no published source).
_SECTIONS, _BREAKERS = (0.75e-6, 1e-6, 1.5e-6, 2.5e-6, 4e-6, 6e-6, 10e-6), (6.0, 10.0, 16.0, 25.0, 32.0, 40.0, 63.0)
ALTERNATING_BANK = (
    "A bank without a rectifier stands on alternating voltage: electrolytic cans burst there. Add a [rectifier] or "
    "leave the bank out."
)
HARMLESS = 10.0  # [V] at which a bank may be worked on (common practice)
SAFE_VOLTAGE, SAFE_TIME = 60.0, 5.0  # [V, s] IEC 60204-1, residual voltage and the time allowed to reach it
HARMLESS_ENERGY = 20.0  # [J] above it a tool across the bank melts: hazardous energy of IEC 60950-1 (from memory)
LID_TIME = 60.0  # [s] in which a lid is opened (common practice, no published source)
DIODE_MARGIN = 2.0  # rating over what it sees (common practice, no published source)
SWITCH_MARGIN = 1.5  # likewise for a triac or thyristor on the mains
VARISTOR_SPREAD = 0.10  # of the voltage at 1 mA from disc to disc (common practice, no published source)
SURGE_CURRENT = 50.0  # [A] at which discs of 14 mm are usually told to clamp (from memory)
LEAST_INDUCTANCE = 1e-9  # [H] of about a millimetre of straight wire
WELDING_CURRENT = 100.0  # [A] at which the volts of an arc are looked at
LEAST_ARC = 10.0  # [V] between electrodes of steel: what their two ends take alone (common practice)


def findings(scenario: Scenario) -> list[Finding]:
    """Every finding, faults first."""
    found = [finding for question in QUESTIONS for finding in question(scenario)]
    return sorted(found, key=lambda finding: (FAULT, NOTE, GOOD).index(finding.level))


def _bank_voltage(scenario: Scenario) -> Iterator[Finding]:
    """Rating of the bank against its no-load voltage at the highest mains."""
    if scenario.bank is None:
        return
    if scenario.rectifier is None:
        yield Finding(
            "bank.rectifier",
            FAULT,
            ALTERNATING_BANK,
        )
        return
    peak, rating = highest(scenario).bank, scenario.bank.rated_voltage
    by = ", lifted by the boost" if boost_reaches_bank(scenario) else ""
    reaches = f"The bank reaches {shown(peak, 'voltage')} at no load and {mains_word(scenario)}{by}"
    rated = "no rated_voltage is given" if rating is None else f"it is rated {shown(rating, 'voltage')}"
    yield Finding(
        "bank.rated_voltage",
        NOTE if rating is None else FAULT if peak > rating else GOOD,
        f"{reaches}; {rated}. Assumed: settled, dial at its most; the first charge of an empty bank may overshoot, as "
        "preview tells.",
        peak,
        "V",
    )


def _bleed(scenario: Scenario) -> Iterator[Finding]:
    """Time until the bank is down to the voltage that counts as safe, and the energy in it."""
    if scenario.bank is None:
        return
    bank, peak = scenario.bank, highest(scenario).bank
    energy = f"{shown(stored_energy(bank.capacitance, peak), 'energy')} at {shown(peak, 'voltage')}"
    if bank.bleed_resistance is None:
        level = FAULT if peak > SAFE_VOLTAGE else NOTE
        yield Finding(
            "bank.bleed_time",
            level,
            f"The bank has no bleed resistor: {energy} stay in it. Measure before touching.{_bleed_needed(scenario)}",
            None,
            "s",
        )
        return
    time = bleed_time(bank.capacitance, bank.bleed_resistance, start=peak, end=SAFE_VOLTAGE)
    reached = f"needs {shown(time, 'time')} down to" if time else "never exceeds"
    touch = bleed_time(bank.capacitance, bank.bleed_resistance, start=peak, end=HARMLESS)
    left = f" and is below {HARMLESS:g} V after {shown(touch, 'time')}" if touch else ""
    heat = shown(no_load(scenario, factor=1.0).bank ** 2 / bank.bleed_resistance, "power")
    slow = _slow_to_lose_its_energy(bank, peak)
    yield Finding(
        "bank.bleed_time",
        FAULT if time > SAFE_TIME else NOTE if slow else GOOD,
        f"The bank ({energy}) {reached} {SAFE_VOLTAGE:g} V (IEC 60204-1 allows {SAFE_TIME:g} s){left}. The bleed "
        f"resistor turns {heat} into heat at no load.{_bleed_needed(scenario) if time > SAFE_TIME else slow} "
        "Never short a bank; measure, then touch.",
        time,
        "s",
    )


def _slow_to_lose_its_energy(bank: Bank, peak: float) -> str:
    """That who opens the lid meets energy that melts a tool, and the resistor that ends it sooner; or nothing."""
    least = math.sqrt(2.0 * HARMLESS_ENERGY / bank.capacitance)
    if bank.bleed_resistance is None or peak <= least:
        return ""
    time = bleed_time(bank.capacitance, bank.bleed_resistance, start=peak, end=least)
    if time <= LID_TIME:
        return ""
    most = LID_TIME / bleed_time(bank.capacitance, 1.0, start=peak, end=least)
    return (
        f" For {shown(time, 'time')} it holds more than {HARMLESS_ENERGY:g} J, which melt a ring or a tool laid across "
        f"it (IEC 60950-1, from memory): a lid is open sooner. One of {shown(most, 'resistance')} or less takes "
        f"{LID_TIME:g} s, and turns {shown(peak**2 / most, 'power')} and more into heat."
    )


def _bleed_needed(scenario: Scenario) -> str:
    """Which bleed resistor brings the bank to the safe voltage in the time allowed, and its heat; nothing below it."""
    bank, peak = scenario.bank, highest(scenario).bank
    if bank is None or peak <= SAFE_VOLTAGE:
        return ""
    most = SAFE_TIME / bleed_time(bank.capacitance, 1.0, start=peak, end=SAFE_VOLTAGE)
    heat = shown(peak**2 / most, "power")
    return f" One of {shown(most, 'resistance')} or less does, and turns {heat} and more into heat at that voltage."


def _diodes(scenario: Scenario) -> Iterator[Finding]:
    """Reverse ratings of the main bridge, the boost's bridge and the blocking diode."""
    at_most = highest(scenario)
    if scenario.rectifier is not None:
        reverse = reverse_voltage(scenario.rectifier, at_most.secondary_crest, bank=at_most.bank)
        yield _reverse("rectifier.rated_voltage", "A diode of the rectifier", reverse, scenario.rectifier.rated_voltage)
    if scenario.boost is not None and at_most.boosted is not None:
        reverse = at_most.boosted + scenario.boost.threshold
        yield _reverse("boost.rated_voltage", "A diode of the boost bridge", reverse, scenario.boost.rated_voltage)
        if scenario.boost.blocking_diode:
            yield _reverse(
                "boost.blocking_rated_voltage",
                "The blocking diode",
                at_most.boosted,
                scenario.boost.blocking_rated_voltage,
            )


def _reverse(name: str, who: str, reverse: float, rating: float | None) -> Finding:
    """One diode's rating against what it sees."""
    sees = f"{who} holds {shown(reverse, 'voltage')} at the highest mains"
    if rating is None:
        return Finding(name, NOTE, f"{sees}; no rated_voltage is given.", reverse, "V")
    level = FAULT if reverse > rating else NOTE if DIODE_MARGIN * reverse > rating else GOOD
    return Finding(
        name,
        level,
        f"{sees}; it is rated {shown(rating, 'voltage')}. Ringing at turn-off is not counted: "
        "twice the figure is common practice.",
        reverse,
        "V",
    )


def _switch(scenario: Scenario) -> Iterator[Finding]:
    """Voltage rating of the triac or thyristors against the crest of the mains."""
    control = scenario.phase_control
    if control is None:
        return
    crest = highest(scenario).mains_crest
    sees = f"The {control.device} blocks {shown(crest, 'voltage')} at {mains_word(scenario)}"
    if control.rated_voltage is None:
        yield Finding("phase_control.rated_voltage", NOTE, f"{sees}; no rated_voltage is given.", crest, "V")
        return
    rated = control.rated_voltage
    level = FAULT if crest > rated else NOTE if SWITCH_MARGIN * crest > rated else GOOD
    yield Finding(
        "phase_control.rated_voltage",
        level,
        f"{sees}; it is rated {shown(rated, 'voltage')}. Surges of the mains are not counted: half as much "
        "again, or a varistor, is common practice.",
        crest,
        "V",
    )


def _varistor(scenario: Scenario) -> Iterator[Finding]:
    """Clamp voltage of the varistor against the crest of the mains, and what it then lets through."""
    varistor = scenario.varistor
    if varistor is None:
        return
    crest, clamp = highest(scenario).mains_crest, varistor.clamp_voltage
    through = f"at {SURGE_CURRENT:g} A it lets {shown(voltage_at(varistor, SURGE_CURRENT), 'voltage')} through"
    told = f"The varistor clamps at {shown(clamp, 'voltage')}; the mains peaks at {shown(crest, 'voltage')} at "
    told += f"{mains_word(scenario)}; {through}. "
    if clamp < crest:
        told += "It conducts in every half cycle, and burns: choose a higher clamp voltage."
    elif (1.0 - VARISTOR_SPREAD) * clamp < crest:
        told += f"One at the low end of the usual +-{100 * VARISTOR_SPREAD:g} % conducts there and ages: choose higher."
    else:
        told += (
            f"It stays idle even at the low end of the usual +-{100 * VARISTOR_SPREAD:g} %. It guards what lies behind "
            "the phase control; the switch itself meets crest and clamp voltage together."
        )
    level = FAULT if clamp < crest else NOTE if (1.0 - VARISTOR_SPREAD) * clamp < crest else GOOD
    yield Finding("varistor.clamp_voltage", level, told, clamp, "V")


def _open_circuit(scenario: Scenario) -> Iterator[Finding]:
    """Open-circuit voltage against the limits of the welding standard."""
    if scenario.transformer is None:
        if scenario.readings is None or scenario.load is not None:  # else there is no circuit yet
            text = "There is no transformer: all of this circuit is live mains, for study only"
            text += "; no electrode may ever hang on it."
            yield Finding("output.open_circuit", NOTE, text)
        return
    peak = highest(scenario).output
    direct = scenario.rectifier is not None
    limit, sort = (DC_LIMIT, "dc") if direct else (AC_PEAK_LIMIT, "ac")
    rest = "A failed diode turns it into ac, with lower limits." if direct else "Wet or cramped places: 68 V, 48 V rms."
    yield Finding(
        "output.open_circuit",
        FAULT if peak > limit else GOOD,
        f"Open-circuit voltage peaks at {shown(peak, 'voltage')} {sort} at {mains_word(scenario)}; IEC "
        f"60974-1 allows {limit:g} V peak (as makers' manuals say). {rest} Local codes decide.",
        peak,
        "V",
    )


def _reach(scenario: Scenario) -> Iterator[Finding]:
    """Whether the supply can get above the voltage of its load at all."""
    load = scenario.load
    needs = (
        {"battery": load.voltage, "arc line": load.voltage or 14.0, "shorted arc": load.voltage or 14.0}.get(load.kind)
        if load is not None
        else None
    )
    if needs is None:
        return
    peak = no_load(scenario, factor=1.0).output
    if peak <= needs:
        yield Finding(
            "load.voltage",
            FAULT,
            f"The load asks for {shown(needs, 'voltage')}, the supply peaks at "
            f"{shown(peak, 'voltage')} with no load: no current will flow.",
            peak,
            "V",
        )


def _breaker(scenario: Scenario) -> Iterator[Finding]:
    """Whether something protects the cable, and the supply lead with it."""
    breaker, lead = scenario.breaker, scenario.supply_lead
    if breaker is None:
        yield Finding("breaker.present", NOTE, "No breaker is given: what trips cannot be told.")
        return
    name = f"{'Fuse' if breaker.curve == 'gG' else 'Breaker'} {breaker.curve} {shown(breaker.current, 'current')}"
    usual = None
    if lead is not None and lead.section is not None:
        copper, own = (cable_resistance(1.0, 1.0, conductor=metal) for metal in ("copper", lead.conductor))
        usual = usual_breaker(lead.section * copper / own)
    if usual is None or breaker.current <= usual:
        yield Finding(
            "breaker.present",
            GOOD,
            f"{name}: it protects the cable; never answer a trip with a larger one.",
            breaker.current,
            "A",
        )
        return
    yield Finding(
        "breaker.present",
        FAULT if breaker.current >= 2.0 * usual else NOTE,
        f"{name}: it does not protect the supply lead, whose section usually stands behind {usual:g} A at most (common "
        "practice): overloaded, the lead heats and nothing opens. A thicker lead, or a smaller breaker or fuse in "
        "front of it; local codes decide. `breaker` tells how warm it gets.",
        breaker.current,
        "A",
    )


def usual_breaker(section: float) -> float | None:
    """The largest breaker that usually stands in front of a copper lead of this section [A]; None beyond the table.

    >>> usual_breaker(1.5e-6), usual_breaker(2.08e-6), usual_breaker(0.5e-6), usual_breaker(25e-6)
    (16.0, 16.0, 6.0, None)
    """
    if section > 1.001 * _SECTIONS[-1]:
        return None
    usual = [amps for least, amps in zip(_SECTIONS, _BREAKERS, strict=True) if least <= 1.001 * section]
    return usual[-1] if usual else _BREAKERS[0]


def _idle_values(scenario: Scenario) -> Iterator[Finding]:
    """Values that were written down but say nothing beside others."""
    for idle in idle_values(scenario):
        yield Finding("idle_value", NOTE, idle.told)


def _tiny_inductances(scenario: Scenario) -> Iterator[Finding]:
    """Inductances so small that they say nothing, and die away sooner than the simulation's quantum of time."""
    for table in TABLES:
        part = getattr(scenario, table)
        for name, value in given_fields(part).items() if part is not None else ():
            if name.endswith("inductance") and isinstance(value, float) and 0.0 < value < LEAST_INDUCTANCE:
                yield Finding(
                    "tiny_inductance",
                    NOTE,
                    f"{table}.{name}: {shown(value, 'inductance')} is that of less than a millimetre of wire; beside a "
                    "blocked device it only costs digits. Write 0 H, or leave it out.",
                    value,
                    "H",
                )


def _mayr_alone(scenario: Scenario) -> Iterator[Finding]:
    """An arc that only loses a fixed heat takes the fewer volts the more it carries."""
    if scenario.wire is None or scenario.wire.arc_memory != "Mayr":
        return
    volts = scenario.wire.arc_power / WELDING_CURRENT
    if volts < LEAST_ARC:
        yield Finding(
            "mayr_voltage",
            NOTE,
            f"wire.arc_power: a Mayr arc that loses {shown(scenario.wire.arc_power, 'power')} takes "
            f"{shown(volts, 'voltage')} at {shown(WELDING_CURRENT, 'current')}, which no welding arc does. Some 2 kW "
            "give 20 V there; 'Cassie and Mayr' has its volts at high current from Cassie, and this heat near zero.",
            volts,
            "V",
        )


QUESTIONS: tuple[Callable[[Scenario], Iterator[Finding]], ...] = (
    *IRON_QUESTIONS,
    _bank_voltage,
    _bleed,
    _diodes,
    _switch,
    _varistor,
    *FIRING_QUESTIONS,
    _open_circuit,
    _reach,
    _breaker,
    _idle_values,
    left_out,
    _tiny_inductances,
    _mayr_alone,
)
