"""What a careful Python user would build on a general ODE library, on the benchmark supply (load B or A, any delay).

Every peer gets the same compiled equations (the twin's), with the static laws of triac, diodes, core and arc evaluated
at each call, so that the library meets their kinks by itself as usual.  The triac's flag is constant within a span:
spans end at gate on, at gate off, and where the current falls below holding (an event of the library, or a search of
our own where it has none).  Each peer gives the states at the sample times, from which signals are worked out.

Tolerances are those found cheapest by trial for an error of about 1e-3 and 1e-5 of full scale, which is not monotone in
them.  An absolute tolerance that is scaled by each state's size (0.9 mA for the secondary at 1e-6) is a trap here: the
Newton matrix of a blocked diode is kept after it has turned on, success is reported, and waveforms are off by 1e-3 of
full scale at any relative tolerance.

Libraries that are not installed are left out: ``available()`` tells which peers can run.
"""

import importlib.util
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numba
import numpy as np
from scipy.integrate import solve_ivp

from tests.reference import twin_equations as equations
from tests.reference.twin_equations import Supply

GATE_WIDTH = 1e-3  # s
SUPPLY = Supply()
ROOT_FOUND = 2  # status of scikit-sundae


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
def jacobian(x, flag, arc):
    """Give the partial derivatives of x'."""
    return equations.jacobian(x, pieces(x, flag, arc), SUPPLY)


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


Peer = Callable[[Task], np.ndarray]
Span = Callable[[float, float, np.ndarray, bool, float, np.ndarray], tuple[np.ndarray, float, np.ndarray]]
"""From t0 to t1 (or to the fall below holding on a side, if not 0): states at the given times, end time, end state."""


def run_spans(task: Task, span: Span) -> np.ndarray:
    """Go through all spans with a library's own integration of one span; give the signals at the sample times."""
    times = task.times
    states, flags = np.zeros((len(times), 6)), np.zeros(len(times), dtype=bool)
    t, x, flag, side, filled = 0.0, np.zeros(6), False, 0.0, 1
    gates = zip(switching_times(task), itertools.cycle((True, False)), strict=False)
    for at, gate in [*(pair for pair in gates if pair[0] < task.duration), (task.duration, None)]:
        while t < at:
            last = filled + int(np.searchsorted(times[filled:], at, side="right"))
            values, end, x = span(t, at, x, flag, side, times[filled:last])
            states[filled : filled + len(values)], flags[filled : filled + len(values)] = values, flag
            filled, t = filled + len(values), end
            if end < at:
                flag, side = False, 0.0
        if gate is True:
            flag, side = True, 0.0
        elif gate is False:
            side = triac_side(x, task.arc)
            flag = side != 0.0
    return signal_table(states, flags, task.arc)


def scipy_solver(method: str, rtol: float, atol: float) -> Peer:
    """Give scipy's solve_ivp by one of its stiff methods, with compiled equations and Jacobian and an event."""

    def run(task: Task) -> np.ndarray:
        arc = task.arc

        def span(t0: float, t1: float, x: np.ndarray, flag: bool, side: float, times: np.ndarray) -> tuple:
            def lets_go(_: float, y: np.ndarray) -> float:
                return above_holding(y, side)

            lets_go.terminal, lets_go.direction = True, -1.0
            answer = solve_ivp(
                lambda t, y: right_hand_side(t, y, flag, arc),
                (t0, t1),
                x,
                method=method,
                jac=lambda t, y: jacobian(y, flag, arc),
                events=lets_go if side else None,
                t_eval=times if len(times) and times[-1] == t1 else np.append(times, t1),
                rtol=rtol,
                atol=atol,
            )
            if not answer.success:
                raise ArithmeticError(answer.message)
            if answer.status == 1:
                states = answer.y.T if len(answer.t) else np.empty((0, 6))
                return states, float(answer.t_events[0][0]), answer.y_events[0][0]
            return answer.y.T[: len(times)], t1, answer.y[:, -1]

        return run_spans(task, span)

    return run


def sundials_solver(rtol: float, atol: float) -> Peer:
    """Give SUNDIALS' CVODE (BDF, roots) through scikit-sundae, with compiled equations and Jacobian."""
    from sksundae.cvode import CVODE

    def run(task: Task) -> np.ndarray:
        arc = task.arc
        held = {"flag": False, "side": 0.0}

        def slopes(t: float, y: np.ndarray, out: np.ndarray) -> None:
            out[:] = right_hand_side(t, y, held["flag"], arc)

        def partials(_t: float, y: np.ndarray, _slopes: np.ndarray, out: np.ndarray) -> None:
            out[:, :] = jacobian(y, held["flag"], arc)

        def lets_go(_: float, y: np.ndarray, out: np.ndarray) -> None:
            out[0] = above_holding(y, held["side"])

        lets_go.terminal, lets_go.direction = [True], [-1]
        options = {"rtol": rtol, "atol": atol, "jacfn": partials, "max_num_steps": 100_000}
        plain = CVODE(slopes, **options)
        rooted = CVODE(slopes, eventsfn=lets_go, num_events=1, **options)

        def span(t0: float, t1: float, x: np.ndarray, flag: bool, side: float, times: np.ndarray) -> tuple:
            held["flag"], held["side"] = flag, side
            wanted = np.append(t0, times)
            answer = (rooted if side else plain).solve(wanted if wanted[-1] == t1 else np.append(wanted, t1), x)
            if not answer.success:
                raise ArithmeticError(answer.message)
            if answer.status == ROOT_FOUND:  # events of earlier calls are kept: the last one is meant
                end = float(answer.t_events[-1])
                return answer.y[1:][answer.t[1:] < end], end, answer.y_events[-1]
            return answer.y[1 : 1 + len(times)], t1, answer.y[-1]

        return run_spans(task, span)

    return run


def compiled_lsoda(rtol: float, atol: float) -> Peer:
    """Give a compiled LSODA (numbalsoda), with right-hand side and search for the holding current compiled too."""
    from tests.bench.compiled_lsoda import integrate

    def run(task: Task) -> np.ndarray:
        states, flags = integrate(task.times, switching_times(task), task.arc, (rtol, atol))
        return signal_table(states, flags, task.arc)

    return run


@dataclass(frozen=True)
class Entry:
    """One peer: how it is made from tolerances, the library it needs, and (rtol, atol) for about 1e-3 and 1e-5."""

    make: Callable[[float, float], Peer]
    library: str
    coarse: tuple[float, float]
    fine: tuple[float, float]


PEERS = {
    "scipy LSODA": Entry(partial(scipy_solver, "LSODA"), "scipy", (1e-4, 1e-5), (1e-5, 1e-6)),
    "scipy Radau": Entry(partial(scipy_solver, "Radau"), "scipy", (1e-4, 1e-4), (1e-5, 1e-5)),
    "SUNDIALS CVODE (scikit-sundae)": Entry(sundials_solver, "sksundae", (1e-5, 1e-7), (1e-6, 1e-7)),
    "compiled LSODA (numbalsoda)": Entry(compiled_lsoda, "numbalsoda", (1e-4, 1e-5), (1e-5, 1e-6)),
}


def available() -> list[str]:
    """Name the peers whose library is installed."""
    return [name for name, entry in PEERS.items() if importlib.util.find_spec(entry.library) is not None]
