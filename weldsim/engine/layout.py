"""What stands where in the arrays that Python and the compiled loop share, and the numbers both go by.

Arrays of ``Tables`` (first axis: mode; n states, w = n rounded up to 4, G = most guards of a mode rounded up to 4):

    rungs   (modes, R, w, w)   propagators, padded with zeros
    watch   (modes, 2 G, w)    guard rows (legal while >= 0; scaled, dead band folded into the constant), as many as
        fill fours, then their slopes
    quiet   (modes, 2 G, w)    the same without the damped ringing
    finders (modes, G, K + 1, w)   guard row times E_k, for locating a crossing by dot products; last the sizes of what
        rounding of these goes by
    axes    (modes, w, w)      coordinates of the state along the mode's eigenvectors (see coordinates.py)
    reach   (modes, 2, G, w)   most that a unit of each coordinate changes a guard by: over the rungs up to ``LOW``
        below the last, over all below the step
    rings   (modes, 4, w), ring_sizes (modes, G, 2)   a ringing pair's amplitude at x is that of two rows times x; how
        much of it each guard sees
    about   (modes, 8)         rung to use at first, for how long (quanta) after the mode was entered, ringing pairs (0:
        not known, only the fine rung helps), number of guards, first mode with the same equations (its *kin*),
        whether it is stiff (its Gramians are then those of the coordinates along ``axes``), mode with the same
        equations and guards that holds what both share (its *twin*, as a rule itself), whether all of this is
        there: until a mode is found consistent it has its guards' values and what they lead to, no more
    smooth  (modes, 63)        highest rung over which a polynomial may follow the mode, by the highest bit of its age
    moves   (modes, G, 6)      what a guard asks for: next mode (-1 not known yet), whether that is all (1), state that
        jumps (-1 none), event now, event later, its delay in quanta
    jumps   (modes, G, w), jump_energy (modes, G)   row of the state's new value; factor of the energy it takes away
    conditions (modes, V, w)   condition row of event v, legal while >= 0;  after_event (modes, V, 3): [otherwise,
    target, whether it is idle: the target has the same equations and guards]
    phase   (4,)               first source row, number of sources, quanta of a mains period, top rung
    orders  (sources,)         harmonic order of each source

``control`` (int64): 0 time, 1 mode, 2 settle flag, 3 next scheduled event, 4 pieces logged, 5 pending kind (1 guard,
2 event, 3 event of a guard, 4 the mode itself is not complete), 6 pending index, 7 pending branch, 8 flips at this
instant, 9 time the mode, or its kin,
was entered, 10 steps made, 11 located events, 12 changes of mode, 13 limit of mode changes, 14 mode that a guard's
event starts from, 15 number of later events, 16 guard that a mode was missing for, plus one, 17 changes in a row that
came some quanta after the one before; of ``coast``: 18 end of the period under way (0 none), 19 changes of mode before
it, 20 leaps, 21 patience and 22 wait; 23 rungs beyond a step that may be tried where a mode has lasted.

``account`` (float): 0 energy taken away by jumps of the state [J], 1 scale of all sources (the mains tolerance).
"""

from typing import NamedTuple

import numpy as np

NEXT, PLAIN, JUMP, EVENT, LATER, DELAY = range(6)  # columns of ``moves``
FINE, FINE_FOR, PAIRS, GUARDS, KIN, STIFF, TWIN, READY = range(8)  # columns of ``about``
TARGET, IDLE = 1, 2  # columns of ``after_event``
CONDITION, FASTEST, LOST, TOLD = range(4)  # of what is told of a mode that is assembled, and how much is
LOW = 6  # rungs of a step that follow slow parts too: six powers of two
DEAD_BAND = 1e-9  # of a guard as scaled: so much is left of it at its limit, and nothing where it counts as violated
LEAST_RUNG = 9  # below it plain bits are as quick as interpolation
SCRATCH = 9  # further rows of the log's states, in which locate calculates
EIGHT = 8  # numbers that are worked on side by side where samples are made
OFTEN = 64  # samples of a mode that follow upon one of the same piece, for which it gets a table
DONE, NEED_MODE, LOG_FULL, UNSETTLED, TOO_MANY, NOT_FINITE = 0, 1, 2, 3, 4, 5


class Handed:
    """What may remember the addresses at which it was handed over (doors.py); a copy stands elsewhere."""

    def __getstate__(self) -> None:
        """Nothing of that goes into a copy."""


class _Tables(NamedTuple):
    rungs: np.ndarray
    watch: np.ndarray
    quiet: np.ndarray
    finders: np.ndarray
    axes: np.ndarray
    reach: np.ndarray
    rings: np.ndarray
    ring_sizes: np.ndarray
    about: np.ndarray
    smooth: np.ndarray
    moves: np.ndarray
    jumps: np.ndarray
    jump_energy: np.ndarray
    conditions: np.ndarray
    after_event: np.ndarray
    phase: np.ndarray
    orders: np.ndarray


class Tables(Handed, _Tables):
    """Flat arrays of all assembled modes (see the module's docstring)."""


class _Log(NamedTuple):
    time: np.ndarray
    mode: np.ndarray
    cause: np.ndarray
    state: np.ndarray


class Log(Handed, _Log):
    """Room for pieces: start time, mode, cause (guard index, or -2 - event, or -1) and state."""
