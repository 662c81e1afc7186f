"""Two transformers of one supply: closed forms through the whole question, its verdicts, refusals, picture and page."""

import json
import math

import pytest

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.errors import QuestionError, WiringError
from weldsim.figures import share as picture
from weldsim.studies import share
from weldsim.studies.answer import LEVELS

OMEGA = 2.0 * math.pi * 50.0
ALIKE = """
title = "Two alike"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
primary_turns = 240
secondary_turns = 20
primary_resistance = "1.2 ohm"
secondary_resistance = "8 mohm"
secondary_leakage_inductance = "25 uH"
[second_transformer]
secondaries = "parallel"
[load]
kind = "resistor"
resistance = "0.3 ohm"
"""


def alike(changes=None):
    """Two alike in parallel on a resistor, with changes."""
    return weldsim.vary(weldsim.read_text(ALIKE), changes or {})


def impedance(turns, resistance=8e-3):
    """Of one of the two, seen from its secondary [ohm]."""
    return resistance + 1.2 * (turns / 240) ** 2 + 1j * OMEGA * 25e-6


@pytest.fixture(scope="module")
def ovens():
    """The bundled pair: primaries in parallel, secondaries in series behind a bridge."""
    return share.ask(weldsim.read("oven_pair"))


def text_of(answer, name):
    """The text of one verdict."""
    return next(one.text for one in answer.verdicts if one.name == name)


def test_two_alike_share_evenly():
    """Half of U / (Z/2 + R) in each, nothing circulates, and the copper of each is I^2 R of its own windings."""
    answer = share.ask(alike())
    current = 230.0 / 12.0 / abs(impedance(20) / 2.0 + 0.3)
    for prefix in ("", "second_"):
        numbers = {name: answer.numbers[f"setting.{prefix}{name}"].value for name in NAMED}
        assert numbers["secondary.current.rms"] == pytest.approx(current / 2.0, rel=1e-6)
        assert numbers["secondary.share"] == pytest.approx(1.0, rel=1e-9)
        copper = (current / 2.0) ** 2 * (8e-3 + 1.2 / 144.0)
        assert numbers["transformer.copper.heat"] == pytest.approx(copper, rel=1e-6)
        assert numbers["transformer.iron.heat"] == 0.0
    assert answer.numbers["no_load.circulating.current.rms"].value == pytest.approx(0.0, abs=1e-9)
    assert {one.name: one.level for one in answer.verdicts}["share"] == "good"
    assert "hardly differ" in text_of(answer, "share")
    short = abs(impedance(20) / 2.0 + 1e-3)
    assert answer.numbers["dead_short.output.current.rms"].value == pytest.approx(230.0 / 12.0 / short, rel=1e-6)


NAMED = ("secondary.current.rms", "secondary.share", "transformer.copper.heat", "transformer.iron.heat")


def test_unlike_impedances_share_by_the_rule_of_dividers():
    """I1 / I = Z2 / (Z1 + Z2); who carries a quarter more than an even share is a fault."""
    answer = share.ask(alike({"second_transformer.secondary_resistance": 40e-3}))
    first, second = impedance(20), impedance(20, 40e-3)
    for name, other in (("secondary", second), ("second_secondary", first)):
        expected = 2.0 * abs(other / (first + second))
        assert answer.numbers[f"setting.{name}.share"].value == pytest.approx(expected, rel=1e-6)
    verdict = next(one for one in answer.verdicts if one.name == "share")
    assert verdict.level == "fault"
    assert "mains -10 to +10 %" in verdict.text


def test_what_circulates_and_what_a_turn_changes():
    """Without load (E1 - E2) / (Z1 + Z2) circulate; the rows of turns tell it for a turn less and more of the same wire
    (resistance with the turns, leakage with their square)."""
    answer = share.ask(alike({"second_transformer.secondary_turns": 19}))
    expected = 230.0 / 240.0 / abs(impedance(20) + impedance(19))
    assert answer.numbers["no_load.circulating.current.rms"].value == pytest.approx(expected, rel=1e-6)
    rows = {row["turns"]: row for row in answer.rows if row["kind"] == "turns"}
    assert sorted(rows) == [18, 19, 20]
    assert [turns for turns, row in rows.items() if row["as_built"]] == [19]
    for turns, row in rows.items():
        wire = turns / 19
        other = 8e-3 * wire + 1.2 * (turns / 240) ** 2 + 1j * OMEGA * 25e-6 * wire**2
        expected = 230.0 * (20 - turns) / 240.0 / abs(impedance(20) + other)
        assert row["circulating"] == pytest.approx(expected, rel=1e-6, abs=1e-9)
    verdict = next(one for one in answer.verdicts if one.name == "circulating")
    assert verdict.level == "fault"  # 26 A where the load's halves are some 32 A


def test_four_joins_side_by_side():
    """Volts without load by hand: 20 + 16 turns, their mean by impedance, half of 36, and 20 x 16 / 36 turns."""
    iron = {"magnetising_inductance": 3.0, "loss_resistance": 2000.0}
    answer = share.ask(alike({"second_transformer": {"secondary_turns": 16, "secondaries": "series"}, "core": iron}))
    joins = {(row["primaries"], row["secondaries"]): row for row in answer.rows if row["kind"] == "join"}
    assert len(joins) == 4
    assert [join for join, row in joins.items() if row["as_built"]] == [("parallel", "series")]
    by_turn = 230.0 / 240.0
    middle = abs((20 * impedance(16) + 16 * impedance(20)) / (impedance(16) + impedance(20)))
    expected = {
        ("parallel", "series"): 36.0,
        ("parallel", "parallel"): middle,
        ("series", "series"): 18.0,
        ("series", "parallel"): 20 * 16 / 36,
    }
    for join, turns in expected.items():  # 1 %: the magnetising current drops some of the mains
        assert joins[join]["no_load"] == pytest.approx(by_turn * turns, rel=0.01), join
    assert "secondaries too unlike" in joins["parallel", "parallel"]["dangers"]
    assert "parallel/parallel (secondaries too unlike)" in text_of(answer, "joins")


def test_a_join_that_cannot_be_is_told():
    """Without a core nothing says how series cores share the mains: the row tells why, the others stand."""
    rows = {(row["primaries"], row["secondaries"]): row for row in share.ask(alike()).rows if row["kind"] == "join"}
    assert rows["series", "series"]["dangers"].startswith("not to be had: with series secondaries only the iron")
    assert rows["series", "parallel"]["output_current"] > 0.0


def test_a_bank_over_its_rating_is_a_danger_of_the_join():
    """Series secondaries lift a bank above its cans: told of that join, not of the others (42 V against 35 V)."""
    bank = {"rectifier": {}, "bank": {"capacitance": 0.02, "resistance": 5e-3, "rated_voltage": 35.0}}
    rows = {(row["primaries"], row["secondaries"]): row for row in share.ask(alike(bank)).rows if row["kind"] == "join"}
    assert "bank over its rating" in rows["parallel", "series"]["dangers"]
    assert rows["parallel", "parallel"]["dangers"] == ""


@pytest.mark.parametrize("secondaries", ["series", "parallel"])
def test_the_wrong_way_round_is_told_with_its_figure(secondaries):
    """In series the difference is left, in parallel U / Z of each runs round the loop; of nothing there is no share."""
    answer = share.ask(alike({"second_transformer": {"secondaries": secondaries, "reversed": True}}))
    verdict = answer.verdicts[0]
    assert (verdict.name, verdict.level) == ("reversed", "fault")
    assert math.isnan(answer.numbers["setting.secondary.share"].value)
    if secondaries == "parallel":
        loop = answer.numbers["no_load.circulating.current.rms"].value
        assert loop == pytest.approx(230.0 / 12.0 / abs(impedance(20)), rel=1e-6)
    else:
        assert answer.numbers["no_load.output.voltage.rms"].value == 0.0


def test_halves_of_a_centre_tap_take_turns():
    """Each transformer is one half: shares are of amperes, and nothing circulates between them."""
    tapped = {"rectifier": {"kind": "centre-tap"}, "second_transformer": {}}
    answer = share.ask(alike(tapped))
    assert answer.numbers["setting.secondary.share"].value == pytest.approx(1.0, rel=1e-6)
    assert "setting.circulating.current.rms" not in answer.numbers
    assert "carries" in text_of(answer, "share")


def test_the_ovens(ovens):
    """Both carry the same current, the second saturates more for its smaller section (25 and 24 cm2 at equal volts),
    every verdict tells a spread or a cause, and copper and iron are those of `preview`'s ledger."""
    numbers = {name: number.value for name, number in ovens.numbers.items()}
    assert numbers["setting.secondary.current.rms"] == pytest.approx(numbers["setting.second_secondary.current.rms"])
    ratio = numbers["no_load.second_core.saturation"] / numbers["no_load.core.saturation"]
    assert ratio == pytest.approx(25.0 / 24.0, rel=0.01)  # and what the larger magnetising current drops
    assert {one.name for one in ovens.verdicts} == {
        "share",
        "saturation",
        "heat",
        "hum",
        "dead_short",
        "joins",
        "turns",
    }
    assert all("Cause" in one.text for one in ovens.verdicts)
    assert "Sound is not computed" in text_of(ovens, "hum")
    ledger = {row["part"]: row["power"] for row in weldsim.preview(weldsim.read("oven_pair")).rows}
    for prefix, word in (("", ""), ("second_", "second ")):
        copper = ledger[f"{word}transformer primary winding"] + ledger[f"{word}transformer secondary winding"]
        iron = ledger[f"{word}core loss"] + ledger[f"{word}core hysteresis"]
        assert numbers[f"setting.{prefix}transformer.copper.heat"] == pytest.approx(copper, rel=1e-4)
        assert numbers[f"setting.{prefix}transformer.iron.heat"] == pytest.approx(iron, rel=1e-4)


@pytest.mark.slow
def test_a_core_that_saturates_is_told():
    """A second core of half the section goes beyond saturation on stiff mains: a fault, and a note of hum."""
    stiff = {
        "mains.resistance": 0.0,
        "transformer.primary_resistance": 0.2,
        "transformer.primary_leakage_inductance": 0.0,
    }
    answer = share.ask(weldsim.vary(weldsim.read("oven_pair"), stiff | {"second_core.section": "14 cm2"}))
    levels = [(one.level, "second core" in one.text) for one in answer.verdicts if one.name == "saturation"]
    assert ("fault", True) in levels
    assert next(one.level for one in answer.verdicts if one.name == "hum") == "note"
    assert all(one.level in LEVELS for one in answer.verdicts)


def test_what_is_refused():
    """One transformer shares with nobody; no dial without a phase control; taps and turns ask of one transformer."""
    with pytest.raises(QuestionError, match="shares with nobody") as refused:
        share.ask(weldsim.read("toroid_shed"))
    assert "[second_transformer]" in refused.value.advice
    with pytest.raises(QuestionError, match="cannot be set by"):
        share.ask(alike(), dial=0.5)
    with pytest.raises(WiringError, match="whose turns they are"):
        weldsim.characteristic(weldsim.read("oven_pair"), turns=[16])


def test_the_picture_can_be_read(ovens):
    """Nothing overlaps or leaves the picture, with cores and without."""
    for answer in (ovens, share.ask(alike())):
        drawn = picture.draw(answer)
        assert layout.overlapping(drawn) == []
        assert layout.cut_off(drawn) == []


def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with picture and the caution; JSON with its rows."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "two.toml").write_text(ALIKE, encoding="utf-8")
    assert main(["share", "two.toml"]) == 0
    page = capsys.readouterr().out
    assert "Each transformer" in page
    assert "short circuit in parallel" in page
    assert (tmp_path / "two-share.png").exists()
    assert main(["share", "two.toml", "--json"]) == 0
    assert {row["kind"] for row in json.loads(capsys.readouterr().out)["rows"]} == {"transformer", "join", "turns"}


# --- what other questions make of two ------------------------------------------------------------------------------


@pytest.mark.slow
def test_other_questions_tell_both():
    """Preview numbers both fluxes, duty both windings, and each says of what it tells the first alone."""
    ovens = weldsim.read("oven_pair")
    seen = weldsim.preview(ovens)
    assert seen.numbers["second_core.flux_linkage.peak"].value > 0.5
    assert any("Two transformers, primaries in parallel" in line for line in seen.assumptions)
    cooled = weldsim.vary(ovens, {"cooling.winding_to_air": 1.0})
    heat = {row["part"]: row for row in weldsim.duty(cooled).rows if row["kind"] == "part"}
    numbers = share.ask(ovens).numbers
    for part, prefix in (("transformer windings", ""), ("second transformer's windings", "second_")):
        own = numbers[f"setting.{prefix}transformer.copper.heat"].value
        own += numbers[f"setting.{prefix}transformer.iron.heat"].value
        assert heat[part]["heat"] == pytest.approx(own, rel=1e-3)
        assert heat[part]["to_air"] == 1.0


@pytest.mark.slow
def test_the_rating_is_that_of_each():
    """230 V times the own primary current of each against its own rating, not the whole current against one."""
    rated = weldsim.vary(weldsim.read("oven_pair"), {"transformer.rating": 1200.0, "second_transformer.rating": 900.0})
    answer = weldsim.preview(rated)
    current = share.ask(weldsim.read("oven_pair")).numbers["setting.second_primary.current.rms"].value
    text = text_of(answer, "second_transformer_load")
    assert f"takes {float(f'{230.0 * current:.3g}'):g} VA of the 900 VA" in text
    levels = {one.name: one.level for one in answer.verdicts}
    assert (levels["transformer_load"], levels["second_transformer_load"]) == ("note", "fault")


@pytest.mark.slow
def test_presses_draw_the_flux_of_both():
    """A second core with other iron keeps another remanence: presses of both differ from those of two alike, and one
    with both fluxes typed in is a run from that flux."""
    ovens = weldsim.read("oven_pair")
    answer = weldsim.inrush(ovens, presses=4, remedies=False)
    other = weldsim.inrush(weldsim.vary(ovens, {"second_core.steel": "grain-oriented"}), presses=4, remedies=False)
    assert answer.numbers["first_peak.worst"].value != other.numbers["first_peak.worst"].value
    assert any("the same flux density" in line for line in answer.assumptions)
    high, low = (
        weldsim.inrush(ovens, presses=8, remedies=False, remanence=density).numbers["first_peak.worst"].value
        for density in (0.5, 0.0)
    )
    single = weldsim.vary(ovens, {"second_core": "absent", "second_transformer": "absent"})
    one, none = (
        weldsim.inrush(single, presses=8, remedies=False, remanence=density).numbers["first_peak.worst"].value
        for density in (0.5, 0.0)
    )
    assert high - low > 1.5 * (one - none) > 0.0  # both cores push, but share the drop in the mains
