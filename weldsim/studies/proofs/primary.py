"""What may stand in the primary besides the switch: a varistor that clips or catches, a thermistor that warms up."""

from functools import cache

import numpy as np

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
    Reading,
    Row,
    angle,
    changes_of,
    from_rest,
    numbers_in,
    references,
    settled,
    side_by_side,
)
from weldsim.studies.proofs.rectifiers import extremes

TABLE = "primary"
LEAK = 3e-4  # of what a varistor takes: its own leak, and that of the blocked switch
STEPPED = (
    0.01  # of a time: warm in steps of a millisecond, its resistance in steps of 15 % that stand for those between
)
STEP = 0.08  # of a resistance that stays on one step

MAINS = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
"""
ON_THE_MAINS = """resistance = "1 ohm"
[varistor]
clamp_voltage = "{clamp!r} V"
slope = "9 ohm"
leakage_resistance = "1000 Mohm"
"""
CUT_OFF = """
[phase_control]
pulse_width = "4 ms"
holding_current = "{current!r} A"
latching_current = "{current!r} A"
threshold = "0 V"
slope = "0 ohm"
off_resistance = "1000 Mohm"
[varistor]
clamp_voltage = "430 V"
slope = "5.6 ohm"
leakage_resistance = "1000 Mohm"
[transformer]
ratio = "1:1"
[core]
magnetising_inductance = "{henries!r} H"
"""
WARMING = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "50 V"
[soft_start]
kind = "ntc"
resistance = "10 ohm"
beta = "3000 K"
dissipation = "{loss!r} W/K"
heat_capacity = "{capacity!r} J/K"
[load]
kind = "resistor"
resistance = "{outer!r} ohm"
"""


def varistor() -> list[Row]:
    """A varistor that lies too low on the mains, and one that catches what a switch breaks off."""
    return side_by_side("varistor", references(TABLE, "varistor"), _measure_varistor)


def _measure_varistor(condition: str) -> dict[str, Reading]:
    said = numbers_in(condition)
    if "clamp" in said:
        return _clipped(settled((MAINS + ON_THE_MAINS).format(clamp=said["clamp"])))
    text = (MAINS + CUT_OFF).format(current=said["I"], henries=said["L"])
    return _caught(settled(text, delay=100.0))


def _clipped(recording: Recording) -> dict[str, Reading]:
    whole = recording.integrals
    begin = next(at for at, left, _ in changes_of(recording, "varistor") if left == "blocked")
    return {
        "current, rms": Reading(whole.rms("varistor.current"), LEAK),
        "current, largest": Reading(extremes(recording, "varistor.current")[1], LEAK),
        "begin of its current": angle(begin),
        "mean heat": Reading(whole.energies()["loss"]["varistor"] / whole.length, LEAK),
    }


def _caught(recording: Recording) -> dict[str, Reading]:
    """Two turn-offs a period, alike."""
    heat = recording.integrals.energies()["loss"]["varistor"]
    changes = [at for at, _, _ in changes_of(recording, "varistor")]
    return {
        "largest voltage": Reading(extremes(recording, "varistor.voltage")[1], LEAK),
        "heat of one turn-off": Reading(0.5 * heat, LEAK),
        "time that it conducts": Reading((changes[1] - changes[0]) / 360.0 * recording.supply.period, LEAK),
    }


def thermistor() -> list[Row]:
    """A thermistor and a resistor on a direct voltage: how fast its resistance falls, and where it ends."""
    return side_by_side("thermistor", references(TABLE, "thermistor"), _measure_thermistor)


def _measure_thermistor(condition: str) -> dict[str, Reading]:
    outer = numbers_in(condition)["RL"]
    if "for long" in condition:
        whole = from_rest(WARMING.format(outer=outer, loss=0.1, capacity=0.02), 1.0, window=0.1).integrals
        ohms = whole.mean("soft_start.voltage") / whole.mean("soft_start.current")
        share = ohms / (outer + ohms)
        return {"resistance": Reading(ohms, STEP), "current": Reading(whole.mean("output.current"), STEP * share)}
    return {"time": Reading(_time_down_to(_warming(outer), float(condition.split()[-2])), STEPPED)}


@cache
def _warming(outer: float) -> Recording:
    return from_rest(WARMING.format(outer=outer, loss=0.02, capacity=1.0), 3.8)


def _time_down_to(recording: Recording, ohms: float) -> float:
    """When its resistance passes a value: at a change of step it lies between the two, by ratio [s]."""
    changes = [at for at, name, *_ in recording.trace.changes() if name == "soft_start"]
    between = [np.sqrt(_resistance(recording, at - 1e-4) * _resistance(recording, at + 1e-4)) for at in changes]
    return float(np.interp(-np.log(ohms), -np.log(between), changes))


def _resistance(recording: Recording, time: float) -> float:
    volts, amperes = recording.trace.sample(["soft_start.voltage", "soft_start.current"], time, spacing=1.0, count=1)[
        :, 0
    ]
    return float(volts / amperes)
