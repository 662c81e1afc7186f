"""One settled setting of a supply, a dial gone through, and the setting that gives a wanted output."""

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.commands import asked_delay, with_dial
from weldsim.runs.firing import firing_of
from weldsim.runs.generator_runs import settle_fed
from weldsim.runs.perform import Recording, record
from weldsim.runs.steady import MOST_PERIODS
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Verdict, spread

FIGURES = ("output.current", "output.voltage", "primary.current", "plug.voltage")
GRID = tuple(round(0.05 * step, 2) for step in range(21))  # of the dial
FEW_PERIODS = 26  # after which a supply that misfires is taken as one that never repeats
SETTLED_PERIODS, HUNTING_PERIODS = 2.0, 25.0  # looked at, of a state that repeats and of one that does not
NEAR = 1e-4  # of the wanted value: a dial nobody can set closer
CLOSE = 2e-3  # of the wanted value: what is farther off when the search ends lies beside a jump
SAME = 1e-5  # of the dial: settings that nobody can tell apart
ORDERS = tuple(range(1, 41))  # harmonics that distortion counts, as IEC 61000-3-2 does
MISFIRES = 0.05  # share of half cycles missed that is more than a stray one
MAINS_STEPS = (0.9, 1.0, 1.1)  # the spread every verdict states
CREST_SAMPLES = 10_000  # per mains period
LINES = ("load line", "arc line")  # loads on which volts at the same amps mean something
ARCS = (*LINES, "shorted arc", "wire")  # loads that stand for an arc


@dataclass(frozen=True)
class Figures:
    """What one setting gives, settled: exact figures [SI] by their public names.  Plain data, for other processes."""

    dial: float | None
    delay: float | None  # [deg]
    figures: Mapping[str, float]
    missed: float | None  # share of half cycles in which the phase control misfires; None without one
    early: float  # share begun before their gate was due, counted in ``missed``
    repeats: bool
    kind: str  # which statistic the output is told in: "mean" behind a rectifier, else "rms"

    def __getitem__(self, name: str) -> float:
        """One figure."""
        return self.figures[name]

    @property
    def current(self) -> float:
        """Output current, its mean or its rms [A]."""
        return self.figures[f"output.current.{self.kind}"]

    @property
    def voltage(self) -> float:
        """Output voltage likewise [V]."""
        return self.figures[f"output.voltage.{self.kind}"]

    @property
    def primary(self) -> float:
        """Primary current, rms [A]."""
        return self.figures["primary.current.rms"]


@dataclass(frozen=True)
class Setting(Figures):
    """One setting with the run behind its figures."""

    recording: Recording

    def bare(self) -> Figures:
        """The figures alone."""
        return Figures(self.dial, self.delay, self.figures, self.missed, self.early, self.repeats, self.kind)


Some = TypeVar("Some", bound=Figures)


def has_dial(scenario: Scenario) -> bool:
    """Whether there is a knob for the output, whatever circuit it turns."""
    return scenario.phase_control is not None


def at_single_dial(scenario: Scenario, dials: Sequence[float] | None) -> Scenario:
    """The scenario with its dial where it was asked for, if that is a single setting; else as it is."""
    if not dials or len(set(dials)) > 1 or not has_dial(scenario):
        return scenario
    return vary(scenario, {"phase_control.dial": dials[0]})


def told_backlash(scenario: Scenario) -> list[str]:
    """What is to be said of a dial whose circuit makes the delay; nothing of others."""
    if scenario.phase_control is None or scenario.phase_control.dial_kind != "rc-diac":
        return []
    return ["An RC-and-diac dial has backlash: turned down from more it gives another output than from rest, as here."]


def told_setting(scenario: Scenario, dial: float | None, angle: float | None) -> list[str]:
    """At which dial, asked for or the scenario's own, and which firing delay [deg] figures stand; without one nothing.

    >>> from weldsim.scenario.reading import read
    >>> shed = read("toroid_shed")
    >>> told_setting(shed, 0.6, 74.0), told_setting(shed, None, 75.0)
    (['Setting: dial 60 %, fired at 74 deg.'], ['Setting: fired at 75 deg.'])
    """
    control = scenario.phase_control
    if control is None:
        return []
    own = dial is None and angle == asked_delay(scenario, None, None)
    at = control.dial if own else dial
    told = [] if at is None else [f"dial {100.0 * at:.3g} %{', as the scenario has it' if own else ''}"]
    told += [] if angle is None else [f"fired at {angle:.3g} deg"]
    return [f"Setting: {', '.join(told)}."]


def kept_over_the_mains(scenario: Scenario, delay: float | None) -> str:
    """What stays the same where the mains rise and fall: a delay, or a dial whose circuit then makes another one."""
    circuit = delay is None and scenario.phase_control is not None and scenario.phase_control.dial_kind == "rc-diac"
    return "dial (at other volts its circuit fires at another angle)" if circuit else "firing delay"


def welding(scenario: Scenario) -> Scenario:
    """The scenario on a load that repeats with the mains: its own, or the conventional line of MIG in its place."""
    load = scenario.load
    if load is not None and load.kind in (*LINES, "resistor", "battery", "short"):
        return scenario
    return with_load(scenario, {"load.kind": "load line", "load.process": "MIG"})


def has_arc(scenario: Scenario) -> bool:
    """Whether an arc stands at the output, as far as the scenario tells: its wire, or a load that stands for one."""
    return scenario.wire is not None or (scenario.load is not None and scenario.load.kind in ARCS)


def with_load(scenario: Scenario, changes: dict[str, object]) -> Scenario:
    """The scenario with another load in place of its own."""
    bare = vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario
    return vary(bare, changes)


def told_load(scenario: Scenario) -> str:
    """The load that figures stand on, in words."""
    load = welding(scenario).load
    assert load is not None
    if load.kind == "load line":
        return f"the conventional load line of {load.process} (IEC 60974-1); real short arcs lie below it"
    return {"arc line": "the scenario's arc line", "short": "the scenario's short"}.get(
        load.kind, f"the scenario's {load.kind}"
    )


def operate(
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    mains_factor: float = 1.0,
    signals: Sequence[str] = (),
) -> Setting:
    """Settle one setting and read it; one that misfires and has not settled soon is looked at for longer instead."""
    scenario = with_dial(scenario, dial)
    asked = supply_of(scenario).delay(dial, delay)
    found = _operated(scenario, (dial, asked), mains_factor=mains_factor, signals=signals, patience=FEW_PERIODS)
    if not found.repeats and not found.missed:
        found = _operated(scenario, (dial, asked), mains_factor=mains_factor, signals=signals, patience=MOST_PERIODS)
    return found


def _operated(
    scenario: Scenario,
    asked: tuple[float | None, float | None],
    *,
    mains_factor: float,
    signals: Sequence[str],
    patience: int,
) -> Setting:
    supply, (dial, delay) = supply_of(scenario), asked
    settled = settle_fed(supply, delay=delay, mains_factor=mains_factor, patience=patience)
    recording = record(
        scenario,
        delay=delay,
        start="steady",
        signals=signals,
        figures=FIGURES,
        duration=(SETTLED_PERIODS if settled.periodic else HUNTING_PERIODS) * supply.period,
        mains_factor=mains_factor,
        settled=settled,
    )
    firing = firing_of(recording, reasons=False)
    missed = None if firing is None else firing.misfired / firing.half_cycles
    early = 0.0 if firing is None else firing.early / firing.half_cycles
    kind = "mean" if scenario.rectifier is not None else "rms"
    return Setting(dial, delay, _figures(recording), missed, early, settled.periodic, kind, recording)


def _figures(recording: Recording) -> dict[str, float]:
    """Exact figures of the window: statistics of the four signals, powers and power factors."""
    figures = {name: value for name, (value, _) in recording.run.table.items()}
    integrals = recording.integrals
    current = figures["primary.current.rms"]
    figures["primary.current.peak"] = max(abs(figures["primary.current.min"]), abs(figures["primary.current.max"]))
    figures["output.current.ripple"] = figures["output.current.max"] - figures["output.current.min"]
    for place, voltage in (("primary", "mains.voltage"), ("plug", "plug.voltage")):
        power = integrals.product(voltage, "primary.current") / integrals.length
        apparent = integrals.rms(voltage) * current
        figures |= {
            f"{place}.power.mean": power,
            f"{place}.apparent_power": apparent,
            f"{place}.power_factor": power / apparent if apparent > 0.0 else math.nan,
        }
    return figures


def plug_crest(setting: Setting) -> float:
    """Largest magnitude of the voltage at the plug [V].

    Without a snubber the model has no capacitance where the device breaks off its holding current: the mains inductance
    throws a spike of nanoseconds there, as high as the resistance of the blocked device makes it, that no real circuit
    has and no instrument would see.  Then the crest is that of samples some 2 us apart.
    """
    control, recording = setting.recording.supply.scenario.phase_control, setting.recording
    exact = max(abs(setting["plug.voltage.min"]), abs(setting["plug.voltage.max"]))
    if control is None or control.snubber_capacitance is not None:
        return exact
    begin, end = recording.window
    count = round((end - begin) / recording.supply.period * CREST_SAMPLES)
    samples = recording.trace.sample(["plug.voltage"], begin, spacing=(end - begin) / count, count=count)[0]
    return float(np.abs(samples).max())


def told_crest(scenario: Scenario) -> list[str]:
    """What is left out of a crest at the plug, where anything is."""
    control = scenario.phase_control
    if control is None or control.snubber_capacitance is not None:
        return []
    return [
        "No snubber: spikes of nanoseconds at the plug, where the switch breaks off its holding current without any "
        "capacitance beside it, are left out of the crest."
    ]


def distortion(setting: Setting, name: str) -> float:
    """Total harmonic distortion of a signal, orders 2 to 40 over the fundamental [1]."""
    sizes = harmonics(setting, name)
    return float(np.sqrt(np.sum(sizes[1:] ** 2)) / sizes[0]) if sizes[0] > 0.0 else math.nan


def harmonics(setting: Setting, name: str) -> np.ndarray:
    """Harmonics of orders 1 to 40 of a signal, rms."""
    begin, end = setting.recording.window
    found = setting.recording.trace.fourier([name], ORDERS, begin=begin, end=end)
    return np.abs(found[0]) / math.sqrt(2.0)


def over_the_mains(scenario: Scenario, *, dial: float | None = None, delay: float | None = None) -> list[Setting]:
    """The same setting at mains -10, 0 and +10 %; the one in the middle, which studies show, with its waveforms."""
    return [
        operate(scenario, dial=dial, delay=delay, mains_factor=step, signals=FIGURES if step == 1.0 else ())
        for step in MAINS_STEPS
    ]


def firing_verdicts(over: Sequence[Setting]) -> list[Verdict]:
    """What a setting that misfires makes of the figures told of it; nothing where all half cycles are the gate's.

    ``over`` is the setting at mains -10, 0 and +10 %.
    """
    missed = [one.missed or 0.0 for one in over]
    if not any(missed):
        return []
    causes, shares = [], spread([100.0 * one for one in missed], "%")
    if any(one.missed > one.early for one in over if one.missed):
        causes.append("the pulse ends before the current latches, or lies where the other half cycle begins")
    if any(one.early for one in over):
        causes.append("the gate is driven past the zero crossing and fires the next half cycle at once")
    return [
        Verdict(
            "firing",
            "fault" if missed[1] > MISFIRES else "note",
            f"The phase control {misfiring(over, f'{shares} of the half cycles')} at this "
            f"setting: figures of it are those of a supply that misfires. Cause: {'; or '.join(causes)}; `preview` "
            "tells which, and what helps. Assumed: its latching current and pulse as written.",
        )
    ]


def misfiring(settings: Sequence[Figures], which: str = "half cycles") -> str:
    """What a phase control does with half cycles where it misfires.

    >>> misfiring([])
    'misses half cycles'
    """
    early = any(one.early for one in settings)
    if not early:
        return f"misses {which}"
    if any(one.missed > one.early for one in settings if one.missed):
        return f"misses {which} or fires them before their gate is due"
    return f"fires {which} before their gate is due"


def sweep(scenario: Scenario, dials: Sequence[float] = GRID, *, mains_factor: float = 1.0) -> list[Setting]:
    """The dial gone through, from the least on; the one setting there is where it cannot be set."""
    if not has_dial(scenario):
        return [operate(scenario, mains_factor=mains_factor)]
    return [operate(scenario, dial=dial, mains_factor=mains_factor) for dial in dials]


def sound(settings: Sequence[Some]) -> list[Some]:
    """Those of which every half cycle is its gate's: none missed, none begun before it was due."""
    return [one for one in settings if not one.missed]


def found_by(
    scenario: Scenario,
    wanted: float,
    *,
    measure: Callable[[Setting], float],
    among: Sequence[Setting],
    mains_factor: float = 1.0,
) -> Setting | None:
    """The setting whose figure is the wanted one, between two neighbours of a sweep; None where there are none.

    The first that will do, by false position.  Neighbours that misfire bracket nothing, and a jump past the
    wanted value (as that of a dial that snaps on) is not one that does.
    """
    for low, high in itertools.pairwise(among):
        if sound((low, high)) == [low, high] and (measure(low) - wanted) * (measure(high) - wanted) <= 0.0:
            best = closest_between(scenario, wanted, measure=measure, pair=(low, high), mains_factor=mains_factor)
            if is_close(best, wanted, measure=measure):
                return best
    return None


def is_close(setting: Setting, wanted: float, *, measure: Callable[[Setting], float]) -> bool:
    """Whether a setting is sound and gives what is wanted, rather than lying beside a jump."""
    return not setting.missed and abs(measure(setting) - wanted) <= CLOSE * abs(wanted)


def closest_between(
    scenario: Scenario,
    wanted: float,
    *,
    measure: Callable[[Setting], float],
    pair: tuple[Setting, Setting],
    mains_factor: float = 1.0,
) -> Setting:
    """The setting between two that bracket a figure, whichever is the larger, that comes nearest to it."""
    low, high = pair
    errors = [measure(low) - wanted, measure(high) - wanted]
    while True:
        best = low if abs(errors[0]) <= abs(errors[1]) else high
        assert low.dial is not None
        assert high.dial is not None
        if abs(measure(best) - wanted) <= NEAR * abs(wanted) or high.dial - low.dial < SAME:
            return best
        share = min(max(errors[0] / (errors[0] - errors[1]), 0.1), 0.9)
        middle = operate(scenario, dial=low.dial + share * (high.dial - low.dial), mains_factor=mains_factor)
        error = measure(middle) - wanted
        if error * errors[0] > 0.0:
            low, errors[0] = middle, error
        else:
            high, errors[1] = middle, error
