"""The entry: which command was meant, every error as sentences, and the exit codes."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from weldsim import __version__
from weldsim.cli import main as entry
from weldsim.cli.commands import COMMANDS, Command
from weldsim.cli.main import main
from weldsim.errors import SimulationError

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def only(monkeypatch):
    """Replace the table by one command "try" that does what the test gives."""

    def replace(action):
        monkeypatch.setattr(entry, "COMMANDS", (Command("try", "Does what a test asks.", action, ()),))

    return replace


def fails_with(problem):
    """An action that raises."""

    def action(request):
        raise problem

    return action


@pytest.mark.parametrize("typed", [["--help"], ["-h"], ["help"], []])
def test_overview_names_every_command(typed, capsys):
    """Help, also without any argument, lists the commands with what they answer."""
    assert main(typed) == 0
    printed = capsys.readouterr()
    for command in COMMANDS:
        assert f"  {command.name} " in printed.out
        assert command.question in printed.out
    assert printed.err == ""


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_help_of_a_command_names_its_options_and_example(command, capsys):
    """Every option and the example stand in the command's own help, percent signs included."""
    assert main([command.name, "--help"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith(f"usage: weldsim {command.name} ")
    for option in command.options:
        assert option.flag in printed
    assert command.example in printed
    assert "%%" not in printed


def test_version(capsys):
    """The version is that of the package."""
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"weldsim {__version__}\n"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (["preveiw", "x.toml"], "there is no command 'preveiw'; did you mean 'preview'?"),
        (["polish"], "there is no command 'polish'; there are check, preview"),
        (["--vershun"], "there is no option '--vershun'; did you mean '--version'?"),
        (["preview", "--dail", "60%", "x.toml"], "weldsim preview has no option --dail; did you mean '--dial'?"),
        (["preview", "--dail=60%"], "weldsim preview has no option --dail; did you mean '--dial'?"),
        (["preview"], "the following arguments are required: FILE"),
        (["preview", "a.toml", "b.toml"], "unrecognized arguments: b.toml"),
        (["setting", "a.toml", "--current", "120", "A"], 'A; a value with spaces goes in quotes, as "120 A"'),
        (["preview", "a.toml", "--dial"], "--dial: its value is missing; write --dial 60%, with the value in quotes"),
        (["preview", "a.toml", "--dial", "--json"], "--dial: its value is missing; write --dial 60%"),
        (["preview", "a.toml", "--dial", "-5%"], "--dial: '-5%' is outside 0 % to 100 %"),
        (["preview", "a.toml", "--delay", "-.5 deg"], "--delay: '-.5 deg' is outside"),
        (["preview", "a.toml", "--json", "-5%"], "--json: it takes no value, not '-5%'"),
        (["preview", "a.toml", "--json=yes"], "--json: it takes no value, not 'yes'"),
        (["preview", "a.toml", "--dial", "60"], "--dial: '60' has no unit: write \"60 %\""),
        (["preview", "a.toml", "--dial", "130%"], "--dial: '130%' is outside 0 % to 100 %"),
        (["preview", "a.toml", "--delay", "75 V"], "--delay: '75 V' is a voltage, but an angle is needed here (deg"),
        (["preview", "a.toml", "--from", "stedy"], "--from: 'stedy' is not known; did you mean 'steady'?"),
        (["preview", "a.toml", "--duration", "1,5 s"], "--duration: '1,5 s': write a decimal point, not a comma"),
        (
            ["preview", "a.toml", "--dial", "50%", "--delay", "90deg"],
            "--dial and --delay: the dial sets the delay already",
        ),
        (["preview", "a.toml", "--figure", "out.jpg"], "--figure: out.jpg: the ending says which kind"),
        (["preview", "a.toml", "--figure", "no_such_folder/out.png"], "--figure: there is no folder no_such_folder"),
        (["preview", "a.toml", "--save", "no_such_folder/run.h5"], "--save: there is no folder no_such_folder"),
        (["preview", "a.toml", "--dial", "50%", "--dial", "60%"], "--dial: given 2 times, as '50%' and '60%'; give it"),
        (
            ["check", "toroid_shed", "--set", "bank=absent", "--set", "bank=absent"],
            "--set bank: changed twice",
        ),
        (["preview", "no_such.toml"], "no_such.toml: there is no such file, and no bundled scenario of that name"),
        (["check", "toroid_shet.toml"], "did you mean 'toroid_shed.toml'?"),
        (["check", "toroid_shed", "--set", "choke"], "--set: 'choke' is not a change"),
        (["check", "toroid_shed", "--set", "choke.inductence=1 mH"], "did you mean 'inductance'?"),
        (["show", "no_such.h5"], "no_such.h5: there is no such file"),
    ],
)
def test_wrong_input_is_one_sentence_and_exit_code_2(typed, sentence, capsys, tmp_path, monkeypatch):
    """Slips are told with what was probably meant, on stderr, without a traceback and without any output."""
    monkeypatch.chdir(tmp_path)
    assert main(typed) == 2
    printed = capsys.readouterr()
    assert printed.err.startswith("weldsim: ")
    assert sentence in printed.err
    assert "Traceback" not in printed.err
    assert printed.out == ""
    assert list(tmp_path.iterdir()) == []


def test_usage_is_that_of_the_command(capsys):
    """A slip behind a command shows the usage of that command, not of the whole."""
    assert main(["show", "run.h5", "--signl", "choke.current"]) == 2
    assert "usage: weldsim show " in capsys.readouterr().err


def test_own_errors_become_their_sentence(only, capsys):
    """An error of the package is printed as place, fact and advice."""
    only(fails_with(SimulationError("no mode fits", place="at 0.0123 s, rectifier", advice="give the diodes a slope")))
    assert main(["try"]) == 2
    assert capsys.readouterr().err == "weldsim: at 0.0123 s, rectifier: no mode fits; give the diodes a slope\n"


def test_unexpected_fault_is_one_sentence_with_a_hint(only, capsys, monkeypatch):
    """A fault of ours says so in one line and how to see the traceback."""
    monkeypatch.delenv("WELDSIM_TRACEBACK", raising=False)
    only(fails_with(ZeroDivisionError("division\nby zero")))
    assert main(["try"]) == 2
    printed = capsys.readouterr().err
    assert printed.count("\n") == 1
    assert "ZeroDivisionError: division by zero" in printed
    assert "WELDSIM_TRACEBACK=1" in printed


def test_traceback_on_request(only, capsys, monkeypatch):
    """With the environment variable set the traceback follows the sentence."""
    monkeypatch.setenv("WELDSIM_TRACEBACK", "1")
    only(fails_with(ZeroDivisionError("division by zero")))
    assert main(["try"]) == 2
    assert "in action" in capsys.readouterr().err


def test_full_disk_names_the_file(only, capsys):
    """What the system says about a file becomes one sentence with its name."""
    only(fails_with(OSError(28, "No space left on device", "run.h5")))
    assert main(["try"]) == 2
    assert capsys.readouterr().err == "weldsim: run.h5: No space left on device\n"


def test_too_little_memory_is_a_sentence(only, capsys):
    """Running out of memory says what to ask for instead."""
    only(fails_with(MemoryError()))
    assert main(["try"]) == 2
    assert "ask for a shorter --window or --duration" in capsys.readouterr().err


def test_interruption_is_130(only, capsys):
    """Ctrl-C ends with one sentence and exit code 130."""
    only(fails_with(KeyboardInterrupt()))
    assert main(["try"]) == 130
    assert capsys.readouterr().err == "weldsim: interrupted; files that were already complete are kept\n"


def test_reader_that_stops_is_no_error():
    """Output into a pipe whose reader is gone ends silently."""
    command = [sys.executable, "-c", "import sys; from weldsim.cli.main import main; sys.exit(main(['--help']))"]
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = subprocess.run(command, cwd=ROOT, stdout=write_end, stderr=subprocess.PIPE, text=True, check=False)
    os.close(write_end)
    assert (done.returncode, done.stderr) == (0, "")


def test_letters_the_terminal_lacks_are_no_error():
    """On a terminal that knows ASCII only, degree signs become question marks."""
    lines = "from weldsim.cli.main import main; main(['--version']); print('90\\N{DEGREE SIGN}')"
    command = [sys.executable, "-c", lines]
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True)
    assert done.stdout.endswith("90?\n")


def test_module_and_command_are_the_same():
    """``python -m weldsim`` answers as the command does, exit code included."""
    command = [sys.executable, "-m", "weldsim", "preveiw"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "did you mean 'preview'?" in done.stderr


@pytest.fixture
def no_work(tmp_path, monkeypatch):
    """An empty folder, and a study that must not be asked."""
    monkeypatch.chdir(tmp_path)
    for module in ("preview", "sweep", "prove"):
        monkeypatch.setattr(f"weldsim.studies.{module}.ask", lambda *_, **__: pytest.fail("the work has begun"))
    return tmp_path


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("--figure", "folder.png"), "--figure: folder.png: this is the name of a folder"),
        (("--figure", "nowhere/x.png"), "--figure: there is no folder nowhere"),
        (("--figure", ""), "--figure: the name is empty"),
        (("--save", "folder.png"), "--save: folder.png: this is the name of a folder"),
        (("--save", "mine.h5"), "--save: mine.h5: the file there is write-protected"),
        (("--save", " "), "--save: the name is empty"),
        (("--save", "x.png", "--figure", "./x.png"), "--save and --figure: both name x.png"),
        ((), "--figure: toroid_shed-preview.png: this is the name of a folder"),
    ],
)
def test_what_cannot_be_written_is_told_before_the_work(no_work, capsys, typed, words):
    """A picture or run that finds no place is one sentence at once."""
    (no_work / "folder.png").mkdir()
    (no_work / "mine.h5").touch(mode=0o444)
    if not typed:
        (no_work / "toroid_shed-preview.png").mkdir()
    assert main(["preview", "toroid_shed", *typed]) == 2
    assert capsys.readouterr().err.startswith(f"weldsim: {words}")


@pytest.mark.parametrize("command", [("sweep", "toroid_shed", "--over", "dial=20%:60%:2"), ("prove",)])
def test_so_it_is_for_commands_of_their_own_kind(no_work, capsys, command):
    """The same of a sweep and of the proofs."""
    (no_work / "folder.png").mkdir()
    assert main([*command, "--figure", "folder.png"]) == 2
    assert "folder.png: this is the name of a folder" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("output", [">/dev/full", ">&-", "1</dev/null"])
def test_json_that_cannot_be_printed_is_told_before_the_work(tmp_path, output):
    """An output that is closed, always full or not open for writing: refused before anything is simulated."""
    line = f"exec {sys.executable} -X importtime -m weldsim preview toroid_shed --json {output}"
    done = subprocess.run(["sh", "-c", line], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 2
    assert "weldsim: --json: the standard output" in done.stderr
    assert "weldsim.studies.preview" not in done.stderr
