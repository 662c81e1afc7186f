"""What the figures of a weld mean, in words: regular or not, why, the arc's least current, the window, the heat."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.analysis.dips import ARC, NOTHING, DipMeter
from weldsim.parts.choke import Choke, inductance_at
from weldsim.runs.tapped import tap_key
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number, Verdict, amount, spread
from weldsim.studies.choke_words import given_way
from weldsim.studies.weld_measure import BURNT_BACK, FLUTTER, dip_rate, irregularities

USUAL_RISE = (50.0, 150.0)  # [A/ms] of a short's current (common practice, no published source)
UNEVEN = 0.6  # spread of the dip period beyond which regular transfer is called uneven; events by chance have 1

Rows = Sequence[Mapping[str, Any]]


def verdicts(
    scenario: Scenario,
    meter: DipMeter,
    *,
    numbers: Mapping[str, Number],
    rows: Rows,
    travel: float | None,
    others: float,
) -> list[Verdict]:
    """All verdicts of one weld; those at other settings lasted ``others`` seconds each."""
    window = [row for row in rows if row["kind"] == "window"]
    mains = [row for row in rows if row["kind"] == "mains"]
    found = [
        _transfer(
            meter, mains, searched=bool(window), tap=tap_key(scenario) if scenario.phase_control is None else None
        )
    ]
    if meter.arc_minimum.count:
        found.append(_least_current(scenario, meter))
    if meter.peak.count:
        found.append(_short(meter, scenario.choke))
    found.append(_heat(meter, travel))
    return [*found, _window(window, numbers, others)] if window else found


def _transfer(meter: DipMeter, mains: Rows, *, searched: bool, tap: str | None = None) -> Verdict:
    """Whether it is regular dip transfer, how even, and what to turn where it is not."""
    irregular = irregularities(meter)
    reasons = list(irregular.values())
    told = "" if reasons else f": {dip_rate(meter):.3g} dips a second of {1e3 * meter.duration.mean:.2g} ms"
    if meter.period.count > 1:
        told += f"; period spread {100.0 * meter.period.spread:.0f} %, peak current spread "
        told += f"{100.0 * meter.peak.spread:.0f} %"
    volts, amps = ([row[key] for row in mains] for key in ("voltage", "current"))
    means = (
        f"{spread(amps, 'A')} at {spread(volts, 'V')}"
        if mains
        else f"{amount(meter.mean_current(), 'A')} at {amount(meter.mean_voltage(), 'V')}"
    )
    if not reasons:
        uneven = meter.period.spread > UNEVEN
        steady = not uneven and all(row["regular"] for row in mains)
        level, judged = "good" if steady else "note", "It runs in regular dip transfer" + ", if unevenly" * uneven
    else:
        stubbing = meter.stubs > 0.1 * max(meter.duration.count, 1) or math.isnan(meter.peak.mean)
        ill = stubbing or meter.share(NOTHING) > 0.2 or BURNT_BACK in irregular
        level = "fault" if ill else "note"
        judged = f"No regular dip transfer: {'; '.join(reasons)}"
        if BURNT_BACK in irregular:
            told += "; a real wire fuses to the tube there: the figures below are no weld's"
    told += f".{_remedy(irregular, meter, searched=searched, tap=tap)}"
    kept = f" Regular at {sum(row['regular'] for row in mains)} of the three mains voltages." if mains else ""
    return Verdict(
        "transfer",
        level,
        f"{judged}{told} Mean of {means}.{kept} Assumed: the wire's constants as written, a torch and a pool that "
        "stand still.",
    )


def _remedy(irregular: Mapping[str, str], meter: DipMeter, *, searched: bool, tap: str | None) -> str:
    """Which way to turn the dial, the tap or the feed, and what finds the range."""
    if "no current" in irregular or not irregular:
        return ""
    if "stubbing" in irregular or "long shorts" in irregular:
        turn = "More volts or less feed clear the shorts sooner."
    elif "few dips" in irregular and meter.share(ARC) > 0.5:
        turn = "Fewer volts or more feed shorten the arc."
    else:
        turn = ""
    finds = "--voltage-window looks for the dials that do."
    if tap is not None:
        finds = f"Taps are other {tap}: `sweep --study weld --over` it looks for those that do."
    return f" {turn}".rstrip() + ("" if searched else f" {finds}")


def _least_current(scenario: Scenario, meter: DipMeter) -> Verdict:
    """The arc's least current against the hold limit, and what pulls it down."""
    below = 100.0 * meter.below_hold / meter.arc_minimum.count
    text = (
        f"Between the dips the arc's current falls to {meter.arc_minimum.mean:.3g} A on average, "
        f"{meter.arc_minimum.least:.3g} A at the least; below the hold limit of {meter.hold:.3g} A (assumed) in "
        f"{below:.0f} of 100 arcs, lost {meter.losses / meter.length:.3g} times a second."
    )
    resonance = bank_resonance(scenario)
    if below > 1.0 and resonance is not None:
        frequency = scenario.mains.frequency
        text += f" Bank and choke swing at {resonance:.0f} Hz, the rectifier feeds them at {2 * frequency:.0f} Hz" + (
            ": near resonance, which pulls the current to zero." if 0.6 < resonance / (2 * frequency) < 1.6 else "."
        )
    return Verdict("least_arc_current", "good" if below <= 1.0 else "note" if below < 20.0 else "fault", text)


def bank_resonance(scenario: Scenario) -> float | None:
    """Frequency at which bank and choke swing at small currents [Hz]; None where one is absent."""
    bank, choke = scenario.bank, scenario.choke
    if bank is None or choke is None:
        return None
    return 1.0 / (2.0 * math.pi * math.sqrt(inductance_at(choke, 0.0) * bank.capacitance))


def _short(meter: DipMeter, choke: Choke | None) -> Verdict:
    """How the current rises in a short, what it reaches, and whether the choke holds so far."""
    rise = 1e-3 * meter.rise.mean
    text = (
        f"In a short the current rises by {rise:.3g} A/ms to {meter.peak.mean:.3g} A (at most "
        f"{meter.peak.largest:.3g} A); it ruptures at {meter.rupture.mean:.3g} A, the figure that goes with spatter."
    )
    hint = ""
    if rise > 200.0:
        hint = " Steep: more choke, or one that does not saturate, softens it."
    elif rise < 25.0:
        hint = " Slow: shorts last long and the wire may stub; less choke or more voltage clears them sooner."
    elif not USUAL_RISE[0] <= rise <= USUAL_RISE[1]:
        hint = f" {'Faster' if rise > USUAL_RISE[1] else 'Slower'} than usual."
    saturated = given_way(choke, meter.peak.largest)
    if saturated:
        hint += (
            f" {saturated}, so the current runs away just where the drop necks, and little is stored for the arc "
            "behind it; `choke` tells what would hold."
        )
    text += hint + f" Usual are {USUAL_RISE[0]:g} to {USUAL_RISE[1]:g} A/ms (common practice)."
    return Verdict("short_circuit", "note" if hint else "good", text)


def _heat(meter: DipMeter, travel: float | None) -> Verdict:
    """Heat at the arc circuit."""
    power = meter.energy / meter.length
    text = f"Heat at the arc circuit: {power:.4g} W"
    if travel is not None:
        text += f", {1e-3 * power / travel:.4g} J/mm at {60.0 * travel:.3g} m/min along the seam"
    return Verdict(
        "heat", "good", text + " (the mean of volts times amperes; what part of it enters the work is not modelled)."
    )


def _window(rows: Rows, numbers: Mapping[str, Number], seconds: float) -> Verdict:
    """The range of dial settings with regular dip transfer, by a weld of so many seconds at each."""
    if math.isnan(numbers["window.dial.low"].value):
        nearest = max(rows, key=lambda row: row["dip_rate"] * (1.0 - row["extinguished"]))
        return Verdict(
            "window",
            "fault",
            f"At this feed no dial setting gives regular dip transfer; nearest is dial {100 * nearest['dial']:.0f} %: "
            f"{nearest['reason']}. Ask again with another --feed"
            + ("; `choke` tells whether choke or bank is why it flutters." if FLUTTER in nearest["reason"] else "."),
        )
    low, high = numbers["window.dial.low"].value, numbers["window.dial.high"].value
    volts = numbers["window.voltage.low"].value, numbers["window.voltage.high"].value
    holes = [row for row in rows if low < row["dial"] < high and not row["regular"]]
    text = (
        f"Regular from dial {100 * low:.3g} % ({volts[0]:.3g} V) to {100 * high:.3g} % ({volts[1]:.3g} V): a window of "
        f"{volts[1] - volts[0]:.2g} V at the arc circuit"
    )
    text += f", with {len(holes)} settings in between that are not" if holes else ""
    good = volts[1] - volts[0] >= 1.0 and not holes
    return Verdict("window", "good" if good else "note", f"{text}. One seed each, {seconds:g} s.")
