"""Engine against general ODE libraries on the benchmark supply, side by side in one process.

    python -m tests.bench.run_bench [--duration 1.0] [--repeats 5] [--out build/bench_times.json]

Case B at 90 degrees from rest, sampled every 50 us.  Every contestant runs once untimed (compiling, assembling modes)
and is then timed in turn with all others, so that a busy machine is busy for all; CPU time of the calling thread, median
of the repeats.  The error is the largest difference of any signal but the triac's voltage from the twin at its tightest,
of that signal's full scale.  Raw times go into the JSON file.  What is not installed is not run and not claimed.
"""

import argparse
import json
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.bench import engine_runs, peers
from tests.bench.peers import Task
from tests.reference.twin import Case, TwinRun, solve
from tests.reference.twin_equations import SIGNALS

COMPARED = engine_runs.EIGHT_SIGNALS
SHORTEST = 0.02  # s of CPU time that one timing lasts at least
BARE, RECORDED, LEDGER = "weldsim, nothing recorded", "weldsim, 8 signals recorded", "weldsim, energy ledger"


@dataclass
class Contestant:
    """One line of the table.

    A run, its error (None where nothing is recorded), and its times [s per simulated second].
    """

    name: str
    run: Callable[[], object]
    seconds: float
    error: float | None = None
    loops: int = 1
    times: list[float] = field(default_factory=list)

    def warm(self) -> object:
        """Run twice: once for compiling and assembling, once to choose how many runs one timing takes."""
        result = self.run()
        begin = time.thread_time()
        self.run()
        self.loops = max(1, min(200, int(SHORTEST / max(time.thread_time() - begin, 1e-6))))
        return result

    def time_once(self) -> None:
        """Take one timing."""
        begin = time.thread_time()
        for _ in range(self.loops):
            self.run()
        self.times.append((time.thread_time() - begin) / self.loops / self.seconds)

    @property
    def median(self) -> float:
        """Median CPU time per simulated second [s]."""
        return statistics.median(self.times)


def error_of(values: np.ndarray, columns: tuple[str, ...], twin: TwinRun) -> float:
    """Give the worst sample of the compared signals, of full scale; the voltage of a blocked arc is left out."""
    worst = 0.0
    for name in COMPARED:
        apart = np.abs(values[:, columns.index(name)] - twin[name])
        if name == "output.voltage":
            apart = apart[twin["output.current"] > 0.1]
        worst = max(worst, float(np.max(apart, initial=0.0) / np.max(np.abs(twin[name]))))
    return worst


def contestants(task: Task, twin: TwinRun) -> list[Contestant]:
    """Set up and warm every contestant that can run."""
    supply = engine_runs.ready("benchmark_b.toml")
    made = [
        Contestant(BARE, engine_runs.weldsim_engine(supply, task, recording=False, delay=task.delay), task.duration),
        Contestant(RECORDED, engine_runs.weldsim_engine(supply, task, recording=True, delay=task.delay), task.duration),
        Contestant(LEDGER, engine_runs.with_ledger(supply, task, delay=task.delay), task.duration),
    ]
    for contestant in made:
        result = contestant.warm()
        if contestant.name == RECORDED:
            contestant.error = error_of(np.asarray(result), COMPARED, twin)
    for name in peers.available():
        entry = peers.PEERS[name]
        for aim, (rtol, atol) in (("1e-3", entry.coarse), ("1e-5", entry.fine)):
            run = entry.make(rtol, atol)
            label = f"{name}, about {aim} (rtol {rtol:g}, atol {atol:g})"
            contestant = Contestant(label, lambda run=run: run(task), task.duration)
            contestant.error = error_of(np.asarray(contestant.warm()), SIGNALS, twin)
            made.append(contestant)
    return made


def growth(task: Task) -> list[Contestant]:
    """Set up the engine on one, two and four times the length, and on a full supply of 20 states or more."""
    supply, full = engine_runs.ready("benchmark_b.toml"), engine_runs.ready("toroid_shed_boost.toml")
    made = []
    for factor in (1, 2, 4):
        longer = Task(duration=factor * task.duration)
        run = engine_runs.weldsim_engine(supply, longer, recording=False, delay=task.delay)
        made.append(Contestant(f"benchmark B, {longer.duration:g} s", run, longer.duration))
    name = f"full supply (toroid_shed_boost, {len(full.system.states)} states)"
    run = engine_runs.weldsim_engine(full, task, recording=False, delay=full.delay())
    made.append(Contestant(name, run, task.duration))
    for contestant in made:
        contestant.warm()
    return made


def measure(everyone: list[Contestant], repeats: int) -> None:
    """Time all of them in turn."""
    for _ in range(repeats):
        for contestant in everyone:
            contestant.time_once()


def own_spread(task: Task, twin: TwinRun) -> float:
    """Tell how far the twin moves between its tightest and a looser tolerance, of full scale."""
    other = solve(Case(delay=task.delay, duration=task.duration, sample_interval=task.sample_interval), tolerance=1e-10)
    return error_of(np.column_stack([other[name] for name in COMPARED]), COMPARED, twin)


def show(everyone: list[Contestant], others: list[Contestant]) -> None:
    """Print the tables."""
    bare = next(one.median for one in everyone if one.name == BARE)
    recorded = next(one.median for one in everyone if one.name == RECORDED)
    print(f"{'CPU time per simulated second':<66} {'ms':>10} {'error':>9} {': bare':>9} {': recorded':>11}")
    for one in everyone:
        error = "" if one.error is None else f"{one.error:.1e}"
        ratios = f"{one.median / bare:9.1f} {one.median / recorded:11.1f}"
        print(f"{one.name:<66} {1e3 * one.median:10.3f} {error:>9} {ratios}")
    print()
    for one in others:
        print(f"{one.name:<66} {1e3 * one.median:10.3f} {'':>9} {one.median / others[0].median:9.2f}")


def main(arguments: list[str] | None = None) -> dict:
    """Run the benchmark, print it, write the raw times, and give what was written."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--duration", type=float, default=1.0, help="simulated seconds")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--out", type=Path, default=Path("build/bench_times.json"))
    options = parser.parse_args(arguments)
    task = Task(duration=options.duration)
    case = Case(delay=task.delay, duration=task.duration, sample_interval=task.sample_interval)
    twin = solve(case, tolerance=1e-13)
    everyone, others = contestants(task, twin), growth(task)
    modes, seconds = engine_runs.assembly("benchmark_b.toml", task, delay=task.delay)
    measure(everyone + others, options.repeats)
    report = {
        "duration": task.duration,
        "spread of the twin": own_spread(task, twin),
        "modes assembled": modes,
        "seconds of assembly": seconds,
        "not installed, not run": sorted(set(peers.PEERS) - set(peers.available())),
        "runs": [
            {"name": one.name, "error": one.error, "loops": one.loops, "seconds per simulated second": one.times}
            for one in everyone + others
        ],
    }
    options.out.parent.mkdir(parents=True, exist_ok=True)
    options.out.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    show(everyone, others)
    print(f"\nthe twin's own spread: {report['spread of the twin']:.1e} of full scale")
    print(f"modes assembled: {modes}, in {1e3 * seconds:.0f} ms of the first run, not in the times above")
    print(f"not installed, not run: {', '.join(report['not installed, not run']) or 'none'}")
    print(f"raw times: {options.out}")
    return report


if __name__ == "__main__":
    main()
