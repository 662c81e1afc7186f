"""Numbers in words and in aligned columns: the page that a command prints."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

from weldsim.errors import written_out
from weldsim.report.cautions import cautions
from weldsim.report.headings import COLUMNS, ONLY_WHERE

if TYPE_CHECKING:  # `weldsim check` words its findings here and must not load numpy
    from weldsim.runs.run import Run
    from weldsim.studies.answer import Answer

STATISTICS = ("mean", "rms", "min", "max", "peak", "ripple")  # each a column of the table of figures
METERS = ("moving_coil", "average_responding", "true_rms")  # columns of the table of instruments
LEVELS = {"fault": "FAULT", "note": "note", "good": "good"}  # in this order on the page
COUNTED = {"fault": ("fault", "faults"), "note": ("note", "notes"), "good": ("good", "good")}
WIDTH = 100  # of a page, in characters
TABLE_WIDTH = 130  # of a table on it; what is wider goes on below, under its first column again
ROUNDING = 1e-11  # what is smaller in a table of cases is what rounding leaves of nothing
DUST = 1e-4  # of the largest figure beside it: what is below is what rounding or settling leaves

_SPELLED = {"1": "", "deg": "°", "degC": "°C", "V.s": "V s", "A2.s": "A²s"}
_PREFIXED = ("V", "A", "W", "VA", "J", "V.s", "s", "m", "ohm", "H", "F", "C", "Hz", "T", "A2.s")
_TRADE = {"A/s": (1e3, "A/ms"), "V/s": (1e6, "V/us"), "m/s": (1 / 60, "m/min")}  # the units that the trade speaks in
_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))


Numbers = Mapping[str, tuple[float | None, str]]


def quantity(value: float | None, unit: str, *, digits: int = 4) -> str:
    """A value with its unit as a person would say it; prefixes only outside 0.1 to 10 000.

    >>> quantity(127.650056, "A"), quantity(0.0123, "A"), quantity(25310.0, "W"), quantity(0.75, "V.s")
    ('127.7 A', '12.30 mA', '25.31 kW', '0.7500 V s')
    >>> quantity(3.0, "1"), quantity(68.75, "deg"), quantity(float("nan"), "A"), quantity(float("inf"), "s")
    ('3', '68.75°', 'unknown', 'never')
    >>> quantity(80e3, "A/s"), quantity(0.1, "m/s"), quantity(0.00413, "m")
    ('80.00 A/ms', '6.000 m/min', '4.130 mm')
    """
    if value == float("inf") and unit in ("s", "m"):
        return "never" if unit == "s" else "any looked at"
    if value is None or not isfinite(value):
        return "unknown"
    if unit in _TRADE:
        value, unit = value / _TRADE[unit][0], _TRADE[unit][1]
    value += 0.0  # a zero has no sign
    scale, prefix = _prefix(abs(value)) if unit in _PREFIXED else (1.0, "")
    number = f"{value / scale:.{digits}g}" if unit == "1" or value == 0 else f"{value / scale:#.{digits}g}".rstrip(".")
    if "e" in number:
        number = f"{float(number):.0f}" if abs(float(number)) >= 1.0 else number
    spelled = prefix + _SPELLED.get(unit, unit)
    return f"{number}{spelled}" if spelled.startswith("°") else f"{number} {spelled}".rstrip()


def _prefix(size: float) -> tuple[float, str]:
    """The power of a thousand that suits a value, and its letter."""
    if size == 0.0 or 0.1 <= size < 1e4:
        return 1.0, ""
    return next(((scale, letter) for scale, letter in _PREFIXES if size >= scale), _PREFIXES[-1])


def columns(rows: Sequence[Sequence[str]], *, head: Sequence[str] = (), indent: str = "  ") -> list[str]:
    """Rows of cells as lines with aligned columns: the first to the left, the others to the right.

    >>> columns([["output current", "127.7 A"], ["bank", "9 V"]])
    ['  output current  127.7 A', '  bank                9 V']
    """
    if not rows:
        return []
    table = [list(head), *map(list, rows)] if head else [list(row) for row in rows]
    count = max(len(row) for row in table)
    for row in table:
        row.extend([""] * (count - len(row)))
    widths = [max(len(row[place]) for row in table) for place in range(count)]
    lines = []
    for row in table:
        cells = [
            cell.rjust(width) if place else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((indent + "  ".join(cells)).rstrip())
    return lines


def figures(numbers: Numbers) -> list[str]:
    """The table of figures: one line for each quantity with its statistics, then what has none.

    A line and a column together are the name in ``--json``: "output current" and "mean" is output.current.mean.
    """
    columned = {*STATISTICS, *METERS}
    others = [
        [spoken(name), quantity(*_without_rounding(number))]
        for name, number in numbers.items()
        if name.rpartition(".")[2] not in columned
    ]
    lines = grid(numbers, STATISTICS)
    if lines and others:
        lines.append("")
    return lines + columns(others)


def _without_rounding(number: tuple[float | None, str]) -> tuple[float | None, str]:
    """A share or count that rounding leaves of nothing is nothing."""
    value, unit = number
    return (0.0, unit) if unit == "1" and value is not None and abs(value) < ROUNDING else number


def grid(numbers: Numbers, statistics: Sequence[str]) -> list[str]:
    """One line for each quantity, one column for each of these statistics that is used."""
    found: dict[str, dict[str, tuple[float | None, str]]] = {}
    for name, number in numbers.items():
        stem, _, statistic = name.rpartition(".")
        if statistic in statistics and stem:
            found.setdefault(stem, {})[statistic] = number
    cells = {stem: _without_dust(row) for stem, row in found.items()}
    used = [one for one in statistics if any(one in row for row in cells.values())]
    return columns(
        [[spoken(stem), *(row.get(one, "") for one in used)] for stem, row in cells.items()],
        head=["", *map(spoken, used)],
    )


def _without_dust(row: Mapping[str, tuple[float | None, str]]) -> dict[str, str]:
    """The statistics of one quantity in words; what rounding leaves of a mean beside its rms is told as none."""
    largest = max((abs(value) for value, _ in row.values() if value is not None and isfinite(value)), default=0.0)
    return {
        name: quantity(0.0 if value is not None and abs(value) < DUST * largest else value, unit)
        for name, (value, unit) in row.items()
    }


def spoken(name: str) -> str:
    """A name of ``--json`` as words.

    >>> spoken("primary.power_factor")
    'primary power factor'
    """
    return name.replace(".", " ").replace("_", " ")


def listed(rows: Iterable[Mapping[str, Any]]) -> list[str]:
    """The cases of a study as a table; one too wide for a page goes on below, under its first column again."""
    rows = list(rows)
    keys = [key for key in dict.fromkeys(key for row in rows for key in row) if any(_told(key, row) for row in rows)]
    table = [[COLUMNS.get(key, (spoken(key), ""))[0] for key in keys]]
    table += [[_cell(key, row.get(key)) for key in keys] for row in rows]
    widths = [max(len(row[place]) for row in table) + 2 for place in range(len(keys))]
    parts: list[list[int]] = []
    for place, width in enumerate(widths):
        if not parts or sum(widths[one] for one in parts[-1]) + width > TABLE_WIDTH:
            parts.append([0] if parts and place else [])
        parts[-1].append(place)
    lines: list[str] = []
    for part in parts:
        head, *body = [[row[place] for place in part] for row in table]
        lines += ([""] if lines else []) + columns(body, head=head)
    return lines


def _told(key: str, row: Mapping[str, Any]) -> bool:
    """Whether a case has something to tell in this column."""
    value = row.get(key)
    return bool(value) if key in ONLY_WHERE else value is not None and value == value


def _cell(key: str, value: Any) -> str:
    """One case's value in words."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, (int, float)):
        return spoken(str(value)) if key == "case" else str(value)
    unit = COLUMNS.get(key, ("", "1"))[1]
    if isinstance(value, float) and abs(value) < (1e-3 if unit == "K" else ROUNDING):
        value = 0.0
    if key == "mains":  # off the rated voltage
        return f"{100.0 * value:+.4g} %" if value else "0 %"
    scale = {"%": 100.0, "mm2": 1e6, "mm": 1e3, "m/min": 60.0}.get(unit)
    return quantity(value, unit) if scale is None or not isfinite(value) else f"{scale * value:.4g} {unit}"


def wrapped(text: str, *, first: str = "  ", rest: str = "  ") -> list[str]:
    """Text as lines of at most the page's width."""
    import textwrap

    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False)


def dashed(texts: Iterable[str]) -> list[str]:
    """Texts as a list."""
    return [line for text in texts for line in wrapped(text, first="  - ", rest="    ")]


def verdict_lines(verdicts: Iterable[Any]) -> list[str]:
    """Verdicts with their level in front, the worst first."""
    lines = []
    order = list(LEVELS)
    for verdict in sorted(verdicts, key=lambda one: order.index(one.level)):
        lines += wrapped(verdict.text, first=f"  {LEVELS[verdict.level]:<6} ", rest=" " * 9)
    return lines


def section(heading: str, lines: Sequence[str]) -> list[str]:
    """A heading, its lines and a blank line; nothing at all where there are no lines."""
    return [heading, *lines, ""] if lines else []


def whole(lines: Iterable[str]) -> str:
    """The page that lines make; nothing in it, be it the title of a foreign file, can command a terminal."""
    return "\n".join(map(written_out, lines)).rstrip()


def top(scenario: Any, *, remark: str) -> list[str]:
    """What a page begins with: of which scenario it speaks, and a remark on where that was found."""
    return [scenario.title or scenario.source or "a scenario without a title", *(wrapped(remark) if remark else ())]


def page(answer: "Answer", *, remark: str = "") -> str:
    """Everything that an answer says, for the terminal."""
    from weldsim.report.sides import apart

    lines = [*top(answer.scenario, remark=remark), ""]
    lines += section("Verdicts", verdict_lines(answer.verdicts))
    numbers: Numbers = {
        name: (one.value, one.unit) for name, one in answer.numbers.items() if not _left_out(answer, name)
    }
    beside, numbers = apart(answer.study, numbers)
    lines += section("Side by side", beside)
    lines += section("Figures", figures(numbers))
    lines += section("What meters show", grid(numbers, METERS))
    for heading, rows in rows_told(answer):
        lines += section(heading, listed(rows))
    lines += section("Assumed", dashed(answer.assumptions))
    lines += section("Take care", dashed(cautions(answer.scenario, study=answer.study)))
    return whole(lines)


def _left_out(answer: "Answer", name: str) -> bool:
    """Whether a page leaves out a number: one that is in a table below, or that says nothing of this scenario."""
    if answer.study in _NOT_TOLD and _NOT_TOLD[answer.study](answer, name):
        return True
    control = getattr(answer.scenario, "phase_control", None)
    bare = control is not None and control.snubber_capacitance is None
    return bare and name.startswith("phase_control.voltage_rate.")


def _in_the_table_of_spots(answer: "Answer", name: str) -> bool:
    """Spreads and counts, but for how many spots there were and how many of them ended badly."""
    if name == "spots.count" or name.endswith("in_the_tube.count") and answer.numbers[name].value:
        return False
    return name.rpartition(".")[2] in ("spread", "count", "median")


_NOT_TOLD: dict[str, Callable[["Answer", str], bool]] = {  # study -> whether its page leaves a number out
    "identify": lambda answer, name: True,
    "lead": lambda answer, name: name.startswith(("lead.section_", "weld_leads.section_")),
    "mains": lambda answer, name: bool(answer.rows) and name.startswith("primary.current.harmonic_"),
    "preview": lambda answer, name: (
        getattr(answer.scenario, "load", None) is None and name.startswith("output.current.")
    ),
    "share": lambda answer, name: any(word in name for word in ("secondary", "_primary", "core.", "transformer.")),
    "spot": _in_the_table_of_spots,
}
_GROUPED = {"group", "group_largest", "subgroup", "interharmonic_above"}
_NOTHING = 1e-6  # [A, V, 1]: what settling leaves of no even order
_ORDER_FIGURES = ("group", "current", "interharmonic_above", "plug_voltage", "reference_voltage")
# Keys of a case that its page leaves out.
_FOR_PROGRAMS = {"kind", "what", "angle", "polarity", "p90_as_it_is", "p90_first", "fuse", "worst"}
_FOR_PROGRAMS |= {"gain", "gain_from", "gain_to", "p90_other_polarity"}
_TAP, _DIAL = (
    {f"{side}_{what}" for what in ("ripple", "least", "primary_rms", "primary_peak", "power_factor", "thd", "trip")}
    for side in ("tap", "dial")
)
_ELSEWHERE_ON_THE_PAGE = {  # (study, heading) -> what other columns, another table or a verdict tell too
    ("compare", "Causes, what each takes and leaves"): {"key", "value", "written", "repeating"},
    ("drill", "Presses"): {"end", "softened"},
    ("feed", "Starts"): {"stage"},
    ("mains", "Limits"): {"margin"},
    ("taps", "Tap by tap"): _DIAL,
    ("taps", "The same output by the dial"): _TAP,
}
# Study -> (heading, kind) of the cases that its page tells; the others (every press, the map) are left to pictures and
# --json.
_TOLD = {
    "inrush": (("Remedies", "remedy"), ("Stress", "stress")),
    "drill": (("Presses", "press"),),
    "feed": (("Starts", "start"), ("Stages at high mains", "stage")),
    "strike": (("Typical trials", "moment"), ("Over dial and feed", "setting")),
    "choke": (("Inductances", "inductance"),),
    "sequence": (("Timeline", "span"), ("Wire ends over the burn-back time", "burn_back")),
    "spot": (("Conditions", "condition"), ("Burn-back", "burn_back")),
    "weld": (("At other mains", "mains"), ("Over the dial", "window")),
    "breaker": (("At each dial", "dial"),),
    "duty": (("Parts at this setting", "part"), ("At each dial", "dial")),
    "lead": (("Longest leads", "longest"), ("Weld leads, torch and return", "weld_lead")),
    "identify": (
        ("Values, as a scenario has them", "value"),
        ("Readings, and what the values give there", "reading"),
        ("Magnetising curve, peak values", "corner"),
        ("Choke", "bias"),
    ),
    "meters": (("Readings", "reading"), ("With one thing broken", "fault")),
    "setting": (("This dial over the mains", "point"),),
    "compare": (("Causes, what each takes and leaves", "cause"), ("What tells the first from another", "telling")),
    "generator": (("Ratings", "rating"),),
    "mains": (("Orders", "order"), ("Limits", "limit"), ("Settings", "setting")),
    "share": (
        ("Each transformer", "transformer"),
        ("The same two joined otherwise (as told: the right way round)", "join"),
        ("Turns of the second secondary", "turns"),
    ),
    "taps": (("Tap by tap", "pair"), ("The same output by the dial", "pair")),
    "preview": (("Where the power goes", "part"),),
}


def rows_told(answer: "Answer") -> list[tuple[str, list[Mapping[str, Any]]]]:
    """The cases of a study under their headings."""
    rows = [row for row in answer.rows or () if not _is_an_even_order_of_none(row)]
    if answer.study not in _TOLD:
        apart, cases = _apart(rows, "turns")
        return [("Secondary turns", apart), ("Cases", cases)] if apart else [("Cases", cases)]
    told: list[tuple[str, list[Mapping[str, Any]]]] = []
    for heading, kind in _TOLD[answer.study]:
        mine = [row for row in rows if row.get("kind") == kind]
        left_out = _FOR_PROGRAMS | _ELSEWHERE_ON_THE_PAGE.get((answer.study, heading), set())
        if all(abs(row.get("group", 0.0) - row.get("current", 0.0)) < _NOTHING for row in mine if kind == "order"):
            left_out |= _GROUPED  # every period alike: each group is its order
        told.append((heading, [{key: value for key, value in row.items() if key not in left_out} for row in mine]))
    return told


def _apart(rows: Sequence[Mapping[str, Any]], kind: str) -> tuple[list[Mapping[str, Any]], list[Mapping[str, Any]]]:
    """The rows of a kind, without saying so, and the others."""
    own = [{key: cell for key, cell in row.items() if key != "kind"} for row in rows if row.get("kind") == kind]
    return list(own), [row for row in rows if row.get("kind") != kind]


def _is_an_even_order_of_none(row: Mapping[str, Any]) -> bool:
    """Whether a case is an even order, or its limit, of which there is nothing, as where half cycles are alike."""
    named = {"limit": ("quantity", "found"), "order": ("order", *_ORDER_FIGURES)}.get(row.get("kind", ""))
    if named is None:
        return False
    order, found = str(row[named[0]]), [row[name] or 0.0 for name in named[1:]]
    return order.isdigit() and int(order) % 2 == 0 and max(found) < _NOTHING


def check_page(scenario: Any, findings: Sequence[Any], *, remark: str = "") -> str:
    """What a check found: the parts that are there, then every finding, the worst first."""
    tables = [field.name for field in fields(scenario) if is_dataclass(getattr(scenario, field.name))]
    parts = [name for name in tables if name != "start"]
    levels = [one.level for one in findings]
    counts = [f"{levels.count(level)} {words[levels.count(level) != 1]}" for level, words in COUNTED.items()]
    lines = top(scenario, remark=remark)
    lines += wrapped("Read without fault; it has " + ", ".join(map(spoken, parts)) + ".")
    lines.append("")
    lines += section("Findings, without simulating: " + ", ".join(counts), verdict_lines(findings))
    lines += section("Take care", dashed(cautions(scenario, study="check")))
    return whole(lines)


def run_page(run: "Run", *, remark: str = "") -> str:
    """A saved run again: where it comes from, its table, and where its energy went."""
    lines = top(run.scenario, remark=remark)
    start, end = run.window
    lines += ["", *columns(_origin(run)), ""]
    lines += section(f"Figures, from {start:.6g} s to {end:.6g} s", figures(run.table))
    lines += section("Energy", columns(_energies(run)) + (["", *wrapped(run.doubt)] if run.doubt else []))
    lines += section("Assumed", dashed(run.assumed)) + section(
        "Take care", dashed(cautions(run.scenario, study="show"))
    )
    return whole(lines)


def _origin(run: "Run") -> list[list[str]]:
    """How a run was made, as rows of two cells."""
    told = {key: run.provenance[key] for key in ("command", "created") if run.provenance.get(key)}
    rows = [[key, str(text)] for key, text in told.items()]
    versions = run.provenance.get("versions", {})
    if versions:
        rows.append(["versions", ", ".join(f"{name} {number}" for name, number in versions.items())])
    recorded = f"{len(run.signals)} waveforms, {len(run.time)} samples each, {len(run.events)} switchings"
    return [*rows, ["recorded", recorded]]


def _energies(run: "Run") -> list[list[str]]:
    """The ledger as rows: part, role, energy."""
    rows = []
    for part, entry in run.ledger.items():
        roles = entry.items() if isinstance(entry, Mapping) else [("", entry)]
        rows += [[spoken(part), role, quantity(value, "J")] for role, value in roles]
    return rows
