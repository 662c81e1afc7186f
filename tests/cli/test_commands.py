"""The commands from typed line to page, JSON, saved run and picture, on a small real supply."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from weldsim.cli import commands
from weldsim.cli.commands import COMMANDS
from weldsim.cli.main import main
from weldsim.runs.files import open_run
from weldsim.studies import preview

ROOT = Path(__file__).resolve().parents[2]
CONTROLLER = """\
title = "Lamp dimmer: a resistor straight behind the triac"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
delay_at_0 = "170 deg"
delay_at_100 = "10 deg"
[load]
kind = "resistor"
resistance = "23 ohm"
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The current folder, with a small scenario in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "dimmer.toml").write_text(CONTROLLER, encoding="utf-8")
    return tmp_path


def files_in(folder):
    """Names of the files in a folder."""
    return sorted(path.name for path in folder.iterdir())


def answer_of(capsys):
    """The one JSON object on stdout."""
    return json.loads(capsys.readouterr().out)


def test_preview_prints_a_page_and_leaves_a_picture(folder, capsys):
    """Without --json and --figure the page names the picture in the current folder."""
    assert main(["preview", "dimmer.toml", "--delay", "90deg"]) == 0
    printed = capsys.readouterr()
    assert printed.out.startswith("Lamp dimmer: a resistor straight behind the triac\n")
    assert printed.out.endswith("Picture: dimmer-preview.png\n")
    assert "must never feed an electrode" in printed.out
    assert files_in(folder) == ["dimmer-preview.png", "dimmer.toml"]


def test_json_is_alone_on_stdout_and_makes_no_picture(folder, capsys):
    """With --json one object is printed, and no file is written."""
    assert main(["preview", "dimmer.toml", "--delay", "90deg", "--json"]) == 0
    answer = answer_of(capsys)
    assert set(answer) == {"study", "scenario", "numbers", "verdicts", "assumptions", "rows"}
    assert answer["study"] == "preview"
    assert set(answer["numbers"]["primary.current.rms"]) == {"value", "unit"}
    assert files_in(folder) == ["dimmer.toml"]


def test_json_with_figure_still_prints_json_alone(folder, capsys):
    """--figure adds the picture to --json, and nothing to stdout."""
    assert main(["preview", "dimmer.toml", "--json", "--figure", "out.svg"]) == 0
    assert answer_of(capsys)["study"] == "preview"
    assert files_in(folder) == ["dimmer.toml", "out.svg"]


def test_dial_and_delay_mean_the_same_angle(folder, capsys):
    """Dial 50 % of a dial from 170 to 10 degrees is 90 degrees (linear between the two, as README says)."""
    values = []
    for setting in (["--dial", "50%"], ["--delay", "90deg"]):
        assert main(["preview", "dimmer.toml", *setting, "--json"]) == 0
        values.append(answer_of(capsys)["numbers"]["primary.current.rms"]["value"])
    assert values[0] == values[1]


def test_set_changes_the_supply(folder, capsys):
    """Twice the resistance behind the same triac draws less; the small drops of the triac keep it from being half."""
    values = []
    for change in ([], ["--set", "load.resistance=46 ohm"]):
        assert main(["preview", "dimmer.toml", *change, "--json"]) == 0
        values.append(answer_of(capsys)["numbers"]["primary.current.rms"]["value"])
    # A resistor behind 1 V and 12 mohm of triac at 325 V crest: half within a thousandth.
    assert values[1] == pytest.approx(values[0] / 2.0, rel=1e-3)


def test_options_reach_the_study_by_keyword(folder, monkeypatch):
    """Only what was typed is handed to ``ask``, as SI floats and words."""
    seen = {}

    def ask(scenario, **keywords):
        seen.update(keywords)
        raise KeyboardInterrupt

    monkeypatch.setattr(preview, "ask", ask)
    line = ["preview", "dimmer.toml", "--dial", "60 %", "--from", "rest", "--duration", "500 ms", "--json"]
    assert main(line) == 130
    assert seen == {"dial": 0.6, "start": "rest", "duration": 0.5}


def test_saved_run_carries_its_command_and_is_shown_again(folder, capsys):
    """--save keeps the run with the line that made it; show prints and draws it; --json gives the same figures."""
    line = ["preview", "dimmer.toml", "--delay", "90deg", "--save", "run.h5"]
    assert main(line) == 0
    assert "run saved: run.h5" in capsys.readouterr().err
    run = open_run("run.h5")
    assert run.provenance["command"] == "weldsim " + " ".join(line)
    assert main(["show", "run.h5"]) == 0
    page = capsys.readouterr().out
    assert "weldsim preview dimmer.toml --delay 90deg" in page
    assert page.endswith("Picture: run-show.png\n")
    assert main(["show", "run.h5", "--json"]) == 0
    shown = {name: one["value"] for name, one in answer_of(capsys)["numbers"].items()}
    assert shown == {name: value for name, (value, _) in run.table.items()}


def test_show_draws_the_signals_that_are_asked_for(folder, capsys):
    """--signal chooses waveforms; a name that is not there gives the nearest, and no picture."""
    assert main(["preview", "dimmer.toml", "--json", "--save", "run.h5"]) == 0
    capsys.readouterr()
    assert main(["show", "run.h5", "--json", "--figure", "some.svg", "--signal", "primary.current"]) == 0
    assert "primary current" in (folder / "some.svg").read_text(encoding="utf-8")
    assert main(["show", "run.h5", "--json", "--figure", "none.svg", "--signal", "primary.curent"]) == 2
    assert "did you mean 'primary.current'" in capsys.readouterr().err
    assert not (folder / "none.svg").exists()


def test_check_prints_findings_and_their_json(folder, capsys):
    """A check reads and judges; both forms speak of the same findings, and no file is written."""
    assert main(["check", "dimmer.toml"]) == 0
    page = capsys.readouterr().out
    assert main(["check", "dimmer.toml", "--json"]) == 0
    answer = answer_of(capsys)
    assert answer["study"] == "check"
    assert answer["verdicts"]
    flat = " ".join(page.split())
    assert all(" ".join(verdict["text"].split()) in flat for verdict in answer["verdicts"])
    assert files_in(folder) == ["dimmer.toml"]


def test_check_tells_all_faults_of_a_file_at_once(folder, capsys):
    """A file with three slips is answered with three lines, each with place and advice."""
    wrong = CONTROLLER.replace('"50 Hz"', '"50 V"').replace("delay_at_0", "delay_at_zero").replace('"23 ohm"', '"23"')
    (folder / "wrong.toml").write_text(wrong, encoding="utf-8")
    assert main(["check", "wrong.toml"]) == 2
    told = capsys.readouterr().err
    assert "mains.frequency: '50 V' is a voltage, but a frequency is needed here" in told
    assert "phase_control.delay_at_zero: unknown name; did you mean 'delay_at_0'?" in told
    assert "load.resistance: '23' has no unit" in told


def test_a_file_of_its_own_wins_over_a_bundled_one(folder, capsys):
    """A file called like a bundled scenario is read; without it the bundled one is, and the page says so."""
    assert main(["check", "toroid_shed.toml"]) == 0
    assert "this is the bundled scenario toroid_shed.toml" in capsys.readouterr().out
    (folder / "toroid_shed.toml").write_text(CONTROLLER, encoding="utf-8")
    assert main(["check", "toroid_shed.toml"]) == 0
    page = capsys.readouterr().out
    assert page.startswith("Lamp dimmer")
    assert "bundled" not in page


def test_first_run_says_that_it_compiles(folder, capsys, monkeypatch):
    """Where the solver has to be compiled, a line on stderr says so before it happens."""
    monkeypatch.setattr("weldsim.runs.perform.must_compile", lambda: True)
    assert main(["preview", "dimmer.toml", "--json"]) == 0
    assert "compiling the solver, once on this machine" in capsys.readouterr().err


def test_every_study_has_its_two_files():
    """The table names only studies that exist, each with its picture."""
    for command in COMMANDS:
        module = getattr(command.run, "keywords", {}).get("module")
        if module:
            assert (ROOT / "weldsim" / "studies" / f"{module}.py").exists()
            assert (ROOT / "weldsim" / "figures" / f"{module}.py").exists()


def test_options_have_distinct_keywords():
    """No two options of a command write into the same keyword."""
    for command in COMMANDS:
        keywords = [option.keyword for option in command.options]
        assert len(set(keywords)) == len(keywords)
    assert commands.DIAL in next(command for command in COMMANDS if command.name == "preview").options


@pytest.mark.skipif(os.name == "nt", reason="signals are sent in another way there")
def test_ctrl_c_in_a_long_run_is_130(folder):
    """A real interrupt during a long run ends within seconds, with one sentence and exit code 130."""
    line = [sys.executable, "-m", "weldsim", "preview", "garage_60hz", "--from", "rest", "--duration", "60 min"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(line, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        time.sleep(4.0)
        process.send_signal(signal.SIGINT)
        told = process.communicate(timeout=300)
    assert process.returncode == 130, told
    assert told[1].splitlines()[-1].startswith("weldsim: interrupted")


def test_a_waveform_that_is_none_is_told_before_the_page(folder, capsys):
    """A wrong name behind --signal is refused by its option, with the nearest, and nothing is printed or drawn."""
    assert main(["preview", "dimmer.toml", "--delay", "90deg", "--save", "run.h5", "--json"]) == 0
    capsys.readouterr()
    assert main(["show", "run.h5", "--signal", "primary.curent"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(
        "weldsim: --signal: there is no signal 'primary.curent'; did you mean 'primary.current'"
    )
    assert files_in(folder) == ["dimmer.toml", "run.h5"]
