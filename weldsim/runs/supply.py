"""A supply made ready to run: scenario, network and the library of its modes, kept for the next run.

Runs of one supply that differ only in dial, timing or initial state share their modes, so sweeps are cheap.
"""

import dataclasses
import threading
from collections.abc import Sequence

import numpy as np

from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import Stepper
from weldsim.network.start import initial_values
from weldsim.network.wiring import wire
from weldsim.network.wiring_soft_start import in_series
from weldsim.runs.commands import Command, asked_delay, gate_table, short_commands
from weldsim.scenario.document import Scenario

STEPS_PER_PERIOD = 50
SUPPLIES_KEPT = 6


class Supply:
    """One wired supply, its modes, and how runs of it are begun."""

    def __init__(self, scenario: Scenario, steps_per_period: int = STEPS_PER_PERIOD) -> None:
        self.scenario = scenario
        self.system = wire(scenario)
        self.library = ModeLibrary(self.system, steps_per_period)
        self.period = 1.0 / scenario.mains.frequency
        self._rests: dict[tuple, tuple[np.ndarray, tuple[int, ...]]] = {}  # shared by all twins

    @property
    def periodic(self) -> bool:
        """Whether load and control repeat with the mains."""
        load = self.scenario.load
        return load is None or load.kind != "shorted arc"

    def rest(self) -> tuple[np.ndarray, tuple[int, ...]]:
        """State and signature of the scenario's own start."""
        values = initial_values(self.scenario)  # not the system's own: a twin may have brought that
        key = tuple(values.items())
        if key not in self._rests:
            self._rests[key] = self.system.start(**values)
        state, signature = self._rests[key]
        return state.copy(), signature

    def stepper(
        self,
        state: np.ndarray,
        signature: Sequence[int],
        span: tuple[float, float],
        *,
        delay: float | None,
        extra: Sequence[Command] | np.ndarray = (),
        mains_factor: float = 1.0,
    ) -> Stepper:
        """A run under way from a state, over a span of the mains clock, with the gate driven throughout."""
        commands = gate_table(self.scenario, self.system, delay=delay, span=span)
        if len(extra):
            commands = np.concatenate((commands, np.asarray(extra, dtype=float)))
        plan = RunPlan(span[0], span[1], state, tuple(signature), commands, source_scale=mains_factor)
        return Stepper(self.library, plan)

    def from_rest(self, duration: float, *, delay: float | None, mains_factor: float = 1.0) -> Stepper:
        """A run of the scenario from its own start."""
        state, signature = self.rest()
        begin = self.scenario.start.mains_phase / 360.0 * self.period
        shorts = short_commands(self.scenario, self.system, begin=begin, length=duration)
        return self.stepper(
            state, signature, (begin, begin + duration), delay=delay, extra=shorts, mains_factor=mains_factor
        )

    def delay(self, dial: float | None = None, delay: float | None = None) -> float | None:
        """Delay angle asked for [deg]."""
        return asked_delay(self.scenario, dial, delay)


class _Kept(threading.local):
    """The supplies that a thread has run of late: a library of modes that two threads step at once is torn."""

    def __init__(self) -> None:
        self.supplies: dict[str, Supply] = {}


_KEPT = _Kept()


def supply_of(scenario: Scenario, steps_per_period: int = STEPS_PER_PERIOD) -> Supply:
    """The supply of a scenario, shared with all of this thread that differ only in what does not enter the network."""
    key, kept = f"{steps_per_period} {network_key(scenario)}", _KEPT.supplies
    supply = kept.pop(key, None) or Supply(scenario, steps_per_period)
    kept[key] = supply
    while len(kept) > SUPPLIES_KEPT:
        kept.pop(next(iter(kept)))
    if supply.scenario is scenario:
        return supply
    twin = Supply.__new__(Supply)
    twin.__dict__.update(supply.__dict__, scenario=scenario)
    return twin


def network_key(scenario: Scenario) -> str:
    """What of a scenario enters its network, as text."""
    control = scenario.phase_control
    if control is not None and control.dial_kind != "rc-diac":
        control = dataclasses.replace(
            control,
            dial=0.0,
            delay_at_0=0.0,
            delay_at_100=0.0,
            asymmetry=0.0,
            pulse_width=0.0,
            pulse_spacing=None,
            train_end=0.0,
        )
    soft_start = scenario.soft_start
    return repr(
        dataclasses.replace(
            scenario,
            title="",
            notes="",
            source="",
            breaker=None,
            start=type(scenario.start)(),
            phase_control=control,
            soft_start=soft_start if in_series(soft_start) else None,
            wire=None,
            trigger=None,
            feed_motor=None,
            feed_supply=None,
            cooling=None,
            readings=None,
        )
    )
