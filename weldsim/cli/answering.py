"""What the commands do: one thin function for each way of answering; whatever is heavy is imported when called."""

import contextlib
import dataclasses
import importlib
import inspect
import json
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weldsim.cli.beside import drawing_beside
from weldsim.cli.option_table import FIGURE, FILE, JSON, SAVE, SET
from weldsim.cli.options import CommandLineError, Request
from weldsim.cli.pictures import draw_to, in_a_folder, picture_place, refuse_where_nothing_can_be, tell_place
from weldsim.cli.progress import announce_compiling, meter, silence, tell
from weldsim.errors import WeldsimError

if TYPE_CHECKING:
    from weldsim.runs.run import Run
    from weldsim.scenario.document import Scenario
    from weldsim.studies.answer import Answer

SHARED = (FILE, SET, JSON, FIGURE)  # options of every study
_OF_THE_COMMAND = {option.keyword for option in (*SHARED, SAVE)}  # the others are handed to the study


def load(request: Request) -> tuple["Scenario", str]:
    """The scenario that was named, with the values that were set, and a remark where it is a bundled one."""
    from weldsim.scenario.bundled import find_scenario
    from weldsim.scenario.reading import read
    from weldsim.scenario.vary import vary_by_text

    path, remark = find_scenario(request.get("file"))
    scenario = read(path)
    settings = request.get("settings", ())
    return (vary_by_text(scenario, settings) if settings else scenario), remark


def check(request: Request) -> None:
    """Read a scenario and judge it without simulating."""
    scenario, remark = load(request)
    from weldsim.scenario.checks import findings

    found = findings(scenario)
    if request.get("json"):
        print(json.dumps(_found(scenario, found)))
        return
    from weldsim.report.wording import check_page

    print(check_page(scenario, found, remark=remark))


def ask(request: Request, *, module: str) -> None:
    """Put a scenario to a study: its page, its run, its picture; JSON comes last, when all files are written."""
    picture = picture_place(request, module, stem=_stem(request))
    with drawing_beside(module, wanted=bool(picture)) as beside:
        answer = _asked(request, module, draw=partial(beside.ask, place=picture) if picture else None)
        if picture and beside.has_drawn(answer, picture):
            tell_place(picture, request)
        elif picture:
            draw_to(importlib.import_module(f"weldsim.figures.{module}").draw(answer), picture, request)
    if request.get("json"):
        print(json.dumps(answer.as_json()))


def _asked(request: Request, module: str, *, draw: Callable[["Answer"], None] | None = None) -> "Answer":
    """The study's answer, its page printed and its run saved; ``draw`` is for one that draws before its verdicts."""
    place, keywords = _place_of_run(request), _for_the_study(request)
    scenario, remark = load(request)
    study = importlib.import_module(f"weldsim.studies.{module}")
    compiling = announce_compiling()
    taken = inspect.signature(study.ask).parameters
    if "progress" in taken:
        keywords["progress"] = meter()
    if "draw" in taken:
        keywords["draw"] = draw
    saves_itself = "save" in taken
    if place and saves_itself:
        keywords |= {"save": place, "command": request.typed}
    with _workers(keywords, wanted="executor" in taken and not compiling):
        answer: Answer = study.ask(scenario, **keywords)
    if not request.get("json"):
        from weldsim.report.wording import page

        try:
            print(page(answer, remark=remark), flush=True)
        except BrokenPipeError:  # who reads the first lines only wants the picture as well
            silence()
    if request.get("write"):
        tell(f"scenario written: {request.get('write')}")
    if place and saves_itself:
        tell(f"run saved: {place}")
    elif place:
        _keep(answer, place, typed=request.typed)
    return answer


@contextlib.contextmanager
def _workers(keywords: dict[str, Any], *, wanted: bool) -> Iterator[None]:
    """Have a study's jobs done by as many processes as there are cores, or as ``--workers`` says."""
    if wanted:
        from weldsim.runs.crew import cores
        from weldsim.runs.together import Together

        count = keywords.get("workers") or cores()
        if count > 1:
            with Together(count) as keywords["executor"]:
                yield
            return
    yield


def _for_the_study(request: Request) -> dict[str, Any]:
    """The options that the study itself takes, by the keywords of its ``ask``."""
    keywords = {name: value for name, value in request.values.items() if name not in _OF_THE_COMMAND}
    if "dial" in keywords and "current" in keywords:
        raise CommandLineError("the current sets the dial", place="--dial and --current", advice="give one of them")
    if "dial" in keywords and "delay" in keywords:
        raise CommandLineError("the dial sets the delay already", place="--dial and --delay", advice="give one of them")
    return keywords


def show(request: Request) -> None:
    """Print and draw a saved run again."""
    picture = picture_place(request, "show", stem=_stem(request))
    from weldsim.runs.files import open_run

    run = open_run(request.get("file"))
    signals = _signals_of(run, request.get("signals", ()))
    if not request.get("json"):
        from weldsim.report.wording import run_page

        print(run_page(run), flush=True)
    if picture:
        from weldsim.figures.show import draw

        draw_to(draw(run, signals=signals), picture, request)
    if request.get("json"):
        from weldsim.studies.answer import Answer, Number

        numbers = {name: Number(*figure) for name, figure in run.table.items()}
        answer = Answer("show", run.scenario, numbers, assumptions=run.assumed, runs={"shown": run})
        print(json.dumps(answer.as_json()))


def _signals_of(run: "Run", names: Sequence[str]) -> tuple[str, ...]:
    """The waveforms that were named, each once; what is none is refused before anything is printed."""
    from weldsim.runs.run import known_name

    try:
        return tuple(dict.fromkeys(known_name(name, run.units) for name in names))
    except WeldsimError as trouble:
        raise CommandLineError(trouble.fact, place="--signal", advice=trouble.advice) from None


def _found(scenario: "Scenario", findings: Sequence[Any]) -> dict[str, Any]:
    """The JSON object of a check, in the shape that all studies have; made here, since an Answer would load numpy."""
    return {
        "study": "check",
        "scenario": scenario.source or scenario.title,
        "numbers": {
            one.name: {"value": one.number if isfinite(one.number) else None, "unit": one.unit}
            for one in findings
            if one.number is not None
        },
        "verdicts": [{"name": one.name, "level": one.level, "text": one.text} for one in findings],
        "assumptions": [],
    }


def _stem(request: Request) -> str:
    """The file's name without folder and ending, for the names of what is made of it."""
    return Path(request.get("file")).stem


def _place_of_run(request: Request) -> Path | None:
    """Where --save puts the run; what cannot be, or should not, is told before the work, not after it."""
    place = in_a_folder(request.get("save"), "--save")
    if place and place.is_file() and not _may_be_replaced(place):
        fact, advice = f"{place} is there already and is no saved run", "choose another name, or take it away first"
        raise CommandLineError(fact, place="--save", advice=advice)
    if place and request.get("figure") and place.resolve() == Path(request.get("figure")).resolve():
        raise CommandLineError(f"both name {place}", place="--save and --figure", advice="give each a name of its own")
    refuse_where_nothing_can_be(place, "--save")
    return place


def _may_be_replaced(place: Path) -> bool:
    """Whether a file is empty or a saved run; what cannot be read is told when it is written."""
    from weldsim.runs.files import is_saved_run

    try:
        return place.stat().st_size == 0 or is_saved_run(place)
    except OSError:
        return True


def _keep(answer: "Answer", place: Path, *, typed: str) -> None:
    """Save the run behind an answer, with the command line that made it."""
    from weldsim.runs.files import save_run

    run: Run = answer.runs["window"] if "window" in answer.runs else next(iter(answer.runs.values()))
    save_run(dataclasses.replace(run, provenance={**run.provenance, "command": typed}), place)
    tell(f"run saved: {place}")
