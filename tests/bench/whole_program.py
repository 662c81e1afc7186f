"""Start-up with and without compiled code at hand, and the memory of a long weld streamed: each in a fresh Python."""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.measuring import SCENARIOS, Size, line

ROOT = SCENARIOS.parent
COMMANDS = {
    "bare Python": ["-c", "pass"],
    "import weldsim": ["-c", "import weldsim"],
    "weldsim --help": ["-m", "weldsim", "--help"],
    "weldsim check": ["-m", "weldsim", "check", str(SCENARIOS / "toroid_shed.toml")],
    "weldsim preview, with its picture": ["-m", "weldsim", "preview", str(SCENARIOS / "toroid_shed.toml")],
    "weldsim strike, 5 trials, with its picture": [
        "-m", "weldsim", "strike", str(SCENARIOS / "toroid_shed.toml"), "--trials", "5",
    ],
}  # fmt: skip
SIMULATING = ("weldsim preview, with its picture", "weldsim strike, 5 trials, with its picture")


def _seconds(arguments: list[str], folder: Path, cache: Path) -> float:
    """Wall seconds of a fresh Python from start to end."""
    surroundings = {**os.environ, "WELDSIM_CACHE": str(cache), "PYTHONPATH": str(ROOT), "MPLBACKEND": "agg"}
    begin = time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=folder, env=surroundings, check=True, capture_output=True)
    return time.perf_counter() - begin


def start_up(size: Size) -> dict:
    """Wall seconds of whole commands: cold, with an empty folder for compiled code, then warm."""
    names = list(COMMANDS)[: size.of(len(COMMANDS), 3)]
    found: dict[str, dict[str, list[float]]] = {}
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name in names:
            row: dict[str, list[float]] = {}
            cache = folder / str(len(found))
            if name in SIMULATING:
                row["cold"] = [_seconds(COMMANDS[name], folder, cache)]
            row["warm"] = [_seconds(COMMANDS[name], folder, cache) for _ in range(size.rounds)]
            found[name] = row
    return found


def start_up_lines(found: dict) -> list[str]:
    """Seconds; the least of the warm rounds, since whatever else runs can only add to it."""
    lines = [line("a whole command, from start to end", "cold s", "warm s")]
    for name, row in found.items():
        cold = f"{min(row['cold']):.2f}" if "cold" in row else ""
        lines.append(line("  " + name, cold, f"{min(row['warm']):.2f}"))
    return lines


def memory(size: Size) -> dict:
    """Largest memory of a weld streamed into a file, at a tenth of its length and at its end, in a fresh Python."""
    seconds = 2.0 if size.tiny else size.weld
    with tempfile.TemporaryDirectory() as place:
        command = [sys.executable, "-m", "tests.bench.streamed_weld", str(seconds), str(Path(place) / "weld.h5")]
        surroundings = {**os.environ, "PYTHONPATH": str(ROOT)}
        done = subprocess.run(command, cwd=ROOT, env=surroundings, check=True, capture_output=True, text=True)
    return {"seconds": seconds, **json.loads(done.stdout)}


def memory_lines(found: dict) -> list[str]:
    """Megabytes."""
    early, late = found["early"], found["late"]
    return [
        line("a weld of dip transfer streamed into a file", "weld s", "most MB", "file MB", "CPU s"),
        line("  a tenth of it", f"{early['welded']:g}", f"{early['memory']:.0f}", "", f"{early['cpu']:.1f}"),
        line(
            "  all of it", f"{late['welded']:g}", f"{late['memory']:.0f}", f"{found['file']:.1f}", f"{late['cpu']:.1f}"
        ),
        f"  memory grew by {late['memory'] - early['memory']:.1f} MB between the two",
    ]
