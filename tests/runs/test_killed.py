"""Writers that are killed at a random moment: what was whole stays whole."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.runs.samples import a_run
from weldsim.runs.files import open_run, save_run

ROOT = Path(__file__).parents[2]
ROUNDS = 5
SAVING = """
import sys
from tests.runs.samples import a_run
from weldsim.runs.files import save_run
runs = [a_run(30_000 + number) for number in range(3)]
save_run(runs[0], sys.argv[1])
print("started", flush=True)
number = 0
while True:
    number += 1
    save_run(runs[number % 3], sys.argv[1])
"""
RECORDING = """
import sys
from tests.runs.test_segments import CHUNK, SegmentWriter, blocks, heading
with SegmentWriter(sys.argv[1], heading(), rows=CHUNK) as writer:
    for number, (time, signals, events) in enumerate(blocks(30 * CHUNK, 4000)):
        writer.add(time, signals, events)
        if number == 1:
            print("started", flush=True)
    writer.finish(ledger={}, table={}, window=(0.0, 1.0))
"""


def kill_at_random(code, place, *, seed, longest):
    """Start a writer, kill it within ``longest`` seconds of its first file, and wait until it is gone."""
    writer = subprocess.Popen([sys.executable, "-c", code, str(place)], cwd=ROOT, stdout=subprocess.PIPE)
    assert writer.stdout.readline() == b"started\n"
    time.sleep(random.Random(seed).uniform(0.0, longest))
    writer.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
    writer.stdout.close()
    writer.wait(timeout=300)


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_killed_while_saving(tmp_path, seed):
    """A process that saves the same name over and over and is killed leaves a whole file under it."""
    place = tmp_path / "run.h5"

    kill_at_random(SAVING, place, seed=seed, longest=0.3)

    assert len(open_run(place).time) in (30_000, 30_001, 30_002)
    scraps = [item.name for item in tmp_path.iterdir() if item != place]
    assert len(scraps) <= 1  # the one file under way, under a name of its own
    assert all(name.startswith(".weldsim-") and name.endswith(".part") for name in scraps)


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_killed_while_recording(tmp_path, seed):
    """A long recording that is killed leaves the old file or the finished new one, and every finished segment opens."""
    place = save_run(a_run(10), tmp_path / "run.h5")

    kill_at_random(RECORDING, place, seed=seed, longest=0.5)

    rows = len(open_run(place).time)
    assert rows in (10, 30 * 16384)
    folder = tmp_path / "run.h5.segments"
    segments = sorted(folder.glob("[0-9]*.h5")) if folder.is_dir() else []
    assert all(len(open_run(segment).time) == 16384 for segment in segments)
    if segments and rows == 10:
        assert len(open_run(folder).time) == 16384 * len(segments)
