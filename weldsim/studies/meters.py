"""What the instruments of a workshop show of one setting, how far that is from the truth, and energy per hour."""

import math

from weldsim.analysis.meters import (
    CREST_LIMIT,
    METER_RATING,
    SINE_FORM_FACTOR,
    Reading,
    clamp_energy_display,
    plug_in_meter,
    readings,
)
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.runs.magnitude import mean_magnitude
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Answer, Number, Verdict, amount, spread
from weldsim.studies.meter_faults import compare
from weldsim.studies.operating import (
    FIGURES,
    Setting,
    firing_verdicts,
    harmonics,
    has_arc,
    operate,
    over_the_mains,
    plug_crest,
    told_crest,
    told_load,
    welding,
)

DUTY = 0.35
HOUR = 3600.0
KILOWATT_HOUR = 3.6e6  # [J]
ROUNDING = 1e-9  # of the rms: a mean below it is none
WORTH_TELLING = 0.03  # of the truth: what a usual instrument may be off anyway


@dataclass(frozen=True)
class Shown:
    """One quantity under every instrument, beside what it truly is."""

    place: str
    unit: str
    mean: float
    rms: float
    peak: float
    readings: dict[str, Reading]

    @property
    def direct(self) -> bool:
        """Whether it flows one way, however choppy, so that a pointer on its mean stands still."""
        return abs(self.mean) > 0.5 * self.readings["average-responding"].value / SINE_FORM_FACTOR

    @property
    def alternating(self) -> float:
        """What alternates of it, rms: all that a clamp without a Hall sensor, or a range behind a capacitor, sees."""
        return math.sqrt(max(self.rms**2 - self.mean**2, 0.0))

    @property
    def crest_factor(self) -> float:
        """Peak over rms."""
        return self.peak / self.rms if self.rms else math.nan


def ask(
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    duty: float = DUTY,
    faults: bool = False,
) -> Answer:
    """Readings of each instrument at one setting, settled, and the energy of an hour.

    Parameters
    ----------
    scenario : Scenario
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.
    duty : float
        Share of the hour in which it welds [1].
    faults : bool
        Also read the meters with one thing broken after the other.

    Returns
    -------
    Answer : rows "reading" (place by instrument) and "fault"; runs "window", and one for each fault.

    Raises
    ------
    QuestionError : a duty that is none, or a setting that takes nothing; WiringError, SimulationError.
    """
    if not 0.0 < duty <= 1.0:
        raise QuestionError(
            f"a duty of {100.0 * duty:g} % is none", place="duty", advice="give more than 0, up to 100 %"
        )
    loaded = welding(scenario)
    three = over_the_mains(loaded, dial=dial, delay=delay)
    own = operate(loaded, dial=dial, delay=delay, signals=FIGURES)
    if not own["plug.power.mean"] > 0.0:
        raise QuestionError("nothing flows from the mains at this setting", place="dial", advice="turn it up")
    shown = [_shown(own, name) for name in FIGURES]
    watts = _watts(loaded, own)
    idle = _idle(scenario)
    energies = [_hour(one["plug.power.mean"], idle, duty) for one in three]
    rows = [row for one in shown for row in _rows(one)]
    rows += [
        {
            "kind": "reading",
            "place": "power at the plug",
            "instrument": name,
            "shows": reading.value,
            "truth": own["plug.power.mean"],
            "unit": "W",
            "off": reading.value / own["plug.power.mean"] - 1.0,
            "trusted": reading.trusted,
            "why_not": reading.reason,
        }
        for name, reading in watts.items()
    ]
    broken = compare(loaded, three, dial=dial, delay=delay, asked=faults)
    return Answer(
        "meters",
        scenario,
        _numbers(own, shown, watts) | _energy(own, idle, energies[1], duty) | broken.numbers,
        [
            *broken.verdicts,
            *firing_verdicts(three),
            *_verdicts(own, {one.place: one for one in shown}, three),
            _power_verdict(own, watts),
            _energy_verdict(own, energies, idle, duty),
        ],
        _assumptions(loaded, duty) + broken.assumptions,
        rows=rows + broken.rows,
        runs={"window": own.recording.run} | broken.runs,
    )


def _shown(own: Setting, name: str) -> Shown:
    """One waveform of the settled setting under every instrument."""
    mean, rms = own[f"{name}.mean"], own[f"{name}.rms"]
    mean = mean if abs(mean) > ROUNDING * rms else 0.0
    peak = plug_crest(own) if name == "plug.voltage" else max(abs(own[f"{name}.min"]), abs(own[f"{name}.max"]))
    begin, end = own.recording.window
    rectified = mean_magnitude(own.recording.trace, name, begin=begin, end=end)
    shown = readings(mean=mean, mean_absolute=rectified, rms=rms, peak=peak)
    return Shown(name, "V" if name.endswith("voltage") else "A", mean, rms, peak, shown)


def _watts(scenario: Scenario, own: Setting) -> dict[str, Reading]:
    """What shows watts at the plug."""
    peak = own["primary.current.peak"]
    current = _shown(own, "primary.current").readings["average-responding"].value
    return {
        "plug-in energy meter": plug_in_meter(
            own["plug.power.mean"], rms=own.primary, peak=peak, volts=scenario.mains.voltage
        ),
        "clamp energy display": clamp_energy_display(
            current * 2.0 * math.sqrt(2.0) / math.pi, nominal_voltage=scenario.mains.voltage
        ),
    }


def _idle(scenario: Scenario) -> float:
    """Power at the plug between welds [W]: none behind a triac that is off, else the unloaded supply."""
    if scenario.phase_control is not None:
        return 0.0
    bare = vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario
    return operate(bare)["plug.power.mean"]


def _hour(power: float, idle: float, duty: float) -> float:
    """Energy of an hour of work [J]."""
    return HOUR * (duty * power + (1.0 - duty) * idle)


def _rows(one: Shown) -> list[dict]:
    """One row for each instrument: a moving coil beside the mean, on direct current only, the others beside the rms."""
    rows = []
    for name, reading in one.readings.items():
        if name == "moving coil" and not one.direct:
            continue
        truth = one.mean if name == "moving coil" else one.rms
        off = reading.value / truth - 1.0 if truth else math.nan
        misled = name == "average-responding" and abs(off) > WORTH_TELLING
        rows.append(
            {
                "kind": "reading",
                "place": one.place.replace(".", " "),
                "instrument": name,
                "shows": reading.value,
                "truth": truth,
                "unit": one.unit,
                "off": off,
                "trusted": reading.trusted and not misled,
                "why_not": "it is scaled for a sine" if misled else reading.reason,
            }
        )
    if one.direct and one.place.startswith("output."):
        instrument = "clamp for alternating current" if one.unit == "A" else "range for alternating voltage"
        shows: dict = {"kind": "reading", "place": one.place.replace(".", " "), "instrument": instrument}
        shows |= {"shows": one.alternating, "truth": one.rms, "unit": one.unit, "off": one.alternating / one.rms - 1.0}
        rows.append({**shows, "trusted": False, "why_not": "it passes no direct current: it sees the ripple only"})
    return rows


def _numbers(own: Setting, shown: list[Shown], watts: dict[str, Reading]) -> dict[str, Number]:
    """Readings and truths by name."""
    numbers: dict[str, Number] = {}
    for one in shown:
        numbers |= {
            f"{one.place}.mean": Number(one.mean, one.unit),
            f"{one.place}.rms": Number(one.rms, one.unit),
            f"{one.place}.peak": Number(one.peak, one.unit),
            f"{one.place}.crest_factor": Number(one.crest_factor, "1"),
        }
        if one.place.startswith("output."):
            numbers[f"{one.place}.alternating"] = Number(one.alternating, one.unit)
        for name, reading in one.readings.items():
            numbers[f"{one.place}.{name.replace(' ', '_').replace('-', '_')}"] = Number(reading.value, one.unit)
    sizes = {name: harmonics(own, name) for name in ("primary.current", "plug.voltage")}
    return numbers | {
        "plug.power.mean": Number(own["plug.power.mean"], "W"),
        "plug.apparent_power": Number(own["plug.apparent_power"], "VA"),
        "plug.power_factor": Number(own["plug.power_factor"], "1"),
        "primary.current.distortion_factor": Number(float(sizes["primary.current"][0]) / own.primary, "1"),
        "energy_meter.power": Number(watts["plug-in energy meter"].value, "W"),
        "clamp_display.power": Number(watts["clamp energy display"].value, "W"),
    }


def _energy(own: Setting, idle: float, hour: float, duty: float) -> dict[str, Number]:
    """Energy of an hour of arc and of an hour of work."""
    return {
        "energy.hour_of_arc": Number(HOUR * own["plug.power.mean"], "J"),
        "energy.hour_of_work": Number(hour, "J"),
        "energy.idle.power": Number(idle, "W"),
        "energy.output_share": Number(_output_power(own) / own["plug.power.mean"], "1"),
    }


def _output_power(own: Setting) -> float:
    """Power at the load [W]."""
    integrals = own.recording.integrals
    return integrals.product("output.voltage", "output.current") / integrals.length


def _verdicts(own: Setting, shown: dict[str, Shown], three: list[Setting]) -> list[Verdict]:
    """What to believe at the output and at the primary."""
    output, primary = shown["output.current"], shown["primary.current"]
    volts = shown["output.voltage"]
    coils = (
        f"a moving-coil ammeter shows {output.readings['moving coil'].value:.4g} A (mean: right for charge, burn-off)",
        f"moving coil {volts.readings['moving coil'].value:.3g} V",
    )
    if not output.direct:
        coils = ("a moving-coil ammeter shows nothing of alternating current", "moving coil nothing")
    heat, average = output.readings["true rms"], "average-responding"
    ripple = f", a clamp for alternating current only (no Hall sensor) {output.alternating:.3g} A: it sees the ripple"
    ripple = ripple if output.direct else ""
    told = (
        f"At the output {spread([one.current for one in three], 'A')}: {coils[0]}, true rms {output.rms:.4g} A "
        f"({'right for heat' if heat.trusted else heat.reason}), a rectifier meter that passes direct current "
        f"{output.readings[average].value:.4g} A{ripple}. Volts: {coils[1]}, true rms {volts.rms:.3g} V, "
        f"{average} {volts.readings[average].value:.3g} V."
    )
    shows = primary.readings["average-responding"].value
    off = shows / primary.rms - 1.0 if primary.rms else math.nan
    crest = primary.readings["true rms"]
    text = (
        f"The primary draws {spread([one.primary for one in three], 'A')} rms; an average-responding clamp shows "
        f"{shows:.4g} A, "
    )
    if abs(off) > WORTH_TELLING:
        text += (
            f"{abs(100.0 * off):.0f} % {'low' if off < 0.0 else 'high'}. Cause: it is scaled for a sine, and the crest "
            f"factor is {primary.crest_factor:.2f}, not 1.41. "
        )
    else:
        text += f"within {100.0 * WORTH_TELLING:g} % of it, since the current is close to a sine. "
    text += (
        f"True rms is right up to a crest factor of {CREST_LIMIT:g}."
        if crest.trusted
        else f"True rms is not to be trusted here either: {crest.reason}."
    )
    level = "note" if abs(off) > WORTH_TELLING or not crest.trusted else "good"
    return [Verdict("output_meters", "note", told), Verdict("primary_meters", level, text)]


def _power_verdict(own: Setting, watts: dict[str, Reading]) -> Verdict:
    """Whether the plug-in meter is right."""
    meter, display = watts["plug-in energy meter"], watts["clamp energy display"]
    power = own["plug.power.mean"]
    text = (
        f"A plug-in energy meter multiplies samples: {power:.0f} W at {own['plug.apparent_power']:.0f} VA, power "
        f"factor {own['plug.power_factor']:.2f}. "
    )
    text += "It is right here." if meter.trusted else f"Here its maker does not stand by it: {meter.reason}."
    text += (
        f" A display with a clamp alone would show {display.value:.0f} W, "
        f"{100.0 * (display.value / power - 1.0):+.0f} %, for it takes the current for a sine in phase."
    )
    return Verdict("energy_meter", "good" if meter.trusted else "note", text)


def _energy_verdict(own: Setting, energies: list[float], idle: float, duty: float) -> Verdict:
    """Kilowatt-hours."""
    work = spread([one / KILOWATT_HOUR for one in energies], "kWh")
    hour = "of arc" if has_arc(own.recording.supply.scenario) else "without a pause"
    return Verdict(
        "energy",
        "note",
        f"An hour {hour} takes {amount(HOUR * own['plug.power.mean'] / KILOWATT_HOUR, 'kWh')}; an hour of work at "
        f"{100.0 * duty:.0f} % duty {work}, {idle:.0f} W of it between welds. "
        f"{100.0 * _output_power(own) / own['plug.power.mean']:.0f} % of it arrive at the load.",
    )


def _assumptions(loaded: Scenario, duty: float) -> list[str]:
    """What every figure stands on."""
    return [
        f"Load: {told_load(loaded)}; settled, windings at the scenario's temperature.",
        "Moving coil: mean, so nothing on alternating current. Moving iron and true rms: rms, coupled to direct "
        f"current. Average-responding: 1.1107 times the mean magnitude. True rms is trusted up to a crest factor of "
        f"{CREST_LIMIT:g} (common practice).",
        f"Plug-in energy meter: {METER_RATING:g} A, peaks cut off at {CREST_LIMIT:g} times that (common practice).",
        f"Duty {100.0 * duty:.0f} %; between welds a supply with phase control takes nothing, one without idles "
        "unloaded; fan, feeder and gas valve are left out.",
        "Spread: mains -10, 0 and +10 %, same setting.",
        *told_crest(loaded),
    ]
