"""What a command prints and draws can be had from Python."""

import pytest

import weldsim
from weldsim.cli.main import main
from weldsim.errors import QuestionError


def test_the_page_is_what_the_command_prints(tmp_path, monkeypatch, capsys):
    """Line by line, but for where the file was found and the picture went; its picture is a figure with axes."""
    monkeypatch.chdir(tmp_path)
    assert main(["preview", "toroid_shed", "--dial", "60%"]) == 0
    printed = capsys.readouterr().out.splitlines()
    answer = weldsim.preview(weldsim.read("toroid_shed"), dial=0.6)
    page = weldsim.page(answer).splitlines()
    assert page[0] == printed[0]
    assert page[1:] == printed[2 : len(page) + 1]
    assert weldsim.draw(answer).axes


@pytest.mark.parametrize(
    "ask",
    [
        lambda shed: weldsim.drill(shed, presses=4),  # its file is called otherwise than the command
        lambda shed: weldsim.sweep(shed, over={"choke.inductance": "0.1mH:0.4mH:2"}, study="preview"),
        lambda shed: weldsim.perform(shed, duration=0.04),
        pytest.param(lambda shed: weldsim.prove(subsystems=("snubber",)), marks=pytest.mark.slow),
    ],
    ids=["drill", "sweep", "run", "prove"],
)
def test_whatever_can_be_asked_can_be_shown(ask):
    """Answers of other rooms, and a run."""
    shown = ask(weldsim.read("toroid_shed"))
    assert len(weldsim.page(shown)) > 100
    assert weldsim.draw(shown).axes


@pytest.mark.parametrize("show", [weldsim.page, weldsim.draw])
def test_what_is_no_answer_is_refused(show):
    """A scenario has to be asked first."""
    with pytest.raises(QuestionError, match="a Scenario is neither an answer nor a run"):
        show(weldsim.read("toroid_shed"))
