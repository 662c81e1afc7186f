"""How many secondary turns: volts at wanted amperes and without load, for each number of them, over the mains."""

from collections.abc import Sequence
from dataclasses import field
from typing import Any

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.runs.tapped import rewound
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict, amount, counted, spread
from weldsim.studies.load_lines import NO_ARC, LoadLine
from weldsim.studies.no_load import highest_without_load
from weldsim.studies.operating import MAINS_STEPS, Setting, operate, sound, with_load

SHARES = (0.35, 0.6, 0.85)  # of what the supply as it is gives at most: amperes looked at where none are asked for
SHORT = 1e-3  # [ohm] a load on which what does not flow cannot be had, or less where the line asks for as little
APART = 1.7  # from one resistor of a line to the next: volts between them are right to 0.1 V
FIRST = "the overshoot of a bank's first charge included"
OPEN = 0.0  # [deg] fully fired


@dataclass(frozen=True)
class Wound:
    """One number of turns: volts without load, amperes on the load line, and volts at each wanted current.

    The last two at mains -10, 0 and +10 %; None where a current cannot be had even in a short.
    """

    turns: int
    no_load: float  # [V] settled, as a meter shows it
    highest: float  # [V] at mains +10 %, the first charge of an empty bank included
    on_line: list[float]
    volts: dict[float, list[float | None]]


@dataclass(frozen=True)
class Compared:
    """What is told of numbers of turns; nothing where none are asked for."""

    numbers: dict[str, Number] = field(default_factory=dict)
    verdicts: list[Verdict] = field(default_factory=list)
    rows: list[dict[str, Any]] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)


def check_turns(scenario: Scenario, turns: Sequence[int]) -> None:
    """Refuse, before anything is simulated, a supply that cannot be rewound."""
    for one in turns:
        rewound(scenario, one)


def compare(
    scenario: Scenario,
    turns: Sequence[int],
    *,
    line: LoadLine,
    currents: Sequence[float] | None,
    dials: Sequence[float] | None,
) -> Compared:
    """Compare the supply with these secondary turns, by rows "turns".

    Fully fired, or at the dial where a single one is asked for, by a gate held until the device has latched.
    """
    if not turns:
        if currents:
            raise QuestionError("it is told of numbers of turns", place="--current", advice="add --turns 15, or more")
        return Compared()
    dial = dials[0] if dials and len(set(dials)) == 1 else None
    fired = scenario
    by_diac = scenario.phase_control is not None and scenario.phase_control.dial_kind == "rc-diac"
    if scenario.phase_control is not None and not (by_diac and dial is not None):
        fired = vary(scenario, {"phase_control.pulse_kind": "held"})
    amps = list(dict.fromkeys(currents or _usual(fired, line, dial)))
    found = [_wound(rewound(fired, one), one, line, amps, dial) for one in dict.fromkeys(turns)]
    numbers: dict[str, Number] = {}
    for one in found:
        numbers |= {
            f"turns_{one.turns}.crossing.current": Number(one.on_line[1], "A"),
            f"turns_{one.turns}.crossing.current.low_mains": Number(one.on_line[0], "A"),
            f"turns_{one.turns}.crossing.current.high_mains": Number(one.on_line[2], "A"),
            f"turns_{one.turns}.open_circuit.voltage": Number(one.highest, "V"),
        }
    rows = [_row(one, current, line) for one in found for current in amps]
    return Compared(numbers, _verdicts(scenario, found, amps, line), rows, _assumptions(dial))


def _operated(scenario: Scenario, load: dict[str, object], dial: float | None, step: float) -> Setting:
    """The supply on a load: at the dial asked for, else fully fired."""
    delay = OPEN if dial is None and scenario.phase_control is not None else None
    return operate(with_load(scenario, load), dial=dial, delay=delay, mains_factor=step)


def _usual(scenario: Scenario, line: LoadLine, dial: float | None) -> list[float]:
    """Amperes worth a look: shares of what the supply as it is gives on the load line, in two digits."""
    most = _on_line(scenario, line, dial, 1.0).current
    if most < NO_ARC:
        raise QuestionError(
            "the supply as it is does not reach the load line", place="--turns", advice="say at which --current"
        )
    return [float(f"{share * most:.2g}") for share in SHARES]


def _on_line(scenario: Scenario, line: LoadLine, dial: float | None, step: float) -> Setting:
    return _operated(scenario, line.load, dial, step)


def _wound(scenario: Scenario, turns: int, line: LoadLine, amps: Sequence[float], dial: float | None) -> Wound:
    lines = _lines(scenario, line, amps, dial)
    delay = OPEN if dial is None and scenario.phase_control is not None else None
    bare = vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario
    fired = bare if dial is None or scenario.phase_control is None else vary(bare, {"phase_control.dial": dial})
    return Wound(
        turns,
        operate(fired, delay=delay).voltage,
        highest_without_load(fired, delay=delay, mains_factor=MAINS_STEPS[-1])["output"],
        [_on_line(scenario, line, dial, step).current for step in MAINS_STEPS],
        {one: [_volts(lines[step], one) for step in MAINS_STEPS] for one in amps},
    )


def _lines(scenario: Scenario, line: LoadLine, amps: Sequence[float], dial: float | None) -> dict[float, list[Setting]]:
    """Settled points on resistors that enclose the wanted amperes, if they can be had, at each voltage of the mains.

    All mains voltages share a resistor, since a network costs more than to settle it.
    """
    points: dict[float, list[Setting]] = {step: [] for step in MAINS_STEPS}

    def add(resistance: float) -> None:
        for step, found in points.items():
            found.append(_operated(scenario, {"load.kind": "resistor", "load.resistance": resistance}, dial, step))

    low = high = line.volts(max(amps)) / max(amps)
    add(low)
    least = min(SHORT, low / APART**4)
    while min(found[-1].current for found in points.values()) < max(amps) and low > least:
        low /= APART
        add(low)
    while max(min(one.current for one in found) for found in points.values()) > min(amps):
        high *= APART
        add(high)
    return points


def _volts(points: Sequence[Setting], current: float) -> float | None:
    """Volts at a current by a curve through points; None where not even a short takes it, or the supply misfires."""
    from scipy.interpolate import PchipInterpolator  # a quarter of a second to load

    ordered = sorted(sound(points), key=lambda one: one.current)
    if len(ordered) < len(points) or not ordered[0].current <= current <= ordered[-1].current:
        return None
    return float(PchipInterpolator([one.current for one in ordered], [one.voltage for one in ordered])(current))


def _enough(one: Wound, current: float, line: LoadLine) -> str:
    """Whether the volts at a current are those of the load line, also at low mains."""
    asked = line.volts(current)
    reached = [volts is not None and volts >= asked for volts in one.volts[current]]
    return "yes" if reached[0] else "not at -10 %" if reached[1] else "no"


def _row(one: Wound, current: float, line: LoadLine) -> dict[str, Any]:
    low, rated, high = one.volts[current]
    return {
        "kind": "turns",
        "turns": one.turns,
        "no_load": one.no_load,
        "no_load_high": one.highest,
        "current": current,
        "voltage_low": low,
        "voltage": rated,
        "voltage_high": high,
        "asked": line.volts(current),
        "enough": _enough(one, current, line),
    }


def _verdicts(scenario: Scenario, found: Sequence[Wound], amps: Sequence[float], line: LoadLine) -> list[Verdict]:
    """What each number of turns gives, and the fewest that give each wanted current at low mains too."""
    each = "; ".join(
        f"{counted(one.turns, 'turn')} {spread(one.on_line, 'A')}, without load {amount(one.no_load, 'V')} "
        f"(at most {amount(one.highest, 'V')})"
        for one in found
    )
    told = [
        Verdict(
            "secondary_turns",
            "note",
            f"Secondary turns, on {line.words}: {each}. At most: at mains +10 %, {FIRST}.",
        )
    ]
    fewest = []
    for current in amps:
        able = [one.turns for one in found if _enough(one, current, line) == "yes"]
        fewest.append(
            f"{min(able) if able else 'none of these'} for {amount(current, 'A')} at {amount(line.volts(current), 'V')}"
        )
    level = "good" if all("none" not in one for one in fewest) else "note"
    text = f"Fewest of these turns that reach {line.words} down to mains -10 %: {', '.join(fewest)}."
    told.append(Verdict("fewest_turns", level, text))
    bank = scenario.bank
    if bank is not None and bank.rated_voltage is not None:
        over = [one.turns for one in found if one.highest > bank.rated_voltage]
        if over:
            told.append(
                Verdict(
                    "turns_over_bank",
                    "fault",
                    f"From {min(over)} turns on the volts without load exceed the bank's {bank.rated_voltage:g} V at "
                    "mains +10 %: cans over their rating vent or burst.",
                )
            )
    return told


def _assumptions(dial: float | None) -> list[str]:
    """What the table stands on."""
    set_to = "fully fired" if dial is None else f"at dial {100.0 * dial:g} %"
    return [
        f"Secondary turns: {set_to}, gate held until latched; same wire, so resistance goes with the turns and leakage "
        "of the secondary with their square, unless wire and layout tell them; primary, iron and window as they are "
        "(whether the turns find room is not judged). Volts at an asked current are means on the resistor that takes "
        "it, rms without a rectifier, between those simulated by a curve through them: within 0.1 V."
    ]
