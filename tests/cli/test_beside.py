"""Pictures drawn in a process of its own: the same picture, never a needed one missing, nobody left behind."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from weldsim.cli import beside

PLAIN = """
title = "Resistor behind a triac"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
delay_at_0 = "170 deg"
delay_at_100 = "10 deg"
[load]
kind = "resistor"
resistance = "10 ohm"
"""
RUN = "import sys; from weldsim.cli.main import main; sys.argv[0] = 'weldsim'; code = main(); {}; sys.exit(code)"


def one_command(folder: Path, *typed: str, then: str = "pass") -> subprocess.CompletedProcess[str]:
    """A command line in a process of its own; ``then`` is done in it afterwards."""
    root = str(Path(__file__).parents[2])
    return subprocess.run(
        [sys.executable, "-c", RUN.format(then), *typed],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": root},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    """A folder with a small scenario."""
    (tmp_path / "plain.toml").write_text(PLAIN, encoding="utf-8")
    return tmp_path


def test_the_same_picture_from_either_process(plain: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawn beside or here, a picture has the same bytes."""
    from weldsim.cli.main import main

    monkeypatch.chdir(plain)
    typed = ["preview", "plain.toml", "--dial", "50%", "--figure"]
    told = one_command(plain, *typed, "beside.png")
    assert told.returncode == 0, told.stderr
    assert main([*typed, "here.png"]) == 0  # not a process of its own: drawn here
    assert (plain / "beside.png").read_bytes() == (plain / "here.png").read_bytes()


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one core: nothing is drawn beside")
def test_the_computing_process_loads_nothing_that_draws_or_compiles(plain: Path) -> None:
    """With compiled code at hand, numbers and picture come without matplotlib, scipy and numba's compiler here."""
    one_command(plain, "preview", "plain.toml", "--dial", "50%")  # compiles, where nothing is compiled yet
    heavy = ["matplotlib", "scipy.linalg", "numba.np.linalg", "h5py"]
    then = f"print('LOADED', *[name for name in {heavy} if name in sys.modules])"
    told = one_command(plain, "preview", "plain.toml", "--dial", "50%", then=then)
    assert told.stdout.splitlines()[-1].split() == ["LOADED"], told.stdout[-300:]
    assert (plain / "plain-preview.png").exists()


class Broken:
    """A process that takes what it is given and fails."""

    def __init__(self) -> None:
        command = [sys.executable, "-c", "import sys; sys.stdin.read(); sys.exit(1)"]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE)


def test_a_process_that_fails_is_told(tmp_path: Path) -> None:
    """Whoever asked is told that there is no picture, and draws it himself."""
    assert not beside.Beside(Broken().process).has_drawn("answer", tmp_path / "x.png")
    assert not beside.Beside(None).has_drawn("answer", tmp_path / "x.png")


def test_what_cannot_be_handed_over_is_told(tmp_path: Path) -> None:
    """An answer that cannot be handed to another process is drawn here."""
    waiting = Broken().process
    unspeakable: Any = lambda: None  # noqa: E731
    assert not beside.Beside(waiting).has_drawn(unspeakable, tmp_path / "x.png")
    waiting.communicate()


def test_the_process_ends_with_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """A command that fails before it has an answer leaves no process behind."""
    monkeypatch.setattr(beside, "_OF_ITS_OWN", [True])
    monkeypatch.setattr(beside.os, "cpu_count", lambda: 2)
    started: list[Any] = []
    start = subprocess.Popen
    monkeypatch.setattr(
        beside.subprocess, "Popen", lambda *args, **kwargs: started.append(start(*args, **kwargs)) or started[-1]
    )
    with pytest.raises(RuntimeError), beside.drawing_beside("preview", wanted=True):
        raise RuntimeError
    assert len(started) == 1
    assert started[0].returncode is not None
