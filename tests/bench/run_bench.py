"""``python -m tests.bench.run_bench``: the benchmark supply for one second, by general ODE libraries and by the engine.

All run one after the other in this process, CPU time of this process, median of several rounds; the error is the worst
sample of all signals but the triac's own, of full scale, against the twin at its tightest.  Peers whose library is
not installed are left out and named.  Raw times go to a JSON file.
"""

import argparse
import json
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

import weldsim
from tests.bench.peers import PEERS, Task, available
from tests.reference.twin import Case, solve
from tests.reference.twin_equations import SIGNALS as SIGNAL_NAMES
from weldsim.runs.presses import Presser, Setting, drawn
from weldsim.runs.supply import Supply

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
EIGHT = [
    "output.current", "output.voltage", "bank.voltage", "primary.current", "core.flux_linkage", "choke.current",
    "secondary.current", "snubber.current",
]  # fmt: skip
LEFT_OUT = ("phase_control.voltage", "phase_control.current")  # they jump at sample times


def timed(work: Callable[[], object], rounds: int) -> list[float]:
    """CPU seconds of one call in each round; short work is repeated within a round for a tenth of a second."""
    work()
    begin = time.process_time()
    work()
    repeats = max(1, min(200, round(0.1 / max(time.process_time() - begin, 1e-6)))) if rounds > 1 else 1
    found = []
    for _ in range(rounds):
        begin = time.process_time()
        for _ in range(repeats):
            work()
        found.append((time.process_time() - begin) / repeats)
    return found


def error_of(values: np.ndarray, reference: np.ndarray) -> float:
    """Worst sample of all signals but the triac's own, of each signal's largest value."""
    kept = [k for k, name in enumerate(SIGNAL_NAMES) if name not in LEFT_OUT]
    scale = np.abs(reference[:, kept]).max(axis=0)
    return float((np.abs(values[:, kept] - reference[:, kept]).max(axis=0) / scale).max())


def supply_of(name: str, changes: dict[str, object] | None = None) -> Supply:
    """A supply of its own, with no mode assembled yet."""
    scenario = weldsim.read(SCENARIOS / f"{name}.toml")
    return Supply(weldsim.vary(scenario, changes) if changes else scenario)


def engine_rows(duration: float, rounds: int, reference: np.ndarray, times: np.ndarray) -> dict[str, dict]:
    """The engine on the benchmark supply: alone, with eight signals recorded, with the ledger; and its error."""
    supply = supply_of("benchmark_b")
    began = time.process_time()
    supply.from_rest(duration, delay=90.0).run_to(duration)
    first = time.process_time() - began

    def alone() -> object:
        stepper = supply.from_rest(duration, delay=90.0)
        stepper.run_to(duration)
        return stepper

    def recorded() -> object:
        return alone().trace().sample(EIGHT, 0.0, spacing=50e-6, count=round(duration / 50e-6) + 1)

    def audited() -> object:
        return alone().trace().integrals(0.0, duration).energies()

    steps = timed(alone, rounds)
    trace = alone().trace()
    names = [name for name in SIGNAL_NAMES if name in trace.names]
    values = np.full((len(times), len(SIGNAL_NAMES)), np.nan)
    for name, column in zip(names, trace.sample(names, 0.0, spacing=float(times[1]), count=len(times)), strict=True):
        values[:, SIGNAL_NAMES.index(name)] = column
    known = [SIGNAL_NAMES.index(name) for name in names if name not in LEFT_OUT]
    scale = np.abs(reference[:, known]).max(axis=0)
    error = float((np.abs(values[:, known] - reference[:, known]).max(axis=0) / scale).max())
    return {
        "engine, without recording": {"times": steps, "error": error},
        "engine, 8 signals at 50 us": {"times": timed(recorded, rounds), "error": error},
        "engine, with energy ledger": {"times": timed(audited, rounds), "error": error},
        "engine, first run (modes assembled)": {"times": [first], "error": error, "modes": supply.library.assembled},
    }


def full_supply(rounds: int) -> dict:
    """A supply with boost, saturating choke and eight friction elements: states, modes and CPU seconds."""
    rows = [{"field": 3.0 + 4.0 * k, "flux_density": 0.03 + 0.03 * k} for k in range(8)]
    supply = supply_of("toroid_shed_boost", {"core.hysteresis": rows, "core.coercive_field": "absent"})
    delay = supply.delay()

    def alone() -> object:
        stepper = supply.from_rest(1.0, delay=delay)
        stepper.run_to(1.0)
        return stepper

    found = timed(alone, rounds)
    return {"times": found, "states": supply.system.size, "modes": len(supply.library.signatures)}


def presses(rounds: int, peers: list[str] | None, *, count: int = 200) -> dict:
    """CPU seconds of a thousand trigger presses of the benchmark supply, and of as many separate runs of a peer.

    A press is the end of the conduction before, its pause of 0.5 to 5 s, and 60 ms; the peer is spared the pause: its
    runs are 80 ms of conduction.
    """
    presser = Presser(weldsim.read(SCENARIOS / "benchmark_b.toml"), Setting(delay=90.0))
    triggers = [drawn(1, trial) for trial in range(count)]
    mine = timed(lambda: [presser.press(0, trigger) for trigger in triggers], rounds)
    found = {"engine": [1000.0 / count * seconds for seconds in mine]}
    name = "scipy LSODA"
    if name in (available() if peers is None else peers):
        task, entry = Task(duration=0.08), PEERS[name]
        peer = entry.make(*entry.coarse)
        found[name] = [1000.0 * seconds for seconds in timed(lambda: peer(task), rounds)]
    return found


def run(duration: float = 1.0, rounds: int = 5, peers: list[str] | None = None) -> dict:
    """All figures of the bench."""
    task = Task(duration=duration)
    twin = solve(Case(load="B", delay=90.0, duration=duration, sample_interval=task.sample_interval), tolerance=1e-11)
    reference = np.column_stack([twin[name] for name in SIGNAL_NAMES])
    results: dict = {"rows": engine_rows(duration, rounds, reference, task.times)}
    results["left out"] = sorted(set(PEERS) - set(available()))
    for name in available() if peers is None else peers:
        entry = PEERS[name]
        for kind in ("coarse", "fine"):
            peer = entry.make(*getattr(entry, kind))
            error = error_of(peer(task), reference)
            results["rows"][f"{name}, {kind}"] = {"times": timed(lambda peer=peer: peer(task), rounds), "error": error}
    results["full supply"] = full_supply(rounds)
    results["1000 presses"] = presses(rounds, peers, count=200 if rounds > 1 else 5)
    supply = supply_of("benchmark_b")

    def seconds(length: float) -> float:
        def work() -> object:
            supply.from_rest(length, delay=90.0).run_to(length)
            return None

        return statistics.median(timed(work, rounds))

    results["growth with simulated time"] = {f"{k:g} s": seconds(k * duration) for k in (1.0, 2.0, 4.0)}
    return results


def table(results: dict) -> str:
    """The results as text: CPU milliseconds, ratio to the engine without recording, error."""
    rows = results["rows"]
    base = statistics.median(rows["engine, without recording"]["times"])
    lines = [f"{'':44}{'CPU ms':>10}{'ratio':>10}{'error':>11}"]
    for name, row in rows.items():
        middle = statistics.median(row["times"])
        lines.append(f"{name:44}{1e3 * middle:10.3f}{middle / base:10.1f}{row['error']:11.1e}")
    full = results["full supply"]
    middle = statistics.median(full["times"])
    lines.append(
        f"{'full supply, ' + str(full['states']) + ' entries of state':44}{1e3 * middle:10.3f}{middle / base:10.1f}"
    )
    times = {name: statistics.median(row) for name, row in results["1000 presses"].items()}
    for name, seconds in times.items():
        ratio = seconds / times["engine"]
        lines.append(f"{f'1000 presses, {name}':44}{1e3 * seconds:10.0f}{ratio:10.1f} of the engine's")
    growth = results["growth with simulated time"].values()
    lines.append("growth with simulated time: " + ", ".join(f"{value / next(iter(growth)):.2f}" for value in growth))
    if results["left out"]:
        lines.append(f"not installed, not run: {', '.join(results['left out'])}")
    return "\n".join(lines)


def main() -> None:
    """Run the bench, print its table, write the raw times."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--raw", type=Path, default=Path("bench.json"))
    options = parser.parse_args()
    results = run(rounds=options.rounds)
    options.raw.write_text(json.dumps(results, indent=1), encoding="utf-8")
    print(table(results))
    print(f"raw times: {options.raw}")


if __name__ == "__main__":
    main()
