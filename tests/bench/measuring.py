"""What the parts of the bench share: how large they are, how time is taken, and what is said about the machine."""

import gc
import os
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import weldsim
from weldsim.runs.supply import Supply

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
WIDTH = 52  # of the column of names


@dataclass(frozen=True)
class Size:
    """How much is measured: the bench itself, or once and tiny, so that it cannot rot."""

    tiny: bool = False
    rounds: int = 5
    peers: tuple[str, ...] | None = None  # None: all that are installed
    weld: float = 60.0  # [s] of the streamed weld whose memory is looked at

    def of(self, whole: int, small: int) -> int:
        """A number of things: the whole of it, or few when tiny."""
        return small if self.tiny else whole

    @property
    def duration(self) -> float:
        """Simulated time of the runs that are compared [s]."""
        return 0.04 if self.tiny else 1.0


def timed(work: Callable[[], object], rounds: int) -> list[float]:
    """CPU seconds of one call in each round; short work is repeated within a round for a tenth of a second.

    Garbage is not collected meanwhile: what other parts of the bench hold would be searched at the cost of this one.
    """
    work()
    gc.collect()
    gc.disable()
    try:
        begin = time.process_time()
        work()
        repeats = max(1, min(200, round(0.1 / max(time.process_time() - begin, 1e-6)))) if rounds > 1 else 1
        found = []
        for _ in range(rounds):
            begin = time.process_time()
            for _ in range(repeats):
                work()
            found.append((time.process_time() - begin) / repeats)
    finally:
        gc.enable()
    return found


def once(work: Callable[[], object]) -> dict[str, float]:
    """CPU and wall seconds of one call."""
    cpu, wall = time.process_time(), time.perf_counter()
    work()
    return {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall}


def middle(times: list[float]) -> float:
    """Median of the rounds."""
    return statistics.median(times)


def supply_named(name: str, changes: Mapping[str, object] | None = None) -> Supply:
    """A supply of its own, with no mode assembled yet."""
    scenario = weldsim.read(SCENARIOS / f"{name}.toml")
    return Supply(weldsim.vary(scenario, changes) if changes else scenario)


def with_friction(elements: int) -> dict[str, object]:
    """Changes that give a core so many friction elements in place of its coercive field."""
    rows = [{"field": 3.0 + 4.0 * k, "flux_density": 0.24 / elements * (1 + k) / 2.0} for k in range(elements)]
    return {"core.hysteresis": rows, "core.coercive_field": "absent"}


def machine() -> dict[str, object]:
    """Cores, and how many processes wanted them over the last minute: far above the cores, times are worth little."""
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else None
    return {"cores": os.cpu_count(), "load average": load}


def line(name: str, *columns: str) -> str:
    """A line of the table."""
    return f"{name:{WIDTH}}" + "".join(f"{column:>12}" for column in columns)
