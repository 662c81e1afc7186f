"""README.md keeps its word: its command lines, its examples, its tables of names and keys."""

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.network.supplies import VARIANTS, benchmark
from weldsim.cli.commands import COMMANDS
from weldsim.cli.main import main
from weldsim.cli.options import parser_for, read_request
from weldsim.network.wiring import wire
from weldsim.runs.supply import supply_of
from weldsim.scenario.bundled import bundled_scenarios
from weldsim.scenario.checks import findings
from weldsim.scenario.reading import read, read_text
from weldsim.scenario.reference import with_key_table

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def code_blocks(language):
    """The fenced blocks of one language."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.M | re.S)


def explained_names():
    """Patterns of all names in README's tables of numbers and waveforms.

    ``.rms`` after ``a.b.mean`` stands for ``a.b.rms``; a digit stands for any; a word without a dot is a name and
    another place for the endings of its row; a word that ends in a dot takes the place of ``random.`` there.
    """
    patterns = set()
    for row in re.findall(r"^\| (`.*?) \|", README, re.M):
        names, stem = [], ""
        for span in re.findall(r"`([^`]+)`", row):
            if span.startswith("."):
                names.append(stem + span)
            elif span.endswith("."):
                names += [span + name.partition(".")[2] for name in names if name.startswith("random.")]
            elif "." in span:
                names.append(span)
                stem = span.rpartition(".")[0]
            else:
                endings = [name.partition(".")[2] for name in names if name.startswith("mains.resistance")]
                patterns |= {re.escape(span), *(re.escape(f"{span}.{ending}") for ending in endings)}
        patterns |= {re.sub(r"\d+", r"\\d+", re.escape(name)) for name in names}
    return re.compile("|".join(sorted(patterns)))


def test_first_paragraph_tells_the_job():
    """The first paragraph says what the tool is for: a supply, before it is built, changed or repaired."""
    first = README.split("\n\n")[1]
    assert "welding supply" in first
    assert "built, changed or\nrepaired" in first


@pytest.mark.parametrize("words", ["weldsim preview", "pytest"])
def test_one_command_line_each(words):
    """Exactly one line installs and runs the main job, and one installs and tests; .ci/run takes them from here."""
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv .venv && ") and words in line]
    assert len(lines) == 1
    assert f"run_readme_line '{words}'" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_key_table_is_up_to_date():
    """The table of keys is what the fields say today; `python -m weldsim.scenario.reference README.md` renews it."""
    assert with_key_table(README, "README.md") == README


def test_every_command_has_its_row():
    """The table of questions at the top of README has a row for each command."""
    rows = re.findall(r"^\| `weldsim (\w+)\b", README, re.M)
    assert [command.name for command in COMMANDS if command.name not in rows] == []


def test_every_shell_example_can_be_typed():
    """All weldsim lines of README and of the commands' own examples are understood by the option reader."""
    lines = [line for block in code_blocks("sh") for line in block.splitlines() if line.startswith("weldsim ")]
    assert len(lines) >= 5
    assert [command.name for command in COMMANDS if not command.example] == []  # each command shows one of its own
    for line in lines + [command.example for command in COMMANDS]:
        typed = shlex.split(line, comments=True)[1:]
        command = next(one for one in COMMANDS if one.name == typed[0])
        parser = parser_for(command.name, question="", options=command.options, closing="")
        request = read_request(command.name, typed[1:], parser=parser, options=command.options)
        assert request.get("file") or command.name == "prove"


def test_the_whole_scenario_in_readme_is_sound():
    """The scenario printed in README can be read, and nothing in it is a fault."""
    (text,) = code_blocks("toml")
    assert [one.text for one in findings(read_text(text)) if one.level == "fault"] == []


def test_the_python_example_runs(tmp_path):
    """The lines under "From Python" run as they stand."""
    (lines,) = code_blocks("python")
    command = [sys.executable, "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{lines}"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "run.h5").exists()


def test_every_waveform_is_explained():
    """Each waveform that any bundled scenario, or any variant of the network's tests, records is in README's table."""
    known = explained_names()
    recorded = {signal.name for path in bundled_scenarios().values() for signal in supply_of(read(path)).system.signals}
    recorded |= {signal.name for changes in VARIANTS.values() for signal in wire(benchmark(changes)).signals}
    assert sorted(name for name in recorded if not known.fullmatch(name)) == []


@pytest.mark.parametrize(
    "typed",
    [
        ["preview", "toroid_shed_boost", "--dial", "50%"],
        ["preview", "benchmark_c"],
        ["preview", "charger", "--gate"],
        ["characteristic", "benchmark_b", "--dial", "60%"],
        ["characteristic", "charger", "--dial", "60%", "--turns", "36"],
        ["setting", "benchmark_b", "--current", "100 A"],
        ["inrush", "toroid_shed", "--presses", "3"],
        ["drill", "toroid_shed", "--presses", "5"],
        ["breaker", "long_lead", "--dial", "60%"],
        ["duty", "toroid_shed", "--dial", "60%", "--set", "cooling.choke_mass=1 kg"],
        ["generator", "benchmark_b"],
        pytest.param(
            ["share", "oven_pair", "--set", "second_transformer.secondaries=parallel"], marks=pytest.mark.slow
        ),
        ["duty", "oven_pair", "--set", "cooling.winding_to_air=1 K/W"],
        ["preview", "oven_pair"],
        ["drill", "oven_pair", "--presses", "2"],
        ["spot", "oven_pair", "--spots", "2"],
        ["mains", "oven_pair", "--set", "mains.dc_offset=1V"],
        ["meters", "toroid_shed", "--dial", "40%", "--faults"],
        pytest.param(["identify", "bench_readings"], marks=pytest.mark.slow),
        pytest.param(
            ["compare", "benchmark_b", "--capture", "toroid_shed_capture.csv", "--per-unit", "100 A", "--dial", "60%"],
            marks=pytest.mark.slow,
        ),
        pytest.param(["taps", "toroid_shed", "--dial", "40%", "--presses", "1"], marks=pytest.mark.slow),
        pytest.param(["lead", "long_lead", "--section", "1.5 mm2"], marks=pytest.mark.slow),
        pytest.param(
            ["feed", "toroid_shed", "--set", "feed_supply.heat_sink=3 K/W", "--set", "feed_motor.reel_fill=50 %"],
            marks=pytest.mark.slow,
        ),
        pytest.param(["sequence", "toroid_shed", "--dial", "60%", "--trials", "1"], marks=pytest.mark.slow),
        pytest.param(["spot", "school_spot", "--spots", "1", "--wire-end", "7 mm"], marks=pytest.mark.slow),
        ["sweep", "benchmark_a", "--over", "dial=40%:60%:2", "--workers", "1", "--answers-only"],
    ],
    ids=lambda typed: " ".join(typed[:2]),
)
def test_every_number_is_explained(typed, capsys, monkeypatch, tmp_path):
    """Each name that a study gives in --json stands in README's table, each key of a press in the row about these."""
    monkeypatch.chdir(tmp_path)
    assert main([*typed, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    known = explained_names()
    assert answer["numbers"]
    assert sorted(name for name in answer["numbers"] if not known.fullmatch(name)) == []
    for press in [row for row in answer["rows"] if row.get("kind") == "press"][:1]:
        told = next(line for line in README.splitlines() if line.startswith(f"| `rows` of {typed[0]} |"))
        assert sorted(key for key in press if key != "kind" and f"`{key}`" not in told) == []


def test_unexplained_names_are_seen():
    """The search is not blind: a made-up name is not in the table, and neighbours of real ones are not either."""
    known = explained_names()
    assert known.fullmatch("output.current.rms")
    assert known.fullmatch("rectifier.diode_4.voltage")
    assert known.fullmatch("weld_leads.resistance.voltage")
    assert not known.fullmatch("output.current.loudness")
    assert not known.fullmatch("rectifier.diode_4.colour")
