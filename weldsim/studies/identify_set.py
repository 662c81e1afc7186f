"""What readings of the finished set tell: the flux that its core keeps and whether its output is that of the scenario,
both by simulation, and what its leads and its warm copper say.
"""

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.bench_set import DRIFT
from weldsim.parts.cooling import Cooling
from weldsim.parts.flux import flux_density_at, saturation_flux_linkage
from weldsim.parts.readings import Readings
from weldsim.runs.perform import record
from weldsim.runs.press_batches import presser_of
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Verdict, amount, percent
from weldsim.studies.core_words import first_core
from weldsim.studies.identify_values import Found, Quantity
from weldsim.studies.inrush import check_question
from weldsim.studies.progress import Progress

PHASES, FEW_PHASES = 60, 24  # of the mains at switch-on, looked at; few to see what a doubt does
FLUXES = 9  # left in the core, looked at
LOOKED_AT = 0.03  # [s] of each switch-on
SURE = (0.025, 0.5, 0.975)  # what the worst lies below so often: within the outer two 19 times of 20
Other = tuple[str, Scenario, Scenario]  # what is off, and the scenario with it off downward and upward
PERIODS = 2.0  # of the mains, looked at
MISSED = 0.02  # of a reading, beyond its doubt, that is told as not met
LEAST_LEFT = 4.0  # [V] that leads may cost (common practice)
HOTTEST = 10.0  # [K] of the hottest place above the mean of a winding (common practice)
LITTLE = 0.01  # of the resistance of leads, below which nothing is said of their contacts
FULL = 0.99  # of the flux that saturates: as good as all of it
FEW = 10  # switch-ons, below which luck decides


def of_the_set(scenario: Scenario, others: Sequence[Other], progress: Progress) -> list[Found]:
    """What only simulations tell, of a scenario with the values that its readings gave.

    ``others`` are that scenario with something that no reading tells off by what it may, downward and upward.

    Raises
    ------
    QuestionError : no core that could keep a flux.
    """
    assert scenario.readings is not None
    rows = scenario.readings.switch_on
    if not rows:
        return []
    check_question(scenario, len(rows))
    every = [_alone(one) for one in (scenario, *(one for _, *pair in others for one in pair))]
    jobs = [(one, flux) for one in every for flux in np.linspace(0.0, _saturated(one), FLUXES).tolist()]
    table = []
    for number, (one, flux) in enumerate(jobs):
        table.append((flux, *_worst(one, flux, count=len(rows), phases=PHASES if one is every[0] else FEW_PHASES)))
        progress(number + 1, len(jobs), "fluxes")
    curves = np.maximum.accumulate(np.reshape(table, (len(every), FLUXES, -1)), axis=1)
    names = [name for name, *_ in others]
    return [_flux_left([row.peak for row in rows], curves, names, doubt=scenario.readings.current_doubt)]


def _alone(scenario: Scenario) -> Scenario:
    """The transformer alone, behind a plain switch."""
    parts = {name: getattr(scenario, name) for name in ("mains", "supply_lead", "transformer", "core", "source")}
    return Scenario(**parts)


def _saturated(scenario: Scenario) -> float:
    assert scenario.core is not None
    return saturation_flux_linkage(scenario.core, primary_turns(scenario))


def _worst(scenario: Scenario, flux: float, *, count: int, phases: int) -> list[float]:
    """Between what the worst of so many first peaks lies with a flux linkage left: least, median, most [A].

    The worst of n lies below the q-quantile of all of them q^n times.  All of them are those of even phases: a flux of
    the other sign does half a period later what this one does now.
    """
    presser = presser_of(scenario)
    rests = (presser.resting_at(k / phases, flux_linkage=flux, bank_voltage=0.0) for k in range(phases))
    pressed = (presser.press_from(rest, presser.rule, length=LOOKED_AT)[0] for rest in rests)
    peaks = sorted(press.first_peak(presser.period) for press in pressed)
    below = (np.arange(phases) + 0.5) / phases
    quantiles: list[float] = np.interp([share ** (1.0 / count) for share in SURE], below, peaks).tolist()
    return quantiles


def _flux_left(peaks: Sequence[float], curves: np.ndarray, names: Sequence[str], *, doubt: float) -> Found:
    """The flux linkage that, left at every switch-on, makes the worst of so many as high as it was [V.s].

    (The worst tells most by far; a mean hardly anything.)  ``curves`` hold flux, least, median and most of the worst,
    by flux, first of the core as it is found, then of each of ``names`` off downward and upward.
    """
    worst, (fluxes, least, usual, most) = max(peaks), curves[0].T
    value = float(np.interp(worst, usual, fluxes))
    doubts = {
        f"luck of {len(peaks)} switch-ons": [np.interp(worst, curve, fluxes) for curve in (most, least)],
        "the clamp": [np.interp((1.0 + off) * worst, usual, fluxes) for off in (-doubt, doubt)],
    }
    for number, name in enumerate(names):
        pair = curves[2 * number + 1 : 2 * number + 3]
        doubts[name] = [np.interp(worst, curve[:, 2], curve[:, 0]) for curve in pair]
    off = {name: [float(end) - value for end in ends] for name, ends in doubts.items()}
    down, up = (math.hypot(*(pick(0.0, *ends) for ends in off.values())) for pick in (min, max))
    quantity = Quantity("switch_on.flux_linkage", "flux_linkage", lambda bench: value)
    weighs = max(off, key=lambda name: max(map(abs, off[name])))
    return Found(quantity, value, max(value - down, 0.0), value + up, weighs)


@dataclass(frozen=True)
class Output:
    """One reading at the output: volts [V], amperes as read and as the scenario gives them on the same resistor [A]."""

    voltage: float
    read: float
    given: float

    @property
    def off(self) -> float:
        """By how much of the reading it is missed."""
        return self.given / self.read - 1.0


def output_rows(scenario: Scenario) -> Iterator[Output]:
    """What was read at the output, and what the scenario gives on the same resistors."""
    assert scenario.readings is not None
    figure = f"output.current.{'rms' if scenario.rectifier is None else 'mean'}"
    for row in scenario.readings.output or ():
        loaded = vary(scenario, {"load": {"kind": "resistor", "resistance": row.voltage / row.current}})
        length = PERIODS / scenario.mains.frequency
        run = record(loaded, dial=row.dial, delay=row.delay, start="steady", duration=length).run
        yield Output(row.voltage, row.current, run.table[figure][0])


# --- verdicts and assumptions -----------------------------------------------------------------------------------------


def verdicts_of_the_set(scenario: Scenario, found: Sequence[Found], outputs: Sequence[Output]) -> list[Verdict]:
    """What the readings of the finished set say."""
    by_key = {one.quantity.key: one for one in found}
    told = {
        "weld_leads.resistance": _leads,
        "warm_up.temperature": _warm,
        "switch_on.flux_linkage": _keeps,
    }
    verdicts = [verdict(scenario, by_key) for key, verdict in told.items() if key in by_key]
    return verdicts + ([_gives(scenario, outputs)] if outputs else [])


def _range(one: Found, unit: str, factor: float = 1.0) -> str:
    """A value with its least and most."""
    value, low, high = (amount(factor * number, unit) for number in (one.value, one.low, one.high))
    return f"{value} ({low} to {high})"


def _leads(scenario: Scenario, found: Mapping[str, Found]) -> Verdict:
    """What the leads cost."""
    assert scenario.readings is not None
    one, most = found["weld_leads.resistance"], max(row.current for row in scenario.readings.leads or ())
    text = f"Leads and contacts have {_range(one, 'mohm', 1e3)}: {amount(100.0 * one.value, 'V')} for every 100 A"
    if scenario.weld_leads is not None and scenario.weld_leads.contact_resistance > LITTLE * one.value:
        text += f", {amount(1e3 * scenario.weld_leads.contact_resistance, 'mohm')} of it where metal meets metal"
    if one.value * most > LEAST_LEFT:
        return Verdict("leads", "note", f"{text}. More than {LEAST_LEFT:g} V, the trade's bound: thicker or shorter.")
    return Verdict("leads", "good", f"{text}.")


def _warm(scenario: Scenario, found: Mapping[str, Found]) -> Verdict:
    """How warm it was, and how fast it cools."""
    cooling = scenario.cooling or Cooling()
    text = (
        f"When the current stopped the primary was at {_range(found['warm_up.temperature'], 'degC')}, the mean of its "
        "wire; the hottest place is some 10 K above"
    )
    time, to_air = found.get("cooling.winding_time"), found.get("cooling.winding_to_air")
    if time is not None:
        text += f". It cools with a time constant of {_range(time, 'min', 1.0 / 60.0)}"
    if to_air is not None:
        bears = (cooling.winding_limit - cooling.ambient) / to_air.value
        text += (
            f" and {_range(to_air, 'K/W')} to the air: {amount(bears, 'W')} of heat in its windings for ever bring "
            f"them to {cooling.winding_limit:g} degC; ask `duty`"
        )
    hot = found["warm_up.temperature"].high + HOTTEST > cooling.winding_limit
    return Verdict("warm_up", "note" if hot else "good", text + ("; that was too hot." if hot else "."))


def _keeps(scenario: Scenario, found: Mapping[str, Found]) -> Verdict:
    """What flux the core keeps."""
    assert scenario.core is not None
    assert scenario.readings is not None
    one, count = found["switch_on.flux_linkage"], len(scenario.readings.switch_on or ())
    turns, tesla = primary_turns(scenario), ""
    if scenario.core.section is not None and turns is not None:
        left = flux_density_at(scenario.core, one.value, primary_turns=turns)
        tesla = f", {amount(left, 'T', digits=2)}"
    text = (
        f"{count} switch-ons with such peaks keep {_range(one, 'V.s')} in the {first_core(scenario)}{tesla}: give "
        f'`inrush` a --flux-linkage "{amount(one.value, "V.s")}", and the highest of these to be sure'
    )
    most = saturation_flux_linkage(scenario.core, turns)
    worst = max(row.peak for row in scenario.readings.switch_on or ())
    if one.value >= FULL * most:
        text = (
            f"A worst peak of {amount(worst, 'A')} is more than this core gives on these mains whatever it keeps: its "
            "bend, its inductance when saturated or the mains' impedance is less than the scenario has it."
        )
        return Verdict("flux_left", "note", text)
    if one.value <= (1.0 - FULL) * most:
        text = (
            f"A worst peak of {amount(worst, 'A')} is no more than a core that keeps nothing gives: it does keep "
            "nothing, or the clamp missed the first half wave (many add up 100 ms, and show the mean of these)."
        )
        return Verdict("flux_left", "note", text)
    if count < FEW:
        return Verdict("flux_left", "note", f"{text}. {count} are few: luck alone makes that range.")
    return Verdict("flux_left", "good", f"{text}.")


def _gives(scenario: Scenario, outputs: Sequence[Output]) -> Verdict:
    """Whether the scenario's output is that of the set."""
    assert scenario.readings is not None
    room = MISSED + math.hypot(scenario.readings.voltage_doubt, scenario.readings.current_doubt)
    worst = max(outputs, key=lambda one: abs(one.off))
    at = f"{amount(worst.read, 'A')} at {amount(worst.voltage, 'V')}"
    if abs(worst.off) <= room:
        text = f"On the same resistors the scenario gives the set's output within {percent(abs(worst.off))}."
        return Verdict("output_met", "good", text)
    more = "more" if worst.off > 0.0 else "less"
    text = (
        f"On the same resistors the scenario gives up to {percent(abs(worst.off))} {more} than the set ({at}). The "
        "same share everywhere: volts of the mains, turns or the delay; more of it with the current: a resistance or "
        "leakage. `compare` with a captured trace looks for the part."
    )
    return Verdict("output_met", "note", text)


def assumptions_of_the_set(readings: Readings) -> list[str]:
    """What the values of the finished set stand on."""
    lines = []
    if readings.warm_up is not None:
        lines.append(
            "A winding that cools is one body, in air as warm as at its cold reading, by the same meter, which drifts "
            f"by no more than {percent(DRIFT)}; heat that was told went into the windings evenly."
        )
    if readings.switch_on is not None:
        lines.append(
            "Switch-ons of the transformer alone at random moments of the mains, all with the same flux left, compared "
            f"by the worst of them with {PHASES} simulated at each of {FLUXES} fluxes, mains as the scenario has them."
            " Doubt: what the worst of so many lies within 19 times of 20, the clamp's, and where the iron itself was "
            "identified, how it saturates."
        )
    if readings.output is not None:
        lines.append("Output read settled on resistors, mains and copper as the scenario has them.")
    return lines
