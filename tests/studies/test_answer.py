"""Answers: the JSON object that others rely on, to the letter, and the words for amounts and spreads."""

import json

import numpy as np
import pytest

from tests.runs.samples import a_run
from weldsim.errors import WeldsimError
from weldsim.runs.run import ScenarioText
from weldsim.studies.answer import Answer, Number, Verdict, amount, spread

SCENARIO = ScenarioText("A made-up supply", "", "supply.toml")


def answer(**changes):
    """A small answer."""
    parts = {
        "study": "preview",
        "scenario": SCENARIO,
        "numbers": {"output.current.mean": Number(127.65, "A"), "missed_half_cycles.count": Number(2, "1")},
        "verdicts": [Verdict("half-waving", "fault", "2 of 100 half cycles are missed")],
        "assumptions": ["the mains is at 230 V"],
    }
    return Answer(**(parts | changes))


def test_the_object_of_the_contract():
    """Study, scenario, numbers, verdicts and assumptions, in this order, and nothing else."""
    assert json.dumps(answer().as_json()) == (
        '{"study": "preview", "scenario": "supply.toml", "numbers": {'
        '"output.current.mean": {"value": 127.65, "unit": "A"}, '
        '"missed_half_cycles.count": {"value": 2, "unit": "1"}}, '
        '"verdicts": [{"name": "half-waving", "level": "fault", "text": "2 of 100 half cycles are missed"}], '
        '"assumptions": ["the mains is at 230 V"]}'
    )


def test_rows_only_where_a_study_lists_cases():
    """Rows stand in the object when a study lists cases, an empty list included."""
    assert "rows" not in answer().as_json()
    assert answer(rows=[]).as_json()["rows"] == []
    assert answer(rows=[{"dial": 0.6, "current": np.float32(2.5)}]).as_json()["rows"] == [{"dial": 0.6, "current": 2.5}]


def test_what_is_not_finite_becomes_null():
    """Not-a-number and both infinities are null everywhere, so that the text is JSON that every reader takes."""
    rows = [{"a": np.nan, "b": [np.inf, 1.0], "c": np.array([-np.inf, 2.0]), "d": {"e": Number(float("nan"), "s")}}]
    numbers = {"time_to_arc.median": Number(float("inf"), "s"), "thd": Number(np.float64("nan"), "1")}

    text = json.dumps(answer(numbers=numbers, rows=rows).as_json(), allow_nan=False)

    assert json.loads(text)["numbers"] == {
        "time_to_arc.median": {"value": None, "unit": "s"},
        "thd": {"value": None, "unit": "1"},
    }
    assert json.loads(text)["rows"] == [
        {"a": None, "b": [None, 1.0], "c": [None, 2.0], "d": {"e": {"value": None, "unit": "s"}}}
    ]


def test_a_zero_has_no_sign():
    """The negative zero of a processor, as a number or in a row, is a plain one in the text."""
    numbers = {"primary.current.peak": Number(-0.0, "A")}
    text = json.dumps(answer(numbers=numbers, rows=[{"a": np.float64(-0.0)}]).as_json())
    assert "-0.0" not in text
    assert "0.0" in text


def test_numpy_numbers_become_plain():
    """Numbers of numpy come out as JSON numbers, its truth values as true and false, text and None as they are."""
    rows = [
        {"count": np.int64(3), "flag": np.bool_(True), "one": np.float32(0.5), "name": "x", "none": None, "two": (1, 2)}
    ]

    assert (
        json.dumps(answer(rows=rows).as_json()["rows"])
        == '[{"count": 3, "flag": true, "one": 0.5, "name": "x", "none": null, "two": [1, 2]}]'
    )


def test_what_json_does_not_know():
    """An object that JSON has no word for is refused where it is handed over, not deep inside a library."""
    with pytest.raises(WeldsimError, match="a complex cannot stand in an answer"):
        answer(rows=[{"a": 1j}]).as_json()


def test_scenario_without_a_file():
    """A scenario that was made in Python is called by its title."""
    assert answer(scenario=ScenarioText("A made-up supply", "", "")).as_json()["scenario"] == "A made-up supply"


@pytest.mark.parametrize("level", ["good", "note", "fault"])
def test_levels(level):
    """The three levels of the contract are taken."""
    assert Verdict("x", level, "y").level == level


@pytest.mark.parametrize("level", ["bad", "Good", "", None])
def test_other_levels(level):
    """Any other level is a mistake of the study, found at once."""
    with pytest.raises(WeldsimError, match="use one of good, note, fault"):
        Verdict("x", level, "y")


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (127.650056, "A", "128 A"),
        (0.0125, "V.s", "0.0125 V.s"),
        (4979.5, "W", "4980 W"),
        (0.628531, "1", "0.629"),
        (0.0, "V", "0 V"),
        (-3.14159, "V", "-3.14 V"),
        (100.0, "1", "100"),
        (999.6, "A", "1000 A"),
        (123456.0, "1", "123000"),
        (1.2e-7, "s", "1.2e-07 s"),
        (3e9, "1", "3e+09"),
        (float("nan"), "s", "no value"),
        (float("-inf"), "s", "no value"),
    ],
)
def test_amounts_in_words(value, unit, words):
    """Three digits and the unit, no exponent for everyday sizes, and a word where there is no value."""
    assert amount(value, unit) == words


def test_digits_of_an_amount():
    """More digits on request."""
    assert amount(127.650056, "A", digits=5) == "127.65 A"


@pytest.mark.parametrize(
    ("values", "unit", "words"),
    [
        ([115.0, 142.0, 168.0], "A", "142 A (115 to 168 A over mains -10 to +10 %)"),
        ([168.0, 142.0, 115.0], "A", "142 A (115 to 168 A over mains -10 to +10 %)"),
        ([142.0, 115.0, 168.0], "A", "115 A (115 to 168 A over mains -10 to +10 %)"),
        ([0.0, 0.0, 0.0], "1", "0 (the same over mains -10 to +10 %)"),
        ([0.012, 0.02, 0.31], "1", "0.02 (0.012 to 0.31 over mains -10 to +10 %)"),
        ([np.nan, 0.1, 0.2], "s", "0.1 s (no value at mains -10 %)"),
        ([0.1, np.nan, np.inf], "s", "no value (no value at mains the rated voltage and +10 %)"),
    ],
)
def test_spread_in_words(values, unit, words):
    """A spread names the figure itself and its ends, whichever way it runs, or where it has no value."""
    assert spread(values, unit) == words


def test_a_spread_has_three_values():
    """A spread over the mains is the figure at -10, 0 and +10 %; anything else is a mistake."""
    with pytest.raises(WeldsimError, match="has 3 values, not 2"):
        spread([1.0, 2.0], "A")


def test_a_ledger_that_does_not_close_is_told_in_any_study():
    """One joule of 2000 J that moved (1000 in, 1000 out) is a fault of every study; 1 mJ, less than 1e-6, is none."""
    for lacking, levels in ((1.0, ["fault", "fault"]), (0.001, ["fault"])):
        ledger = {"mains": {"source": 1000.0}, "load": {"load": 1000.0 - lacking}, "stored": 0.0, "residual": lacking}
        told = answer(runs={"window": a_run(ledger=ledger)}).verdicts
        assert [verdict.level for verdict in told] == levels
        assert lacking < 0.5 or "1 J of the 1999 J that moved are unaccounted for" in told[0].text


def test_an_answer_is_shown_in_one_line():
    """A notebook that ends in an answer prints its study, its scenario and how the verdicts came out."""
    assert repr(answer()) == "<Answer of preview to supply.toml: 2 numbers, verdicts: 1 fault, 0 note, 0 good>"
