"""The table of commands, and one thin function for each way of answering; whatever is heavy is imported when called.

A new question is one more line of ``COMMANDS``: its study is ``weldsim/studies/<module>.py`` with
``ask(scenario, ...)``, its picture ``weldsim/figures/<module>.py`` with ``draw(answer)``, and its options are given to
``ask`` by keyword.
"""

import dataclasses
import importlib
import inspect
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weldsim.cli.options import Bare, CommandLineError, Option, Request
from weldsim.cli.pictures import draw_to, in_a_folder, picture_place
from weldsim.cli.progress import meter, tell
from weldsim.cli.proving import prove
from weldsim.units import Choice, Count, Flag, Quantity, Text

if TYPE_CHECKING:
    from weldsim.runs.run import Run
    from weldsim.scenario.document import Scenario
    from weldsim.studies.answer import Answer


@dataclass(frozen=True)
class Command:
    """One command: its name, what it answers, the function that does it and the options it takes."""

    name: str
    question: str
    run: Callable[[Request], None]
    options: tuple[Option, ...]
    example: str = ""


# --- options -------------------------------------------------------------------------------------------------------

FILE = Option("FILE", Text("a scenario file, or the name of a bundled scenario"), "file")
RUN = Option("RUN", Text("a run saved with --save"), "file")
SET = Option(
    "--set",
    Text(
        'another value for one key, as in --set choke.inductance="0.4 mH"; boost=absent takes a part'
        " away; may be repeated"
    ),
    "settings",
    shown="KEY=VALUE",
    repeated=True,
)
JSON = Option("--json", Flag("print one JSON object and nothing else; a picture only with --figure"), "json")
FIGURE = Option("--figure", Text("where the picture goes: .png, .svg or .pdf"), "figure", shown="OUT")
SAVE = Option("--save", Text("keep the recorded run in an HDF5 file"), "save", shown="RUN.h5")
SIGNAL = Option(
    "--signal", Text("a waveform to draw, by its name; may be repeated"), "signals", shown="NAME", repeated=True
)

DIAL = Option("--dial", Quantity("setting of the dial, as 60%", "fraction", 0.0, 1.0), "dial", shown="60%")
DIALS = Option(
    "--dial",
    Quantity("a setting of the dial to draw a line for; may be repeated", "fraction", 0.0, 1.0),
    "dials",
    shown="60%",
    repeated=True,
)
DELAY = Option(
    "--delay",
    Quantity("firing delay after the zero crossing of the ideal source, in place of the dial", "angle", 0.0, 180.0),
    "delay",
    shown="75deg",
)
FROM = Option(
    "--from",
    Choice("rest: record from switch-on with everything at zero; steady: settle first", ("rest", "steady")),
    "start",
    shown="rest|steady",
)
DURATION = Option(
    "--duration", Quantity('how long to simulate, as "1 s"', "time", 1e-3, 3600.0), "duration", shown="TIME"
)
WINDOW = Option(
    "--window",
    Quantity('the last part, of which the table speaks, as "0.2 s"', "time", 1e-3, 3600.0),
    "window",
    shown="TIME",
)
PRESSES = Option("--presses", Count("how many random trigger presses", 1, 1_000_000), "presses", shown="NUMBER")
WORKERS = Option(
    "--workers",
    Count("how many presses or welds are simulated at a time; the numbers do not depend on it", 1, 256),
    "workers",
    shown="NUMBER",
)
BANK = Option(
    "--bank",
    Choice(
        "what the bank holds at the trigger: bled for the pause (the default), charged as when let go, or empty",
        ("bled", "charged", "empty"),
    ),
    "bank",
    shown="bled|charged|empty",
)
REMANENCE = Option(
    "--remanence",
    Quantity(
        'flux density left in the core, as "0.8 T", in place of what its hysteresis leaves', "flux_density", -3.0, 3.0
    ),
    "remanence",
    shown="DENSITY",
)
ON = Option("--on", Quantity('how long the trigger is held, as "0.8 s"', "time", 0.02, 60.0), "on", shown="TIME")
OFF = Option("--off", Quantity('the pause between presses, as "0.7 s"', "time", 0.0, 600.0), "off", shown="TIME")
TRIALS = Option("--trials", Count("how many strikes", 1, 100_000), "trials", shown="NUMBER")
FEED = Option("--feed", Quantity('wire feed, as "5 m/min"', "speed", 0.0, 0.5), "feed", shown="SPEED")
SECONDS = Option(
    "--seconds", Bare("how long to weld, after a start of 0.5 s", "time", 0.1, 3600.0), "seconds", shown="NUMBER"
)
TRAVEL = Option(
    "--travel",
    Quantity('speed of the torch along the seam, as "30 cm/min", for the heat per length', "speed", 1e-5, 1.0),
    "travel",
    shown="SPEED",
)
VOLTAGE_WINDOW = Option(
    "--voltage-window",
    Flag("look for the lowest and highest dial at which it runs regularly at this feed; some 27 welds"),
    "voltage_window",
)
COMPARE = Option("--compare", Choice("with and without the boost circuit, same draws", ("boost",)), "compare")
DUTY = Option(
    "--duty", Quantity("share of each ten minutes in which it welds", "fraction", 0.001, 1.0), "duty", shown="35%"
)
CURRENT = Option(
    "--current",
    Quantity('output current that is wanted, in place of a dial, as "100 A"', "current", 0.1, 1e4),
    "current",
    shown="CURRENT",
)
LENGTH = Option(
    "--length", Quantity('longest lead of the map, as "60 m"', "length", 1.0, 1e3), "length", shown="LENGTH"
)
SECTIONS = Option(
    "--section",
    Quantity('section of one core, as "2.5 mm2"; may be repeated', "area", 1e-7, 1e-3),
    "sections",
    shown="AREA",
    repeated=True,
)
PLUG = Option(
    "--plug", Quantity('rated current of the plug, as "16 A"', "current", 1.0, 1000.0), "plug", shown="CURRENT"
)
SEED = Option(
    "--seed",
    Count("start of the random draws; the same seed gives the same numbers", 0, 2**63 - 1),
    "seed",
    shown="NUMBER",
)

SUBSYSTEM = Option(
    "--subsystem",
    Text("only subsystems with this word in their name, every value of them; may be repeated"),
    "subsystems",
    shown="WORD",
    repeated=True,
)

_SHARED = (FILE, SET, JSON, FIGURE)
_OF_THE_COMMAND = {option.keyword for option in (*_SHARED, SAVE)}  # the others are handed to the study


# --- what the commands do ------------------------------------------------------------------------------------------


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
    place, keywords = _place_of_run(request), _for_the_study(request)
    scenario, remark = load(request)
    study = importlib.import_module(f"weldsim.studies.{module}")
    _announce_compiling()
    if "progress" in inspect.signature(study.ask).parameters:
        keywords["progress"] = meter()
    saves_itself = "save" in inspect.signature(study.ask).parameters
    if place and saves_itself:
        keywords |= {"save": place, "command": request.typed}
    answer: Answer = study.ask(scenario, **keywords)
    if not request.get("json"):
        from weldsim.report.wording import page

        print(page(answer, remark=remark), flush=True)
    if place and saves_itself:
        tell(f"run saved: {place}")
    elif place:
        _keep(answer, place, typed=request.typed)
    if picture:
        draw_to(importlib.import_module(f"weldsim.figures.{module}").draw(answer), picture, request)
    if request.get("json"):
        print(json.dumps(answer.as_json()))


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
    if not request.get("json"):
        from weldsim.report.wording import run_page

        print(run_page(run), flush=True)
    if picture:
        from weldsim.figures.show import draw

        draw_to(draw(run, signals=request.get("signals", ())), picture, request)
    if request.get("json"):
        from weldsim.studies.answer import Answer, Number

        answer = Answer("show", run.scenario, {name: Number(*figure) for name, figure in run.table.items()})
        print(json.dumps(answer.as_json()))


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


def _announce_compiling() -> None:
    """Say so when the first run on this machine will take some seconds longer."""
    from weldsim.runs.perform import must_compile

    if must_compile():
        tell("compiling the solver, once on this machine; 5 to 20 s")


def _stem(request: Request) -> str:
    """The file's name without folder and ending, for the names of what is made of it."""
    return Path(request.get("file")).stem


def _place_of_run(request: Request) -> Path | None:
    """Where --save puts the run; a folder that is not there is told before the work, not after it."""
    return in_a_folder(request.get("save"), "--save")


def _keep(answer: "Answer", place: Path, *, typed: str) -> None:
    """Save the run behind an answer, with the command line that made it."""
    from weldsim.runs.files import save_run

    run: Run = answer.runs["window"] if "window" in answer.runs else next(iter(answer.runs.values()))
    save_run(dataclasses.replace(run, provenance={**run.provenance, "command": typed}), place)
    tell(f"run saved: {place}")


# --- the table -----------------------------------------------------------------------------------------------------


def study(name: str, question: str, options: tuple[Option, ...], *, module: str = "", example: str = "") -> Command:
    """The line of a study: ``module`` is its file where that is not called like the command."""
    return Command(name, question, partial(ask, module=module or name), _SHARED + options, example)


COMMANDS: tuple[Command, ...] = (
    Command(
        "check",
        "Is this file sound? Reads and judges a scenario without simulating it.",
        check,
        (FILE, SET, JSON),
        "weldsim check toroid_shed.toml",
    ),
    study(
        "preview",
        "What do I get at this dial setting? Waveforms, figures and verdicts.",
        (DIAL, DELAY, FROM, DURATION, WINDOW, SAVE),
        example="weldsim preview toroid_shed.toml --dial 60%",
    ),
    study(
        "characteristic",
        "Which volts at which amps? Output lines for several dial settings, with the load line.",
        (DIALS,),
        example="weldsim characteristic toroid_shed.toml --dial 30% --dial 60%",
    ),
    study(
        "inrush",
        "How often does a trigger press trip the breaker, how bad is it, and what helps?",
        (DIAL, DELAY, PRESSES, BANK, REMANENCE, SEED, WORKERS, SAVE),
        example="weldsim inrush toroid_shed.toml --presses 1000",
    ),
    study(
        "drill",
        "What did the fifth press do differently? A train of presses as one simulation.",
        (DIAL, DELAY, PRESSES, ON, OFF, SEED),
        module="press_drill",
        example="weldsim drill toroid_shed.toml --presses 20",
    ),
    study(
        "strike",
        "Does it strike, how soon, and does the boost decide it?",
        (DIAL, DELAY, FEED, TRIALS, SEED, COMPARE),
        example="weldsim strike toroid_shed_boost.toml --dial 40% --compare boost",
    ),
    study(
        "weld",
        "How does it weld in dip transfer, and in which range of the dial does it run regularly?",
        (DIAL, DELAY, FEED, SECONDS, TRAVEL, VOLTAGE_WINDOW, SEED, WORKERS, SAVE),
        example='weldsim weld toroid_shed_boost.toml --seconds 5 --feed "6 m/min"',
    ),
    study(
        "breaker",
        "How long until the breaker trips while welding, which output runs for ever, and how warm get lead and plug?",
        (DIALS, DUTY, PLUG),
        example="weldsim breaker toroid_shed.toml --duty 35%",
    ),
    Command(
        "prove",
        "Why may I believe it? Every comparison with numbers from elsewhere, made now.",
        prove,
        (SUBSYSTEM, JSON, FIGURE),
        "weldsim prove --subsystem inrush",
    ),
    study(
        "lead",
        "How long may the supply lead be, and how thick? Output, dial and heat over length and section.",
        (DIAL, CURRENT, LENGTH, SECTIONS, DUTY),
        example='weldsim lead long_lead.toml --current "100 A" --length "60 m"',
    ),
    study(
        "meters",
        "What will my meters show, which of them is right, and what does an hour cost in energy?",
        (DIAL, DELAY, DUTY, SAVE),
        example="weldsim meters toroid_shed.toml --dial 40%",
    ),
    study(
        "taps",
        "Taps or a dial? The same output both ways: ripple, primary current, power factor, trips.",
        (DIAL, PRESSES, SEED, WORKERS),
        example="weldsim taps toroid_shed.toml --dial 40%",
    ),
    Command(
        "show",
        "What was in that run? Prints and draws a saved run again.",
        show,
        (RUN, JSON, FIGURE, SIGNAL),
        "weldsim show run.h5 --signal choke.current",
    ),
)
