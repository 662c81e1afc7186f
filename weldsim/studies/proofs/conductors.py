"""Weld leads on a direct source, and currents that come and go, beside tables of cables and of duty.

The tables stand in weldsim/data/conductors, where they also serve; nothing here looks anything up in them but theirs.
"""

import csv
from collections.abc import Iterator
from pathlib import Path

from weldsim.studies.proofs.bench import (
    Reading,
    Reference,
    Row,
    from_rest,
    numbers_in,
    references,
    side_by_side,
    within_bands,
)

SUBSYSTEM = "leads and cables"
TABLES = Path(__file__).resolve().parents[2] / "data" / "conductors"
ONE_RESISTIVITY = 0.03  # all sections have one effective resistivity here; tinned copper is another 2 % above plain
FACTORS, ROOT = 5e-3, 6e-3  # 0.004 per kelvin against 0.00393; two decimals, two of them rounded up

LEADS = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "10 V"
[weld_leads]
length = "{length!r} m"
section = "{section!r} mm2"
temperature = "{temperature!r} degC"
inductance = "0 H"
[load]
kind = "resistor"
resistance = "0.01 ohm"
"""
ON_AND_OFF = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "10 V"
resistance = "1 ohm"
[load]
kind = "shorted arc"
voltage = "20 V"
short_resistance = "0 ohm"
short_start = "0 s"
short_period = "1 s"
short_duration = "{on!r} s"
"""


def _lead(section: float, *, length: float = 1.0, temperature: float = 20.0) -> float:
    """Resistance of leads in a circuit: what drops along them over the current [ohm]."""
    text = LEADS.format(length=length, section=section, temperature=temperature)
    recording = from_rest(text, 0.02)
    whole = recording.integrals
    return (whole.mean("mains.voltage") - whole.mean("output.voltage")) / whole.mean("output.current")


def _table(name: str) -> Iterator[dict[str, str]]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def _reference(condition: str, quantity: str, value: str, source: str) -> Reference:
    return Reference("conductors", condition, quantity, float(value), "", source, "printed", "published")


def sections() -> list[Row]:
    """Resistance per length of flexible conductors of fifteen sections."""
    rows = [
        _reference(f"section={row['section_mm2']} mm2", "ohm per km", row["plain_ohm_per_km"], "IEC 60228")
        for row in _table("class_5")
    ]
    return side_by_side(
        SUBSYSTEM, rows, lambda text: {"ohm per km": Reading(1e3 * _lead(numbers_in(text)["section"]), ONE_RESISTIVITY)}
    )


def warmth() -> list[Row]:
    """Factor that takes a resistance to 20 degC."""
    rows = [
        _reference(f"temperature={row['temperature_degC']} degC", "factor", row["factor_to_20_degC"], "IEC 60228")
        for row in _table("temperature_correction")
    ]

    def measured(text: str) -> dict[str, Reading]:
        warm = _lead(25.0, temperature=numbers_in(text)["temperature"])
        return {"factor": Reading(_lead(25.0) / warm, FACTORS)}

    return side_by_side(SUBSYSTEM, rows, measured)


def handbook_drops() -> list[Row]:
    """Drop of welding cable per 100 A and 10 m, cold, warm and hot."""
    rows = [
        _reference(
            f"section={row['section_mm2']} mm2, temperature={row['temperature_degC']} degC",
            "drop per 100 A and 10 m",
            row["volts_per_100_A_and_10_m"],
            "Electric Cables Handbook, BS 638-4 welding cable",
        )
        for row in _table("welding_cable_drop")
    ]
    printed = {row.condition: row.value for row in rows}

    def measured(text: str) -> dict[str, Reading]:
        said = numbers_in(text)
        drop = 100.0 * _lead(said["section"], length=10.0, temperature=said["temperature"])
        return {"drop per 100 A and 10 m": Reading(drop, ONE_RESISTIVITY + 0.005 / printed[text])}

    return side_by_side(SUBSYSTEM, rows, measured)


def drops() -> list[Row]:
    """Drop along 10 m at 100 A, computed from the standard's resistance."""

    def measured(text: str) -> dict[str, Reading]:
        section, *_, temperature = (float(part.split()[0]) for part in text.split(", "))
        return {"drop": Reading(100.0 * _lead(section, length=10.0, temperature=temperature), ONE_RESISTIVITY)}

    return side_by_side(SUBSYSTEM, references("conductors", "voltage_drop"), measured)


def sizes() -> list[Row]:
    """Drop along the cables that a manual recommends for at most 4 V."""

    def measured(text: str) -> dict[str, float]:
        current, length, section = (float(part.split()[0]) for part in text.split(", ")[:3])
        return {"voltage drop": current * _lead(section, length=length)}

    return within_bands(SUBSYSTEM, "cable_size", measured)


def duty() -> list[Row]:
    """Effective current of a current that flows for a share of each period, over the current itself."""
    rows = [
        _reference(f"duty={row['duty_percent']} %", "multiplier", row["multiplier"], "NEC 630.11(A), arc welders")
        for row in _table("duty_multiplier")
        if float(row["duty_percent"]) < 100.0
    ]

    def measured(text: str) -> dict[str, Reading]:
        recording = from_rest(ON_AND_OFF.format(on=0.01 * numbers_in(text)["duty"]), 1.0)
        whole = recording.integrals
        highest = recording.trace.extremes(["output.current"], *recording.window)[0][0, 1]
        return {"multiplier": Reading(whole.rms("output.current") / float(highest), ROOT, 1.0)}

    return side_by_side("effective current by duty", rows, measured)
