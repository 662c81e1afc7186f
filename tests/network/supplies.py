"""Supplies as scenario texts, and many variants of them that must all be wired right."""

from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary

BENCHMARK = """
title = "Benchmark supply"
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "0.30 ohm"
inductance = "0.40 mH"
[phase_control]
threshold = "1 V"
slope = "12 mohm"
latching_current = "80 mA"
holding_current = "50 mA"
snubber_resistance = "100 ohm"
snubber_capacitance = "100 nF"
[transformer]
ratio = "230:31"
primary_resistance = "0.4 ohm"
primary_leakage_inductance = "0.5 mH"
secondary_resistance = "7 mohm"
secondary_leakage_inductance = "9 uH"
[core]
magnetising_inductance = "4 H"
saturation_flux_linkage = "1.10 V.s"
saturated_inductance = "6 mH"
loss_resistance = "1500 ohm"
[rectifier]
threshold = "0.75 V"
slope = "1.5 mohm"
[bank]
capacitance = "44 mF"
resistance = "6 mohm"
bleed_resistance = "470 ohm"
[choke]
inductance = "0.30 mH"
resistance = "5 mohm"
[weld_leads]
resistance = "8 mohm"
inductance = "12 uH"
[load]
kind = "arc line"
"""
BOOST = {
    "kind": "winding",
    "voltage": 47.8,
    "resistance": 0.12,
    "leakage_inductance": 40e-6,
    "ballast_resistance": 22.0,
    "blocking_diode": True,
}
CHOKE_BOOST = {
    "kind": "choke",
    "choke_ratio": 3.0,
    "resistance": 0.1,
    "leakage_inductance": 20e-6,
    "ballast_resistance": 1.0,
}
FALLING = {"kind": "arc line", "falling_voltage": 30.0, "falling_current": 15.0, "reignition_voltage": 40.0}
OTHER = {"ratio": 7.0, "secondary_resistance": 8e-3, "primary_leakage_inductance": 0.6e-3}
IRON = {
    "core": {"section": 55e-4, "path_length": 0.62, "steel": "grain-oriented", "mass": 24.0},
    "transformer.ratio": "absent",
    "transformer.primary_turns": 130,
    "transformer.secondary_turns": 17,
}
STRAIGHT = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[load]
kind = "resistor"
resistance = "10 ohm"
inductance = "20 mH"
"""

# Name -> changes to the benchmark supply.
VARIANTS = {
    "as it is": {},
    "mains with harmonics and direct voltage": {"mains.background": "measured evening", "mains.dc_offset": 1.0},
    "supply lead": {"supply_lead": {"length": 30.0, "section": 1.5e-6}},
    "no phase control": {"phase_control": "absent"},
    "no snubber": {"phase_control.snubber_resistance": "absent", "phase_control.snubber_capacitance": "absent"},
    "thyristor pair": {"phase_control.device": "thyristor pair"},
    "held gate": {"phase_control.pulse_kind": "held"},
    "diac dial": {
        "phase_control.dial_kind": "rc-diac",
        "phase_control.timing_resistance_at_0": 4e5,
        "phase_control.timing_resistance_at_100": 1e4,
    },
    "varistor": {"varistor": {"clamp_voltage": 250.0, "slope": 5.0}},  # within the crest, so that it works
    "no core": {"core": "absent"},
    "iron core with friction": IRON,
    "no leakage": {"transformer.primary_leakage_inductance": 0.0, "transformer.secondary_leakage_inductance": 0.0},
    "stiff mains": {"mains.resistance": 0.0, "mains.inductance": 0.0},
    "centre-tap": {"rectifier.kind": "centre-tap"},
    "no rectifier": {"rectifier": "absent", "bank": "absent"},
    "no transformer": {"transformer": "absent", "core": "absent"},
    "no bank": {"bank": "absent"},
    "bank without resistance": {"bank.resistance": 0.0},
    "no choke": {"choke": "absent"},
    "saturating choke": {"choke.saturation_current": 180.0},
    "no weld leads": {"weld_leads": "absent"},
    "unloaded": {"load": "absent"},
    "unloaded with a saturating choke": {"load": "absent", "choke.saturation_current": 180.0},
    "boost winding": {"boost": BOOST},
    "boost winding to the bank": {"boost": BOOST | {"feeds": "bank", "blocking_diode": False}},
    "boost sharing leakage": {"boost": BOOST | {"shared_leakage_inductance": 5e-6}},
    "boost sharing leakage, centre-tap": {
        "boost": BOOST | {"shared_leakage_inductance": 5e-6},
        "rectifier.kind": "centre-tap",
    },
    "boost with a ballast choke": {"boost": BOOST | {"ballast_resistance": 0.0, "ballast_inductance": 5e-3}},
    "boost with ballast on the choke": {"boost": BOOST | {"ballast_on_choke": True, "choke_ratio": 3.0}},
    "boost without ballast": {"boost": BOOST | {"ballast_resistance": 0.0}},
    "boost unloaded": {"boost": BOOST, "load": "absent"},
    "boost from the choke": {"boost": CHOKE_BOOST},
    "boost from a saturating choke": {"boost": CHOKE_BOOST, "choke.saturation_current": 180.0},
    "ideal boost from the choke": {"boost": {"kind": "choke", "choke_ratio": 3.0}},
    "resistor": {"load": {"kind": "resistor", "resistance": 0.18, "inductance": 1e-4}},
    "short": {"load": {"kind": "short"}},
    "dead short": {"load": {"kind": "resistor", "resistance": 0.0}},
    "load line": {"load": {"kind": "load line", "process": "TIG"}},
    "battery": {"load": {"kind": "battery", "voltage": 26.5, "resistance": 0.025}},
    "battery without resistance": {"load": {"kind": "battery", "voltage": 26.5, "resistance": 0.0}},
    "falling arc": {"load": FALLING},
    "shorted arc": {"load": {"kind": "shorted arc"}},
    "shorted falling arc": {"load": FALLING | {"kind": "shorted arc"}},
    "pair": {"second_transformer": OTHER},
    "pair, everything in series": {"second_transformer": OTHER | {"primaries": "series"}},
    "pair, everything in parallel": {"second_transformer": OTHER | {"secondaries": "parallel"}},
    "pair, primaries in series": {"second_transformer": OTHER | {"primaries": "series", "secondaries": "parallel"}},
    "pair of two kinds of iron": IRON
    | {
        "second_transformer": {"secondary_turns": 16},
        "second_core": {"steel": "non-oriented", "section": 50e-4},
    },
    "pair joined the wrong way round": {
        "second_transformer": OTHER | {"secondaries": "parallel", "reversed": True},
        "rectifier": "absent",
        "bank": "absent",
    },
    "pair as the halves of a centre-tap": {"second_transformer": OTHER, "rectifier.kind": "centre-tap"},
    "pair with stray fields and resistance at nothing": {
        "second_transformer": {"ratio": 7.0, "primary_resistance": 0.0, "secondary_resistance": 0.0},
        "transformer.primary_resistance": 0.0,
        "transformer.primary_leakage_inductance": 0.0,
        "transformer.secondary_leakage_inductance": 0.0,
    },
    "pair without a core": {"second_transformer": OTHER | {"secondaries": "parallel"}, "core": "absent"},
    "pair with a boost winding": {"second_transformer": OTHER, "boost": BOOST | {"shared_leakage_inductance": 5e-6}},
    "everything": IRON
    | {
        "second_transformer": {"secondary_turns": 18, "primary_resistance": 0.5},
        "second_core": {"section": 50e-4},
        "boost": BOOST | {"shared_leakage_inductance": 5e-6},
        "choke.saturation_current": 180.0,
        "load": FALLING,
        "supply_lead": {"length": 30.0, "section": 1.5e-6},
        "varistor": {"clamp_voltage": 250.0, "slope": 5.0},
    },
}


def benchmark(changes=None) -> Scenario:
    """The benchmark supply with changes."""
    return vary(read_text(BENCHMARK), changes or {})


def straight(changes=None) -> Scenario:
    """A resistor and an inductor on the mains, with changes."""
    return vary(read_text(STRAIGHT), changes or {})
