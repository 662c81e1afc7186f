"""Both kinds of boost, from rest, against nodal equations in small implicit steps (``nodal_twin``).

The benchmark supply of the twin with a boost to it, as its parts stand in the text below: with and without blocking
diode, ballast a resistor, a choke or the second winding of the output choke, to the output or the bank, bridge or
centre-tap, plain or saturating choke.
"""

import numpy as np
import pytest

import weldsim
from tests.network.supplies import BENCHMARK
from tests.network.supplies import BOOST as WINDING
from tests.reference.nodal_twin import Network

STEP, END, SAMPLE = 1e-6, 0.02, 50e-6
CHOKE = {
    "kind": "choke",
    "choke_ratio": 3.0,
    "resistance": 0.1,
    "leakage_inductance": 20e-6,
    "ballast_resistance": 1.0,
    "blocking_diode": True,
}
SATURATING = [
    {"current": 0.0, "inductance": 3e-4},
    {"current": 60.0, "inductance": 3e-4},
    {"current": 70.0, "inductance": 6e-5},
]
CASES = {
    "winding": {"boost": WINDING},
    "winding without diode": {"boost": WINDING | {"blocking_diode": False}},
    "winding, ballast choke": {"boost": WINDING | {"ballast_resistance": 0.0, "ballast_inductance": 5e-3}},
    "winding to the bank": {"boost": WINDING | {"feeds": "bank", "blocking_diode": False}},
    "winding, ballast on a saturating choke": {
        "boost": WINDING | {"ballast_on_choke": True, "choke_ratio": 3.0},
        "choke.inductance_curve": SATURATING,
    },
    "winding, shared leakage, centre-tap": {
        "boost": WINDING | {"shared_leakage_inductance": 5e-6},
        "rectifier.kind": "centre-tap",
    },
    "choke": {"boost": CHOKE},
    "choke without diode, centre-tap": {"boost": CHOKE | {"blocking_diode": False}, "rectifier.kind": "centre-tap"},
    "saturating choke": {"boost": CHOKE, "choke.inductance_curve": SATURATING},
}
# The other cases take as long, and are among the slow tests.
EVERY_TIME = {"winding", "winding, ballast on a saturating choke", "choke without diode, centre-tap"}


def build(boost, *, centre_tap, saturating):
    """The network of the benchmark supply (PEERS's values) with a boost."""
    net, crest = Network(), np.sqrt(2.0) * 230.0
    net.source("0", "line", lambda t: -crest * np.sin(100.0 * np.pi * t), "mains")
    net.resistor("line", "supply", 0.30)
    net.triac("supply", "primary", (1.0, 12e-3, 200e3), 80e-3, 50e-3)
    net.resistor("supply", "snubber", 100.0)
    net.capacitor("snubber", "primary", 100e-9, "snubber")
    net.resistor("primary", "behind", 0.40)
    net.inductors(["mains and leakage"], [("behind", "core")], [[0.40e-3 + 0.5e-3]])
    net.iron("core", "0", [0.0, 1.1, 2.1], [0.0, 1.1 / 4.0, 1.1 / 4.0 + 1.0 / 6e-3], "flux")
    net.resistor("core", "0", 1500.0)
    _secondary(net, boost, centre_tap=centre_tap)
    net.resistor("plus", "can", 6e-3)
    net.capacitor("can", "0", 44e-3, "bank")
    net.resistor("plus", "0", 470.0)
    _direct_side(net, boost, saturating=saturating)
    return net


def _secondary(net, boost, *, centre_tap):
    """Windings, leakage and rectifier; the second half of a centre-tap has its dotted end at the tap."""
    low, turns = ("0" if centre_tap else "low"), 31.0 / 230.0
    windings = [("core", "0", 1.0), ("dot", low, turns)]
    names, ends, own = ["secondary"], [("dot", "coil")], [9e-6]
    if centre_tap:
        windings.append(("0", "inner", turns))
        names.append("half 2")
        ends.append(("outer", "inner"))
        own.append(9e-6)
    if boost["kind"] == "winding":
        windings.append(("boost dot", "boost low", boost["voltage"] / 230.0))
        names.append("boost winding")
        ends.append(("boost dot", "boost coil"))
        own.append(boost["leakage_inductance"])
    matrix = np.diag(own)
    if boost["kind"] == "winding":
        matrix[:-1, -1] = matrix[-1, :-1] = boost.get("shared_leakage_inductance", 0.0)
    net.windings("transformer", windings)
    net.inductors(names, ends, matrix)
    net.resistor("coil", "first", 7e-3)
    if centre_tap:
        net.resistor("outer", "second", 7e-3)
        pairs = [("first", "plus"), ("second", "plus")]
    else:
        pairs = [("first", "plus"), ("low", "plus"), ("0", "first"), ("0", "low")]
    for anode, cathode in pairs:
        net.diode(anode, cathode, 0.75, 1.5e-3, 50e3)


def _direct_side(net, boost, *, saturating):
    """Choke with its second winding, blocking diode, leads, arc, boost bridge and ballast."""
    to_bank, on_choke = boost.get("feeds") == "bank", boost["kind"] == "choke" or boost.get("ballast_on_choke")
    leads = 12e-6
    if saturating:  # flux linkage by the trapezia of the curve: exact for an inductance that is straight in between
        flux = [0.0, 0.018, 0.018 + 1.8e-3, 0.018 + 1.8e-3 + 6e-5 * 70.0]
        net.iron("plus", "choke end", flux, [0.0, 60.0, 70.0, 140.0], "choke flux")
    else:
        net.inductors(["choke"], [("plus", "choke end")], [[0.30e-3 + (leads if to_bank else 0.0)]])
    if on_choke:
        entry = "second in" if boost["kind"] == "choke" else "boost rail"
        net.windings("choke", [("plus", "choke end", 1.0), (entry, "second out", boost["choke_ratio"])])
    net.resistor("choke end", "lead", 5e-3)
    terminal = "terminal" if boost["blocking_diode"] else "lead"
    if boost["blocking_diode"]:
        net.diode("lead", terminal, 0.75, 1.2e-3, 50e3)
    if to_bank:
        net.resistor(terminal, "output", 8e-3)
    else:
        net.inductors(["leads"], [(terminal, "leads")], [[leads]])
        net.resistor("leads", "output", 8e-3)
    net.piecewise("output", "0", [14.0 / (1.0 - 0.05 / 1e3)], [(1e-3, 0.0), (20.0, -280.0)])
    if boost["kind"] == "winding":
        net.resistor("boost coil", "boost first", boost["resistance"])
        first, second = "boost first", "boost low"
    else:
        net.resistor("second in", "boost leak", boost["resistance"])
        net.inductors(["boost leakage"], [("boost leak", "boost first")], [[boost["leakage_inductance"]]])
        first, second = "boost first", "second out"
    for anode, cathode in ((first, "boost rail"), (second, "boost rail"), ("0", first), ("0", second)):
        net.diode(anode, cathode, 0.75, 20e-3, 1e6)
    begin = "second out" if boost.get("ballast_on_choke") else "boost rail"
    target = "plus" if to_bank else terminal
    if boost.get("ballast_inductance"):
        net.inductors(["ballast"], [(begin, target)], [[boost["ballast_inductance"]]])
    else:
        net.resistor(begin, target, boost["ballast_resistance"])


def waves_of(net, boost):
    """The twin's waves by the names of the tool."""
    terminal, to_bank = ("terminal" if boost["blocking_diode"] else "lead"), boost.get("feeds") == "bank"
    begin = "second out" if boost.get("ballast_on_choke") else "boost rail"
    if boost.get("ballast_inductance"):
        ballast = net.state("ballast")
    else:
        ballast = net.voltage(begin, "plus" if to_bank else terminal) / boost["ballast_resistance"]
    return {
        "primary.current": net.unknown("mains"),
        "secondary.current": net.state("secondary"),
        "core.flux_linkage": net.state("flux"),
        "bank.voltage": net.voltage("plus"),
        "output.current": net.state("choke" if to_bank else "leads"),
        "output.voltage": net.voltage("output"),
        "boost.current": ballast,
    }


@pytest.mark.parametrize(
    "name", [name if name in EVERY_TIME else pytest.param(name, marks=pytest.mark.slow) for name in CASES]
)
def test_a_boosted_supply_is_that_of_nodal_equations(name):
    """Waveforms of both ways at every 50 us, of full scale.

    Tolerance: 2e-6, and 1e-4 for the boost's current.  The twin's own error at this step is 3e-8 in smooth stretches;
    where a diode begins to conduct behind a small inductance it is some nanoseconds off, up to 3e-5 of the boost's
    current, and in proportion less at smaller steps.  A leakage wrong by 2.5 % shows as 1e-4, a ratio by 0.1 % as 1e-3.
    """
    changes = CASES[name]
    boost = changes["boost"]
    net = build(boost, centre_tap="rectifier.kind" in changes, saturating="choke.inductance_curve" in changes)
    gates = [(k * 0.01 + 0.005 + shift, on) for k in range(2) for shift, on in ((0.0, True), (1e-3, False))]
    net.run(END, STEP, gates, round(SAMPLE / STEP))

    scenario = weldsim.vary(weldsim.read_text(BENCHMARK), changes)
    run = weldsim.perform(scenario, delay=90.0, duration=END, window=END, sample_interval=SAMPLE)
    for signal, wave in waves_of(net, boost).items():
        ours = run[signal]
        scale = np.abs(ours).max()
        assert scale > 0.1, signal
        tolerance = 1e-4 if signal == "boost.current" else 2e-6
        np.testing.assert_allclose(ours, wave, rtol=0.0, atol=tolerance * scale, err_msg=f"{name}: {signal}")
