"""``weldsim sweep``: its options are its own and those of every study that can be asked with them."""

import json
import os
from collections.abc import Sequence
from functools import partial
from itertools import takewhile
from pathlib import Path
from typing import Any

from weldsim.cli.answering import load
from weldsim.cli.options import Command, CommandLineError, Option, Request
from weldsim.cli.pictures import draw_to, in_a_folder, picture_place
from weldsim.cli.progress import meter, tell
from weldsim.units import Choice, Count, Flag, Text

OVER = Option(
    "--over",
    Text("a key and its values, as choke.inductance=0.1mH:1mH:10 (from, to, how many); one or two of them"),
    "over",
    shown="KEY=FROM:TO:N",
    repeated=True,
)
FOLDER = Option(
    "--folder",
    Text("where finished cases are kept; by default SCENARIO-sweep-STUDY, with a number where other values lie there"),
    "folder",
)
RESUME = Option("--resume", Flag("go on with the cases that lie in the folder already"), "resume")
NUMBER = Option(
    "--number",
    Text("a number of the study for table and picture; may be repeated"),
    "numbers",
    shown="NAME",
    repeated=True,
)
ANSWERS = Option("--answers-only", Flag("keep answers, no recorded runs"), "answers_only")
WORKERS = Option(
    "--workers", Count("how many processes; the numbers do not depend on it", 1, 256), "workers", shown="NUMBER"
)
OWN = (OVER, FOLDER, RESUME, NUMBER, ANSWERS, WORKERS)


def sweep_command(studies: Sequence[Command], *, shared: tuple[Option, ...], left_out: tuple[Option, ...]) -> Command:
    """The command, made from the commands of the studies, so that a new study can be swept without a change here."""
    names = {command.name: command.module for command in studies}
    choice = Option("--study", Choice("what every case is asked", tuple(names)), "study", shown="|".join(names))
    taken = {option.flag for option in (*OWN, *shared, *left_out)}
    handed: dict[str, Option] = {}
    for option in (option for command in studies for option in command.options if option.flag not in taken):
        if option.flag not in handed or handed[option.flag].repeated:  # one setting a case, where a study takes several
            handed[option.flag] = option
    of_the_study = {command.name: {option.flag: option for option in command.options} for command in studies}
    return Command(
        "sweep",
        "What if? One or two values in steps, every case put to a study.",
        partial(sweep, modules=names, known=of_the_study, handed=tuple(handed.values())),
        (*shared, choice, *OWN, *handed.values()),
        "weldsim sweep toroid_shed.toml --over choke.inductance=0.1mH:1mH:10 --study preview",
    )


def sweep(
    request: Request, *, modules: dict[str, str], known: dict[str, dict[str, Option]], handed: tuple[Option, ...]
) -> None:
    """Do all cases; finished ones are kept as they come."""
    study = request.get("study", "preview")
    if not request.get("over"):
        raise CommandLineError("nothing to vary", place="--over", advice="give KEY=FROM:TO:N once or twice")
    _refuse_set_and_varied(request)
    options = _options_of_the_study(request, study, known=known[study], handed=handed)
    stem = Path(request.get("file")).stem
    picture = picture_place(request, f"sweep-{study}", stem=stem)
    usual = _folder_for(f"{stem}-sweep-{study}", request.get("over"), resume=request.get("resume", False))
    folder = in_a_folder(request.get("folder", usual), "--folder")
    scenario, remark = load(request)
    from weldsim.studies.sweep import ask

    answer = ask(
        scenario,
        over=request.get("over"),
        study=modules[study],
        folder=folder,
        resume=request.get("resume", False),
        runs=not request.get("answers_only"),
        numbers=request.get("numbers", ()),
        workers=request.get("workers", os.cpu_count() or 1),
        progress=meter(),
        **options,
    )
    if not request.get("json"):
        from weldsim.report.sweep import page

        print(page(answer, remark=remark), flush=True)
        tell(f"cases kept: {folder}")
    if picture:
        from weldsim.figures.sweep import draw

        draw_to(draw(answer), picture, request)
    if request.get("json"):
        print(json.dumps(answer.as_json()))


def _refuse_set_and_varied(request: Request) -> None:
    """A key that is set and varied at a time would be set in vain."""
    varied = {text.partition("=")[0].strip() for text in request.get("over")}
    for setting in request.get("settings", ()):
        if (key := setting.partition("=")[0].strip()) in varied:
            raise CommandLineError("it is varied by --over too", place=f"--set {key[:80]}", advice="do one of them")


def _folder_for(name: str, over: Sequence[str], *, resume: bool) -> str:
    """The folder of this name that holds these values; without one a free one, with a number if it must be."""
    from weldsim.scenario.axes import axes_of

    wanted = {axis.key: list(axis.values) for axis in axes_of(over)}
    numbered = [name, *(f"{name}-{number}" for number in range(2, 1000))]
    there = list(takewhile(lambda one: Path(one).exists(), numbered))
    same = next((one for one in there if _values_in(Path(one)) == wanted), None)
    return same or (name if resume else numbered[min(len(there), len(numbered) - 1)])


def _values_in(folder: Path) -> Any:
    """What was varied in the sweep of a folder; None where that cannot be read."""
    from weldsim.runs.case_folder import text_of

    try:
        return json.loads(text_of(folder / "sweep.json")).get("over")
    except (OSError, ValueError, AttributeError, RecursionError):
        return None


def _options_of_the_study(
    request: Request, study: str, *, known: dict[str, Option], handed: tuple[Option, ...]
) -> dict[str, Any]:
    """What was given for the study; an option that it does not have is refused."""
    found: dict[str, Any] = {}
    for option in (option for option in handed if option.keyword in request.values):
        if option.flag not in known:
            raise CommandLineError(f"{study} has no such option", place=option.flag, advice="leave it out")
        own, value = known[option.flag], request.values[option.keyword]
        found[own.keyword] = (value,) if own.repeated and not option.repeated else value
    return found
