"""Phase control on plain loads: resistor, resistor with choke, pure inductance; gates too short.

The switch has no drop; blocked it leaks 0.3 uA, against which every load here is heavy.  A triac and a thyristor pair
take turns.  Vm is the crest of the source, Z and w L are impedances at its frequency: units in which the references
count, not results.
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

TABLE = "controller"
VOLTAGE, FREQUENCY, RESISTANCE = 230.0, 50.0, 0.1  # where a condition leaves them free
LONG_PULSE = "1 ms"  # long enough for latching
LASTING_PULSE = "7 ms"  # there until the other polarity has let go
# [s] of a pulse width, and 0.02 % of the shortest looked for
WIDTH_OF_BRACKET = 1e-9
UNLIKE = 1e-6  # of full output: a half cycle that is not whole

SWITCH = """
[mains]
voltage = "{voltage} V"
frequency = "{frequency} Hz"
[phase_control]
device = "{device}"
pulse_width = "{pulse_width}"
threshold = "0 V"
slope = "0 ohm"
latching_current = "{latching} A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
"""
RESISTOR = """
[load]
kind = "resistor"
resistance = "{resistance} ohm"
inductance = "{inductance} H"
"""
# The same circuit once more, as the magnetising branch of a transformer that nothing is connected to.
TRANSFORMER = """
[transformer]
ratio = "1:1"
primary_resistance = "{resistance} ohm"
[core]
magnetising_inductance = "{inductance} H"
saturation_flux_linkage = "100 V.s"
saturated_inductance = "{inductance} H"
"""


def circuit(load: str = RESISTOR, /, **values: object) -> str:
    """Text of a scenario: the switch and what follows it, with the values that are given."""
    usual = {
        "voltage": VOLTAGE,
        "frequency": FREQUENCY,
        "device": "triac",
        "pulse_width": LONG_PULSE,
        "latching": 0.0,
        "resistance": RESISTANCE,
        "inductance": 0.0,
    }
    return (SWITCH + load).format(**(usual | values))


def device_for(delay: float) -> str:
    """A triac at one delay, a thyristor pair at the next: both are proven on the same table."""
    return "thyristor pair" if round(delay / 15.0) % 2 else "triac"


def crest(voltage: float = VOLTAGE) -> float:
    """Vm, in which the references count voltages."""
    return math.sqrt(2.0) * voltage


def reactance(phi: float, resistance: float = RESISTANCE) -> float:
    """w L of a load whose load angle is phi [deg]."""
    return resistance * math.tan(math.radians(phi))


def load_of(phi: float, resistance: float = RESISTANCE) -> tuple[float, float]:
    """Inductance [H] and impedance [ohm] of a load whose load angle is phi [deg]."""
    across = reactance(phi, resistance)
    return across / (2.0 * math.pi * FREQUENCY), math.hypot(resistance, across)


# --- 1.1 and 1.2: resistor, and resistor with choke -------------------------------------------------------------------


def power_at(recording: Recording) -> tuple[float, float, float]:
    """Rms of output voltage and current, and power factor at the source, over whole periods."""
    whole = recording.integrals
    current = whole.rms("output.current")
    factor = whole.product("mains.voltage", "primary.current") / (
        whole.length * whole.rms("mains.voltage") * whole.rms("primary.current")
    )
    return whole.rms("output.voltage"), current, factor


def positive_current(recording: Recording, delay: float) -> tuple[float, float, float]:
    """End of the first positive conduction [deg], and mean and rms that it makes over a whole period."""
    end = next(
        at
        for at, left, entered in changes_of(recording, "phase_control")
        if at > delay and "plus" in left and "plus" not in entered
    )
    period = recording.supply.period
    part = recording.trace.integrals(delay / 360.0 * period, end / 360.0 * period)
    return (
        end,
        part.integral("output.current") / period,
        math.sqrt(part.product("output.current", "output.current") / period),
    )


def on_resistor() -> list[Row]:
    """Controller on a resistor: means, powers and harmonics at ten delays, and Rashid's example 11.1."""
    return side_by_side("phase control on a resistor", references(TABLE, "controller_r"), _measure_resistor)


def _measure_resistor(condition: str) -> dict[str, Reading]:
    delay = numbers_in(condition)["alpha"]
    if condition.startswith("Rashid"):
        recording = settled(circuit(voltage=120.0, frequency=60.0, resistance=10.0), delay=delay)
        voltage, current, factor = power_at(recording)
        _, mean, rms = positive_current(recording, delay)
        return {
            "Vo_rms": Reading(voltage),
            "Io_rms": Reading(current),
            "PF": Reading(factor),
            "thyristor mean current": Reading(mean),
            "thyristor rms current": Reading(rms),
        }
    recording = settled(circuit(device=device_for(delay)), delay=delay)
    begin = recording.window[0]
    half = recording.trace.integrals(begin, begin + 0.5 * recording.supply.period)
    voltage, _, factor = power_at(recording)
    return {
        "Vo_rms/V": Reading(voltage / VOLTAGE),
        "mean|vo|/Vm": Reading(half.mean("output.voltage") / crest()),
        "power factor": Reading(factor),
    } | _spectrum(recording, voltage)


def _spectrum(recording: Recording, rms: float) -> dict[str, Reading]:
    """Fundamental, displacement, distortion and harmonics of the output voltage."""
    orders = range(1, 41)
    first, *others = (abs(value) for value in amplitudes(recording, "output.voltage", orders))
    fundamental = amplitudes(recording, "output.voltage", [1])[0]
    lag = -math.atan2((1j * fundamental).imag, (1j * fundamental).real)
    effective = first / math.sqrt(2.0)
    found = {
        "fundamental amplitude/Vm": Reading(first / crest(), HARMONIC),
        "fundamental lag": angle(math.degrees(lag)),
        "displacement factor": Reading(math.cos(lag)),
        "distortion factor I1/I": Reading(effective / rms),
        "THD_F (all orders)": Reading(math.sqrt(max(rms**2 - effective**2, 0.0)) / effective, HARMONIC, 1.0),
        "THD_F (orders to 40)": Reading(math.sqrt(sum(h * h for h in others)) / first, HARMONIC, 1.0),
    }
    return found | {
        f"harmonic {order} amplitude/Vm": Reading(value / crest(), HARMONIC, first / crest())
        for order, value in zip(orders[1:], others, strict=True)
    }


def on_resistor_and_choke() -> list[Row]:
    """Controller on a resistor with choke: extinction, means, harmonics, least delay, and Rashid's example 11.2."""
    return side_by_side("phase control on a resistor with choke", references(TABLE, "controller_rl"), _measure_choke)


def _measure_choke(condition: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    if condition.startswith("Rashid"):
        return _rashid_11_2()
    omega, impedance = 2.0 * math.pi * FREQUENCY, math.hypot(RESISTANCE, reactance(given["phi"]))
    inductance = reactance(given["phi"]) / omega
    if "alpha" not in given:
        return {"minimum controllable firing angle": angle(_least_delay(inductance))}
    delay = given["alpha"]
    recording = settled(circuit(device=device_for(delay), inductance=inductance), delay=delay, periods=2)
    voltage, current, factor = power_at(recording)
    end, mean, rms = positive_current(recording, delay)
    unit = crest() / impedance
    lines = [abs(value) for value in amplitudes(recording, "output.current", (1, 3, 5, 7))]
    return {
        "extinction angle beta": angle(end),
        "conduction angle gamma": angle(end - delay),
        "I_rms/(Vm/Z)": Reading(current / unit),
        "thyristor mean/(Vm/Z)": Reading(mean / unit),
        "thyristor rms/(Vm/Z)": Reading(rms / unit),
        "Vo_rms/V": Reading(voltage / VOLTAGE),
        "power factor": Reading(factor),
    } | {
        f"current harmonic {order} amplitude/(Vm/Z)": Reading(line / unit, HARMONIC, lines[0] / unit)
        for order, line in zip((1, 3, 5, 7), lines, strict=True)
    }


def _least_delay(inductance: float) -> float:
    """Delay below which pulses that last make the output whole [deg]."""

    def cut(delay: float) -> bool:
        text = circuit(inductance=inductance, pulse_width=LASTING_PULSE)
        whole = settled(text, delay=delay)
        return whole.integrals.rms("output.voltage") < VOLTAGE * (1.0 - UNLIKE)

    low, high = threshold_of(cut, 30.0, 60.0, width=1e-3)
    return 0.5 * (low + high)


def _rashid_11_2() -> dict[str, Reading]:
    delay, values = 90.0, {"voltage": 120.0, "frequency": 60.0, "resistance": 2.5, "inductance": 6.5e-3}
    whole = settled(circuit(**values, pulse_width=LASTING_PULSE), delay=10.0)
    first = amplitudes(whole, "output.current", [1])[0]
    recording = settled(circuit(**values), delay=delay, periods=2)
    voltage, current, factor = power_at(recording)
    end, mean, rms = positive_current(recording, delay)
    integrals = recording.integrals
    return {
        "load angle phi": angle(math.degrees(-math.atan2((1j * first).imag, (1j * first).real))),
        "beta": angle(end),
        "conduction angle": angle(end - delay),
        "Vo_rms": Reading(voltage),
        "Io_rms": Reading(current),
        "thyristor rms": Reading(rms),
        "thyristor mean": Reading(mean),
        "Po": Reading(integrals.product("output.voltage", "output.current") / integrals.length),
        "PF": Reading(factor),
    }


# --- 1.3: a pulse that is over before the other polarity lets go ------------------------------------------------------


def half_waving() -> list[Row]:
    """Short pulses before the load angle: one polarity conducts; which pulse width brings the other one back."""
    return side_by_side("phase control with short pulses", references(TABLE, "half_waving"), _measure_half_waving)


def _measure_half_waving(condition: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    phi, delay = given["phi"], given["alpha"]
    unit = crest() / math.hypot(RESISTANCE, reactance(phi))
    inductance = reactance(phi) / (2.0 * math.pi * FREQUENCY)
    degree = 1.0 / (360.0 * FREQUENCY)

    def run(width: float) -> Recording:
        text = circuit(device=device_for(delay), inductance=inductance, pulse_width=f"{width} s")
        return settled(text, delay=delay, periods=2)

    def both_conduct(width: float) -> bool:
        return any(entered.startswith("gated_minus") for _, _, entered in changes_of(run(width), "phase_control"))

    low, high = threshold_of(both_conduct, 1.0 * degree, 170.0 * degree, width=1e-3 * degree)
    recording = run(low)
    whole = recording.integrals
    end, _, _ = positive_current(recording, delay)
    return {
        "extinction angle beta": angle(end),
        "gate pulse width needed to avoid half-waving": angle(0.5 * (low + high) / degree),
        "dc component of line current/(Vm/Z)": Reading(whole.mean("output.current") / unit),
        "I_rms/(Vm/Z)": Reading(whole.rms("output.current") / unit),
    }


# --- 1.4: pure inductance ---------------------------------------------------------------------------------------------


def on_choke() -> list[Row]:
    """Controller on a choke without resistance: harmonics of the current."""
    return side_by_side(
        "phase control on a choke",
        references(TABLE, "pure_inductance"),
        lambda condition: _measure_inductance(condition, RESISTOR, "output.current"),
    )


def on_unloaded_transformer() -> list[Row]:
    """The same harmonics as magnetising current of a transformer with nothing connected."""
    return side_by_side(
        "phase control on an unloaded transformer",
        references(TABLE, "pure_inductance"),
        lambda condition: _measure_inductance(condition, TRANSFORMER, "core.magnetising_current"),
    )


def _measure_inductance(condition: str, load: str, signal: str) -> dict[str, Reading]:
    delay, impedance = numbers_in(condition)["alpha"], 100.0
    text = circuit(load, device=device_for(delay), resistance=0.0, inductance=impedance / (2.0 * math.pi * FREQUENCY))
    orders = (1, 3, 5, 7, 9, 11)
    values = [abs(value) * impedance / crest() for value in amplitudes(settled(text, delay=delay), signal, orders)]
    names = ["I1 amplitude/(Vm/wL)", *(f"|I{order}| amplitude/(Vm/wL)" for order in orders[1:])]
    return {name: Reading(value, HARMONIC, values[0]) for name, value in zip(names, values, strict=True)}


# --- 1.5: a pulse that is over before the current has reached latching ------------------------------------------------


def gate_pulse() -> list[Row]:
    """Shortest pulse with which the switch stays on, by halving.

    On resistor and choke, and on an unloaded transformer.
    """
    return side_by_side("gate pulse against latching", references(TABLE, "gate_pulse"), _measure_gate_pulse)


def _measure_gate_pulse(condition: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    load = TRANSFORMER if condition.startswith("unloaded transformer") else RESISTOR
    text = circuit(
        load,
        voltage=given["V"],
        frequency=given["f"],
        resistance=given["R"],
        inductance=given["L"],
        latching=given["latching"],
        pulse_width="{width} s",
    )
    stays_on, width = _stays_on(text, given["alpha"], given["f"]), 1e-6
    while not stays_on(2.0 * width):  # a pulse far too long ends after the current has gone again
        width *= 2.0
    low, high = threshold_of(stays_on, width, 2.0 * width, width=WIDTH_OF_BRACKET)
    return {"gate pulse needed to latch": Reading(0.5 * (low + high))}


def _stays_on(text: str, delay: float, frequency: float) -> Callable[[float], bool]:
    """Whether the switch still conducts after a pulse of a given width [s], in the first half cycle from rest."""

    def stays(width: float) -> bool:
        recording = from_rest(text.format(width=width), 0.5 / frequency, delay=delay)
        return any(entered == "plus" for _, _, entered in changes_of(recording, "phase_control"))

    return stays
