"""What the phase control did in a recorded window: half cycles conducted and missed, and why it missed."""

import math

import numpy as np

from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass
from weldsim.parts.phase_control import PhaseControl
from weldsim.runs.commands import event_numbers
from weldsim.runs.perform import Recording
from weldsim.runs.stress import BY_ITSELF

DISCHARGED = 20.0  # time constants after which a snubber has nothing left to give
DUE, TOUCH = 1.0, 1e-9  # [deg] before the gate is due, and [s]: where it is looked whether the device conducts already
CONDUCTING = ("plus", "minus", "gated_plus", "gated_minus")  # a pair adds a suffix where the other gate is driven too

_GATED = {1: ("gated_plus",), -1: ("gated_minus",)}


@dataclass(frozen=True)
class Miss:
    """The first half cycle that failed to latch: current when the gate ended, and the pulse that would have done."""

    polarity: int
    current_at_end: float  # [A] in the direction of that half cycle; negative: the other one's still flows
    pulse_needed: float | None  # [s]; None: not reached before the half cycle ended


@dataclass(frozen=True)
class Firing:
    """Counts over the whole mains periods that end the window; over one half cycle where there are no more."""

    half_cycles: int
    missed_positive: int
    missed_negative: int
    conduction_angle: float  # [deg] mean of the half cycles that were not missed; 0 where all were
    asked_angle: float | None  # [deg] 180 minus the delay
    miss: Miss | None
    early: int = 0  # half cycles in which the device conducted before its gate was due, not by itself
    overrun: int = 0  # half cycles at whose gate the other one's current still flowed

    @property
    def missed(self) -> int:
        """Half cycles of either polarity in which the device did not latch."""
        return self.missed_positive + self.missed_negative

    @property
    def misfired(self) -> int:
        """Half cycles that the gate does not govern: missed, or begun before it was due."""
        return min(self.missed + self.early, self.half_cycles)


@dataclass(frozen=True)
class _Pieces:
    """Spans of time in their order [s], and the device's segment in each."""

    starts: np.ndarray
    stops: np.ndarray
    segments: list[str]

    def touching(self, span: tuple[float, float]) -> range:
        """Those that lie within a span, or partly."""
        first, stop = np.searchsorted(self.stops, span[0], side="right"), np.searchsorted(self.starts, span[1])
        return range(int(first), int(stop))

    def within(self, segments: tuple[str, ...], span: tuple[float, float]) -> float:
        """How long the device was in segments that begin so within a span [s]."""
        part = self.touching(span)
        own = slice(part.start, part.stop)
        counts = [segment.startswith(segments) for segment in self.segments[own]]
        return float((np.minimum(self.stops[own], span[1]) - np.maximum(self.starts[own], span[0])) @ counts)


def firing_of(recording: Recording, *, reasons: bool = True) -> Firing | None:
    """Look at the device's pieces in the window, and for the reason of the first miss; None without phase control."""
    control = recording.supply.scenario.phase_control
    if control is None:
        return None
    begin, end = recording.window
    starts, segments = recording.trace.segments("phase_control")
    pieces = _Pieces(starts, np.append(starts[1:], recording.trace.end * recording.trace.quantum), segments)
    half = 0.5 * recording.supply.period
    first, last = math.ceil(begin / half - 1e-9), math.floor(end / half + 1e-9)
    if last - first > 1:
        first += (last - first) % 2  # as many of either polarity
    cycles = range(first, last)
    due = math.inf if recording.delay is None else (recording.delay + min(control.asymmetry, 0.0)) / 180.0 * half
    missed = {1: 0, -1: 0}
    first_miss = None
    lost = 0.0  # [s] conduction in missed half cycles: that of their pulses
    for k in cycles:
        sign = 1 if k % 2 == 0 else -1
        span, own = (k * half, min((k + 1.7) * half, end)), (k + 1) * half + due - TOUCH
        if not _conducted(recording.trace, pieces, span, own=own, sign=sign, control=control):
            missed[sign] += 1
            lost += pieces.within(_GATED[sign], span)
            first_miss = (k, sign) if first_miss is None else first_miss
    took = len(cycles) - sum(missed.values())
    on = pieces.within(CONDUCTING, (first * half, last * half)) - lost
    angle = 180.0 * on / (half * took) if took else 0.0 if len(cycles) else float("nan")
    asked = None if recording.delay is None else 180.0 - recording.delay
    miss = _why(recording, *first_miss) if first_miss is not None and reasons else None
    early, overrun = (
        _before_gate(pieces, cycles, half, control=control, delay=recording.delay, own=own) for own in (True, False)
    )
    return Firing(len(cycles), missed[1], missed[-1], angle, asked, miss, early, overrun)


def _before_gate(
    pieces: _Pieces, cycles: range, half: float, *, control: PhaseControl, delay: float | None, own: bool
) -> int:
    """Half cycles in which the device conducts right before the gate is due, in its own polarity or in the other."""
    if delay is None:
        return 0
    due = (delay + min(control.asymmetry, 0.0) - (DUE if own else 0.0)) / 180.0
    count = 0
    for k in cycles:
        latched = "plus" if (k % 2 == 0) == own else "minus"
        for piece in pieces.touching(((k + due) * half - TOUCH, (k + due) * half)):
            segment = pieces.segments[piece]
            if segment.startswith((latched, f"gated_{latched}")) and not segment.endswith(BY_ITSELF):
                count += 1
                break
    return count


def _conducted(
    trace: Trace, pieces: _Pieces, span: tuple[float, float], *, own: float, sign: int, control: PhaseControl
) -> bool:
    """Whether the device took over with this polarity within a span, by a gate that begins before ``own`` [s].

    It did where it was latched without gate, where its current ended while the gate was still on, or where the end of
    the gate put it out only after its current had passed latching; it did not where the gate ended before that.  What
    the snubber discharges through the device at firing does not count, nor a device that goes out again with it.
    """
    snubber = DISCHARGED * (control.snubber_resistance or 0.0) * (control.snubber_capacitance or 0.0)
    latched = "plus" if sign > 0 else "minus"
    gated, touching = f"gated_{latched}", pieces.touching(span)
    for k in touching:
        if pieces.segments[k].startswith(latched) and not pieces.segments[k].endswith(BY_ITSELF):
            by_gate = k > 0 and pieces.segments[k - 1].startswith(gated)
            if pieces.stops[k] > pieces.starts[k - 1 if by_gate else k] + snubber:
                return True
    for k in touching:
        begin, end, segment = pieces.starts[k], pieces.stops[k], pieces.segments[k]
        after = pieces.segments[min(k + 1, len(pieces.segments) - 1)]
        if segment.startswith(gated) and end > begin + snubber and begin < own:
            if after.startswith(("gated", "ready")) and not after.startswith(gated):
                return True
            values, _ = trace.extremes(["phase_control.current"], begin + snubber, end)
            if max(sign * values[0]) > control.latching_current:
                return True
    return False


def _why(recording: Recording, half_cycle: int, sign: int) -> Miss | None:
    """Current at the end of the gate, and the pulse needed, by running the half cycle again with the gate held on."""
    supply, trace = recording.supply, recording.trace
    numbers = event_numbers(supply.system)
    if recording.delay is None:
        return None
    gate = "gate" if "gate on" in numbers else ("gate plus" if sign > 0 else "gate minus")
    control = supply.scenario.phase_control
    assert control is not None
    half = 0.5 * supply.period
    fire = half_cycle * half + (recording.delay + (control.asymmetry if sign < 0 else 0.0)) / 180.0 * half
    if fire < trace.span[0] or fire >= (half_cycle + 1) * half:
        return None
    state = trace.states_at([fire])[0, : len(supply.system.states) + 2 * len(supply.system.inputs)]
    piece = int(np.searchsorted(trace.time, round(fire / trace.quantum), side="left")) - 1
    signature = trace.signatures[trace.mode[max(piece, 0)]]
    end = (half_cycle + 1) * half
    stepper = supply.stepper(state, signature, (fire, end), delay=None, extra=[(fire, numbers[f"{gate} on"])])
    stepper.run_to(end)
    held = stepper.trace()
    spacing = min(2e-6, (end - fire) / 100)
    values = sign * held.sample(["phase_control.current"], fire, spacing=spacing, count=int((end - fire) / spacing))[0]
    over = min(fire + control.pulse_width, end)
    if control.pulse_kind == "held":
        over = max(fire, min((half_cycle + control.train_end / 180.0) * half, end))
    at_end = sign * float(held.sample(["phase_control.current"], over, spacing=1e-9, count=1)[0, 0])
    latched = values >= control.latching_current
    discharged = int(np.argmin(latched))  # the snubber's discharge may pass latching at first, but dies away
    reached = np.nonzero(latched[discharged:])[0]
    return Miss(sign, at_end, float((discharged + reached[0]) * spacing) if len(reached) else None)
