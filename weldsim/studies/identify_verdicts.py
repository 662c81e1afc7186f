"""What readings of a transformer say of it, in words: is it sound, how sure are its values, what no reading tells."""

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from weldsim.parts.choke import GIVEN_WAY
from weldsim.parts.flux import flux_density_at, remanent_flux_linkage
from weldsim.parts.identified import AIR, SATURATED, WANDER, WORKING, Identified
from weldsim.parts.readings import Readings
from weldsim.parts.transformer import flux_density
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import transformers
from weldsim.studies.answer import Verdict, amount, counted, percent
from weldsim.studies.identify_values import (
    Bench,
    Found,
    choke_curve,
    mains_resistance,
    resistance_at_the_secondary,
    rows_of_bank,
    rows_of_socket,
)

Ranges = Mapping[str, tuple[float, float]]  # key of a value -> least and most
Deviations = Mapping[tuple[str, float, str], float]  # (test, volts, quantity) -> given over read, less 1

MISSED = 0.02  # of a reading, beyond its instrument's doubt, that is told as not met
SKIN = 1.15  # times the resistance by direct current: what thick wire and the strap may add (common practice)
LOSSY = 8.0  # [W/kg] at 1.5 T, 50 Hz: more than old hot-rolled sheet takes (common practice)
STRONG = 1.7  # [T] at mains voltage: in the knee of any steel (common practice)
BENT, EARLY = 0.1, 1.1  # of its largest slope that a core has left where it has bent; [T] (common practice)
FULL = 0.8  # of the mains voltage, from which on watts without load are judged
FEW = 3  # readings without load, below which a bend cannot be seen
ENOUGH = 1.1  # times the mains voltage, up to which readings should go: its tolerance
UNSURE = 2.0  # most over least of a value that is told as hardly known
RULE = (0.8, 1.25)  # section [cm2] over the root of VA (common practice)


def verdicts_of(made: Scenario, bench: Bench, *, found: Sequence[Found], off: Deviations) -> list[Verdict]:
    """All of them, on the scenario made of the values; the worst first is for the page."""
    ranges = {one.quantity.key: (one.low, one.high) for one in found}
    verdicts = [] if bench.transformer is None else _of_transformer(made, bench.transformer, ranges=ranges, off=off)
    if made.bank is not None and made.rectifier is None:
        text = "A bank was read and the file has no [rectifier]: add one before `preview` and the others are asked."
        verdicts.append(Verdict("rectifier", "note", text))
    return [*verdicts, *_choke(bench.readings), *_bank(bench.readings), *_socket(bench.readings, ranges)]


def _of_transformer(scenario: Scenario, found: Identified, *, ranges: Ranges, off: Deviations) -> list[Verdict]:
    """What the readings of the transformer say."""
    readings = scenario.readings
    assert readings is not None
    return [
        _met(readings, off, mains=scenario.mains.voltage),
        *_copper(readings, found),
        *_leakage(readings, found, ranges),
        *_knee(scenario, readings, found),
        *_density(scenario, readings, found),
        *_loss(scenario, readings, found),
        *_rating(readings),
        *_remanence(scenario, found),
    ]


def _doubt(readings: Readings, quantity: str) -> float:
    return {"power": readings.power_doubt, "current": readings.current_doubt}.get(quantity, readings.voltage_doubt)


def _met(readings: Readings, off: Deviations, *, mains: float) -> Verdict:
    """Whether the values give the readings back; not the watts at low volts, which friction of one width misses."""
    every = len(off)
    off = {
        where: value for where, value in off.items() if where[::2] != ("no load", "power") or where[1] > FULL * mains
    }
    missed = {where: value for where, value in off.items() if abs(value) > _doubt(readings, where[2]) + MISSED}
    aside = f", but for watts without load below {amount(FULL * mains, 'V')}" if len(off) < every else ""
    if not off or not missed:
        worst = max(map(abs, off.values()), default=0.0)
        text = f"Put into the simulation, the values give every reading back within {percent(worst)}{aside}."
        return Verdict("readings_met", "good", text)
    most = {
        name: max((one for one in missed if one[2] == name), key=lambda one: abs(missed[one])) for *_, name in missed
    }
    told = "; ".join(
        f"{name} {test} at {amount(volts, 'V')}: they give {percent(abs(missed[test, volts, name]))} "
        f"{'more' if missed[test, volts, name] > 0.0 else 'less'} ({_WHY[name]})"
        for test, volts, name in sorted(most.values(), key=lambda one: -abs(missed[one]))
    )
    return Verdict(
        "readings_met",
        "note",
        f"The values miss {len(missed)} of {len(off)} readings by more than their doubt{aside}, at most: {told}. Read "
        "them again, or take the values as that rough.",
    )


_WHY = {
    "power": "friction of one width and a resistor lose a little less at full flux than iron does",
    "current": "one curve, one resistor and friction cannot follow all readings; at low volts another eddy_share may",
    "secondary voltage": "the readings of the secondary do not agree with one ratio",
    "test voltage": "the readings of the test turns do not agree with one number of turns",
}


def _copper(readings: Readings, found: Identified) -> list[Verdict]:
    """Resistance of the short circuit against direct current."""
    if found.winding is None or all(row.power is None for row in readings.short_circuit or ()):
        return []
    play = readings.power_doubt + 2.0 * readings.current_doubt
    if found.direct is None:
        return _one_side(readings, found, play=play)
    ratio = found.winding.resistance / found.direct
    told = (
        f"In the short circuit both windings take {amount(found.winding.resistance, 'ohm')}, seen from the primary, "
        f"{ratio:.2f} times what direct current shows"
    )
    if ratio < 1.0 - play - readings.resistance_doubt:
        text = f"{told}: less than nothing but copper can be. A reading, the ratio or the temperature is wrong."
        return [Verdict("copper", "fault", text)]
    if ratio > SKIN + play:
        text = (
            f"{told}: more than thick wire explains. A bad joint, a thin strap across the secondary, or parallel "
            "strands of unlike length do that; look before you trust the values."
        )
        return [Verdict("copper", "note", text)]
    return [Verdict("copper", "good", f"{told}, as wire of this size does.")]


def _one_side(readings: Readings, found: Identified, *, play: float) -> list[Verdict]:
    """One winding alone by direct current against both in the short circuit."""
    assert found.winding is not None
    both, first = found.winding.resistance, readings.primary_resistance
    side, alone = ("primary", first) if first is not None else ("secondary", readings.secondary_resistance)
    if alone is None:
        return []
    alone *= 1.0 if side == "primary" else found.ratio**2
    if alone * (1.0 - play - readings.resistance_doubt) <= both:
        return []
    text = (
        f"By direct current the {side} alone has {amount(alone, 'ohm')}, seen from the primary, but in the short "
        f"circuit both windings take {amount(both, 'ohm')}: a reading, the ratio or the temperature is wrong."
    )
    return [Verdict("copper", "fault", text)]


def _leakage(readings: Readings, found: Identified, ranges: Ranges) -> list[Verdict]:
    """What it costs under load, and how well the leakage is known."""
    key = "short_circuit.inductance"
    if found.winding is None or found.primary_leakage is None or key not in ranges:
        text = (
            "No short circuit was read: leakage, which holds the short-circuit current down and decides the slope, is "
            "not known. Write transformer.layout for a usual one, or take the reading."
        )
        return [Verdict("leakage", "note", text)]
    low, high = ranges[key]
    if not high > 0.0:
        watts = any(row.power is not None for row in readings.short_circuit or ())
        text = (
            f"The resistance told by {'the watts' if watts else 'direct current'} is more than the whole impedance of "
            "the short circuit, volts over amperes, by more than all doubts together: one of these readings, the ratio "
            "or the temperature is wrong. The leakage counts as nothing; take them again before you trust the values."
        )
        return [Verdict("leakage", "fault", text)]
    resistance = resistance_at_the_secondary(found) or 0.0
    inductance = math.sqrt(max(found.leakage_squared, 0.0)) / found.ratio**2
    told = (
        f"At the secondary it is a source behind {amount(1e3 * resistance, 'mohm')} and "
        f"{amount(1e6 * inductance, 'uH')} ({amount(1e6 * low, 'uH')} to {amount(1e6 * high, 'uH')})"
    )
    if high > UNSURE * low:
        text = (
            f"{told}: resistance makes up most of the impedance, and the leakage is what is left, hardly known. Sweep "
            "it over this range before you rely on what depends on it."
        )
        return [Verdict("leakage", "note", text)]
    return [Verdict("leakage", "good", f"{told}: {amount(100.0 * resistance, 'V')} of copper for every 100 A.")]


def _knee(scenario: Scenario, readings: Readings, found: Identified) -> list[Verdict]:
    """How far the readings reach, and whether the mains drives the core into its bend."""
    rows = readings.no_load or ()
    top, volts = rows[-1].voltage, scenario.mains.voltage
    if found.read < FEW:
        text = (
            f"{counted(found.read, 'reading')} without load cannot show a bend: the core counts as straight up to "
            f"{amount(top, 'V')}. Take {FEW + 2} from a third of the mains voltage to a tenth above it."
        )
        return [Verdict("knee", "note" if top >= 0.99 * volts else "fault", text)]
    if top < 0.99 * volts:
        text = (
            f"The readings end at {amount(top, 'V')}, below the mains of {amount(volts, 'V')}: what the core does "
            "there is assumed. Read it at mains voltage, and a tenth above if the source gives it."
        )
        return [Verdict("knee", "fault", text)]
    if top < 0.99 * ENOUGH * volts:
        text = (
            f"The readings end at {amount(top, 'V')}: at mains +10 % ({amount(ENOUGH * volts, 'V')}) the core is "
            "assumed, and so are the peaks of inrush. Beside switch-on the values do not depend on it."
        )
        return [Verdict("knee", "note", text)]
    text = f"The readings reach {amount(top, 'V')}, beyond mains +10 %; where the core is saturated through is assumed."
    return [Verdict("knee", "good", text)]


def _density(scenario: Scenario, readings: Readings, found: Identified) -> list[Verdict]:
    """Flux density at mains voltage, where turns and section are known."""
    if found.primary_turns is None or readings.section is None:
        return []
    turns, section = found.primary_turns, readings.section
    tesla = flux_density(scenario.mains.voltage, frequency=scenario.mains.frequency, turns=turns, section=section)
    told = f"At {amount(scenario.mains.voltage, 'V')} the iron works at {amount(tesla, 'T')}"
    bent = _bent_at(scenario, readings) / (turns * section)
    if bent < EARLY:
        text = (
            f"{told}, but by its current it bends at {amount(bent, 'T')} already, where no steel of transformers does "
            "(1.5 T and more): section, turns or test volts are wrong, and from the section follows where it "
            "saturates, so that `inrush` comes out too small. Measure the iron that the winding encloses, one limb of "
            "it, and count the test turns again."
        )
        return [Verdict("flux_density", "fault", text)]
    if tesla > STRONG:
        text = f"{told}, in the bend of any steel: it hums, idles with much current and has no room for high mains."
        return [Verdict("flux_density", "note", text)]
    return [Verdict("flux_density", "good", f"{told}; steel of transformers bends from 1.5 to {STRONG} T on.")]


def _bent_at(scenario: Scenario, readings: Readings) -> float:
    """Flux linkage [V s] of the last reading, if the core has lost nearly all its inductance there; else infinite."""
    core, top = scenario.core, readings.no_load[-1].voltage if readings.no_load else 0.0
    reached = math.sqrt(2.0) * top / (2.0 * math.pi * scenario.mains.frequency)
    rows = (core.magnetising_curve if core is not None else None) or ()
    known = [(row.current, row.flux_linkage) for row in rows if row.current and row.flux_linkage]
    read = [(0.0, 0.0), *(corner for corner in known if corner[1] <= 1.02 * reached)]
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) if b[0] > a[0] else math.inf for a, b in pairwise(read)]
    most = max((one for one in slopes if math.isfinite(one)), default=0.0)
    return read[-1][1] if len(slopes) > 1 and slopes[-1] < BENT * most else math.inf


def _loss(scenario: Scenario, readings: Readings, found: Identified) -> list[Verdict]:
    """Loss per mass, as a sign of a shorted turn."""
    if not found.iron_loss > 0.0:
        text = (
            "No watts were read without load: the core has no loss, and a triac's latching on it comes out too hard. "
            "A plug-in energy meter tells them well enough."
        )
        return [Verdict("loss", "note", text)]
    watts = found.iron_loss
    if readings.mass is None:
        return [Verdict("loss", "good", f"Idle at mains voltage its iron takes some {amount(watts, 'W')}.")]
    each = watts / readings.mass
    told = f"Idle at mains voltage its iron takes some {amount(watts, 'W')}, {amount(each, 'W/kg')}"
    limit, scale = LOSSY, ""
    if found.primary_turns is not None and readings.section is not None:
        tesla = flux_density(
            scenario.mains.voltage,
            frequency=scenario.mains.frequency,
            turns=found.primary_turns,
            section=readings.section,
        )
        limit, scale = LOSSY * (tesla / 1.5) ** 2 * scenario.mains.frequency / 50.0, f" at {amount(tesla, 'T')}"
    if each > limit:
        text = (
            f"{told}: more than the {amount(limit, 'W/kg')} that old sheet may take{scale}. A shorted turn, sheets "
            "that touch or a core too small for these volts: find out before more copper goes on."
        )
        return [Verdict("loss", "note", text)]
    return [Verdict("loss", "good", f"{told}, below the {amount(limit, 'W/kg')} of old sheet{scale}: no shorted turn.")]


def _rating(readings: Readings) -> list[Verdict]:
    """What the old rule of the section says of its size."""
    if readings.section is None:
        return []
    least, most = ((1e4 * readings.section / factor) ** 2 for factor in reversed(RULE))
    text = (
        f"By its iron of {amount(1e4 * readings.section, 'cm2')} it is one of {amount(least, 'VA', digits=2)} to "
        f"{amount(most, 'VA', digits=2)} for ever (section = {RULE[0]} to {RULE[1]} times the root of VA, a rule of "
        "the trade); the copper decides: ask `duty` with the set around it."
    )
    return [Verdict("rating", "good", text)]


def _choke(readings: Readings) -> list[Verdict]:
    """How much of the choke is left at the largest current read."""
    curve = choke_curve(readings)
    if not curve:
        return []
    (low, at_rest), (high, left) = curve[0], curve[-1]
    if len(curve) < 2:
        text = f"One reading of the choke, {amount(1e3 * at_rest, 'mH')} at {amount(low, 'A')}: take more, up to twice "
        return [Verdict("choke", "note", text + "the welding current, since what counts is what is left in a short.")]
    told = f"Of the choke's {amount(1e3 * at_rest, 'mH')} at {amount(low, 'A')} {amount(1e3 * left, 'mH')} are left at "
    level = "note" if left < GIVEN_WAY * at_rest else "good"
    return [Verdict("choke", level, f"{told}{amount(high, 'A')}; beyond, the last of them goes on.")]


def _bank(readings: Readings) -> list[Verdict]:
    """Whether its readings agree with one capacitance and one resistance."""
    capacitances, resistances = rows_of_bank(readings)
    play = 1.0 + 2.0 * (readings.voltage_doubt + readings.current_doubt)
    for told, unit in ((capacitances, "mF"), (resistances, "mohm")):
        if told and max(told) > play * min(told):
            text = (
                f"The readings of the bank tell {amount(1e3 * min(told), unit)} to {amount(1e3 * max(told), unit)}, "
                "more than their doubts explain; the middle counts. Take them again, with a current that is steady."
            )
            return [Verdict("bank", "note", text)]
    return []


def _socket(readings: Readings, ranges: Ranges) -> list[Verdict]:
    """What the mains up to the socket cost, and how well that is known."""
    loop = mains_resistance(readings)
    if loop is None:
        return []
    low, high = ranges["mains.resistance"]
    told = (
        f"The mains up to the socket have {amount(loop, 'ohm')} ({amount(low, 'ohm')} to {amount(high, 'ohm')}): 16 A "
        f"cost {amount(16.0 * loop, 'V')}"
    )
    each = rows_of_socket(readings)
    if max(each) - min(each) > 2.0 * (high - low):
        text = (
            f"{told}, but its readings tell {amount(min(each), 'ohm')} to {amount(max(each), 'ohm')}: take them again."
        )
        return [Verdict("socket", "note", text)]
    if high > UNSURE * low:
        text = f"{told}. The fall is hardly more than what the mains wander: take a larger heater, and take turns."
        return [Verdict("socket", "note", text)]
    text = f"{told}. A heater does not show the loop's inductance: 0.25 ohm of reactance beside 0.4 ohm are usual."
    return [Verdict("socket", "good", text)]


def _remanence(made: Scenario, found: Identified) -> list[Verdict]:
    """What stays in the core when it is switched off shows in none of these readings."""
    assert made.core is not None
    if made.readings is not None and made.readings.switch_on:
        return []
    if not found.frictions:
        cause = "No loss was read" if made.core.loss_resistance is None else "All loss goes with the volts (eddy_share)"
        return [Verdict("remanence", "note", f"{cause}: the core keeps no flux; `inrush` tells what if it did.")]
    turns = primary_turns(made)
    left, tesla = remanent_flux_linkage(made.core, turns), ""
    if made.core.section is not None:
        tesla = f" ({amount(flux_density_at(made.core, left, primary_turns=turns), 'T', digits=2)})"
    text = (
        "What flux stays in the core after switch-off shows in none of these readings. With the loss split as assumed "
        f"it keeps up to {amount(left, 'V.s')}{tesla}{_second_keeps(made)}; a ring without a joint keeps about 1.1 T, "
        "a core with joints much less: give `inrush` a --remanence to see what it does."
    )
    return [Verdict("remanence", "note", text)]


def _second_keeps(made: Scenario) -> str:
    """What the second of two cores keeps, which has from the first what its own tables do not say."""
    both = transformers(made)
    if len(both) < 2 or both[1].core is None:
        return ""
    left = remanent_flux_linkage(both[1].core, both[1].primary_turns)
    return f", and the second core, as far as it is like it, up to {amount(left, 'V.s')}"


def assumptions(bench: Bench) -> list[str]:
    """What the values stand on."""
    readings = bench.readings
    lines = [
        f"Each instrument may be off by its doubt: volts {percent(readings.voltage_doubt)}, amperes "
        f"{percent(readings.current_doubt)}, watts {percent(readings.power_doubt)}, resistances "
        f"{percent(readings.resistance_doubt)}, rises {percent(readings.rise_doubt)}; what each changes is added up as "
        "the root of the sum of squares: if none is off by more, the truth lies between least and most some nine times "
        "in ten. A meter that is good to so much of its range is off by more of a small reading.",
    ]
    if readings.socket is not None:
        lines.append(f"Between two readings of a socket the mains may wander by {WANDER} V.")
    return lines if bench.transformer is None else lines + _assumed_of(bench.transformer, readings)


def _assumed_of(found: Identified, readings: Readings) -> list[str]:
    """What the transformer's values stand on."""
    lines = [
        "Sinusoidal volts; meters that show true rms (without load the current is peaked, and others read too low); "
        f"windings at {readings.winding_temperature:.4g} degC, values at 20 degC.",
        "Leakage shared alike between both sides, in doubt all on one: no reading tells it apart"
        + (
            "."
            if found.direct is not None or readings.short_circuit is None
            else "; resistance likewise, where it was read on neither side, 30 to 70 % of it the primary's."
        ),
        f"Of the iron loss {percent(readings.eddy_share)} goes with the volts (readings.eddy_share) and the rest with "
        "the flux, as friction in the proportions of transformer steel, 25 % of the loss either way: common practice. "
        "Latching of a triac and what stays after switch-off depend on it; at low volts the loss comes out too high.",
        f"Saturated through at {SATURATED} T by section and turns, else at {WORKING} times the flux of mains voltage "
        f"(10 % either way); beyond it the winding as a coil of air by the ruler, else {AIR} times the leakage (a "
        "factor of two either way): common practice.",
    ]
    if math.isinf(found.magnetising_inductance):
        lines.append("The magnetising current is less than the loss current: it counts as nothing.")
    return lines
