"""What a careful Python user would build on a general ODE library, on the benchmark supply (load B or A, any delay).

Every peer gets the same compiled equations (the twin's) and Jacobian.  Libraries with events land on every kink: the
pieces of triac, diodes, core and arc are constant within a span, spans end at gate on and off and where the smallest
guard becomes negative (a terminal event), and the library is started anew.  Without that, stiff solvers keep the Newton
matrix of a blocked diode after it has turned on and report success with currents that are wrong by percents at any
tolerance (seen: 3e-3 of full scale at a tolerance of 1e-7).  The compiled LSODA has no events; its right-hand side
evaluates the static laws at each call, and the fall below holding is searched for.  Each peer gives the states at the
sample times; signals are worked out from them afterwards.

Libraries that are not installed are left out: ``available()`` tells which peers can run.
"""

import importlib.util
import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numba
import numpy as np
from scipy.integrate import solve_ivp

from tests.reference import twin_equations as equations
from tests.reference.twin import beyond, commanded
from tests.reference.twin_equations import FULL_SCALE, Supply

GATE_WIDTH = 1e-3  # s
MAX_STEP = 2e-4  # s; a conduction shorter than a step would be missed
SUPPLY = Supply()


@numba.njit
def pieces(x, flag, arc):
    """Give the piece of every law at a state: what writing max(..) and if .. else in the equations comes to."""
    s = SUPPLY
    triac, core, load = equations.OFF, 0, equations.RESISTOR
    if flag:
        limit = equations.knee(s.triac_threshold, s.triac_slope, s.triac_off)
        current = equations.triac_current(x, equations.MIDDLE, s)
        triac = equations.FORWARD if current > limit else equations.BACKWARD if current < -limit else equations.MIDDLE
    if abs(x[2]) > s.corner_flux:
        core = 2 if x[2] > 0.0 else -2
    if arc:
        limit = equations.knee(s.arc_voltage, s.arc_slope, s.arc_blocked)
        load = equations.BURNING if x[5] > limit else equations.BLOCKED
    limit = equations.knee(s.diode_threshold, s.diode_slope, s.diode_off)
    first = 1 if x[3] > 0.0 else 2  # with that sign of current pair a, or pair b, is the likely one
    result = (triac, 0, 0, core, load, 0)
    for combination in (first, 0, 3, 3 - first):
        on_a, on_b = combination & 1, combination >> 1
        result = (triac, on_a, on_b, core, load, 0)
        a, b, _, _ = equations.bridge(x, result, s)
        if (a >= limit if on_a else a <= limit) and (b >= limit if on_b else b <= limit):
            break
    return result


@numba.njit
def right_hand_side(t, x, flag, arc):
    """Give x' with all static laws in it."""
    return equations.derivative(t, x, pieces(x, flag, arc), SUPPLY)


@numba.njit
def above_holding(x, side):
    """Tell how far the triac's current, conducting to one side, is above holding [A]."""
    piece = equations.FORWARD if side > 0.0 else equations.BACKWARD
    return side * equations.triac_current(x, piece, SUPPLY) - SUPPLY.holding


@numba.njit
def triac_side(x, arc):
    """Tell to which side the triac conducts at the gate's end; 0 below latching."""
    regime = pieces(x, True, arc)
    current = equations.triac_current(x, regime[0], SUPPLY)
    if abs(current) < SUPPLY.latching:
        return 0.0
    return 1.0 if current > 0.0 else -1.0


@numba.njit
def signal_table(states, flags, arc):
    """Give every signal of the twin at every sample."""
    out = np.empty((len(states), 14))
    for i in range(len(states)):
        out[i] = equations.signals(states[i], pieces(states[i], flags[i], arc), SUPPLY)
    return out


@dataclass(frozen=True)
class Task:
    """What is to be simulated: load A or B, delay [deg], length and sample interval [s]."""

    load: str = "B"
    delay: float = 90.0
    duration: float = 1.0
    sample_interval: float = 50e-6

    @property
    def arc(self) -> bool:
        """Whether the load is the arc line."""
        return self.load != "A"

    @property
    def times(self) -> np.ndarray:
        """Sample times [s]."""
        return np.arange(round(self.duration / self.sample_interval) + 1) * self.sample_interval


def switching_times(task: Task) -> np.ndarray:
    """Give the times of gate on and gate off in turn, on a sample's time where they differ from it by rounding only."""
    times, half_cycle = task.times, 0.5 / SUPPLY.frequency
    first = (task.delay / 180.0 + np.arange(int(task.duration / half_cycle) + 1)) * half_cycle
    switchings = np.column_stack([first, first + GATE_WIDTH]).ravel()
    nearest = times[np.clip(np.round(switchings / task.sample_interval).astype(int), 0, len(times) - 1)]
    return np.where(np.abs(switchings - nearest) < 1e-12, nearest, switchings)


Span = Callable[[float, float, np.ndarray, np.ndarray, np.ndarray], tuple[np.ndarray, float, np.ndarray]]
"""From t0 to t1 (or to the first guard passed) on given pieces: states at the given times, end time, end state."""


@numba.njit
def smallest_guard(x, regime):
    """Tell how far the nearest end of a piece is."""
    return np.min(equations.guards(x, regime, SUPPLY))


@numba.njit
def piece_slopes(t, x, regime):
    """Give x' on the given pieces."""
    return equations.derivative(t, x, regime, SUPPLY)


@numba.njit
def piece_partials(x, regime):
    """Give the partial derivatives of x' on the given pieces."""
    return equations.jacobian(x, regime, SUPPLY)


@numba.njit
def piece_signals(states, regimes):
    """Give every signal of the twin at every sample."""
    out = np.empty((len(states), 14))
    for i in range(len(states)):
        out[i] = equations.signals(states[i], regimes[i], SUPPLY)
    return out


def settled(t: float, x: np.ndarray, regime: np.ndarray) -> np.ndarray:
    """Change pieces until none is past its end a nanosecond later (two diodes may cross together)."""
    for _ in range(8):
        soon = x + 1e-10 * piece_slopes(t, x, regime)
        distances = equations.guards(soon, regime, SUPPLY)
        if np.min(distances) >= 0.0:
            break
        regime = beyond(regime, int(np.argmin(distances)), SUPPLY)
    return regime


def run_spans(task: Task, span: Span) -> np.ndarray:
    """Go through all spans with a library's own integration of one span; give the signals at the sample times."""
    times = task.times
    states, regimes = np.zeros((len(times), 6)), np.zeros((len(times), 6), dtype=np.int64)
    t, x, filled, spans = 0.0, np.zeros(6), 1, 0
    regime = np.array([0, 0, 0, 0, equations.BLOCKED if task.arc else equations.RESISTOR, 0])
    regimes[0] = regime
    gates = list(zip(switching_times(task), itertools.cycle(("gate on", "gate off"))))
    for at, what in [*(pair for pair in gates if pair[0] < task.duration), (task.duration, "end")]:
        while t < at:
            last = filled + int(np.searchsorted(times[filled:], at, side="right"))
            values, end, x = span(t, at, x, regime, times[filled:last])
            states[filled : filled + len(values)], regimes[filled : filled + len(values)] = values, regime
            filled, t, spans = filled + len(values), end, spans + 1
            if spans > 5000 * task.duration + 100:
                raise ArithmeticError(f"pieces change for ever near {t} s")
            if end < at:
                passed = int(np.argmin(equations.guards(x, regime, SUPPLY)))
                regime = settled(t, x, beyond(regime, passed, SUPPLY))
        regime = commanded(regime, what, x, SUPPLY)
    return piece_signals(states, regimes)


def scipy_solver(method: str, tolerance: float) -> Callable[[Task], np.ndarray]:
    """Give scipy's solve_ivp by one of its stiff methods, with compiled equations and Jacobian, as a peer."""

    def run(task: Task) -> np.ndarray:
        def span(t0: float, t1: float, x: np.ndarray, regime: np.ndarray, times: np.ndarray) -> tuple:
            def ends(_: float, y: np.ndarray) -> float:
                return smallest_guard(y, regime)

            ends.terminal, ends.direction = True, -1.0
            answer = solve_ivp(
                lambda t, y: piece_slopes(t, y, regime),
                (t0, t1),
                x,
                method=method,
                jac=lambda t, y: piece_partials(y, regime),
                events=ends,
                t_eval=times if len(times) and times[-1] == t1 else np.append(times, t1),
                rtol=tolerance,
                atol=tolerance * FULL_SCALE,
                max_step=MAX_STEP,
            )
            if not answer.success:
                raise ArithmeticError(answer.message)
            if answer.status == 1:
                states = answer.y.T if len(answer.t) else np.empty((0, 6))
                return states, float(answer.t_events[0][0]), answer.y_events[0][0]
            return answer.y.T[: len(times)], t1, answer.y[:, -1]

        return run_spans(task, span)

    return run


def sundials_solver(tolerance: float) -> Callable[[Task], np.ndarray]:
    """Give SUNDIALS' CVODE (BDF, roots) through scikit-sundae as a peer."""
    from sksundae.cvode import CVODE

    def run(task: Task) -> np.ndarray:
        held = {"regime": np.zeros(6, dtype=np.int64)}

        def slopes(t: float, y: np.ndarray, out: np.ndarray) -> None:
            out[:] = piece_slopes(t, y, held["regime"])

        def partials(_t: float, y: np.ndarray, _slopes: np.ndarray, out: np.ndarray) -> None:
            out[:, :] = piece_partials(y, held["regime"])

        def ends(_: float, y: np.ndarray, out: np.ndarray) -> None:
            out[0] = smallest_guard(y, held["regime"])

        ends.terminal, ends.direction = [True], [-1]
        options = {"rtol": tolerance, "atol": tolerance * FULL_SCALE, "max_num_steps": 100_000, "max_step": MAX_STEP}
        solver = CVODE(slopes, jacfn=partials, eventsfn=ends, num_events=1, **options)

        def span(t0: float, t1: float, x: np.ndarray, regime: np.ndarray, times: np.ndarray) -> tuple:
            held["regime"] = regime
            wanted = np.append(t0, times)
            answer = solver.solve(wanted if wanted[-1] == t1 else np.append(wanted, t1), x)
            if answer.t_events is not None and len(answer.t_events):
                end = float(answer.t_events[0])
                return answer.y[1:][answer.t[1:] < end], end, answer.y_events[0]
            if not answer.success:
                raise ArithmeticError(answer.message)
            return answer.y[1 : 1 + len(times)], t1, answer.y[-1]

        return run_spans(task, span)

    return run


def compiled_lsoda(tolerance: float) -> Callable[[Task], np.ndarray]:
    """Give a compiled LSODA (numbalsoda), with right-hand side and search for the holding current compiled too."""
    from tests.bench.compiled_lsoda import integrate

    def run(task: Task) -> np.ndarray:
        states, flags = integrate(task.times, switching_times(task), task.arc, tolerance)
        return signal_table(states, flags, task.arc)

    return run


PEERS = {
    "scipy LSODA": (lambda tolerance: scipy_solver("LSODA", tolerance), "scipy"),
    "scipy Radau": (lambda tolerance: scipy_solver("Radau", tolerance), "scipy"),
    "SUNDIALS CVODE (scikit-sundae)": (sundials_solver, "sksundae"),
    "compiled LSODA (numbalsoda)": (compiled_lsoda, "numbalsoda"),
}


def available() -> list[str]:
    """Name the peers whose library is installed."""
    return [name for name, (_, module) in PEERS.items() if importlib.util.find_spec(module) is not None]
