"""What the supply does to the mains, and the mains to it: harmonics, power factor, voltage at the plug, flicker."""

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np

from weldsim import __version__
from weldsim.analysis.limit_tables import first_failure
from weldsim.analysis.voltage_limits import against_iec_61000_3_3
from weldsim.engine.trace import Trace
from weldsim.errors import QuestionError
from weldsim.parts.mains import reference_impedance
from weldsim.runs.commands import with_dial
from weldsim.runs.mains_looks import Look, reference_plug, settled_look, swept
from weldsim.runs.mains_streams import Stream, dip_stream, press_stream, short_stream
from weldsim.runs.run import Run, stamp
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.mains_flicker import Minutes, cell_of, followed
from weldsim.studies.mains_numbers import (
    ORDERS,
    Emission,
    emission_of,
    limit_rows_of,
    notches,
    numbers_of,
    order_rows,
    reference_numbers,
)
from weldsim.studies.mains_spread import of_the_supply, spreads_of
from weldsim.studies.mains_verdicts import (
    background_verdict,
    emission_verdicts,
    flicker_verdicts,
    symmetry_verdicts,
    voltage_verdicts,
)
from weldsim.studies.mains_words import assumptions
from weldsim.studies.progress import Progress, silent

SHOWN = ("mains.voltage", "plug.voltage", "primary.current")
SHOWN_SAMPLES = 1000  # a period
PRESS_ON, PRESS_OFF = 0.8, 2.0  # [s] where only one of them is given

Setting = tuple[float | None, float | None]  # dial [1], delay [deg]


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dials: Sequence[float] = (),
    delays: Sequence[float] = (),
    sweep: int | None = None,
    seconds: float | None = None,
    minutes: int | None = None,
    on: float | None = None,
    off: float | None = None,
    feed: float | None = None,
    demand: float | None = None,
    seed: int = 1,
    progress: Progress = silent,
) -> Answer:
    """Harmonics against limits, power factor and voltage at the plug of one setting or several; flicker of a weld.

    Parameters
    ----------
    scenario : Scenario
    dials, delays : sequence of float
        Settings of the dial [1] or firing delays [deg]; the scenario's own dial without both.
    sweep : int or None
        So many settings, evenly from the least to the most.
    seconds, minutes : float or None
        How long a weld is simulated outright for flicker, and for groups while dips modulate the current.
    on, off : float or None
        Trigger held and let go [s]: spots or starts on the scenario's own load in place of dip transfer.
    feed : float or None
        Wire feed [m/s].
    demand : float or None
        Maximum demand load current of the customer [A]; the breaker's rating without it.
    seed : int
        Start of the random draws of the weld, or of the presses' phases.

    Returns
    -------
    Answer : rows "setting", "order" and "limit"; runs "window" and "record" (second by second).  With several
    settings the numbers are those of the one with the largest total harmonic current.

    Raises
    ------
    QuestionError : settings that contradict each other, or a weld without a wire; WiringError, SimulationError.
    """
    if scenario.mains.voltage == 0.0:
        raise QuestionError(
            "mains of no volts give nothing to judge", place="mains.voltage", advice="give the rated ones"
        )
    settings = _settings(scenario, dials, delays, sweep=sweep)
    if len(settings) == 1:
        scenario = with_dial(scenario, settings[0][0])
    length = _length(scenario, (seconds, minutes), on=on, off=off)
    if length is None:
        if feed is not None:
            raise QuestionError("nothing is fed without a weld", place="--feed", advice="add --seconds or --minutes")
        return _settled(scenario, settings, demand=demand)
    if len(settings) > 1:
        raise QuestionError("a weld has one setting", place="--dial or --delay", advice="give one of them")
    dial, delay = settings[0]
    if on is not None or off is not None:
        stream = press_stream(
            scenario,
            dial=dial,
            delay=delay,
            on=on or PRESS_ON,
            off=PRESS_OFF if off is None else off,
            seconds=length,
            seed=seed,
            cell=cell_of(scenario.mains.frequency),
        )
    elif scenario.load is not None and scenario.load.kind == "shorted arc":
        stream = short_stream(scenario, dial=dial, delay=delay, seconds=length)
    else:
        stream = dip_stream(scenario, dial=dial, delay=delay, feed=feed, seconds=length, seed=seed)
    return _welded(stream, demand=demand, progress=progress)


def _settings(
    scenario: Scenario, dials: Sequence[float], delays: Sequence[float], *, sweep: int | None
) -> list[Setting]:
    """The settings to go through."""
    if sum(bool(given) for given in (dials, delays, sweep)) > 1:
        raise QuestionError(
            "the dial sets the delay already", place="--dial, --delay, --sweep", advice="give one of them"
        )
    control = scenario.phase_control
    if (dials or sweep) and control is None:
        raise QuestionError(
            "its output cannot be set by --dial", place="phase_control", advice="leave --dial and --sweep out"
        )
    if delays and control is None:
        raise QuestionError("there is no phase control to delay", place="--delay", advice="leave it out")
    if sweep:
        return [(float(dial), None) for dial in np.linspace(0.0, 1.0, max(sweep, 2))]
    return [(dial, None) for dial in dials] or [(None, delay) for delay in delays] or [(None, None)]


def _length(
    scenario: Scenario, asked: tuple[float | None, int | None], *, on: float | None, off: float | None
) -> float | None:
    """How long to weld [s]; None where a settled state is asked for and exists."""
    seconds, minutes = asked
    if seconds is not None and minutes is not None:
        raise QuestionError("both tell the same", place="--seconds and --minutes", advice="give one of them")
    length = 60.0 * minutes if minutes is not None else seconds
    if length is None and (on is not None or off is not None or not supply_of(scenario).periodic):
        length = 600.0
    if length is not None and length < 2.0:
        raise QuestionError(
            f"{length:g} s are too short for flicker and for windows of 200 ms", place="--seconds", advice="ask for 2 s"
        )
    return length


def _settled(scenario: Scenario, settings: list[Setting], *, demand: float | None) -> Answer:
    """One settled setting, or the worst of several."""
    rows, chosen = [], settings[0]
    if len(settings) > 1:
        looks = swept(scenario, settings)
        found = [emission_of(look, scenario, demand=demand) for look in looks]
        rows = [_setting_row(one) for one in found]
        chosen = settings[int(np.argmax([np.linalg.norm(one.groups[1:]) for one in found]))]
    scenario = with_dial(scenario, chosen[0])
    look = settled_look(supply_of(scenario), dial=chosen[0], delay=chosen[1])
    emission = emission_of(look, scenario, demand=demand)
    numbers = numbers_of(emission) | _of_the_plug(look, scenario) | of_the_supply(look)
    reference = _reference(scenario, chosen, look)
    numbers |= reference_numbers(reference) | _clean(scenario, chosen) | _no_flicker()
    numbers |= {f"reference.{name}": number for name, number in _of_the_plug(reference, scenario).items()}
    spreads = spreads_of(scenario, look)
    limits, supplied = [*emission.verdicts(), *emission.demand_verdicts()], emission.supply_verdicts()
    verdicts = [
        *emission_verdicts(emission, limits, spreads),
        *voltage_verdicts(numbers, emission, failed=first_failure(supplied), spreads=spreads),
        *symmetry_verdicts(numbers, spreads),
        *background_verdict(numbers, bank=scenario.bank is not None),
    ]
    rows += order_rows(emission, reference.orders("plug", ORDERS)) + limit_rows_of([*limits, *supplied])
    return Answer(
        "mains",
        scenario,
        numbers,
        verdicts,
        assumptions(emission, settings=len(settings)),
        rows=rows,
        runs={"window": _window_run(scenario, look.trace, periods=look.periods)},
    )


def _welded(stream: Stream, *, demand: float | None, progress: Progress) -> Answer:
    """A weld or a train of presses, simulated from end to end."""
    scenario = stream.scenario
    minutes = followed(stream, progress=progress)
    if minutes.look is None:  # presses too short for a window: the settled state stands for them
        answer = _settled(scenario, [(None, stream.delay)], demand=demand)
        numbers, rows, verdicts, lines, runs = (
            dict(answer.numbers),
            list(answer.rows or []),
            list(answer.verdicts),
            list(answer.assumptions),
            dict(answer.runs),
        )
    else:
        emission = emission_of(minutes.look, scenario, demand=demand)
        numbers = numbers_of(emission) | _of_the_plug(minutes.look, scenario)
        reference = _rms_of_lines(
            reference_plug(minutes.look, scenario, reference_impedance(scenario.mains.frequency)), minutes.look
        )
        numbers["reference.plug.voltage.thd"] = Number(float(np.linalg.norm(reference[1:]) / reference[0]), "1")
        limits, supplied = [*emission.verdicts(), *emission.demand_verdicts()], emission.supply_verdicts()
        rows = order_rows(emission, reference) + limit_rows_of([*limits, *supplied])
        verdicts = [
            *emission_verdicts(emission, limits, {}),
            *voltage_verdicts(numbers, emission, failed=first_failure(supplied), spreads={}),
            *symmetry_verdicts(numbers, {}, settled=False),
        ]
        lines = assumptions(emission, settings=1, minutes=minutes)
        runs = {"window": _window_run(scenario, minutes.shown, periods=2)}
    numbers |= _flicker_numbers(minutes)
    rows += limit_rows_of(against_iec_61000_3_3(_judged(minutes)))
    if minutes.look is None:
        lines += assumptions(None, settings=1, minutes=minutes)
    runs["record"] = _record_run(minutes)
    return Answer("mains", scenario, numbers, [*flicker_verdicts(minutes), *verdicts], lines, rows=rows, runs=runs)


def _setting_row(emission: Emission) -> dict[str, Any]:
    """One setting of a sweep."""
    look, numbers = emission.look, numbers_of(emission)
    failed = first_failure([*emission.verdicts(), *emission.demand_verdicts()])
    wanted = ("thd", "tdd", "even", "harmonic_1", "harmonic_3", "harmonic_5", "harmonic_7", "crest_factor", "rms")
    return {
        "kind": "setting",
        "dial": look.dial,
        "delay": look.delay,
        "repeats": look.repeats,
        **{name: numbers[f"primary.current.{name}"].value for name in wanted},
        "power_factor": numbers["primary.power_factor"].value,
        "displacement_factor": numbers["primary.displacement_factor"].value,
        "plug_power_factor": numbers["plug.power_factor"].value,
        "plug_thd": numbers["plug.voltage.thd"].value,
        "power": look.source_power,
        "fails_first": None if failed is None else failed.quantity,
        "fails_standard": None if failed is None else failed.limit.standard,
    }


def _of_the_plug(look: Look, scenario: Scenario) -> dict[str, Number]:
    """Dents of the voltage at the plug."""
    mains = scenario.mains
    depth, area = notches(look, frequency=mains.frequency, crest=np.sqrt(2.0) * mains.voltage)
    return {"plug.notch.depth": Number(depth, "1"), "plug.notch.area": Number(area, "V.s")}


def _reference(scenario: Scenario, setting: Setting, here: Look) -> Look:
    """The same setting on the reference impedance, settled anew."""
    resistance, inductance = reference_impedance(scenario.mains.frequency)
    mains = dataclasses.replace(scenario.mains, resistance=resistance, inductance=inductance)
    if mains == scenario.mains and scenario.generator is None:
        return here
    there = dataclasses.replace(scenario, mains=mains, generator=None)
    return settled_look(supply_of(there), dial=setting[0], delay=setting[1])


def _clean(scenario: Scenario, setting: Setting) -> dict[str, Number]:
    """Output and core on mains without background, where there is one."""
    if scenario.generator is not None or not (scenario.mains.background or scenario.mains.dc_offset):
        return {}
    mains = dataclasses.replace(scenario.mains, background=(), dc_offset=0.0)
    look = settled_look(supply_of(dataclasses.replace(scenario, mains=mains)), dial=setting[0], delay=setting[1])
    wanted = of_the_supply(look)
    return {f"clean.{name}": number for name, number in wanted.items() if not name.startswith("mains.")}


def _rms_of_lines(lines: np.ndarray, look: Look) -> np.ndarray:
    """Rms of orders 1 to 40 of some lines with the spacing of a look."""
    orders = lines[:, look.periods :: look.periods][:, :ORDERS]
    return np.sqrt(np.mean(0.5 * np.abs(orders) ** 2, axis=0))


def _no_flicker() -> dict[str, Number]:
    """A load that repeats with the mains makes no flicker."""
    names = ("flicker.pst", "flicker.plt", "flicker.d_max", "flicker.d_c")
    return {name: Number(0.0, "1") for name in names} | {"flicker.time_above": Number(0.0, "s")}


def _flicker_numbers(minutes: Minutes) -> dict[str, Number]:
    """Flicker here and behind the reference impedance, and what was simulated for it."""
    numbers: dict[str, Number] = {}
    for place, figures in (("flicker", minutes.given), ("reference.flicker", minutes.reference)):
        changes = figures.changes
        numbers |= {
            f"{place}.pst": Number(figures.pst, "1"),
            f"{place}.plt": Number(figures.plt, "1"),
            f"{place}.d_max": Number(changes.d_max, "1"),
            f"{place}.d_c": Number(changes.d_c, "1"),
            f"{place}.time_above": Number(changes.time_above, "s"),
            f"{place}.longest_above": Number(changes.longest_above, "s"),
            f"{place}.sensation.max": Number(figures.peak, "1"),
        }
    return numbers | {
        "flicker.duration": Number(minutes.stream.seconds, "s"),
        "flicker.events.count": Number(minutes.stream.events, "1"),
        "flicker.parts.count": Number(minutes.parts, "1"),
        "flicker.parts.distinct": Number(minutes.distinct, "1"),
    }


def _judged(minutes: Minutes) -> dict[str, float]:
    """What IEC 61000-3-3 limits, at the reference impedance."""
    figures = minutes.reference
    return {
        "Pst": figures.pst,
        "Plt": figures.plt,
        "d_max": figures.changes.d_max,
        "d_c": figures.changes.d_c,
        "time above 3.3 %": figures.changes.time_above,
    }


def _window_run(scenario: Scenario, trace: Trace | None, *, periods: int) -> Run:
    """Voltages and current of two periods, for the picture."""
    assert trace is not None
    period = 1.0 / scenario.mains.frequency
    known = {signal.name: signal for signal in trace.system.signals}
    count = min(periods, 2) * SHOWN_SAMPLES
    begin = np.ceil(trace.span[0] / period - 1e-6) * period
    spacing = period / SHOWN_SAMPLES
    values = trace.sample(SHOWN, begin + 0.5 * spacing, spacing=spacing, count=count)  # not upon a firing
    values = np.tile(values, 2)[:, : 2 * SHOWN_SAMPLES]
    time = (np.arange(values.shape[1]) + 0.5) * spacing
    return Run(
        scenario,
        time,
        dict(zip(SHOWN, values, strict=True)),
        {name: known[name].unit for name in SHOWN},
        {name: known[name].label for name in SHOWN},
        provenance=stamp("mains", weldsim_version=__version__),
        window=(0.0, float(time[-1])),
    )


def _record_run(minutes: Minutes) -> Run:
    """Sensation and voltage of every second."""
    found = minutes.given
    signals = {
        "flicker.sensation": found.sensation,
        "reference.flicker.sensation": minutes.reference.sensation,
        "plug.voltage.least": found.least,
        "plug.voltage.most": found.most,
    }
    count = min(len(values) for values in signals.values())
    time = np.arange(count) + 0.5
    return Run(
        minutes.stream.scenario,
        time,
        {name: values[:count] for name, values in signals.items()},
        dict.fromkeys(signals, "1"),
        provenance=stamp("mains", weldsim_version=__version__),
        window=(0.0, float(count)),
    )
