"""Rectifiers on plain loads: resistor, half a centre-tap, constant current, choke and resistor, capacitor input.

Diodes have a millionth of an ohm and leak next to nothing.  Vm is the crest of the source, w L and R are the units in
which the references count.  Where a reference has an infinite choke, the largest one a scenario takes stands in.
"""

import math
from dataclasses import replace

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
    ANGLE,
    HARMONIC,
    Reading,
    Row,
    amplitudes,
    angle,
    changes_of,
    numbers_in,
    references,
    settled,
    side_by_side,
)

TABLE = "rectifiers"
VOLTAGE, FREQUENCY = 100.0 / math.sqrt(2.0), 50.0
CREST, OMEGA = 100.0, 2.0 * math.pi * FREQUENCY
# Where a source has no resistance: two diodes of 1 uohm are 2e-6 of the load, which lasts longer than a jump.
NO_SOURCE_RMS, NO_SOURCE_PEAK, NO_SOURCE_ANGLE = 2e-3, 0.02, 0.03
RIPPLE_AND_PEAK = 1e-3  # an ideal capacitor-input run: ripple, peak and the angles that depend on them
CHANGE_OVER = 1e-4  # [deg] in which one pair of diodes takes over from the other
LEAST_SLOPE = 1e-6  # [ohm] of a diode
LARGEST_CHOKE = 100.0  # [H]

BRIDGE = """
[mains]
voltage = "{voltage} V"
frequency = "{frequency} Hz"
resistance = "{source_resistance} ohm"
inductance = "{source_inductance} H"
[rectifier]
kind = "{kind}"
threshold = "0 V"
slope = "{slope} ohm"
leakage_resistance = "{leakage} Mohm"
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


def circuit(*parts: str, **values: object) -> str:
    """Text of a scenario: mains and rectifier, then the parts, with the values that are given."""
    usual = {
        "voltage": VOLTAGE,
        "frequency": FREQUENCY,
        "source_resistance": 0.0,
        "source_inductance": 0.0,
        "kind": "bridge",
        "slope": LEAST_SLOPE,
        "leakage": 1000.0,
        "resistance": 1.0,
    }
    return "".join((BRIDGE, *parts)).format(**(usual | values))


def power_factor(recording: Recording) -> float:
    """Power over volts times amperes at the ideal source."""
    whole = recording.integrals
    return whole.product("mains.voltage", "primary.current") / (
        whole.length * whole.rms("mains.voltage") * whole.rms("primary.current")
    )


def ripple(mean: float, rms: float) -> float:
    """Rms of what is left without the mean, over the mean."""
    return math.sqrt(max(rms * rms - mean * mean, 0.0)) / mean


def extremes(recording: Recording, signal: str) -> tuple[float, float]:
    """Least and largest value within the window."""
    values, _ = recording.trace.extremes([signal], *recording.window)
    return float(values[0, 0]), float(values[0, 1])


def pulses(recording: Recording) -> list[tuple[float, float]]:
    """Where current on the direct side begins and ends [deg], infinite where that lies outside the run.

    The bridge conducts while a diode of its upper half (1, 2) and one of its lower half (3, 4) do; one alone may stay
    on afterwards with the leak of the others.  Where the pairs change over at once the pulse goes on.
    """
    changes = sorted(
        (at, k, entered) for k in range(1, 5) for at, _, entered in changes_of(recording, f"rectifier.diode_{k}")
    )
    first = {k: entered for _, k, entered in reversed(changes)}
    on = {k for k, entered in first.items() if entered == "blocked"}
    found = [(-math.inf, math.inf)] if on & {1, 2} and on & {3, 4} else []
    for at, k, entered in changes:
        before = on & {1, 2} and on & {3, 4}
        on = on | {k} if entered == "on" else on - {k}
        after = on & {1, 2} and on & {3, 4}
        if before and not after:
            found[-1] = found[-1][0], at
        elif after and not before:
            goes_on = found and at < found[-1][1] + CHANGE_OVER
            found.append((found.pop()[0] if goes_on else at, math.inf))
    return found


def conduction(recording: Recording) -> tuple[float, float]:
    """The first pulse that begins within the run [deg]."""
    return next(pulse for pulse in pulses(recording) if math.isfinite(pulse[0]))


# --- 2.1 and 2.2: resistor, half a centre-tap, constant current, resistor with choke ----------------------------------


def standard_figures() -> list[Row]:
    """Means, form factors and harmonics that every textbook prints."""
    measures = {
        "bridge, R": _measure_bridge,
        "half wave, R": _measure_half_wave,
        "bridge, constant Id": _measure_constant_current,
    }
    return side_by_side(
        "rectifier, standard figures", references(TABLE, "standard_figures"), lambda condition: measures[condition]()
    )


def _measure_bridge() -> dict[str, Reading]:
    recording = settled(circuit(RESISTOR))
    whole = recording.integrals
    mean, rms = whole.mean("output.voltage"), whole.rms("output.voltage")
    power = whole.product("output.voltage", "output.current") / whole.length
    lines = [abs(value) / CREST for value in amplitudes(recording, "output.voltage", range(2, 12, 2))]
    return {
        "Vdc/Vm": Reading(mean / CREST),
        "Vrms/Vm": Reading(rms / CREST),
        "form factor": Reading(rms / mean),
        "ripple factor": Reading(ripple(mean, rms)),
        "rectification efficiency": Reading(mean * whole.mean("output.current") / power),
    } | {
        f"|sin| harmonic {order} amplitude/Vm": Reading(line, HARMONIC, lines[0])
        for order, line in zip(range(2, 12, 2), lines, strict=True)
    }


def _measure_half_wave() -> dict[str, Reading]:
    """One diode of a centre-tap rectifier sees half a wave; the load is 1 ohm."""
    return _half_wave(settled(circuit(CENTRE_TAP, RESISTOR, kind="centre-tap")), "rectifier.diode_1.current")


def one_diode_open() -> list[Row]:
    """A bridge and a centre-tap that have lost a diode give half a wave to a load of 1 ohm."""
    halves = [row for row in references(TABLE, "standard_figures") if row.condition == "half wave, R"]
    broken = circuit(RESISTOR).replace("[rectifier]", '[rectifier]\nfault = "one diode open"')
    texts = {"bridge": broken, "centre-tap": broken.replace('"bridge"', '"centre-tap"') + CENTRE_TAP}
    rows = [replace(row, condition=f"{kind}, one diode open, R") for kind in texts for row in halves]
    return side_by_side(
        "rectifier, one diode open",
        rows,
        lambda condition: _half_wave(settled(texts[condition.split(",")[0]]), "output.current"),
    )


def _half_wave(recording: Recording, signal: str) -> dict[str, Reading]:
    """Figures of half a sine of current in 1 ohm."""
    mean, rms = recording.integrals.mean(signal), recording.integrals.rms(signal)
    return {
        "Vdc/Vm": Reading(mean / CREST),
        "Vrms/Vm": Reading(rms / CREST),
        "form factor": Reading(rms / mean),
        "ripple factor": Reading(ripple(mean, rms)),
    }


def _measure_constant_current() -> dict[str, Reading]:
    recording = settled(circuit(CHOKE, RESISTOR, inductance=LARGEST_CHOKE))
    whole = recording.integrals
    first, *others = (abs(value) for value in amplitudes(recording, "primary.current", range(1, 14)))
    effective = first / math.sqrt(2.0)
    distortion = math.sqrt(whole.rms("primary.current") ** 2 - effective**2) / effective
    return {
        "line I1/Id rms": Reading(effective / whole.mean("choke.current")),
        "line current THD": Reading(distortion, HARMONIC, 1.0),
        "power factor": Reading(power_factor(recording)),
    } | {f"I{order}/I1": Reading(value / first, HARMONIC, 1.0) for order, value in enumerate(others, start=2)}


def bridge_and_choke() -> list[Row]:
    """Bridge on a resistor behind a choke: the exact periodic current."""
    return side_by_side("rectifier, choke and resistor", references(TABLE, "bridge_rl"), _measure_bridge_and_choke)


def _measure_bridge_and_choke(condition: str) -> dict[str, Reading]:
    return behind_a_choke(settled(circuit(CHOKE, RESISTOR, inductance=numbers_in(condition)["wL/R"] / OMEGA)))


def behind_a_choke(recording: Recording, *tolerance: float) -> dict[str, Reading]:
    """Current of 1 ohm behind a choke at 100 V of crest; the tolerance of its ripple, where it is another."""
    whole = recording.integrals
    mean, rms = whole.mean("output.current"), whole.rms("output.current")
    least, largest = extremes(recording, "output.current")
    return {
        "Idc/(Vm/R)": Reading(mean / CREST),
        "Irms/(Vm/R)": Reading(rms / CREST),
        "i_min/(Vm/R)": Reading(least / CREST),
        "i_max/(Vm/R)": Reading(largest / CREST),
        "current ripple rms/Idc": Reading(ripple(mean, rms), *tolerance),
    }


# --- 2.3: capacitor input ---------------------------------------------------------------------------------------------


def capacitor_input() -> list[Row]:
    """Bridge, bank and resistor behind a source resistance."""
    return side_by_side("rectifier, capacitor input", references(TABLE, "capacitor_input"), _measure_capacitor_input)


def _measure_capacitor_input(condition: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    # The diodes' 2 uohm have to be small against Rs; without one, current is read off a difference of voltages across
    # them, which has fewer digits the smaller it is.
    resistance = 100.0 if given["Rs/R"] else 1.0
    recording = settled(
        circuit(
            BANK,
            RESISTOR,
            source_resistance=given["Rs/R"] * resistance,
            resistance=resistance,
            capacitance=given["wCR"] / (OMEGA * resistance),
        ),
        periods=2,
    )
    whole = recording.integrals
    on, off = conduction(recording)
    within = ANGLE if given["Rs/R"] else NO_SOURCE_ANGLE
    voltage, volts = whole.mean("output.voltage"), whole.rms("output.voltage")
    current, line = whole.mean("output.current"), whole.rms("primary.current")
    low, high = extremes(recording, "output.voltage")
    peak = extremes(recording, "primary.current")[1]
    diode, diode_rms = whole.mean("rectifier.diode_1.current"), whole.rms("rectifier.diode_1.current")
    diode_peak = extremes(recording, "rectifier.diode_1.current")[1]
    bare = {
        "source I_rms/Idc": line / current,
        "Schade: diode I_rms / diode I_dc": diode_rms / diode,
        "power factor": power_factor(recording),
    }
    rough = {
        "ripple rms/Vdc": ripple(voltage, volts),
        "ripple peak-peak/Vm": (high - low) / CREST,
        "source I_peak/Idc": peak / current,
        "Schade: diode I_peak / diode I_dc": diode_peak / diode,
    }
    return (
        {
            "turn-on angle": angle(on),
            "turn-off angle": angle(off, within),
            "conduction angle per half cycle": angle(off - on, within),
            "Vdc/Vm": Reading(voltage / CREST),
        }
        | {name: Reading(value) for name, value in bare.items()}
        | {name: Reading(value, RIPPLE_AND_PEAK) for name, value in rough.items()}
        | {
            "source I_rms/Idc (no Rs)": Reading(line / current, NO_SOURCE_RMS),
            "source I_peak/Idc (no Rs, at turn-on)": Reading(peak / current, NO_SOURCE_PEAK),
        }
    )


# --- a battery behind a resistor --------------------------------------------------------------------------------------

BATTERY = """
[load]
kind = "battery"
voltage = "{battery!r} V"
resistance = "{resistance!r} ohm"
"""
PRINTED = 2e-3  # of a book that goes on from 5 A with a resistor of three digits and a current of two


def charger() -> list[Row]:
    """Mean and rms of the current into a battery, and for how long it flows; the example of a book."""
    return side_by_side("rectifier, resistor and battery", references("charger", "charger"), _measure_charger)


def _measure_charger(condition: str) -> dict[str, Reading]:
    if condition.startswith("worked"):
        return _worked_charger()
    share = numbers_in(condition)["E/Vm"]
    recording = settled(circuit(BATTERY, battery=share * CREST, resistance=1.0))
    whole, (on, off) = recording.integrals, conduction(recording)
    return {
        "Idc/(Vm/R)": Reading(whole.mean("output.current") / CREST),
        "Irms/(Vm/R)": Reading(whole.rms("output.current") / CREST),
        "conduction angle": angle(off - on),
    }


def _worked_charger() -> dict[str, Reading]:
    """The first of two diodes of a centre-tap: its half waves never meet those of the other."""
    battery, resistance = 12.0, 4.26
    text = circuit(
        CENTRE_TAP, BATTERY, kind="centre-tap", voltage=60.0, frequency=60.0, battery=battery, resistance=resistance
    )
    recording = settled(text)
    whole = recording.integrals
    mean, rms = whole.mean("rectifier.diode_1.current"), whole.rms("rectifier.diode_1.current")
    changes = changes_of(recording, "rectifier.diode_1")
    on = next(at for at, _, entered in changes if entered == "on")
    off = next(at for at, left, _ in changes if left == "on" and at > on)
    heat = resistance * rms**2
    return {
        "mean current": Reading(mean, PRINTED),
        "conduction angle": angle(off - on),
        "heat in the resistor": Reading(heat, PRINTED),
        "efficiency": Reading(battery * mean / (battery * mean + heat), PRINTED),
    }
