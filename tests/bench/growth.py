"""How the engine's time grows: with simulated time, with states, and what more cores make of it."""

import os
import time
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial
from multiprocessing import get_context

from tests.bench.measuring import Size, line, middle, supply_named, timed, with_friction
from weldsim.runs.supply import Supply

FRICTION = (1, 2, 4, 8, 16)  # elements of the core


def _simulate(supply: Supply, duration: float, delay: float | None) -> None:
    supply.from_rest(duration, delay=delay).run_to(duration)


def with_time(size: Size) -> dict:
    """CPU seconds of the benchmark supply over once, twice, four and eight times the simulated time."""
    supply, found = supply_named("benchmark_b"), {}
    for factor in (1, 2, 4, 8)[: size.of(4, 2)]:
        work = partial(_simulate, supply, factor * size.duration, 90.0)
        found[f"{factor * size.duration:g} s"] = timed(work, size.rounds)
    return found


def with_states(size: Size) -> dict:
    """CPU seconds of a simulated second against the states: the benchmark supply, then a core of ever more elements."""
    cases = {"benchmark supply": supply_named("benchmark_b")}
    for count in FRICTION[: size.of(len(FRICTION), 1)]:
        cases[f"boost, {count} friction elements"] = supply_named("toroid_shed_boost", with_friction(count))
    found = {}
    for name, supply in cases.items():
        times = timed(partial(_simulate, supply, size.duration, supply.delay()), size.rounds)
        found[name] = {"states": supply.system.size, "modes": len(supply.library.signatures), "times": times}
    return found


def _share(runs: int, duration: float) -> None:
    """Runs of one worker, on a supply of its own."""
    supply = supply_named("benchmark_b")
    for _ in range(runs):
        _simulate(supply, duration, 90.0)


def _wall(pool: Executor, workers: int, runs: int, duration: float) -> float:
    list(pool.map(_share, [1] * workers, [duration] * workers))  # everybody is awake and compiled
    begin = time.perf_counter()
    list(pool.map(_share, [runs // workers] * workers, [duration] * workers))
    return time.perf_counter() - begin


def with_cores(size: Size) -> dict:
    """Wall seconds of the same runs shared out to one, two, ... threads and processes, up to the cores there are."""
    most = os.cpu_count() or 1
    counts = sorted({1, *(2**k for k in range(1, 8) if 2**k <= most), most}) if not size.tiny else [1]
    runs = size.of(64 * most, 2)
    duration = size.of(20, 1) * size.duration  # each worker assembles its modes once: little beside its runs
    found: dict[str, dict[str, list[float]]] = {"threads": {}, "processes": {}}
    for workers in counts:
        makers = {
            "threads": partial(ThreadPoolExecutor, workers),
            "processes": partial(ProcessPoolExecutor, workers, mp_context=get_context("spawn")),
        }
        for kind, maker in makers.items():
            if size.tiny and kind == "processes":
                continue  # a fresh Python for a few milliseconds of work
            with maker() as pool:
                walls = [_wall(pool, workers, runs, duration) for _ in range(min(size.rounds, 3))]
            found[kind][str(workers)] = walls
    return found


def growth(size: Size) -> dict:
    """All three."""
    return {"time": with_time(size), "states": with_states(size), "cores": with_cores(size)}


def growth_lines(found: dict) -> list[str]:
    """Times and their ratios to the first of each group."""
    lines = [line("growth with simulated time", "CPU ms", "ratio")]
    base = middle(next(iter(found["time"].values())))
    for name, times in found["time"].items():
        lines.append(line("  " + name, f"{1e3 * middle(times):.3f}", f"{middle(times) / base:.2f}"))
    lines.append(line("growth with states", "states", "modes", "CPU ms", "ratio"))
    base = middle(next(iter(found["states"].values()))["times"])
    for name, row in found["states"].items():
        spent = middle(row["times"])
        columns = (str(row["states"]), str(row["modes"]), f"{1e3 * spent:.3f}", f"{spent / base:.2f}")
        lines.append(line("  " + name, *columns))
    lines.append(line("the same runs shared out", "workers", "wall s", "gain"))
    for kind, rows in found["cores"].items():
        for workers, walls in rows.items():
            gain = min(next(iter(rows.values()))) / min(walls)
            lines.append(line("  " + kind, workers, f"{min(walls):.3f}", f"{gain:.2f}"))
    return lines
