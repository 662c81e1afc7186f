"""The trigger let go: volts at the open output by a divider of two reactances, and what a larger snubber does."""

import math

import pytest

import weldsim

IDLE = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
off_resistance = "1000 Mohm"
snubber_resistance = "100 ohm"
snubber_capacitance = "{snubber}"
[transformer]
ratio = "230:40"
primary_resistance = "0 ohm"
secondary_resistance = "10 mohm"
[core]
magnetising_inductance = "3 H"
loss_resistance = "100 kohm"
"""


def verdict(answer):
    """What is told of the trigger let go."""
    return next(one for one in answer.verdicts if one.name == "trigger_off")


@pytest.mark.parametrize(("snubber", "farads"), [("100 nF", 100e-9), ("470 nF", 470e-9)])
def test_the_snubber_and_the_idle_iron_are_a_divider(snubber, farads):
    """An alternating output without load: 230 V divided between R + 1/(jwC) and jwL beside the loss resistance.

    The step of the winding is 40/230, and the crest root 2 times the rms.
    """
    omega = 100.0 * math.pi
    iron = 1.0 / (1.0 / 1e5 + 1.0 / (1j * omega * 3.0))
    whole = 100.0 + 1.0 / (1j * omega * farads) + iron
    answer = weldsim.preview(weldsim.read_text(IDLE.format(snubber=snubber)))
    volts = 230.0 * math.sqrt(2.0) * abs(iron / whole) * 40.0 / 230.0
    assert answer.numbers["trigger_off.output.voltage.max"].value == pytest.approx(
        volts, rel=1e-3
    )  # of a settled state
    assert answer.numbers["trigger_off.primary.current.rms"].value == pytest.approx(230.0 / abs(whole), rel=1e-3)


def test_a_large_snubber_charges_the_bank():
    """The shed's 100 nF leave its bank empty, below two diode drops; 1 uF put volts on a wire that seems to be off."""
    shed = weldsim.read("toroid_shed")
    small = weldsim.preview(shed)
    large = weldsim.preview(weldsim.vary(shed, {"phase_control.snubber_capacitance": "1 uF"}))
    assert (verdict(small).level, "next to nothing" in verdict(small).text) == ("good", True)
    assert verdict(large).level == "note"
    assert large.numbers["trigger_off.output.voltage.max"].value > 5.0
    assert "The output is not dead" in verdict(large).text


def test_nothing_is_told_without_a_switch():
    """A supply straight on the mains has no trigger in the primary."""
    bare = weldsim.vary(weldsim.read("toroid_shed"), {"phase_control": "absent"})
    assert [one for one in weldsim.preview(bare).verdicts if one.name == "trigger_off"] == []


def test_nothing_is_told_of_volts_that_iron_would_take_down():
    """Without a core the 200 kohm of a blocked triac would lift an open output to the mains' crest over the ratio, 46 V
    here; 3 H on the primary, 942 ohm, leave 942 / 200 000 of it, 0.2 V (dividers by hand).  So a file without a core
    is told to be unable to say, and one with it says next to nothing.
    """
    text = IDLE.format(snubber="100 nF").replace("1000 Mohm", "200 kohm") + '[rectifier]\nkind = "bridge"\n'
    iron = weldsim.read_text("\n".join(line for line in text.splitlines() if "snubber" not in line))
    none = weldsim.preview(weldsim.vary(iron, {"core": "absent"}))
    assert not any(name.startswith("trigger_off.") for name in none.numbers)
    assert ("there is no [core]" in verdict(none).text, "up to" in verdict(none).text) == (True, False)
    assert "next to nothing" in verdict(weldsim.preview(iron)).text


def test_rounding_is_told_as_nothing():
    """An output that nothing feeds stands at 0 V, not at powers of ten below a femtovolt, and no text has such; of its
    bank's ripple nothing good is said, as nothing is connected.
    """
    shed = weldsim.vary(weldsim.read("toroid_shed"), {"load": "absent"})
    texts = {one.name: one.text for one in weldsim.preview(shed, delay=179.0).verdicts}
    assert "stands at 0 V on the mean, 0 V at most" in texts["unloaded"]
    assert "bank_ripple" not in texts
    assert not any("e-1" in text for text in texts.values())


def test_what_leaks_past_the_switch_is_named_by_the_parts_there_are():
    """A set without a snubber is not told of one; a dial's own timing circuit is, and its current is counted.

    At the most resistance it takes 230 V / |250 kohm + 1 / (jw 100 nF)| = 0.913 mA beside a switch that leaks nothing
    (by hand; 1 % for the iron in series, whose 1 kohm lies across that of the capacitor).
    """
    plain = IDLE.format(snubber="100 nF").replace('snubber_capacitance = "100 nF"\n', "")
    plain = plain.replace('snubber_resistance = "100 ohm"\n', "")
    assert "Cause: the blocked triac lets" in verdict(weldsim.preview(weldsim.read_text(plain))).text
    dial = 'dial_kind = "rc-diac"\ndial = "0 %"\n'
    dial += 'timing_resistance_at_0 = "250 kohm"\ntiming_resistance_at_100 = "5 kohm"\n'
    answer = weldsim.preview(weldsim.read_text(plain.replace("[phase_control]\n", f"[phase_control]\n{dial}")))
    assert "Cause: the timing circuit of the dial and the blocked triac let" in verdict(answer).text
    assert "filter across the switch." in verdict(answer).text
    by_hand = 230.0 / abs(250e3 + 1.0 / (1j * 100.0 * math.pi * 100e-9))
    assert answer.numbers["trigger_off.primary.current.rms"].value == pytest.approx(by_hand, rel=0.01)
