"""Sweeps: Ohm's law in every case, the same numbers whoever computes them, broken off and gone on with."""

import importlib.util
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

import weldsim
from weldsim.cli.main import main
from weldsim.errors import QuestionError, RunFileError, ScenarioError, SimulationError
from weldsim.studies import sweep

ROOT = Path(__file__).parents[2]
SMALL = """
title = "a resistor behind a switch"
[mains]
voltage = "100 V"
frequency = "50 Hz"
[phase_control]
[load]
kind = "resistor"
resistance = "10 ohm"
"""
OVER = {"load.resistance": "5 ohm:20 ohm:4"}


@pytest.fixture
def small():
    """A scenario that takes milliseconds."""
    return weldsim.read_text(SMALL, source="small")


def test_every_case_has_its_values(small):
    """Two keys give all combinations, the last one the fastest; rms volts over rms amperes is the row's resistance.

    Ohm's law; 1e-9 for rounding.
    """
    answer = weldsim.sweep(small, over={"dial": [0.4, 0.8], "load.resistance": "5 ohm:20 ohm:4"})
    rows = answer.rows
    assert [(row["dial"], row["load.resistance"]) for row in rows] == [
        (dial, resistance) for dial in (0.4, 0.8) for resistance in (5.0, 10.0, 15.0, 20.0)
    ]
    for row in rows:
        ratio = row["numbers"]["output.voltage.rms"] / row["numbers"]["output.current.rms"]
        assert ratio == pytest.approx(row["load.resistance"], rel=1e-9)
    assert rows[4]["numbers"]["output.current.rms"] > rows[0]["numbers"]["output.current.rms"]
    assert answer.numbers["cases.count"].value == 8.0


def executors():
    """Ways to compute cases, those that are installed."""
    yield "two processes", lambda: ({"workers": 2}, None)
    yield "threads", lambda: ({}, ThreadPoolExecutor(3))
    yield "a pool of one's own", lambda: ({}, ProcessPoolExecutor(2, mp_context=get_context("spawn")))
    if importlib.util.find_spec("loky"):
        yield "loky", lambda: ({}, importlib.import_module("loky").get_reusable_executor(max_workers=2))
    if importlib.util.find_spec("distributed"):

        def client():
            distributed = importlib.import_module("distributed")
            return {}, distributed.Client(processes=False, n_workers=2, threads_per_worker=1, dashboard_address=None)

        yield "a dask client", client


@pytest.mark.slow
@pytest.mark.parametrize("make", [make for _, make in executors()], ids=[name for name, _ in executors()])
def test_result_does_not_depend_on_who_computes_it(small, make):
    """Processes, threads, loky and a dask client (where installed) give the very rows of a plain loop, bit for bit."""
    options, pool = make()
    plain = weldsim.sweep(small, over=OVER)
    try:
        spread = weldsim.sweep(small, over=OVER, executor=pool, **options)
    finally:
        if hasattr(pool, "shutdown"):
            pool.shutdown()
    assert spread.as_json() == plain.as_json()


def test_broken_off_and_gone_on_with(small, tmp_path, monkeypatch):
    """Ctrl-C after two cases keeps both and says so; going on computes the other two only, with the same result."""
    computed = []
    real = sweep.answered
    monkeypatch.setattr(sweep, "answered", lambda case: computed.append(case.number) or real(case))

    def stop(done, whole, what):
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt) as caught:
        weldsim.sweep(small, over=OVER, folder=tmp_path / "kept", progress=stop)
    assert "2 of 4 cases are kept" in caught.value.__notes__[0]
    gone_on = weldsim.sweep(small, over=OVER, folder=tmp_path / "kept", resume=True)
    assert computed == [1, 2, 3, 4]
    assert gone_on.as_json() == weldsim.sweep(small, over=OVER).as_json()
    assert weldsim.open_run(tmp_path / "kept" / "case-0003.h5").scenario.load.resistance == 15.0


def test_a_case_leaves_nothing_outside_its_folder(small, tmp_path, monkeypatch):
    """A case makes no temporary file, which a process that is killed would leave; its run opens all the same."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "there is none"))
    weldsim.sweep(small, over=OVER, folder=tmp_path / "kept")
    run = weldsim.open_run(tmp_path / "kept" / "case-0003.h5")
    again = weldsim.preview(weldsim.vary(small, {"load.resistance": 15.0})).runs["window"]
    assert (run.time.tolist(), run.table) == (again.time.tolist(), again.table)


def test_a_changed_scenario_is_noticed(small, tmp_path):
    """Going on with other mains is refused; a comment in the file is no change."""
    weldsim.sweep(small, over=OVER, folder=tmp_path, runs=False)
    with pytest.raises(RunFileError, match="the scenario differs"):
        weldsim.sweep(weldsim.vary(small, {"mains.voltage": 110.0}), over=OVER, folder=tmp_path, resume=True)
    commented = weldsim.read_text("# a remark\n" + SMALL, source="small")
    assert len(weldsim.sweep(commented, over=OVER, folder=tmp_path, resume=True).rows) == 4


def test_a_case_that_cannot_be_done_is_a_row(tmp_path):
    """A case without a solution becomes a row with its sentence; when no other is left, it is an error."""
    supply = weldsim.read("benchmark_a")
    bad = {"start.bank_voltage": ["0 V", "1 kV"], "start.flux_linkage": ["0 V.s"]}

    def failing(case):
        found = real(case)
        return sweep.Found(case.number, {"error": "no solution"}) if case.number in dead else found

    real, sweep.answered, dead = sweep.answered, failing, {2}
    try:
        answer = weldsim.sweep(supply, over=bad, folder=tmp_path / "one", runs=False)
        assert [row["error"] for row in answer.rows] == [None, "no solution"]
        assert answer.numbers["cases.failed"].value == 1.0
        dead |= {1}
        with pytest.raises(SimulationError, match="no case could be done; the first says: no solution"):
            weldsim.sweep(supply, over=bad, folder=tmp_path / "two", runs=False)
    finally:
        sweep.answered = real


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"over": {"load.resistence": "1 ohm:2 ohm:2"}}, ScenarioError, "load.resistance"),
        ({"over": OVER, "study": "preveiw"}, QuestionError, "preview"),
        ({"over": OVER, "presses": 3}, QuestionError, "no option 'presses'"),
        ({"over": {"dial": [0.1, 0.2]}, "dial": 0.5}, QuestionError, "varied and fixed"),
        ({"over": {"dial": [0.1, 0.2]}, "delay": 50.0}, QuestionError, "varied and fixed"),
        ({"over": {"phase_control.dial": [0.1, 0.2]}, "dial": 0.5}, QuestionError, "dial: it is varied and fixed"),
        ({"over": {"dial": [0.1, 0.2]}, "study": "mains", "delays": [50.0]}, QuestionError, "varied and fixed"),
        ({"over": {"phase_control.dial": [0.1, 0.2], "delay": [20.0, 40.0]}}, QuestionError, "they set the same"),
        (
            {"over": {"feed": [0.05, 0.1], "wire.feed": [0.05, 0.1]}, "study": "strike"},
            QuestionError,
            "they set the same",
        ),
        ({"over": {"feed": ["1 m/min", "2 m/min"]}}, QuestionError, "has no feed"),
        ({"over": OVER, "numbers": ["output.current.loudness"]}, QuestionError, "no number"),
        ({"over": {"mains.voltage": ["230 V", "2 kV"]}}, ScenarioError, "outside"),
    ],
)
def test_refused_before_the_work(small, options, error, words):
    """Slips in keys, values, study, options and numbers are told with what would be right."""
    with pytest.raises(error, match=words):
        weldsim.sweep(small, **options)


@pytest.mark.slow
def test_random_studies_draw_the_same_in_every_case():
    """Under a value that nothing depends on (resistance of a load that is a line) both rows are the same presses."""
    answer = weldsim.sweep(
        weldsim.read("toroid_shed"), over={"load.resistance": ["1 ohm", "2 ohm"]}, study="inrush", presses=4, seed=3
    )
    first, second = (row["numbers"] for row in answer.rows)
    assert first["presses.count"] == second["presses.count"] == 4.0
    assert first == second


def test_faults_are_named(capsys, tmp_path, monkeypatch):
    """The shed asks more of breaker, transformer and bank (80 A of ripple) than their ratings: its cases name them.

    The flux of even half cycles has a mean of nothing: told as 0, not as what rounding leaves.
    """
    monkeypatch.chdir(tmp_path)
    typed = ["sweep", "toroid_shed", "--over", "phase_control.asymmetry=0deg:1deg:2", "--workers", "1"]
    assert main([*typed, "--number", "core.flux_linkage.mean", "--answers-only"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert page.count("fault: breaker, transformer load, bank ripple") == 2
    assert "from 0 V.s at phase_control.asymmetry 0 deg" in page


def test_command(capsys, tmp_path, monkeypatch):
    """The command gives rows in --json, a table, a picture and a folder, which is not taken over without --resume."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    typed = ["sweep", "small.toml", "--over", "load.resistance=5ohm:20ohm:4", "--dial", "60%", "--workers", "1"]
    assert main([*typed, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["study"], told["numbers"]["cases.count"]["value"], len(told["rows"])) == ("sweep", 4.0, 4)
    assert main(typed) == 2
    assert "--resume" in capsys.readouterr().err
    assert main([*typed, "--resume", "--number", "output.voltage.rms"]) == 0
    assert "output voltage rms" in capsys.readouterr().out
    assert (tmp_path / "small-sweep-preview.png").exists()
    assert len(list((tmp_path / "small-sweep-preview").glob("case-*.h5"))) == 4
    other = ["sweep", "small.toml", "--over", "load.resistance=5ohm:30ohm:2", "--dial", "60%", "--workers", "1"]
    assert main([*other, "--json"]) == 0  # other values do not disturb the folder, and take one of their own
    assert len(list((tmp_path / "small-sweep-preview-2").glob("case-*.h5"))) == 2
    assert main([*other, "--resume", "--json"]) == 0
    assert not (tmp_path / "small-sweep-preview-3").exists()
    capsys.readouterr()
    assert main([*typed[:4], "--presses", "3"]) == 2
    assert "preview has no such option" in capsys.readouterr().err
    assert main(["sweep", "small.toml"]) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="interrupts are sent another way there")
def test_interrupted_command(tmp_path):
    """Ctrl-C ends the command with 130 and no traceback, keeps finished cases, and --resume does the rest."""
    typed = [sys.executable, "-m", "weldsim", "sweep", "toroid_shed", "--over", "choke.inductance=0.1mH:1mH:200"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    typed += ["--workers", "2", "--answers-only", "--json"]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    work = subprocess.Popen(typed, cwd=tmp_path, env=environment, start_new_session=True, **pipes)
    folder = tmp_path / "toroid_shed-sweep-preview"
    deadline = time.monotonic() + 120.0
    while len(list(folder.glob("case-*.json"))) < 6 and time.monotonic() < deadline and work.poll() is None:
        time.sleep(0.05)
    os.killpg(work.pid, signal.SIGINT)
    _, said = work.communicate(timeout=300)
    kept = {path.name: path.read_bytes() for path in folder.glob("case-*.json")}
    assert work.returncode == 130, said
    assert "Traceback" not in said
    assert f"{len(kept)} of 200 cases are kept" in said
    assert 6 <= len(kept) < 200
    assert all(json.loads(content)["answer"] for content in kept.values())


def test_a_key_without_effect_is_told(small):
    """A sweep over a value that counts for nothing says why every case gives the same; another key says nothing."""
    table = {"turns": 20, "section": 15e-4, "path_length": 0.3, "gap": 2e-3}
    wound = weldsim.vary(small, {"choke": table})
    in_vain = weldsim.sweep(wound, over={"choke.inductance": "0.1 mH:1 mH:2"}, dial=0.5)
    told = [verdict.text for verdict in in_vain.verdicts if verdict.name == "idle_value"]
    assert told == ["choke.inductance: given, but without effect beside choke.turns, section, path_length and gap."]
    assert not [verdict for verdict in in_vain.verdicts if verdict.name == "without_effect"]  # told once
    working = weldsim.sweep(wound, over={"choke.gap": "1 mm:3 mm:2"}, dial=0.5)
    assert not [verdict for verdict in working.verdicts if verdict.name in ("idle_value", "without_effect")]


def test_a_key_with_which_nothing_changes_is_told():
    """Beside a ratio and a core without iron a number of turns says nothing: of two keys the idle one is named."""
    text = SMALL.replace("[phase_control]", '[transformer]\nratio = 2.0\nsecondary_resistance = "1 ohm"')
    over = {"transformer.primary_turns": [100, 200], "load.resistance": ["5 ohm", "10 ohm"]}
    found = weldsim.sweep(weldsim.read_text(text), over=over).verdicts
    told = [verdict.text for verdict in found if verdict.name == "without_effect"]
    assert told == [
        "transformer.primary_turns: no number of the study changes with it; another key may count in its place."
    ]


@pytest.mark.slow
def test_what_the_study_is_asked_may_be_text():
    """From Python a sweep reads the options of its study as their command does: the same rows as from plain numbers."""
    supply = weldsim.read("benchmark_b")
    over = {"choke.inductance": ["0.3 mH"]}
    texts = weldsim.sweep(supply, over=over, study="setting", current="60 A")
    assert texts.rows == weldsim.sweep(supply, over=over, study="setting", current=60.0).rows
    with pytest.raises(QuestionError, match="current: "):
        weldsim.sweep(supply, over=over, study="setting", current="60 V")
    drilled = weldsim.sweep(weldsim.read("toroid_shed"), over={"dial": [0.5]}, study="drill", presses="2", on="0.2 s")
    assert drilled.rows[0]["numbers"]["presses.count"] == 2


def test_a_key_that_is_set_and_varied_is_refused(capsys, tmp_path, monkeypatch):
    """``--set`` of what ``--over`` varies would count for nothing; nothing is made."""
    monkeypatch.chdir(tmp_path)
    over = ("--over", "choke.inductance=0.1mH:1mH:2")
    assert main(["sweep", "toroid_shed", *over, "--set", "choke.inductance = 3 mH"]) == 2
    assert capsys.readouterr().err.startswith("weldsim: --set choke.inductance: it is varied by --over too; do one")
    assert list(tmp_path.iterdir()) == []
