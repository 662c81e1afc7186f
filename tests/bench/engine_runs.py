"""The engine's own side of the benchmark, through the same doors that ``perform`` uses."""

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

import weldsim
from tests.bench.peers import Task
from weldsim.runs.supply import Supply

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
EIGHT_SIGNALS = (
    "primary.current",
    "core.flux_linkage",
    "secondary.current",
    "rectifier.current",
    "bank.voltage",
    "bank.current",
    "choke.current",
    "output.voltage",
)


def ready(file: str, steps_per_period: int | None = None) -> Supply:
    """Wire a scenario anew, with no mode assembled yet."""
    scenario = weldsim.read(SCENARIOS / file)
    return Supply(scenario) if steps_per_period is None else Supply(scenario, steps_per_period)


def full_supply() -> Supply:
    """Wire the fullest bundled supply with its hysteresis in twelve friction elements instead of four: 20 states.

    Boost winding, saturating choke, leads, a core whose coercive field of 10 A/m is shared by elements that reach
    their limits between 0.03 and 0.8 T.
    """
    scenario = weldsim.read(SCENARIOS / "toroid_shed_boost.toml")
    reaches = np.geomspace(0.03, 0.8, 12)
    rows = [{"field": f"{10.0 / 12.0:.6f} A/m", "flux_density": f"{reach:.4f} T"} for reach in reaches]
    return Supply(weldsim.vary(scenario, {"core.hysteresis": rows, "core.coercive_field": "absent"}))


def weldsim_engine(supply: Supply, task: Task, *, recording: bool, delay: float | None) -> Callable[[], np.ndarray]:
    """Give one run from rest; with recording, eight signals at the task's sample times (else the end state)."""
    times = task.times

    def run() -> np.ndarray:
        stepper = supply.from_rest(task.duration, delay=delay)
        stepper.run_to(task.duration)
        if not recording:
            return stepper.x
        return stepper.trace().sample(EIGHT_SIGNALS, 0.0, task.sample_interval, len(times)).T

    return run


def with_ledger(supply: Supply, task: Task, *, delay: float | None) -> Callable[[], dict[str, dict[str, float]]]:
    """Give one run from rest with the exact energy of every part over its whole length, and nothing else."""

    def run() -> dict[str, dict[str, float]]:
        stepper = supply.from_rest(task.duration, delay=delay)
        stepper.run_to(task.duration)
        return stepper.trace().integrals(0.0, task.duration).energies()

    return run


def assembly(file: str, task: Task, *, delay: float | None) -> tuple[int, float]:
    """Count the modes of a first run and give the CPU time it takes more than a second one [s]."""
    supply = ready(file)
    run = weldsim_engine(supply, task, recording=False, delay=delay)
    spent = []
    for _ in range(2):
        begin = time.thread_time()
        run()
        spent.append(time.thread_time() - begin)
    return supply.library.assembled, spent[0] - spent[1]
