"""What a preview says of ratings: breaker, transformer, bank, the current of the switch and of each diode."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from weldsim.parts.capacitors import Bank, ripple_rating
from weldsim.parts.thermistor import RATED_TO, thermistor_settled
from weldsim.scenario.checks import ALTERNATING_BANK
from weldsim.scenario.finding import highest
from weldsim.scenario.pair import OneTransformer, transformers
from weldsim.studies.answer import Verdict, amount, spread
from weldsim.studies.running_trips import Drawn, running_verdict

if TYPE_CHECKING:
    from weldsim.studies.preview import Preview

NOTHING = 1e-9  # [V, A] what is below is rounding, whatever stands beside it
DUST = 1e-9  # of the largest of three figures: what is below is rounding
IDLE = 1e-3  # of its rating: what a device carries that is not in use
CONTINUOUS = "Assumed: it goes on for ever, and the heat sink keeps the device at the temperature of its rating"


def spread_text(preview: "Preview", name: str, unit: str, *, least: float = NOTHING) -> str:
    """The same figure at mains -10, 0 and +10 %; below ``least`` it is told as nothing."""
    if name not in preview.spread or name not in preview.recording.run.table:
        return ""
    low, high = preview.spread[name]
    values = (low, preview.recording.run.table[name][0], high)
    dust = max(DUST * max(map(abs, values)), least)
    told = ", ".join(f"{0.0 if abs(value) < dust else value:.4g}" for value in values)
    return f" (mains -10, 0, +10 %: {told} {unit})"


def at_this_dial(preview: "Preview") -> str:
    """That a figure is one of this setting of the dial; nothing where there is none."""
    return "this dial setting, " if preview.scenario.phase_control is not None else ""


def transformer(preview: "Preview") -> Iterator[Verdict]:
    """What the transformer, or each of two, carries against the rating it was bought with."""
    found = transformers(preview.scenario)
    for one in found:
        place = "primary" if len(found) == 1 else f"{one.prefix or 'first_'}primary"
        yield from _transformer_load(preview, one, f"{place}.current.rms")


def _transformer_load(preview: "Preview", one: OneTransformer, name: str) -> Iterator[Verdict]:
    """One transformer, by the name of its primary current."""
    part, volts = one.transformer, preview.scenario.mains.voltage
    if part.rating is None or volts == 0.0:
        return
    current = preview.recording.run.table[name][0]
    shares = [volts * value / part.rating for value in (current, *preview.spread.get(name, (current, current)))]
    level = "fault" if shares[0] > 1.0 else "note" if max(shares) > 1.0 else "good"
    text = (
        f"The {one.word}transformer takes {amount(volts * current, 'VA')} of the {amount(part.rating, 'VA')} that it "
        f"was bought for: {current:.4g} A rms at {volts:g} V{spread_text(preview, name, 'A')}"
    )
    if level == "fault":
        text += (
            f", {shares[0] ** 2:.3g} times the rated heat in its copper, so only a duty cycle of some "
            f"{100.0 / shares[0] ** 2:.2g} % saves it"
        )
    elif level == "note":
        text += "; at high mains it is more than that"
    yield Verdict(
        f"{one.prefix}transformer_load",
        level,
        f"{text}. Assumed: rated at the voltage of the mains, windings as bought, heat by the square of the current.",
    )


def bank(preview: "Preview") -> Iterator[Verdict]:
    """Volts and ripple of the bank against its ratings."""
    part, numbers = preview.scenario.bank, preview.numbers
    if part is None or "bank.current.rms" not in numbers:
        return
    if preview.scenario.rectifier is None:
        yield Verdict("bank_alternating", "fault", ALTERNATING_BANK)
    top = max(preview.open_circuit.get("bank", 0.0), numbers["bank.voltage.max"].value)
    if part.rated_voltage is not None:
        most = highest(preview.scenario).bank if preview.scenario.phase_control is not None else top
        level, end = "good", "."
        if top > part.rated_voltage:
            level, end = "fault", "; cans over their rating vent or burst."
        elif most > part.rated_voltage:
            level, end = "note", f"; turned up it reaches {most:.4g} V, and cans over their rating vent or burst."
        yield Verdict(
            "bank_voltage",
            level,
            f"The bank sees up to {top:.4g} V ({at_this_dial(preview)}without load, mains +10 %) against its rating of "
            f"{part.rated_voltage:g} V{end}",
        )
    current = numbers["bank.current.rms"].value
    yield _ripple(preview, part, current if current > NOTHING else 0.0)


def _ripple(preview: "Preview", part: Bank, current: float) -> Verdict:
    """Ripple current and heat, of the bank and of each can."""
    rating, share = ripple_rating(part), current / part.cans
    each = "" if part.cans == 1 else f"; each of {part.cans} cans {share:.4g} A"
    if part.resistance:
        each += f", {current**2 * part.resistance / part.cans:.3g} W" + (" of heat" if part.cans == 1 else "")
    told, level = f"The bank carries {current:.4g} A rms of ripple", "note"
    if rating is None:
        told += f"{each}; no rated_ripple_current is given, and the label of a can says it."
    else:
        level = "fault" if current > rating else "good"
        told += f" against a continuous rating of {rating:.4g} A"
        if level == "fault":
            told += f": {(current / rating) ** 2:.1f} times the rated heat, so only a duty cycle saves it"
        told += f"{each}."
    cause = "Cause: the rectifier charges it in pulses, and the load empties it in between."
    if preview.scenario.rectifier is None:
        cause = "Cause: alternating voltage charges it to and fro."
    over = spread_text(preview, "bank.current.rms", "A")
    return Verdict("bank_ripple", level, f"{told} {cause} Assumed: cans share equally{over}.")


def breaker(preview: "Preview") -> Iterator[Verdict]:
    """What the primary draws against what stands in front of it, by heat and at once."""
    part, table = preview.scenario.breaker, preview.recording.run.table
    if part is None or "primary.current.rms" not in preview.spread:
        return
    low, high = (
        {what: preview.spread[f"primary.current.{what}"][side] for what in ("rms", "min", "max")} for side in (0, 1)
    )
    own = {what: table[f"primary.current.{what}"][0] for what in ("rms", "min", "max")}
    over = (low, own, high)
    peaks = [max(abs(one["min"]), abs(one["max"])) for one in over]
    drawn = Drawn((low["rms"], own["rms"], high["rms"]), (peaks[0], peaks[1], peaks[2]))
    yield running_verdict(part, drawn)


def switch_current(preview: "Preview") -> Iterator[Verdict]:
    """Rms current of the phase control against its rating."""
    control = preview.scenario.phase_control
    if control is None or control.rated_current is None:
        return
    name = "phase_control.current.rms"
    who = f"The {control.device} carries" if control.device == "triac" else "The thyristor pair carries, both together,"
    yield from _judged(preview, name, (who, "A rms"), rating=control.rated_current, verdict="phase_control_current")


def thermistor(preview: "Preview") -> Iterator[Verdict]:
    """How hot a thermistor without a relay would get, were the current to go on."""
    part, name = preview.scenario.soft_start, "primary.current.rms"
    if part is None or part.kind != "ntc" or part.bypass_delay is not None:
        return
    current = preview.recording.run.table[name][0]
    low, high = preview.spread.get(name, (current, current))
    hot = [thermistor_settled(part, current=one) for one in (low, current, high)]
    text = f"No relay bypasses the thermistor: {current:.4g} A rms keep it at {spread(hot, 'degC', digits=3)}"
    if hot[1] > RATED_TO:
        text += f", hotter than the {RATED_TO:g} degC such parts bear: it burns, and what lies beside it"
    text += (
        ". Cause: its resistance never falls to nothing. Assumed: the current goes on for ever; `drill` and `spot` "
        "tell of presses and pauses."
    )
    yield Verdict("thermistor", "fault" if hot[1] > RATED_TO else "note" if hot[2] > RATED_TO else "good", text)


def diode_current(preview: "Preview") -> Iterator[Verdict]:
    """Mean current of the diode that has most to carry against its rating."""
    rectifier, table = preview.scenario.rectifier, preview.recording.run.table
    if rectifier is None or rectifier.rated_current is None:
        return
    names = [name for name in table if name.startswith("rectifier.diode_") and name.endswith(".current.mean")]
    if not names:
        return
    most = max(names, key=lambda name: table[name][0])
    who = f"Diode {most.split('_')[1].split('.')[0]} of the rectifier carries"
    yield from _judged(preview, most, (who, "A on the mean"), rating=rectifier.rated_current, verdict="diode_current")


def _judged(preview: "Preview", name: str, words: tuple[str, str], *, rating: float, verdict: str) -> Iterator[Verdict]:
    """A current against a continuous rating: a fault above it, a note where high mains bring it above."""
    current = preview.recording.run.table[name][0]
    highest = max(current, *preview.spread.get(name, (current, current)))
    level = "fault" if current > rating else "note" if highest > rating else "good"
    if highest < IDLE * rating:
        yield Verdict(verdict, "good", f"{words[0]} next to nothing against a rating of {rating:g} A.")
        return
    text = f"{words[0]} {current:.4g} {words[1]} against a rating of {rating:g} A"
    if level == "fault":
        text += f", {current / rating:.3g} times as much: only a duty cycle could save it"
    elif level == "note":
        text += "; at high mains it is more than that"
    yield Verdict(verdict, level, f"{text}{spread_text(preview, name, 'A')}. {CONTINUOUS}.")
