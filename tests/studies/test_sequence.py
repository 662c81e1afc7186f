"""The sequence study: timeline, trials, wire ends, and what it says of a bad order."""

import json

import pytest

import weldsim
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures.sequence import draw
from weldsim.scenario.vary import vary
from weldsim.studies import sequence

TIMES = {
    "trigger.held": "0.8 s",
    "trigger.pre_flow": "0.1 s",
    "trigger.post_flow": "0.3 s",
    "trigger.burn_back": "70 ms",
}


@pytest.fixture(scope="module")
def answer():
    """The shed with a trigger of its own."""
    return sequence.ask(vary(weldsim.read("toroid_shed"), TIMES), dial=0.6, trials=4)


def test_timeline_in_rows_and_numbers(answer):
    """Gas from the press, power and feed after the pre-flow, power after the feed, gas last (sums by hand)."""
    spans = {row["switched"]: (row["begin"], row["end"]) for row in answer.rows if row["kind"] == "span"}
    assert spans["trigger"] == (0.0, 0.8)
    assert spans["feed"] == pytest.approx((0.1, 0.8))
    assert spans["power"][1] == pytest.approx(0.87, abs=1e-3)  # a free timer is off by 1 % of its 70 ms
    assert answer.numbers["gas.end"].value == pytest.approx(1.17, abs=1e-3)


def test_trials_and_wire_ends(answer):
    """An arc in every trial at a good setting, a free wire end, and a sweep from stuck to burnt into the tube."""
    assert answer.numbers["without_arc.count"].value == 0
    assert answer.numbers["first_arc.median"].value > 5e-3  # the wire has a millimetre to go at least
    swept = [row for row in answer.rows if row["kind"] == "burn_back"]
    assert swept[0]["stuck"] > swept[-1]["stuck"]
    assert swept[-1]["in_the_tube"] > swept[0]["in_the_tube"]


@pytest.mark.slow
def test_what_is_missing_is_told():
    """A supply without [wire], [trigger] and [feed_motor] is given common ones, and the answer says so."""
    told = " ".join(sequence.ask(weldsim.read("benchmark_a"), trials=1).assumptions)
    assert all(f"no [{name}]" in told for name in ("wire", "trigger", "feed_motor"))


@pytest.mark.slow
def test_no_burn_back_is_a_fault():
    """A set that stops power and feed at once sticks: its verdict is a fault with the count (common practice)."""
    bad = vary(weldsim.read("toroid_shed"), TIMES | {"trigger.burn_back": "0 s"})
    found = sequence.ask(bad, dial=0.6, trials=4)
    (verdict,) = (one for one in found.verdicts if one.name == "sequence_end")
    assert verdict.level == "fault"
    assert found.numbers["stuck.count"].value >= 3


@pytest.mark.slow
def test_feed_before_power_is_told():
    """A feed that leads the power is a note of its own."""
    early = vary(weldsim.read("toroid_shed"), TIMES | {"trigger.power_delay": "0.1 s"})
    found = sequence.ask(early, dial=0.6, trials=2)
    assert any(verdict.name == "sequence_order" for verdict in found.verdicts)


def test_a_press_that_starts_nothing():
    """Let go within the pre-flow, and no trials at all, are no questions."""
    short = vary(weldsim.read("toroid_shed"), {"trigger.held": "0.1 s", "trigger.pre_flow": "0.3 s"})
    with pytest.raises(QuestionError, match="before power"):
        sequence.ask(short, dial=0.6)
    with pytest.raises(QuestionError, match="say nothing"):
        sequence.ask(short, trials=0)


@pytest.mark.slow
def test_command_run_and_picture(answer, tmp_path, monkeypatch, capsys):
    """The command speaks JSON, saves the typical trial, and the picture's lower axes have their units."""
    monkeypatch.chdir(tmp_path)
    typed = ["sequence", "toroid_shed", "--dial", "60%", "--trials", "2", "--json", "--save", "run.h5"]
    assert main([*typed, "--set", "trigger.held=0.5 s"]) == 0
    assert json.loads(capsys.readouterr().out)["numbers"]["trials.count"]["value"] == 2
    run = weldsim.open_run("run.h5")
    assert "wire_end" in run
    told = [event[1:] for event in run.events]
    assert told[:3] == [("trigger", "off", "on"), ("gas", "off", "on"), ("power", "off", "on")]  # all at the press
    assert ("wire", "clear", "touching") in told
    assert told.index(("trigger", "on", "off")) < told.index(("feed", "on", "off")) < told.index(("power", "on", "off"))
    assert run.label("wire_end") == "wire out of the contact tube"
    labels = [axes.get_ylabel() for axes in draw(answer).axes[1:]]
    assert all(label.endswith("]") for label in labels)
