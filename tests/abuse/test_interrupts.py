"""Ctrl-C at random moments of the long commands: exit code 130, one sentence, whole files, nobody left behind."""

import contextlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from weldsim.runs.files import open_run

ROOT = Path(__file__).parents[2]
MOMENTS = 10
COMMANDS = {
    "strike": "strike toroid_shed_boost.toml --trials 400 --dial 40%",
    "inrush": "inrush toroid_shed.toml --presses 9000",
    "weld": "weld toroid_shed_boost.toml --seconds 300 --save w.h5",
    "preview": "preview toroid_shed_boost.toml --from rest --duration 60s --window 10s --save w.h5",
    "sweep": "sweep toroid_shed.toml --over dial=20%:90%:40 --study preview --workers 2 --folder kept",
}


def interrupted(command, folder, wait, cache=None):
    """Exit code and last words of a command whose group is interrupted after a while, as a terminal does it."""
    command = [sys.executable, "-m", "weldsim", *command.split()]
    env = dict(os.environ, PYTHONPATH=str(ROOT), **({"WELDSIM_CACHE": str(cache)} if cache else {}))
    work = subprocess.Popen(command, cwd=folder, env=env, stderr=subprocess.PIPE, text=True, start_new_session=True)
    time.sleep(wait)
    os.killpg(work.pid, signal.SIGINT)
    words = work.communicate(timeout=300)[1]
    return work, words


def living(group):
    """Processes of a group that are more than an entry in the table, by what they were called with."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            state, _, of = (place / "stat").read_text().rpartition(")")[2].split()[:3]
            if int(of) == group and state != "Z":
                found.append((place / "cmdline").read_text().split("\0"))
    return found


def check(name, folder, wait, cache=None):
    """One interrupt, and all that must be so afterwards."""
    folder.mkdir()
    work, words = interrupted(COMMANDS[name], folder, wait, cache)
    sentences = [line for line in words.splitlines() if line.startswith("weldsim: interrupted")]
    assert (work.returncode, len(sentences)) == (130, 1), (wait, words)
    assert "Traceback" not in words, (wait, words)
    time.sleep(0.2)  # those that were told to end need a moment
    assert not living(work.pid), (wait, living(work.pid), words)
    for place in folder.rglob("*"):
        assert not place.name.endswith(".part")
        if place.is_dir():
            assert any(place.iterdir()), place
        elif place.suffix == ".h5":
            assert len(open_run(place).time) > 0


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs a system that lists its processes in /proc")
@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 130), (signal.SIGKILL, -signal.SIGKILL)])
def test_killed_alone(tmp_path, number, code):
    """A sweep that is killed without its group takes its processes along; asked to end, it also says what it keeps."""
    command = [sys.executable, "-m", "weldsim", *COMMANDS["sweep"].split()]
    env = dict(os.environ, PYTHONPATH=str(ROOT))
    with (tmp_path / "words").open("w+") as words:
        work = subprocess.Popen(command, cwd=tmp_path, env=env, stdout=words, stderr=words, start_new_session=True)
        try:
            while not (tmp_path / "kept" / "case-0002.json").exists():  # the first that another process has done
                assert work.poll() is None
                time.sleep(0.05)
            work.send_signal(number)
            assert work.wait(timeout=300) == code
            wait_until(lambda: not living(work.pid), seconds=30)
            words.seek(0)
            said = words.read()
        finally:
            with contextlib.suppress(OSError):
                os.killpg(work.pid, signal.SIGKILL)
    assert "Traceback" not in said
    assert ("of 40 cases are kept in kept; --resume goes on" in said) == (number == signal.SIGTERM)


def wait_until(holds, *, seconds):
    """Look again and again until something holds; after so many seconds it does not."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.1)


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs a system that lists its processes in /proc")
@pytest.mark.parametrize("start", ["warm", "cold"])
@pytest.mark.parametrize("name", COMMANDS)
def test_interrupted_at_random_moments(tmp_path, name, start):
    """From half a second, when Python itself has started for sure, to five: before, while and after it loads.

    Cold, nothing is compiled yet: the interrupt meets the compiler, which may lose it.
    """
    chance = random.Random(name + start)
    for moment in range(MOMENTS):
        cache = tmp_path / f"cache-{moment}" if start == "cold" else None
        check(name, tmp_path / str(moment), chance.uniform(0.5, 5.0), cache)
