"""Integrals over a span of a trace: sums over the modes of c S c' with S the integral of x x'.

Where a signal is a small difference of large terms (the voltage behind blocked diodes, from two currents that differ
by their leakage; the current through a microohm, from two voltages), c S c' loses the digits twice over.  How many is
known from the size of the terms.  There the square or product itself is integrated over the pieces, by nine points
between neighbouring powers of two of a quantum, which follow whatever dies away after a switching.
"""

from collections.abc import Sequence
from functools import cached_property, partial
from typing import Any

import numpy as np

from weldsim.engine.doors import door
from weldsim.engine.pieces import Pieces, once

ROUNDING = 4e-16  # of the terms: what a sum of them may be off by
DOUBTFUL = 1e-8  # of an integral: beyond this it is taken over the pieces
WORST = 0.01  # share of an integral's doubt that makes a mode one of the worst
BEYOND_USE = 1e100  # a growing mode's propagator over more than it ever lives; squares of it overflow
PANEL = 5  # rungs below a step: 12.5 us at 50 Hz

_quadrature = door("readout_kernel", "quadrature")


class Integrals:
    """Integrals of signals, of their squares and of products over a span."""

    def __init__(self, trace: Any, pieces: Pieces, moments: np.ndarray) -> None:
        self.trace, self.pieces, self.moments = trace, pieces, moments
        self.length = (pieces.end - int(pieces.time[0])) * trace.quantum
        self._outputs = np.stack([trace.equations[mode].outputs for mode in pieces.used.tolist()])
        self._squares: dict[int, float] = {}  # those found so far, by the signal's number

    @cached_property
    def _terms(self) -> np.ndarray:
        """Size of the terms behind every moment; what enslaves a fast state is large in it for a while."""
        made, sizes = self.trace.made, np.abs(self.moments)
        used = self.pieces.used.tolist()
        largest = np.stack(
            [once(made, ("largest propagator", mode), partial(_largest, self.trace, mode)) for mode in used]
        )
        terms: np.ndarray = sizes + largest @ sizes @ largest.swapaxes(1, 2)
        return terms

    @cached_property
    def _integrals(self) -> np.ndarray:
        """Integral of every signal."""
        integrals: np.ndarray = (self._outputs @ self.moments[:, :, -1:])[:, :, 0].sum(axis=0)
        return integrals

    def _products(self, first: np.ndarray, second: np.ndarray) -> np.ndarray:
        """Integrals of products of signals, given by their numbers."""
        a, b = self._outputs[:, first], self._outputs[:, second]
        values = np.einsum("kij,kij->ki", a @ self.moments, b)
        doubts = ROUNDING * np.einsum("kij,kij->ki", np.abs(a) @ self._terms, np.abs(b))
        done = np.zeros(len(values), dtype=bool)
        while True:
            sizes = doubts.sum(axis=0)
            pairs = np.flatnonzero(sizes > DOUBTFUL * np.abs(values.sum(axis=0)))
            modes = ~done & np.any(doubts[:, pairs] > WORST * sizes[pairs], axis=1)
            if not modes.any():
                return values.sum(axis=0)
            found, room = self._over_pieces(first[pairs], second[pairs], modes)
            better = modes[:, None] & (room < doubts[:, pairs])
            values[:, pairs] = np.where(better, found, values[:, pairs])
            doubts[:, pairs] = np.where(better, room, doubts[:, pairs])
            done |= modes

    def _over_pieces(self, first: np.ndarray, second: np.ndarray, modes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Products integrated over the pieces of some modes, and how far off that may be, of shape (modes, pairs)."""
        trace, pieces = self.trace, self.pieces
        names = list(trace.names)
        padded = [np.pad(numbers, (0, -len(numbers) % 4), mode="edge") for numbers in (first, second)]
        rows = trace.rows([names[i] for i in np.concatenate(padded)], pieces.used)
        place = pieces.place(len(trace.equations))
        place[pieces.used[~modes]] = -1
        shape = (len(pieces.used), len(first))
        totals, doubts = np.zeros(shape), np.zeros(shape)
        _quadrature(
            trace.tables.rungs,
            rows,
            place,
            pieces.time,
            pieces.mode,
            pieces.state,
            pieces.end,
            int(trace.tables.phase[3]) - PANEL,
            trace.tables.smooth,
            trace.tables.about,
            np.empty((3, max(pieces.state.shape[1], rows.shape[1]))),
            np.empty((9, len(first))),
            totals,
            doubts,
        )
        return totals * trace.quantum, doubts * trace.quantum

    def integral(self, name: str) -> float:
        """Integral of a signal over the span [unit x s]."""
        return float(self._integrals[self.trace.index(name)])

    def square(self, name: str) -> float:
        """Integral of the square of a signal over the span."""
        self.prepare_squares([name])
        return self._squares[self.trace.index(name)]

    def prepare_squares(self, names: Sequence[str]) -> None:
        """Find the integrals of the squares of signals together, which is quicker than one by one."""
        wanted = np.array([i for i in map(self.trace.index, names) if i not in self._squares], dtype=np.int64)
        if len(wanted):
            self._squares.update(zip(wanted.tolist(), self._products(wanted, wanted).tolist(), strict=True))

    def product(self, first: str, second: str) -> float:
        """Integral of the product of two signals over the span."""
        a, b = self.trace.index(first), self.trace.index(second)
        return float(self._products(np.array([a]), np.array([b]))[0])

    def mean(self, name: str) -> float:
        """Mean of a signal."""
        return self.integral(name) / self.length

    def rms(self, name: str) -> float:
        """Root mean square of a signal."""
        return float(np.sqrt(max(self.square(name), 0.0) / self.length))

    def energies(self) -> dict[str, dict[str, float]]:
        """Energy of each ledger line over the span [J], by role and part, from its own voltage and current."""
        entries = self.trace.system.ledger
        voltages, currents = [entry.voltage for entry in entries], [entry.current for entry in entries]
        total = self._products(np.array(voltages, dtype=np.int64), np.array(currents, dtype=np.int64))
        result: dict[str, dict[str, float]] = {"source": {}, "loss": {}, "load": {}}
        for entry, energy in zip(entries, total, strict=True):
            parts = result[entry.role]
            parts[entry.part] = parts.get(entry.part, 0.0) + float(energy)
        return result


def _largest(trace: Any, mode: int) -> np.ndarray:
    """Largest size of each entry of a mode's propagators up to the step; nothing for those that grow beyond use."""
    n = trace.system.size
    sizes = np.abs(trace.tables.rungs[mode, : int(trace.tables.phase[3]) + 1, :n, :n]).max(axis=0)
    return np.where(sizes < BEYOND_USE, sizes, 0.0)  # NaN is not below it
