"""simulate(library, plan) -> Trace: the one door of the engine."""

import itertools
from collections.abc import Callable, Sequence

import numpy as np

from weldsim.engine import layout
from weldsim.engine.doors import door
from weldsim.engine.library import ModeLibrary
from weldsim.engine.outcome import SENTENCES
from weldsim.engine.plan import RunPlan
from weldsim.engine.trace import Trace
from weldsim.errors import SimulationError, WiringError

LOG_ROOM = 16384  # pieces logged before Python is asked; a part of a wire run must fit
CHANGES_PER_SECOND = 200_000
WIDE = 2  # rungs beyond a step, in a pause
GUARD, INCOMPLETE = 1, 4  # kinds of what is pending: a change asked for by a guard, a mode that lasts
ROUNDING = 1e-15
RECENT = 60  # logged changes that a search for a consistent mode looks back
MOST_COMBINATIONS = 4096

_advance, _coast = door("kernel", "advance"), door("kernel", "coast")


class Stepper:
    """A run under way: clock, state and mode, continued by each call of ``run_to``."""

    def __init__(self, library: ModeLibrary, plan: RunPlan) -> None:
        self.library = library
        self.begin = round(plan.begin / library.quantum)
        n, w = library.system.size, library.width
        self.x = np.zeros(w)
        self.x[: len(plan.state)] = plan.state
        self.x[n - 1] = 1.0
        self.control = np.zeros(24, dtype=np.int64)
        self.control[0] = self.begin
        self.schedule_time, self.schedule_event = np.zeros(0, np.int64), np.zeros(0, np.int64)
        self.schedule(plan.commands)
        self.later = np.zeros((16, 2), dtype=np.int64)
        self.account = np.array([0.0, plan.source_scale])
        self.control[13] = plan.most_changes or most_changes(plan.end - plan.begin)
        self.room = np.zeros((0, 0)), np.zeros(0, np.int64)
        self.kept = np.zeros((3, w)), np.zeros_like(self.control)
        self._new_log(LOG_ROOM)
        _set_clock(self, plan.source_scale)
        self._enter(plan.signature)

    def _enter(self, signature: tuple[int, ...]) -> None:
        self.control[1] = self.library.mode(signature)
        self.control[2] = 1
        self.control[9] = self.control[0]
        _log_piece(self)

    def _new_log(self, room: int) -> None:
        times, modes, causes = (np.empty(room, np.int64) for _ in range(3))
        states = np.empty((room + layout.SCRATCH, self.library.width))  # zeros would all be written
        states[room:] = 0.0
        self.log = layout.Log(times, modes, causes, states)
        self.control[4] = 0

    def schedule(self, commands: Sequence[tuple[float, int]] | np.ndarray) -> None:
        """Take further timed commands (time [s], event); those before now, and those that have passed, are dropped."""
        table = np.asarray(commands, dtype=float).reshape(-1, 2)
        coming = np.rint(table[:, 0] / self.library.quantum).astype(np.int64)
        times = np.concatenate((self.schedule_time[self.control[3] :], coming))
        events = np.concatenate((self.schedule_event[self.control[3] :], table[:, 1].astype(np.int64)))
        if (times[1:] < times[:-1]).any():
            order = np.argsort(times, kind="stable")
            times, events = times[order], events[order]
        first = int(np.searchsorted(times, self.control[0]))
        self.schedule_time, self.schedule_event = times[first:], events[first:]
        self.control[3] = 0

    @property
    def now(self) -> float:
        """The mains clock [s]."""
        return float(self.control[0] * self.library.quantum)

    def run_to(self, end: float, flush: Callable[["Stepper"], None] | None = None, *, quick: bool = False) -> None:
        """Advance to ``end`` [s on the mains clock]; ``flush`` is called when the log is full (else the log grows).

        ``quick`` goes in leaps of whole mains periods where nothing changes its mode (see coast in kernel.py).
        """
        target = round(end / self.library.quantum)
        self.control[18:] = 0, 0, 1, 1, 0, WIDE if quick else 0
        while True:
            go = _coast if quick else _advance
            code = go(
                self.library.tables,
                self.log,
                self.control,
                self.x,
                self.schedule_time,
                self.schedule_event,
                self.later,
                self.account,
                target,
                self.library.quantum,
                *scratch(self),
                *self.kept[: 2 if quick else 0],
            )
            if code == layout.DONE:
                return
            if self.control[12] > self.control[13]:
                raise self.failure(layout.TOO_MANY)
            if code == layout.NEED_MODE:
                self.resolve_pending()
            elif code == layout.LOG_FULL:
                self._make_room(flush)
            elif code == layout.UNSETTLED and not self.search():
                raise self.failure(code)
            elif code == layout.UNSETTLED:
                continue
            else:
                raise self.failure(code)

    def resolve_pending(self) -> None:
        """Assemble the mode that the kernel waits for, or complete it."""
        kind, index, branch = (int(v) for v in self.control[5:8])
        if kind == INCOMPLETE:
            self.library.complete(int(self.control[1]))
            return
        try:
            self.library.resolve(int(self.control[1]), kind, index=index, branch=branch, via=int(self.control[14]))
        except WiringError:  # ideal parts that conduct together: another combination may do
            if kind != GUARD or not self.search():
                raise

    def _make_room(self, flush: Callable[["Stepper"], None] | None) -> None:
        if flush is not None:
            flush(self)
            self.forget()
            return
        old, count = self.log, int(self.control[4])
        self._new_log(2 * len(old.time))
        for new, before in zip(self.log, old, strict=True):
            new[:count] = before[:count]
        self.control[4] = count

    def forget(self) -> None:
        """Empty the log, once its pieces have been read out, and drop modes when they take too much memory."""
        self.control[1] = self.library.make_room(int(self.control[1]))
        self._new_log(LOG_ROOM)
        _log_piece(self)

    def search(self) -> bool:
        """Try combinations of the elements that took part, where changing them one by one has led nowhere."""
        for signature in itertools.islice(itertools.product(*_choices(self)), MOST_COMBINATIONS):
            try:
                number = self.library.mode(signature)
            except WiringError:
                continue
            rows = self.library.scaled_guards(self.library.equations[number])
            x = self.x[: rows.shape[1]]
            room = 1e-9 + ROUNDING * (np.abs(rows) @ np.abs(x))  # what a sum of such terms may be off by
            if (rows @ x >= -room).all():
                self.library.complete(number)
                self.control[1] = number
                self.control[2] = self.control[8] = self.control[16] = 0
                self.control[9] = self.control[0]
                self.control[12] += 1
                _log_piece(self)
                return True
        return False

    def failure(self, code: int) -> SimulationError:
        """The error for a code, naming time and parts; what was logged stays in the stepper."""
        fact, advice = SENTENCES[code]
        count = int(self.control[4])
        modes = [self.library.signatures[int(m)] for m in self.log.mode[max(0, count - 20) : count]]
        elements = self.library.system.elements
        moving = [element.name for e, element in enumerate(elements) if len({m[e] for m in modes}) > 1]
        parts = ", ".join(moving) or "the supply"
        return SimulationError(fact, place=f"t = {self.now:.6f} s, {parts}", advice=advice)

    def trace(self) -> Trace:
        """What was logged since the last flush, as a Trace up to now."""
        count = int(self.control[4])
        return Trace(
            self.library,
            self.log.time[:count].copy(),
            self.log.mode[:count].copy(),
            self.log.cause[:count].copy(),
            self.log.state[:count].copy(),
            int(self.control[0]),
            self.x.copy(),
            int(self.control[1]),
            float(self.account[0]),
        )


def simulate(library: ModeLibrary, plan: RunPlan) -> Trace:
    """Run a plan from beginning to end and return its exact pieces.

    Raises
    ------
    SimulationError : no consistent mode, endless switching, or a solution that grows without limit; names time and
    parts.
    """
    stepper = Stepper(library, plan)
    stepper.run_to(plan.end)
    return stepper.trace()


def most_changes(length: float) -> int:
    """Changes of mode that a span [s] may have before it counts as endless switching."""
    return int(CHANGES_PER_SECOND * (max(length, 0.0) + 0.05))


def scratch(stepper: Stepper) -> tuple[np.ndarray, np.ndarray]:
    """Room in which the kernel calculates for a stepper, as wide as states and guards ask for."""
    guards = stepper.library.tables.watch.shape[1]
    if len(stepper.room[1]) != guards:
        stepper.room = np.zeros((5, max(stepper.library.width, guards))), np.zeros(guards, np.int64)
    return stepper.room


def _choices(stepper: Stepper) -> list[list[int]]:
    """For each element its present segment, then those it had of late and those that its violated guards ask for.

    What an element had before an event changed it does not count: a gate that has come cannot
    be taken back.
    """
    count, mode = int(stepper.control[4]), int(stepper.control[1])
    first = max(0, count - RECENT)
    pieces = [stepper.library.signatures[int(m)] for m in stepper.log.mode[first:count]]
    by_event = stepper.log.cause[first:count] <= -2
    choices = []
    for e, segment in enumerate(stepper.library.signatures[mode]):
        events = [i for i in range(1, len(pieces)) if by_event[i] and pieces[i][e] != pieces[i - 1][e]]
        recent = {piece[e] for piece in pieces[events[-1] if events else 0 :]}
        choices.append([segment, *sorted(recent - {segment})])
    equations = stepper.library.equations[mode]
    violated = equations.guard_rows @ stepper.x[: stepper.library.system.size] < -equations.guard_bands
    for e, target in zip(equations.guard_elements[violated], equations.guard_targets[violated], strict=True):
        if target not in choices[e]:
            choices[e].append(int(target))
    return choices


def _set_clock(stepper: Stepper, scale: float) -> None:
    """Write the sources' sines and cosines, as ``set_clock`` of the kernel does at each step."""
    first, _, period, _ = stepper.library.tables.phase.tolist()
    orders = stepper.library.tables.orders
    angles = orders * (2.0 * np.pi * (stepper.begin % period) / period)
    clock = stepper.x[first : first + 2 * len(orders)].reshape(-1, 2)
    clock[:, 0], clock[:, 1] = scale * np.sin(angles), scale * np.cos(angles)


def _log_piece(stepper: Stepper) -> None:
    """Append the piece that begins now and that no guard or event began, as ``write_log`` of the kernel does."""
    log, control, place = stepper.log, stepper.control, int(stepper.control[4])
    log.time[place], log.mode[place], log.cause[place] = control[0], control[1], -1
    log.state[place] = stepper.x
    control[4] = place + 1
