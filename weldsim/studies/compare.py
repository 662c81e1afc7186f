"""A measured trace beside the simulation: do they agree, and if not, which one change of the supply explains it?"""

import math
import os
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from weldsim.analysis.folding import BINS, Folded, cut_off, folded, found_period, smallest_step
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.runs.measured import Capture, captured, read_capture
from weldsim.runs.perform import Recording, record
from weldsim.runs.run import Run
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.compare_causes import Value, faults_of, values_of
from weldsim.studies.compare_fits import Case, Found, Trial, begun, search
from weldsim.studies.compare_telling import Telling, telling
from weldsim.studies.compare_unseen import Unseen, shown_by, unseen
from weldsim.studies.compare_verdicts import AGREES, Measured, assumptions, of_the_unseen, verdicts
from weldsim.studies.operating import SETTLED_PERIODS, welding
from weldsim.studies.progress import Progress, silent

SIGNAL = "output.current"
LEAST_SAMPLES = 40  # of a mains cycle
TOLD, TOLD_ANYWAY = 8, 3  # causes on the page, those beyond the third where they help; the others stand in --json
HELPS = 0.95  # of what remains as written
WHOLE = 1e-6  # of a cycle: what lacks less of one is none


@dataclass(frozen=True, eq=False)
class _Taken:
    """A capture made ready: in the signal's unit, folded, and what it says of itself."""

    capture: Capture
    values: np.ndarray
    trace: Folded
    measured: Measured


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    capture: str | os.PathLike[str] | None = None,
    time: Any = None,
    values: Any = None,
    column: int | None = None,
    signal: str = SIGNAL,
    per_unit: tuple[float, str] | float | None = None,
    dial: float | None = None,
    delay: float | None = None,
    progress: Progress = silent,
) -> Answer:
    """Lay a measured trace over the settled state, and look for the one change that explains what remains.

    Parameters
    ----------
    scenario : Scenario
        The supply as it should be.
    capture : path or None
        Text of two columns, time in s and value; or ``time`` and ``values``, arrays of numbers, in its place.
    column : int or None
        That of the values, where the file has more than two; the first is the time.
    signal : str
        Which waveform was measured, by its name.
    per_unit : (float, str) or float or None
        What one unit of the column is, in the signal's unit: (100.0, "A") with a probe of 100 A/V.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.
    progress : callable
        Told how far it is.

    Returns
    -------
    Answer : rows "cause" (the likeliest), "lesser cause" and "telling" (signals that tell the first two apart); runs
        "window" (as written), and on the clock of the mains "capture", "simulated" and "likeliest".

    Raises
    ------
    RunFileError : a capture that cannot be read.
    QuestionError : one that is too short or too coarse, an unknown signal, a unit that is not the signal's.
    WiringError, SimulationError.
    """
    taken = _taken(scenario, _capture(capture, time, values, column=column), per_unit)
    loaded = scenario if scenario.load is None else welding(scenario)
    trial, written = begun(taken.trace, loaded, signal, dial=dial, delay=delay)
    _check_unit(trial, per_unit)
    unit = trial.unit
    recording = _recorded(written)
    found: list[Found] = []
    told: list[Telling] = []
    measured = replace(taken.measured, cut_off=_cut_off(taken, written))
    hidden: list[Unseen] = []
    if measured.agrees(written.laid.remainder):
        hidden = unseen(trial, written, least=AGREES, progress=progress)
    elif not measured.unfit:
        found = search(trial, [*values_of(trial.scenario, trial.delay), *faults_of(trial.scenario)], progress=progress)
        told = telling(written, found, signal=signal)
    return Answer(
        "compare",
        scenario,
        _numbers(taken, trial, written, recording=recording, found=found, unit=unit),
        [
            *verdicts(measured, written, found=found, told=told, unit=unit),
            *of_the_unseen(hidden, shown_by(written, hidden, signal=signal, least=AGREES)),
        ],
        assumptions(scenario, measured, written=written),
        rows=[*_rows(measured, written, found, told), *(one.row() for one in hidden)],
        runs=_runs(taken, trial, written, recording=recording, found=found),
    )


def _capture(capture: str | os.PathLike[str] | None, time: Any, values: Any, *, column: int | None) -> Capture:
    """The trace from its file or from arrays."""
    if capture is not None and time is None and values is None:
        return read_capture(capture, column=column)
    if capture is None and time is not None and values is not None:
        return captured(time, values)
    raise QuestionError(
        "no trace to compare with" if capture is None else "given twice",
        place="capture",
        advice="give a file of two columns (--capture trace.csv), or from Python both time= and values=",
    )


def _taken(scenario: Scenario, capture: Capture, per_unit: tuple[float, str] | float | None) -> _Taken:
    """The capture in the signal's unit, if it is long and fine enough to say something."""
    scale = 1.0 if per_unit is None else per_unit[0] if isinstance(per_unit, tuple) else per_unit
    if not math.isfinite(scale) or scale == 0.0:
        raise QuestionError(f"{scale:g} is no scale", place="per_unit", advice='give what one unit is, as "100 A"')
    nominal = 1.0 / scenario.mains.frequency
    cycles = (capture.time[-1] - capture.time[0]) / nominal if len(capture.time) else 0.0
    if cycles < 1.0 - _one_sample(capture, nominal):
        raise QuestionError(
            f"{cycles:.3g} mains cycles, {nominal * cycles:.4g} s",
            place=capture.source,
            advice=f"give at least one cycle, {nominal:.4g} s; the first column is read as seconds",
        )
    if len(capture.time) < LEAST_SAMPLES * cycles:
        raise QuestionError(
            f"{len(capture.time)} samples in {cycles:.4g} mains cycles",
            place=capture.source,
            advice=f"give at least {LEAST_SAMPLES} samples a cycle of {nominal:.4g} s; the first column is read as "
            "seconds",
        )
    values = scale * capture.values
    period = found_period(capture.time, values, nominal)
    trace = folded(capture.time, values, period)
    if trace.square == 0.0:
        raise QuestionError("nothing but zeros", place=capture.source, advice="check probe, range and --per-unit")
    return _Taken(capture, values, trace, Measured.of(capture, values, period=period))


def _cut_off(taken: _Taken, written: Case) -> float:
    """Share of the samples that stand at the end of the channel; none where the simulated wave is as flat by itself."""
    values = taken.values
    flat = cut_off(written.wave, smallest_step(values) if len(values) > len(np.unique(values)) else 0.0)
    return 0.0 if flat else cut_off(values)


def _one_sample(capture: Capture, nominal: float) -> float:
    """What a record of whole cycles lacks at its end, where the sample that would close it is left out [cycles]."""
    steps = np.diff(capture.time)
    return WHOLE + (1.01 * float(np.median(steps)) / nominal if len(steps) else 0.0)


def _check_unit(trial: Trial, per_unit: tuple[float, str] | float | None) -> None:
    """Refuse a scale in another unit than the signal's."""
    if isinstance(per_unit, tuple) and per_unit[1] != trial.unit:
        fact = f"a scale in {per_unit[1]}, but {trial.signal} is in {trial.unit}"
        raise QuestionError(fact, place="per_unit", advice=f'give it as "100 {trial.unit}", or name another --signal')


def _recorded(written: Case) -> Recording:
    """The supply as written, settled: two periods with every waveform."""
    return record(
        written.scenario,
        delay=written.delay,
        start="steady",
        duration=SETTLED_PERIODS * written.supply.period,
        settled=written.settled,
    )


def _numbers(
    taken: _Taken, trial: Trial, written: Case, *, recording: Recording, found: Sequence[Found], unit: str
) -> dict[str, Number]:
    """Both sides by the same statistics, and how they lie over each other."""
    measured, laid = taken.measured, written.laid
    mean, square, low, high = measured.statistics
    table = {name: recording.run.table[f"{trial.signal}.{name}"][0] for name in ("mean", "rms", "min", "max")}
    simulated = [table["mean"], table["rms"], table["min"], table["max"], max(abs(table["min"]), abs(table["max"]))]
    sides = {"capture": [mean, square, low, high, max(abs(low), abs(high))], "simulated": simulated}
    numbers = {
        f"{side}.{name}": Number(value, unit)
        for side, values in sides.items()
        for name, value in zip(("mean", "rms", "min", "max", "peak"), values, strict=True)
    }
    numbers |= {
        "remainder.rms": Number(laid.remainder, unit),
        "remainder.share": Number(laid.remainder / measured.rms, "1"),
        "remainder.repeating.share": Number(measured.excess(laid.remainder), "1"),
        "capture.noise.share": Number(measured.noise / measured.rms, "1"),
        "capture.correlation": Number(laid.correlation, "1"),
        "capture.begins": Number(laid.shift * written.supply.period, "s"),
        "capture.begins.phase": Number(360.0 * laid.shift, "deg"),
        "capture.reversed": Number(float(laid.sign < 0.0), "1"),
        "capture.cycles.count": Number(measured.cycles, "1"),
        "capture.frequency": Number(1.0 / measured.period, "Hz"),
        "causes.count": Number(float(len(found)), "1"),
    }
    if found:
        best = found[0]
        numbers["likeliest.remainder.share"] = Number(best.laid.remainder / measured.rms, "1")
        numbers["likeliest.repeating.share"] = Number(measured.excess(best.laid.remainder), "1")
    return numbers


def _rows(measured: Measured, written: Case, found: Sequence[Found], told: Sequence[Telling]) -> list[dict[str, Any]]:
    """Every cause with what it takes and leaves, then the signals that tell the first two apart."""
    rows: list[dict[str, Any]] = []
    helps = HELPS * written.laid.remainder
    for rank, one in enumerate(found):
        value = one.candidate if isinstance(one.candidate, Value) else None
        rows.append(
            {
                "kind": "cause"
                if rank < TOLD and (rank < TOLD_ANYWAY or one.laid.remainder < helps)
                else "lesser cause",
                "cause": one.words,
                "key": one.key,
                "takes": one.takes,
                "as_written": value.spoken(value.written) if value else "",
                "value": one.value,
                "written": value.written if value else None,
                "remains": one.laid.remainder / measured.rms,
                "repeating": measured.excess(one.laid.remainder),
                "reversed": one.laid.sign < 0.0,
                "searched": one.searched,
            }
        )
    return rows + [one.row() for one in told]


def _runs(
    taken: _Taken, trial: Trial, written: Case, *, recording: Recording, found: Sequence[Found]
) -> dict[str, Run]:
    """The settled run, the capture on the clock of the mains, and the likeliest cause's waveform."""
    measured, laid, period = taken.measured, written.laid, written.supply.period
    clock = (taken.capture.time - taken.capture.time[0]) * period / measured.period + laid.shift * period
    runs = {
        "window": recording.run,
        "capture": _run(trial, clock, laid.sign * taken.values),
        "simulated": _of_a_wave(trial, written.wave, period),
    }
    if found:  # told in the time of the capture: a cause has a shift and a sign of its own
        best = found[0]
        turned = np.roll(best.wave, round((laid.shift - best.laid.shift) * BINS)) * (best.laid.sign * laid.sign)
        runs["likeliest"] = _of_a_wave(trial, turned, period)
    return runs


def _of_a_wave(trial: Trial, wave: np.ndarray, period: float) -> Run:
    """One period of the signal, from a zero crossing of the mains on."""
    return _run(trial, (np.arange(BINS) + 0.5) * period / BINS, wave)


def _run(trial: Trial, time: np.ndarray, values: np.ndarray) -> Run:
    return Run(trial.scenario, time, {trial.signal: values}, {trial.signal: trial.unit})
