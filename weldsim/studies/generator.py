"""A generator as source: which rating runs the supply, what its voltage looks like, how far it sags at the strike."""

import dataclasses
import math
from collections.abc import Sequence

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.generator import LARGE_RATINGS, RATINGS, Generator, generator_inductance, generator_resistance
from weldsim.parts.mains import crest_voltage
from weldsim.runs.commands import with_dial
from weldsim.runs.generator_runs import Period, step_of_load
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Answer, Number, Verdict, amount, percent, spread
from weldsim.studies.operating import (
    Setting,
    distortion,
    firing_verdicts,
    has_arc,
    operate,
    plug_crest,
    told_crest,
    told_load,
    welding,
)
from weldsim.studies.progress import Progress, silent

MARGIN = 1.25  # of the apparent power, for the sag at strikes and a hot day (common practice)
LOW_DISTORTION = 0.08  # of the voltage: what EN 50160 allows on public mains
KEPT = 0.95  # of the output that the mains give
STEP = 3.0  # [s] followed after the load comes on
BACK = 0.03  # of the rated voltage: within that it has recovered
SET_VOLTAGES = (0.9, 1.0, 1.1)


@dataclass(frozen=True)
class Driven:
    """A supply on a generator, settled."""

    generator: Generator
    setting: Setting
    emf: float
    excitation: float  # both over the rated voltage

    @property
    def load(self) -> float:
        """Apparent power over the rating."""
        return self.setting["plug.apparent_power"] / self.generator.rating

    def carries(self, on_mains: Setting) -> bool:
        """Whether it runs the supply: within its rating and its regulator, with the output of the mains."""
        within = self.load * MARGIN <= 1.0 and self.excitation < self.generator.ceiling
        return within and self.setting.current >= KEPT * on_mains.current


def ask(
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    rating: float | None = None,
    progress: Progress = silent,
) -> Answer:
    """One generator looked at closely, and a ladder of usual ratings.

    Parameters
    ----------
    scenario : Scenario
        Its [generator], or, without one, the least of the ladder that carries the supply.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.
    rating : float or None
        Rating of the generator, in place of the scenario's [VA].

    Returns
    -------
    Answer : rows "rating" (of the ladder) and "step" (period by period after the load comes on); runs "window".

    Raises
    ------
    QuestionError : a load that does not repeat with the mains; WiringError, SimulationError.
    """
    scenario = with_dial(scenario, dial)
    loaded = welding(scenario)
    if scenario.soft_start is not None:
        loaded = vary(loaded, {"soft_start": "absent"})
    asked = supply_of(loaded).delay(dial, delay)
    on_mains = operate(vary(loaded, {"generator": "absent"}), delay=asked)
    if on_mains.current <= 0.0:
        raise QuestionError("the supply gives no current at this setting", place="dial", advice="turn it up")
    ladder: list[Driven] = []
    for number, size in enumerate((*RATINGS, *LARGE_RATINGS)):
        if number >= len(RATINGS) and any(one.carries(on_mains) for one in ladder):
            break
        ladder.append(driven(_on(loaded, _sized(scenario, size)), asked))
        progress(min(number + 1, len(RATINGS)), len(RATINGS), "generators")
    needed = next((one for one in ladder if one.carries(on_mains)), None)
    chosen = _chosen(scenario, rating, needed)
    supply = _on(loaded, chosen)
    own = [driven(supply, asked, voltage=step) for step in SET_VOLTAGES]
    shown = driven(supply, asked, signals=("plug.voltage", "primary.current"))
    steps = step_of_load(supply, delay=asked, duration=STEP)
    return Answer(
        "generator",
        scenario,
        _numbers(scenario, shown, on_mains, ladder, steps),
        _verdicts(own, on_mains, ladder, steps),
        _assumptions(loaded),
        rows=[*(_rating_row(one, on_mains) for one in ladder), *(_step_row(supply, one) for one in steps)],
        runs={"window": shown.setting.recording.run},
    )


def _sized(scenario: Scenario, rating: float) -> Generator:
    """The scenario's kind of generator at another rating, its impedance by that rating."""
    kind = scenario.generator or Generator(rating=rating)
    return dataclasses.replace(kind, rating=rating, resistance=None, inductance=None)


def _chosen(scenario: Scenario, rating: float | None, needed: Driven | None) -> Generator:
    """The generator that is looked at closely."""
    if rating is not None:
        return _sized(scenario, rating)
    if scenario.generator is not None:
        return scenario.generator
    return needed.generator if needed is not None else _sized(scenario, LARGE_RATINGS[-1])


def _on(loaded: Scenario, generator: Generator) -> Scenario:
    """The scenario on a generator."""
    return vary(loaded, {"generator": generator})


def driven(supply: Scenario, delay: float | None, *, voltage: float = 1.0, signals: Sequence[str] = ()) -> Driven:
    """The supply settled on its generator; ``voltage`` is what the regulator is set to, over the rated voltage."""
    generator = supply.generator
    assert generator is not None
    setting = operate(supply, delay=delay, mains_factor=voltage, signals=signals)
    settled = setting.recording.settled
    assert settled is not None
    emf = settled.source_factor / voltage
    return Driven(generator, setting, emf, emf + generator.sag * setting["plug.apparent_power"] / generator.rating)


def _dip(steps: Sequence[Period]) -> tuple[float, float]:
    """How far the terminal voltage falls, and when it is back for good [1, s]; infinity where it is not."""
    deepest = min(one.plug for one in steps)
    low = [one.time for one in steps if one.plug < 1.0 - BACK]
    back = 0.0 if not low else math.inf if low[-1] >= steps[-1].time else low[-1]
    return 1.0 - deepest, back


def _numbers(
    scenario: Scenario, own: Driven, on_mains: Setting, ladder: Sequence[Driven], steps: Sequence[Period]
) -> dict[str, Number]:
    """The generator looked at, the mains beside it, and what the ladder says."""
    mains, setting = scenario.mains, own.setting
    dip, back = _dip(steps)
    needed = next((one.generator.rating for one in ladder if one.carries(on_mains)), math.nan)
    clean = next((one.generator.rating for one in ladder if _distorted(one) <= LOW_DISTORTION), math.nan)
    return {
        "generator.rating": Number(own.generator.rating, "VA"),
        "generator.rating.needed": Number(needed, "VA"),
        "generator.rating.low_distortion": Number(clean, "VA"),
        "generator.resistance": Number(generator_resistance(own.generator, voltage=mains.voltage), "ohm"),
        "generator.inductance": Number(
            generator_inductance(own.generator, voltage=mains.voltage, frequency=mains.frequency), "H"
        ),
        "generator.load": Number(own.load, "1"),
        "generator.emf": Number(own.emf, "1"),
        "generator.excitation": Number(own.excitation, "1"),
        "generator.dip": Number(dip, "1"),
        "generator.recovery_time": Number(back, "s"),
        f"output.current.{setting.kind}": Number(setting.current, "A"),
        f"output.voltage.{setting.kind}": Number(setting.voltage, "V"),
        "primary.current.rms": Number(setting.primary, "A"),
        "primary.current.peak": Number(setting["primary.current.peak"], "A"),
        "plug.voltage.rms": Number(setting["plug.voltage.rms"], "V"),
        "plug.voltage.peak": Number(plug_crest(setting), "V"),
        "plug.voltage.thd": Number(_distorted(own), "1"),
        "plug.power.mean": Number(setting["plug.power.mean"], "W"),
        "plug.apparent_power": Number(setting["plug.apparent_power"], "VA"),
        "plug.power_factor": Number(setting["plug.power_factor"], "1"),
        f"on_mains.output.current.{on_mains.kind}": Number(on_mains.current, "A"),
        "on_mains.plug.apparent_power": Number(on_mains["plug.apparent_power"], "VA"),
        "on_mains.plug.voltage.thd": Number(
            math.nan if _cannot_tell(scenario) else distortion(on_mains, "plug.voltage"), "1"
        ),
    }


def _is_stiff(scenario: Scenario) -> bool:
    """Whether the mains have no impedance, so that no current can do anything to their voltage."""
    return scenario.mains.resistance == 0.0 and scenario.mains.inductance == 0.0


def _cannot_tell(scenario: Scenario) -> bool:
    """Whether a distortion on these mains would be none by lack of data: no impedance, no harmonics of others."""
    return _is_stiff(scenario) and not scenario.mains.background


def _distorted(one: Driven) -> float:
    return distortion(one.setting, "plug.voltage")


def _rating_row(one: Driven, on_mains: Setting) -> dict:
    """One rating of the ladder."""
    return {
        "kind": "rating",
        "rating": one.generator.rating,
        "output_current": one.setting.current,
        "plug_voltage": one.setting["plug.voltage.rms"],
        "plug_peak": plug_crest(one.setting),
        "plug_thd": _distorted(one),
        "apparent_power": one.setting["plug.apparent_power"],
        "load": one.load,
        "excitation": one.excitation,
        "carries": one.carries(on_mains),
    }


def _step_row(supply: Scenario, one: Period) -> dict:
    """One period after the load has come on."""
    return {
        "kind": "step",
        "time": one.time,
        "excitation": one.excitation,
        "emf": one.emf,
        "plug_voltage": one.plug * supply.mains.voltage,
        "output_current": one.current,
        "primary_rms": one.primary,
    }


def _verdicts(
    own: Sequence[Driven], on_mains: Setting, ladder: Sequence[Driven], steps: Sequence[Period]
) -> list[Verdict]:
    """Rating, distortion, sag, output."""
    firing = [
        dataclasses.replace(one, text=one.text.replace("mains", "set voltage"))
        for one in firing_verdicts([one.setting for one in own])
    ]
    return [
        *firing,
        _rating_verdict(own, on_mains, ladder),
        _shape_verdict(own, on_mains, ladder),
        _sag_verdict(own[1], steps),
    ]


def _rating_verdict(own: Sequence[Driven], on_mains: Setting, ladder: Sequence[Driven]) -> Verdict:
    """Which generator carries the supply."""
    one = own[1]
    needed = next((each for each in ladder if each.carries(on_mains)), None)
    most = ladder[-1].generator.rating / 1e3
    least = f"{needed.generator.rating / 1e3:g} kVA" if needed is not None else f"more than {most:g} kVA"
    loads = spread([each.setting["plug.apparent_power"] / 1e3 for each in own], "kVA")
    gives = spread([each.setting.current for each in own], "A")
    rated = f"{one.generator.rating / 1e3:g}"
    article = "an" if rated.startswith(("8", "11", "18")) else "a"
    carried = f"The least usual rating that carries it with a quarter in hand is {least}."
    if one.carries(on_mains) and (needed is None or needed.generator.rating > one.generator.rating):
        carried = "It carries that with a quarter in hand."
    where = article.capitalize() if one.setting.delay is None else f"At {one.setting.delay:.0f} deg {article}"
    text = (
        f"{where} {rated} kVA generator is asked for {loads.replace('mains', 'set voltage')} "
        f"at a power factor of {one.setting['plug.power_factor']:.2f} and gives "
        f"{gives.replace('mains', 'set voltage')} at the output, against {amount(on_mains.current, 'A')} on the "
        f"mains. {carried} Cause: copper and regulator feel the volt-amperes, not the watts."
    )
    if needed is None and ladder[-1].setting.current < KEPT * on_mains.current:
        falls = f"even {most:g} kVA give {amount(ladder[-1].setting.current, 'A')}"
        text += f" The output falls short: {falls}, {100.0 * KEPT:.0f} % of that on the mains are asked for."
    level = "good" if one.carries(on_mains) else "fault" if one.load > 1.0 or not _regulates(one) else "note"
    if not _regulates(one):
        text += f" Its regulator stands at its ceiling of {one.generator.ceiling:g}: the voltage cannot be held."
    return Verdict("rating", level, text)


def _regulates(one: Driven) -> bool:
    """Whether the regulator has something left, where there is one."""
    return one.generator.regulator == "none" or one.excitation < one.generator.ceiling - 1e-3


def _shape_verdict(own: Sequence[Driven], on_mains: Setting, ladder: Sequence[Driven]) -> Verdict:
    """Distortion at the terminals."""
    one = own[1]
    clean = next((each.generator.rating for each in ladder if _distorted(each) <= LOW_DISTORTION), None)
    where = (
        f"{clean / 1e3:g} kVA keep" if clean is not None else f"not even {ladder[-1].generator.rating / 1e3:g} kVA keep"
    )
    factors = spread([100.0 * _distorted(each) for each in own], "%").replace("mains", "set voltage")
    supplied = on_mains.recording.supply.scenario
    crest = crest_voltage(supplied.mains)
    beside = (
        "beside nothing on the mains, which this scenario gives without impedance (mains.resistance, mains.inductance)"
        if _cannot_tell(supplied)
        else f"against {percent(distortion(on_mains, 'plug.voltage'))} on the mains"
    )
    return Verdict(
        "distortion",
        "good" if _distorted(one) <= LOW_DISTORTION else "note",
        f"Voltage at its terminals: {one.setting['plug.voltage.rms']:.4g} V rms with crests of "
        f"{plug_crest(one.setting):.3g} V (a clean sine has {crest:.3g} V), distortion {factors}, {beside}; {where} "
        "it below "
        f"{100.0 * LOW_DISTORTION:g} %, what EN 50160 allows on public mains. Cause: a current that is no sine meets "
        "the generator's own inductance. Lamps, drives and electronics on the same generator see all of it.",
    )


def _sag_verdict(one: Driven, steps: Sequence[Period]) -> Verdict:
    """The dip when the load comes on, and the rise when it goes."""
    dip, back = _dip(steps)
    level = "good" if dip < 0.1 else "note" if dip < 0.25 else "fault"
    scenario = one.setting.recording.supply.scenario
    arc = has_arc(scenario)
    work = "charge" if scenario.load is not None and scenario.load.kind == "battery" else "weld"
    begins, each = (
        ("while the arc must strike", "dip transfer and each tack") if arc else (f"as the {work} begins", work)
    )
    falls = f"When the load comes on the voltage falls by {percent(dip)}"
    if one.generator.regulator == "none":
        repeats = f"Each {'tack' if arc else work} repeats it: lamps on it flicker."
        text = f"{falls} and stays there, for want of a regulator. {repeats}"
        return Verdict("sag", level, text)
    lost = steps[-1].current - min(step.current for step in steps[2:])
    returns = "does not come back within 3 %" if math.isinf(back) else f"is back within 3 % after {back:.2g} s"
    return Verdict(
        "sag",
        level,
        f"{falls} and {returns}; the output is up to {amount(max(lost, 0.0), 'A', digits=2)} below what it settles at, "
        f"just {begins}. When the {work} stops, the regulator still gives {percent(one.excitation - 1.0)} too much for "
        f"a moment. Each {each} repeats it: lamps on it flicker.",
    )


def _assumptions(loaded: Scenario) -> list[str]:
    """What every figure stands on."""
    lines = [
        f"Load: {told_load(loaded)}; settled, windings at the scenario's temperature; the lead to the plug as in the "
        "file.",
        "Generator: emf behind 5.7 % resistance and 8.9 % reactance of its rated impedance unless given, a sag of "
        "the emf under load, an integrating regulator that sees the rms at the terminals; all common practice, no "
        "published source. Engine speed is held; its own harmonics are left out.",
        f"Carries: {MARGIN:g} times the volt-amperes within the rating, regulator below its ceiling, at least "
        f"{100.0 * KEPT:.0f} % of the output on the mains. No allowance for duty: small sets are rated continuously.",
        "The delay counts from the zero crossing of the emf; a detector at the distorted terminals fires a little "
        "apart from it.",
        "Spread: the regulator set to -10, 0 and +10 % of the rated voltage. Step of load: from rest at a zero "
        "crossing, core as the scenario starts.",
        *told_crest(loaded),
    ]
    if _is_stiff(loaded):
        lines.append(
            "The mains beside it have no impedance, since the scenario gives none: the output on the mains is the most "
            "that any could give."
        )
    if loaded.generator is not None:
        lines.append("The ladder of ratings keeps the scenario's kind of generator, with impedance by rating.")
    return lines
