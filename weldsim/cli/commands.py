"""The table of commands; what they do stands in ``answering.py`` and beside it.

A new question is one more line of ``_TABLE``: its study is ``weldsim/studies/<module>.py`` with
``ask(scenario, ...)``, its picture ``weldsim/figures/<module>.py`` with ``draw(answer)``, and its options are given to
``ask`` by keyword.
"""

from functools import partial

from weldsim.cli.answering import SHARED, ask, check, show
from weldsim.cli.option_table import (
    BANK,
    CAPTURE,
    CARRIED,
    COLUMN,
    COMPARE,
    CORE_PATH,
    CORE_SECTION,
    CURRENT,
    CURRENTS,
    DELAY,
    DELAYS,
    DEMAND,
    DIAL,
    DIALS,
    DURATION,
    DUTY,
    FAULTS,
    FEED,
    FIGURE,
    FILE,
    FLUX_LINKAGE,
    FROM,
    GATE,
    JSON,
    LENGTH,
    MEASURED,
    MINUTES,
    OFF,
    ON,
    OVER_DIAL,
    PER_UNIT,
    PLUG,
    PRESSES,
    RATING,
    REMANENCE,
    REST,
    RISE,
    RUN,
    SAVE,
    SECONDS,
    SECTIONS,
    SEED,
    SET,
    SIGNAL,
    SPOT_TIME,
    SPOTS,
    SUBSYSTEM,
    SWEEP,
    TRAVEL,
    TRIALS,
    TURNS,
    VOLTAGE,
    VOLTAGE_WINDOW,
    WARM,
    WATCHED,
    WELD_SECTIONS,
    WINDOW,
    WIRE_END,
    WORKERS,
    WRITE,
)
from weldsim.cli.options import Command, Option
from weldsim.cli.proving import prove
from weldsim.cli.sweeping import sweep_command


def study(name: str, question: str, options: tuple[Option, ...], *, module: str = "", example: str = "") -> Command:
    """The line of a study: ``module`` is its file where that is not called like the command."""
    module = module or name
    return Command(name, question, partial(ask, module=module), SHARED + options, example, module)


_TABLE: tuple[Command, ...] = (
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
        (DIAL, DELAY, FROM, DURATION, WINDOW, GATE, SAVE),
        example="weldsim preview toroid_shed.toml --dial 60%",
    ),
    study(
        "characteristic",
        "Which volts at which amps? Output lines for several dial settings, with the load line; how many turns?",
        (DIALS, TURNS, CURRENTS, WORKERS),
        example="weldsim characteristic toroid_shed.toml --dial 30% --dial 60%",
    ),
    study(
        "setting",
        "Which dial gives the wanted current or voltage, how finely must it be set, and what does the mains do?",
        (CURRENT, VOLTAGE, SAVE),
        example='weldsim setting toroid_shed.toml --current "120 A"',
    ),
    study(
        "inrush",
        "How often does a trigger press trip the breaker, how bad is it, and what helps?",
        (DIAL, DELAY, PRESSES, BANK, REMANENCE, FLUX_LINKAGE, SEED, WORKERS, SAVE),
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
        "feed",
        "How fast does the wire come, against mains, load and the control of its motor?",
        (FEED, DIAL, DELAY, SEED),
        example="weldsim feed toroid_shed.toml --feed '5 m/min'",
    ),
    study(
        "sequence",
        "What does a press of the trigger switch when, and where is the wire's end afterwards?",
        (DIAL, DELAY, FEED, TRIALS, SEED, WORKERS, SAVE),
        example="weldsim sequence toroid_shed.toml --dial 60%",
    ),
    study(
        "spot",
        "How alike are my spots, and what do timer, mains, soft start and warmth do to them?",
        (DIAL, DELAY, FEED, SPOT_TIME, WIRE_END, WARM, REST, SPOTS, SEED, WORKERS),
        example="weldsim spot school_spot.toml --dial 70% --spots 40",
    ),
    study(
        "strike",
        "Does it strike, how soon, and does the boost decide it?",
        (DIAL, DELAY, FEED, TRIALS, SEED, COMPARE, OVER_DIAL, WORKERS),
        example="weldsim strike toroid_shed_boost.toml --dial 40% --compare boost",
    ),
    study(
        "weld",
        "How does it weld in dip transfer, and in which range of the dial does it run regularly?",
        (DIAL, DELAY, FEED, SECONDS, TRAVEL, VOLTAGE_WINDOW, SEED, WORKERS, SAVE),
        example='weldsim weld toroid_shed_boost.toml --seconds 5 --feed "6 m/min"',
    ),
    study(
        "choke",
        "Which inductance gives the wanted rise of a short's current, and how is it wound without saturating?",
        (DIAL, DELAY, FEED, RISE, CORE_SECTION, CORE_PATH, TRIALS, SEED, WORKERS),
        example='weldsim choke toroid_shed.toml --rise "60 A/ms"',
    ),
    study(
        "breaker",
        "How long until the breaker trips while welding, which output runs for ever, and how warm get lead and plug?",
        (DIALS, DUTY, PLUG, CARRIED),
        example="weldsim breaker toroid_shed.toml --duty 35%",
    ),
    study(
        "duty",
        "How long may it weld: which part gets too hot first, after how many minutes, at which duty?",
        (DIALS, DUTY),
        example="weldsim duty toroid_shed.toml --dial 40% --dial 60%",
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
        "How long may the supply lead be, and how thick? What do the weld leads take? Output, dial and heat.",
        (DIAL, CURRENT, LENGTH, SECTIONS, WELD_SECTIONS, DUTY, WORKERS),
        example='weldsim lead long_lead.toml --current "100 A" --length "60 m"',
    ),
    study(
        "meters",
        "What will my meters show, also with one part broken, which is right, and what does an hour cost in energy?",
        (DIAL, DELAY, DUTY, FAULTS, SAVE),
        example="weldsim meters toroid_shed.toml --dial 40%",
    ),
    study(
        "identify",
        "Which transformer, choke and bank are on the bench? Values from readings, how sure each is, and a scenario.",
        (WRITE,),
        example="weldsim identify bench_readings.toml --write my_supply.toml",
    ),
    study(
        "compare",
        "Mine shows this trace: does it agree with the simulation, and if not, which part explains it?",
        (CAPTURE, COLUMN, MEASURED, PER_UNIT, DIAL, DELAY, SAVE),
        example='weldsim compare toroid_shed.toml --capture toroid_shed_capture.csv --per-unit "100 A" --dial 60%',
    ),
    study(
        "taps",
        "Taps or a dial? The same output both ways: ripple, primary current, power factor, trips.",
        (DIAL, PRESSES, SEED, WORKERS),
        example="weldsim taps toroid_shed.toml --dial 40%",
    ),
    study(
        "share",
        "Two transformers, in series or parallel: do they share, what circulates, and which join is the right one?",
        (DIAL, DELAY, SAVE),
        example="weldsim share oven_pair.toml",
    ),
    study(
        "generator",
        "Which generator runs it, what does its voltage look like, and how far does it sag?",
        (DIAL, DELAY, RATING, SAVE),
        example='weldsim generator long_lead.toml --rating "5 kVA"',
    ),
    study(
        "mains",
        "What does it do to the mains? Harmonics against limits, power factor, the plug's voltage, flicker.",
        (DIALS, DELAYS, SWEEP, WATCHED, MINUTES, ON, OFF, FEED, DEMAND, SEED),
        example="weldsim mains toroid_shed.toml --dial 60%",
    ),
    Command(
        "show",
        "What was in that run? Prints and draws a saved run again.",
        show,
        (RUN, JSON, FIGURE, SIGNAL),
        "weldsim show run.h5 --signal choke.current",
    ),
)
_STUDIES = tuple(command for command in _TABLE if command.module)
COMMANDS = (*_TABLE, sweep_command(_STUDIES, shared=SHARED, left_out=(SAVE, WORKERS)))
