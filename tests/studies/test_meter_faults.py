"""Meters with one thing broken: closed forms on a resistor, and whether what is called telling is telling."""

import math

import pytest

import weldsim
from tests.figures import layout
from weldsim.figures import meters as picture
from weldsim.report.wording import page
from weldsim.studies import meters
from weldsim.studies.meter_faults import telltale

LAMP = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
pulse_kind = "held"
latching_current = "0.1 mA"
holding_current = "0.1 mA"
off_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "23 ohm"
"""
BRIDGE = """
[mains]
voltage = "24 V"
frequency = "50 Hz"
resistance = "10 mohm"
[rectifier]
threshold = "0 V"
slope = "0 ohm"
leakage_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "0.49 ohm"
"""


@pytest.fixture(scope="module")
def shed():
    """The shed at its own dial with each of its faults."""
    return meters.ask(weldsim.read("toroid_shed"), faults=True)


def broken(answer, fault):
    """The row of a fault."""
    return next(row for row in answer.rows if row["kind"] == "fault" and row["fault"] == fault)


def test_a_lost_half_wave_and_a_shorted_switch_on_a_resistor():
    """Phase control of a resistor at 60 degrees by the textbook, each half cycle (V/R) sin from there on.

    Half of it: 1/root 2 of the rms, and a mean of Vp (1 + cos a) / (2 pi R); shorted: all of 230 V / R.
    """
    answer = meters.ask(weldsim.read_text(LAMP), delay=60.0, faults=True)
    angle = math.radians(60.0)
    rms = 10.0 * math.sqrt(1.0 - angle / math.pi + math.sin(2.0 * angle) / (2.0 * math.pi))
    lost = broken(answer, "gate of one half wave lost")
    assert broken(answer, "nothing broken")["primary_rms"] == pytest.approx(rms, rel=1e-4)
    assert lost["primary_rms"] == pytest.approx(rms / math.sqrt(2.0), rel=1e-4)
    mean = 10.0 * math.sqrt(2.0) * (1.0 + math.cos(angle)) / (2.0 * math.pi)
    assert lost["direct"] == pytest.approx(mean, rel=1e-4)
    assert lost["missed"] == pytest.approx(0.5)
    assert broken(answer, "phase control shorted")["primary_rms"] == pytest.approx(10.0, rel=1e-4)
    assert "primary direct current" in lost["telltale"]


def test_an_open_diode_on_a_resistor():
    """A bridge without one diode gives half of its mean, crest / pi, and alternates by sqrt(crest^2 / 4 - mean^2).

    0.49 of 0.5 ohm are the load's.
    """
    row = broken(meters.ask(weldsim.read_text(BRIDGE), faults=True), "one diode open")
    crest = 24.0 * math.sqrt(2.0) * 0.49 / 0.5
    assert row["output_voltage"] == pytest.approx(crest / math.pi, rel=1e-4)
    assert row["alternating"] == pytest.approx(math.sqrt(crest**2 / 4.0 - (crest / math.pi) ** 2), rel=1e-4)
    assert row["direct"] == pytest.approx(crest / math.pi / 0.49, rel=1e-4)


def test_only_what_there_is_can_break():
    """A bridge on a resistor has two faults: no bank, switch, choke, leads or core that could have others."""
    answer = meters.ask(weldsim.read_text(BRIDGE), faults=True)
    names = [row["fault"] for row in answer.rows if row["kind"] == "fault"]
    assert names == ["nothing broken", "one diode open", "one diode shorted"]
    assert answer.numbers["faults.count"].value == 2.0
    assert not [row for row in meters.ask(weldsim.read_text(BRIDGE)).rows if row["kind"] == "fault"]


def test_a_short_pulse_is_no_fault_of_a_set_that_has_one(shed):
    """The shed's own pulse made as short as the fault's: it is the healthy supply then, and no fault."""
    assert any("gate pulse" in row["fault"] for row in shed.rows if row["kind"] == "fault")
    short = weldsim.vary(weldsim.read("toroid_shed"), {"phase_control.pulse_width": "60 us"})
    names = [row["fault"] for row in meters.ask(short, faults=True).rows if row["kind"] == "fault"]
    assert not [name for name in names if "gate pulse" in name]


def test_what_is_told_lies_beyond_a_healthy_supply_on_other_mains(shed):
    """Beside previews of the shed at 207 and 253 V: an open diode gives fewer amperes, a bad clamp as many as these."""
    low, high = (
        weldsim.preview(weldsim.vary(weldsim.read("toroid_shed"), {"mains.voltage": f"{volts} V"}))
        for volts in (207.0, 253.0)
    )
    least, most = (one.numbers["output.current.mean"].value for one in (low, high))
    assert broken(shed, "one diode open")["output_current"] < least
    assert broken(shed, "one diode open")["telltale"]
    clamp = broken(shed, "clamp with 15 mohm more")
    assert least < clamp["output_current"] < most
    assert clamp["telltale"] == ""
    text = next(one.text for one in shed.verdicts if one.name == "faults")
    assert "measure the plug's volts too: clamp with 15 mohm more" in text
    assert "none of these meters at this setting: gate pulse of 60 us" in text  # it latches at 90 degrees all the same


def test_a_fault_is_the_scenario_with_that_fault(shed):
    """A dry bank's row is what a preview of 18 mF with five times the resistance gives."""
    dry = weldsim.vary(weldsim.read("toroid_shed"), {"bank.capacitance": "18 mF", "bank.resistance": "15 mohm"})
    own = weldsim.preview(dry).numbers
    row = broken(shed, "bank dried out")
    assert row["output_current"] == pytest.approx(own["output.current.mean"].value, rel=1e-6)
    assert row["primary_average"] == pytest.approx(own["primary.current.average_responding"].value, rel=1e-6)


def test_rounding_at_the_output_tells_nothing():
    """A supply on whose mains the diac never breaks over: 1e-26 V of either sign at the output, and 0.25 mA through
    its timing capacitor, are nothing that a meter shows, healthy or broken."""
    own = ((5.9e-29, 5.8e-32), (-1.7e-26, 1.7e-29), (8.3e-27, 8.2e-30))
    healthy = [{"output_voltage": volts, "alternating": rest, "primary_rms": 2.5e-4} for volts, rest in own]
    assert telltale({"output_voltage": 0.0, "alternating": 0.0, "primary_rms": 2.5e-4}, healthy) == ""
    assert telltale({"output_voltage": 3.0, "alternating": 0.0, "primary_rms": 2.5e-4}, healthy) == "output volts 3 V"


def test_page_and_picture_of_faults(shed):
    """The page lists them under a heading; the picture has two panels for each, and no text lies on another."""
    assert "With one thing broken" in page(shed)
    drawn = picture.draw(shed)
    assert len(drawn.axes) == 2 * 10
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []
