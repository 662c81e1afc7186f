"""Identify: which transformer stands on the bench?  Its values from readings, each with how far it may be off."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from weldsim.errors import QuestionError
from weldsim.parts.identified import Guess, Identified, identify, variants
from weldsim.parts.mains import Mains
from weldsim.parts.readings import Readings
from weldsim.runs.perform import Recording, record
from weldsim.scenario.document import Scenario, given_fields
from weldsim.scenario.vary import vary
from weldsim.scenario.writing import write as write_scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.identify_verdicts import assumptions, verdicts_of
from weldsim.units import to_text

PERIODS = 2.0  # of the mains, looked at of each settled reading
GUESSES = (  # what no reading tells: name, and how far it may be off
    ("flux of saturation, assumed", Guess(saturation=0.9), Guess(saturation=1.1)),
    ("inductance of air, assumed", Guess(air=0.5), Guess(air=2.0)),
)
DIGITS, IN_A_FILE = 4, 6  # significant digits on a page, and of values in a file


@dataclass(frozen=True)
class Quantity:
    """A value that is sought: its key, the kind of its unit (none for a pure number), and how it is read off."""

    key: str
    kind: str
    of: Callable[[Identified], float | None]


QUANTITIES = (
    Quantity("transformer.ratio", "", lambda found: found.ratio),
    Quantity("transformer.primary_turns", "", lambda found: found.primary_turns),
    Quantity(
        "transformer.secondary_turns",
        "",
        lambda found: None if found.primary_turns is None else found.primary_turns / found.ratio,
    ),
    Quantity("transformer.primary_resistance", "resistance", lambda found: found.primary_resistance),
    Quantity("transformer.secondary_resistance", "resistance", lambda found: found.secondary_resistance),
    Quantity("transformer.primary_leakage_inductance", "inductance", lambda found: found.primary_leakage),
    Quantity("transformer.secondary_leakage_inductance", "inductance", lambda found: found.secondary_leakage),
    Quantity(
        "short_circuit.resistance",
        "resistance",
        lambda found: None if found.winding is None else found.winding.resistance / found.ratio**2,
    ),
    Quantity(
        "short_circuit.inductance",
        "inductance",
        lambda found: None if found.primary_leakage is None else 2.0 * found.primary_leakage / found.ratio**2,
    ),
    Quantity("core.loss_resistance", "resistance", lambda found: found.loss_resistance),
    Quantity("core.magnetising_inductance", "inductance", lambda found: found.magnetising_inductance),
    Quantity("core.saturation_flux_linkage", "flux_linkage", lambda found: found.saturation),
    Quantity("core.saturated_inductance", "inductance", lambda found: found.saturated_inductance),
)
_UNITS = {"": "1", "resistance": "ohm", "inductance": "H", "flux_linkage": "V.s"}


@dataclass(frozen=True)
class Found:
    """One value: as it is, least and most, and which instrument's doubt weighs most in it."""

    quantity: Quantity
    value: float
    low: float
    high: float
    weighs: str


@dataclass(frozen=True)
class Given:
    """What the found transformer gives at one reading, and what was read, by name."""

    test: str  # "no load" or "shorted"
    voltage: float
    recording: Recording
    figures: Mapping[str, tuple[float, float]]  # quantity -> read, given [SI]


def ask(scenario: Scenario, *, write: str | Path | None = None) -> Answer:
    """Values of transformer and core from the scenario's readings, and what they give back at each reading.

    Parameters
    ----------
    scenario : Scenario
        With a table [readings]; its own [transformer] and [core], if it has them, count for nothing.
    write : path or None
        Where the scenario goes with the values found, as a new file.

    Returns
    -------
    Answer : rows "value", "reading" and "corner" (of the magnetising curve); runs "window" (without load, next to the
        mains voltage).

    Raises
    ------
    QuestionError : no readings, or a file that is there already; ScenarioError : values that make no scenario.
    """
    readings = _readings(scenario)
    if write is not None and Path(write).exists():
        raise QuestionError(f"{write} is there already", place="--write", advice="choose another name")
    worked = _worked_out(scenario)
    best = worked(readings, Guess())
    others = [(name, worked(below, Guess()), worked(above, Guess())) for name, below, above in variants(readings)]
    others += [(name, worked(readings, low), worked(readings, high)) for name, low, high in GUESSES]
    found = [one for quantity in QUANTITIES if (one := _found(quantity, best, others)) is not None]
    made = with_found(scenario, best)
    given = [*_without_load(made, readings), *_shorted(made, readings)]
    if write is not None:
        write_scenario(made, write)
    near = min(
        (one for one in given if one.test == "no load"), key=lambda one: abs(one.voltage - scenario.mains.voltage)
    )
    numbers = {name: number for one in found for name, number in _numbers(one).items()}
    return Answer(
        "identify",
        scenario,
        numbers,
        verdicts_of(
            scenario,
            best,
            ranges={one.quantity.key: (one.low, one.high) for one in found},
            off=_deviations(given),
        ),
        assumptions(readings, best),
        rows=[*map(_value_row, found), *_corner_rows(best), *(row for one in given for row in _reading_rows(one))],
        runs={"window": near.recording.run},
    )


def _readings(scenario: Scenario) -> Readings:
    """The table; it can be worked with when it has rows without load."""
    if scenario.readings is None or not scenario.readings.no_load:
        raise QuestionError(
            "there are no readings of a transformer",
            place="readings",
            advice="add a table [readings] with rows of no_load and short_circuit, as in bench_readings.toml",
        )
    return scenario.readings


def _worked_out(scenario: Scenario) -> Callable[[Readings, Guess], Identified]:
    """A function that works readings out for the mains of the scenario."""
    mains = scenario.mains

    def work_out(readings: Readings, guess: Guess) -> Identified:
        return identify(readings, frequency=mains.frequency, mains_voltage=mains.voltage, guess=guess)

    return work_out


def _found(quantity: Quantity, best: Identified, others: list[tuple[str, Identified, Identified]]) -> Found | None:
    """One value with its doubt: what each instrument changes, added up as squares, upward and downward apart."""
    value = quantity.of(best)
    if value is None or not math.isfinite(value):
        return None
    down = up = most = 0.0
    weighs = "none"
    for name, *pair in others:
        changed = [other - value for one in pair if (other := quantity.of(one)) is not None]
        down += min(0.0, *changed) ** 2
        up += max(0.0, *changed) ** 2
        if max(map(abs, changed)) > most:
            most, weighs = max(map(abs, changed)), name
    return Found(quantity, value, max(value - math.sqrt(down), 0.0), value + math.sqrt(up), weighs)


def with_found(scenario: Scenario, found: Identified) -> Scenario:
    """The scenario with the transformer and the core that were found."""
    old = {} if scenario.transformer is None else given_fields(scenario.transformer)
    kept = {name: old[name] for name in ("winding_temperature", "conductor", "rating") if name in old}
    transformer = kept | {
        "ratio": found.ratio,
        "primary_turns": None if found.primary_turns is None else max(round(found.primary_turns), 1),
        "primary_resistance": found.primary_resistance,
        "secondary_resistance": found.secondary_resistance,
        "primary_leakage_inductance": found.primary_leakage,
        "secondary_leakage_inductance": found.secondary_leakage,
    }
    core = {
        "magnetising_curve": [
            {"current": _rounded(current), "flux_linkage": _rounded(flux)} for flux, current in found.curve
        ],
        "saturated_inductance": found.saturated_inductance,
        "loss_resistance": found.loss_resistance,
        "section": scenario.readings.section if scenario.readings is not None and found.primary_turns else None,
    }
    return vary(scenario, {"transformer": _given(transformer), "core": _given(core)})


def _given(values: Mapping[str, Any]) -> dict[str, Any]:
    """What there is, with no more digits than anybody wants to read in a file."""
    known = {name: value for name, value in values.items() if value is not None}
    return {name: _rounded(value) if isinstance(value, float) else value for name, value in known.items()}


def _rounded(value: float) -> float:
    return float(f"{value:.{IN_A_FILE}g}")


def bench(made: Scenario, *, voltage: float, shorted: bool) -> Scenario:
    """The transformer alone on stiff mains of so many volts, secondary open or shorted, as warm as at the readings."""
    assert made.readings is not None
    mains = Mains(voltage=voltage, frequency=made.mains.frequency)
    changes: dict[str, Any] = {"transformer.winding_temperature": made.readings.winding_temperature}
    if shorted:
        changes["load"] = {"kind": "short", "resistance": 0.0}
    alone = Scenario(mains=mains, transformer=made.transformer, core=made.core, source=made.source)
    return vary(alone, changes)


def _without_load(made: Scenario, readings: Readings) -> list[Given]:
    """What the found transformer gives at each reading without load."""
    found = []
    for row in readings.no_load or ():
        recording = _settled(bench(made, voltage=row.voltage, shorted=False))
        figures = {"current": (row.current, recording.run.table["primary.current.rms"][0])}
        if row.power is not None:
            figures["power"] = (row.power, _power(recording))
        if row.secondary_voltage is not None:
            figures["secondary voltage"] = (row.secondary_voltage, recording.run.table["secondary.voltage.rms"][0])
        found.append(Given("no load", row.voltage, recording, figures))
    return found


def _shorted(made: Scenario, readings: Readings) -> list[Given]:
    """What it gives at each reading with shorted secondary."""
    found = []
    for row in readings.short_circuit or ():
        recording = _settled(bench(made, voltage=row.voltage, shorted=True))
        figures = {"current": (row.current, recording.run.table["primary.current.rms"][0])}
        if row.power is not None:
            figures["power"] = (row.power, _power(recording))
        found.append(Given("shorted", row.voltage, recording, figures))
    return found


def _settled(scenario: Scenario) -> Recording:
    return record(scenario, start="steady", duration=PERIODS / scenario.mains.frequency)


def _power(recording: Recording) -> float:
    return recording.integrals.product("mains.voltage", "primary.current") / recording.integrals.length


def _deviations(given: list[Given]) -> dict[tuple[str, float, str], float]:
    """By how much of a reading each is missed."""
    return {
        (one.test, one.voltage, name): made / read - 1.0
        for one in given
        for name, (read, made) in one.figures.items()
        if read > 0.0
    }


def _numbers(one: Found) -> dict[str, Number]:
    """A value, its least and its most, by their public names."""
    unit = _UNITS[one.quantity.kind]
    return {
        one.quantity.key: Number(one.value, unit),
        f"{one.quantity.key}.low": Number(one.low, unit),
        f"{one.quantity.key}.high": Number(one.high, unit),
    }


def _value_row(one: Found) -> dict[str, Any]:
    """A value as it is written into a file, with what it was found from."""
    written = [_written(value, one.quantity.kind) for value in (one.value, one.low, one.high)]
    return {
        "kind": "value",
        "key": one.quantity.key,
        **dict(zip(("found", "at_least", "at_most"), written, strict=True)),
        "weighs_most": one.weighs,
    }


def _written(value: float, kind: str) -> str:
    return to_text(value, kind, digits=DIGITS) if kind else f"{value:.{DIGITS}g}"


def _corner_rows(found: Identified) -> list[dict[str, Any]]:
    """The magnetising curve, corner by corner."""
    return [
        {
            "kind": "corner",
            "flux_linkage": flux,
            "current": current,
            "told_by": "reading" if k < found.read else "assumed",
        }
        for k, (flux, current) in enumerate(found.curve)
    ]


_COLUMNS = {"current": "A", "power": "W", "secondary voltage": "V"}


def _reading_rows(one: Given) -> list[dict[str, Any]]:
    """What was read and what the found values give, line by line."""
    return [
        {
            "kind": "reading",
            "test": one.test,
            "voltage": one.voltage,
            "quantity": name,
            "read": f"{read:.{DIGITS}g} {_COLUMNS[name]}",
            "given": f"{made:.{DIGITS}g} {_COLUMNS[name]}",
            "off": made / read - 1.0 if read > 0.0 else math.nan,
        }
        for name, (read, made) in one.figures.items()
    ]
