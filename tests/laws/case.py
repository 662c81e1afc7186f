"""One drawn supply with its run, and the branches of its drawing as rows over the state of each mode."""

import itertools
from dataclasses import replace
from functools import cached_property

import numpy as np

from tests.laws.supplies_at_random import Drawn
from weldsim.engine.trace import Trace
from weldsim.network.followers import find_followers
from weldsim.network.layout import Layout
from weldsim.network.modes import Modes
from weldsim.network.wiring import draw
from weldsim.runs.perform import Recording, record
from weldsim.runs.steady import full_scale
from weldsim.runs.under_way import UnderWay, begin_run

LOOKS = 97  # at the states of a run; no multiple of a half cycle, at whose ends a current may be nothing
LATER = 17  # rung of 0.8 us at 50 Hz: a sixtieth of the time between two samples
BLINK = 64  # quanta within which changes of mode are one to the eye
HAIR = 1e-13  # of the mains' voltage: what a supply makes of that it may make of rounding
ROUNDED = 1e-14  # of the sum of a value's terms, which are rounded in every product that leads to them


class Case:
    """A drawn supply, run once from its own start over a few periods; the whole run is its window."""

    def __init__(self, drawn: Drawn) -> None:
        self.drawn = drawn
        self.scenario = drawn.scenario()
        self.period = 1.0 / self.scenario.mains.frequency
        self.length = drawn.periods * self.period
        self.delay = drawn.delay if self._takes_delay() else None

    def _takes_delay(self) -> bool:
        control = self.scenario.phase_control
        return control is not None and control.dial_kind != "rc-diac"

    @cached_property
    def recording(self) -> Recording:
        """The run, with its exact pieces."""
        return self.record()

    def record(self, sample_interval: float | None = None) -> Recording:
        """A run of its own."""
        return record(
            self.scenario,
            delay=self.delay,
            duration=self.length,
            window=self.length,
            sample_interval=sample_interval,
        )

    @property
    def trace(self) -> Trace:
        """The exact pieces of the run."""
        return self.recording.trace

    def under_way(self) -> UnderWay:
        """The same run, not moved yet."""
        return begin_run(
            self.recording.supply,
            delay=self.delay,
            settled=None,
            duration=self.length,
            window=self.length,
        )

    @cached_property
    def scale(self) -> np.ndarray:
        """Full scale of every circuit state."""
        return full_scale(self.trace, self.trace.system.states, looks=LOOKS)

    def rounding(self, name: str) -> float:
        """How far a value of a signal may be off: the rounding of its terms, in the worst mode.

        Behind blocked diodes a voltage is a difference of two currents, times the leakage resistance; and where what it
        is made of follows such a difference, so is its row for the value some quanta ahead.
        """
        trace, n, top = self.trace, self.trace.system.size, int(self.trace.tables.phase[3])
        worst = 0.0
        for mode, kin in {(int(mode), int(kin)) for mode, kin in zip(trace.mode, trace.kin, strict=True)}:
            row = trace.equations[mode].outputs[trace.index(name)]
            with np.errstate(over="ignore", invalid="ignore"):  # a mode that grows
                ahead = np.abs(row @ trace.tables.rungs[kin, : top + 1, :n, :n]) @ self.largest
            worst = max(
                worst, float(np.abs(row) @ self.largest), float(np.max(ahead, where=np.isfinite(ahead), initial=0.0))
            )
        return worst * ROUNDED

    @cached_property
    def largest(self) -> np.ndarray:
        """Largest size of every state, sources too."""
        largest = np.abs(self.trace.state[:, : self.trace.system.size]).max(axis=0)
        largest[: len(self.scale)] = np.maximum(largest[: len(self.scale)], self.scale)
        return largest

    @cached_property
    def drift(self) -> float:
        """Share by which what is slow may be off in the end: in every mode its fastest rate, rounded, for as long.

        Rates of 1e15 per second (megohms before nanohenries) leave 1e-5 over 0.1 s even in the widest floats.
        """
        trace, count = self.trace, len(self.trace.system.states)
        spans = np.diff(np.append(trace.time, trace.end)) * trace.quantum
        turned = 0.0
        for mode in np.unique(trace.kin):
            matrix = trace.equations[int(mode)].matrix[:count, :count]
            turned += float(np.abs(np.linalg.eigvals(matrix)).max(initial=0.0) * spans[trace.kin == mode].sum())
        return turned * float(np.finfo(np.longdouble).eps)

    @property
    def longest_piece(self) -> float:
        """How long the parts stay as they are, at most [s]."""
        return float(np.diff(np.append(self.trace.time, self.trace.end)).max() * self.trace.quantum)

    def unresolved(self, name: str) -> float:
        """What a signal may be off by, seen some time later, because a switching is found up to a quantum late.

        A quantum in the mode before instead of the one behind it leaves a difference, which the latter carries on.
        Where a core leaves its knee the current moves at another rate at once; ampere-turns make 34 times as much of
        it, and a resonance behind it more.
        """
        trace = self.trace
        spans = np.diff(np.append(trace.time, trace.end))
        total = 0.0
        for before, piece in itertools.pairwise(np.flatnonzero(spans > BLINK)):
            row = trace.equations[int(trace.mode[piece])].outputs[trace.index(name)]
            seen = left_by_a_quantum(trace, before, piece) @ row
            total += float(np.abs(seen).max(initial=0.0))
        return total

    def most_held(self) -> float:
        """Most energy that coils and capacitors held together at a change of mode or at the end [J]."""
        count = len(self.trace.system.states)
        moments = [*self.trace.state[:, :count], self.trace.end_state[:count]]
        return max(sum(map(abs, self.trace.system.stored_energy(x).values())) for x in moments)

    @cached_property
    def beside(self) -> tuple["Case", ...]:
        """The same supply on mains that are a hair lower and higher: no run of it is told more closely than these lie.

        A diac that charges behind henries and fires a little later each time makes 1e-8 of 1e-14.
        """
        mains = self.drawn.tables["mains"] | {"voltage": self.scenario.mains.voltage}
        return tuple(
            Case(replace(self.drawn, tables=self.drawn.tables | {"mains": mains | {"voltage": mains["voltage"] * by}}))
            for by in (1.0 - HAIR, 1.0 + HAIR)
        )

    def circuit_parts(self) -> set[str]:
        """Names of what the ledger counts: resistances and devices."""
        return {signal.name.rpartition(".")[0] for signal in self.trace.system.signals}

    def volts(self) -> float:
        """Largest voltage that the sources or what is charged may make anywhere on the primary side [V]."""
        return 1.5 * max(self.scenario.mains.voltage, 1.0)


def left_by_a_quantum(trace: Trace, before: int, piece: int) -> np.ndarray:
    """What is left in the state when a piece begins a quantum late, in the mode of the one before; one row for every
    power of two of quanta later, from 2^``LATER`` on, for as long as it lasts.
    """
    n, until = trace.system.size, trace.time[piece + 1] if piece + 1 < len(trace.time) else trace.end
    there, here = (trace.tables.rungs[int(trace.kin[k]), :, :n, :n] for k in (before, piece))
    late = (here[0] - there[0]) @ trace.state[piece, :n]
    return here[LATER : int(until - trace.time[piece]).bit_length()] @ late


class Branches:
    """Voltage and current of every branch of a drawing, mode by mode."""

    def __init__(self, case: Case) -> None:
        self.case, self.circuit = case, draw(case.scenario)
        followers = find_followers(self.circuit)
        self.layout = Layout(self.circuit, tuple(follower.name for follower in followers))
        self.modes = Modes(self.layout, followers, list(self.circuit.readings.values()))
        self.trace = case.trace
        self.rows = {
            int(m): self.modes.everything(self.trace.signatures[m]) for m in np.union1d(self.trace.mode, self.trace.kin)
        }
        used = self.trace.pieces().used
        self.moments = dict(zip(used.tolist(), self.trace.integrals().moments, strict=True))

    def voltage(self, name: str, mode: int) -> np.ndarray:
        """Row of the voltage of a branch."""
        rows, layout = self.rows[mode], self.layout
        result = np.zeros(rows.shape[1])
        for node, sign in zip(layout.terminals[name], (1.0, -1.0), strict=True):
            if node in layout.nodes:
                result += sign * rows[layout.nodes[node]]
        return result

    def current(self, name: str, mode: int) -> np.ndarray:
        """Row of the current of a branch."""
        return self.rows[mode][self.layout.columns[name]]

    def integral(self, quantity: str, name: str) -> tuple[float, float]:
        """Integral over the run of the "voltage" or "current" of a branch, and the size of what was added up."""
        total, size = 0.0, 0.0
        for mode, moment in self.moments.items():
            row = getattr(self, quantity)(name, mode)
            terms = row * moment[: len(row), len(row) - 1]
            total += float(terms.sum())
            size += float(np.abs(terms).sum())
        return total, size

    def rounding(self, quantity: str, name: str) -> float:
        """How far an integral may be off: its terms are rounded all the time, though over whole periods they cancel."""
        rows = (np.abs(getattr(self, quantity)(name, mode)) for mode in self.moments)
        return max(float(row @ self.case.largest[: len(row)]) for row in rows) * ROUNDED * self.case.length

    def values(self, quantity: str, name: str) -> np.ndarray:
        """Values of a branch at the beginnings of all pieces."""
        trace = self.trace
        return np.array(
            [
                getattr(self, quantity)(name, int(mode)) @ state[: trace.system.size]
                for mode, state in zip(trace.mode, trace.state, strict=True)
            ]
        )
