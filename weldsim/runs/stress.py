"""Rates of change that a switch must bear: off-state voltage at any time, and right after its conduction."""

from dataclasses import dataclass

import numpy as np

from weldsim.runs.perform import Recording


@dataclass(frozen=True)
class VoltageRates:
    """Largest rates of the voltage across the blocked device [V/s] in a window."""

    largest: float
    after_conduction: float


def voltage_rates(recording: Recording) -> VoltageRates | None:
    """Rates at the beginning of the pieces in which the device blocks; None without phase control.

    A piece begins at every switching of any part, and there the voltage across the device is steepest: a snubber's
    ringing
    only dies down within a piece.
    """
    if recording.supply.scenario.phase_control is None:
        return None
    trace = recording.trace
    rates, instants = trace.rates("phase_control.voltage", *recording.window)
    starts, segments = trace.segments("phase_control")
    ends = np.append(starts[1:], trace.end * trace.quantum)
    lasting = ends > starts
    blocked = np.array([segment.startswith(("off", "ready")) for segment in segments])
    conducted = np.array([segment.startswith(("plus", "minus", "gated_")) for segment in segments])
    first = max(0, int(np.searchsorted(starts, instants[0], side="right")) - 1)
    here = slice(first, first + len(rates))
    sizes = np.where(blocked[here] & lasting[here], np.abs(rates), 0.0)
    just_stopped = np.concatenate(([False], conducted[:-1]))[here]
    return VoltageRates(float(sizes.max(initial=0.0)), float(np.where(just_stopped, sizes, 0.0).max(initial=0.0)))
