"""What a preview says of a gate that reaches past the zero crossing, and what it names as the cause of a bias."""

import math

import pytest

import weldsim
from weldsim.studies import preview

LAMP = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "1 mohm"
pulse_kind = "{kind}"
pulse_width = "{width}"
train_end = "{end}"
[load]
kind = "resistor"
resistance = "10 ohm"
"""


def lamp(kind="train", width="50 us", end="175 deg"):
    """A phase control with a resistor: what it gives is known in closed form."""
    return weldsim.read_text(LAMP.format(kind=kind, width=width, end=end))


def told(answer, name):
    """One verdict by its name."""
    return next(one for one in answer.verdicts if one.name == name)


@pytest.mark.parametrize(
    ("kind", "width", "end", "past"),
    [("train", "50 us", "175 deg", False), ("train", "50 us", "200 deg", True), ("single", "3 ms", "175 deg", True)],
)
def test_a_gate_past_the_zero_crossing_is_full_output(kind, width, end, past):
    """A gate still driven at the zero crossing fires the next half cycle at once: 132 degrees become none.

    Closed form on a resistor: rms 230 V / R sqrt(1 - a / 180 + sin(2 a) / (2 pi)) where the gate ends in time, all of
    230 V / R where it does not.
    """
    answer = preview.ask(lamp(kind, width, end), delay=132.0)
    angle = math.radians(132.0)
    share = 1.0 if past else math.sqrt(1.0 - angle / math.pi + math.sin(2.0 * angle) / (2.0 * math.pi))
    # 2 %: holding current and the first degree of a half cycle, in which a gate finds no voltage yet
    assert answer.numbers["output.current.rms"].value == pytest.approx(23.0 * share, rel=2e-2)
    verdict = told(answer, "latching")
    assert verdict.level == ("fault" if past else "good")
    assert ("past the zero crossing" in verdict.text) == past


@pytest.mark.parametrize("delay", [10.0, 60.0, 120.0])
@pytest.mark.parametrize("asymmetry", ["-8 deg", "0 deg", "8 deg"])
def test_current_that_outlasts_its_half_cycle_is_no_early_firing(delay, asymmetry):
    """The tail of the half cycle before, behind a choke, and unequal delays are not taken for a gate too long."""
    supply = weldsim.vary(weldsim.read("garage_60hz"), {"phase_control.asymmetry": asymmetry})
    assert told(preview.ask(supply, delay=delay), "latching").level == "good"


def test_a_bias_names_the_gate_and_the_diac():
    """A gate too long in a core that remembers, and a diac unlike on its two sides, are named as what biases it."""
    long = {"phase_control.train_end": "200 deg", "phase_control.pulse_kind": "train"}
    farm = weldsim.vary(weldsim.read("long_lead"), long)
    found = preview.ask(farm, delay=132.0)
    assert told(found, "latching").level == "fault"
    assert "begin before their gate" in told(found, "flux_bias").text
    school = weldsim.vary(weldsim.read("school_spot"), {"phase_control.diac_asymmetry": "8 V"})
    biased = [one for one in preview.ask(school).verdicts if one.name == "flux_bias"]
    assert all("a diac that takes 8 V more in the positive half cycles" in one.text for one in biased)
    assert biased


def test_a_bias_without_an_unequal_part_names_the_holding_current():
    """Fired at 75 degrees the benchmark supply settles biased either way, by its start, and unbiased at 20 mA.

    By symmetry a bias of one sign has a mirror image; what moves the moment at which the device goes off is the core's
    own current beside the holding current, so that with less of that there is none.
    """
    supply = weldsim.read("benchmark_b")
    means = []
    for start in (-0.5, 0.5):
        answer = preview.ask(weldsim.vary(supply, {"start.flux_linkage": start}), delay=75.0)
        assert "holding current of 50 mA" in told(answer, "flux_bias").text
        means.append(answer.numbers["core.flux_linkage.mean"].value)
    assert means[0] == pytest.approx(-means[1], rel=1e-6)
    less = preview.ask(weldsim.vary(supply, {"phase_control.holding_current": "20 mA"}), delay=75.0)
    assert not [one for one in less.verdicts if one.name == "flux_bias"]
