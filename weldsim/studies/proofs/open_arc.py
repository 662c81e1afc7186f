"""An arc that burns all the time: which current and length a feed leaves it, and how it gets there.

A direct source with 0.1 ohm burns a wire that its first touch has left 3 mm short; its drops are small and reach
nowhere, so that it never touches again.
"""

import re
from functools import cache

import numpy as np

from weldsim.runs.weld_runs import Weld
from weldsim.runs.wire_runs import WireSupply
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.arc_circuit import TOUCHES_ONCE
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

SETTLED = 4.0  # [s] twelve time constants and more
STEADY = 1e-4  # twelve time constants leave 6e-6
TIME = 2e-3  # choke and heated wire lag by 0.1 ms each, which the closed form leaves out

CIRCUIT = (
    """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "45 V"
resistance = "0.1 ohm"
[choke]
inductance = "10 uH"
[wire]
diameter = "1.2 mm"
extension = "25 mm"
feed = "{feed!r} m/min"
run_in_feed = "{feed!r} m/min"
motor_time_constant = "1 ms"
gap_spot_low = "3 mm"
gap_spot_high = "3 mm"
melting_alpha = "0.3 mm/(A.s)"
melting_beta = "{beta!r} um/(mm.A2.s)"
heating_time_constant = "0.1 ms"
drop_limit = "0.3 mm"
arc_voltage = "20 V"
arc_gradient = "1 V/mm"
"""
    + TOUCHES_ONCE
)


def open_arc() -> list[Row]:
    """Current, length, and the time from one length to another, at five feeds and melting rates."""
    return side_by_side("open arc", references("open_arc", "open_arc"), _measure)


@cache
def _burnt(condition: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [s], gaps [mm] and currents [A]."""
    said = numbers_in(condition)
    text = CIRCUIT.format(feed=said["feed"], beta=1e3 * said["beta"])
    parts = list(Weld(WireSupply(read_text(text, source="proof")), delay=None).parts(SETTLED))
    time, gap = (np.concatenate([getattr(part, name) for part in parts]) for name in ("time", "gap"))
    return time, 1e3 * gap, np.concatenate([part.signals["output.current"] for part in parts])


def _measure(condition: str) -> dict[str, Reading]:
    time, gap, current = _burnt(condition)
    found = {
        row.quantity: Reading(_between(time, gap, row.quantity), TIME)
        for row in references("open_arc", "open_arc")
        if row.condition == condition and row.quantity.startswith("time")
    }
    late = time > SETTLED - 0.2
    return found | {
        "current": Reading(float(current[late].mean()), STEADY),
        "arc length": Reading(float(gap[late].mean()), STEADY),
    }


def _between(time: np.ndarray, gap: np.ndarray, quantity: str) -> float:
    """Time from one gap to a longer one; both are passed once [s]."""
    first, last = (float(value) for value in re.findall(r"[\d.]+", quantity))
    grows = slice(int(np.argmax(gap >= 3.0)), None)
    begin, end = np.interp([first, last], np.maximum.accumulate(gap[grows]), time[grows])
    return float(end - begin)
