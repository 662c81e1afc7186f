"""Two kinds of stepper for the twin: an implicit collocation method of order 9, compiled, and scipy's stiff solvers.

They share nothing but the equations, so that their agreement bounds the error of both.  Collocation: Radau points (five
stages, stiffly accurate); every step is done once whole and once in two halves, the difference steers the step, the
halves are kept.  scipy: Radau, BDF or LSODA with their own error control, started anew after each switching.
"""

import numba
import numpy as np
from scipy.integrate import BDF, LSODA, OdeSolver, Radau
from scipy.optimize import brentq

from tests.reference.twin_equations import (
    CORE,
    FULL_SCALE,
    N_INTEGRALS,
    Supply,
    derivative,
    guards,
    integrands,
    jacobian,
)

STAGES = 5
FIRST_STEP = 1e-9  # s, after each switching


def radau_points(stages: int) -> tuple[np.ndarray, np.ndarray]:
    """Give the nodes c and the matrix A of the collocation method on right Radau points."""
    last = np.polynomial.Legendre.basis(stages, domain=[0, 1])
    before = np.polynomial.Legendre.basis(stages - 1, domain=[0, 1])
    polynomial = (last - before).convert(kind=np.polynomial.Polynomial)
    nodes = np.sort(polynomial.roots().real)
    for _ in range(3):
        nodes -= polynomial(nodes) / polynomial.deriv()(nodes)
    nodes[-1] = 1.0
    powers = np.vander(nodes, increasing=True)
    integrals = powers * nodes[:, None] / np.arange(1, stages + 1)
    return nodes, np.ascontiguousarray(np.linalg.solve(powers.T, integrals.T).T)


NODES, MATRIX = radau_points(STAGES)


@numba.njit
def collocate(t, x, h, regime, s, inverse):
    """Solve one implicit step by Newton's method with a given inverse matrix; give the states at all stages."""
    m, n = len(NODES), len(x)
    stages = np.empty((m, n))
    for i in range(m):
        stages[i] = x
    slopes, residual = np.empty((m, n)), np.empty((m, n))
    before = np.inf
    for _ in range(60):
        for i in range(m):
            slopes[i] = derivative(t + NODES[i] * h, stages[i], regime, s)
        for i in range(m):
            residual[i] = x - stages[i]
            for j in range(m):
                residual[i] += h * MATRIX[i, j] * slopes[j]
        size = 0.0
        for row in range(m * n):
            change = 0.0
            for column in range(m * n):
                change += inverse[row, column] * residual[column // n, column % n]
            stages[row // n, row % n] += change
            size = max(size, abs(change) / FULL_SCALE[row % n])
        if size < 2e-15 or (size < 1e-12 and size > 0.3 * before):
            break
        before = size
    return stages


@numba.njit
def paired_step(t, x, h, regime, s, inverses):
    """Step h whole and in two halves: states at the stages of both halves, and the difference of the ends."""
    m, n = len(NODES), len(x)
    ends, both = np.empty((3, n)), np.empty((2 * m, n))
    ends[0] = x
    for part in range(3):  # the two halves, then the whole
        span = h if part == 2 else 0.5 * h
        start = x if part == 2 else ends[part]
        stages = collocate(t + (0.5 * h if part == 1 else 0.0), start, span, regime, s, inverses[0 if part == 2 else 1])
        if part < 2:
            both[part * m : (part + 1) * m] = stages
            ends[part + 1] = stages[m - 1]
    error = 0.0
    for i in range(n):
        error = max(error, abs(ends[2, i] - stages[m - 1, i]) / FULL_SCALE[i])
    return both, error


@numba.njit
def integrate_step(t, h, both, regime, s):
    """Give the integrals over an accepted step, by the method's own weights (order 9)."""
    m = len(NODES)
    total = np.zeros(N_INTEGRALS)
    for half in range(2):
        for i in range(m):
            at = t + 0.5 * h * (half + NODES[i])
            total += 0.5 * h * MATRIX[m - 1, i] * integrands(at, both[half * m + i], regime, s)
    return total


class Collocation:
    """The compiled stepper, and the only one that also integrates powers and squares over each step."""

    lands_on_samples = True

    def __init__(self, supply: Supply, tolerance: float, grid: float) -> None:
        self.supply, self.tolerance = supply, tolerance
        self.first = grid * 2.0 ** np.floor(np.log2(FIRST_STEP / grid))  # then the grid is reached by doubling
        self.inverses: dict[tuple, np.ndarray] = {}
        self.h, self.work = self.first, 0
        self.times = np.concatenate([0.5 * NODES, 0.5 + 0.5 * NODES])

    def restart(self, t: float, x: np.ndarray, regime: np.ndarray) -> None:
        """Begin a new piece."""
        self.t, self.x, self.regime, self.h = t, x, regime, self.first

    def _pair(self, h: float) -> tuple[np.ndarray, float]:
        """Do the paired step with Newton matrices kept from a step of nearly the same size on the same pieces."""
        key = (self.regime.tobytes(), f"{h:.5e}")
        inverses = self.inverses.get(key)
        if inverses is None:
            jac = jacobian(self.x, self.regime, self.supply)
            inverses = np.stack(
                [np.linalg.inv(np.eye(6 * STAGES) - np.kron(part * h * MATRIX, jac)) for part in (1, 0.5)]
            )
            if abs(self.regime[CORE]) != 1:  # on the blended corner, the one curved piece, it depends on the state
                self.inverses[key] = inverses
        if len(self.inverses) > 4000:
            self.inverses.clear()
        return paired_step(self.t, self.x, h, self.regime, self.supply, inverses)

    def step(self, limit: float) -> float:
        """Take one accepted step, at most to the limit; give its end."""
        while True:
            h = min(self.h, limit - self.t)
            both, error = self._pair(h)
            self.work += 1
            small_enough = error <= self.tolerance or h < 1e-13
            if small_enough and h == self.h:  # powers of two only, so that Newton matrices are met again
                self.h *= 8.0 if error < 1e-5 * self.tolerance else 2.0 if error < 1e-2 * self.tolerance else 1.0
            if small_enough:
                self.taken, self.both = h, both
                return limit if h == limit - self.t else self.t + h
            self.h = 2.0 ** np.floor(np.log2(h / self.first) - 0.5) * self.first

    def inside(self) -> tuple[np.ndarray, np.ndarray]:
        """Give times (from the step's start) and states inside the last step, its end included."""
        return self.times * self.taken, self.both

    def land(self, index: int, low: float, high: float) -> tuple[float, np.ndarray]:
        """Find the zero of a guard between two times inside the last step by stepping there again and again."""

        def value(span: float) -> float:
            self.both, _ = self._pair(max(span, 1e-18))
            return guards(self.both[-1], self.regime, self.supply)[index]

        self.taken = brentq(value, low, high, xtol=1e-18, rtol=1e-14)
        value(self.taken)
        return self.t + self.taken, self.both[-1]

    def integrals(self) -> np.ndarray:
        """Integrate over the last step."""
        return integrate_step(self.t, self.taken, self.both, self.regime, self.supply)

    def accept(self, t: float) -> None:
        """Go on from the end of the last step."""
        self.t, self.x = t, self.both[-1].copy()


class FromScipy:
    """One of scipy's stiff solvers; Radau lands on samples and events by stepping, the others by interpolation."""

    def __init__(self, supply: Supply, tolerance: float, solver: type) -> None:
        self.supply, self.tolerance, self.solver_class = supply, tolerance, solver
        self.lands_on_samples = solver is Radau
        self.work = 0

    def _new(self, limit: float) -> OdeSolver:
        """Start a solver from the last accepted state."""
        regime, supply = self.regime, self.supply
        return self.solver_class(
            lambda at, y: derivative(at, y, regime, supply),
            self.t,
            self.x,
            limit,
            first_step=min(FIRST_STEP, limit - self.t),
            max_step=1e-4,
            rtol=self.tolerance,
            atol=self.tolerance * FULL_SCALE,
            jac=lambda at, y: jacobian(y, regime, supply),
        )

    def restart(self, t: float, x: np.ndarray, regime: np.ndarray) -> None:
        """Begin a new piece."""
        self.t, self.x, self.regime = t, x, regime
        self.solver: OdeSolver | None = None

    def step(self, limit: float) -> float:
        """Take one of the solver's own steps, at most to the limit; give its end."""
        if self.solver is None or (limit != self.solver.t_bound and not self.lands_on_samples):
            self.solver = self._new(limit)
        solver = self.solver
        solver.t_bound, solver.status = limit, "running"  # Radau goes on over a sample without starting anew
        message = solver.step()
        if solver.status == "failed":
            raise ArithmeticError(message)
        self.work += 1
        self.end, self.output = solver.t, solver.dense_output()
        return solver.t

    def inside(self) -> tuple[np.ndarray, np.ndarray]:
        """Give times (from the step's start) and states inside the last step, its end included."""
        spans = np.array([0.25, 0.5, 0.75]) * (self.end - self.t)
        states = np.vstack([self.output(self.t + spans).T, self.solver.y])
        return np.append(spans, self.end - self.t), states

    def land(self, index: int, low: float, high: float) -> tuple[float, np.ndarray]:
        """Find the zero of a guard between two times inside the last step; Radau then steps there, to be exact."""

        def value(span: float) -> float:
            return guards(self.output(self.t + span), self.regime, self.supply)[index]

        span = brentq(value, low, high, xtol=1e-18, rtol=1e-14)
        if not self.lands_on_samples:
            return self.t + span, self.output(self.t + span)
        for _ in range(8):
            state = self._step_to(span)
            ahead = state + 1e-12 * derivative(self.t + span, state, self.regime, self.supply)
            here = guards(state, self.regime, self.supply)[index]
            correction = 1e-12 * here / (guards(ahead, self.regime, self.supply)[index] - here)
            span += correction
            if abs(correction) < 1e-14:
                break
        return self.t + span, state

    def _step_to(self, span: float) -> np.ndarray:
        fresh = self._new(self.t + span)
        fresh.h_abs = span
        while fresh.status == "running":
            fresh.step()
        return fresh.y

    def accept(self, t: float) -> None:
        """Go on from the end of the last step."""
        self.t, self.x = t, self.solver.y.copy()


def make_stepper(method: str, supply: Supply, tolerance: float, grid: float) -> Collocation | FromScipy:
    """Give the stepper of that name."""
    if method == "collocation":
        return Collocation(supply, tolerance, grid)
    return FromScipy(supply, tolerance, {"Radau": Radau, "BDF": BDF, "LSODA": LSODA}[method])
