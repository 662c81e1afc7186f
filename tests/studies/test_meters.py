"""Meters: ratios of phase control on a resistor, trust, energy, the page."""

import json
import math

import pytest

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures import meters as picture
from weldsim.studies import meters

CONTROLLER = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0.1 mA"
holding_current = "0.1 mA"
off_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "23 ohm"
"""
RECTIFIED = (
    CONTROLLER + '[rectifier]\nkind = "bridge"\nthreshold = "0 V"\nslope = "0 ohm"\nleakage_resistance = "1000 Mohm"\n'
)
# Phase control of a resistor, computed: delay [deg], average-responding over true rms, moving coil over crest of the
# source (behind a bridge), crest factor.
RATIOS = [
    (30.0, 0.94676, 0.59397, 1.4351),
    (60.0, 0.83618, 0.47746, 1.5767),
    (90.0, 0.70711, 0.31831, 2.0000),
    (120.0, 0.56541, 0.15915, 2.7699),
    (150.0, 0.39449, 0.04265, 4.1642),
]


@pytest.fixture(scope="module")
def shed():
    """The shed's supply at 40 % of its dial, a quarter of the time."""
    return meters.ask(weldsim.read("toroid_shed"), dial=0.4, duty=0.25)


def value(answer, name):
    """One number."""
    return answer.numbers[name].value


@pytest.mark.parametrize(("delay", "average", "coil", "crest"), RATIOS)
def test_ratios_of_phase_control(delay, average, coil, crest):
    """Average-responding over true rms, moving coil over crest, crest factor: computed with 30 digits, 5 shown.

    1e-4: leakage, holding current; the digits of the table.
    """
    answer = meters.ask(weldsim.read_text(CONTROLLER), delay=delay)
    shown, true = value(answer, "primary.current.average_responding"), value(answer, "primary.current.true_rms")
    assert shown / true == pytest.approx(average, rel=1e-4, abs=6e-6)
    assert value(answer, "primary.current.crest_factor") == pytest.approx(crest, rel=1e-4)
    direct = meters.ask(weldsim.read_text(RECTIFIED), delay=delay)
    assert value(direct, "output.voltage.moving_coil") == pytest.approx(coil * math.sqrt(2.0) * 230.0, rel=2e-4)


@pytest.mark.parametrize(("delay", "trusted"), [(90.0, True), (120.0, True), (150.0, False)])
def test_true_rms_ends_at_its_crest_factor(delay, trusted):
    """Crest factors of 2.0 and 2.8 are within the usual 3, 4.2 at 150 degrees is not (common practice)."""
    answer = meters.ask(weldsim.read_text(CONTROLLER), delay=delay)
    (row,) = [row for row in answer.rows if (row["place"], row["instrument"]) == ("primary current", "true rms")]
    assert row["trusted"] is trusted


def test_on_a_sine_every_clamp_is_right():
    """A resistor straight on the mains draws a sine: nothing is low or high, and no cause is told of it."""
    plain = weldsim.vary(weldsim.read_text(CONTROLLER), {"phase_control": "absent"})
    (text,) = [one.text for one in meters.ask(plain).verdicts if one.name == "primary_meters"]
    assert "within 3 % of it" in text
    assert "Cause" not in text


def test_a_moving_coil_reads_direct_current_however_choppy():
    """Behind a bridge at 165 degrees the mean is (1 + cos a)/pi of the crest: a coil shows it, a true rms is doubted.

    Without the bridge it shows nothing, and no rounding is told as a reading.  5e-3: leakage, holding current.
    """
    short = {"phase_control.pulse_width": "100 us"}  # the default's ends beyond the zero crossing
    direct, alternating = (
        meters.ask(weldsim.vary(weldsim.read_text(text), short), delay=165.0) for text in (RECTIFIED, CONTROLLER)
    )
    (row,) = [row for row in direct.rows if (row["place"], row["instrument"]) == ("output current", "moving coil")]
    expected = (1.0 + math.cos(math.radians(165.0))) / math.pi * math.sqrt(2.0) * 10.0
    assert row["shows"] == pytest.approx(expected, rel=5e-3)
    texts = [
        next(one.text for one in answer.verdicts if one.name == "output_meters") for answer in (direct, alternating)
    ]
    assert "is above the instrument's 3" in texts[0]
    assert "right for heat" not in texts[0]
    assert "shows nothing of alternating current" in texts[1]
    assert not [row for row in alternating.rows if row["instrument"] == "moving coil"]
    assert value(alternating, "output.current.moving_coil") == 0.0


def test_power_of_a_chopped_resistor():
    """At 90 degrees half the power of 10 A at 230 V, 1150 W, at a power factor of 0.70711 (closed form): 1e-4."""
    answer = meters.ask(weldsim.read_text(CONTROLLER), delay=90.0)
    assert value(answer, "energy_meter.power") == pytest.approx(1150.0, rel=1e-4)
    assert value(answer, "plug.power_factor") == pytest.approx(0.70711, rel=1e-4)
    # fundamental over rms, 0.83824 (closed form table of phase control)
    assert value(answer, "primary.current.distortion_factor") == pytest.approx(0.83824, rel=1e-4)
    # a clamp alone: 1.1107 times the mean magnitude is half of 10 A at 90 degrees, times 230 V
    assert value(answer, "clamp_display.power") == pytest.approx(0.5 * 2300.0, rel=1e-4)


def test_energy_of_an_hour():
    """An hour of that arc is 1.15 kWh, at 35 % duty 0.4025 kWh: watts times seconds."""
    answer = meters.ask(weldsim.read_text(CONTROLLER), delay=90.0)
    assert value(answer, "energy.hour_of_arc") == pytest.approx(1.15 * 3.6e6, rel=1e-4)
    assert value(answer, "energy.hour_of_work") == pytest.approx(0.4025 * 3.6e6, rel=1e-4)
    assert value(answer, "energy.output_share") == pytest.approx(1.0, rel=1e-4)  # nothing between plug and load
    assert "1.15 kWh" in next(one.text for one in answer.verdicts if one.name == "energy")


def test_a_supply_without_a_triac_idles():
    """Between welds an iron core on the mains draws its loss; behind a triac that is off nothing is drawn."""
    plain = weldsim.vary(weldsim.read("long_lead"), phase_control="absent")
    idling = meters.ask(plain)
    assert value(idling, "energy.idle.power") > 1.0
    hour = 3600.0 * (0.35 * value(idling, "plug.power.mean") + 0.65 * value(idling, "energy.idle.power"))
    assert value(idling, "energy.hour_of_work") == pytest.approx(hour)
    assert value(meters.ask(weldsim.read("long_lead")), "energy.idle.power") == 0.0


def test_moving_coil_is_the_preview_s_mean(shed):
    """The same setting previewed: mean, rms and power are the same exact integrals of the same settled state (1e-6)."""
    seen = weldsim.preview(weldsim.read("toroid_shed"), dial=0.4).numbers
    assert value(shed, "output.current.moving_coil") == pytest.approx(seen["output.current.mean"].value, rel=1e-6)
    assert value(shed, "plug.power_factor") == pytest.approx(seen["plug.power_factor"].value, rel=1e-6)


def test_a_meter_beyond_its_rating_is_told(shed):
    """20.6 A through a 16 A energy meter: its maker does not stand by it."""
    (verdict,) = [one for one in shed.verdicts if one.name == "energy_meter"]
    assert verdict.level == "note"
    assert "above its 16 A" in verdict.text


def test_moving_coil_is_left_out_on_alternating_current(shed):
    """It shows nothing there, which is no reading; on the output it is listed."""
    places = {row["place"] for row in shed.rows if row["instrument"] == "moving coil"}
    assert places == {"output current", "output voltage"}


def test_the_crest_at_the_plug_needs_no_snubber(shed):
    """Taking the snubber away leaves the crest of the mains as it was: the spikes of nanoseconds that a holding current
    of 0.1 A leaves behind an inductance without any capacitance are no reading, and are told.
    """
    bare = meters.ask(
        weldsim.vary(
            weldsim.read("toroid_shed"),
            {"phase_control.snubber_resistance": None, "phase_control.snubber_capacitance": None},
        ),
        dial=0.4,
        duty=0.25,
    )
    # 1 %: without the snubber the fall at the end of conduction is a little sharper
    assert value(bare, "plug.voltage.peak") == pytest.approx(value(shed, "plug.voltage.peak"), rel=0.01)
    assert any("spikes of nanoseconds" in line for line in bare.assumptions)
    assert not any("spikes of nanoseconds" in line for line in shed.assumptions)


def test_no_duty_is_refused():
    """An hour without welding has no energy to tell."""
    with pytest.raises(QuestionError, match="is none"):
        meters.ask(weldsim.read("toroid_shed"), duty=0.0)


def test_a_supply_that_takes_nothing_is_refused():
    """Mains of no volts leave every meter at nothing, and no share of it can be told."""
    with pytest.raises(QuestionError, match="nothing flows"):
        meters.ask(weldsim.vary(weldsim.read("charger"), {"mains.voltage": 0.0, "load": "absent"}))


def test_the_picture_can_be_read(shed):
    """Nothing overlaps or leaves the picture."""
    drawn = picture.draw(shed)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []


def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with picture; JSON with the numbers and rows."""
    monkeypatch.chdir(tmp_path)
    assert main(["meters", "charger", "--dial", "50%", "--duty", "50%"]) == 0
    assert "Readings" in capsys.readouterr().out
    assert (tmp_path / "charger-meters.png").exists()
    assert main(["meters", "charger", "--json"]) == 0
    assert {"place", "instrument", "shows", "off"} <= set(json.loads(capsys.readouterr().out)["rows"][0])


def test_an_average_responding_clamp_is_not_trusted_on_chopped_current():
    """On the shed's primary it shows 40 % and more too little: not to be trusted, and why; at the plug it is right."""
    rows = [row for row in meters.ask(weldsim.read("toroid_shed")).rows if row["instrument"] == "average-responding"]
    found = {row["place"]: row for row in rows}
    chopped, plug = found["primary current"], found["plug voltage"]
    assert chopped["off"] < -0.4
    assert (chopped["trusted"], chopped["why_not"]) == (False, "it is scaled for a sine")
    assert abs(plug["off"]) < 0.03
    assert plug["trusted"] is True


def test_a_clamp_without_hall_sensor_sees_the_ripple_alone():
    """A rectified sine in a resistor: mean 0.9003, rms 1 of the sine's; what alternates is 0.4352 (textbook, 48.3 %).

    On an alternating output there is nothing that it misses.
    """
    text = """
        [mains]
        voltage = "230 V"
        frequency = "50 Hz"
        [rectifier]
        threshold = "0 V"
        slope = "1 mohm"
        [load]
        kind = "resistor"
        resistance = "10 ohm"
    """
    answer = meters.ask(weldsim.read_text(text))
    shown = answer.numbers["output.current.alternating"].value
    assert shown == pytest.approx(23.0 * math.sqrt(1.0 - 8.0 / math.pi**2), rel=1e-3)  # 2 mohm of 10 ohm
    rows = {row["instrument"]: row for row in answer.rows if row["place"] == "output current"}
    assert rows["clamp for alternating current"]["shows"] == shown
    assert not rows["clamp for alternating current"]["trusted"]
    assert "no Hall sensor" in next(one.text for one in answer.verdicts if one.name == "output_meters")
    alternating = meters.ask(weldsim.read("resistance_spot"))
    assert not [row for row in alternating.rows if row["instrument"] == "clamp for alternating current"]
    assert "Hall" not in alternating.verdicts[0].text


def test_no_plug_in_meter_is_right_on_400_volts():
    """Such meters are made for 120 and 230 V (common practice): on 400 V none is called right."""
    scenario = weldsim.vary(weldsim.read("benchmark_a"), {"load.resistance": 5.0})
    texts = {}
    for volts in (230.0, 400.0):
        verdicts = weldsim.meters(weldsim.vary(scenario, {"mains.voltage": volts})).verdicts
        texts[volts] = next(one for one in verdicts if one.name == "energy_meter")
    assert (texts[230.0].level, "It is right here." in texts[230.0].text) == ("good", True)
    assert texts[400.0].level == "note"
    assert "Here its maker does not stand by it: 400 V is above the 264 V that it bears." in texts[400.0].text
