"""Many scenarios, one question: one or two keys in steps, every case put to a study, finished cases kept in a folder.

A case is a pure function of the scenario's text, its values and the study's options, so who computes it, and in which
order, cannot be seen in the result.
"""

import importlib
import inspect
import itertools
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from dataclasses import field
from pathlib import Path
from typing import Any

from weldsim import __version__
from weldsim.errors import QuestionError, SimulationError, WeldsimError
from weldsim.frozen import dataclass
from weldsim.runs.case_folder import CaseFolder
from weldsim.runs.files import run_bytes
from weldsim.runs.interrupts import held_back
from weldsim.runs.processes import processes
from weldsim.scenario.axes import Axis, Course, axes_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary
from weldsim.scenario.writing import write_text
from weldsim.studies.answer import Answer, Number, Verdict, amount
from weldsim.studies.progress import Progress, silent
from weldsim.studies.sweep_vain import swept_in_vain, turns_alone
from weldsim.units import nearest

LEVELS = ("fault", "note", "good")  # the worst first
SAME = ({"dial", "delay", "phase_control.dial"}, {"feed", "wire.feed"})  # keys and options that set the same
DUST = 1e-9  # of the largest value of all cases
NOT_SWEPT = ("sweep", "prove")
# What the table and the picture tell of a study unless something else is asked for; the first number of others.
TOLD = {
    "preview": "output.current.mean",
    "inrush": "first_peak.worst",
    "strike": "struck",
    "mains": "primary.current.thd",
    "share": "setting.secondary.share",
}


@dataclass(frozen=True, eq=False)
class SweepAnswer(Answer):
    """An answer that knows its axes, the study behind it, the numbers to be told and the units of all numbers."""

    axes: tuple[Axis, ...] = ()
    asked: str = ""
    told: tuple[str, ...] = ()
    units: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Case:
    """Everything that a case needs, as plain data: it may be computed in another process or on another machine."""

    number: int
    text: str
    source: str
    values: tuple[tuple[str, float | int], ...]
    module: str
    options: dict[str, Any] = field(default_factory=dict)
    with_run: bool = True


@dataclass(frozen=True)
class Found:
    """What a case gave: an answer as JSON, or the sentence of an error; and its run as the bytes of a file."""

    number: int
    kept: dict[str, Any]
    run: bytes | None = None


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    over: Mapping[str, Course] | Iterable[str],
    study: str = "preview",
    folder: str | os.PathLike[str] | None = None,
    resume: bool = False,
    runs: bool = True,
    numbers: Sequence[str] = (),
    workers: int = 1,
    executor: Any = None,
    progress: Progress = silent,
    **options: Any,
) -> SweepAnswer:
    """Put every combination of values to a study.

    Parameters
    ----------
    scenario : Scenario
    over : mapping or texts
        One or two keys: {"choke.inductance": "0.1 mH:1 mH:10"}, {"dial": [0.3, 0.6]}, or ["dial=30%:60%:2"].
    study : str
        Name of a file in weldsim/studies.
    folder : path or None
        Where finished cases are kept; None keeps nothing.
    resume : bool
        Go on with what lies in the folder.
    runs : bool
        Whether runs are kept too, of studies that record one.
    numbers : sequence of str
        Which numbers the picture and the page tell; each case has all of them.
    workers : int
        Processes [1]; the result does not depend on it.
    executor : Executor, or a client that has ``get_executor``
        In place of processes of its own: any concurrent.futures Executor.
    options
        Handed to the study.

    Returns
    -------
    SweepAnswer : rows with ``case``, the values, ``numbers``, ``level`` of the worst verdict, ``worst`` (names of those
    of that level), ``error``.

    Raises
    ------
    ScenarioError, QuestionError : a key, a value, a number or a study that is none; what no case survives.
    RunFileError : a folder that is taken, or made with other values.
    """
    axes = axes_of(over)
    options = _checked_options(study_of(study), options, axes)
    cases = _cases(scenario, axes, study, options, runs=runs and folder is not None)
    plan = {
        "weldsim": __version__,
        "study": study,
        "over": {axis.key: list(axis.values) for axis in axes},
        "options": {name: value for name, value in options.items() if name != "workers"},
        "scenario": cases[0].text,
    }
    kept = CaseFolder(Path(folder), plan, resume=resume) if folder is not None else None
    done: dict[int, dict[str, Any]] = {}
    try:
        for found in _answered(cases, kept, workers=workers, executor=executor):
            done[found.number] = found.kept
            progress(len(done), len(cases), "cases")
            if len(done) == 1 and "answer" in found.kept:
                _check_numbers(found.kept["answer"]["numbers"], numbers)
    except KeyboardInterrupt as stop:
        if kept is not None:
            with held_back():
                there = sum(kept.finished(case.number) is not None for case in cases)
            stop.add_note(f"{there} of {len(cases)} cases are kept in {kept.place}; --resume goes on")
        raise
    return _answer(scenario, axes, cases, done, numbers=numbers)


def study_of(name: str) -> Callable[..., Answer]:
    """The ``ask`` of a study that takes a scenario."""
    files = {path.stem: path for path in Path(__file__).parent.glob("*.py") if path.stem not in NOT_SWEPT}
    known = sorted(stem for stem, path in files.items() if "\ndef ask(" in path.read_text(encoding="utf-8"))
    if name not in known:
        hint = nearest(name, known) or f"; there are {', '.join(known)}"
        raise QuestionError(f"there is no study '{name[:60]}'{hint}", place="--study")
    asking: Callable[..., Answer] = importlib.import_module(f"weldsim.studies.{name}").ask
    return asking


def _checked_options(asking: Callable[..., Answer], options: dict[str, Any], axes: Sequence[Axis]) -> dict[str, Any]:
    """The options of the study; each case computes by itself, since the cases are what is spread over processes."""
    taken = inspect.signature(asking).parameters
    for name in options:
        if name not in taken:
            known = [one for one in taken if one not in ("scenario", "executor", "progress", "save", "command")]
            hint = nearest(name, known) or f"; it takes {', '.join(known)}"
            raise QuestionError(f"the study has no option '{name}'{hint}", place="sweep")
    for same in SAME:
        varied = [axis.key for axis in axes if axis.key in same]
        fixed = [name for name in options if name.removesuffix("s") in same]
        if varied and fixed:
            raise QuestionError("it is varied and fixed at a time", place=fixed[0], advice="do one of them")
        if len(varied) > 1:
            raise QuestionError("they set the same", place=" and ".join(varied), advice="vary one of them")
    return options | ({"workers": 1} if "workers" in taken else {})


def _cases(scenario: Scenario, axes: Sequence[Axis], module: str, options: dict[str, Any], *, runs: bool) -> list[Case]:
    """All combinations, the last key the fastest; a value that a scenario cannot have is refused here."""
    text = write_text(scenario)
    taken = inspect.signature(study_of(module)).parameters
    names = [axis.key if axis.key in taken else _in_the_scenario(axis.key, module) for axis in axes]
    cases = []
    for number, values in enumerate(itertools.product(*(axis.values for axis in axes)), start=1):
        pairs = tuple(zip(names, values, strict=True))
        changes = {name: value for name, value in pairs if "." in name}
        if changes:
            vary(scenario, changes)
        cases.append(Case(number, text, scenario.source, pairs, module, options, runs))
    return cases


def _in_the_scenario(key: str, module: str) -> str:
    """The key of the scenario for what the study is not asked with."""
    if key == "dial":
        return "phase_control.dial"
    if "." not in key:
        raise QuestionError(f"the study {module} has no {key}", place="--over", advice="vary a key of the scenario")
    return key


# --- one case, wherever it is computed --------------------------------------------------------------------------------


def answered(case: Case) -> Found:
    """The answer of one case; what cannot be simulated is an answer too."""
    scenario = read_text(case.text, source=case.source)
    changes = {name: value for name, value in case.values if "." in name}
    asked = {name: value for name, value in case.values if "." not in name}
    try:
        answer = study_of(case.module)(vary(scenario, changes) if changes else scenario, **case.options, **asked)
    except WeldsimError as error:
        return Found(case.number, {"error": str(error)})
    run = _run_of(answer) if case.with_run else None
    return Found(case.number, {"answer": answer.as_json()}, run)


def _run_of(answer: Answer) -> bytes | None:
    """The study's run as the bytes of a run file."""
    if not answer.runs:
        return None
    run = answer.runs["window"] if "window" in answer.runs else next(iter(answer.runs.values()))
    return run_bytes(run)


# --- all cases --------------------------------------------------------------------------------------------------------


def _answered(cases: Sequence[Case], kept: CaseFolder | None, *, workers: int, executor: Any) -> Iterator[Found]:
    """Finished cases, as they come: those in the folder first, then each new one once it is in the folder.

    The first new one is computed here, so that the solver is compiled once and a slip is told before the work begins.
    """
    new = []
    for case in cases:
        before = kept.finished(case.number) if kept is not None else None
        if before is None:
            new.append(case)
        else:
            yield Found(case.number, {key: before[key] for key in ("answer", "error") if key in before})
    for found in itertools.chain(map(answered, new[:1]), _spread(new[1:], workers=workers, executor=executor)):
        if kept is not None:
            kept.keep(found.number, found.kept, found.run)
        yield found


def _spread(cases: Sequence[Case], *, workers: int, executor: Any) -> Iterator[Found]:
    """Cases computed here, by processes of our own, or by whatever executor was given."""
    if not cases:
        return
    if executor is not None:
        futures: list[Future[Found]] = []
        try:
            yield from _submitted(
                cases, executor.get_executor() if hasattr(executor, "get_executor") else executor, futures
            )
        finally:  # what has not begun is withdrawn when the sweep is broken off; processes of our own see to that
            for future in futures:
                future.cancel()
    elif workers == 1 or len(cases) == 1:
        yield from map(answered, cases)
    else:
        with processes(min(workers, len(cases))) as pool:
            yield from _submitted(cases, pool, [])


def _submitted(cases: Sequence[Case], executor: Executor, futures: list[Future[Found]]) -> Iterator[Found]:
    """Cases as an executor finishes them; ``futures`` is filled with what it was given."""
    futures += [executor.submit(answered, case) for case in cases]
    try:
        for future in as_completed(futures):
            yield future.result()
    except BrokenExecutor as trouble:
        advice = "go on with --resume, with fewer --workers"
        raise SimulationError("a process ended before its case was done", place="sweep", advice=advice) from trouble


# --- the answer -------------------------------------------------------------------------------------------------------


def _check_numbers(found: Mapping[str, Any], wanted: Sequence[str]) -> None:
    for name in wanted:
        if name not in found:
            hint = nearest(name, list(found)) or f"; there are {', '.join(found)}"
            raise QuestionError(f"the study gives no number '{name[:60]}'{hint}", place="--number")


def told_numbers(rows: Sequence[Mapping[str, Any]], study: str, wanted: Sequence[str] = ()) -> list[str]:
    """Names of the numbers that page and picture tell."""
    if wanted:
        return list(wanted)
    names = list(dict.fromkeys(name for row in rows for name in row["numbers"]))
    return [TOLD[study]] if TOLD.get(study) in names else names[:1]


def _answer(
    scenario: Scenario,
    axes: Sequence[Axis],
    cases: Sequence[Case],
    done: Mapping[int, Mapping[str, Any]],
    *,
    numbers: Sequence[str],
) -> SweepAnswer:
    """Rows in the order of the values."""
    rows: list[dict[str, Any]] = []
    units: dict[str, str] = {}
    for case in cases:
        kept = done[case.number]
        answer = kept.get("answer", {"numbers": {}, "verdicts": []})
        units |= {name: number["unit"] for name, number in answer["numbers"].items()}
        levels = {verdict["level"] for verdict in answer["verdicts"]}
        level = next((level for level in LEVELS if level in levels), None)
        worst = list(dict.fromkeys(one["name"] for one in answer["verdicts"] if one["level"] == level != "good"))
        rows.append(
            {"case": case.number}
            | {axis.key: value for axis, (_, value) in zip(axes, case.values, strict=True)}
            | {
                "numbers": {name: number["value"] for name, number in answer["numbers"].items()},
                "level": level,
                "worst": worst,
                "error": kept.get("error"),
            }
        )
    failed = [row for row in rows if row["error"]]
    if len(failed) == len(rows):
        raise SimulationError(f"no case could be done; the first says: {failed[0]['error']}", place="sweep")
    study = cases[0].module
    told = told_numbers(rows, study, numbers)
    return SweepAnswer(
        "sweep",
        scenario,
        {"cases.count": Number(float(len(rows)), "1"), "cases.failed": Number(float(len(failed)), "1")},
        verdicts=[
            *(_span(rows, axes, name, units[name]) for name in told),
            *([Verdict("failed", "note", f"{len(failed)} of {len(rows)} cases could not be done.")] if failed else []),
            *swept_in_vain(scenario, axes, rows=rows, done=done),
        ],
        assumptions=[
            f"Every case is the scenario with the values of its row, put to the study {study}.",
            "Random studies draw the same numbers in every case (one seed): what differs is due to the values alone.",
            *turns_alone(scenario, axes),
        ],
        rows=rows,
        axes=tuple(axes),
        asked=study,
        told=tuple(told),
        units=units,
    )


def without_dust(value: float, largest: float) -> float:
    """A number of a case; nothing where it is what rounding leaves of nothing beside the largest of all cases."""
    return 0.0 if abs(value) < DUST * largest else value


def _span(rows: Sequence[Mapping[str, Any]], axes: Sequence[Axis], name: str, unit: str) -> Verdict:
    """The least and the largest value of a number, and where."""
    known = [row for row in rows if row["numbers"].get(name) is not None]
    if not known:
        return Verdict(name, "note", f"{name} has no value in any case.")
    least, most = (one(known, key=lambda row: row["numbers"][name]) for one in (min, max))
    largest = max(abs(least["numbers"][name]), abs(most["numbers"][name]))

    def told(row: Mapping[str, Any]) -> str:
        where = ", ".join(f"{axis.key} {axis.shown(row[axis.key]):.6g} {axis.unit}".removesuffix(" 1") for axis in axes)
        return f"{amount(without_dust(row['numbers'][name], largest), unit)} at {where}"

    if least["numbers"][name] == most["numbers"][name]:
        return Verdict(name, "note", f"{name}: {amount(most['numbers'][name], unit)} in every case that has it.")
    return Verdict(name, "note", f"{name}: from {told(least)} to {told(most)}.")
