"""Doors into the compiled code: what goes through them, and that kept code is used only where it may be."""

import copy
import json
import os
import pickle
import subprocess
import sys
from typing import NamedTuple

import numba
import numpy as np
import pytest

from tests.house.test_house import ROOT
from weldsim.engine import doors, layout
from weldsim.engine import kept as kept_code
from weldsim.engine.doors import SUFFIX, Door
from weldsim.engine.kept import cache_folder

compiled_only = pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
ONE_PREVIEW = """
import sys, weldsim
print(weldsim.preview(weldsim.read("benchmark_b"), dial=0.5).numbers["output.current.mean"].value)
print("numba" in sys.modules)
"""


class Rows(NamedTuple):
    """As many members as a tuple may have."""

    one: np.ndarray
    other: np.ndarray


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder for compiled code."""
    monkeypatch.setattr(doors, "cache_folder", lambda: tmp_path)
    return tmp_path


def leapt(door):
    """A state of one mode whose first rung doubles it, taken on by one quantum."""
    rungs, y = np.zeros((1, 1, 4, 4)), np.zeros(4)
    rungs[0, 0] = 2.0 * np.eye(4)
    door(rungs, 0, np.array([1.0, 2.0, 3.0, 4.0]), 1, y, np.zeros(4))
    return y.tolist()


DOUBLED = [2.0, 4.0, 6.0, 8.0]


def kept(folder):
    """The one file of kept code."""
    (path,) = folder.glob(f"*{SUFFIX}")
    return path


@np.errstate(over="ignore")  # of the hash that random numbers are, as plain Python
def test_numbers_and_arrays_come_through():
    """Whole numbers of all kinds, floats, arrays; a number returned; results in the arrays themselves."""
    assert leapt(Door("kernel", "leap")) == DOUBLED
    uniform, count = Door("wire_kernel", "uniform"), np.arange(20)
    found = uniform(count, 3, -1.0, 1.0)
    assert isinstance(found, float)
    assert -1.0 <= found <= 1.0
    assert uniform(count, np.int64(3), np.float64(-1.0), 1.0) == found
    assert uniform(count, True, 0.0, 1.0) == uniform(count, 1, 0.0, 1.0)
    assert Door("kernel", "write_log")(*_log()) is None


@compiled_only
def test_what_changes_between_two_calls_comes_through():
    """Other arrays, numbers and kinds than those of the call before, one at a time and together, through one door."""
    leap, rungs, ones = Door("kernel", "leap"), np.zeros((2, 1, 4, 4)), np.ones(4)
    rungs[0, 0], rungs[1, 0] = 2.0 * np.eye(4), 3.0 * np.eye(4)
    y, z, other = np.zeros(4), np.zeros(4), np.full(4, 5.0)
    for mode, x in ((0, ones), (1, ones), (1, other), (0, other), (0, other), (True, ones), (np.int64(0), ones)):
        leap(rungs, mode, x, 1, y, z)
        assert y.tolist() == ((3.0 if mode else 2.0) * x).tolist()
    with pytest.raises(TypeError, match="float32 in 2 dimensions"):
        leap(rungs, 0, np.ones((1, 2), dtype=np.float32), 1, y, z)
    leap(rungs, 1, ones, 1, y, z)
    assert y.tolist() == [3.0] * 4


def _log():
    log = Rows(np.zeros(2, np.int64), np.zeros(2, np.int64))
    return _Log(*log, np.zeros(2, np.int64), np.zeros((2, 4))), np.zeros(24, np.int64), -1, np.zeros(4)


class _Log(NamedTuple):
    time: np.ndarray
    mode: np.ndarray
    cause: np.ndarray
    state: np.ndarray


@compiled_only
def test_what_cannot_go_through_is_told():
    """Arrays that are scattered, of other numbers or of another order of bytes, and what is no number."""
    leap, states = Door("kernel", "leap"), np.zeros((4, 2))
    rungs, y = np.zeros((1, 1, 4, 4)), np.zeros(4)
    for x in (states[:, 0], np.zeros(4, np.float32), np.zeros(4, ">f8"), None, "x"):
        with pytest.raises(TypeError, match="goes to compiled code"):
            leap(rungs, 0, x, 1, y, np.zeros(4))


@compiled_only
def test_code_is_kept_and_found_again(folder, monkeypatch):
    """A second door takes the file; so it does not compile."""
    assert leapt(Door("kernel", "leap")) == DOUBLED
    assert kept(folder).name.startswith("kernel.leap-")
    monkeypatch.setattr(Door, "_compiled", None)
    assert leapt(Door("kernel", "leap")) == DOUBLED


def spoil(path, how):
    """Damage a file of kept code, or make it one of another machine or function."""
    whole = path.read_bytes()
    head, _, code = whole.partition(b"\n")[2].partition(b"\n")
    about = json.loads(head)
    changed = {"processor": "of another machine", "function": about["function"].replace("leap", "carry")}
    if how in changed:
        return doors.summed(json.dumps(about | {how: changed[how]}).encode() + b"\n" + code)
    return {
        "empty": b"",
        "torn": whole[:-100],
        "one bit": whole[:-1] + bytes([whole[-1] ^ 1]),
        "no sum": head + b"\n" + code,
        "other result": whole.replace(b'"none"', b'"int64"', 1),
        "other kinds": whole.replace(b'"calls": []', b'"calls": {}', 1),
    }[how]


@compiled_only
@pytest.mark.parametrize(
    "how", ["empty", "torn", "one bit", "no sum", "other result", "other kinds", "processor", "function"]
)
def test_code_that_cannot_be_used_is_compiled_anew(folder, how):
    """A file that is damaged or belongs elsewhere is replaced, and the call works."""
    assert leapt(Door("kernel", "leap")) == DOUBLED
    before = kept(folder).read_bytes()
    spoilt = spoil(kept(folder), how)
    assert spoilt != before
    kept(folder).write_bytes(spoilt)
    assert leapt(Door("kernel", "leap")) == DOUBLED
    assert kept(folder).read_bytes() != spoilt
    assert leapt(Door("kernel", "leap")) == DOUBLED


@compiled_only
def test_an_interrupt_while_writing_leaves_nothing(folder, monkeypatch):
    """Neither a file nor a half of one."""

    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(doors.os, "replace", interrupt)
    with pytest.raises(KeyboardInterrupt):
        leapt(Door("kernel", "leap"))
    assert list(folder.iterdir()) == []


@compiled_only
@pytest.mark.parametrize("copied", [copy.copy, copy.deepcopy, lambda one: pickle.loads(pickle.dumps(one))])
def test_a_copy_of_a_log_is_written_to_itself(copied):
    """What a log remembers of being handed over is not that of its copy, whose arrays are others."""
    write, control = Door("kernel", "write_log"), np.zeros(24, np.int64)
    first = layout.Log(*(np.zeros(2, np.int64) for _ in range(3)), np.zeros((2, 4)))
    write(first, control, -1, np.ones(4))
    second = copied(first)
    write(second, control, -1, np.full(4, 7.0))
    assert second.state.tolist() == [[1.0] * 4, [7.0] * 4]


@compiled_only
@pytest.mark.parametrize("said", ["00", " 0"])
def test_what_numba_does_not_take_for_a_yes_leaves_it_compiled(monkeypatch, said):
    """A function that was compiled for others to link must not be called as Python: that would end the process."""
    monkeypatch.setenv("NUMBA_DISABLE_JIT", said)
    door = Door("kernel", "leap")
    door.prepare(np.zeros((1, 1, 4, 4)), 0, np.zeros(4), 1, np.zeros(4), np.zeros(4))
    assert door._plain is None
    assert leapt(door) == DOUBLED


@compiled_only
def test_code_that_calls_what_is_not_there_is_not_loaded(folder, monkeypatch):
    """It would end the process; neither here nor with what numba brings along is there such a function."""
    assert leapt(Door("kernel", "leap")) == DOUBLED
    monkeypatch.setattr(doors, "CALLED", ("no_such_function",))
    content = kept(folder).read_bytes()
    assert doors._loaded(content, json.loads(content.split(b"\n")[1])["function"]) is None
    with pytest.raises(RuntimeError, match="not there"):
        leapt(Door("kernel", "leap"))


@compiled_only
def test_without_a_place_all_is_compiled_each_time(monkeypatch):
    """Nothing is written where no folder can be."""
    monkeypatch.setattr(doors, "cache_folder", lambda: None)
    assert leapt(Door("kernel", "leap")) == DOUBLED


@compiled_only
def test_a_folder_that_has_become_read_only_is_left_alone(tmp_path, monkeypatch):
    """The function works all the same."""
    monkeypatch.setattr(doors, "cache_folder", lambda: tmp_path / "gone")
    assert leapt(Door("kernel", "leap")) == DOUBLED


def test_a_machine_without_any_place(monkeypatch):
    """Nothing can be written to anywhere, not even what is passing: code is compiled without being kept."""

    def nowhere():
        raise FileNotFoundError

    for name in ("WELDSIM_CACHE", "XDG_CACHE_HOME", "HOME"):
        monkeypatch.setenv(name, os.devnull)
    monkeypatch.setattr(kept_code.tempfile, "gettempdir", nowhere)
    assert cache_folder.__wrapped__() is None


@compiled_only
@pytest.mark.skipif(cache_folder() is None, reason="no place for compiled code")
def test_a_second_process_needs_no_compiler():
    """What has been compiled once runs without numba, and gives the same figure to the last digit."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", ONE_PREVIEW]
    said = [subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout for _ in "ab"]
    first, second = (lines.split() for lines in said)
    assert second == [first[0], "False"]


def test_told_not_to_compile_it_is_plain_python(monkeypatch):
    """With numba switched off the kernel's own function is called."""
    monkeypatch.setenv("NUMBA_DISABLE_JIT", "1")
    door = Door("kernel", "leap")
    if numba.config.DISABLE_JIT:
        assert leapt(door) == DOUBLED
        assert door._plain is not None
    else:
        door._plain = lambda *arguments: arguments
        assert door(1, 2) == (1, 2)
