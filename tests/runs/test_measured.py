"""Captures: what is read of a text of two columns, and what is refused, where and why."""

import contextlib
import os
import random
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from tests.abuse.hostile import mutated
from weldsim.errors import RunFileError
from weldsim.runs import measured
from weldsim.runs.measured import captured, read_capture

ROOT = Path(__file__).resolve().parents[2]
TIME, VALUES = [-0.01, 0.0, 2.5e-05, 0.03], [1.5, -2.0, 300.0, 0.25]
GOOD = {
    "comma": b"time,CH1\n-0.01,1.5\n0,-2\n2.5e-5,3E2\n.03,+.25\n",
    "semicolon": b"-0.01;1.5\n0;-2\n2.5e-5;300\n0.03;0.25\n",
    "decimal comma": b"-0,01;1,5\n0;-2,0\n2,5e-5;300\n0,03;,25\n",
    "tab and decimal comma": b"Zeit\tWert\n-0,01\t1,5\n0\t-2\n2,5e-5\t300\n0,03\t0,25\n",
    "byte-order mark": b"\xef\xbb\xbft,v\n-0.01,1.5\n0,-2\n2.5e-5,300\n0.03,0.25\n",
    "header in another code": b"f\xfcr t [s],v [\xb0]\n-0.01,1.5\n0,-2\n2.5e-5,300\n0.03,0.25\n",
    "quotes, blanks, ends of lines": b'"s" , "V"\r\n"-0.01" , "1.5"\r\n\r\n 0 , -2 \r\n2.5e-5,300,\r\n0.03,0.25,,\r\n',
    "comments": b"# one, two\n% 1,2\n// 3,4\nRecord Length,2500\n-0.01,1.5\n# 9,9\n0,-2\n2.5e-5,300\n0.03,0.25",
}
BAD = {  # what the file holds, and what must be told of it
    "empty": (b"", "it is empty"),
    "only a header": (b"time,CH1\n\n# nothing\n", "line 1 is 'time,CH1'"),
    "one column": (b"1.0\n2.0\n3.0\n", "two columns are read"),
    "three columns": (b"t,a,b\n0,1,2\n", "line 2 has 3 columns"),
    "one cell lacking": (b"0,1\n1,2\n2,\n", "line 3 has one column"),
    "a cell in between": (b"0,1\n1,,2\n", "line 2 has 3 columns"),
    "empty first cell": (b"0,1\n,2\n", "line 2: an empty cell"),
    "words among numbers": (b"0,1\n1,over\n", "line 2: 'over' is no finite number"),
    "not a number": (b"0,1\n1,NaN\n", "line 2: 'NaN' is no finite number"),
    "not a number at once": (b"t,v\n0,nan\n", "line 2: 'nan' is no finite number"),
    "endless": (b"0,1\n1,-inf\n", "line 2: '-inf' is no finite number"),
    "too large": (b"0,1\n1,1e999\n", "line 2: '1e999' is no finite number"),
    "hexadecimal": (b"0,1\n1,0x10\n", "line 2: '0x10' is no finite number"),
    "time stands": (b"0,1\n1,2\n1,3\n", "line 3: time 1 s after 1 s; times must rise"),
    "time goes back": (b"0,1\n1,2\n0.5,3\n", "line 3: time 0.5 s after 1 s"),
    "comma for both": (b"0,001,1,5\n", "line 1 has 4 columns"),
    "zero bytes": (b"0,1\n1,2\n\x00\x00", "line 3 holds zero bytes"),
    "two bytes a letter": ("0,1\n1,2\n".encode("utf-16"), "line 1 begins like UTF-16"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "holds zero bytes"),
    "one long line": (b"0,1;" * 1000, "line 1 is longer than 1000 bytes"),
    "other digits": ("0,1\n1,\u0663\n".encode(), "line 2"),
}


@pytest.mark.parametrize("name", GOOD)
def test_two_columns_are_read(name, tmp_path):
    """Each way to write the same four samples gives the same four samples, to the last digit."""
    place = tmp_path / "trace.csv"
    place.write_bytes(GOOD[name])
    found = read_capture(place)
    assert (found.time.tolist(), found.values.tolist(), found.source) == (TIME, VALUES, "trace.csv")


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        (b"Time (ms),V\n", 1e-3),
        (b"Time,Channel A\n(ms),(V)\n\n", 1e-3),
        (b"t [\xb5s],v\n", 1e-6),
        ("Zeit/\u00b5s,v\n".encode(), 1e-6),
        (b"time_ns,v\n", 1e-9),
        (b"Time (s),V\n", 1.0),
        (b"items,rms\n", 1.0),
        (b"Memory 10 MS,V\n", 1.0),
    ],
)
def test_the_header_names_the_unit_of_time(header, unit, tmp_path):
    """Milliseconds, microseconds in either code, nanoseconds; words that only end alike, and samples, are no unit."""
    place = tmp_path / "trace.csv"
    place.write_bytes(header + b"0,1\n20,2\n")
    assert read_capture(place).time.tolist() == [0.0, 20.0 * unit]


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_capture_is_told_where(name, tmp_path):
    """Line, what stands there and what is allowed, in one sentence."""
    data, told = BAD[name]
    (tmp_path / "trace.csv").write_bytes(data)
    with pytest.raises(RunFileError) as refused:
        read_capture(tmp_path / "trace.csv")
    assert told in str(refused.value)
    assert str(refused.value).count("\n") == 0
    assert refused.value.advice or told == "it is empty"


def test_a_long_header_is_not_gone_through_for_ever(tmp_path):
    """A thousand lines without two numbers end the search; the first of them is shown."""
    (tmp_path / "trace.csv").write_text("no numbers here\n" * 1500)
    with pytest.raises(RunFileError, match="among the first 1000; line 1 is 'no numbers here'"):
        read_capture(tmp_path / "trace.csv")


def test_a_folder_a_pipe_and_nothing_are_refused(tmp_path):
    """Nothing is waited for: a pipe that nobody writes to is no ordinary file."""
    os.mkfifo(tmp_path / "pipe")
    for name, told in (("pipe", "not an ordinary file"), ("", "cannot be read"), ("nowhere.csv", "cannot be read")):
        with pytest.raises(RunFileError, match=told):
            read_capture(tmp_path / name)


def test_huge_files_are_refused_before_they_are_read(tmp_path, monkeypatch):
    """A file of 100 GB takes no time; one with too many samples ends at the first too many."""
    place = tmp_path / "huge.csv"
    with place.open("wb") as stream:
        stream.truncate(100_000_000_000)
    begin = time.monotonic()
    with pytest.raises(RunFileError, match="100000000000 bytes, more than the 64000000"):
        read_capture(place)
    assert time.monotonic() - begin < 1.0
    monkeypatch.setattr(measured, "MOST_SAMPLES", 10)
    place.write_text("".join(f"{one},1\n" for one in range(20)))
    with pytest.raises(RunFileError, match="more than the 10 samples"):
        read_capture(place)


@pytest.mark.parametrize("seed", range(60))
def test_no_file_is_worse_than_refused(seed, tmp_path):
    """Files with anything done to them are read or refused in a sentence, never anything else."""
    place = tmp_path / "trace.csv"
    data = GOOD[random.Random(seed).choice(sorted(GOOD))] * random.Random(seed).choice((1, 1, 50))
    place.write_bytes(mutated(data, seed))
    with contextlib.suppress(RunFileError):
        found = read_capture(place)
        assert np.isfinite(found.values).all()
        assert (np.diff(found.time) > 0.0).all()


def test_nothing_in_a_capture_is_executed(tmp_path):
    """Code in header, comments and cells is read under an audit hook that sees anything compiled, run or imported."""
    evil = "__import__('os').system('touch executed')"
    (tmp_path / "good.csv").write_text("0,1\n1,2\n")
    (tmp_path / "bad.csv").write_text("0,1\nnothing\n")
    (tmp_path / "evil.csv").write_text(f'# {evil}\n"={evil}",=cmd\n{evil};1\n0,1\n1,{evil}\n')
    watched = (
        "import sys\nfrom weldsim.errors import WeldsimError\nfrom weldsim.runs.measured import read_capture\n"
        "read_capture('good.csv')\nseen = []\n"
        "def attempt(name):\n    try:\n        read_capture(name)\n    except WeldsimError:\n        pass\n"
        "attempt('bad.csv')\n"
        "names = ('exec', 'compile', 'os.system', 'os.posix_spawn', 'os.fork', 'subprocess.Popen', 'import')\n"
        "sys.addaudithook(lambda event, given: seen.append(event) if event in names else None)\n"
        "attempt('evil.csv')\nprint(seen)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", watched], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert (done.stdout, done.stderr) == ("[]\n", "")
    assert not (tmp_path / "executed").exists()


def test_arrays_are_taken_as_they_are_and_copied():
    """Lists and arrays will do; what the caller does to them later changes nothing."""
    own = np.array(VALUES)
    found = captured(TIME, own)
    own[0] = 7.0
    assert found.values.tolist() == VALUES


@pytest.mark.parametrize(
    ("moments", "values", "told"),
    [
        ([0.0, 1.0], [1.0], "shapes"),
        ([[0.0, 1.0]], [[1.0, 2.0]], "shapes"),
        ([0.0, 1.0], ["a", "b"], "not numbers"),
        ([0.0, 1.0], [1.0, float("nan")], "value number 2 is nan"),
        ([0.0, float("inf")], [1.0, 1.0], "time number 2 is inf"),
        ([0.0, 1.0, 1.0], [1.0, 1.0, 1.0], "time number 3 is 1 s, after 1 s"),
    ],
)
def test_arrays_that_are_no_capture_are_told(moments, values, told):
    """Shape, number and value of what cannot be."""
    with pytest.raises(RunFileError, match=told):
        captured(moments, values)


def test_the_bundled_capture_is_found_by_its_name(tmp_path, monkeypatch):
    """As scenarios are, with their folder or without, unless a file of that name is there."""
    monkeypatch.chdir(tmp_path)
    assert len(read_capture("toroid_shed_capture.csv").time) == len(
        read_capture("scenarios/toroid_shed_capture.csv").time
    )
    (tmp_path / "toroid_shed_capture.csv").write_text("0,1\n1,2\n")
    assert len(read_capture("toroid_shed_capture.csv").time) == 2


MORE = b"Source,CH1,CH2\n-0.01,9,1.5\n0,9,-2\n2.5e-5,,300\n0.03,over,0.25\n"


def test_one_column_of_several(tmp_path):
    """The column asked for is read beside the time, whatever stands in the others; without it nothing is guessed."""
    place = tmp_path / "two_channels.csv"
    place.write_bytes(MORE)
    found = read_capture(place, column=3)
    assert (found.time.tolist(), found.values.tolist()) == (TIME, VALUES)
    with pytest.raises(RunFileError, match="line 2 has 3 columns") as refusal:
        read_capture(place)
    assert "--column 3" in str(refusal.value)


@pytest.mark.parametrize(
    ("column", "told"), [(4, "no line of two numbers"), (2, "line 4: an empty cell"), (3, "line 3 has one column")]
)
def test_a_column_that_is_not_there(column, told, tmp_path):
    """A column beyond the last, one with a gap, and a line that ends too early."""
    place = tmp_path / "two_channels.csv"
    place.write_bytes(MORE if column != 3 else b"0,1,2\n1,2,3\n2\n")
    with pytest.raises(RunFileError, match=told):
        read_capture(place, column=column)
