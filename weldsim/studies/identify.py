"""Identify: which transformer, choke, bank and mains are these?  Values from readings, each with its doubt."""

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.cable import WeldLeads, weld_leads_inductance, weld_leads_resistance
from weldsim.parts.identified import Identified
from weldsim.parts.mains import Mains
from weldsim.parts.readings import NoLoadReading, ShortReading
from weldsim.parts.transformer import turns
from weldsim.runs.perform import Recording, record
from weldsim.scenario.document import Scenario, given_fields
from weldsim.scenario.vary import vary
from weldsim.scenario.writing import write as write_scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.identify_set import assumptions_of_the_set, of_the_set, output_rows, verdicts_of_the_set
from weldsim.studies.identify_values import (
    UNREAD,
    Bench,
    Found,
    bank_values,
    choke_curve,
    cooled,
    doubted,
    leads_resistance,
    mains_resistance,
    values_of,
    worked_out,
)
from weldsim.studies.identify_verdicts import assumptions, verdicts_of
from weldsim.studies.progress import Progress, silent
from weldsim.units import to_text

PERIODS = 2.0  # of the mains, looked at of each settled reading
DIGITS, IN_A_FILE = 4, 6  # significant digits on a page, and of values in a file
_UNITS = {"": "1", "resistance": "ohm", "inductance": "H", "flux_linkage": "V.s", "capacitance": "F", "current": "A"}
_UNITS |= {"temperature": "degC", "time": "s", "thermal_resistance": "K/W"}
_COLUMNS = {"current": "A", "power": "W", "secondary voltage": "V", "test voltage": "V", "output current": "A"}


@dataclass(frozen=True)
class Given:
    """What the found transformer gives at one reading, and what was read, by name."""

    test: str  # "no load" or "shorted"
    voltage: float
    recording: Recording
    figures: Mapping[str, tuple[float, float]]  # quantity -> read, given [SI]


def ask(scenario: Scenario, *, write: str | Path | None = None, progress: Progress = silent) -> Answer:
    """Values of the parts that were read, and what they give back at each reading.

    Parameters
    ----------
    scenario : Scenario
        With a table [readings]; what it says itself of the parts that were read counts for nothing.
    write : path or None
        Where the scenario goes with the values found, as a new file.

    Returns
    -------
    Answer : rows "value", "reading", "corner" (of the magnetising curve), "friction" (its elements) and "bias" (of the
        choke); runs "window" (the transformer without load, next to the mains voltage).

    Raises
    ------
    QuestionError : no readings, or a file that is there already; ScenarioError : values that make no scenario.
    """
    if scenario.readings is None:
        raise QuestionError(
            "there are no readings",
            place="readings",
            advice="add a table [readings], with rows of no_load and short_circuit for a transformer, as in "
            "bench_readings.toml",
        )
    if write is not None and Path(write).exists():
        raise QuestionError(f"{write} is there already", place="--write", advice="choose another name")
    bench = worked_out(scenario.readings, scenario)
    others = doubted(bench, scenario)
    made, found = with_found(scenario, bench), values_of(bench, others)
    unread = () if bench.transformer is None else (one for one in others if one[0] in UNREAD)
    doubtful = [(name, with_found(scenario, low), with_found(scenario, high)) for name, low, high in unread]
    found += of_the_set(made, doubtful, progress)
    given = list(_given_back(made)) if bench.transformer is not None else []
    outputs = list(output_rows(made))
    if write is not None:
        write_scenario(made, write)
    idle = [one for one in given if one.test == "no load"]
    near = min(idle, key=lambda one: abs(one.voltage - scenario.mains.voltage), default=None)
    return Answer(
        "identify",
        scenario,
        {name: number for one in found for name, number in _numbers(one).items()},
        [*verdicts_of(made, bench, found=found, off=_deviations(given)), *verdicts_of_the_set(made, found, outputs)],
        [*assumptions(bench), *assumptions_of_the_set(bench.readings)],
        rows=[
            *map(_value_row, found),
            *_corner_rows(bench),
            *(row for one in given for row in _reading_rows(one)),
            *(_reading_row("output", one.voltage, "output current", (one.read, one.given)) for one in outputs),
        ],
        runs={} if near is None else {"window": near.recording.run},
    )


# --- the scenario made of them ----------------------------------------------------------------------------------------


def with_found(scenario: Scenario, bench: Bench) -> Scenario:
    """The scenario with the values that were found in place of its own."""
    readings, changes = bench.readings, dict[str, Any]()
    if bench.transformer is not None:
        changes |= _tables(scenario, bench.transformer)
    curve = choke_curve(readings)
    if curve:
        points = [{"current": _rounded(amps), "inductance": _rounded(henries)} for amps, henries in curve]
        own = {} if scenario.choke is None else given_fields(scenario.choke)
        kept = {name: value for name, value in own.items() if name == "resistance"}
        changes["choke"] = kept | _known({"inductance_curve": points, "resistance": readings.choke_resistance})
    capacitance, resistance = bank_values(readings)
    if capacitance is not None:
        own = {} if scenario.bank is None else given_fields(scenario.bank)
        changes["bank"] = own | _known({"capacitance": capacitance, "resistance": resistance})
    loop = mains_resistance(readings)
    if loop is not None:
        changes["mains.resistance"] = _rounded(loop)
    leads, winding = leads_resistance(readings), cooled(bench)
    if leads is not None:
        changes["weld_leads"] = _leads(scenario.weld_leads, leads)
    if winding is not None and math.isfinite(winding.time):
        own = {} if scenario.cooling is None else given_fields(scenario.cooling)
        changes["cooling"] = own | _known({"winding_time": winding.time, "winding_to_air": winding.to_air})
    return vary(scenario, changes)


def _leads(leads: WeldLeads | None, resistance: float) -> dict[str, Any]:
    """The table of the weld leads: what its own cable does not have of the whole is that of the contacts."""
    if leads is None:
        return {"resistance": _rounded(resistance)}
    cable = weld_leads_resistance(leads) - leads.contact_resistance
    if resistance >= cable:
        return given_fields(leads) | {"contact_resistance": _rounded(resistance - cable)}
    inductance = weld_leads_inductance(leads)  # that of its length, which is left out
    return {"resistance": _rounded(resistance), "inductance": _rounded(inductance), "contact_resistance": 0.0}


def _tables(scenario: Scenario, found: Identified) -> dict[str, Any]:
    """The tables of transformer and core."""
    old = {} if scenario.transformer is None else given_fields(scenario.transformer)
    kept = {name: value for name, value in old.items() if name in _kept(found)}
    assert scenario.readings is not None
    values = {
        "ratio": found.ratio,
        "primary_turns": None if found.primary_turns is None else max(round(found.primary_turns), 1),
        "primary_resistance": found.primary_resistance,
        "secondary_resistance": found.secondary_resistance,
        "primary_leakage_inductance": found.primary_leakage,
        "secondary_leakage_inductance": found.secondary_leakage,
    }
    transformer = kept | _known(values)
    core = {
        "magnetising_curve": [
            {"current": _rounded(current), "flux_linkage": _rounded(flux)} for flux, current in found.curve
        ],
        "saturated_inductance": found.saturated_inductance,
        "loss_resistance": found.loss_resistance,
        "hysteresis": [
            {"current": _rounded(limit), "flux_linkage": _rounded(reach)} for limit, reach in found.frictions
        ]
        or None,
        "section": scenario.readings.section if found.primary_turns else None,
    }
    return {"transformer": transformer, "core": _known(core)}


def _kept(found: Identified) -> Iterator[str]:
    """Keys of the transformer that stay as they are: what no reading told, and what none can."""
    yield from ("winding_temperature", "conductor", "rating", "primary_turns")
    if found.primary_leakage is None:
        yield from ("layout", "primary_leakage_inductance", "secondary_leakage_inductance")
    for side, told in (("primary", found.primary_resistance), ("secondary", found.secondary_resistance)):
        if told is None:
            yield from (f"{side}_resistance", f"{side}_wire_section", f"{side}_turn_length")


def _known(values: Mapping[str, Any]) -> dict[str, Any]:
    """What there is, with no more digits than anybody wants to read in a file."""
    known = {name: value for name, value in values.items() if value is not None}
    return {name: _rounded(value) if isinstance(value, float) else value for name, value in known.items()}


def _rounded(value: float) -> float:
    return float(f"{value:.{IN_A_FILE}g}")


# --- what it gives back -----------------------------------------------------------------------------------------------


def _given_back(made: Scenario) -> Iterator[Given]:
    """What the found transformer gives at each of its readings."""
    assert made.readings is not None
    for test, rows in (("no load", made.readings.no_load), ("shorted", made.readings.short_circuit)):
        for row in rows or ():
            recording = record(
                on_the_bench(made, voltage=row.voltage, shorted=test == "shorted"),
                start="steady",
                duration=PERIODS / made.mains.frequency,
            )
            yield Given(test, row.voltage, recording, _figures(made, row, recording))


def on_the_bench(made: Scenario, *, voltage: float, shorted: bool) -> Scenario:
    """The transformer alone on stiff mains of so many volts, secondary open or shorted, as warm as at the readings."""
    assert made.readings is not None
    mains = Mains(voltage=voltage, frequency=made.mains.frequency)
    changes: dict[str, Any] = {"transformer.winding_temperature": made.readings.winding_temperature}
    if shorted:
        changes["load"] = {"kind": "short", "resistance": 0.0}
    alone = Scenario(mains=mains, transformer=made.transformer, core=made.core, source=made.source)
    return vary(alone, changes)


def _figures(made: Scenario, row: NoLoadReading | ShortReading, recording: Recording) -> dict[str, tuple[float, float]]:
    """What was read in a row, and what a simulation of it gives."""
    table, integrals = recording.run.table, recording.integrals
    figures = {"current": (row.current, table["primary.current.rms"][0])}
    if row.power is not None:
        figures["power"] = row.power, integrals.product("mains.voltage", "primary.current") / integrals.length
    if isinstance(row, NoLoadReading) and row.secondary_voltage is not None:
        figures["secondary voltage"] = row.secondary_voltage, table["secondary.voltage.rms"][0]
    if isinstance(row, NoLoadReading) and row.test_voltage is not None:
        assert made.readings is not None
        assert made.transformer is not None
        each = table["secondary.voltage.rms"][0] / (turns(made.transformer, "secondary") or math.nan)
        figures["test voltage"] = row.test_voltage, each * (made.readings.test_turns or 0)
    return figures


def _deviations(given: list[Given]) -> dict[tuple[str, float, str], float]:
    """By how much of a reading each is missed."""
    return {
        (one.test, one.voltage, name): made / read - 1.0
        for one in given
        for name, (read, made) in one.figures.items()
        if read > 0.0
    }


# --- numbers and rows -------------------------------------------------------------------------------------------------


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
        "key": f"{one.quantity.key} {one.quantity.at}".strip(),
        **dict(zip(("found", "at_least", "at_most"), written, strict=True)),
        "weighs_most": one.weighs,
    }


def _written(value: float, kind: str) -> str:
    return to_text(value, kind, digits=DIGITS) if kind else f"{value:.{DIGITS}g}"


def _corner_rows(bench: Bench) -> Iterator[dict[str, Any]]:
    """What was found of the core, corner by corner and friction elements, and of the choke by its readings."""
    found = bench.transformer
    for number, (flux, current) in enumerate(() if found is None else found.curve):
        told = "reading" if found is not None and number < found.read else "assumed"
        yield {"kind": "corner", "flux_linkage": flux, "current": current, "told_by": told}
    for limit, reach in () if found is None else found.frictions:
        yield {"kind": "friction", "flux_linkage": reach, "current": limit}
    for current, inductance in choke_curve(bench.readings):
        yield {"kind": "bias", "current": current, "inductance": inductance}


def _reading_rows(one: Given) -> list[dict[str, Any]]:
    """What was read and what the found values give, line by line."""
    return [_reading_row(one.test, one.voltage, name, figures) for name, figures in one.figures.items()]


def _reading_row(test: str, voltage: float, quantity: str, figures: tuple[float, float]) -> dict[str, Any]:
    read, made = figures
    return {
        "kind": "reading",
        "test": test,
        "voltage": voltage,
        "quantity": quantity,
        "read": f"{read:.{DIGITS}g} {_COLUMNS[quantity]}",
        "given": f"{made:.{DIGITS}g} {_COLUMNS[quantity]}",
        "off": made / read - 1.0 if read > 0.0 else math.nan,
    }
