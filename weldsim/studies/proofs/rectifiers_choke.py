"""Rectifiers with chokes: into a battery, before a bank, and with source inductance (overlap)."""

import math
from collections.abc import Callable

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
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
from weldsim.studies.proofs.rectifiers import (
    BANK,
    CHOKE,
    CREST,
    FREQUENCY,
    LARGEST_CHOKE,
    OMEGA,
    RESISTOR,
    TABLE,
    circuit,
    conduction,
    extremes,
    power_factor,
)

STIFF_REACTANCE, STIFF_LEAK = 1.0, 100.0  # [ohm] of the choke into a battery, [Mohm] of its diodes (see _choke_before)
PULSE_ENDS_BEFORE = 0.73  # E/Vm: a pulse into a higher voltage is over before the zero crossing

BATTERY = """
[load]
kind = "battery"
voltage = "{battery} V"
resistance = "{resistance} ohm"
"""
# A choke between rectifier and bank: the ballast of a boost winding that charges the bank; the main winding is idle.
CHOKE_INPUT = """
[transformer]
ratio = "1000:1"
[boost]
kind = "winding"
voltage = "{voltage} V"
threshold = "0 V"
slope = "{slope} ohm"
leakage_resistance = "1000 Mohm"
ballast_inductance = "{inductance} H"
feeds = "bank"
"""
STARTED = """
[start]
bank_voltage = "60 V"
"""


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


# --- 2.4: bridge and choke into a stiff voltage -----------------------------------------------------------------------


def stiff_dc() -> list[Row]:
    """Choke, bridge and battery: discontinuous current, and the voltage below which it becomes continuous.

    The choke stands before the bridge: the references let the diodes that began a pulse carry it to its end, which a
    choke behind the bridge does not where the pulse lasts beyond the zero crossing (the other diodes take over there).
    """
    return side_by_side(
        "rectifier, choke before it, battery",
        references(TABLE, "stiff_dc"),
        lambda condition: _measure_stiff_dc(condition, _choke_before, "primary.current"),
    )


def stiff_dc_choke_behind() -> list[Row]:
    """The same with the choke behind the bridge, for the pulses that end before the zero crossing."""
    short = [
        row for row in references(TABLE, "stiff_dc") if numbers_in(row.condition).get("E/Vm", 0.0) >= PULSE_ENDS_BEFORE
    ]
    return side_by_side(
        "rectifier, choke behind it, battery",
        short,
        lambda condition: _measure_stiff_dc(condition, _choke_behind, "choke.current"),
    )


def _choke_before(voltage: float) -> str:
    """Text of choke, bridge and battery.

    A weaker leak would let the last microampere of a pulse turn the other diodes on, again and again.
    """
    inductance = STIFF_REACTANCE / OMEGA
    return circuit(BATTERY, source_inductance=inductance, battery=voltage, resistance=0.0, leakage=STIFF_LEAK)


def _choke_behind(voltage: float) -> str:
    """Text of bridge, choke and battery."""
    return circuit(CHOKE, BATTERY, inductance=STIFF_REACTANCE / OMEGA, battery=voltage, resistance=0.0)


def _measure_stiff_dc(condition: str, text: Callable[[float], str], signal: str) -> dict[str, Reading]:
    given = numbers_in(condition)
    if "E/Vm" not in given:
        return _measure_boundary(text)
    recording = settled(text(given["E/Vm"] * CREST), periods=2)
    whole = recording.integrals
    on, off = conduction(recording)
    unit = CREST / STIFF_REACTANCE
    return {
        "turn-on angle": angle(on),
        "extinction angle": angle(off),
        "Idc/(Vm/wL)": Reading(whole.mean("output.current") / unit),
        "Irms/(Vm/wL)": Reading(whole.rms("output.current") / unit),
        "Ipeak/(Vm/wL)": Reading(extremes(recording, signal)[1] / unit),
    }


def _measure_boundary(text: Callable[[float], str]) -> dict[str, Reading]:
    """Lowest battery at which the first pulse ends before the second: without resistance it is the settled one."""

    def first_pulse(share: float) -> tuple[float, float]:
        return conduction(from_rest(text(share * CREST), 0.9 / FREQUENCY))

    low, high = threshold_of(lambda share: math.isfinite(first_pulse(share)[1]), 0.45, 0.63, width=1e-6)
    return {"E/Vm": Reading(0.5 * (low + high)), "turn-on angle": angle(first_pulse(high)[0])}


def critical_inductance() -> list[Row]:
    """Choke-input filter: smallest choke with which the current never stops, and the current there."""
    return side_by_side(
        "rectifier, choke and resistor",
        references(TABLE, "critical_inductance"),
        lambda _: _measure_critical_inductance(),
    )


def _measure_critical_inductance() -> dict[str, Reading]:
    """Bank of 10 F and load of 100 ohm: the bank moves by 2e-6 of its voltage.

    The bank starts a little low, so that current flows throughout at first; shooting then finds the settled state of
    that kind where there is one.  Elsewhere the current stops, or the bank still swings after 1500 periods.
    """
    resistance = 100.0

    def run(ratio: float) -> Recording:
        return settled(
            circuit(
                CHOKE_INPUT,
                BANK,
                RESISTOR,
                STARTED,
                inductance=ratio * resistance / OMEGA,
                capacitance=10.0,
                resistance=resistance,
            )
        )

    def never_stops(ratio: float) -> bool:
        recording = run(ratio)
        periodic = recording.settled is not None and recording.settled.periodic
        return periodic and extremes(recording, "boost.current")[0] > 0.0

    low, high = threshold_of(never_stops, 0.2, 0.5, width=5e-6)
    recording = run(high)
    mean = recording.integrals.mean("boost.current")
    return {
        "critical wL/R": Reading(0.5 * (low + high)),
        "boundary mean current/(Vm/wL)": Reading(mean * high * resistance / CREST),
    }


# --- 2.5: overlap, and freewheeling behind phase control
# ---------------------------------------------------------------


def overlap() -> list[Row]:
    """Bridge with source inductance and constant current: the angle in which all four diodes conduct, and its cost."""
    return side_by_side("rectifier, overlap", references(TABLE, "overlap"), _measure_overlap)


def _measure_overlap(condition: str) -> dict[str, Reading]:
    share = numbers_in(condition)["wLsId/Vm"]  # at 1 ohm of source the current is this share of Vm

    def run(resistance: float) -> Recording:
        return settled(
            circuit(CHOKE, RESISTOR, source_inductance=1.0 / OMEGA, inductance=LARGEST_CHOKE, resistance=resistance),
            periods=2,
        )

    def current(resistance: float) -> float:
        recording = run(resistance)
        return recording.integrals.mean("choke.current") / CREST

    recording = run(tuned(current, share, 0.5 / share))
    whole = recording.integrals
    first = 1j * amplitudes(recording, "primary.current", [1])[0]
    starts = next(at for at, _, entered in changes_of(recording, "rectifier.diode_1") if entered == "on")
    ends = max(
        next(
            at
            for at, _, entered in changes_of(recording, f"rectifier.diode_{k}")
            if entered == "blocked" and at > starts
        )
        for k in (2, 3)
    )
    return {
        "overlap angle": angle(ends - starts),
        "Vd/Vm": Reading(whole.mean("output.voltage") / CREST),
        "displacement factor": Reading(first.real / abs(first)),
        "power factor": Reading(power_factor(recording)),
        "line I_rms/Id": Reading(whole.rms("primary.current") / whole.mean("choke.current")),
    }
