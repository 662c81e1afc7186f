"""A run streamed to a file equals the same run held in memory, and its memory does not grow."""

import numpy as np
import pytest

import weldsim
from weldsim.runs.streaming import perform_to_file
from weldsim.runs.supply import supply_of
from weldsim.runs.under_way import begin_run


def test_streamed_run_equals_the_run_in_memory(tmp_path):
    """Samples (1e-6: float32 in the file), table and ledger (1e-9: sums in another order) are those of perform."""
    scenario = weldsim.read("scenarios/benchmark_b.toml")
    names = ["output.current", "bank.voltage", "primary.current"]
    whole = weldsim.perform(scenario, duration=2.3, window=0.4, signals=names)
    perform_to_file(scenario, tmp_path / "run.h5", duration=2.3, window=0.4, signals=names)
    run = weldsim.open_run(tmp_path / "run.h5")
    np.testing.assert_allclose(run.time, whole.time, rtol=0, atol=1e-12)
    for name in names:
        np.testing.assert_allclose(run[name], whole[name], rtol=1e-6, atol=1e-4)
        assert run.figure(f"{name}.rms") == pytest.approx(whole.figure(f"{name}.rms"), rel=1e-9)
        assert run.figure(f"{name}.max") == pytest.approx(whole.figure(f"{name}.max"), rel=1e-9)
    assert run.window == pytest.approx((1.9, 2.3))
    # two diodes of a bridge change within one quantum; which is told first may differ
    assert sorted((round(t, 8), *change) for t, *change in run.events) == sorted(
        (round(t, 8), *change) for t, *change in whole.events
    )
    assert run.ledger["load"]["load"] == pytest.approx(whole.ledger["load"]["load"], rel=1e-9)


def test_parts_cover_the_run():
    """Parts follow each other from where the run is to where it is asked to, none longer than a second."""
    supply = supply_of(weldsim.read("scenarios/benchmark_b.toml"))
    going = begin_run(supply, delay=90.0, settled=None, duration=2.3, window=1.2)
    parts = [*going.parts_to(going.end - going.window), *going.parts_to(going.end)]
    assert parts[0][0] == going.begin
    assert parts[-1][1] == going.end
    assert all(a[1] == b[0] for a, b in zip(parts[:-1], parts[1:], strict=True))
    assert any(abs(begin - 1.1 - going.begin) < 1e-9 for begin, _ in parts)
    assert max(end - begin for begin, end in parts) <= 1.0 + 1e-9


def test_interrupted_run_keeps_its_recorded_part(tmp_path, monkeypatch):
    """Ctrl-C in the third part leaves a folder of segments with the two seconds before it."""
    from weldsim.engine.simulate import Stepper

    plain, calls = Stepper.run_to, []

    def third_time_interrupted(self, end, flush=None):
        calls.append(end)
        if len(calls) == 3:
            raise KeyboardInterrupt
        plain(self, end, flush)

    monkeypatch.setattr(Stepper, "run_to", third_time_interrupted)
    scenario = weldsim.read("scenarios/benchmark_b.toml")
    with pytest.raises(KeyboardInterrupt):
        perform_to_file(scenario, tmp_path / "run.h5", duration=5.0, window=1.0, signals=["output.current"])
    kept = weldsim.open_run(tmp_path / "run.h5.segments")
    assert kept.time[-1] == pytest.approx(2.0, abs=1e-3)
    assert not (tmp_path / "run.h5").exists()
