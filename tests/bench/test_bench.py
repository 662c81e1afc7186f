"""Every part of the bench runs once, untimed and tiny, so that it cannot rot."""

import json

import pytest

from tests.bench.measuring import Size
from tests.bench.run_bench import PARTS, main

TINY = Size(tiny=True, rounds=1, peers=("scipy LSODA",))


@pytest.mark.slow
def test_the_benchmark_table():
    """40 ms with one peer: errors are small on both sides, and the table has a line for each."""
    found = PARTS["benchmark"].measure(TINY)
    rows = found["rows"]
    assert rows["engine, without recording"]["error"] < 1e-6  # against the twin at its tightest; 1e-5 is asked
    assert rows["scipy LSODA, fine"]["error"] < 1e-3
    assert all(any(name in told for told in PARTS["benchmark"].tell(found)) for name in rows)


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=pytest.mark.slow) if name == "presses" else name
        for name in PARTS
        if name != "benchmark"
    ],
)
def test_a_part_runs_and_is_told(name):
    """The part measures something, its raw times can be kept as JSON, and its table has a heading and lines."""
    found = PARTS[name].measure(TINY)
    assert json.loads(json.dumps(found)) == found
    lines = PARTS[name].tell(found)
    assert len(lines) >= 3
    assert all(part.isprintable() and part.strip() for part in lines)


@pytest.mark.slow
def test_presses_stand_beside_separate_runs():
    """The ratio of presses to separate runs of a general library is among the figures."""
    assert set(PARTS["presses"].measure(TINY)) == {"engine", "separate runs, scipy LSODA"}


def test_the_command_keeps_raw_times(tmp_path, capsys):
    """One part alone by option: its table is printed with the load average, its raw times are in the file."""
    main(["--part", "full", "--tiny", "--raw", str(tmp_path / "raw.json")])
    assert "load average" in capsys.readouterr().out
    assert set(json.loads((tmp_path / "raw.json").read_text())) == {"full"}
