"""Whoever computes: one worker and two processes give the same rows and numbers, to the last bit."""

import math
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import pytest

import weldsim
from weldsim.cli.main import main
from weldsim.runs import together
from weldsim.runs.crew import Crew
from weldsim.runs.processes import processes


@pytest.fixture(scope="module")
def pool():
    """Two processes of one's own, started afresh."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as executor:
        yield executor


@pytest.fixture(params=["loky", "dask"])
def lent(request):
    """Two processes of a library that is not among ours, where it is installed."""
    if request.param == "loky":
        loky = pytest.importorskip("loky")
        executor = loky.get_reusable_executor(max_workers=2)
        yield executor
        executor.shutdown(wait=True)
        return
    distributed = pytest.importorskip("distributed")
    with distributed.Client(n_workers=2, threads_per_worker=1, dashboard_address=None) as client:
        yield client.get_executor()


def told(answer):
    """Every number and every row of an answer, as text that tells floats to the last bit; nan is like nan."""
    numbers = {name: (number.value, number.unit) for name, number in answer.numbers.items()}
    return [repr(sorted(numbers.items())), *(repr(row) for row in answer.rows)]


@pytest.mark.parametrize("remedies", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_inrush(pool, remedies):
    """Presses and map of a supply; also every remedy (thermistors and the search for the best rule too) and stress."""
    shed = weldsim.read("toroid_shed")
    alone = weldsim.inrush(shed, presses=60, remedies=remedies, workers=1)
    assert {row["kind"] for row in alone.rows} == {"press", "map", *(("remedy", "stress") if remedies else ())}
    assert told(weldsim.inrush(shed, presses=60, remedies=remedies, executor=pool)) == told(alone)


@pytest.mark.parametrize("compare", [None, pytest.param("boost", marks=pytest.mark.slow)])
def test_strike(pool, compare):
    """Trials and their traces; also with and without the boost, the null test, other constants, the boost's cost."""
    shed = weldsim.read("toroid_shed_boost")
    alone = weldsim.strike(shed, dial=0.4, trials=4, compare=compare, workers=1)
    lent = weldsim.strike(shed, dial=0.4, trials=4, compare=compare, executor=pool)
    assert told(lent) == told(alone)
    assert [trace.moments for trace in lent.traces] == [trace.moments for trace in alone.traces]


def test_sweep(pool):
    """A sweep over two keys."""
    over = {"dial": [0.3, 0.6], "load.resistance": [0.2, 2.0]}
    resistive = weldsim.vary(
        weldsim.read("benchmark_a"), {"load": "absent", "load.kind": "resistor", "load.resistance": 1.0}
    )
    alone = weldsim.sweep(resistive, over=over, workers=1)
    assert told(weldsim.sweep(resistive, over=over, executor=pool)) == told(alone)
    assert all(row["error"] is None or isinstance(row["error"], str) for row in alone.rows)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")  # theirs
def test_processes_of_other_libraries(lent):
    """Presses, strikes and a sweep of a study with draws of its own, by executors of two other makes."""
    shed, boosted = weldsim.read("toroid_shed"), weldsim.read("toroid_shed_boost")
    presses = {"presses": 40, "remedies": False}
    assert told(weldsim.inrush(shed, **presses, executor=lent)) == told(weldsim.inrush(shed, **presses, workers=1))
    strikes = {"dial": 0.4, "trials": 4, "compare": "boost"}
    assert told(weldsim.strike(boosted, **strikes, executor=lent)) == told(
        weldsim.strike(boosted, **strikes, workers=1)
    )
    over = {"over": {"mains.voltage": [220.0, 235.0]}, "study": "inrush", "presses": 10}
    assert told(weldsim.sweep(shed, **over, executor=lent)) == told(weldsim.sweep(shed, **over))


@pytest.mark.parametrize("workers", [1, 3])
def test_results_come_in_the_order_of_the_jobs(workers):
    """Square roots of 0, 1, 4, 9 ... are 0, 1, 2, 3 ... whoever is done first."""
    with Crew(workers) as crew:
        assert list(crew.each(math.sqrt, [k * k for k in range(50)])) == list(range(50))


@pytest.mark.parametrize("workers", [1, 2])
def test_an_error_in_a_job_is_told(workers):
    """The logarithm of zero is refused by the standard library, and a crew hands that on."""
    with Crew(workers) as crew, pytest.raises(ValueError, match="math domain|positive"):
        list(crew.each(math.log, [1.0, 0.0, 2.0]))


@pytest.mark.parametrize("typed", ["spot resistance_spot --spots 4", "characteristic benchmark_a --dial 60%"])
def test_on_the_command_line(typed, capsys, monkeypatch):
    """``--workers 2`` starts a process, takes its half and prints what one worker prints."""
    started = []
    monkeypatch.setattr(together, "processes", lambda count: started.append(count) or processes(count))
    printed = []
    for workers in ("1", "2"):
        assert main([*typed.split(), "--workers", workers, "--json"]) == 0
        printed.append(capsys.readouterr().out)
    assert printed[0] == printed[1]
    assert started == [1]
