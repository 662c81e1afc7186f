"""Trace: the exact pieces of a run, and what can be read out of them.

A piece is (start, mode, state); inside it the state is exp(M t) times the state at its start.  So samples are exact
at any instant, integrals and Fourier sums are closed sums over the rungs of the ladder, and extremes are found at
piece ends and where the slope of the signal changes sign.

Second moments (derived here).  With T_k(A) the integral of E(t) A E(t)' over 2^k quanta, T_(k+1)(A) = T_k(A + E_k A
E_k'). Summing x x' at the start of every rung used gives A_k, and B_k = A_k + B_(k+1) + E_k B_(k+1) E_k' from the top
down leaves one integral over a single quantum, of which a fast mode takes halves in the same way before the series
begins.  Means, rms, powers and charges of every signal then follow from one matrix a mode.
"""

from collections.abc import Sequence
from functools import partial

import numpy as np

from weldsim.engine import layout
from weldsim.engine.doors import door
from weldsim.engine.fourier import fourier_integrals
from weldsim.engine.integrals import Integrals
from weldsim.engine.ladder import halves
from weldsim.engine.pieces import PieceLog, Pieces, lasting, once
from weldsim.engine.probe import Probe, RowOf
from weldsim.engine.sample_room import room_to_sample
from weldsim.errors import SimulationError

_sample = door("sample_kernel", "sample")
_moments, _second_moments = door("readout_kernel", "moments"), door("readout_kernel", "second_moments")
_derive = door("readout_kernel", "derive")
_groups, _extremes, _cells = (door("extremes_kernel", name) for name in ("groups", "extremes", "cells"))

COARSE = 2  # rungs below a step: a search for extremes
SHORT = 8  # rungs below those of a search for extremes: over how long a rise is looked at (0.4 us at 50 Hz)
FINER = 6  # rungs below a step: how closely a rate is looked at (6 us at 50 Hz), where a mode does not ring faster
NEARLY_ZERO = 1e-6  # order taken for the mean, where the systems of equations would be singular
BELOW = 8  # rungs below a step at which the means of a square stop cutting spans (1.2 us at 50 Hz)


class Trace(PieceLog):
    """The exact pieces of one run (or of a part of it); times in seconds on the mains clock."""

    def sample(self, names: Sequence[str], first: float, *, spacing: float, count: int) -> np.ndarray:
        """Exact values at first + i spacing [s], shape (signals, count); NaN where nothing is recorded."""
        begin, apart = round(first / self.quantum), spacing / self.quantum
        if begin > self.end:
            raise SimulationError("lies outside the recorded part", place=f"samples from {first} s on")
        values = np.empty((len(names), count))
        if not values.size:
            return values
        start = max(0, int(self.time.searchsorted(begin, side="right")) - 1)
        stop = int(self.time.searchsorted(begin + round((count - 1) * apart), side="right"))
        time, state = self.time[start:stop], self.state[start:stop]
        end = self.end if stop == len(self.time) else int(self.time[stop]) - 1
        mode = self.tables.about[self.mode[start:stop], layout.KIN]
        place = np.full(len(self.equations), -1, dtype=np.int64)
        place[mode[np.append(time[1:], end + 1) > time]] = 0
        used = np.flatnonzero(place == 0)
        place[used] = np.arange(len(used))
        rows = self.rows([*names, *([names[-1]] * (4 - len(names)))], used)
        room = room_to_sample(rows, apart, pieces=len(time), deep=self.system.size, signals=len(names), count=count)
        _sample(self.tables.rungs, rows, place, time, mode, state, end, begin, apart, values, room)
        values[:, : room[0][0]] = values[:, room[0][-1] :] = np.nan
        return values

    def integrals(self, begin: float | None = None, end: float | None = None) -> Integrals:
        """Exact integrals over a span, for means, rms, powers and charges."""
        pieces = self.pieces(begin, end)
        place = pieces.place(len(self.equations))
        n, w = self.system.size, self.state.shape[1]
        sums = np.zeros((len(pieces.used), self.tables.rungs.shape[1], w, w))
        room = np.zeros((2, w))
        _moments(self.tables.rungs, place, pieces.time, pieces.mode, pieces.state, pieces.end, *room, sums)
        steps, offsets, parts = self._quantum_parts(pieces.used)
        totals, room = np.zeros((len(pieces.used), w, w)), np.zeros((2, w, w))
        _second_moments(self.tables.rungs, pieces.used, sums, steps, offsets, parts, self.quantum, room, totals)
        return Integrals(self, pieces, totals[:, :n, :n])

    def _quantum_parts(self, used: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """What a fast mode's quantum falls into: M over the last part, where each mode's halves begin, and these."""
        n, w = self.system.size, self.state.shape[1]
        steps, found = np.zeros((len(used), w, w)), []
        for p, mode in enumerate(used.tolist()):
            step = self.equations[mode].matrix * self.quantum
            found.append(once(self.made, ("parts of a quantum", mode), partial(halves, step)))
            steps[p, :n, :n] = step * 0.5 ** len(found[-1])
        offsets = np.concatenate(([0], np.cumsum([len(own) for own in found])))
        parts = np.zeros((int(offsets[-1]), w, w))
        parts[:, :n, :n] = np.concatenate(found)
        return steps, offsets, parts

    def fourier(self, names: Sequence[str], orders: Sequence[float], *, begin: float, end: float) -> np.ndarray:
        """Fourier coefficients 2/T * integral y exp(-j n w t) dt: complex peak values, shape (signals, orders).

        ``t`` counts on the mains clock, so a sine of order n in phase with the mains has the coefficient -1j.  Order 0
        gives twice the mean, to 1e-8.
        """
        pieces, n = self.pieces(begin, end), self.system.size
        asked = np.asarray(orders, dtype=float)
        turns = 2.0 * np.pi * np.where(asked == 0.0, NEARLY_ZERO, asked) / self.period
        length = float(pieces.end - int(pieces.time[0]))
        total = np.zeros((len(names), len(asked)), dtype=complex)
        rows = self.rows(names, pieces.used)[:, :, :n]
        for row, moment in zip(rows, fourier_integrals(self, pieces, turns), strict=True):
            total += row @ moment.T
        total[:, asked == 0.0] = total[:, asked == 0.0].real
        return total * (2.0 / length)

    def extremes(
        self, names: Sequence[str], begin: float | None = None, end: float | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Exact minima and maxima, and their instants [s]; both of shape (signals, 2)."""
        pieces = self.pieces(begin, end)
        used, place = pieces.used, pieces.place(len(self.equations))
        rows = self.rows(names, used)
        wanted, n = np.array([self.index(name) for name in names], dtype=np.int64), self.system.size
        slopes, rises = np.zeros_like(rows), np.zeros_like(rows)
        for p, mode in enumerate(used.tolist()):
            slopes[p, :, :n] = once(self.made, ("slopes", mode), partial(_slopes, self, mode)).take(wanted, axis=0)
            rises[p, :, :n] = once(self.made, ("rises", mode), partial(_rises, self, mode)).take(wanted, axis=0)
        values, times = self._extremes_of(pieces, rows, slopes, rises, place=place, fine=self.tables.about)
        return values, times * self.quantum

    def _extremes_of(
        self,
        pieces: Pieces,
        rows: np.ndarray,
        slopes: np.ndarray,
        rises: np.ndarray,
        *,
        place: np.ndarray,
        fine: np.ndarray,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Minima and maxima of rows of the state over pieces, and their instants in quanta."""
        count = rows.shape[1]
        values = np.column_stack((np.full(count, np.inf), np.full(count, -np.inf)))
        times = np.zeros((count, 2), dtype=np.int64)
        coarse = int(self.tables.phase[3]) - COARSE
        _extremes(
            self.tables.rungs,
            rows,
            slopes,
            rises,
            coarse - SHORT,
            place,
            pieces.time,
            pieces.mode,
            pieces.state,
            pieces.end,
            coarse,
            fine,
            self.tables.smooth,
            np.zeros((4, self.state.shape[1])),
            np.empty((3, count)),
            values,
            times,
        )
        return values, times

    def steepest(
        self, name: str, begin: float | None = None, end: float | None = None, *, within: np.ndarray | None = None
    ) -> tuple[float, float]:
        """Rate of change [unit/s] of a signal where it is largest in magnitude, with its sign, and that instant [s].

        Exact: looked for at both ends of every piece and where the rate is stationary in between, so that a ring that
        steepens after its piece has begun is met.  ``within`` says for every mode of the library whether it counts;
        without one that does the rate is zero.  A jump of the signal from piece to piece is no rate.
        """
        pieces = self.pieces(begin, end)
        used, place = pieces.used, pieces.place(len(self.equations))
        rates, bends = self.rows([name], used, order=1), self.rows([name], used, order=2)
        step, fine = int(self.tables.phase[3]), self.tables.about.copy()
        fine[used, 0] = np.minimum(fine[used, 0], step - FINER)
        fine[used, 1] = np.maximum(fine[used, 1], 1 << (step - 1))
        if within is not None:
            left_out = ~within[used]
            rates[left_out], bends[left_out] = 0.0, 0.0
            fine[used[left_out], :2] = step, 0
        rises = np.zeros_like(rates)
        for p, mode in enumerate(used.tolist()):
            rises[p, :, : self.system.size] = _risen(self, mode, rates[p, :, : self.system.size])
        values, times = self._extremes_of(pieces, rates, bends, rises, place=place, fine=fine)
        values[~np.isfinite(values)] = 0.0  # an empty span
        which = int(np.argmax(np.abs(values[0])))
        return float(values[0, which]), float(times[0, which] * self.quantum)

    def groups(self, name: str, member: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Largest magnitude and integral of the square of a signal over groups of pieces.

        ``member`` gives the group of each piece of the whole trace, -1 for none.  Both exact, of shape (groups,).
        """
        count = int(member.max(initial=-1)) + 1
        peaks, squares = np.zeros(count), np.zeros(count)
        begins = self.begins.copy()
        begins[1:] |= member[1:] != member[:-1]
        probe = self._probe(name)
        probe.prepare(self.kin[lasting(self)], self.equations, self.parts, tables=self.tables, quantum=self.quantum)
        _groups(
            self.tables.rungs,
            self.tables.axes,
            probe.grams,
            probe.rows,
            probe.slopes,
            self.time[begins],
            self.kin[begins],
            self.state[begins],
            self.end,
            member[begins],
            int(self.tables.phase[3]) - 2,
            self.tables.about,
            self.tables.smooth,
            self.quantum,
            np.empty((5, self.state.shape[1])),
            peaks,
            squares,
        )
        return peaks, squares

    def mean_squares(
        self, signals: Sequence[str | tuple[str, RowOf]], first: float, *, width: float, count: int
    ) -> np.ndarray:
        """Means of the square of signals over even cells of ``width`` [s] from ``first`` on, shape (signals, cells).

        A signal is a name, or a name of one's own with its row.  Exact but for spans below 25 ns in which nothing turns
        by much, which count as straight lines; cells that the trace does not reach are zero.
        """
        probes = [self._probe(one) if isinstance(one, str) else self._probe(*one) for one in signals]
        for probe in probes:
            probe.prepare(self.kin[lasting(self)], self.equations, self.parts, tables=self.tables, quantum=self.quantum)
        squares = np.zeros((len(probes), count))
        _cells(
            self.tables.rungs,
            self.tables.axes,
            tuple(probe.grams for probe in probes),
            tuple(probe.rows for probe in probes),
            tuple(probe.slopes for probe in probes),
            self.time[self.begins],
            self.kin[self.begins],
            self.state[self.begins],
            self.end,
            round(first / self.quantum),
            width / self.quantum,
            int(self.tables.phase[3]) - BELOW,
            self.tables.about,
            self.tables.smooth,
            self.quantum,
            np.empty((4, self.state.shape[1])),
            squares,
        )
        return squares / width

    def derivative(self) -> np.ndarray:
        """Derivative of the state at the end by that at the start, shape (states, states): column k is that by state k.

        The derivation stands in runs/steady.py.
        """
        count, n, w = len(self.system.states), self.system.size, self.state.shape[1]
        used = list(dict.fromkeys(self.kin.tolist()))
        place = np.full(len(self.equations), -1, dtype=np.int64)
        place[used] = np.arange(len(used))
        matrices = np.zeros((len(used), w, w))
        matrices[:, :n, :n] = [self.equations[mode].matrix for mode in used]
        tables, found = self.tables, np.eye(count, w)
        shared = tables.rungs, tables.watch, tables.moves, tables.jumps, tables.about
        logged = self.time, self.mode, self.cause, self.state, self.end
        _derive(*shared, matrices, place, *logged, np.zeros((5, w)), found)
        return found[:, :count].T

    def _probe(self, name: str, row: RowOf | None = None) -> Probe:
        """The probe of a signal, shared by all runs of the supply."""
        if name not in self.probes:
            index = self.index(name) if row is None else -1
            self.probes[name] = Probe(
                row or (lambda mode: mode.outputs[index]),
                self.system.size,
                self.state.shape[1],
                int(self.tables.phase[3]) + 1,
            )
        return self.probes[name]


def _slopes(trace: Trace, mode: int) -> np.ndarray:
    """Rows of the rates of all signals in a mode, by its pace: in a stiff one their signs must not be chance."""
    slopes: np.ndarray = trace.equations[mode].outputs @ trace.parts[mode][1]
    return slopes


def _rises(trace: Trace, mode: int) -> np.ndarray:
    """Rows of how far all signals rise over a short span."""
    return _risen(trace, mode, trace.equations[mode].outputs)


def _risen(trace: Trace, mode: int, rows: np.ndarray) -> np.ndarray:
    """Rows of how far rows of the state rise within ``SHORT`` rungs below those of a search for extremes."""
    n, rung = trace.system.size, int(trace.tables.phase[3]) - COARSE - SHORT
    risen: np.ndarray = rows @ (trace.tables.rungs[mode, rung, :n, :n] - np.eye(n))
    return risen
