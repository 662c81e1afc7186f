"""Hostile files, names, changes and options through every command: an answer or a sentence, never a traceback."""

import contextlib
import dataclasses
import os
import random
import signal
import time
from pathlib import Path

import h5py
import pytest

from tests.abuse.hostile import VALUES, mutated
from weldsim.cli.commands import COMMANDS
from weldsim.cli.main import main
from weldsim.runs.files import open_run
from weldsim.scenario.document import TABLES
from weldsim.units import Choice, Count, Flag, Quantity, Text, rule_of

SCENARIOS = {place.name: place for place in sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))}
KEYS = [f"{table}.{item.name}" for table, part in TABLES.items() for item in dataclasses.fields(part)]
READING = [command for command in COMMANDS if any(option.is_argument for option in command.options)]
ON_SCENARIOS = [command for command in READING if command.name != "show"]
PATIENCE = 300  # [s] beyond which nobody waits, whatever the machine and its load
SHORT = {  # what makes a command quick where its input turns out to be good
    "preview": ["--from", "rest", "--duration", "40 ms", "--window", "20 ms"],
    "characteristic": ["--dial", "50%"],
    "inrush": ["--presses", "1"],
    "drill": ["--presses", "1", "--on", "40 ms", "--off", "100 ms"],
    "strike": ["--trials", "1"],
    "sequence": ["--trials", "1"],
    "choke": ["--trials", "1"],
    "spot": ["--spots", "1", "--spot-time", "50 ms"],
    "weld": ["--seconds", "0.2"],
    "taps": ["--presses", "1"],
    "sweep": ["--over", "mains.resistance=0.1ohm:0.2ohm:2", "--from", "rest", "--duration", "40 ms"],
}


class TookTooLong(Exception):  # noqa: N818  (a hang, not an error of the input)
    """A command has not come back."""


@contextlib.contextmanager
def patience(seconds):
    """Give up on what takes longer, where the system can tell."""
    if not hasattr(signal, "SIGALRM"):
        yield
        return

    def give_up(_number, _frame):
        raise TookTooLong

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture
def told(capsys, tmp_path, monkeypatch):
    """Run a command in an empty folder; its exit code, after its output has been looked at."""
    monkeypatch.chdir(tmp_path)

    def run(*typed):
        with patience(PATIENCE):
            code = main(list(typed))
        said = capsys.readouterr().err
        assert code in (0, 2), typed
        assert (code == 0) or said.startswith("weldsim: "), typed
        assert "should not have happened" not in said, (typed, said)
        assert "Traceback" not in said, (typed, said)
        return code

    return run


@pytest.mark.parametrize("block", range(8))
def test_mutated_files(told, tmp_path, block):
    """A scenario file to which anything has been done is checked or refused."""
    names = list(SCENARIOS)
    for seed in range(block * 50, (block + 1) * 50):
        (tmp_path / "m.toml").write_bytes(mutated(SCENARIOS[names[seed % len(names)]].read_bytes(), seed))
        told("check", "m.toml")


def test_changes_as_typed(told):
    """Any text behind --set is a change or a complaint."""
    keys = [*KEYS, "", "a.b", "mains", "x" * 3000, "mains..voltage", "__class__.__init__", "title", "core..", "=", "."]
    chance, names = random.Random(1), list(SCENARIOS)
    for _ in range(300):
        settings = [f"{chance.choice(keys)}={chance.choice(VALUES)}" for _ in range(chance.choice((1, 1, 2)))]
        told("check", chance.choice(names), *(part for setting in settings for part in ("--set", setting)))


@pytest.mark.parametrize("command", READING, ids=lambda command: command.name)
@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00" * 4000,
        '[mains]\nvoltage = "230 V"\n'.encode("utf-16"),
        'title = "caf\u00e9"\n'.encode("latin-1"),
        b"\x89HDF\r\n\x1a\n" + bytes(500),
        b"[mains]\nvoltage = nan\nfrequency = inf\n",
        b"x = " + b"[" * 100_000,
        b"[mains" * 20_000,
    ],
    ids=["empty", "zeros", "utf-16", "latin-1", "hdf5", "nan", "deep", "long"],
)
def test_every_command_refuses_what_is_no_scenario(told, tmp_path, command, content):
    """Files of another kind, encoding or depth end in a sentence, whichever command reads them."""
    (tmp_path / "m.toml").write_bytes(content)

    assert told(command.name, "m.toml", *SHORT.get(command.name, [])) == 2


@pytest.mark.parametrize("command", READING, ids=lambda command: command.name)
def test_every_command_refuses_hostile_names(told, tmp_path, command):
    """Names that lead nowhere, upwards, to folders or devices, or that cannot be names, are told in a sentence."""
    for name in ("", ".", "..", "/", "/dev/null/x", "nowhere.toml", "\x00", "a\nb", "-", "x" * 5000, "\udcff", "C:\\x"):
        assert told(command.name, name, *SHORT.get(command.name, [])) == 2


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes and devices")
def test_what_never_ends_is_not_read(told, tmp_path):
    """A pipe that nobody writes to and a device without end are refused, and nobody waits for them."""
    os.mkfifo(tmp_path / "pipe.toml")
    for name in ("pipe.toml", "/dev/zero", "/dev/full"):
        assert told("check", name) == 2
        assert told("show", name) == 2


def test_a_run_does_not_replace_what_is_no_run(told, tmp_path):
    """A scenario, or any other file, is still there after --save with its name; an empty file or a run is replaced."""
    (tmp_path / "mine.toml").write_text('title = "Mine"\n', encoding="utf-8")
    before = (tmp_path / "mine.toml").read_bytes()
    assert told("preview", "benchmark_a", "--save", "mine.toml", "--json") == 2
    assert (tmp_path / "mine.toml").read_bytes() == before
    (tmp_path / "run.h5").touch()
    for _ in range(2):
        assert told("preview", "benchmark_a", "--save", "run.h5", "--json") == 0
    assert len(open_run(tmp_path / "run.h5").time) > 0


def test_a_run_does_not_replace_measurements_in_hdf5(told, tmp_path):
    """A HDF5 file of another program stays as it is; a run that another program has written into is still a run."""
    with h5py.File(tmp_path / "scope.h5", "w") as file:
        file["volts"] = [1.0, 2.0, 3.0]
    before = (tmp_path / "scope.h5").read_bytes()
    assert told("preview", "benchmark_a", "--save", "scope.h5", "--json") == 2
    assert (tmp_path / "scope.h5").read_bytes() == before
    assert told("preview", "benchmark_a", "--save", "run.h5", "--json") == 0
    with h5py.File(tmp_path / "run.h5", "a") as file:
        file.attrs["comment"] = "looked at"
    assert told("preview", "benchmark_a", "--save", "run.h5", "--json") == 0


def options():
    """Every option whose value follows a rule of its own."""
    for command in ON_SCENARIOS:
        for option in command.options:
            if not option.is_argument and not isinstance(option.rule, (Text, Flag)):
                yield pytest.param(command, option, id=f"{command.name} {option.flag}")


@pytest.mark.parametrize(("command", "option"), list(options()))
def test_every_option_refuses_hostile_values(told, command, option):
    """No number, no unit, too large, too small, or code: refused before anything is simulated."""
    for value in ("nan", "inf", "1e400", "", "\x00", "9" * 400, "__import__('os')", "-1e300", "\u202e1", "1e-400 Q"):
        began = time.process_time()
        assert told(command.name, "toroid_shed_boost", option.flag, value) == 2, value
        assert time.process_time() - began < PATIENCE


def extreme_changes(chance, text):
    """Changes that the rules allow, at their bounds or anywhere between, for tables that a scenario has."""
    tables = [table for table in TABLES if f"[{table}]" in text]
    settings = []
    for _ in range(chance.choice((1, 1, 2, 3))):
        table = chance.choice(tables)
        item = chance.choice(dataclasses.fields(TABLES[table]))
        rule = rule_of(item)
        if isinstance(rule, Quantity):
            low, high = rule.low if rule.low is not None else 0.0, rule.high if rule.high is not None else 1e6
            value = rule.write(min(max(chance.choice((low, high, 10.0 ** chance.uniform(-12.0, 6.0))), low), high))
        elif isinstance(rule, Choice):
            value = chance.choice(rule.options)
        elif isinstance(rule, Count):
            value = str(chance.choice((rule.low, rule.low + 1)))
        else:
            continue
        settings += ["--set", f"{table}.{item.name}={value}"]
    return settings


@pytest.mark.slow
@pytest.mark.parametrize("command", ON_SCENARIOS, ids=lambda command: command.name)
def test_every_command_with_extreme_values(told, command):
    """Whatever the rules of a file allow is answered or refused by every command, in a sentence and in time."""
    chance = random.Random(command.name)
    for name, place in SCENARIOS.items():
        text = place.read_text(encoding="utf-8")
        told(command.name, name, *SHORT.get(command.name, []), *extreme_changes(chance, text), "--json")
