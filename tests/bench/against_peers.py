"""The benchmark supply by general ODE libraries and by the engine; a full supply by the engine; presses by both."""

import time

import numpy as np

import weldsim
from tests.bench.measuring import SCENARIOS, Size, line, middle, supply_named, timed, with_friction
from tests.bench.peers import PEERS, Task, available
from tests.reference.twin import Case, solve
from tests.reference.twin_equations import SIGNALS as SIGNAL_NAMES
from weldsim.runs.presses import Presser, Setting, drawn
from weldsim.runs.supply import Supply

EIGHT = [
    "output.current", "output.voltage", "bank.voltage", "primary.current", "core.flux_linkage", "choke.current",
    "secondary.current", "snubber.current",
]  # fmt: skip
LEFT_OUT = ("phase_control.voltage", "phase_control.current")  # they jump at sample times
ALONE = "engine, without recording"


def worst_sample(values: np.ndarray, reference: np.ndarray, names: list[str]) -> float:
    """Worst sample of all signals but the triac's own, of each signal's largest value."""
    kept = [SIGNAL_NAMES.index(name) for name in names if name not in LEFT_OUT]
    scale = np.abs(reference[:, kept]).max(axis=0)
    return float((np.abs(values[:, kept] - reference[:, kept]).max(axis=0) / scale).max())


def engine_rows(supply: Supply, delay: float, size: Size) -> dict[str, dict]:
    """CPU seconds of the engine: alone, with eight signals recorded, with the ledger, and with modes yet unknown."""
    duration = size.duration
    began = time.process_time()
    supply.from_rest(duration, delay=delay).run_to(duration)
    first = time.process_time() - began
    known = {signal.name for signal in supply.system.signals}
    eight = [name for name in EIGHT if name in known]

    def alone():
        stepper = supply.from_rest(duration, delay=delay)
        stepper.run_to(duration)
        return stepper

    def recorded():
        return alone().trace().sample(eight, 0.0, spacing=50e-6, count=round(duration / 50e-6) + 1)

    def audited():
        return alone().trace().integrals(0.0, duration).energies()

    return {
        ALONE: {"times": timed(alone, size.rounds)},
        f"engine, {len(eight)} signals at 50 us": {"times": timed(recorded, size.rounds)},
        "engine, with energy ledger": {"times": timed(audited, size.rounds)},
        "engine, first run (modes assembled)": {"times": [first], "modes": supply.library.assembled},
    }


def engine_error(supply: Supply, task: Task, reference: np.ndarray) -> float:
    """The engine's worst sample against the twin."""
    stepper = supply.from_rest(task.duration, delay=task.delay)
    stepper.run_to(task.duration)
    trace, times = stepper.trace(), task.times
    names = [name for name in SIGNAL_NAMES if name in trace.names]
    values = np.full((len(times), len(SIGNAL_NAMES)), np.nan)
    for name, column in zip(names, trace.sample(names, 0.0, spacing=float(times[1]), count=len(times)), strict=True):
        values[:, SIGNAL_NAMES.index(name)] = column
    return worst_sample(values, reference, names)


def benchmark(size: Size) -> dict:
    """The benchmark supply on the arc line at 90 degrees: CPU seconds of a simulated second, and the worst sample."""
    task = Task(duration=size.duration)
    case = Case(load="B", delay=task.delay, duration=task.duration, sample_interval=task.sample_interval)
    twin = solve(case, tolerance=1e-11)
    reference = np.column_stack([twin[name] for name in SIGNAL_NAMES])
    supply = supply_named("benchmark_b")
    rows = engine_rows(supply, task.delay, size)
    error = engine_error(supply, task, reference)
    rows = {name: {**row, "error": error} for name, row in rows.items()}
    for name in available() if size.peers is None else size.peers:
        entry = PEERS[name]
        for kind in ("coarse", "fine"):
            peer = entry.make(*getattr(entry, kind))
            error = worst_sample(peer(task), reference, list(SIGNAL_NAMES))
            rows[f"{name}, {kind}"] = {"times": timed(lambda peer=peer: peer(task), size.rounds), "error": error}
    return {"rows": rows, "left out": sorted(set(PEERS) - set(available()))}


def benchmark_lines(found: dict) -> list[str]:
    """CPU milliseconds, ratio to the engine without recording, error."""
    base = middle(found["rows"][ALONE]["times"])
    lines = [line("a simulated second of the benchmark supply", "CPU ms", "ratio", "error")]
    for name, row in found["rows"].items():
        spent = middle(row["times"])
        lines.append(line("  " + name, f"{1e3 * spent:.3f}", f"{spent / base:.1f}", f"{row['error']:.1e}"))
    if found["left out"]:
        lines.append(f"  not installed, not run: {', '.join(found['left out'])}")
    return lines


def full_supply(size: Size) -> dict:
    """A supply with boost, saturating choke and eight friction elements: states, modes and CPU seconds."""
    supply = supply_named("toroid_shed_boost", with_friction(8))
    delay = supply.delay()
    assert delay is not None
    rows = engine_rows(supply, delay, size)
    return {"rows": rows, "states": supply.system.size, "modes": len(supply.library.signatures)}


def full_supply_lines(found: dict) -> list[str]:
    """The same columns for the full supply; nobody has written it for a general library."""
    base = middle(found["rows"][ALONE]["times"])
    heading = f"a full supply, {found['states']} entries of state, {found['modes']} modes"
    lines = [line(heading, "CPU ms", "ratio")]
    for name, row in found["rows"].items():
        spent = middle(row["times"])
        lines.append(line("  " + name, f"{1e3 * spent:.3f}", f"{spent / base:.1f}"))
    return lines


def presses(size: Size) -> dict:
    """CPU seconds of a thousand trigger presses of the benchmark supply, and of as many separate runs of a peer.

    A press is the end of the conduction before, its pause of 0.5 to 5 s, and 60 ms; the peer is spared the pause: its
    runs are 80 ms of conduction.
    """
    count = size.of(1000, 5)
    presser = Presser(weldsim.read(SCENARIOS / "benchmark_b.toml"), Setting(delay=90.0))
    triggers = [drawn(1, trial) for trial in range(count)]
    mine = timed(lambda: [presser.press(0, trigger) for trigger in triggers], size.rounds)
    found = {"engine": [1000.0 / count * seconds for seconds in mine]}
    name = "scipy LSODA"
    if name in (available() if size.peers is None else size.peers):
        task, entry = Task(duration=0.08), PEERS[name]
        peer = entry.make(*entry.coarse)
        found[f"separate runs, {name}"] = [1000.0 * seconds for seconds in timed(lambda: peer(task), size.rounds)]
    return found


def presses_lines(found: dict) -> list[str]:
    """CPU seconds and ratio."""
    base = middle(found["engine"])
    lines = [line("1000 trigger presses of the benchmark supply", "CPU s", "ratio")]
    for name, times in found.items():
        lines.append(line("  " + name, f"{middle(times):.3f}", f"{middle(times) / base:.1f}"))
    return lines
