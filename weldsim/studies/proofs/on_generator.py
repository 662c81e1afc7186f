"""A generator as source of plain loads: its terminals without and with regulator, a step of load, a chopped current."""

import math
import re

from weldsim.runs.generator_runs import step_of_load
from weldsim.scenario.reading import read_text
from weldsim.studies.generator import driven
from weldsim.studies.proofs.bench import (
    HARMONIC,
    Reading,
    Row,
    amplitudes,
    angle,
    numbers_in,
    references,
    settled,
    side_by_side,
)

HELD = 3e-5  # a regulator is settled to 1e-5 of the rated voltage
BY_PERIODS = 5e-4  # of the voltage: the emf stands still for a period, which is a fiftieth of the regulator's time
VOLTAGE, FREQUENCY = 230.0, 50.0
UNLOADED = 1e8  # [ohm]
LOAD = re.compile(r"load (\d+) ohm(?:, (\d+) mH)?")

MAINS = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[generator]
rating = "10 kVA"
resistance = "{inner!r} ohm"
inductance = "{henries!r} H"
sag = "0 %"
regulator = "{regulator}"
regulator_time = "{lag!r} s"
ceiling = {ceiling!r}
"""
SWITCH = """
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
"""
RESISTOR = """
[load]
kind = "resistor"
resistance = "{outer!r} ohm"
inductance = "{coil!r} H"
"""


def generator() -> list[Row]:
    """Voltage, emf and apparent power at plain loads, and the harmonics that a phase-controlled one makes."""
    return side_by_side("generator", references("generator", "generator"), _measure)


def _text(*parts: str, **values: object) -> str:
    usual: dict[str, object] = {"regulator": "none", "lag": 1.0, "ceiling": 5.0, "coil": 0.0}
    return "".join((MAINS, *parts)).format(**(usual | values))


def _measure(condition: str) -> dict[str, Reading]:
    said = numbers_in(condition)
    if condition.startswith("controller"):
        return _distorted(said["phi"], said["alpha"])
    match = LOAD.search(condition)
    assert match is not None
    values: dict[str, object] = {
        "inner": said["R"],
        "henries": 1e-3 * said["L"],
        "outer": float(match[1]),
        "coil": 1e-3 * float(match[2] or 0.0),
    }
    if condition.startswith("no regulator"):
        return _bare(values)
    if condition.startswith("step"):
        return _step(_text(RESISTOR, regulator="slow", **values), said["t"])
    found = driven(
        read_text(_text(RESISTOR, regulator="slow", ceiling=said.get("ceiling", 5.0), **values), source="proof"), None
    )
    return {
        "emf": Reading(VOLTAGE * found.emf, HELD),
        "apparent power": Reading(found.load * found.generator.rating, 2.0 * HELD),
        "terminal voltage": Reading(found.setting["plug.voltage.rms"], HELD),
    }


def _bare(values: dict[str, object]) -> dict[str, Reading]:
    """With its load, and once more with next to none."""
    recording = settled(_text(RESISTOR, **values))
    volts = recording.integrals.rms("plug.voltage")
    unloaded = settled(_text(RESISTOR, **(values | {"outer": UNLOADED, "coil": 0.0})))
    first, emf = (amplitudes(recording, name, [1])[0] for name in ("primary.current", "mains.voltage"))
    lag = math.degrees(math.atan2((emf / first).imag, (emf / first).real))
    return {
        "terminal voltage": Reading(volts),
        "voltage regulation": Reading(unloaded.integrals.rms("plug.voltage") / volts - 1.0),
        "current behind its emf": angle(lag),
    }


def _step(text: str, time: float) -> dict[str, Reading]:
    """The period that begins at ``time`` after the load has come on."""
    scenario = read_text(text, source="proof")
    periods = step_of_load(scenario, delay=None, duration=time + 1.0 / FREQUENCY)
    return {"terminal voltage": Reading(VOLTAGE * periods[-1].plug, BY_PERIODS)}


def _distorted(phi: float, delay: float) -> dict[str, Reading]:
    """The controller's delay counts from the zero crossing of the emf."""
    henries = 10.0 * math.tan(math.radians(phi)) / (2.0 * math.pi * FREQUENCY)
    recording = settled(_text(SWITCH, RESISTOR, inner=0.0, henries=henries, outer=10.0), delay=delay, periods=2)
    emf = abs(amplitudes(recording, "mains.voltage", [1])[0])
    lines = amplitudes(recording, "plug.voltage", (3, 5, 7))
    return {
        f"terminal voltage, harmonic {order}/emf": Reading(abs(line) / emf, HARMONIC, 1.0)
        for order, line in zip((3, 5, 7), lines, strict=True)
    }
