"""What a run cannot be asked for from Python is told in a sentence, whatever was handed over."""

import math

import pytest

import weldsim
from weldsim.errors import QuestionError

CASES = [
    ("dial", math.nan, "from 0 to 1"),
    ("dial", -0.1, "from 0 to 1"),
    ("dial", "50 %", "from 0 to 1"),
    ("delay", math.nan, "from 0 to 180"),
    ("delay", 181.0, "from 0 to 180"),
    ("delay", "90 deg", "from 0 to 180"),
    ("duration", math.nan, "above 0"),
    ("duration", math.inf, "above 0"),
    ("duration", -1.0, "above 0"),
    ("duration", 0.0, "above 0"),
    ("window", math.nan, "above 0"),
    ("window", -1.0, "above 0"),
    ("start", "standing", "'rest' or 'steady'"),
]


@pytest.mark.parametrize(("name", "value", "told"), CASES)
@pytest.mark.parametrize("question", ["perform", "preview"])
def test_refused(question, name, value, told):
    """Not a number, without end, below zero, beyond its range or text: refused by name, before anything is run."""
    if question == "preview":
        told = ""  # in the words of its option, which takes text too
        if name in ("dial", "delay") and isinstance(value, str):
            value = "much"
    with pytest.raises(QuestionError, match=f"^{name}: .*{told}"):
        getattr(weldsim, question)(weldsim.read("benchmark_a"), **{name: value})


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        *(("sample_interval", value, "sample_interval: .*above 0") for value in (math.nan, math.inf, -1e-4, 0.0)),
        ("signals", ["output.curent"], "'output.curent': this supply has no such signal; nearest: output.current"),
    ],
)
def test_samples_that_cannot_be(tmp_path, name, value, told):
    """Samples without a distance and signals that are none are told alike, recorded in memory and into a file."""
    scenario = weldsim.read("benchmark_a")
    with pytest.raises(weldsim.WeldsimError, match=told):
        weldsim.perform(scenario, duration=0.02, **{name: value})
    with pytest.raises(weldsim.WeldsimError, match=told):
        weldsim.perform_to_file(scenario, tmp_path / "run.h5", duration=0.02, **{name: value})
    assert not list(tmp_path.iterdir())


def test_numbers_of_any_make():
    """Whole numbers and those of numpy are as good as floats."""
    run = weldsim.perform(weldsim.read("benchmark_a"), delay=90, duration=math.ldexp(1.0, -4), start="rest")
    assert run.window[1] == pytest.approx(0.0625)


def test_a_bank_that_cannot_be():
    """What the bank holds at the trigger is one of three words."""
    with pytest.raises(QuestionError, match="bank: 'full' is not known .one of bled, charged, empty"):
        weldsim.inrush(weldsim.read("toroid_shed"), presses=1, bank="full")


@pytest.mark.parametrize(
    ("name", "text", "number"), [("dial", "60%", "0.6"), ("delay", "75deg", "75"), ("window", "20 ms", "0.02")]
)
def test_text_is_told_as_the_number_to_write(name, text, number):
    """A run takes numbers alone; what would do as an option is named as such."""
    with pytest.raises(QuestionError, match=f"^{name}: .*; write {number}$"):
        weldsim.perform(weldsim.read("benchmark_a"), **{name: text})
