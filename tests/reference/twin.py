"""An independent twin of the benchmark supply: plain equations, general stiff solvers, every kink landed on.

Between two switchings the equations (``twin_equations``) are smooth and handed to a stiff stepper (``twin_steppers``).
A guard that ends up negative inside a step is located (the step is done again up to the zero of the guard), the piece
is changed and the stepper started anew; gates and programmed shorts are instants that are stepped to exactly.

Nothing of weldsim is imported.  What is not promised: a piece that is left and entered again between two stage points
of one step (3 us apart at most with 20 us samples) would be missed; none of the cases here has one, as the agreement
between methods with different steps shows.

    run = solve(Case(load="B", delay=90.0, duration=0.1))
    run["primary.current"], run.events, run.figures["output.current.mean"], run.energies["residual"]
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from tests.reference import twin_equations as equations
from tests.reference.twin_equations import CORE, GATE, LOAD, PAIR_A, PAIR_B, TRIAC, Supply
from tests.reference.twin_steppers import make_stepper

GATE_WIDTH = 1e-3  # s
ELEMENTS = ("triac", "pair a", "pair b", "core", "load")


@dataclass(frozen=True)
class Case:
    """One run from a given start: load A, B or C, delay [deg], times [s], start values, and the supply's numbers."""

    load: str = "B"
    delay: float = 90.0
    duration: float = 0.1
    window: float | None = None
    sample_interval: float = 20e-6
    flux_linkage: float = 0.0
    bank_voltage: float = 0.0
    short_start: float = 0.2
    short_duration: float = 3e-3
    short_period: float = 12e-3
    supply: Supply = field(default_factory=Supply)


@dataclass(frozen=True)
class TwinRun:
    """Samples of every signal, events (time, element, from, to), figures over the window, energies of the whole run."""

    time: np.ndarray
    signals: dict[str, np.ndarray]
    events: list[tuple[float, str, int, int]]
    figures: dict[str, float]
    energies: dict[str, float]
    steps: int

    def __getitem__(self, name: str) -> np.ndarray:
        return self.signals[name]


def scheduled(case: Case) -> Iterator[tuple[float, str]]:
    """Give every instant known beforehand: gate on and off, short on and off, start of the window."""
    half_cycle = 0.5 / case.supply.frequency
    first = (case.delay / 180.0 - case.supply.phase / np.pi) * half_cycle
    for k in range(int(case.duration / half_cycle) + 3):
        at = first + k * half_cycle
        if at >= 0.0:
            yield at, "gate on"
            yield at + GATE_WIDTH, "gate off"
    if case.load == "C":
        for k in range(int(case.duration / case.short_period) + 1):
            at = case.short_start + k * case.short_period
            yield at, "short on"
            yield at + case.short_duration, "short off"
    if case.window is not None:
        yield case.duration - case.window, "window"


def plan(case: Case, sample_times: np.ndarray) -> list[tuple[float, str]]:
    """Sort the scheduled instants, each moved onto a sample's time where it differs from it by rounding only."""
    instants = []
    for at, what in scheduled(case):
        nearest = sample_times[np.argmin(np.abs(sample_times - at))]
        exact = nearest if abs(at - nearest) < 1e-13 else at
        if exact < case.duration:
            instants.append((exact, what))
    return sorted(instants)


def first_regime(case: Case) -> np.ndarray:
    """Give the pieces at the start: everything blocked, the core where its flux says."""
    regime = np.zeros(6, dtype=np.int64)
    size = abs(case.flux_linkage)
    supply = case.supply
    piece = int(size > supply.corner_flux - supply.corner_width) + int(size > supply.corner_flux + supply.corner_width)
    regime[CORE] = piece if case.flux_linkage > 0.0 else -piece
    regime[LOAD] = equations.RESISTOR if case.load == "A" else equations.BLOCKED
    return regime


def beyond(regime: np.ndarray, guard: int, supply: Supply) -> np.ndarray:
    """Give the pieces after a guard (index as in ``guards``) has been passed."""
    new = regime.copy()
    inward = equations.MIDDLE if regime[GATE] else equations.OFF
    if guard == 0:
        new[TRIAC] = inward if regime[TRIAC] == equations.FORWARD else equations.BACKWARD
    elif guard == 1:
        new[TRIAC] = inward if regime[TRIAC] == equations.BACKWARD else equations.FORWARD
    elif guard in (2, 3):
        pair = PAIR_A if guard == 2 else PAIR_B
        new[pair] = 1 - regime[pair]
    elif guard in (4, 5):
        new[CORE] += (1 if supply.corner_width > 0.0 else 2) * (1 if guard == 5 else -1)
    else:
        new[LOAD] = equations.BURNING if regime[LOAD] == equations.BLOCKED else equations.BLOCKED
    return new


def commanded(regime: np.ndarray, what: str, x: np.ndarray, supply: Supply) -> np.ndarray:
    """Give the pieces after a scheduled instant."""
    new = regime.copy()
    if what == "gate on":
        new[GATE] = 1
        if regime[TRIAC] == equations.OFF:
            current = equations.triac_current(x, equations.MIDDLE, supply)
            limit = equations.knee(supply.triac_threshold, supply.triac_slope, supply.triac_off)
            outside = equations.FORWARD if current > 0.0 else equations.BACKWARD
            new[TRIAC] = outside if abs(current) > limit else equations.MIDDLE
    elif what == "gate off":
        new[GATE] = 0
        if abs(equations.triac_current(x, regime[TRIAC], supply)) < supply.latching:
            new[TRIAC] = equations.OFF
    elif what == "short on":
        new[LOAD] = equations.SHORTED
    elif what == "short off":
        limit = equations.knee(supply.arc_voltage, supply.arc_slope, supply.arc_blocked)
        new[LOAD] = equations.BURNING if x[5] > limit else equations.BLOCKED
    return new


class _Integration:
    """One run under way: where it is, on which pieces, and what has been gathered."""

    def __init__(self, case: Case, method: str, tolerance: float) -> None:
        self.case, self.supply = case, case.supply
        self.stepper = make_stepper(method, case.supply, tolerance, case.sample_interval)
        self.t, self.regime = 0.0, first_regime(case)
        self.x = np.array([0.0, 0.0, case.flux_linkage, 0.0, case.bank_voltage, 0.0])
        count = round(case.duration / case.sample_interval)
        self.sample_times = np.arange(count + 1) * case.sample_interval
        self.samples = np.empty((count + 1, len(equations.SIGNALS)))
        self.samples[0], self.filled = equations.signals(self.x, self.regime, self.supply), 1
        self.events: list[tuple[float, str, int, int]] = []
        self.before_window = case.duration - (case.window or case.duration)
        self.total, self.in_window = np.zeros(equations.N_INTEGRALS), np.zeros(equations.N_INTEGRALS)
        self.low, self.high = np.full(len(equations.SIGNALS), np.inf), np.full(len(equations.SIGNALS), -np.inf)
        self.first_peak, self.stuck = 0.0, 0

    def go(self) -> None:
        """Run from the first instant to the last."""
        self.stepper.restart(self.t, self.x, self.regime)
        for at, what in [*plan(self.case, self.sample_times), (self.sample_times[-1], "end")]:
            while self.t < at:
                self._advance(at)
            self._change(commanded(self.regime, what, self.x, self.supply))

    def _advance(self, at: float) -> None:
        """Take one step, cut short at the first guard passed."""
        limit = at
        if self.stepper.lands_on_samples and self.filled < len(self.sample_times):
            limit = min(limit, self.sample_times[self.filled])
        end = self.stepper.step(limit)
        spans, states = self.stepper.inside()
        past = equations.first_past(states, self.regime, self.supply)
        if past < 0:
            self._keep(end, states[-1])
            self.stepper.accept(end)
            return
        low, start = (spans[past - 1], states[past - 1]) if past else (0.0, self.x)
        values = equations.guards(start, self.regime, self.supply)
        crossed = np.flatnonzero(equations.guards(states[past], self.regime, self.supply) < 0.0)
        at_once = [guard for guard in crossed if past == 0 and values[guard] <= 0.0]
        if at_once:
            guard = at_once[0]
        else:
            landings = {guard: self.stepper.land(guard, low, spans[past]) for guard in crossed}
            guard = min(landings, key=lambda index: landings[index][0])
            when, state = self.stepper.land(guard, low, spans[past]) if len(crossed) > 1 else landings[guard]
            self._keep(when, state)
        self._change(beyond(self.regime, guard, self.supply))

    def _keep(self, end: float, state: np.ndarray) -> None:
        """Take over the last step: samples inside it, integrals, extremes."""
        while self.filled < len(self.sample_times) and self.sample_times[self.filled] <= end:
            inside = state
            if not self.stepper.lands_on_samples:
                inside = self.stepper.output(self.sample_times[self.filled])
            self.samples[self.filled] = equations.signals(inside, self.regime, self.supply)
            self.filled += 1
        if hasattr(self.stepper, "integrals"):
            _, states = self.stepper.inside()
            amount = self.stepper.integrals()
            self.total += amount
            self.first_peak = max(self.first_peak, np.max(np.abs(states[:, 0])))
            if self.t >= self.before_window:
                self.in_window += amount
                low, high = equations.extremes(states, self.regime, self.supply)
                self.low, self.high = np.minimum(self.low, low), np.maximum(self.high, high)
        self.stuck = 0 if end > self.t else self.stuck
        self.t, self.x = end, state.copy()

    def _change(self, regime: np.ndarray) -> None:
        """Go over to other pieces and start the stepper anew."""
        self.stuck += 1
        if self.stuck > 20:
            raise ArithmeticError(f"no consistent piece at {self.t} s: {self.regime}")
        for index, name in enumerate(ELEMENTS):
            if regime[index] != self.regime[index]:
                self.events.append((self.t, name, int(self.regime[index]), int(regime[index])))
        if np.any(regime != self.regime):
            self.regime = regime
            self.stepper.restart(self.t, self.x, self.regime)


def _figures(run: _Integration) -> dict[str, float]:
    """Turn the integrals over the window into the figures of the benchmark table."""
    span = run.case.window or run.case.duration
    means = dict(zip(equations.ENERGIES + equations.PLAIN_MEANS, run.in_window / span, strict=False))
    rms_voltage = run.supply.mains_peak / np.sqrt(2.0)
    primary = np.sqrt(means["i_primary2"])
    figures = {
        "output.current.mean": means["i_out"],
        "output.current.rms": np.sqrt(means["i_out2"]),
        "output.voltage.mean": means["u_out"],
        "output.voltage.rms": np.sqrt(means["u_out2"]),
        "bank.voltage.mean": means["u_bank"],
        "bank.current.rms": np.sqrt(means["i_bank2"]),
        "primary.current.rms": primary,
        "primary.power.mean": means["source"],
        "primary.power_factor": means["source"] / (rms_voltage * primary) if primary else np.nan,
        "core.flux_linkage.mean": means["flux"],
        "switch_on.current.peak": run.first_peak,
    }
    pairs = run.in_window[len(means) :].reshape(-1, 2) / span
    for order, (cosine, sine) in enumerate(pairs, start=1):
        figures[f"primary.current.harmonic_{order}"] = np.hypot(cosine, sine) * np.sqrt(2.0)
    for index, name in enumerate(equations.SIGNALS):
        figures[f"{name}.min"], figures[f"{name}.max"] = run.low[index], run.high[index]
        figures[f"{name}.ripple"] = run.high[index] - run.low[index]
        figures[f"{name}.peak"] = max(run.high[index], -run.low[index])
    return figures


def _energies(run: _Integration, start: np.ndarray) -> dict[str, float]:
    """Balance the run: source = stored + every loss + residual [J]."""
    energies = dict(zip(equations.ENERGIES, run.total, strict=False))
    stored = equations.stored_energy(run.x, run.supply) - equations.stored_energy(start, run.supply)
    energies["residual"] = energies["source"] - stored - sum(list(energies.values())[1:])
    energies["stored"] = stored
    return energies


def solve(case: Case, *, method: str = "collocation", tolerance: float = 1e-12) -> TwinRun:
    """Run a case by ``collocation`` (compiled; figures, energies) or by scipy's ``Radau``, ``BDF`` or ``LSODA``."""
    run = _Integration(case, method, tolerance)
    start = run.x.copy()
    run.go()
    columns = dict(zip(equations.SIGNALS, run.samples.T, strict=True))
    complete = method == "collocation"
    return TwinRun(
        time=run.sample_times,
        signals=columns,
        events=run.events,
        figures=_figures(run) if complete else {},
        energies=_energies(run, start) if complete else {},
        steps=run.stepper.work,
    )
