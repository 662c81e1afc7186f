"""How long it may weld: heat by hand, cooling given, estimated and unknown, and what the verdicts say of it."""

import json
import math

import pytest

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures import duty as picture
from weldsim.studies import duty
from weldsim.studies.operating import operate, welding

IDEAL = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
ratio = 10.0
primary_resistance = "0.5 ohm"
secondary_resistance = "5 mohm"
[load]
kind = "resistor"
resistance = "0.22 ohm"
[cooling]
winding_to_air = "0.2 K/W"
winding_time = "800 s"
ambient = "20 degC"
"""


def row_of(answer, name):
    """The row of one part."""
    return next(row for row in answer.rows if row["kind"] == "part" and row["part"] == name)


@pytest.fixture(scope="module")
def shed():
    """The toroid, whose copper is known, with a heat sink at the rectifier."""
    scenario = weldsim.vary(weldsim.read("toroid_shed"), {"cooling.rectifier_to_air": "0.25 K/W"})
    return duty.ask(scenario, dials=(0.3, 0.5))


def test_copper_by_hand():
    """23 V behind 10 mohm (5 of its own, 0.5 ohm / 100) on 220 mohm: 100 A, 100 W, 20 K per 0.2 K/W more or less.

    Settled: 100 W x 0.2 K/W / (1 - 0.2 x 0.00393 x 100) above 20 degC (closed form); 1e-3: magnetising and leakage.
    """
    answer = duty.ask(weldsim.read_text(IDEAL))
    assert answer.numbers["output.current.rms"].value == pytest.approx(100.0, rel=1e-3)
    assert answer.numbers["winding.heat"].value == pytest.approx(100.0, rel=2e-3)
    assert answer.numbers["winding.settled"].value == pytest.approx(20.0 + 20.0 / (1.0 - 0.0786), rel=2e-3)
    assert answer.numbers["duty.share"].value == 1.0
    assert math.isinf(answer.numbers["weld.longest"].value)
    assert answer.verdicts[0].level == "good"
    assert "without a pause" in answer.verdicts[0].text


def test_a_hotter_one_must_rest():
    """With ten times the thermal resistance it runs away; the duty is that of the body alone."""
    answer = duty.ask(weldsim.read_text(IDEAL.replace("0.2 K/W", "3 K/W")))
    row = row_of(answer, "transformer windings")
    assert math.isinf(row["settled"])
    # From cold 110 K at 100 W x 3 K/W / 800 s = 0.375 K/s at first, growing: between those bounds.
    assert 110.0 / 0.375 / 1.25 < row["lasts"] < 110.0 / 0.375 * 1.25
    assert row["duty_least"] < row["duty"] < row["duty_most"] < 1.0
    verdict = answer.verdicts[0]
    assert verdict.level == "fault"
    assert "never settles" in verdict.text


def test_copper_is_estimated_from_its_dimensions(shed):
    """2.98 kg of copper, 385 J/(kg K), 13 min: 0.68 K/W; a given sink is told as given, the others as unknown."""
    assert row_of(shed, "transformer windings")["to_air"] == pytest.approx(780.0 / (2.978 * 385.0), rel=1e-3)
    assert row_of(shed, "transformer windings")["known"] == "estimated"
    assert row_of(shed, "rectifier's heat sink")["known"] == "given"
    assert row_of(shed, "choke")["known"] == "unknown"
    assert math.isnan(row_of(shed, "choke")["duty"])
    assert "choke_to_air" in next(one.text for one in shed.verdicts if one.name == "unknown")


def test_both_halves_of_a_centre_tap_hold_heat(shed):
    """Two secondaries of 15 turns, 25 mm2 and 45.4 cm in place of one: 4.49 kg of copper (8900 kg/m3, by hand)."""
    asked = weldsim.vary(weldsim.read("toroid_shed"), {"rectifier.kind": "centre-tap"})
    assert row_of(duty.ask(asked, dials=(0.6,)), "transformer windings")["to_air"] == pytest.approx(
        780.0 / (4.493 * 385.0), rel=1e-3
    )


def test_heat_is_that_of_the_ledger(shed):
    """Losses of windings and core, of the rectifier: those of `preview` at the same setting."""
    rows = {
        row["part"]: row["power"]
        for row in weldsim.preview(welding(weldsim.read("toroid_shed"))).rows
        if row["kind"] == "part"
    }
    copper = rows["transformer primary winding"] + rows["transformer secondary winding"]
    assert row_of(shed, "transformer windings")["heat"] == pytest.approx(
        copper + rows["core loss"] + rows["core hysteresis"], rel=1e-3
    )
    assert row_of(shed, "rectifier's heat sink")["heat"] == pytest.approx(rows["rectifier"], rel=1e-3)


def test_a_sink_of_the_size_asked_for_gives_that_duty(shed):
    """What a part of unknown cooling needs for 35 % is what then gives 35 %."""
    size = row_of(shed, "choke")["needed"]
    answer = duty.ask(weldsim.vary(weldsim.read("toroid_shed"), {"cooling.choke_to_air": size}), dials=(0.5,))
    assert row_of(answer, "choke")["duty"] == pytest.approx(0.35, abs=1e-3)


def test_two_transformers_of_one_make_warm_alike():
    """Both halves of the same pair: neither is told before the other, and each gets its cut-out."""
    pair = weldsim.vary(weldsim.read("oven_pair"), {"second_transformer": {}, "second_core": "absent"})
    answer = duty.ask(weldsim.vary(pair, {"cooling.winding_to_air": 1.3}))
    text = next(one.text for one in answer.verdicts if one.name == "cutout")
    assert "transformer windings; a cut-out belongs there, one on each transformer, since the two warm" in text
    assert "second" not in text
    unlike = weldsim.vary(pair, {"cooling.winding_to_air": 1.3, "second_transformer.primary_resistance": 2.8})
    text = next(one.text for one in duty.ask(unlike).verdicts if one.name == "cutout")
    assert "second transformer's windings; a cut-out belongs there" in text
    assert "on each" not in text


def test_more_output_is_less_duty(shed):
    """Over the dial; the spread over mains and cooling holds the figure itself."""
    low, high = (row for row in shed.rows if row["kind"] == "dial")
    assert high["output_current"] > low["output_current"]
    assert high["duty"] < low["duty"]
    assert high["lasts"] < low["lasts"]
    least, told, most = (shed.numbers[name].value for name in ("duty.least", "duty.share", "duty.most"))
    assert least < told < most


def test_it_fades_as_it_warms(shed):
    """The figure is that of the same setting with hot windings (its own run), and it is less."""
    verdict = next(one for one in shed.verdicts if one.name == "fade")
    hot = operate(weldsim.vary(welding(weldsim.read("toroid_shed")), {"transformer.winding_temperature": 130.0}))
    assert f"{hot.current:.3g} A in place of" in verdict.text
    assert "less" in verdict.text


@pytest.mark.parametrize(
    ("cutout", "level", "words"),
    [("120 degC", "note", "closes again after"), ("150 degC", "fault", "above what the insulation bears")],
)
def test_what_a_cut_out_does(cutout, level, words):
    """It guards the windings but not the rectifier; too late is told, and it moves the limit."""
    changes = {"cooling.cutout": cutout, "cooling.rectifier_to_air": "0.6 K/W", "cooling.sink_limit": "60 degC"}
    answer = duty.ask(weldsim.vary(weldsim.read("toroid_shed"), changes), dials=(0.5, 0.6))
    verdict = next(one for one in answer.verdicts if one.name == "cutout")
    assert verdict.level == level
    assert words in verdict.text
    assert "does not guard the rectifier's heat sink" in verdict.text
    assert row_of(answer, "transformer windings")["limit"] == min(130.0, float(cutout.split()[0]))


def test_what_cannot_be_asked():
    """A duty that is none; a resistor on the mains."""
    with pytest.raises(QuestionError, match="a duty of 0 % is none"):
        duty.ask(weldsim.read_text(IDEAL), duty=0.0)
    bare = weldsim.vary(weldsim.read_text(IDEAL), {"transformer": "absent", "load.resistance": "22 ohm"})
    with pytest.raises(QuestionError, match="nothing in it gets hot"):
        duty.ask(bare)


def test_nothing_known_is_said():
    """Without dimensions or K/W there is no figure for the duty, but what would be needed."""
    answer = duty.ask(weldsim.read("garage_60hz"), dials=(0.5,))
    assert "duty.share" not in answer.numbers
    assert "cannot be told" in answer.verdicts[0].text
    assert answer.numbers["winding.needed"].value > 0.0
    drawn = picture.draw(answer)
    assert layout.overlapping(drawn) == []


def test_nothing_overlaps_in_the_picture(shed):
    """Limits and legend have room."""
    drawn = picture.draw(shed)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []


def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with its caution and picture; JSON with null where it never gets too hot."""
    monkeypatch.chdir(tmp_path)
    assert main(["duty", "toroid_shed", "--dial", "30%", "--dial", "60%"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "of each ten minutes" in page
    assert "Insulation that has been too hot fails later" in page
    assert (tmp_path / "toroid_shed-duty.png").exists()
    assert main(["duty", "toroid_shed", "--dial", "30%", "--dial", "60%", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    cold, warm = (row for row in answer["rows"] if row["kind"] == "dial")
    assert cold["lasts"] is None
    assert warm["lasts"] > 0.0
    assert warm["first"] == "transformer windings"
