"""Ratings in a preview: volts without load in the end, currents of switch and diodes, low mains, no rectifier."""

import math

import pytest

import weldsim
from weldsim.errors import QuestionError

RESISTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
rated_current = "25 A"
[load]
kind = "resistor"
resistance = "10 ohm"
"""


def verdict(answer, name):
    """The only verdict of this name."""
    (found,) = [one for one in answer.verdicts if one.name == name]
    return found


def test_a_boost_lifts_the_bank_for_longer_than_a_second():
    """Without blocking diode and bleed resistor a boost fills the bank in a minute, far beyond its first second.

    Plain stepping for 30 s on mains of 253 V is the other way: above the rating of 63 V, and still rising.
    """
    boosted = weldsim.vary(
        weldsim.read("toroid_shed_boost"), {"boost.blocking_diode": False, "bank.bleed_resistance": "absent"}
    )
    bare = weldsim.vary(boosted, {"load": "absent", "mains.voltage": 253.0})
    run = weldsim.perform(bare, duration=30.0, window=0.02, signals=["bank.voltage"], sample_interval=1e-3)
    stepped = run.figure("bank.voltage.max")
    assert stepped > 63.0

    answer = weldsim.preview(boosted)
    told = verdict(answer, "bank_voltage")
    assert told.level == "fault"
    volts = float(told.text.split("up to ")[1].split(" V")[0])
    assert stepped < volts < 253.0 * math.sqrt(2.0) * 27 / 130  # what a boost winding of 27 turns can give at all
    assert "boost has lifted it to once settled" in verdict(answer, "open_circuit_voltage").text


@pytest.mark.parametrize(("rating", "level"), [(15.0, "fault"), (17.0, "note"), (18.5, "good")])
def test_the_current_of_a_switch_against_its_rating(rating, level):
    """At 90 degrees a resistor of 10 ohm takes 23 A / sqrt(2) = 16.26 A rms, 17.89 A at mains +10 % (closed form).

    The rms of a half of each half wave is that of the whole over the root of two.
    """
    answer = weldsim.preview(
        weldsim.vary(weldsim.read_text(RESISTOR), {"phase_control.rated_current": rating}), delay=90.0
    )
    told = verdict(answer, "phase_control_current")
    assert told.level == level
    assert "(mains -10, 0, +10 %: 14.64, 16.26, 17.89 A)" in told.text


def test_the_diode_with_most_to_carry():
    """Each diode of a bridge carries half of the output; with one open, two others carry all that is left."""
    benchmark = weldsim.vary(weldsim.read("benchmark_b"), {"rectifier.rated_current": "60 A"})
    answer = weldsim.preview(benchmark)
    half = answer.numbers["output.current.mean"].value / 2.0
    told = verdict(answer, "diode_current")
    assert told.level == "fault"
    assert f"{half:.3g}" in told.text  # the bleed resistor's 50 mA are left out of three digits
    broken = weldsim.preview(weldsim.vary(benchmark, {"rectifier.fault": "one diode open"}))
    whole = broken.numbers["output.current.mean"].value
    assert f"carries {whole:.3g}" in verdict(broken, "diode_current").text


def test_without_ratings_nothing_is_said():
    """No rating, no verdict."""
    told = {one.name for one in weldsim.preview(weldsim.read("benchmark_b")).verdicts}
    assert not told & {"phase_control_current", "diode_current", "bank_voltage"}


def test_an_arc_that_only_low_mains_lose_is_no_good_verdict():
    """Above the hold limit at the rated mains and below it at -10 %: a note; the spread says the same."""
    low = weldsim.vary(weldsim.read("benchmark_b"), {"mains.voltage": 120.0, "mains.frequency": 60.0})
    answer = weldsim.preview(low)
    told = verdict(answer, "arc_current")
    least, middle = (float(word) for word in told.text.split("+10 %: ")[1].split(", ")[:2])
    assert least < 15.0 < middle
    assert told.level == "note"
    assert verdict(weldsim.preview(weldsim.read("benchmark_b")), "arc_current").level == "good"


def test_an_alternating_output_has_limits_of_its_own():
    """100 V rms behind an ideal transformer, +10 %: 155.6 V peak and 110 V rms, beyond 113 V peak and 80 V rms."""
    text = (
        '[mains]\nvoltage = "200 V"\nfrequency = "50 Hz"\n[transformer]\nratio = 2.0\nprimary_resistance = "1 ohm"\n'
        '[load]\nkind = "resistor"\nresistance = "50 ohm"\n'
    )
    told = verdict(weldsim.preview(weldsim.read_text(text)), "open_circuit_voltage")
    assert told.level == "fault"
    assert "155.6 V peak, 110 V rms," in told.text
    mild = verdict(weldsim.preview(weldsim.read_text(text.replace("2.0", "4.0"))), "open_circuit_voltage")
    assert mild.level == "good"
    assert "113 V ac peak and 80 V ac rms" in mild.text


def test_a_battery_that_feeds_back():
    """A battery above what the supply reaches gives power; its share is not told as a negative arrival."""
    fed = weldsim.vary(weldsim.read("benchmark_b"), {"load": {"kind": "battery", "voltage": 60.0, "resistance": 0.02}})
    told = verdict(weldsim.preview(fed), "power")
    assert told.text.startswith("The load gives 7.7")  # 60 V on the bleed resistor of 470 ohm: 7.66 W, and leakage
    assert "-" not in told.text.split(";")[0]


def test_a_dial_that_never_latches_gives_no_arc():
    """Where every half cycle is missed nothing burns, and gaps between pulses are not the cause; devices rest."""
    answer = weldsim.preview(weldsim.read("toroid_shed"), dial=1.0)
    assert answer.numbers["missed_half_cycles.count"].value == answer.numbers["half_cycles.count"].value
    told = verdict(answer, "arc_current")
    assert told.level == "fault"
    assert "No arc burns" in told.text
    assert "never latches" in told.text
    assert "next to nothing" in verdict(answer, "diode_current").text
    weak = weldsim.vary(weldsim.read("benchmark_b"), {"load.voltage": 60.0})
    assert "does not reach the load's voltage" in verdict(weldsim.preview(weak), "arc_current").text


def test_an_alternating_arc_is_not_said_to_be_out():
    """Without a rectifier the mean current is nothing, but it flows; what counts is that it passes through zero."""
    ac = weldsim.vary(weldsim.read("benchmark_b"), {"rectifier": "absent", "bank": "absent"})
    answer = weldsim.preview(ac)
    told = verdict(answer, "arc_current")
    assert answer.numbers["output.current.rms"].value > 30.0 > abs(answer.numbers["output.current.mean"].value)
    assert told.level == "note"
    assert "100 times a second" in told.text


@pytest.mark.parametrize("setting", [{"dial": 0.5}, {"delay": 90.0}])
def test_a_dial_that_is_not_there_is_refused(setting):
    """Without phase control a dial or a delay would change nothing; that is said, not passed over."""
    with pytest.raises(QuestionError, match="cannot be set"):
        weldsim.preview(weldsim.vary(weldsim.read("benchmark_b"), {"phase_control": "absent"}), **setting)


STICK = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
pulse_kind = "train"
pulse_width = "30 us"
{snubber}
[transformer]
primary_turns = 190
secondary_turns = {turns}
primary_resistance = "0.5 ohm"
secondary_resistance = "20 mohm"
secondary_leakage_inductance = "1.1 mH"
[core]
section = "45 cm2"
path_length = "0.45 m"
steel = "non-oriented"
[rectifier]
[choke]
inductance = "2 mH"
resistance = "10 mohm"
[load]
kind = "load line"
process = "MMA"
"""
SNUBBED = 'snubber_resistance = "47 ohm"\nsnubber_capacitance = "100 nF"'


@pytest.mark.parametrize(
    ("turns", "snubber", "level", "says"),
    [
        (50, "", "note", "kick of the core"),  # 230 V x 1.1 x 50 / 190 x root 2 = 94 V: the winding keeps the limit
        (50, SNUBBED, "good", "Local rules decide"),
        (70, "", "fault", "Too high to touch"),  # 132 V: it does not, with or without a kick
        (70, SNUBBED, "fault", "Too high to touch"),
    ],
)
def test_a_kick_that_a_snubber_takes_is_no_verdict_on_the_winding(turns, snubber, level, says):
    """The winding's own crest against 113 V dc decides (IEC 60974-1); what a bare switch kicks up is told as such."""
    answer = weldsim.preview(weldsim.read_text(STICK.format(turns=turns, snubber=snubber)), delay=74.0)
    found = verdict(answer, "open_circuit_voltage")
    assert found.level == level
    assert says in found.text
