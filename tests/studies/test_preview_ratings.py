"""Ratings in a preview: volts without load in the end, currents of switch and diodes, low mains, no rectifier."""

import math
import re

import numpy as np
import pytest

import weldsim
from weldsim.errors import QuestionError
from weldsim.parts.capacitors import Bank
from weldsim.parts.load import Load
from weldsim.studies.preview_arc import hold_limit

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


@pytest.mark.parametrize("kind", ["arc line", "load line"])
def test_an_alternating_arc_burns_both_ways(kind):
    """Without a rectifier an arc's line takes current of either direction alike, and the verdict tells of its zeros."""
    bare = weldsim.vary(weldsim.read("benchmark_b"), {"rectifier": "absent", "bank": "absent", "load": {"kind": kind}})
    answer = weldsim.preview(bare)
    wave = answer.runs["window"]["output.current"]
    assert wave.max() == pytest.approx(-wave.min(), rel=1e-6)
    assert abs(answer.numbers["output.current.mean"].value) < 1e-6 * wave.max()
    assert "passes through zero 100 times a second" in verdict(answer, "arc_current").text


ALTERNATING = """
mains = { voltage = "70 V", frequency = "50 Hz", resistance = "0 ohm", inductance = "2 mH" }
load = { kind = "arc line", voltage = "25 V", slope = "0 ohm", knee_resistance = "1000 ohm" }
"""


def test_an_alternating_arc_behind_an_inductance_is_its_closed_form():
    """Current against a voltage that turns with it, without resistance: it passes zero where cos(phi) = pi E / 2 V.

    Derived here: i = (V (cos phi - cos x) - E (x - phi)) / (w L) from x = phi on, and minus that half a period later.
    2e-5, since the line rises to 25 V over 25 mA.
    """
    crest, level, reactance = 70.0 * math.sqrt(2.0), 25.0, 2.0 * math.pi * 50.0 * 2e-3
    phi = math.acos(math.pi * level / (2.0 * crest))
    x = np.linspace(phi, phi + math.pi, 100_001)
    wave = (crest * (np.cos(phi) - np.cos(x)) - level * (x - phi)) / reactance
    numbers = weldsim.preview(weldsim.read_text(ALTERNATING)).numbers
    assert numbers["output.current.rms"].value == pytest.approx(math.sqrt(np.mean(wave[1:] ** 2)), rel=2e-5)
    assert numbers["output.current.max"].value == pytest.approx(wave.max(), rel=2e-5)
    assert numbers["output.current.min"].value == pytest.approx(-wave.max(), rel=2e-5)


@pytest.mark.parametrize(("back", "burns"), [("60 V", True), ("110 V", False)])
def test_an_alternating_arc_comes_back_in_either_half_wave(back, burns):
    """99 V of crest bring it back at 60 V in both directions, and at 110 V in none."""
    dying = {"load.falling_voltage": "40 V", "load.falling_current": "10 A", "load.reignition_voltage": back}
    dying |= {"weld_leads": {"inductance": "10 uH", "resistance": "1 mohm"}}
    numbers = weldsim.preview(weldsim.vary(weldsim.read_text(ALTERNATING), dying)).numbers
    most, least = (numbers[f"output.current.{one}"].value for one in ("max", "min"))
    assert most == pytest.approx(-least, rel=1e-6)
    assert (most > 50.0) == burns


@pytest.mark.parametrize("setting", [{"dial": 0.5}, {"delay": 90.0}])
def test_a_dial_that_is_not_there_is_refused(setting):
    """Without phase control a dial or a delay would change nothing; that is said, not passed over."""
    with pytest.raises(QuestionError, match="cannot be set"):
        weldsim.preview(weldsim.vary(weldsim.read("benchmark_b"), {"phase_control": "absent"}), **setting)


BEHIND_A_TRANSFORMER = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[breaker]
curve = "C"
current = "16 A"
[transformer]
ratio = 1
rating = "2300 VA"
[load]
kind = "resistor"
resistance = "10 ohm"
"""


def test_the_transformer_is_told_against_what_it_was_bought_for():
    """23 A at 230 V are 5290 VA, 2.3 times 2300 VA: 5.29 times the heat, 19 % duty (by hand)."""
    plain = weldsim.read_text(BEHIND_A_TRANSFORMER)
    told = verdict(weldsim.preview(plain), "transformer_load")
    assert told.level == "fault"
    assert "takes 5290 VA of the 2300 VA" in told.text
    assert "5.29 times the rated heat" in told.text
    assert "duty cycle of some 19 %" in told.text
    light, near = (
        verdict(weldsim.preview(weldsim.vary(plain, {"load.resistance": ohms})), "transformer_load")
        for ohms in (50.0, 24.0)
    )
    assert light.level == "good"
    assert near.level == "note"  # 2204 VA, at mains +10 % 2425 VA


def test_a_run_from_rest_is_spread_over_runs_from_rest():
    """A core left at 0.9 V.s: what of its bias is left after some cycles says nothing of the settled state.

    The figures at mains -10 and +10 % are those of the same run on such a mains, asked for by itself.
    """
    scenario = weldsim.vary(weldsim.read("toroid_shed"), {"start.flux_linkage": 0.9})
    asked = {"start": "rest", "duration": 0.06, "window": 0.04}
    told = verdict(weldsim.preview(scenario, **asked), "flux_bias")
    assert told.level == "note"
    assert "settled state reached from" not in told.text
    ends = [float(one) for one in re.findall(r"%: ([-\d.]+), [-\d.]+, ([-\d.]+) V.s", told.text)[0]]
    for end, volts in zip(ends, (207.0, 253.0), strict=True):
        other = weldsim.preview(weldsim.vary(scenario, {"mains.voltage": volts}), **asked)
        assert other.numbers["core.flux_linkage.mean"].value == pytest.approx(end, rel=1e-3)
    assert not [one for one in weldsim.preview(scenario).verdicts if one.name == "flux_bias"]


def test_volts_that_only_a_higher_dial_gives_are_told():
    """Without load 38.9 V are reached fired at the crest, at 20 % of the dial 23.6 V: turned up, cans of 35 V burst.

    A secondary of 48 turns of 130 gives 132 V of crest at 253 V, 58 V at 15 % of the dial (by hand: 253 x 1.414 x 48 /
    130 x sin of the delay); IEC 60974-1 allows 113 V.
    """
    shed = weldsim.read("toroid_shed")
    low = weldsim.vary(shed, {"bank.rated_voltage": "35 V"})
    told = verdict(weldsim.preview(low, dial=0.2), "bank_voltage")
    assert told.level == "note"
    assert "turned up it reaches 39.6" in told.text or "turned up it reaches 39.5" in told.text
    assert verdict(weldsim.preview(low, dial=0.5), "bank_voltage").level == "fault"
    high = weldsim.vary(shed, {"transformer.secondary_turns": 48, "bank.rated_voltage": "200 V"})
    told = verdict(weldsim.preview(high, dial=0.15), "open_circuit_voltage")
    assert told.level == "note"
    assert "Turned up it reaches 13" in told.text
    assert verdict(weldsim.preview(shed, dial=0.15), "open_circuit_voltage").level == "good"


@pytest.mark.parametrize("fault", ["one diode shorted", "one diode open"])
def test_a_broken_diode_is_told_as_it_is(fault):
    """One pulse a period reaches the arc: the waveform rises from nothing 50 times a second."""
    answer = weldsim.preview(weldsim.vary(weldsim.read("toroid_shed"), {"rectifier.fault": fault}))
    run = answer.runs["window"]
    current = run["output.current"] > 1.0
    rises = np.count_nonzero(current[1:] & ~current[:-1]) / (run.time[-1] - run.time[0])
    assert rises == pytest.approx(50.0)
    assert "goes out up to 50 times a second" in verdict(answer, "arc_current").text
    assert f"rectifier with {fault}" in verdict(answer, "open_circuit_voltage").text


RC_DIAC = {
    "phase_control.dial_kind": "rc-diac",
    "phase_control.timing_resistance_at_0": "600 kohm",
    "phase_control.timing_resistance_at_100": "6 kohm",
    "phase_control.pulse_width": "50 us",
    "phase_control.asymmetry": "2 deg",
}


def test_a_dial_with_diac_is_told_with_its_causes():
    """Its bias comes of the diac, not of an asymmetry that counts for nothing; it has backlash, and may not fire."""
    dial = weldsim.vary(weldsim.read("toroid_shed"), RC_DIAC | {"phase_control.diac_asymmetry": "3 V"})
    biased = weldsim.preview(dial, dial=0.8)
    text = verdict(biased, "flux_bias").text
    assert "a diac that takes 3 V more in the positive half cycles" in text
    assert "later in the negative" not in text
    assert any("backlash" in line for line in biased.assumptions)
    rests = verdict(weldsim.preview(dial, dial=0.2), "latching")
    assert "its diac does not break over" in rests.text


def test_a_kick_without_snubber_is_explained():
    """50 mA break off against 200 kohm behind 40 mH: 10 kV (by hand), on the crest of the mains; a snubber takes it."""
    load = {"kind": "resistor", "resistance": "6 ohm", "inductance": "40 mH"}
    plain = weldsim.vary(weldsim.read_text(RESISTOR), {"load": load, "phase_control.off_resistance": "200 kohm"})
    plain = weldsim.vary(plain, {"phase_control.holding_current": "50 mA", "phase_control.latching_current": "80 mA"})
    told = [line for line in weldsim.preview(plain, delay=90.0).assumptions if line.startswith("No snubber")]
    assert "the peak of 1e+04 V" in told[0] or "the peak of 10000 V" in told[0]
    damped = {"phase_control.snubber_resistance": "47 ohm", "phase_control.snubber_capacitance": "100 nF"}
    assert not [one for one in weldsim.preview(weldsim.vary(plain, damped), delay=90.0).assumptions if "peak of" in one]


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


def test_heat_and_current_of_each_can():
    """What each can carries and turns into heat, by the verdict, adds up to the bank's line of the energy ledger."""
    answer = weldsim.preview(weldsim.read("toroid_shed"))
    amps, watts = map(
        float, re.search(r"each of 4 cans ([\d.]+) A, ([\d.]+) W", verdict(answer, "bank_ripple").text).groups()
    )
    heat = next(row["power"] for row in answer.rows if row.get("part") == "bank")
    assert 4.0 * watts == pytest.approx(heat, rel=1e-2)  # three digits are written
    assert amps**2 * 4.0 * 3e-3 == pytest.approx(watts, rel=1e-2)  # four cans in parallel: 12 mohm each


def test_a_bank_without_rating_is_told_all_the_same():
    """Cans from a drawer have no rating in the file: the current is told, to be held against the label."""
    bare = weldsim.vary(weldsim.read("toroid_shed"), {"bank": Bank(capacitance=0.06, resistance=3e-3)})
    found = verdict(weldsim.preview(bare), "bank_ripple")
    assert found.level == "note"
    assert "no rated_ripple_current is given" in found.text


BARE_ARC = """
[mains]
voltage = "60 V"
frequency = "50 Hz"
resistance = "0.2 ohm"
[rectifier]
threshold = "0.8 V"
slope = "1 mohm"
[load]
kind = "arc line"
voltage = "{voltage}"
slope = "40 mohm"
"""


def test_the_gap_of_an_arc_without_choke_is_the_closed_form():
    """A bridge on a sine behind a resistance feeds a line of 20 V + 40 mohm: below 15 A for 2 asin(u / V) / w.

    u is what line, diodes and resistance take at that limit; without inductance nothing else bears on it.
    """
    answer = weldsim.preview(weldsim.read_text(BARE_ARC.format(voltage="20 V")))
    volts = 20.0 + 2.0 * 0.8 + 15.0 * (0.04 + 0.2 + 2e-3)
    gap = 2.0 * math.asin(volts / (60.0 * math.sqrt(2.0))) / (100.0 * math.pi)
    assert answer.numbers["output.gap.longest"].value == pytest.approx(gap, abs=4e-6)  # two samples
    assert f"less than 15 A for {1e3 * gap:.3g} ms" in verdict(answer, "arc_current").text
    assert hold_limit(Load(kind="arc line", hold_current=8.0)) == 8.0  # a limit of its own goes first


def test_a_choke_that_holds_leaves_no_gap():
    """The toroid's arc never falls below 81 A: no gap."""
    assert weldsim.preview(weldsim.read("toroid_shed")).numbers["output.gap.longest"].value == 0.0


@pytest.mark.parametrize(
    ("voltage", "line"), [("20 V", "of MMA, 20 V + 0.04 ohm"), ("14 V", "of MIG, 14 V + 0.05 ohm"), ("35 V", None)]
)
def test_an_arc_line_is_compared_with_the_line_it_is_like(voltage, line):
    """A stick's line of 20 V is held beside that of covered electrodes, a line far from all of them beside none."""
    answer = weldsim.preview(weldsim.read_text(BARE_ARC.format(voltage=voltage)))
    text = verdict(answer, "operating_point").text
    assert line in text if line else "conventional load voltage" not in text
