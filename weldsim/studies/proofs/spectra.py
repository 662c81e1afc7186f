"""Harmonic subgroups and distortion of line currents, formed from the lines of windows of 200 ms as for ``mains``.

The references are the harmonics of textbook currents that repeat with the mains, so that nothing lies between orders.
"""

import math
import re

import numpy as np

from weldsim.analysis.grouping import harmonic_subgroups, total_harmonic_current
from weldsim.runs.mains_looks import lines_of, periods_of_window
from weldsim.runs.perform import Recording
from weldsim.studies.proofs import controller
from weldsim.studies.proofs.bench import HARMONIC, Reading, Row, numbers_in, references, settled, side_by_side
from weldsim.studies.proofs.magnetics import BRIDGE, LARGE_CHOKE, RESISTOR, SWITCH, supply

SUBSYSTEM = "harmonic subgroups"
LARGEST_ORDER, ORDERS = 25, 40


def _subgroups(recording: Recording) -> np.ndarray:
    """Rms of the subgroups of a settled primary current, order 1 first."""
    periods = periods_of_window(recording.supply.scenario.mains.frequency)
    lines = lines_of(recording.trace, periods, span=recording.window, orders=ORDERS)
    return harmonic_subgroups(lines[0], periods=periods)


def controlled_current() -> list[Row]:
    """Current of a phase-controlled resistor: orders 3 to 25 and the distortion of orders 2 to 40."""
    wanted = [f"harmonic {order} amplitude/Vm" for order in range(3, LARGEST_ORDER + 1, 2)]
    rows = [
        row
        for row in references(controller.TABLE, "controller_r")
        if row.condition.startswith("alpha") and row.quantity in (*wanted, "THD_F (orders to 40)")
    ]

    def measure(condition: str) -> dict[str, Reading]:
        delay = numbers_in(condition)["alpha"]
        text = controller.circuit(resistance=1.0, device=controller.device_for(delay))
        recording = settled(text, delay=delay, periods=10)
        rms = _subgroups(recording)
        unit = controller.crest() / math.sqrt(2.0)
        return {
            f"harmonic {order} amplitude/Vm": Reading(float(rms[order - 1]) / unit, HARMONIC, float(rms[0]) / unit)
            for order in range(3, LARGEST_ORDER + 1, 2)
        } | {"THD_F (orders to 40)": Reading(total_harmonic_current(rms) / float(rms[0]), HARMONIC, 1.0)}

    return side_by_side(SUBSYSTEM, rows, measure)


def square_current() -> list[Row]:
    """Line current of a bridge with a large choke: a square wave."""
    rows = [row for row in references("rectifiers", "standard_figures") if re.fullmatch(r"I\d+/I1", row.quantity)]
    return side_by_side(SUBSYSTEM, rows, lambda _: _measure_square())


def _measure_square() -> dict[str, Reading]:
    text = supply(SWITCH, BRIDGE, LARGE_CHOKE, RESISTOR, resistance=0.1)
    rms = _subgroups(settled(text, delay=0.0, periods=10))
    return {
        f"I{order}/I1": Reading(float(rms[order - 1] / rms[0]), HARMONIC, 1.0)
        for order in range(3, LARGEST_ORDER + 1, 2)
    }
