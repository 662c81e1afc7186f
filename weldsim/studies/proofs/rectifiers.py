"""Rectifiers on plain loads: resistor, choke, bank, battery; overlap; freewheeling behind phase control.

Diodes have no drop and leak next to nothing.  Vm is the crest of the source, w L and R are the units in which the
references count.  Where a reference has an infinite choke or a stiff voltage, the largest values a scenario takes stand in.
"""

import math
from collections.abc import Callable

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
    HARMONIC,
    Reading,
    Row,
    amplitudes,
    angle,
    changes_of,
    from_rest,
    numbers_in,
    references,
    settled,
    side_by_side,
    threshold_of,
)

TABLE = "rectifiers"
VOLTAGE, FREQUENCY = 100.0 / math.sqrt(2.0), 50.0
CREST, OMEGA = 100.0, 2.0 * math.pi * FREQUENCY
RIPPLE_AND_PEAK = 1e-3                  # an ideal capacitor-input run: ripple, peak and the angles that depend on them
LARGEST_CHOKE = 100.0                   # [H]

BRIDGE = """
[mains]
voltage = "{voltage} V"
frequency = "{frequency} Hz"
resistance = "{source_resistance} ohm"
inductance = "{source_inductance} H"
[rectifier]
kind = "{kind}"
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
"""
CENTRE_TAP = """
[transformer]
ratio = "1:1"
"""
CHOKE = """
[choke]
inductance = "{inductance} H"
"""
BANK = """
[bank]
capacitance = "{capacitance} F"
"""
RESISTOR = """
[load]
kind = "resistor"
resistance = "{resistance} ohm"
"""
BATTERY = """
[load]
kind = "battery"
voltage = "{battery} V"
resistance = "{resistance} ohm"
"""
SWITCH = """
[phase_control]
pulse_width = "1 ms"
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
"""
# A choke between rectifier and bank: the ballast of a boost winding that charges the bank; the main winding is idle.
CHOKE_INPUT = """
[transformer]
ratio = "1000:1"
[boost]
kind = "winding"
voltage = "{voltage} V"
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
ballast_inductance = "{inductance} H"
feeds = "bank"
"""


def circuit(*parts: str, **values: object) -> str:
    """Text of a scenario: mains and rectifier, then the parts, with the values that are given."""
    usual = {"voltage": VOLTAGE, "frequency": FREQUENCY, "source_resistance": 0.0, "source_inductance": 0.0,
             "kind": "bridge", "resistance": 1.0}
    return "".join((BRIDGE, *parts)).format(**(usual | values))


def power_factor(recording: Recording) -> float:
    """Power over volts times amperes at the ideal source."""
    whole = recording.trace.integrals(*recording.window)
    return whole.product("mains.voltage", "primary.current") / (
        whole.length * whole.rms("mains.voltage") * whole.rms("primary.current"))


def ripple(mean: float, rms: float) -> float:
    """Rms of what is left without the mean, over the mean."""
    return math.sqrt(max(rms * rms - mean * mean, 0.0)) / mean


def extremes(recording: Recording, signal: str) -> tuple[float, float]:
    """Least and largest value within the window."""
    values, _ = recording.trace.extremes([signal], *recording.window)
    return float(values[0, 0]), float(values[0, 1])


def conduction(recording: Recording, diode: str = "rectifier.diode_1") -> tuple[float, float]:
    """First whole conduction of a diode: where it turns on and off [deg]."""
    changes = changes_of(recording, diode)
    on = next(at for at, _, entered in changes if entered == "on")
    return on, next(at for at, _, entered in changes if entered == "blocked" and at > on)


def tuned(result: Callable[[float], float], target: float, guess: float) -> float:
    """Argument at which a smooth result hits the target, by the secant rule."""
    before, here = guess, 1.1 * guess
    missed = result(before) - target
    for _ in range(20):
        miss = result(here) - target
        if abs(miss) < 1e-9 * abs(target) or miss == missed:
            break
        before, here, missed = here, here - miss * (here - before) / (miss - missed), miss
    return here


# --- 2.1 and 2.2: resistor, half a centre-tap, constant current, resistor with choke ----------------------------------

def standard_figures() -> list[Row]:
    """Means, form factors and harmonics that every textbook prints."""
    measures = {"bridge, R": _measure_bridge, "half wave, R": _measure_half_wave,
                "bridge, constant Id": _measure_constant_current}
    return side_by_side("rectifier, standard figures", references(TABLE, "standard_figures"),
                        lambda condition: measures[condition]())


def _measure_bridge() -> dict[str, Reading]:
    recording = settled(circuit(RESISTOR))
    whole = recording.trace.integrals(*recording.window)
    mean, rms = whole.mean("output.voltage"), whole.rms("output.voltage")
    power = whole.product("output.voltage", "output.current") / whole.length
    lines = [abs(value) / CREST for value in amplitudes(recording, "output.voltage", range(2, 12, 2))]
    return {"Vdc/Vm": Reading(mean / CREST), "Vrms/Vm": Reading(rms / CREST), "form factor": Reading(rms / mean),
            "ripple factor": Reading(ripple(mean, rms)),
            "rectification efficiency": Reading(mean * whole.mean("output.current") / power)} | {
        f"|sin| harmonic {order} amplitude/Vm": Reading(line, HARMONIC, lines[0])
        for order, line in zip(range(2, 12, 2), lines, strict=True)}


def _measure_half_wave() -> dict[str, Reading]:
    """One diode of a centre-tap rectifier sees half a wave; the load is 1 ohm."""
    recording = settled(circuit(CENTRE_TAP, RESISTOR, kind="centre-tap"))
    whole = recording.trace.integrals(*recording.window)
    mean, rms = whole.mean("rectifier.diode_1.current"), whole.rms("rectifier.diode_1.current")
    return {"Vdc/Vm": Reading(mean / CREST), "Vrms/Vm": Reading(rms / CREST), "form factor": Reading(rms / mean),
            "ripple factor": Reading(ripple(mean, rms))}


def _measure_constant_current() -> dict[str, Reading]:
    recording = settled(circuit(CHOKE, RESISTOR, inductance=LARGEST_CHOKE))
    whole = recording.trace.integrals(*recording.window)
    first, *others = (abs(value) for value in amplitudes(recording, "primary.current", range(1, 14)))
    effective = first / math.sqrt(2.0)
    distortion = math.sqrt(whole.rms("primary.current") ** 2 - effective**2) / effective
    return {"line I1/Id rms": Reading(effective / whole.mean("choke.current")),
            "line current THD": Reading(distortion, HARMONIC, 1.0), "power factor": Reading(power_factor(recording))} | {
        f"I{order}/I1": Reading(value / first, HARMONIC, 1.0) for order, value in enumerate(others, start=2)}


def bridge_and_choke() -> list[Row]:
    """Bridge on a resistor behind a choke: the exact periodic current."""
    return side_by_side("rectifier, choke and resistor", references(TABLE, "bridge_rl"), _measure_bridge_and_choke)


def _measure_bridge_and_choke(condition: str) -> dict[str, Reading]:
    recording = settled(circuit(CHOKE, RESISTOR, inductance=numbers_in(condition)["wL/R"] / OMEGA))
    whole = recording.trace.integrals(*recording.window)
    mean, rms = whole.mean("output.current"), whole.rms("output.current")
    least, largest = extremes(recording, "output.current")
    return {"Idc/(Vm/R)": Reading(mean / CREST), "Irms/(Vm/R)": Reading(rms / CREST),
            "i_min/(Vm/R)": Reading(least / CREST), "i_max/(Vm/R)": Reading(largest / CREST),
            "current ripple rms/Idc": Reading(ripple(mean, rms))}


# --- 2.3: capacitor input ---------------------------------------------------------------------------------------------

def capacitor_input() -> list[Row]:
    """Bridge, bank and resistor behind a source resistance."""
    return side_by_side("rectifier, capacitor input", references(TABLE, "capacitor_input"), _measure_capacitor_input)


def _measure_capacitor_input(condition: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    resistance = 100.0                                 # the diodes' 2 uohm are 2e-8 of it
    recording = settled(circuit(BANK, RESISTOR, source_resistance=given["Rs/R"] * resistance, resistance=resistance,
                                capacitance=given["wCR"] / (OMEGA * resistance)), periods=2)
    whole = recording.trace.integrals(*recording.window)
    on, off = conduction(recording)
    voltage, volts = whole.mean("output.voltage"), whole.rms("output.voltage")
    current, line = whole.mean("output.current"), whole.rms("primary.current")
    low, high = extremes(recording, "output.voltage")
    peak = extremes(recording, "primary.current")[1]
    diode, diode_rms = whole.mean("rectifier.diode_1.current"), whole.rms("rectifier.diode_1.current")
    diode_peak = extremes(recording, "rectifier.diode_1.current")[1]
    bare = {"source I_rms/Idc": line / current, "source I_rms/Idc (no Rs)": line / current,
            "Schade: diode I_rms / diode I_dc": diode_rms / diode, "power factor": power_factor(recording)}
    rough = {"ripple rms/Vdc": ripple(voltage, volts), "ripple peak-peak/Vm": (high - low) / CREST,
             "source I_peak/Idc": peak / current, "source I_peak/Idc (no Rs, at turn-on)": peak / current,
             "Schade: diode I_peak / diode I_dc": diode_peak / diode}
    return ({"turn-on angle": angle(on), "turn-off angle": angle(off), "conduction angle per half cycle": angle(off - on),
             "Vdc/Vm": Reading(voltage / CREST)} | {name: Reading(value) for name, value in bare.items()}
            | {name: Reading(value, RIPPLE_AND_PEAK) for name, value in rough.items()})


# --- 2.4: bridge and choke into a stiff voltage -----------------------------------------------------------------------

def stiff_dc() -> list[Row]:
    """Bridge and choke into a battery: discontinuous current, and the voltage below which it becomes continuous."""
    return side_by_side("rectifier, choke and battery", references(TABLE, "stiff_dc"), _measure_stiff_dc)


def _into_battery(voltage: float) -> str:
    """Text of bridge, choke of 1 ohm and battery; its 1e-6 ohm is needed by no part, only by the wording of a battery."""
    return circuit(CHOKE, BATTERY, inductance=1.0 / OMEGA, battery=voltage, resistance=1e-6)


def _measure_stiff_dc(condition: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    if "E/Vm" not in given:
        return _measure_boundary()
    recording = settled(_into_battery(given["E/Vm"] * CREST), periods=2)
    whole = recording.trace.integrals(*recording.window)
    on, off = conduction(recording)
    return {"turn-on angle": angle(on), "extinction angle": angle(off),
            "Idc/(Vm/wL)": Reading(whole.mean("choke.current") / CREST),
            "Irms/(Vm/wL)": Reading(whole.rms("choke.current") / CREST),
            "Ipeak/(Vm/wL)": Reading(extremes(recording, "choke.current")[1] / CREST)}


def _measure_boundary() -> dict[str, Reading]:
    """Highest battery at which the first pulse of current meets the second: without resistance that is the settled one."""
    def parts(share: float) -> bool:
        recording = from_rest(_into_battery(share * CREST), 0.9 / FREQUENCY)
        _, off = conduction(recording)
        return all(at > off for at, _, entered in changes_of(recording, "rectifier.diode_2") if entered == "on")

    low, high = threshold_of(parts, 0.45, 0.63, width=1e-6)
    on, _ = conduction(from_rest(_into_battery(high * CREST), 0.9 / FREQUENCY))
    return {"E/Vm": Reading(0.5 * (low + high)), "turn-on angle": angle(on)}


def critical_inductance() -> list[Row]:
    """Choke-input filter: smallest choke with which the current never stops, and the current there."""
    return side_by_side("rectifier, choke input", references(TABLE, "critical_inductance"),
                        lambda _: _measure_critical_inductance())


def _measure_critical_inductance() -> dict[str, Reading]:
    """Bank of 100 F and load of 100 ohm: the ripple of the bank is 1e-7 of its voltage."""
    resistance = 100.0

    def run(ratio: float) -> Recording:
        return settled(circuit(CHOKE_INPUT, BANK, RESISTOR, inductance=ratio * resistance / OMEGA, capacitance=100.0,
                               resistance=resistance))

    def never_stops(ratio: float) -> bool:
        return not any(entered == "blocked" and extremes(run(ratio), "boost.current")[0] < 1e-6
                       for _, _, entered in changes_of(run(ratio), "boost.diode_1"))

    low, high = threshold_of(never_stops, 0.2, 0.5, width=1e-5)
    recording = run(high)
    mean = recording.trace.integrals(*recording.window).mean("boost.current")
    return {"critical wL/R": Reading(0.5 * (low + high)),
            "boundary mean current/(Vm/wL)": Reading(mean * high * resistance / CREST)}


# --- 2.5: overlap, and freewheeling behind phase control ---------------------------------------------------------------

def overlap() -> list[Row]:
    """Bridge with source inductance and constant current: the angle in which all four diodes conduct, and its cost."""
    return side_by_side("rectifier, overlap", references(TABLE, "overlap"), _measure_overlap)


def _measure_overlap(condition: str) -> dict[str, Reading]:
    share = numbers_in(condition)["wLsId/Vm"]         # at 1 ohm of source the current is this share of Vm

    def run(resistance: float) -> Recording:
        return settled(circuit(CHOKE, RESISTOR, source_inductance=1.0 / OMEGA, inductance=LARGEST_CHOKE,
                               resistance=resistance), periods=2)

    def current(resistance: float) -> float:
        recording = run(resistance)
        return recording.trace.integrals(*recording.window).mean("choke.current") / CREST

    recording = run(tuned(current, share, 0.5 / share))
    whole = recording.trace.integrals(*recording.window)
    first = 1j * amplitudes(recording, "primary.current", [1])[0]
    starts = conduction(recording)[0]
    ends = max(next(at for at, _, entered in changes_of(recording, f"rectifier.diode_{k}")
                    if entered == "blocked" and at > starts) for k in (2, 3))
    return {"overlap angle": angle(ends - starts), "Vd/Vm": Reading(whole.mean("output.voltage") / CREST),
            "displacement factor": Reading(first.real / abs(first)), "power factor": Reading(power_factor(recording)),
            "line I_rms/Id": Reading(whole.rms("primary.current") / whole.mean("choke.current"))}


def freewheeling() -> list[Row]:
    """Phase control before a bridge with constant current: between mains pulses the current runs on through the diodes."""
    return side_by_side("phase control, bridge and choke", references(TABLE, "freewheeling_bridge"), _measure_freewheeling)


def _measure_freewheeling(condition: str) -> dict[str, Reading]:
    recording = settled(circuit(SWITCH, CHOKE, RESISTOR, inductance=LARGEST_CHOKE), delay=numbers_in(condition)["alpha"])
    whole = recording.trace.integrals(*recording.window)
    current = whole.mean("choke.current")
    first = abs(amplitudes(recording, "primary.current", [1])[0]) / math.sqrt(2.0)
    return {"half-controlled bridge (any load) or full bridge on R: Vdc/Vm": Reading(whole.mean("output.voltage") / CREST),
            "half-controlled bridge, constant Id: I1 rms/Id": Reading(first / current),
            "half-controlled bridge, constant Id: I rms/Id": Reading(whole.rms("primary.current") / current)}
