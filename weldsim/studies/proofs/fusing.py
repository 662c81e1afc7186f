"""A wire that stands on the work until a current has melted it, or the spot on which it stands: how long it takes.

A direct source sends the current; nothing else moves.  Copper is a wire with the action integral that follows from its
heat capacity and resistivity at 25 degC, as handbooks have them.
"""

import math

import numpy as np

from weldsim.parts.fusing import linear_action
from weldsim.runs.weld_runs import Weld
from weldsim.runs.wire_runs import CONDITIONS, TICK_BITS, WireSupply
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.arc_circuit import TOUCHES_ONCE
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

HANDBOOKS = 0.01  # Onderdonk's 33 and 234 against today's resistivity of copper
TICKS = 4000  # at least, in the time to a rupture
NEAR = 5e-4  # two of them
VOLTS, OHMS = 45.0, 0.1
LEAST_RESISTIVITY, LENGTH = 0.05e-6, 3e-3  # [ohm m], [m] as in the text
# [J/(m3 K)], [ohm m] at 25 degC, per kelvin from there, up to where it melts
COPPER = linear_action(3.45e6, 1.757e-8, coefficient=1.0 / 259.5, begin=25.0, end=1083.0)

CIRCUIT = (
    """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "45 V"
resistance = "{ohms!r} ohm"
[choke]
inductance = "{henries!r} H"
[wire]
diameter = "{diameter!r} mm"
extension = "3 mm"
feed = "0 m/min"
run_in_feed = "0 m/min"
spot_time_constant = "{tau!r} s"
"""
    + TOUCHES_ONCE
)


def fusing() -> list[Row]:
    """Copper by the trade's rule, steel behind a choke, and spots that cool."""
    return side_by_side("fusing of a wire", references("fusing", "fusing"), _measure)


def _measure(condition: str) -> dict[str, Reading]:
    said = {"a": 1e-12 * COPPER, "L": 2e-3, "spot": 100.0, "tau": 1000.0} | numbers_in(condition)
    copper = condition.startswith("copper")
    wire = LEAST_RESISTIVITY * LENGTH / (0.25 * math.pi * (1e-3 * said["d"]) ** 2)
    ohms = VOLTS / said["I"] - wire if "I" in said else OHMS
    text = CIRCUIT.format(ohms=ohms, henries=1e-3 * said["L"], diameter=said["d"], tau=1e-3 * said["tau"])
    text = text.replace('"20 %"', f'"{said["spot"]} %"').replace('"100 A2.s/mm4"', f'"{said["a"]} A2.s/mm4"')
    return {"time to the rupture": Reading(_ruptures(text), HANDBOOKS if copper else NEAR)}


def _ruptures(text: str) -> float:
    """Time from the touch to the first arc [s]: looked for in usual ticks, then in ticks that are a few thousandths."""
    scenario, bits, time = read_text(text, source="proof"), 0, math.inf
    while True:
        weld = Weld(WireSupply(scenario, tick_bits=TICK_BITS - bits), delay=None, signals=())
        begun = math.nan
        for part in weld.parts(min(10.0, 1.5 * time + 1e-3)):
            touches, burns = (
                np.flatnonzero(part.condition == CONDITIONS.index(one)) for one in ("touching", "burning")
            )
            if math.isnan(begun):
                begun = float(part.time[touches[0]])
            if len(burns):
                time = float(part.time[burns[0]]) - begun
                break
        if time > TICKS * weld.supply.tick:
            return time
        bits += math.ceil(math.log2(1.2 * TICKS * weld.supply.tick / time))
