"""Pictures, scenarios and runs under a name that holds something good: whole afterwards, whatever happens meanwhile."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import weldsim
from tests.runs.samples import a_run
from tests.runs.test_killed import RECORDING, SAVING, kill_at_random
from weldsim.errors import RunFileError, WeldsimError
from weldsim.runs.files import open_run, save_run
from weldsim.scenario.writing import write

ROOT = Path(__file__).parents[2]
WITH_LITTLE_ROOM = """
import resource, sys
import matplotlib
matplotlib.use("Agg")
from matplotlib.figure import Figure
import weldsim
from weldsim.errors import WeldsimError
from weldsim.figures.style import save
from weldsim.scenario.writing import write
figure, scenario = Figure(), weldsim.read("toroid_shed")
figure.subplots().plot([1, 2, 3])
resource.setrlimit(resource.RLIMIT_FSIZE, (200, 200))
for what, to, place in ((figure, save, sys.argv[1]), (scenario, write, sys.argv[2])):
    try:
        to(what, place)
    except WeldsimError as problem:
        print(problem)
"""
DRAWING = """
import sys
from matplotlib.figure import Figure
from weldsim.figures.style import save
figure = Figure()
figure.subplots().plot([1, 2, 3])
save(figure, sys.argv[1])
print("started", flush=True)
while True:
    save(figure, sys.argv[1])
"""
MANY_SAVES = """
import sys
from tests.runs.samples import a_run
from weldsim.runs.files import save_run
for number in range(25):
    save_run(a_run(int(sys.argv[2]) + number), sys.argv[1])
"""
MOMENTS = 100


def child(code, *arguments):
    """Python code in a process of its own."""
    return [sys.executable, "-c", code, *map(str, arguments)]


def test_a_full_disk_leaves_old_pictures_and_scenarios(tmp_path):
    """A limit on the size of files stands in for the full disk: one sentence each, and what was there stays."""
    pytest.importorskip("resource")
    picture, scenario = tmp_path / "p.png", tmp_path / "s.toml"
    picture.write_bytes(b"an old picture")
    scenario.write_text("an old scenario", encoding="utf-8")

    done = subprocess.run(
        child(WITH_LITTLE_ROOM, picture, scenario), cwd=ROOT, capture_output=True, text=True, timeout=300, check=False
    )

    assert (done.returncode, done.stderr) == (0, "")
    assert [line.partition(":")[0] for line in done.stdout.splitlines()] == [str(picture), str(scenario)]
    assert done.stdout.count("cannot be written") == 2
    assert picture.read_bytes() == b"an old picture"
    assert scenario.read_text(encoding="utf-8") == "an old scenario"
    assert sorted(place.name for place in tmp_path.iterdir()) == ["p.png", "s.toml"]


@pytest.mark.parametrize("name", ["", ".", "no/such/folder/x.toml", "\x00.toml", "x" * 5000 + ".toml"])
def test_names_that_no_scenario_can_have(tmp_path, monkeypatch, name):
    """A scenario under a name that cannot be is refused in a sentence."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(WeldsimError, match="cannot be written"):
        write(weldsim.read("toroid_shed"), name)
    assert not list(tmp_path.iterdir())


def test_two_processes_under_one_name(tmp_path):
    """Two processes that save under the same name leave one whole run, and readers never meet a torn one."""
    place = save_run(a_run(10), tmp_path / "run.h5")
    writers = [subprocess.Popen(child(MANY_SAVES, place, first), cwd=ROOT) for first in (1000, 2000)]
    opened = set()
    deadline = time.monotonic() + 120
    while any(writer.poll() is None for writer in writers) and time.monotonic() < deadline:
        opened.add(len(open_run(place).time) // 1000)

    assert [writer.wait(timeout=300) for writer in writers] == [0, 0]
    assert opened <= {0, 1, 2}
    assert len(open_run(place).time) in (1024, 2024)
    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]


@pytest.mark.parametrize("seed", range(3))
def test_killed_while_drawing(tmp_path, seed):
    """A process that draws the same name over and over and is killed leaves a whole picture."""
    kill_at_random(DRAWING, tmp_path / "p.png", seed=seed, longest=0.5)

    data = (tmp_path / "p.png").read_bytes()
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    assert data.endswith(b"IEND\xaeB`\x82")  # the last chunk of a PNG file with its check sum


@pytest.mark.slow
def test_killed_at_a_hundred_moments(tmp_path):
    """A writer killed at a hundred random moments never leaves an unreadable file, and finished segments open."""
    place = tmp_path / "run.h5"
    for seed in range(MOMENTS):
        code, longest = ((SAVING, 0.3), (RECORDING, 0.5))[seed % 2]
        kill_at_random(code, place, seed=1000 + seed, longest=longest)
        if place.exists():
            assert len(open_run(place).time) > 0
        for folder in tmp_path.glob("*.segments*"):
            for segment in sorted(folder.glob("[0-9]*.h5")):
                assert len(open_run(segment).time) == 16384


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a kill that cannot be caught")
def test_torn_at_any_byte(tmp_path):
    """A run file cut anywhere, as by a disk that was pulled, is refused in a sentence."""
    whole = save_run(a_run(200), tmp_path / "run.h5").read_bytes()
    chance = random.Random(5)
    for _ in range(100):
        (tmp_path / "torn.h5").write_bytes(whole[: chance.randrange(len(whole))])
        with pytest.raises(RunFileError):
            open_run(tmp_path / "torn.h5")
