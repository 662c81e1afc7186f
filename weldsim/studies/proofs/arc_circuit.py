"""Arcs with a memory in a circuit: a direct source, a resistor and a choke burn an arc that a welding wire has struck.

The wire stands on the work until its spot has burnt through, by when the current is that of the short circuit.  From
there on, conductance and current follow each other.  The wire itself hardly moves, and its stub is as short and thick
as one may be written, so that the circuit is the one of the source.
"""

from functools import cache

import numpy as np

from weldsim.runs.weld_runs import Weld
from weldsim.runs.wire_runs import CONDITIONS, WireSupply
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

NEAR = 2e-4
SECONDS = 0.2  # [s] of which the touch takes less than a half
GAP = 0.05  # [mm] that the burnt spot leaves
GRADIENT = 0.1  # [V/mm]

TOUCHES_ONCE = """first_gap_low = "0 mm"
first_gap_high = "0 mm"
resistivity_cold = "0.05 uohm.m"
resistivity_hot = "0.05 uohm.m"
contact_tube = "0 ohm"
cold_contact_low = "0 ohm"
cold_contact_high = "0 ohm"
spot_low = "20 %"
spot_high = "20 %"
action = "100 A2.s/mm4"
reach_base = "0 mm"
reach_growth = "0 %"
arc_resistance = "0 ohm"
"""  # keys of a wire whose resistances, spot and drops leave the circuit that of the source

CIRCUIT = (
    """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "{U} V"
resistance = "{R} ohm"
[choke]
inductance = "{L} uH"
[wire]
diameter = "3 mm"
extension = "3 mm"
feed = "0 m/min"
run_in_feed = "0 m/min"
spot_time_constant = "1 s"
gap_spot_low = "{gap} mm"
gap_spot_high = "{gap} mm"
melting_alpha = "0.01 mm/(A.s)"
melting_beta = "0 um/(mm.A2.s)"
arc_memory = "{kind}"
arc_voltage = "{volts} V"
arc_gradient = "{gradient} V/mm"
arc_time_constant = "{tau} us"
arc_power = "{P0} W"
"""
    + TOUCHES_ONCE
)


def in_a_circuit() -> list[Row]:
    """Current and voltage of Cassie and Mayr arcs, and of both in series, from the moment at which they are struck."""
    return side_by_side("dynamic arc in a circuit", references("arc", "arc_in_circuit"), _measure)


@cache
def _burnt(circuit: str) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Times since the arc was struck [s], and the samples of a wire's circuit from there on."""
    said = {"Uc": 20.0, "P0": 600.0} | numbers_in(circuit)
    text = CIRCUIT.format(
        kind=circuit.split(",")[0], volts=said["Uc"] - GRADIENT * GAP, gap=GAP, gradient=GRADIENT, **said
    )
    weld = Weld(WireSupply(read_text(text, source="proof")), delay=None, feed=0.0)
    part = next(iter(weld.parts(SECONDS)))
    struck = int(np.argmax(part.condition == CONDITIONS.index("burning")))
    return part.time[struck:] - part.time[struck], {name: values[struck:] for name, values in part.signals.items()}


def _measure(condition: str) -> dict[str, Reading]:
    circuit, _, moment = condition.rpartition(", t=")
    time, samples = _burnt(circuit)
    place = int(np.argmin(np.abs(time - 1e-3 * float(moment.split()[0]))))
    current, voltage = (float(samples[f"output.{name}"][place]) for name in ("current", "voltage"))
    return {"i": Reading(current, NEAR), "u": Reading(voltage, NEAR)}
