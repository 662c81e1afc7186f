"""Preview: what comes out at a dial setting, and what the supply and its mains feel of it."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from weldsim.analysis.meters import average_responding
from weldsim.engine.trace import Integrals
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.mains import crest_voltage
from weldsim.runs.commands import with_dial
from weldsim.runs.files import save_run
from weldsim.runs.firing import Firing, firing_of
from weldsim.runs.magnitude import mean_magnitude
from weldsim.runs.perform import Recording, record, settled_start
from weldsim.runs.streaming import perform_to_file
from weldsim.runs.stress import false_firings, varistor_stress, voltage_rates
from weldsim.runs.supply import supply_of
from weldsim.runs.switch_on import largest_from_rest
from weldsim.runs.under_way import FROM_REST
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of
from weldsim.scenario.left_out import left_out
from weldsim.scenario.vary import vary
from weldsim.studies.answer import LEVELS, Answer, Number, Verdict
from weldsim.studies.gate_pulse import gate_pulse
from weldsim.studies.no_load import SNUBBER, highest_without_load
from weldsim.studies.operating import kept_over_the_mains, told_backlash, told_setting
from weldsim.studies.preview_arc import longest_gap
from weldsim.studies.preview_firing import MISSED
from weldsim.studies.preview_losses import part_rows, power_verdicts
from weldsim.studies.preview_off import trigger_off
from weldsim.studies.preview_verdicts import verdicts_of

HELD = 5.0  # [s] of a long run that stay in memory, for the picture; a window may ask for more
APPROACH = 0.3  # [s] of switch-on shown, more where the largest current comes later
NEARLY, SHOWN_AFTER = 0.98, 2.0  # of it: as good as seen; periods that are shown behind it
_RATED = ("phase_control.", "rectifier.diode_")  # devices whose currents have a rating
KICK = 1.5  # times the crest of the mains: peaks above it are told
KICKS_FROM = (
    68.0  # [V] the lowest limit of IEC 60974-1: above it a kick of the core is told apart from the supply's own
)
MAINS_STEPS = (0.9, 1.1)  # the spread every verdict states: mains -10 % and +10 %


@dataclass(frozen=True)
class Preview:
    """Everything the verdicts look at."""

    scenario: Scenario
    recording: Recording
    numbers: dict[str, Number]
    firing: Firing | None
    spread: dict[str, tuple[float, float]]  # number -> its value at mains -10 % and +10 %
    open_circuit: dict[str, float]  # highest voltage without load at mains +10 %: "output", "rms", "bank", "snubbed"


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    start: str | None = None,
    duration: float | None = None,
    window: float | None = None,
    gate: bool = False,
    save: str | Path | None = None,
    command: str = "preview",
    draw: Callable[[Answer], None] | None = None,
) -> Answer:
    """Simulate one setting and answer with figures, verdicts and the runs behind them.

    Parameters
    ----------
    scenario : Scenario
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.
    start : str or None
        "steady" (the default where the load repeats with the mains) or "rest".
    duration, window : float or None
        Span simulated and its last part, of which the figures speak [s].
    gate : bool
        Also look for the shortest gate pulse with which no half cycle is missed.
    save : path or None
        Run file; a run from rest, or a long one, goes there while it is simulated, in constant memory, and what is
        recorded stays as segments if it is broken off.
    command : str
        What the saved run says made it.
    draw : callable or None
        Given the answer as soon as it has what its picture shows: the runs, and the exact figures of the window.

    Returns
    -------
    Answer : runs "window" (the recorded part) and "approach" (from switch-on).

    Raises
    ------
    QuestionError : a dial or a delay without phase control; WiringError, SimulationError
    """
    if scenario.phase_control is None and (dial is not None or delay is not None):
        raise QuestionError(
            "its output cannot be set by --dial or --delay",
            place="phase_control",
            advice="leave them out, or add a [phase_control] table",
        )
    start, scenario = start or "steady", with_dial(scenario, dial)
    supply = supply_of(scenario)
    settled = settled_start(supply, start, delay=supply.delay(dial, delay))
    if settled is not None and window is None and duration is not None and duration > HELD:
        window = HELD  # it repeats: more of it would only cost memory
    asked: dict[str, Any] = {"dial": dial, "delay": delay, "start": start, "duration": duration, "window": window}
    streamed = save is not None and (settled is None or (duration or 0.0) > HELD)
    if save is not None and streamed:
        perform_to_file(scenario, save, command=command, settled=settled, **asked)
    recording = record(scenario, keep=HELD, settled=settled, **asked)
    if save is not None and not streamed:
        save_run(replace(recording.run, provenance={**recording.run.provenance, "command": command}), save)
    approach, largest = _approach(scenario, recording, dial=dial, delay=delay)
    runs = {"window": recording.run, "approach": approach.run}
    if draw is not None:
        exact = {name: Number(*figure) for name, figure in recording.run.table.items()}
        draw(Answer("preview", scenario, exact, [], [], runs=runs))
    numbers = measured(recording)
    if settled is not None:  # it is what the approach leads to
        largest = max(largest, numbers["primary.current.peak"].value)
    numbers["switch_on.current.peak"] = Number(largest, "A")
    firing = firing_of(recording)
    numbers |= _device(recording, firing)
    numbers |= _varistor(recording) | _varistor(approach, place="switch_on.varistor", only=("energy.max",))
    preview = Preview(
        scenario, recording, numbers, firing, _spread(scenario, recording), _open_circuit(scenario, recording)
    )
    parts = part_rows(recording.run)
    found, tried = _tried(scenario, recording.delay, gate=gate)
    numbers |= found
    told = [*verdicts_of(preview), *tried, *power_verdicts(parts, scenario.load is not None)]
    return Answer(
        "preview",
        scenario,
        numbers,
        sorted(told, key=lambda one: -LEVELS.index(one.level)),
        told_setting(scenario, dial, recording.delay) + _assumptions(preview),
        rows=parts or None,
        runs=runs,
    )


def _tried(scenario: Scenario, delay: float | None, *, gate: bool) -> tuple[dict[str, Number], list[Verdict]]:
    """What runs of their own tell: the trigger let go, and where it is asked for the gate pulse needed."""
    numbers, verdicts = trigger_off(scenario)
    if gate:
        found, more = gate_pulse(scenario, delay=delay)
        numbers, verdicts = numbers | found, verdicts + more
    return numbers, verdicts


def _device(recording: Recording, firing: Firing | None) -> dict[str, Number]:
    """How the triac or the thyristors conduct, and how fast the voltage across them rises."""
    numbers: dict[str, Number] = {}
    if firing is not None:
        numbers["conduction.angle"] = Number(firing.conduction_angle, "deg")
        numbers["missed_half_cycles.count"] = Number(float(firing.missed), "1")
        numbers["half_cycles.count"] = Number(float(firing.half_cycles), "1")
    rates = voltage_rates(recording)
    if rates is not None:
        numbers["phase_control.voltage_rate.max"] = Number(rates.largest, "V/s")
        numbers["phase_control.voltage_rate.commutating"] = Number(rates.commutating, "V/s")
        numbers["phase_control.false_firings.count"] = Number(float(false_firings(recording)), "1")
    return numbers


def measured(recording: Recording) -> dict[str, Number]:
    """The exact figures of a recorded window, by their public names; those of missing parts are left out."""
    table, integrals = recording.run.table, recording.integrals
    numbers: dict[str, Number] = {}
    for name in ("output.current", "output.voltage"):
        if f"{name}.mean" in table:
            unit = table[f"{name}.mean"][1]
            numbers |= {
                f"{name}.{what}": Number(table[f"{name}.{what}"][0], unit) for what in ("mean", "rms", "min", "max")
            }
            numbers[f"{name}.ripple"] = Number(table[f"{name}.max"][0] - table[f"{name}.min"][0], unit)
    if "bank.voltage.mean" in table:
        numbers["bank.voltage.mean"] = Number(table["bank.voltage.mean"][0], "V")
        numbers["bank.voltage.max"] = Number(table["bank.voltage.max"][0], "V")
        numbers["bank.voltage.ripple"] = Number(table["bank.voltage.max"][0] - table["bank.voltage.min"][0], "V")
        numbers["bank.current.rms"] = Number(table["bank.current.rms"][0], "A")
    numbers |= _primary(recording, integrals)
    for flux in ("core.flux_linkage", "second_core.flux_linkage"):
        if f"{flux}.mean" in table:
            least, largest = table[f"{flux}.min"][0], table[f"{flux}.max"][0]
            numbers[f"{flux}.peak"] = Number(max(abs(least), abs(largest)), "V.s")
            numbers[f"{flux}.mean"] = Number(table[f"{flux}.mean"][0], "V.s")
    return numbers | longest_gap(recording) | _meters(recording, numbers)


def _primary(recording: Recording, integrals: Integrals) -> dict[str, Number]:
    """Current, power and power factor, at the ideal source and behind its impedance."""
    table = recording.run.table
    current = table["primary.current.rms"][0]
    begin, end = recording.window
    power = integrals.product("mains.voltage", "primary.current") / integrals.length
    at_plug = integrals.product("plug.voltage", "primary.current") / integrals.length
    third = recording.trace.fourier(["primary.current"], [3], begin=begin, end=end)[0, 0]
    return {
        "primary.current.rms": Number(current, "A"),
        "primary.current.peak": Number(
            max(abs(table["primary.current.min"][0]), abs(table["primary.current.max"][0])), "A"
        ),
        "primary.current.mean": Number(table["primary.current.mean"][0], "A"),
        "primary.current.harmonic_3": Number(float(abs(third)) / np.sqrt(2.0), "A"),
        "primary.power.mean": Number(power, "W"),
        "primary.power_factor": Number(_ratio(power, current * integrals.rms("mains.voltage")), "1"),
        "plug.power_factor": Number(_ratio(at_plug, current * integrals.rms("plug.voltage")), "1"),
    }


def _ratio(a: float, b: float) -> float:
    return a / b if b > 0.0 else float("nan")


def _meters(recording: Recording, numbers: dict[str, Number]) -> dict[str, Number]:
    """What instruments show: moving coil (mean), rectifier meter (1.1107 times the mean magnitude), true rms."""
    begin, end = recording.window
    result = {}
    for name in ("output.current", "output.voltage", "primary.current"):
        if f"{name}.rms" not in numbers:
            continue
        unit = numbers[f"{name}.rms"].unit
        rectified = mean_magnitude(recording.trace, name, begin=begin, end=end)
        result[f"{name}.moving_coil"] = Number(recording.run.table[f"{name}.mean"][0], unit)
        result[f"{name}.average_responding"] = Number(average_responding(rectified).value, unit)
        result[f"{name}.true_rms"] = numbers[f"{name}.rms"]
    return result


def _approach(
    scenario: Scenario, recording: Recording, *, dial: float | None, delay: float | None
) -> tuple[Recording, float]:
    """What is shown of the approach from rest, and the largest primary current of all of it [A].

    A run from rest is its own approach, to its end; that to a settled state is followed for as long as a run from rest
    is where nothing is said.  As much is shown as it takes to see nearly the largest, within what stays in memory.
    """
    length = FROM_REST if recording.settled is not None else recording.run.window[1]
    largest, instant = largest_from_rest(scenario, dial=dial, delay=delay, duration=length)
    wanted: dict[str, Any] = {"dial": dial, "delay": delay, "start": "rest", "figures": ["primary.current"]}
    shown = min(APPROACH, length)
    approach = record(scenario, duration=shown, window=shown, **wanted)
    table = approach.run.table
    if max(-table["primary.current.min"][0], table["primary.current.max"][0]) < NEARLY * largest:
        shown = min(instant + SHOWN_AFTER * recording.supply.period, HELD, length)
        approach = record(scenario, duration=shown, window=shown, **wanted)
    return approach, largest


def _varistor(recording: Recording, *, place: str = "varistor", only: tuple[str, ...] = ()) -> dict[str, Number]:
    """Peaks and heat of the varistor, all of them or only some; nothing without one."""
    stress = varistor_stress(recording)
    if stress is None:
        return {}
    numbers = {
        "voltage.peak": Number(stress.voltage, "V"),
        "current.peak": Number(stress.current, "A"),
        "energy.max": Number(stress.energy, "J"),
        "power.mean": Number(stress.power, "W"),
    }
    return {f"{place}.{name}": number for name, number in numbers.items() if not only or name in only}


def _spread(scenario: Scenario, recording: Recording) -> dict[str, tuple[float, float]]:
    """Output current, bank voltage, flux and rates of voltage at mains -10 % and +10 %, same delay."""
    found: dict[str, list[float]] = {}
    begin, end = recording.run.window
    settles = recording.settled is not None  # else the same run from rest again
    for step in MAINS_STEPS:
        other = record(
            scenario,
            delay=recording.delay,
            start="steady" if settles else "rest",
            signals=_watched(recording),
            figures=_watched(recording),
            mains_factor=step,
            duration=2.0 * recording.supply.period if settles else end,
            window=None if settles else end - begin,
            keep=None if settles else end - begin,
        )
        for name, (value, _) in other.run.table.items():
            found.setdefault(name, []).append(value)
        for name, number in _varistor(other).items():
            found.setdefault(name, []).append(number.value)
        firing = firing_of(other, reasons=False)
        if firing is not None and firing.half_cycles:
            found.setdefault(MISSED, []).append(firing.missed / firing.half_cycles)
        rates = voltage_rates(other)
        if rates is not None:
            found.setdefault("phase_control.voltage_rate.max", []).append(rates.largest)
            found.setdefault("phase_control.voltage_rate.commutating", []).append(rates.commutating)
    return {name: (values[0], values[1]) for name, values in found.items()}


def _watched(recording: Recording) -> list[str]:
    """Signals whose spread the verdicts state."""
    wanted = (
        "output.current",
        "output.voltage",
        "bank.voltage",
        "bank.current",
        "core.flux_linkage",
        "second_core.flux_linkage",
        "primary.current",
        "first_primary.current",
        "second_primary.current",
        "choke.current",
    )
    rated = [name for name in recording.run.signals if name.endswith(".current") and name.startswith(_RATED)]
    return [name for name in (*wanted, *rated) if name in recording.run]


def _open_circuit(scenario: Scenario, recording: Recording) -> dict[str, float]:
    """Highest voltages without load at mains +10 %, same delay; nothing where no transformer isolates the output."""
    if scenario.transformer is None:
        return {}
    found = highest_without_load(scenario, delay=recording.delay, mains_factor=MAINS_STEPS[1])
    control = scenario.phase_control
    if control is not None and control.snubber_capacitance is None and found["output"] > KICKS_FROM:
        other = highest_without_load(vary(scenario, SNUBBER), delay=recording.delay, mains_factor=MAINS_STEPS[1])
        found["snubbed"], found["snubbed_rms"] = other["output"], other["rms"]
    return found


def _assumptions(preview: Preview) -> list[str]:
    """What every figure stands on."""
    recording, scenario = preview.recording, preview.scenario
    lines = []
    if recording.settled is not None and recording.settled.periodic:
        if scenario.core is None:
            lines.append("Settled state: every mains period repeats the one before.")
        else:
            lines.append("Settled state reached from a demagnetised core; with hysteresis it need not be the only one.")
    elif recording.settled is not None:
        lines.append(
            f"No periodic state was found in {recording.settled.periods} mains periods: the figures are those of the "
            f"recorded window."
        )
    else:
        length = recording.run.window[1]
        span = recording.run.window[1] - recording.run.window[0]
        lines.append(f"Run from rest for {length:.3g} s; the figures speak of its last {span:.3g} s.")
    if scenario.load is not None and scenario.load.kind == "shorted arc":
        lines.append("The load does not repeat with the mains, so no settled state exists.")
    lines.append(
        f"Spread: the same figure at mains -10 % and +10 %, same {kept_over_the_mains(scenario, recording.delay)}."
    )
    lines.append(
        "Diodes and triac: threshold and slope, no reverse recovery; windings at the temperature of the scenario."
    )
    control = scenario.phase_control
    if control is not None and control.snubber_capacitance is None:
        lines.append(
            "No snubber: the rates of voltage across the switch are those of a circuit without any capacitance there, "
            "far beyond a real one; they say only that a snubber is needed to know." + _told_kick(recording)
        )
    lines += told_backlash(scenario)
    lines += [one.text for one in left_out(scenario)]
    lines.append("A model of the supply: it says nothing of bead, penetration, porosity or conformity with any rule.")
    return lines


def _told_kick(recording: Recording) -> str:
    """What an inductance makes of the last current that the device breaks off; nothing where it stays small."""
    table, scenario = recording.run.table, recording.supply.scenario
    peak = max(abs(table[f"phase_control.voltage.{end}"][0]) for end in ("min", "max"))
    if peak < KICK * crest_voltage(source_of(scenario)):
        return ""
    return (
        f" So is the peak of {peak:.3g} V across it, which shows at what lies behind it too: its holding current "
        "breaks off against its off-state resistance within less than a microsecond."
    )
