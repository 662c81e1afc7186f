"""What parts of the primary must bear: rates of voltage across the switch and its own firings; heat in a varistor."""

import numpy as np

from weldsim.engine.pieces import lasting, of_modes
from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass
from weldsim.runs.perform import Recording

DEVICE, VARISTOR = "phase_control", "varistor"
GLANCE = 0.01  # of a half cycle: clampings closer to each other begin one half cycle of heat
BLOCKED = ("off", "ready")  # how the names of its segments begin while it blocks
BY_ITSELF = "_by_itself"  # how those end in which it has fired without its gate
RECOVERY = 100e-6  # [s] after its current has ended (common practice, no published source: tens of microseconds)


@dataclass(frozen=True)
class VoltageRates:
    """Largest rates of the voltage across the blocked device [V/s] in a window, as magnitudes."""

    largest: float
    commutating: float  # within ``RECOVERY`` of the end of its current


def voltage_rates(recording: Recording) -> VoltageRates | None:
    """Largest rate while the device blocks, and while it recovers from conduction; None without phase control.

    Exact, from the pieces.  The jump by which the voltage leaves the device's own drop is no rate and does not count.
    """
    if recording.supply.scenario.phase_control is None:
        return None
    trace, (begin, end) = recording.trace, recording.window
    blocked = _blocked(trace)
    largest, _ = trace.steepest(f"{DEVICE}.voltage", begin, end, within=blocked)
    after = 0.0
    for off in _turn_offs(trace, blocked):
        first, last = max(off, begin), min(off + RECOVERY, end)
        if first < last:
            after = max(after, abs(trace.steepest(f"{DEVICE}.voltage", first, last, within=blocked)[0]))
    return VoltageRates(abs(largest), after)


def false_firings(recording: Recording) -> int:
    """How often the device has fired by itself in the window."""
    begin, end = recording.window
    starts, segments = recording.trace.segments(DEVICE)
    return sum(
        1
        for at, left, entered in zip(starts[1:], segments[:-1], segments[1:], strict=True)
        if entered.endswith(BY_ITSELF) and left.startswith(BLOCKED) and begin <= at < end
    )


@dataclass(frozen=True)
class VaristorStress:
    """What a varistor met in a window: peaks of either sign [V, A], most heat of a half cycle [J], mean heat [W]."""

    voltage: float
    current: float
    energy: float
    power: float


def varistor_stress(recording: Recording) -> VaristorStress | None:
    """Peaks and heat of the varistor, exact; None without one.

    The half cycle with the most heat begins where the varistor begins to clamp, wherever that is in the mains' own; one
    that the window cuts off counts with what lies within.  Where it never clamps, the first one of its leakage counts.
    """
    if recording.supply.scenario.varistor is None:
        return None
    trace, (begin, end) = recording.trace, recording.window
    half = 0.5 * recording.supply.period
    (voltage, current), _ = trace.extremes([f"{VARISTOR}.voltage", f"{VARISTOR}.current"], begin, end)
    starts, segments = trace.segments(VARISTOR)
    entered = zip(starts[1:], segments[:-1], segments[1:], strict=True)
    clamping = [float(at) for at, before, now in entered if now != before and now != "blocked" and begin < at < end]
    energy, counted = 0.0, begin - half
    for at in (begin, *clamping):
        if at - counted > GLANCE * half:  # what chatters is one clamping
            energy, counted = max(energy, _heat(trace, at, min(at + half, end))), at
    power = _heat(trace, begin, end) / (end - begin)
    return VaristorStress(max(map(abs, voltage)), max(map(abs, current)), energy, power)


def _heat(trace: Trace, begin: float, end: float) -> float:
    """Energy that the varistor has taken [J]."""
    return trace.integrals(begin, end).product(f"{VARISTOR}.voltage", f"{VARISTOR}.current")


def _blocked(trace: Trace) -> np.ndarray:
    """For every mode, whether the device blocks in it."""
    number = [element.name for element in trace.system.elements].index(DEVICE)
    blocks = [name.startswith(BLOCKED) for name in trace.system.elements[number].segments]
    return of_modes(trace, "the device blocks", lambda signature: blocks[signature[number]]) != 0


def _turn_offs(trace: Trace, blocked: np.ndarray) -> np.ndarray:
    """Instants [s] at which the device blocks after it has conducted for more than no time at all."""
    kept = lasting(trace)
    here, starts = blocked[trace.mode[kept]], trace.time[kept]
    return starts[1:][here[1:] & ~here[:-1]] * trace.quantum
