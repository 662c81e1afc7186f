"""The pieces of a run: start, mode and state at each change of mode, and what they tell without a read-out."""

import difflib
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from weldsim.engine import layout
from weldsim.engine.doors import door
from weldsim.errors import SimulationError
from weldsim.frozen import dataclass
from weldsim.network.system import Signature

_leap = door("kernel", "leap")

ALL = -1  # in place of a mode: what is kept of all of them


@dataclass(frozen=True)
class Pieces:
    """Pieces clipped to a span, in quanta."""

    time: np.ndarray
    mode: np.ndarray
    state: np.ndarray
    end: int

    @cached_property
    def used(self) -> np.ndarray:
        """Numbers of the modes that occur, in the order in which they do: sums over them then depend on nothing else.

        How a mode is numbered depends on which runs came before.
        """
        first = np.full(int(self.mode.max(initial=-1)) + 1, -1)
        first[self.mode[::-1]] = np.arange(len(self.mode) - 1, -1, -1)  # the last to be written is a mode's first
        modes = np.flatnonzero(first >= 0)
        return modes[np.argsort(first[modes])]

    def place(self, modes: int) -> np.ndarray:
        """Place of each mode among those used."""
        place = np.full(modes, -1, dtype=np.int64)
        place[self.used] = np.arange(len(self.used))
        return place


def once(made: dict[tuple[str, int], np.ndarray], key: tuple[str, int], make: Callable[[], np.ndarray]) -> np.ndarray:
    """A table of one mode that every run of the supply shares, made when it is first asked for."""
    if key not in made:
        made[key] = make()
    return made[key]


class PieceLog:
    """The exact pieces of one run (or of a part of it); times in seconds on the mains clock."""

    def __init__(  # noqa: PLR0913, PLR0917 (built in one place, by the stepper)
        self,
        library: Any,
        time: np.ndarray,
        mode: np.ndarray,
        cause: np.ndarray,
        state: np.ndarray,
        end: int,
        end_state: np.ndarray,
        end_mode: int,
        jump_energy: float,
    ) -> None:
        self.system, self.quantum, self.period = library.system, library.quantum, library.period
        self.tables, self.equations, self.signatures = library.tables, library.equations, library.signatures
        self.probes, self.made, self.parts = library.probes, library.made, library.parts
        self.time, self.mode, self.cause, self.state = time, mode, cause, state
        self.end, self.end_state, self.end_mode, self.jump_energy = end, end_state, end_mode, jump_energy
        self.names = self.system.signal_numbers

    @property
    def span(self) -> tuple[float, float]:
        """First and last instant [s]."""
        return float(self.time[0] * self.quantum), float(self.end * self.quantum)

    def pieces(self, begin: float | None = None, end: float | None = None) -> Pieces:
        """Pieces of a span that last; the first one is advanced to its beginning."""
        first = int(self.time[0]) if begin is None else max(round(begin / self.quantum), int(self.time[0]))
        last = self.end if end is None else min(round(end / self.quantum), self.end)
        if last < first:
            raise SimulationError("lies outside the recorded part", place=f"span {begin} s to {end} s")
        start = max(0, int(np.searchsorted(self.time, first, side="right")) - 1)
        stop = max(start + 1, int(np.searchsorted(self.time, last, side="left")))
        kept = start + np.flatnonzero(self.begins[start:stop])
        if not self.begins[start]:
            kept = np.concatenate(([start], kept))
        time = self.time[kept]
        lasting = np.append(time[1:] > time[:-1], last > time[-1])
        lasting[0] |= not lasting.any()
        kept, time = kept[lasting], time[lasting]
        state = self.state[kept]
        if first > time[0]:
            state[0] = self._advanced(int(self.kin[start]), state[0], first - int(time[0]))
            time[0] = first
        return Pieces(time, self.kin[kept], state, last)

    @cached_property
    def kin(self) -> np.ndarray:
        """For each piece the first mode with the same equations: where only a gate came or went they are the same."""
        return self.tables.about[self.mode, layout.KIN]

    @cached_property
    def begins(self) -> np.ndarray:
        """Whether a piece does not go on with the solution of the one before: other equations, or a jump."""
        cause, before = self.cause[1:], self.mode[:-1]
        plain = (cause < -1) | ((cause >= 0) & (self.tables.moves[before, np.maximum(cause, 0), layout.PLAIN] == 1))
        return np.concatenate(([True], (self.kin[1:] != self.kin[:-1]) | ~plain))

    def _advanced(self, mode: int, x: np.ndarray, span: int) -> np.ndarray:
        y, z = np.zeros_like(x), np.zeros_like(x)
        _leap(self.tables.rungs, mode, np.ascontiguousarray(x), span, y, z)
        return y

    def states_at(self, instants: Sequence[float]) -> np.ndarray:
        """Extended states at some instants [s], one in a row."""
        now = np.rint(np.asarray(instants) / self.quantum).astype(np.int64)
        outside = np.flatnonzero((now < self.time[0]) | (now > self.end))
        if len(outside):
            raise SimulationError("lies outside the recorded part", place=f"instant {instants[outside[0]]} s")
        pieces = np.searchsorted(self.time, now, side="right") - 1
        spans, modes = (now - self.time[pieces]).tolist(), self.kin[pieces].tolist()
        found, room = np.zeros((len(now), self.state.shape[1])), np.zeros(self.state.shape[1])
        for y, piece, mode, span in zip(found, pieces.tolist(), modes, spans, strict=True):
            _leap(self.tables.rungs, mode, self.state[piece], span, y, room)
        return found

    def index(self, name: str) -> int:
        """Number of a signal; an unknown name is refused with the nearest ones."""
        if name not in self.names:
            near = difflib.get_close_matches(name, self.names, 3, 0.4)
            raise SimulationError(
                "this supply has no such signal",
                place=f"signal {name!r}",
                advice=f"nearest: {', '.join(near)}" if near else "look at the list of signals",
            )
        return self.names[name]

    def rows(self, names: Sequence[str], used: np.ndarray, order: int = 0) -> np.ndarray:
        """Output rows of signals in the modes used, padded, shape (modes, signals, width); or of their derivatives."""
        indices = np.array([self.index(name) for name in names], dtype=np.int64)
        result = np.zeros((len(used), len(names), self.state.shape[1]))
        for p, mode in enumerate(used.tolist()):
            equations = self.equations[mode]
            rows = equations.outputs.take(indices, axis=0)
            for _ in range(order):
                rows = rows @ equations.matrix
            result[p, :, : self.system.size] = rows
        return result

    @cached_property
    def _segment_table(self) -> np.ndarray:
        """Segment of each element in each piece, shape (pieces, elements)."""
        return of_modes(self, "segments", lambda signature: signature, width=len(self.system.elements))[self.mode]

    def changes(self, origin: float = 0.0) -> list[tuple[float, str, str, str]]:
        """Switch log: (instant after ``origin`` [s], element, segment left, segment entered)."""
        table, elements = self._segment_table, self.system.elements
        pieces, numbers = np.nonzero(table[1:] != table[:-1])
        columns = (
            self.time[pieces + 1] * self.quantum - origin,
            numbers,
            table[pieces, numbers],
            table[pieces + 1, numbers],
        )
        return [
            (instant, elements[e].name, elements[e].segments[left], elements[e].segments[entered])
            for instant, e, left, entered in zip(*(column.tolist() for column in columns), strict=True)
        ]

    def segments(self, element: str) -> tuple[np.ndarray, list[str]]:
        """Start instants [s] of the pieces and the segment an element has in each."""
        number = [e.name for e in self.system.elements].index(element)
        names = self.system.elements[number].segments
        return self.time * self.quantum, [names[segment] for segment in self._segment_table[:, number]]


def lasting(log: PieceLog) -> np.ndarray:
    """Pieces that last longer than no time at all: only then is their mode sure to be complete."""
    return np.flatnonzero(np.append(log.time[1:], log.end) > log.time)


def of_modes(
    log: PieceLog, what: str, value: Callable[[Signature], int | Signature], *, width: int | None = None
) -> np.ndarray:
    """A value of each mode of the library that its signature decides, or ``width`` of them, kept with the modes."""
    shape = () if width is None else (width,)
    known = log.made.get((what, ALL), np.zeros((0, *shape), dtype=np.int64))
    missing = log.signatures[len(known) :]
    if missing:
        new = np.array([value(signature) for signature in missing], dtype=np.int64).reshape(len(missing), *shape)
        known = log.made[what, ALL] = np.concatenate((known, new))
    return known
