"""Questions asked from Python read their keywords by the rules of the command line's options."""

import pickle

import numpy as np
import pytest

import weldsim
from weldsim.cli.by_keyword import by_keyword
from weldsim.errors import QuestionError, ScenarioError


def echo(scenario, **keywords):
    """Stands for a study: gives back what it was asked."""
    return keywords


UNDERSTOOD = [
    ("strike", "feed", "6 m/min", 0.1),
    ("strike", "dial", "60 %", 0.6),
    ("strike", "delay", "75deg", 75.0),
    ("strike", "trials", "20", 20),
    ("strike", "compare", "boost", "boost"),
    ("strike", "over_dial", True, True),
    ("strike", "seed", np.int64(7), 7),
    ("strike", "dial", np.float32(0.5), 0.5),
    ("strike", "dial", None, None),
    ("weld", "seconds", "2.5", 2.5),
    ("weld", "seconds", 2, 2.0),
    ("lead", "sections", ("2.5 mm2", 4e-6), (2.5e-6, 4e-6)),
    ("lead", "sections", "2.5 mm2", (2.5e-6,)),
    ("characteristic", "dials", 0.3, (0.3,)),
    ("characteristic", "dials", np.array([0.3, 0.6]), (0.3, 0.6)),
    ("breaker", "duty", "35%", 0.35),
    ("preview", "anything_else", [1], [1]),
]


@pytest.mark.parametrize(("name", "keyword", "value", "taken"), UNDERSTOOD)
def test_values_as_people_write_them(name, keyword, value, taken):
    """Text with units as on the command line, numbers as SI, one or several where an option may be repeated."""
    found = by_keyword(name, echo)(None, **{keyword: value})[keyword]
    assert type(found) is type(taken)
    assert found == pytest.approx(taken, rel=1e-12) if isinstance(taken, float) else found == taken


@pytest.mark.parametrize(
    ("name", "keyword", "meant"),
    [("mains", "delay", "'delays'"), ("preview", "dail", "'dial'"), ("weld", "amps", "seconds")],
)
def test_an_unknown_keyword_is_refused_by_its_name(name, keyword, meant):
    """What cannot be asked is a WeldsimError, with the keyword, the nearest one and those there are."""
    with pytest.raises(QuestionError, match=f"{keyword}: {name} has no such keyword") as found:
        getattr(weldsim, name)(weldsim.read("benchmark_a"), **{keyword: 1})
    assert meant in str(found.value)


@pytest.mark.parametrize(
    "ask", [weldsim.preview, weldsim.perform, lambda name: weldsim.vary(name, {"bank": "absent"}), weldsim.inrush]
)
def test_the_name_of_a_scenario_in_its_place_is_refused(ask):
    """As on the command line one may write the name only: the message tells what to write instead."""
    with pytest.raises(ScenarioError, match=r'scenario: a text.*write weldsim.read\("toroid_shed"\)'):
        ask("toroid_shed")


REFUSED = [
    ("strike", "feed", "5", "has no unit"),
    ("strike", "feed", "5 furlongs", "furlongs"),
    ("strike", "feed", float("nan"), "nan"),
    ("strike", "dial", 60, "outside 0 % to 100 %"),
    ("strike", "dial", True, "fraction"),
    ("strike", "trials", 2.5, "whole number"),
    ("strike", "seed", "a", "whole number"),
    ("strike", "compare", "bost", "did you mean 'boost'"),
    ("strike", "delay", [], "an angle"),
    ("weld", "seconds", -1, "outside"),
    ("preview", "duration", 1e9, "outside"),
    ("lead", "sections", ["2.5"], "has no unit"),
]


@pytest.mark.parametrize(("name", "keyword", "value", "told"), REFUSED)
def test_what_an_option_refuses_is_refused_by_its_keyword(name, keyword, value, told):
    """One sentence that names the keyword, before anything is run."""
    with pytest.raises(QuestionError, match=f"^{keyword}: .*{told}"):
        getattr(weldsim, name)(weldsim.read("benchmark_a"), **{keyword: value})


def test_a_question_keeps_its_name_and_its_help():
    """It can be handed to another process, and its help is that of the study."""
    assert pickle.loads(pickle.dumps(weldsim.strike)) is weldsim.strike
    from weldsim.studies import strike

    assert weldsim.strike.__doc__ == strike.ask.__doc__
    assert weldsim.strike.__wrapped__ is strike.ask


def test_text_and_number_give_the_same_answer():
    """The benchmark supply at 90 degrees, either way."""
    scenario = weldsim.read("benchmark_a")
    assert weldsim.preview(scenario, delay="90 deg").as_json() == weldsim.preview(scenario, delay=90).as_json()
