"""The bench runs once, untimed and tiny, so that it cannot rot."""

from tests.bench.run_bench import run, table


def test_the_bench_runs():
    """40 ms with one peer: errors are small on both sides, and the table names what was left out."""
    results = run(duration=0.04, rounds=1, peers=["scipy LSODA"])
    rows = results["rows"]
    assert rows["engine, without recording"]["error"] < 1e-6  # against the twin at its tightest; 1e-5 is asked
    assert rows["scipy LSODA, fine"]["error"] < 1e-3
    assert set(results["1000 presses"]) == {"engine", "scipy LSODA"}
    assert all(name in table(results) for name in ("engine, with energy ledger", "full supply"))
