"""Every option that the commands take: what is typed, the rule its value follows, the keyword it goes under."""

from weldsim.cli.options import Bare, FileName, Option, Scale
from weldsim.units import Choice, Count, Flag, Quantity, Text

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
SAVE = Option("--save", FileName("keep the recorded run in an HDF5 file"), "save", shown="RUN.h5")
WRITE = Option("--write", FileName("a new scenario file with the values that were found"), "write", shown="FILE.toml")
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
    Count("how many processes simulate; the numbers do not depend on it", 1, 256),
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
FLUX_LINKAGE = Option(
    "--flux-linkage",
    Quantity(
        'the same as flux linkage of the primary, as "0.4 V.s": for a core given without section or turns',
        "flux_linkage",
        -100.0,
        100.0,
    ),
    "flux_linkage",
    shown="FLUX",
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
VOLTAGE = Option(
    "--voltage",
    Quantity('output voltage that is wanted, as "24 V"', "voltage", 0.1, 1e4),
    "voltage",
    shown="VOLTAGE",
)
VOLTAGE_WINDOW = Option(
    "--voltage-window",
    Flag("look for the lowest and highest dial at which it runs regularly at this feed; some 27 welds"),
    "voltage_window",
)
SPOTS = Option("--spots", Count("how many spots under each condition", 1, 100_000), "spots", shown="NUMBER")
SPOT_TIME = Option(
    "--spot-time", Quantity('of the spot timer, as "0.3 s"', "time", 0.01, 60.0), "spot_time", shown="TIME"
)
WIRE_END = Option(
    "--wire-end",
    Quantity('wire wanted out of the contact tube afterwards, as "8 mm": which burn-back?', "length", 0.0, 0.06),
    "wire_end",
    shown="LENGTH",
)
WARM = Option(
    "--warm", Quantity('windings of the warm supply, as "100 degC"', "temperature", 0.0, 300.0), "warm", shown="TEMP"
)
REST = Option(
    "--pause", Quantity('between spots that follow one another, as "1 s"', "time", 0.0, 600.0), "pause", shown="TIME"
)
COMPARE = Option("--compare", Choice("with and without the boost circuit, same draws", ("boost",)), "compare")
OVER_DIAL = Option("--over-dial", Flag("also strike over a range of dial settings and feeds"), "over_dial")
FAULTS = Option("--faults", Flag("also read the meters with one thing broken after the other"), "faults")
GATE = Option("--gate", Flag("also look for the shortest gate pulse with which no half cycle is missed"), "gate")
DUTY = Option(
    "--duty", Quantity("share of each ten minutes in which it welds", "fraction", 0.001, 1.0), "duty", shown="35%"
)
CURRENT = Option(
    "--current",
    Quantity('output current that is wanted, in place of a dial, as "100 A"', "current", 0.1, 1e4),
    "current",
    shown="CURRENT",
)
CURRENTS = Option(
    "--current",
    Quantity(
        'with --turns: output current at which their volts are told, as "100 A"; may be repeated', "current", 0.1, 1e4
    ),
    "currents",
    shown="CURRENT",
    repeated=True,
)
TURNS = Option(
    "--turns",
    Count("secondary turns to compare, fully fired or at a single --dial; may be repeated", 1, 100_000),
    "turns",
    shown="NUMBER",
    repeated=True,
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
WELD_SECTIONS = Option(
    "--weld-section",
    Quantity('section of the weld leads, as "16 mm2"; may be repeated', "area", 1e-6, 1e-3),
    "weld_sections",
    shown="AREA",
    repeated=True,
)
RATING = Option(
    "--rating",
    Quantity('rating of the generator, as "5 kVA"', "apparent_power", 100.0, 1e6),
    "rating",
    shown="RATING",
)
PLUG = Option(
    "--plug",
    Quantity('rated current of the plug, as "16 A"; else the smallest that the breaker protects', "current", 1.0, 1e3),
    "plug",
    shown="CURRENT",
)
CARRIED = Option(
    "--carried",
    Quantity(
        'primary current that the breaker has carried for an hour before, as "12 A"; else cold', "current", 0.0, 1e3
    ),
    "carried",
    shown="CURRENT",
)
DELAYS = Option(
    "--delay",
    Quantity("firing delay in place of the dial; may be repeated", "angle", 0.0, 180.0),
    "delays",
    shown="75deg",
    repeated=True,
)
SWEEP = Option("--sweep", Count("so many settings of the dial, from 0 to 100 %", 2, 1000), "sweep", shown="NUMBER")
WATCHED = Option(
    "--seconds",
    Bare("how long to weld, or to press the trigger, from the first trigger on", "time", 2.0, 7200.0),
    "seconds",
    shown="NUMBER",
)
MINUTES = Option(
    "--minutes",
    Count("the same in minutes: ten make a Pst", 1, 120),
    "minutes",
    shown="NUMBER",
)
DEMAND = Option(
    "--demand",
    Quantity('the most that the customer draws, as "40 A", for TDD and IEEE 519', "current", 0.1, 10000.0),
    "demand",
    shown="CURRENT",
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
RISE = Option(
    "--rise",
    Quantity('wanted rise of the short-circuit current, as "80 A/ms"', "current_rate", 100.0, 1e7),
    "rise",
    shown="RATE",
)
CORE_SECTION = Option(
    "--core-section",
    Quantity('section of a core to wind the choke on, as "20 cm2"', "area", 1e-6, 1.0),
    "core_section",
    shown="AREA",
)
CORE_PATH = Option(
    "--core-path",
    Quantity('mean length of its iron path, as "30 cm"', "length", 1e-3, 10.0),
    "core_path",
    shown="LENGTH",
)
CAPTURE = Option(
    "--capture",
    FileName("a measured trace: text of two columns, time in s and value; a bundled one by its name"),
    "capture",
    shown="TRACE.csv",
)
COLUMN = Option(
    "--column",
    Count("which column of the capture holds the values, where there are more than two; the first is the time", 2, 100),
    "column",
    shown="NUMBER",
)
MEASURED = Option("--signal", Text("the waveform that was measured, by its name"), "signal", shown="NAME")
PER_UNIT = Option(
    "--per-unit",
    Scale(
        'what one unit of the capture\'s values is, as "100 A" for a probe of 100 A/V',
        ("current", "voltage", "flux_linkage", "flux_density"),
    ),
    "per_unit",
    shown="QUANTITY",
)
