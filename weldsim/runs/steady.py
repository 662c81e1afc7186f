"""The periodic steady state: by shooting, checked by plain stepping.

The map of one mains period is piecewise smooth.  Its derivative is a product of propagators and, at each located
switching, of a correction (derived here from the linearised crossing condition r x = 0 of the guard's row r):

    S = J + (f_after - J f_before) r / (r f_before)

with J the derivative of the state's jump (1 where it does not jump) and f = M x.  Newton steps on this map replace
hundreds of periods where a bank bleeds slowly.  A solution counts only if it is stable, and one more plain period
returns to it.
"""

import numpy as np

from weldsim.engine.trace import Trace
from weldsim.errors import SimulationError
from weldsim.frozen import dataclass
from weldsim.runs.soft_start import settled_starter
from weldsim.runs.supply import Supply

RETURNED = 1e-9  # of full scale: a period that comes back this closely is periodic
UNSTABLE = 1.0 + 1e-4  # a multiplier beyond this grows; below it is a slow state or one that remembers
NEAR = 0.1  # of full scale: two periods this close are equally large
LOOKS = 8  # at the state of a period, to know how large it gets
FIRST_PERIODS = 25
NEAR_PERIODS = 3  # from the settled state of a neighbouring setting
MOST_PERIODS = 1500
MOST_STEPS = 7  # of Newton, from one period


@dataclass(frozen=True)
class Settled:
    """A state on the mains clock's zero crossing that returns after one period, and how it was found."""

    state: np.ndarray
    signature: tuple[int, ...]
    periodic: bool
    residual: float  # largest change over one period, of full scale
    periods: int  # plain periods simulated
    newton_steps: int
    multiplier: float  # largest magnitude of the map's eigenvalues
    source_factor: float = 1.0  # what the source's alternating part was scaled by


def settle(
    supply: Supply,
    *,
    delay: float | None,
    shooting: bool = True,
    mains_factor: float = 1.0,
    patience: int = MOST_PERIODS,
    after: Settled | None = None,
) -> Settled:
    """The settled state reached from a demagnetised core and an empty bank (or the scenario's own start).

    ``after`` is a settled state of the same supply at another delay to go on from; it leads to the same state unless
    there are several, as with hysteresis.  Given up, ``periodic`` false, once more than ``patience`` periods have been
    simulated.  A soft start is bypassed; a thermistor without a relay is as warm as the settled current keeps it,
    looked for from run to run.
    """
    starter, tried = settled_starter(supply.scenario, supply.system), set()
    if after is not None and after.periodic and starter is None:
        walker = _Walker(supply, (delay, mains_factor), after.state.copy(), after.signature)
        return _settle(walker, shooting=shooting, patience=patience, first=NEAR_PERIODS)
    while True:
        state, signature = supply.rest()
        if starter is not None:
            signature = starter.onto(signature)
        walker = _Walker(supply, (delay, mains_factor), state, signature)
        found = _settle(walker, shooting=shooting, patience=patience)
        if starter is None or starter.closed:
            return found
        tried.add(signature[starter.element])
        walker.state, walker.signature = found.state, found.signature
        current = walker.walk(1).integrals().rms("primary.current")
        starter = settled_starter(supply.scenario, supply.system, current=current)
        if starter is None or starter.onto(signature)[starter.element] in tried:
            return found


def _settle(walker: "_Walker", *, shooting: bool, patience: int, first: int = FIRST_PERIODS) -> Settled:
    """Walk and shoot from the walker's state on."""
    walker.walk(first)
    while True:
        residual, trace = walker.period()
        if residual < RETURNED:
            return walker.settled(True, residual)
        if shooting and (found := _newton(walker, trace)) is not None:
            return found
        if walker.periods > patience:
            return walker.settled(False, residual)
        walker.walk(2 * FIRST_PERIODS)


class _Walker:
    """Plain stepping from zero crossing to zero crossing."""

    def __init__(
        self, supply: Supply, setting: tuple[float | None, float], state: np.ndarray, signature: tuple[int, ...]
    ) -> None:
        self.supply, self.state, self.signature = supply, state, signature
        self.delay, self.mains_factor = setting
        self.periods = self.newton_steps = 0
        self.count = len(supply.system.states)
        self.scale = np.ones(self.count)

    def walk(self, periods: int) -> Trace:
        """Simulate some periods and stay at their end."""
        end = periods * self.supply.period
        stepper = self.supply.stepper(
            self.state, self.signature, (0.0, end), delay=self.delay, mains_factor=self.mains_factor
        )
        stepper.run_to(end)
        trace = stepper.trace()
        self.state = trace.end_state[: len(self.state)].copy()
        self.signature = trace.signatures[trace.end_mode]
        self.periods += periods
        return trace

    def period(self, *, near: bool = False) -> tuple[float, Trace]:
        """One period, and how far from where it began it ended, of full scale; ``near``: that of the one before."""
        before = self.state
        trace = self.walk(1)
        if not near:
            self.scale = full_scale(trace, self.supply.system.states)
        return float(np.max(np.abs(self.state - before)[: self.count] / self.scale, initial=0.0)), trace

    def settled(self, periodic: bool, residual: float, *, multiplier: float = np.nan) -> Settled:
        """The present state as a result."""
        steps = self.periods, self.newton_steps
        return Settled(self.state, self.signature, periodic, residual, *steps, multiplier, self.mains_factor)


def full_scale(trace: Trace, states: tuple[str, ...], *, looks: int = LOOKS) -> np.ndarray:
    """Largest magnitude of each state, where pieces begin and between, at least a thousandth of its kind's largest."""
    count = len(states)
    begin, end = trace.span
    between = trace.states_at([begin + (end - begin) * k / looks for k in range(1, looks)])
    largest = np.abs(np.vstack([trace.state, between])[:, :count]).max(axis=0, initial=0.0)
    kinds = [name.rpartition(".")[2] for name in states]
    floor = {kind: max(largest[i] for i in range(count) if kinds[i] == kind) for kind in set(kinds)}
    return np.maximum(largest, [1e-3 * floor[kind] + 1e-12 for kind in kinds])


def _newton(walker: _Walker, trace: Trace) -> Settled | None:
    """Newton steps on the map of one period, from the period just walked.

    None where they find nothing, with the walker where it was.
    """
    home = walker.state, walker.signature, walker.periods
    before, signature = trace.state[0, : len(walker.state)].copy(), trace.signatures[trace.mode[0]]
    best = residual = np.inf
    for _ in range(MOST_STEPS):
        walker.newton_steps += 1
        map_derivative = trace.derivative()
        change = walker.state - before
        guess = before.copy()
        scale = walker.scale
        scaled = (np.eye(walker.count) - map_derivative) * scale / scale[:, None]
        move, *_ = np.linalg.lstsq(scaled, change[: walker.count] / scale, rcond=1e-9)
        guess[: walker.count] += move * scale
        walker.state, walker.signature = guess, signature
        before = guess.copy()
        try:
            residual, trace = walker.period(near=residual < NEAR)
        except SimulationError:
            break
        signature = trace.signatures[trace.mode[0]]
        if residual < RETURNED:
            multiplier = float(np.abs(np.linalg.eigvals(map_derivative)).max(initial=0.0))
            if multiplier > UNSTABLE:
                break
            return walker.settled(True, residual, multiplier=multiplier)
        if residual > 0.5 * best:
            break
        best = residual
    walker.state, walker.signature, walker.periods = home
    return None
