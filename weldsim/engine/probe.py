"""A probe: what the compiled code needs of one signal in every mode, made on demand and kept with the modes.

Row and slope row of the signal, and its Gramians: result[k] = integral of (row E(t))' (row E(t)) over 2^k quanta, so
that the integral of the signal's square over a rung is x' W x, exactly.
"""

from collections.abc import Callable, Mapping

import numpy as np

from weldsim.engine import layout
from weldsim.engine.coordinates import Solved
from weldsim.engine.doors import door
from weldsim.engine.ladder import halves
from weldsim.engine.layout import Tables
from weldsim.engine.untouched import untouched
from weldsim.network.system import ModeEquations

_gramians = door("extremes_kernel", "gramians")

ROOM = 512  # modes before the tables grow; memory is taken only where something is written

RowOf = Callable[[ModeEquations], np.ndarray]


class Probe:
    """Tables of one signal over all modes of a library; ``grams[m, k]`` belongs to rung k of mode m.

    ``row`` gives the signal's row of a mode: one of its outputs, or a mixture of outputs and their derivatives.
    """

    def __init__(self, row: RowOf, size: int, width: int, rungs: int) -> None:
        self.row, self.size, self.rungs = row, size, rungs
        self.known = np.zeros(0, dtype=bool)
        self.rows, self.slopes = np.zeros((0, width)), np.zeros((0, width))
        self.grams = np.zeros((0, rungs, width, width))

    def prepare(
        self,
        modes: np.ndarray,
        equations: list[ModeEquations],
        parts: Mapping[int, Solved],
        *,
        tables: Tables,
        quantum: float,
    ) -> None:
        """Make the tables of these modes (each as often as one likes), if they are not there yet; ``parts`` are
        those of the library.

        The Gramians of a stiff mode are those of its coordinates along ``axes``: two currents that a blocked part keeps
        nearly equal would leave of a square only its rounding.
        """
        rungs, n = tables.rungs, self.size
        if len(self.known) < len(equations):
            self._grow(max(ROOM, 4 * len(equations)))
        missing = modes[~self.known[modes]]
        for mode in np.unique(missing) if len(missing) else ():
            row = np.ascontiguousarray(self.row(equations[mode]))
            matrix = np.ascontiguousarray(equations[mode].matrix)
            self.rows[mode, :n] = row
            self.slopes[mode, :n] = row @ parts[int(mode)][1]
            steps, place = rungs, int(mode)
            if tables.about[mode, layout.STIFF]:
                axes = tables.axes[mode, :n, :n]
                back = np.linalg.inv(axes)
                steps, place, row, matrix = np.zeros_like(rungs[:1]), 0, row @ back, axes @ matrix @ back
                with np.errstate(over="ignore", invalid="ignore"):  # a rung that overflows is never used
                    steps[0, :, :n, :n] = axes @ rungs[mode, :, :n, :n] @ back
            room = np.empty((3, n, n))
            _gramians(steps, place, row, matrix, quantum, halves(matrix * quantum), room, self.grams[mode])
            self.known[mode] = True

    def _grow(self, capacity: int) -> None:
        for name in ("rows", "slopes", "grams", "known"):
            old = getattr(self, name)
            new = untouched(capacity, *old.shape[1:], dtype=old.dtype)
            new[: len(old)][self.known] = old[self.known]
            setattr(self, name, new)
