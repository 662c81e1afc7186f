"""The library of assembled modes of one supply, shared by all its runs.

Dial, timing and initial state are not in it.
"""

import math
from dataclasses import replace

import numpy as np

from weldsim.engine import layout
from weldsim.engine.coordinates import Solved, look_ahead, pace, parts
from weldsim.engine.doors import door
from weldsim.engine.ladder import ExactRows, ladder, stiff
from weldsim.engine.layout import Tables
from weldsim.engine.probe import Probe
from weldsim.engine.untouched import ON_DEMAND, untouched
from weldsim.errors import WiringError
from weldsim.network.system import ModeEquations, Signature, SwitchedSystem

QUANTA_BITS = 26  # quanta in a step: 2^26; 2^24 costs 3e-8 of full scale, 2^16 already 4e-7
RUNGS_ABOVE = 5  # rungs beyond the step, for reading long pieces
MOST_PAIRS = 2  # ringing pairs that a mode's guards are freed of
SOUND = 1e8  # eigenvectors of a worse condition are not used to free guards of ringing
ROOM = 8192 if ON_DEMAND else 2048  # modes before the tables grow and are copied; see untouched.py
LEAST_ROOM = 64  # of them, where memory is short
MOST_BYTES = 400e6  # assembled modes beyond this are dropped and made again when needed

_write_pace = door("mode_kernel", "write_pace")


class ModeLibrary:
    """Assembles, numbers and keeps the modes of a switched system for one step length.

    Parameters
    ----------
    system : the supply
    steps_per_period : whole steps in a mains period, so that a period is a whole number of quanta
    room : modes before the tables grow; fewer where so much memory is not to be had
    """

    def __init__(self, system: SwitchedSystem, steps_per_period: int = 50, *, room: int = ROOM) -> None:
        self.system = system
        self.steps_per_period, self.room = steps_per_period, room
        self.period = steps_per_period << QUANTA_BITS
        self.quantum = 1.0 / (system.frequency * self.period)
        self.width = max(-(-system.size // 4) * 4, 8)  # 8: room for the six weights of an interpolation
        self.rung_count = QUANTA_BITS + 1 + RUNGS_ABOVE
        omega = 2.0 * math.pi * system.frequency
        self.omegas = omega * np.array(system.orders, dtype=float)
        self.exact_rows = ExactRows(len(system.states), len(system.inputs), tuple(self.omegas.tolist()))
        self.actions = _action_table(system, self.quantum)
        self.assembled = self.ways = 0  # modes, and ways from one to another, filled in so far
        self.generation = 0
        self._clear(capacity=room, guards=-(-max(system.most_guards, 1) // 4) * 4)

    def _clear(self, capacity: int, guards: int) -> None:
        self.signatures: list[Signature] = []
        self.equations: list[ModeEquations] = []
        self.numbers: dict[Signature, int] = {}
        self.hopeless: dict[Signature, WiringError] = {}  # pieces without a solution
        self.kin: dict[tuple[bytes, bytes], int] = {}  # the first mode with these equations and outputs
        self.parts: dict[int, Solved] = {}  # of modes that are first of their kin
        self.probes: dict[str, Probe] = {}
        self.made: dict[tuple[str, int], np.ndarray] = {}  # what read-outs want of a mode, made once
        self.tables = _roomy(self, capacity, guards)
        self.completed = 0  # of them, see ``complete``
        self.generation += 1

    def _grow(self, guards: int) -> None:
        """Make room: for more modes, or for modes with more guards."""
        old, used = self.tables, len(self.signatures)
        before = old.moves.shape[1]
        width = max(-(-guards // 4) * 4, before)
        self.tables = _empty(self, self.capacity * (2 if used == self.capacity else 1), width)
        for name, new in self.tables._asdict().items():
            kept = getattr(old, name)
            if name in ("watch", "quiet"):
                new[:used, : 2 * before] = kept[:used]
            elif name == "reach":
                new[:used, :, :before] = kept[:used]
            elif name in ("moves", "jumps", "jump_energy", "ring_sizes", "finders"):
                new[:used, :before] = kept[:used]
            elif name not in ("phase", "orders"):
                new[:used] = kept[:used]

    @property
    def capacity(self) -> int:
        """Modes that fit without growing."""
        return self.tables.about.shape[0]

    @property
    def bytes_used(self) -> int:
        """Memory of the modes that are complete; room that nothing was written to yet takes none."""
        return sum(array.nbytes for array in self.tables) * self.completed // self.capacity

    def mode(self, signature: Signature) -> int:
        """Number of the mode with this signature; assembled if it is new.

        Raises
        ------
        WiringError : these pieces have no solution together; found out once.
        """
        number = self.numbers.get(signature)
        if number is not None:
            return number
        if signature in self.hopeless:
            raise self.hopeless[signature].with_traceback(None)
        try:
            return self._add(signature)
        except WiringError as error:
            self.hopeless[signature] = error
            raise
        except BaseException:  # Ctrl-C in a notebook: what is half written is not found again
            self.numbers.pop(signature, None)
            raise

    def _add(self, signature: Signature) -> int:
        equations = self.system.assemble(signature)
        number = self._number(signature, equations)
        kin = self.kin.setdefault((equations.matrix.tobytes(), equations.outputs.tobytes()), number)
        self.tables.about[number, layout.KIN] = kin
        self.tables.about[number, layout.TWIN] = number
        self.tables.after_event[number] = -1, -1, 0
        self.tables.about[number, layout.STIFF] = stiff(equations.matrix, self.quantum)
        self.tables.about[number, layout.READY] = 0
        _write_limits(self, number, equations)
        _write_actions(self, number, equations)
        _write_conditions(self, number, equations)
        _know_idle(self, number, signature)
        return number

    def complete(self, mode: int) -> None:
        """Write what only a mode that lasts needs: many are passed through in no time, from one to the next."""
        number = int(self.tables.about[mode, layout.TWIN])
        if self.tables.about[number, layout.READY]:
            return
        equations, kin = self.equations[number], int(self.tables.about[number, layout.KIN])
        if kin not in self.parts:
            _write_solution(self, kin, self.equations[kin])
        if kin != number:
            self.tables.rungs[number] = self.tables.rungs[kin]
            self.tables.axes[number] = self.tables.axes[kin]
            self.tables.smooth[number] = self.tables.smooth[kin]
            self.tables.about[number, : layout.PAIRS + 1] = self.tables.about[kin, : layout.PAIRS + 1]
        _write_guards(self, number, equations)
        _write_ringing(self, number, equations)
        self.tables.about[number, layout.READY] = 1
        self.completed += 1

    def _number(self, signature: Signature, equations: ModeEquations) -> int:
        """Take a mode in, at the end of the tables."""
        number, count = len(self.signatures), len(equations.guard_rows)
        if number == self.capacity or count > self.tables.moves.shape[1]:
            self._grow(count)
        self.assembled += 1
        self.signatures.append(signature)
        self.equations.append(equations)
        self.numbers[signature] = number
        return number

    @staticmethod
    def scaled_guards(equations: ModeEquations) -> np.ndarray:
        """Guard rows divided by full scale, with the dead band (1e-11 of full scale) in the constant's column."""
        rows = equations.guard_rows * (layout.DEAD_BAND / equations.guard_bands)[:, None]
        rows[:, -1] += layout.DEAD_BAND
        return rows

    def resolve(self, mode: int, kind: int, *, index: int, branch: int, via: int) -> None:
        """Fill in the next mode after a guard (kind 1), an event (2), or a guard's event (3, from mode ``via``)."""
        if kind == 1:
            equations = self.equations[mode]
            element, segment = int(equations.guard_elements[index]), int(equations.guard_targets[index])
            number = self.mode(self.system.after(self.signatures[mode], element, segment))
            self.tables.moves[mode, index, layout.NEXT] = number
            self.ways += 1
            return
        origin = via if kind == 3 else mode
        event = self.system.events[index]
        segment = self.signatures[origin][event.element]
        choice = event.targets[segment] if branch else event.otherwise[segment]
        number = self.mode(_changed(self.signatures[origin], event.element, choice))
        self.tables.after_event[origin, index, branch] = number
        self.ways += 1

    def make_room(self, keep: int) -> int:
        """Drop all modes when they take too much memory, except one; returns that one's new number."""
        if self.bytes_used < MOST_BYTES:
            return keep
        signature = self.signatures[keep]
        self._clear(capacity=self.room, guards=self.tables.moves.shape[1])
        number = self.mode(signature)
        self.complete(number)
        return number


def _empty(library: ModeLibrary, capacity: int, guards: int) -> Tables:
    w, events = library.width, max(1, len(library.system.events))
    first = len(library.system.states) + 2 * len(library.system.inputs)
    return Tables(
        rungs=untouched(capacity, library.rung_count, w, w),
        watch=untouched(capacity, 2 * guards, w),
        quiet=untouched(capacity, 2 * guards, w),
        finders=untouched(capacity, guards, QUANTA_BITS + 1, w),
        axes=untouched(capacity, w, w),
        reach=untouched(capacity, 2, guards, w),
        rings=untouched(capacity, 2 * MOST_PAIRS, w),
        ring_sizes=untouched(capacity, guards, MOST_PAIRS),
        about=untouched(capacity, 8, dtype=np.int64),
        smooth=untouched(capacity, 63, dtype=np.int64),
        moves=untouched(capacity, guards, 6, dtype=np.int64),
        jumps=untouched(capacity, guards, w),
        jump_energy=untouched(capacity, guards),
        conditions=untouched(capacity, events, w),
        after_event=untouched(capacity, events, 3, dtype=np.int64),
        phase=np.array([first, len(library.system.orders), library.period, QUANTA_BITS]),
        orders=np.array(library.system.orders, dtype=float),
    )


def _roomy(library: ModeLibrary, capacity: int, guards: int) -> Tables:
    """As ``_empty``, with less room where the machine allows no more."""
    while True:
        try:
            return _empty(library, capacity, guards)
        except (OSError, MemoryError):
            if capacity <= LEAST_ROOM:
                raise MemoryError("no memory for the modes of this supply") from None
            capacity //= 2


def _know_idle(library: ModeLibrary, number: int, signature: Signature) -> None:
    """Have the modes at hand that idle events lead to: twins, whose guards lead elsewhere."""
    for v, event in enumerate(library.system.events):
        segment = signature[event.element]
        if event.idle and event.idle[segment]:
            changed = _changed(signature, event.element, event.targets[segment])
            known = library.numbers.get(changed)
            target = _add_twin(library, number, changed) if known is None else known
            library.tables.after_event[number, v] = target, target, 1


def _add_twin(library: ModeLibrary, first: int, signature: Signature) -> int:
    """A mode with the equations and guards of another, which holds what both share."""
    targets = library.system.leads(signature)
    number = library._number(signature, replace(library.equations[first], guard_targets=targets))
    tables = library.tables
    for name in ("about", "moves", "jumps", "jump_energy", "conditions"):
        getattr(tables, name)[number] = getattr(tables, name)[first]
    tables.moves[number, :, layout.NEXT] = -1
    tables.after_event[number] = -1, -1, 0
    _know_idle(library, number, signature)
    return number


def _write_solution(library: ModeLibrary, number: int, equations: ModeEquations) -> None:
    """What the equations alone decide: propagators, coordinates, and how far polynomials may follow."""
    tables, rungs = library.tables, library.tables.rungs[number]
    matrix = equations.matrix if equations.fine is None else equations.fine
    ladder(matrix, library.quantum, rungs=rungs, exact_rows=library.exact_rows)
    found = parts(equations.matrix, library.exact_rows, axes=tables.axes[number])
    _write_pace(
        found.values.view(float).reshape(-1, 2),
        library.omegas,
        library.quantum,
        QUANTA_BITS,
        tables.smooth[number],
        tables.about[number],
    )
    own = pace(found, equations.matrix, library.quantum, rungs=rungs)
    library.parts[number] = found, own  # the last: until then nothing counts as written


def _write_limits(library: ModeLibrary, number: int, equations: ModeEquations) -> None:
    """Guards at a state."""
    tables, count = library.tables, len(equations.guard_rows)
    tables.about[number, layout.GUARDS] = count
    tables.watch[number, :count, : library.system.size] = library.scaled_guards(equations)


def _write_guards(library: ModeLibrary, number: int, equations: ModeEquations) -> None:
    """Guards ahead of a state, and the most that they change."""
    tables = library.tables
    look_ahead(
        tables.watch[number],
        library.parts[int(tables.about[number, layout.KIN])],
        count=len(equations.guard_rows),
        rungs=tables.rungs[number],
        finders=tables.finders[number],
        reach=tables.reach[number],
    )


def _write_actions(library: ModeLibrary, number: int, equations: ModeEquations) -> None:
    """Where guards lead, which is not known yet, and what they do beyond."""
    tables, which = library.tables, equations.guard_actions
    asked, rows, factors = library.actions
    tables.moves[number] = -1
    tables.moves[number, : len(which), layout.PLAIN :] = asked[which]
    if which.max(initial=-1) >= 0:
        tables.jumps[number, : len(which), : library.system.size] = rows[which]
        tables.jump_energy[number, : len(which)] = factors[which]


def _action_table(system: SwitchedSystem, quantum: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What each action asks for, as columns of ``moves`` from ``PLAIN`` on; its row and energy factor, if it jumps.

    The last is no action, which guards without one are given as number -1.
    """
    count = len(system.actions) + 1
    asked = np.full((count, 5), -1)
    rows, factors = np.zeros((count, system.size)), np.zeros(count)
    asked[-1, 0] = 1
    for k, action in enumerate(system.actions):
        jumps = action.state >= 0 and action.row is not None
        state = action.state if jumps else -1
        asked[k] = 0, state, action.event, action.later_event, round(action.delay / quantum)
        if jumps:
            rows[k], factors[k] = action.row, action.energy_factor
    return asked, rows, factors


def _write_conditions(library: ModeLibrary, number: int, equations: ModeEquations) -> None:
    signature, n = library.signatures[number], library.system.size
    for v, event in enumerate(library.system.events):
        segment = signature[event.element]
        output = event.conditions[segment]
        row = library.tables.conditions[number, v]
        row[n - 1] = 1.0
        if output >= 0:
            row[:n] = event.signs[segment] * equations.outputs[output]
            row[n - 1] -= event.thresholds[segment]


def _write_ringing(library: ModeLibrary, number: int, equations: ModeEquations) -> None:
    """What of each guard is left without the ringing.

    A damped pair with right vector v and left vector l (l v = 1) adds 2 Re(r v l x) to a guard row r, at most
    2 |r v| |l x|.
    """
    tables, pairs = library.tables, int(library.tables.about[number, layout.PAIRS])
    if not pairs:
        return
    found, own = library.parts[int(tables.about[number, layout.KIN])]
    ringing = _ringing(library, found.values)
    tables.about[number, layout.PAIRS] = 0
    if pairs > MOST_PAIRS or found.values[ringing].real.max() >= 0.0 or found.left is None or found.condition > SOUND:
        return
    tables.about[number, layout.PAIRS] = pairs
    states, n = len(found.values), library.system.size
    count = len(equations.guard_rows)
    half = -(-count // 4) * 4
    rows, left = tables.watch[number, :count, :n], found.left[ringing]
    seen = 2.0 * (rows[:, :states] @ found.vectors[:, ringing])
    tables.rings[number, 0 : 2 * pairs : 2, :n] = left.real
    tables.rings[number, 1 : 2 * pairs : 2, :n] = left.imag
    tables.ring_sizes[number, :count, :pairs] = np.abs(seen)
    quiet = rows - (seen @ left).real
    tables.quiet[number, :count, :n] = quiet
    tables.quiet[number, half : half + count, :n] = quiet @ own


def _ringing(library: ModeLibrary, values: np.ndarray) -> np.ndarray:
    """Which parts of a solution turn within a step faster than they die away."""
    step = library.quantum * 2.0**QUANTA_BITS
    return np.flatnonzero((values.imag * step > 1.0) & (values.imag > 0.2 * np.abs(values.real)))


def _changed(signature: Signature, element: int, segment: int) -> Signature:
    return (*signature[:element], segment, *signature[element + 1 :])
