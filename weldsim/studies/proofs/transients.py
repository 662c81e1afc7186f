"""Single events and device figures: switch loss, snubber step, discharges, a short circuit's rise, load lines.

Sources of direct voltage are mains of 0 V with a direct offset; a switch that stays open is one without gate pulses.
"""

import math
import re

import numpy as np
from scipy.optimize import brentq

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
    Reading,
    Row,
    changes_of,
    from_rest,
    numbers_in,
    references,
    settled,
    side_by_side,
    threshold_of,
    within_bands,
)

TABLE = "transients"
INSTANT = 1e-12  # [s] a bracket of an instant
SLOPE_SAMPLES = 4000  # exact samples, whose differences give a slope within 1e-6

IDEAL_SWITCH = """
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
"""
HALF_WAVES = IDEAL_SWITCH + 'asymmetry = "180 deg"\n'  # the negative gate comes with the next positive half cycle
NO_PULSES = 'pulse_kind = "train"\npulse_width = "1 us"\ntrain_end = "0 deg"\n'
MAINS = """
[mains]
voltage = "{voltage!r} V"
frequency = "{frequency!r} Hz"
"""
DIRECT = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "{direct!r} V"
"""
RESISTOR = """
[load]
kind = "resistor"
resistance = "{resistance!r} ohm"
"""
BRIDGE = """
[transformer]
ratio = "1:1"
[rectifier]
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
"""


def quantities(condition: str) -> dict[str, float]:
    """ "C=0.1 F, V0=40 V, bleeder 47 ohm" -> {"C": 0.1, "V0": 40.0, "bleeder": 47.0}."""
    return {name: float(value) for name, value in re.findall(r"(\w+)[= ](\d[\d.e+-]*)", condition)}


# --- 5.2: loss of a device, I2t of half sines -------------------------------------------------------------------------

TRIAC = """inductance = "{inductance!r} H"
[phase_control]
threshold = "0.85 V"
slope = "35 mohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
pulse_width = "5 ms"
"""


def device_loss() -> list[Row]:
    """On-state loss of a triac at 8 A, and I2t of single half sines."""
    return side_by_side("device", references(TABLE, "device_loss"), _measure_device)


def data_sheets() -> list[Row]:
    """I2t of a surge as data sheets print it."""

    def measured(condition: str) -> dict[str, float]:
        crest, printed = re.findall(r"(\d+) A(?:,|2s)", condition)
        return {"I2t over the printed one": _surge(float(crest), 50.0) / float(printed)}

    return within_bands("device", "data_sheet", measured)


def commutation() -> list[Row]:
    """How steeply a sine of current goes through zero, which a triac must bear when it turns off."""
    return side_by_side("device", references(TABLE, "commutation"), _measure_commutation)


def _measure_commutation(condition: str) -> dict[str, Reading]:
    frequency = float(condition.split(", ")[1].split()[0])
    recording = settled((MAINS + RESISTOR).format(voltage=100.0, frequency=frequency, resistance=2.5))
    half = 0.5 / frequency
    slopes = np.abs(_slopes(recording, "output.current", half * 0.99, half * 1.01))
    return {"slope of the current at its zero crossing": Reading(float(slopes.max()) / 1e3)}


def _surge(crest: float, frequency: float) -> float:
    """I2t of one half sine through the device [A2 s]."""
    text = MAINS + HALF_WAVES + RESISTOR
    recording = settled(
        text.format(voltage=100.0, frequency=frequency, resistance=math.sqrt(2.0) * 100.0 / crest), delay=0.0
    )
    whole = recording.integrals
    return whole.product("phase_control.current", "phase_control.current")


def _measure_device(condition: str) -> dict[str, Reading]:
    if condition.startswith("triac"):
        return _loss_at_eight_amperes()
    crest = numbers_in(condition)["ITSM"]
    frequency = 60.0 if "8.333 ms" in condition else 50.0
    return {"I2t": Reading(_surge(crest, frequency))}


def _loss_at_eight_amperes() -> dict[str, Reading]:
    """1 kV behind 125 ohm of inductance.

    A sine that the triac's volt hardly bends; its gate is on when the current turns.
    """
    text = MAINS + TRIAC + RESISTOR
    recording = settled(
        text.format(voltage=1e3, frequency=50.0, inductance=125.0 / (2.0 * math.pi * 50.0), resistance=1e-6), delay=80.0
    )
    whole = recording.integrals
    return {"on-state loss": Reading(whole.energies()["loss"]["phase control"] / whole.length)}


# --- 5.3: the snubber's step ------------------------------------------------------------------------------------------

SNUBBER = """inductance = "5 mH"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
snubber_resistance = "{snubber!r} ohm"
snubber_capacitance = "100 nF"
"""
TURN_OFF = """asymmetry = "60 deg"
[start]
mains_phase = "90 deg"
"""
RING = 1.0 / math.sqrt(5e-3 * 100e-9)  # [rad/s] w0, in which the references count time


def snubber_step() -> list[Row]:
    """Voltage across a snubber charged through 5 mH, and one turn-off at the crest of 10 Hz mains."""
    return side_by_side("snubber", references(TABLE, "snubber_step"), _measure_snubber)


def _measure_snubber(condition: str) -> dict[str, Reading]:
    if condition.startswith("example"):
        return _turn_off_at_crest()
    step, damping = 50.0, numbers_in(condition)["zeta"]
    text = DIRECT + SNUBBER + NO_PULSES + RESISTOR
    recording = from_rest(
        text.format(direct=step, snubber=2.0 * damping * math.sqrt(5e-3 / 100e-9), resistance=1e-6), 6.0 / RING
    )
    values, instants = recording.trace.extremes(["phase_control.voltage"], *recording.window)
    slopes = _slopes(recording, "phase_control.voltage", *recording.window)
    return {
        "peak v/E": Reading(float(values[0, 1]) / step),
        "time of peak * w0": Reading(RING * float(instants[0, 1])),
        "initial dv/dt / (E w0)": Reading(float(slopes[0]) / (step * RING)),
        "maximum dv/dt / (E w0)": Reading(float(slopes.max()) / (step * RING)),
    }


def _slopes(recording: Recording, signal: str, begin: float, end: float) -> np.ndarray:
    """Slope of a signal that does not jump inside the span, from exact samples that lie on the engine's clock."""
    quantum = recording.trace.quantum
    spacing = round((end - begin) / SLOPE_SAMPLES / quantum) * quantum
    values = recording.trace.sample([signal], begin, spacing=spacing, count=SLOPE_SAMPLES)[0]
    return np.gradient(values, spacing, edge_order=2)


def _turn_off_at_crest() -> dict[str, Reading]:
    """325 V of 10 Hz across a coil: its current ends at the crest, which sinks by 1e-5 of itself before the ring peaks.

    The loss is what the snubber takes in the millisecond after one turn-off, a hundred times a second.
    """
    text = MAINS + SNUBBER + TURN_OFF + RESISTOR
    recording = from_rest(
        text.format(voltage=325.0 / math.sqrt(2.0), frequency=10.0, snubber=100.0, resistance=1e-6),
        (180.0 + 5.0) / 360.0 / 10.0,
        delay=90.0,
    )
    degrees = next(
        at for at, left, entered in changes_of(recording, "phase_control") if entered == "off" and at > 180.0
    )
    off = degrees / 360.0 / 10.0
    slopes = np.abs(_slopes(recording, "phase_control.voltage", off, off + 6.0 / RING))
    lost = recording.trace.integrals(off, off + 1e-3).energies()["loss"]["snubber"]
    return {
        "initial dv/dt": Reading(float(slopes[0]) / 1e6),
        "snubber loss 50 Hz, full charge twice a cycle": Reading(100.0 * lost),
    }


# --- 10: bank and bleeder, discharge through a choke ------------------------------------------------------------------

CHARGED = (
    DIRECT
    + IDEAL_SWITCH
    + NO_PULSES
    + """
[bank]
capacitance = "{capacitance!r} F"
{bleed}
[start]
bank_voltage = "{charge!r} V"
"""
)
CHOKE = """
[choke]
inductance = "{inductance!r} H"
"""


def capacitor_bank() -> list[Row]:
    """A charged bank and its bleeder: charge, energy, times, and the bleeder that is quick enough."""
    return side_by_side("bank", references(TABLE, "capacitor_bank"), _measure_bank)


def _bled(given: dict[str, float], bleeder: float, duration: float) -> Recording:
    text = CHARGED.format(
        direct=0.0, capacitance=given["C"], charge=given["V0"], bleed=f'bleed_resistance = "{bleeder!r} ohm"'
    )
    return from_rest(text, duration)


def _bank_voltage(recording: Recording, instant: float) -> float:
    return float(recording.trace.sample(["bank.voltage"], instant, spacing=1.0, count=1)[0, 0])


def _time_below(recording: Recording, level: float) -> float:
    """When the bank's voltage falls through a level [s]."""
    return threshold_of(lambda instant: _bank_voltage(recording, instant) < level, 0.0, 100.0, width=1e-9)[1]


def _quick_enough(given: dict[str, float], *, voltage: float, duration: float) -> float:
    """The bleeder that brings the bank to a voltage in a time, looked for by runs [ohm]."""

    def excess(bleeder: float) -> float:
        return _bank_voltage(_bled(given, float(bleeder), duration), duration) - voltage

    return float(brentq(excess, 100.0, 300.0, xtol=1e-6))


def _measure_bank(condition: str) -> dict[str, Reading]:
    given = quantities(condition)
    recording = _bled(given, given.get("bleeder", 47.0), 120.0)
    whole = recording.integrals
    found = {
        "energy": Reading(whole.energies()["loss"]["bleed"]),
        "charge": Reading(-whole.integral("bank.current")),
        "initial bleeder power": Reading(
            float(-np.prod(recording.trace.sample(["bank.voltage", "bank.current"], 0.0, spacing=1.0, count=1)))
        ),
    }
    found |= {f"time to {level:g} V": Reading(_time_below(recording, level)) for level in (34.0, 12.0)}
    if given["V0"] > 60.0:
        found["bleeder for 60 V in 5 s"] = Reading(_quick_enough(given, voltage=60.0, duration=5.0))
    return found


def discharge() -> list[Row]:
    """A charged bank emptied through a choke and a resistor, from ringing to creeping."""
    return side_by_side("discharge", references(TABLE, "rlc_discharge"), _measure_discharge)


def _measure_discharge(condition: str) -> dict[str, Reading]:
    given = quantities(condition)
    text = CHARGED + CHOKE + RESISTOR
    recording = from_rest(
        text.format(
            direct=0.0,
            capacitance=given["C"],
            charge=given["V0"],
            bleed="",
            inductance=given["L"],
            resistance=given["R"],
        ),
        3.0,
    )
    values, instants = recording.trace.extremes(["output.current"], *recording.window)
    heat = recording.integrals.product("output.current", "output.current")
    early = recording.trace.sample(["output.current"], 0.0, spacing=1e-3, count=6)[0]
    found = {f"i at {k} ms": Reading(float(early[k])) for k in (1, 2, 5)}
    return found | {
        "peak current": Reading(float(values[0, 1])),
        "time of peak": Reading(float(instants[0, 1])),
        "total I2t": Reading(heat),
    }


# --- 6.5: rise of a short circuit's current ---------------------------------------------------------------------------

SHORTED = """
[choke]
inductance = "{inductance!r} H"
resistance = "{resistance!r} ohm"
[load]
kind = "shorted arc"
voltage = "{arc!r} V"
slope = "0 ohm"
short_resistance = "0 ohm"
short_start = "0.5 s"
short_duration = "5 ms"
short_period = "10 s"
"""


def short_circuit_rise() -> list[Row]:
    """A direct source burns an arc of 100 A through a choke, then the arc is shorted."""
    return side_by_side("short circuit", references(TABLE, "short_circuit_rise"), _measure_rise)


def _measure_rise(condition: str) -> dict[str, Reading]:
    """The arc's voltage is what leaves 100 A; after 0.5 s that current has stood for 60 time constants."""
    given = quantities(condition)
    text = (DIRECT + SHORTED).format(
        direct=given["U0"], inductance=given["L"], resistance=given["R"], arc=given["U0"] - given["R"] * given["start"]
    )
    recording = from_rest(text, 0.505)
    slopes = _slopes(recording, "output.current", 0.5, 0.5001)
    current = recording.trace.sample(["output.current"], 0.5 + given.get("t", 0.0), spacing=1.0, count=1)[0, 0]
    return {"i": Reading(float(current)), "initial di/dt": Reading(float(slopes[0]) / 1e3)}


# --- 6.1: conventional load lines -------------------------------------------------------------------------------------

ON_LOAD_LINE = """
resistance = "0.1 ohm"
[load]
kind = "load line"
process = "{process}"
"""
PROCESSES = {"MMA": "MMA", "TIG": "TIG", "MIG/MAG": "MIG"}


def load_line() -> list[Row]:
    """Voltage of a load of each process at given currents, on the way up to 900 A in a quarter of a slow period."""
    return side_by_side("load line", references(TABLE, "load_line"), _measure_line)


def _measure_line(condition: str) -> dict[str, Reading]:
    process, current = condition.split(",")[0], numbers_in(condition)["I2"]
    recording = from_rest(
        (MAINS + ON_LOAD_LINE).format(voltage=100.0, frequency=10.0, process=PROCESSES[process]), 0.025
    )

    def at(instant: float) -> np.ndarray:
        return recording.trace.sample(["output.current", "output.voltage"], instant, spacing=1.0, count=1)[:, 0]

    instant = threshold_of(lambda moment: bool(at(moment)[0] >= current), 0.0, 0.025, width=INSTANT)[1]
    return {"U2": Reading(float(at(instant)[1]))}
