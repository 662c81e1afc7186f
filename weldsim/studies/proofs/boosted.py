"""Both boosts on plain loads: a winding beside the main one, and a second winding on the output choke.

Diodes have no drop and a millionth of an ohm.  A winding's boost meets a resistor, a battery or a bank, alone and with
the main voltage beside it; the choke's second winding meets a direct voltage that is switched on, and a short that an
arc opens.
"""

import re

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
    HARMONIC,
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
from weldsim.studies.proofs.rectifiers import OMEGA, TABLE, VOLTAGE, behind_a_choke, extremes

NEAR = 2e-6  # [s] of the end of a current that goes to zero slowly

BRIDGE = """
[rectifier]
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
"""
MAINS = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
primary_turns = 2300
secondary_turns = {turns}
"""
BOOST = """
[boost]
kind = "winding"
voltage = "{boost!r} V"
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
ballast_resistance = "{ballast!r} ohm"
ballast_inductance = "{coil!r} H"
"""
BLOCKING = """blocking_diode = true
blocking_threshold = "0 V"
blocking_slope = "1 uohm"
blocking_leakage_resistance = "1000 Mohm"
"""
SWITCH = """
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
"""
BANK = """
[bank]
capacitance = "10 mF"
"""
RESISTOR = """
[load]
kind = "resistor"
resistance = "{outer!r} ohm"
"""
BATTERY = """
[load]
kind = "battery"
voltage = "{battery!r} V"
resistance = "1 uohm"
"""
# A direct source, the choke with its second winding, and what they work on.
COUPLED = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "{direct!r} V"
[choke]
inductance = "{henries!r} H"
resistance = "{resistance!r} ohm"
[boost]
kind = "choke"
choke_ratio = {ratio!r}
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
ballast_resistance = "{ballast!r} ohm"
"""
OPENED = """
[load]
kind = "shorted arc"
voltage = "30 V"
slope = "0 ohm"
knee_resistance = "1 Mohm"
short_resistance = "0 ohm"
short_start = "0 s"
short_period = "10 s"
short_duration = "0.25 s"
"""
LOADED = re.compile(r"boost of (\d+) V behind (\d+) ohm, main of (\d+) V")


def winding() -> list[Row]:
    """Output, boost and rectifier currents of a boost winding on resistors, a bank and batteries."""
    return side_by_side("boost from a winding", references("boost", "winding"), _measure_winding)


def winding_with_choke() -> list[Row]:
    """A ballast choke before a resistor: the periodic current of the bridge with choke, through the boost."""
    rows = [row for row in references(TABLE, "bridge_rl") if numbers_in(row.condition)["wL/R"] >= 1.0]
    return side_by_side("boost from a winding", rows, _measure_ballast_choke)


def _measure_winding(condition: str) -> dict[str, Reading]:
    match, said = LOADED.match(condition), numbers_in(condition)
    assert match is not None
    boost, ballast, main = map(float, match.groups())
    values: dict[str, object] = {"boost": boost, "ballast": ballast, "coil": 0.0, "turns": round(10.0 * main)}
    if "unloaded" in condition:
        return _unloaded((MAINS + BRIDGE + BOOST + BLOCKING + BANK).format(**values))
    if "battery" in condition:
        return _into_battery((MAINS + BRIDGE + BOOST + BATTERY).format(battery=said["E"], **values))
    text, delay = MAINS + BRIDGE + BOOST + RESISTOR, said.get("alpha")
    recording = settled((text + (SWITCH if delay else "")).format(outer=said["R"], **values), delay=delay)
    whole = recording.integrals
    return {
        "output voltage, mean": Reading(whole.mean("output.voltage")),
        "output voltage, rms": Reading(whole.rms("output.voltage")),
        "boost current, mean": Reading(whole.mean("boost.current")),
        "rectifier current, mean": Reading(whole.mean("rectifier.current")),
        "heat in the ballast": Reading(whole.energies()["loss"]["boost ballast"] / whole.length),
    }


def _unloaded(text: str) -> dict[str, Reading]:
    recording = settled(text)
    return {
        "output voltage, largest": Reading(extremes(recording, "output.voltage")[1]),
        "bank voltage, mean": Reading(recording.integrals.mean("bank.voltage")),
    }


def _into_battery(text: str) -> dict[str, Reading]:
    recording = settled(text)
    whole = recording.integrals
    begins = min(
        at for name in ("diode_1", "diode_2") for at, _, entered in changes_of(recording, f"boost.{name}")
        if entered == "on"
    )  # fmt: skip
    return {
        "boost current, mean": Reading(whole.mean("boost.current")),
        "boost current, rms": Reading(whole.rms("boost.current")),
        "begin of the boost current": angle(begins),
    }


def _measure_ballast_choke(condition: str) -> dict[str, Reading]:
    """100 V of crest behind the ballast, 1 ohm; the main winding of 0.1 V never comes in."""
    values = {"turns": 1, "boost": VOLTAGE, "ballast": 0.0, "coil": numbers_in(condition)["wL/R"] / OMEGA}
    return behind_a_choke(settled((MAINS + BRIDGE + BOOST + RESISTOR).format(outer=1.0, **values)), HARMONIC)


def second_winding() -> list[Row]:
    """A second winding on the choke: what it gives while the choke's current rises, and when an arc opens a short."""
    return side_by_side("boost from the choke", references("boost", "choke"), _measure_second_winding)


def _measure_second_winding(condition: str) -> dict[str, Reading]:
    said = numbers_in(condition)
    values = {"ratio": said["n"], "ballast": said["Rb"]}
    if "short of" in condition:
        text = (COUPLED + BRIDGE + OPENED).format(direct=20.0, henries=1e-3, resistance=0.2, **values)
        return _sampled(from_rest(text, 0.26), 0.25 + 1e-3 * said["t"])
    text = (COUPLED + BRIDGE + RESISTOR).format(direct=40.0, henries=20e-3, resistance=0.0, outer=said["R"], **values)
    recording = from_rest(text, 0.03)
    if "t" in said:
        return _sampled(recording, 1e-3 * said["t"])
    ends = max(
        at for k in (1, 2, 3, 4) for at, _, entered in changes_of(recording, f"boost.diode_{k}") if entered == "blocked"
    )
    period = recording.supply.period
    return {"end of the boost current": Reading(ends / 360.0 * period, NEAR / 20e-3)}


def _sampled(recording: Recording, time: float) -> dict[str, Reading]:
    names = ["output.voltage", "boost.current", "output.current"]
    values = recording.trace.sample(names, time, spacing=1.0, count=1)[:, 0]
    return {name.replace(".", " "): Reading(float(value)) for name, value in zip(names, values, strict=True)}
