"""Harmonic subgroups and distortion of line currents, formed from windows of 200 ms as a meter forms them.

The references are the harmonics of textbook currents that repeat with the mains, so that nothing lies between orders.
"""

import math
import re

import numpy as np

from weldsim.analysis.grouping import harmonic_subgroups, spectral_lines, total_harmonic_current, window_periods
from weldsim.runs.perform import Recording
from weldsim.studies.proofs import controller
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, settled, side_by_side
from weldsim.studies.proofs.magnetics import BRIDGE, LARGE_CHOKE, RESISTOR, SWITCH, supply

SUBSYSTEM = "harmonic subgroups"
SAMPLES = 2**18  # of a window; a jump falls between two of them, which moves its lines by 1/13000 of a period
FOLDED = 5e-4  # of the fundamental: half a sample at each of two jumps, and what folds back
RIPPLED = 1e-3  # a choke of 20 H stands for constant current
LARGEST_ORDER = 25


def _subgroups(recording: Recording, signal: str) -> np.ndarray:
    """Rms of the subgroups of a settled current, order 1 first."""
    periods = window_periods(recording.supply.scenario.mains.frequency)
    spacing = periods * recording.supply.period / SAMPLES
    samples = recording.trace.sample([signal], recording.window[0], spacing=spacing, count=SAMPLES)[0]
    return harmonic_subgroups(spectral_lines(samples), periods=periods)


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
        rms = _subgroups(recording, "primary.current")
        unit = controller.crest() / math.sqrt(2.0)
        return {
            f"harmonic {order} amplitude/Vm": Reading(float(rms[order - 1]) / unit, FOLDED, float(rms[0]) / unit)
            for order in range(3, LARGEST_ORDER + 1, 2)
        } | {"THD_F (orders to 40)": Reading(total_harmonic_current(rms) / float(rms[0]), FOLDED, 1.0)}

    return side_by_side(SUBSYSTEM, rows, measure)


def square_current() -> list[Row]:
    """Line current of a bridge with a large choke: a square wave."""
    rows = [row for row in references("rectifiers", "standard_figures") if re.fullmatch(r"I\d+/I1", row.quantity)]
    return side_by_side(SUBSYSTEM, rows, lambda _: _measure_square())


def _measure_square() -> dict[str, Reading]:
    text = supply(SWITCH, BRIDGE, LARGE_CHOKE, RESISTOR, resistance=0.1)
    rms = _subgroups(settled(text, delay=0.0, periods=10), "primary.current")
    return {
        f"I{order}/I1": Reading(float(rms[order - 1] / rms[0]), RIPPLED, 1.0)
        for order in range(3, LARGEST_ORDER + 1, 2)
    }
