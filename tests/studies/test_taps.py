"""Taps against phase control: closed forms on a resistor, a tapped primary by hand, the real supply, the page."""

import json
import math
import re

import pytest

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures import taps as picture
from weldsim.runs.tapped import tapped
from weldsim.studies import taps
from weldsim.studies.operating import operate

RESISTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[breaker]
curve = "B"
current = "16 A"
[phase_control]
dial = "50 %"
delay_at_0 = "180 deg"
delay_at_100 = "0 deg"
pulse_kind = "held"
train_end = "179 deg"
threshold = "0 V"
slope = "0 ohm"
latching_current = "0.1 mA"
holding_current = "0.1 mA"
off_resistance = "1000 Mohm"
[transformer]
ratio = 1.0
[load]
kind = "resistor"
resistance = "23 ohm"
"""


BARE = {"bank": "absent", "choke": "absent"}


@pytest.fixture(scope="module")
def shed():
    """The shed's supply near 40 % of its dial, ten presses each."""
    return taps.ask(weldsim.read("toroid_shed"), dial=0.4, presses=10)


def test_closed_forms_on_a_resistor():
    """With k times the turns an ideal tap gives V/k and draws V/(k^2 R) at power factor 1.

    Phase control at the same rms draws the output current itself, at a power factor of 1/k = sqrt(1 - a/pi + sin 2a
    /(2 pi)) (textbook form of the controller).  2e-4: equal output to 1e-4.
    """
    answer = taps.ask(weldsim.read_text(RESISTOR))
    assert len(answer.rows) >= 5
    (ripple,) = [one.text for one in answer.verdicts if one.name == "ripple"]
    assert "the alternating output has crests of" in ripple
    assert "mains -10" in ripple
    for row in answer.rows:
        k = row["turns_factor"]
        angle = math.radians(row["delay"])
        assert row["output_current"] == pytest.approx(10.0 / k, rel=2e-4)
        assert row["tap_primary_rms"] == pytest.approx(10.0 / k**2, rel=2e-4)
        assert row["tap_power_factor"] == pytest.approx(1.0, abs=1e-4)
        assert row["dial_primary_rms"] == pytest.approx(10.0 / k, rel=2e-4)
        assert row["dial_power_factor"] == pytest.approx(1.0 / k, rel=2e-4)
        assert 1.0 - angle / math.pi + math.sin(2.0 * angle) / (2.0 * math.pi) == pytest.approx(1.0 / k**2, rel=5e-4)


def test_volts_of_a_boost_winding_fall_with_the_tap():
    """A boost winding told by its volts is the one told by turns (26 of 130 turns are 46 V of 230 V), on a tap too.

    Rated voltage over turns (EMF equation): 195 turns leave 230 V 26/195 = 30.67 V.
    """
    boost = {"kind": "winding", "ballast_resistance": "10 ohm"}
    shed = weldsim.vary(weldsim.read("toroid_shed"), {"load.kind": "arc line", "load.voltage": "24 V"})
    by_turns, by_volts = (weldsim.vary(shed, boost=boost | more) for more in ({"turns": 26}, {"voltage": "46 V"}))
    (turned, _), (told, _) = (tapped(each, 1.5) for each in (by_turns, by_volts))
    assert told.boost.voltage == pytest.approx(230.0 * 26 / 195)
    assert operate(told).current == pytest.approx(operate(turned).current, rel=1e-9)


def test_a_tap_of_whole_turns():
    """130 turns and a half more are 195: ratio 13 to 1.5, resistance with the turns, leakage with their square."""
    shed = weldsim.vary(
        weldsim.read("toroid_shed"),
        {
            "transformer.primary_wire_section": "absent",
            "transformer.primary_turn_length": "absent",
            "transformer.primary_resistance": "0.26 ohm",
            "transformer.primary_leakage_inductance": "0.4 mH",
        },
    )
    other, factor = tapped(shed, 1.5)
    assert (other.transformer.primary_turns, other.transformer.secondary_turns, factor) == (195, 15, 1.5)
    assert other.transformer.primary_resistance == pytest.approx(0.39)
    assert other.transformer.primary_leakage_inductance == pytest.approx(0.9e-3)
    assert other.phase_control is None
    assert tapped(shed, 1.501)[1] == 1.5  # whole turns


def test_iron_known_by_its_inductance_goes_along():
    """The same iron behind twice the turns: twice the flux linkage, four times the inductance (flux times turns)."""
    core = {
        "magnetising_inductance": 2.0,
        "saturation_flux_linkage": 1.2,
        "saturated_inductance": 2e-3,
        "hysteresis": [{"current": 0.02, "flux_linkage": 0.3}],
    }
    other, _ = tapped(weldsim.vary(weldsim.read_text(RESISTOR), core=core), 2.0)
    assert other.core.magnetising_inductance == pytest.approx(8.0)
    assert other.core.saturation_flux_linkage == pytest.approx(2.4)
    assert other.core.saturated_inductance == pytest.approx(8e-3)
    assert other.core.hysteresis[0].current == pytest.approx(0.01)
    assert other.core.hysteresis[0].flux_linkage == pytest.approx(0.6)


def test_equal_output_both_ways(shed):
    """The dial said to be equal gives, previewed, the output of the tap simulated by itself (2e-4: dial to 1e-4)."""
    row = shed.rows[3]
    tap, _ = tapped(weldsim.read("toroid_shed"), row["turns_factor"])
    alone = weldsim.preview(tap).numbers["output.current.mean"].value
    dialled = weldsim.preview(weldsim.read("toroid_shed"), dial=row["dial"]).numbers["output.current.mean"].value
    assert dialled == pytest.approx(alone, rel=2e-4)
    assert row["output_current"] == pytest.approx(alone, rel=1e-4)


def test_taps_spare_the_mains(shed):
    """Trade knowledge: phase control costs primary current and power factor, most at low output, and more ripple."""
    for row in shed.rows:
        assert row["dial_primary_rms"] > row["tap_primary_rms"]
        assert row["dial_power_factor"] < row["tap_power_factor"]
        assert row["dial_ripple"] > row["tap_ripple"]
    ratios = [row["dial_primary_rms"] / row["tap_primary_rms"] for row in shed.rows]
    assert ratios == sorted(ratios)
    numbers = shed.numbers
    assert (
        numbers["taps.primary.current.rms"].value
        < numbers["both.primary.current.rms"].value
        < numbers["dial.primary.current.rms"].value
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("gone", "words"),
    [({}, "bank and choke must"), ({"bank": "absent"}, "that the choke must"), (BARE, "nothing bridges")],
)
def test_what_bridges_the_gap_is_what_there_is(gone, words):
    """The cause of the ripple names bank and choke only where the file has them."""
    answer = taps.ask(weldsim.vary(weldsim.read("toroid_shed"), {"breaker": "absent", **gone}), dial=0.6)
    assert words in next(one.text for one in answer.verdicts if one.name == "ripple")


def test_trips_are_counted_both_ways(shed):
    """Ten presses each under the breaker's band; verdicts of ripple, current and heat state their spread."""
    assert shed.numbers["presses.count"].value == 10
    for way in ("taps", "dial"):
        assert 0 <= shed.numbers[f"{way}.presses.tripped"].value <= 10
    texts = {verdict.name: verdict.text for verdict in shed.verdicts}
    assert set(texts) == {"nearest_tap", "ripple", "primary", "trip", "switch_on"}
    assert all("mains -10" in texts[name] for name in ("ripple", "primary", "trip"))


def told_of_the_tap(dial):
    """What is told of the tap that stands for a dial, on a resistor of 10 A, and the answer."""
    answer = taps.ask(weldsim.read_text(RESISTOR), dial=dial)
    return [one.text for one in answer.verdicts if one.name == "nearest_tap"], answer


def test_the_nearest_tap_is_told():
    """A dial that no tap equals is answered for the nearest one, in words; one that a tap equals needs no words.

    At 90 degrees a controller on a resistor gives 10 A / sqrt 2 = 7.071 A (textbook form).
    """
    (text,), answer = told_of_the_tap(0.5)
    assert text.startswith("Dial 50 % gives 7.07 A; no tap gives just that")
    assert answer.numbers["wanted.dial"].value == 0.5
    assert answer.numbers["wanted.output.current"].value == pytest.approx(10.0 / math.sqrt(2.0), rel=2e-4)
    nearest = min(answer.rows, key=lambda row: abs(row["output_current"] - 10.0 / math.sqrt(2.0)))
    assert nearest["turns_factor"] == answer.numbers["taps.turns_factor"].value
    assert f"{nearest['output_current']:.3g} A, and of dial {100 * nearest['dial']:.3g} %" in text
    assert told_of_the_tap(nearest["dial"])[0] == []


def test_an_output_beyond_all_taps_is_told():
    """Five percent of the dial give less than the last tap: the range of the taps is told."""
    (text,), answer = told_of_the_tap(0.05)
    least, most = (f(row["output_current"] for row in answer.rows) for f in (min, max))
    assert f"the taps looked at reach from {least:.3g} A to {most:.3g} A" in text
    assert answer.numbers["taps.turns_factor"].value == answer.rows[-1]["turns_factor"]


@pytest.mark.slow
def test_taps_that_no_dial_matches_are_told():
    """A gate pulse of 7 ms lasts beyond the zero crossing: below some dial the output jumps to full, and taps below it
    have nothing beside them.
    """
    answer = taps.ask(weldsim.vary(weldsim.read("toroid_shed"), {"phase_control.pulse_width": "7 ms"}), presses=0)
    (told,) = [one.text for one in answer.verdicts if one.name == "without_a_dial"]
    pairs = sum(row["kind"] == "pair" for row in answer.rows)
    alone, of = (int(word) for word in re.findall(r"of (\d+) of the (\d+) taps", told)[0])
    assert alone + pairs == of
    assert alone > pairs


def test_without_a_dial_it_is_refused():
    """Nothing to compare without a transformer or a dial that can be set."""
    for change in ({"phase_control": "absent"}, {"transformer": "absent"}):
        with pytest.raises(QuestionError, match="need a transformer and a dial"):
            taps.ask(weldsim.vary(weldsim.read_text(RESISTOR), change))


def test_the_picture_can_be_read(shed):
    """Nothing overlaps or leaves the picture."""
    drawn = picture.draw(shed)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []


def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with picture; JSON with its rows."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "r.toml").write_text(RESISTOR, encoding="utf-8")
    assert main(["taps", "r.toml", "--dial", "60%"]) == 0
    page = capsys.readouterr().out
    assert "Tap by tap" in page
    assert "Dial 60 % gives" in page
    assert (tmp_path / "r-taps.png").exists()
    assert main(["taps", "r.toml", "--json"]) == 0
    assert {row["kind"] for row in json.loads(capsys.readouterr().out)["rows"]} == {"pair"}
