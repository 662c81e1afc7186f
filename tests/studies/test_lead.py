"""Leads: closed forms on a resistor, the map against leads simulated one by one, the good window, heat, the page."""

import json
import math
import re

import numpy as np
import pytest
from matplotlib.collections import PolyCollection

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures import lead as picture
from weldsim.studies import lead
from weldsim.studies.lead_map import LeadMap

RESISTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[supply_lead]
length = "30 m"
section = "2.5 mm2"
inductance = "0 H"
[load]
kind = "resistor"
resistance = "11.5 ohm"
"""
LARGE = """
[mains]
voltage = "400 V"
frequency = "50 Hz"
resistance = "10 mohm"
[phase_control]
delay_at_0 = "150 deg"
delay_at_100 = "50 deg"
[transformer]
ratio = "400:65"
primary_resistance = "60 mohm"
secondary_resistance = "3 mohm"
[rectifier]
kind = "bridge"
[bank]
capacitance = "200 mF"
resistance = "1 mohm"
[choke]
inductance = "0.1 mH"
resistance = "1 mohm"
[load]
kind = "load line"
"""


@pytest.fixture(scope="module")
def farm():
    """The farm supply on its long lead: 100 A wanted, two sections."""
    return lead.ask(weldsim.read("long_lead"), current=100.0, sections=(1.5e-6, 4e-6))


def cases(answer, **wanted):
    """The rows that have these values."""
    return [row for row in answer.rows if all(row.get(name) == value for name, value in wanted.items())]


def test_voltage_divider_on_a_resistor():
    """30 m of 2.5 mm2 at 7.98 ohm/km (IEC 60228): 0.479 ohm before 11.5 ohm; 19.2 A, 9.2 V drop, 176 W by hand.

    2.5 %: what the tool's one resistivity differs from the table over all sections.
    """
    answer = lead.ask(weldsim.read_text(RESISTOR), sections=(2.5e-6, 4e-6))
    ohms = 2.0 * 30.0 * 7.98e-3
    current = 230.0 / (11.5 + ohms)
    assert answer.numbers["supply_lead.resistance"].value == pytest.approx(ohms, rel=0.025)
    assert answer.numbers["primary.current.rms"].value == pytest.approx(current, rel=0.002)  # the lead is 4 % of it all
    assert answer.numbers["supply_lead.voltage_drop.rms"].value == pytest.approx(ohms * current, rel=0.025)
    assert answer.numbers["supply_lead.heat"].value == pytest.approx(ohms * current**2, rel=0.025)


@pytest.mark.parametrize(("state", "temperature"), [("cold", 20.0), ("warm", 60.0), ("coiled", 85.0)])
def test_longest_lead_on_a_resistor(state, temperature):
    """90 % of the current is left where the lead has a ninth of the load: lengths by IEC 60228 and 60028."""
    answer = lead.ask(weldsim.read_text(RESISTOR), sections=(2.5e-6, 4e-6), length=150.0)
    for per_metre, name in ((7.98e-3, "2_5"), (4.95e-3, "4")):  # [ohm/m] class 5 at 20 degC
        by_hand = 11.5 / 9.0 / (2.0 * per_metre * (1.0 + 0.00393 * (temperature - 20.0)))
        # 2.5 %: the one resistivity of the tool; the interpolation is far better.
        assert answer.numbers[f"lead.section_{name}.{state}.window"].value == pytest.approx(by_hand, rel=0.025)


@pytest.mark.parametrize(("length", "section"), [(20.0, 1.5e-6), (60.0, 1.5e-6), (45.0, 4e-6)])
def test_the_map_is_what_the_leads_give_one_by_one(farm, length, section):
    """A lead of the map, previewed by itself at the same dial and at the dial said to be needed.

    1e-3 on both currents and 1 % on the dial's output: what the page promises of its interpolation.
    """
    (row,) = cases(farm, kind="lead", length=length, section=section, state="cold")
    supply = weldsim.vary(weldsim.read("long_lead"), supply_lead={"length": length, "section": section})
    same = weldsim.preview(supply, dial=farm.numbers["wanted.dial"].value).numbers
    assert row["output_current"] == pytest.approx(same["output.current.mean"].value, rel=1e-3)
    assert row["primary_rms"] == pytest.approx(same["primary.current.rms"].value, rel=1e-3)
    turned = weldsim.preview(supply, dial=row["dial_needed"]).numbers
    assert turned["output.current.mean"].value == pytest.approx(100.0, rel=0.01)


def test_the_wanted_current_is_had_directly(farm):
    """Without a lead the wanted dial gives 100 A at 19 V, the point of the load line 14 V + 0.05 ohm x I."""
    direct = weldsim.vary(weldsim.read("long_lead"), supply_lead="absent")
    found = weldsim.preview(direct, dial=farm.numbers["wanted.dial"].value).numbers
    assert found["output.current.mean"].value == pytest.approx(100.0, rel=2e-4)  # the dial is found to 1e-4
    assert farm.numbers["wanted.output.voltage"].value == pytest.approx(19.0, abs=0.01)


def test_volts_lost_are_those_at_the_same_amps(farm):
    """On an arc line lower by the volts said to be lost, the lead gives the wanted amps again at the same dial.

    3 %: the slope of the supply is taken as straight between the two points.
    """
    (row,) = cases(farm, kind="lead", length=10.0, section=1.5e-6, state="cold")
    lowered = weldsim.vary(
        weldsim.read("long_lead"),
        supply_lead={"length": 10.0, "section": 1.5e-6},
        load={"kind": "arc line", "voltage": 14.0 - row["volts_lost"]},
    )
    missing = 100.0 - row["output_current"]
    given = weldsim.preview(lowered, dial=farm.numbers["wanted.dial"].value).numbers["output.current.mean"].value
    assert 100.0 - given == pytest.approx(0.0, abs=0.03 * missing)


def test_volts_lost_beyond_the_ceiling_of_the_load_line():
    """Beyond 600 A the line of MIG is level at 44 V (IEC 60974-1): a level line lower by the volts lost takes the amps.

    1 %: the supply's own line between the two is curved.
    """
    machine = weldsim.read_text(LARGE)
    answer = lead.ask(machine, sections=(16e-6, 35e-6), length=30.0)
    wanted = answer.numbers["wanted.output.current"].value
    assert wanted > 700.0
    (row,) = cases(answer, kind="lead", length=30.0, section=35e-6, state="cold")
    there = {"supply_lead.length": 30.0, "supply_lead.section": 35e-6}
    line = {"load.kind": "arc line", "load.voltage": 44.0 - row["volts_lost"], "load.slope": 0.0}
    level = weldsim.vary(weldsim.vary(machine, {"load": "absent"}), there | line)
    assert weldsim.preview(level).numbers["output.current.mean"].value == pytest.approx(wanted, rel=0.01)


def test_window_ends_where_one_volt_is_lost(farm):
    """Rows within the longest lead are in the window, rows beyond it are not; warm and coiled leads end sooner."""
    for section, name in ((1.5e-6, "1_5"), (4e-6, "4")):
        ends = [farm.numbers[f"lead.section_{name}.{state}.window"].value for state in ("cold", "warm", "coiled")]
        assert ends == sorted(ends, reverse=True)
        # Same ohms, so lengths go with 1 / (1 + 0.00393 (t - 20)) (IEC 60028), inductance aside: 1 %.
        assert ends[2] / ends[0] == pytest.approx(1.0 / (1.0 + 0.00393 * 65.0), rel=0.01)
        for row in cases(farm, kind="lead", section=section, state="cold"):
            assert row["in_window"] == (row["length"] <= ends[0]) == (row["volts_lost"] <= 1.0)


def test_less_mains_reaches_less_far(farm):
    """The wanted current can be had farther off at mains +10 % than at 0 than at -10 %; dials rise along a lead."""
    for row in cases(farm, kind="longest"):
        assert row["reach_mains_low"] < row["reach"] <= row["reach_mains_high"]
        assert row["window"] < row["reach"]
    needed = [row["dial_needed"] for row in cases(farm, kind="lead", section=1.5e-6, state="cold")]
    assert needed == sorted(needed)


def test_what_is_too_hot_laid_out_is_not_saved_by_unrolling():
    """30 A all the time: 1.5 mm2 is too hot even laid out (table: 18 A), 4 mm2 on a drum alone (table: 34 A)."""
    scenario = weldsim.vary(weldsim.read_text(RESISTOR), {"load.resistance": 230.0 / 30.0})
    answer = lead.ask(scenario, sections=(1.5e-6, 4e-6), duty=1.0)
    (text,) = (one.text for one in answer.verdicts if one.name == "lead_heat")
    assert "Too hot even laid out: 1.5 mm2." in text
    assert "Too hot on a drum: 4 mm2; unroll it all." in text


@pytest.mark.slow
def test_out_of_reach_is_a_fault():
    """At full dial the farm's lead leaves nothing to turn up: no dial needed, a fault, and the most there is told."""
    answer = lead.ask(weldsim.read("long_lead"), dial=0.8, sections=(1.5e-6, 4e-6))
    assert math.isnan(answer.numbers["lead.dial_needed"].value)
    (verdict,) = [one for one in answer.verdicts if one.name == "lead"]
    assert verdict.level == "fault"
    assert "no dial brings it back" in verdict.text


@pytest.mark.parametrize(
    ("text", "wanted", "why"),
    [
        (RESISTOR, 5.0, r"its only one gives 20 A.*leave"),  # 230 V on 11.5 ohm: there is no dial
        (LARGE.replace("150 deg", "60 deg"), 5.0, r"its least is \d+.*ask for more"),
        (LARGE, 9000.0, r"its most is \d+.*ask for less"),
    ],
)
def test_a_current_out_of_reach_is_told_from_its_side(text, wanted, why):
    """Too little is not told like too much, and what cannot be set says so."""
    with pytest.raises(QuestionError, match=why):
        lead.ask(weldsim.read_text(text), current=wanted)


def test_a_current_beyond_the_supply_is_refused():
    """500 A from a 140 A supply is no question of the lead."""
    with pytest.raises(QuestionError, match="even plugged in directly"):
        lead.ask(weldsim.read("long_lead"), current=500.0)


@pytest.mark.slow
def test_without_a_dial_there_is_no_reach():
    """A supply straight on the mains has no dial to turn: windows only, and a picture of its current."""
    supply = weldsim.vary(weldsim.read("long_lead"), phase_control="absent")
    answer = lead.ask(supply, sections=(1.5e-6, 4e-6))
    assert not [name for name in answer.numbers if name.endswith("reach")]
    assert {row["dial_needed"] for row in answer.rows if row["kind"] == "lead"} == {None}
    drawn = picture.draw(answer)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []


def test_the_picture_can_be_read(farm):
    """Nothing overlaps or leaves the picture, every axis has its unit."""
    drawn = picture.draw(farm)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []
    labels = [axes.get_xlabel() + axes.get_ylabel() for axes in drawn.axes]
    assert sum("[" in label for label in labels) == len(labels)


def test_the_picture_of_a_tiny_supply_can_be_read():
    """Some 40 mA, nearly the same on every lead: no label is cut or lies on another, and the amps are told in mA.

    Its own lead of 0.5 mm2, thinner than any of the map, is neither drawn beyond it nor explained.
    """
    supply = weldsim.read_text(
        """
        [mains]
        voltage = "230 V"
        frequency = "50 Hz"
        [supply_lead]
        length = "20 m"
        section = "0.5 mm2"
        [transformer]
        ratio = 20
        secondary_resistance = "20 ohm"
        [weld_leads]
        length = "4 m"
        section = "4 mm2"
        [load]
        kind = "resistor"
        resistance = "250 ohm"
        """
    )
    drawn = picture.draw(lead.ask(supply))
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []
    labels = [axes.get_ylabel() for axes in drawn.axes]
    assert "output, same dial [mA]" in labels
    assert "output current [mA]" in labels
    assert not any(line.get_marker() == "x" for axes in drawn.axes for line in axes.get_lines())
    assert not any("the scenario's lead" in text for text, _ in layout.texts_of(drawn))


@pytest.mark.slow
def test_grey_begins_where_the_longest_lead_ends():
    """In the cold map a lead of 1.5 mm2 just short of its longest is coloured, one just beyond it is grey."""
    answer = lead.ask(weldsim.read("long_lead"), dial=0.6, sections=(1e-6, 1.5e-6))
    cold = picture.draw(answer).axes[0]
    grey = next(patch for patch in cold.collections if isinstance(patch, PolyCollection))
    rows = [row for row in answer.rows if row["kind"] == "longest" and row["state"] == "cold"]
    checked = [row for row in rows if row["reach"] < 0.95 * cold.get_xlim()[1]]
    assert len(checked) == 2
    for row in checked[1:]:  # of the thinner one the grey has its lower edge
        for share, inside in ((0.97, False), (1.03, True)):
            assert grey.get_paths()[0].contains_point((share * row["reach"], 0.999e6 * row["section"])) == inside


@pytest.fixture(scope="module")
def shed():
    """The shed at 100 A, its torch and return of 6 m of 25 mm2 beside four others; one supply lead of no interest."""
    return lead.ask(weldsim.read("toroid_shed"), current=100.0, sections=(4e-6,))


@pytest.mark.slow
def test_the_picture_shows_the_heat_of_the_weld_leads(shed):
    """One panel has a line of heat per metre for each section of torch and return, as the rows have it."""
    drawn = picture.draw(shed)
    (axes,) = [one for one in drawn.axes if one.get_ylabel() == "heat in the weld leads [W/m]"]
    lines = {line.get_label(): line.get_xydata() for line in axes.get_lines()}
    rows = cases(shed, kind="weld_lead", section=16e-6)
    assert lines["16 mm²"].tolist() == [[row["length"], row["heat_per_length"]] for row in rows]
    assert layout.overlapping(drawn) == []


def test_volts_in_weld_leads_are_those_of_the_handbook(shed):
    """100 A through 10 m of weld cable at 20 degC: 1.24, 0.80, 0.57, 0.39 V for 16, 25, 35, 50 mm2 (BS 638-4, seen).

    5 %: tinned strands there, plain ones here.  The own leads have 8.98 mohm by hand: 6 m of 25 mm2 and 4.3 mohm.
    """
    amps = shed.numbers["output.current.mean"].value
    for section, volts in ((16e-6, 1.24), (25e-6, 0.80), (35e-6, 0.57), (50e-6, 0.39)):
        (row,) = cases(shed, kind="weld_lead", section=section, length=10.0)
        assert row["volts_in_leads"] == pytest.approx(volts * amps / 100.0, rel=0.05)
    assert shed.numbers["weld_leads.resistance"].value == pytest.approx(8.98e-3, rel=0.005)


def test_thinner_weld_leads_give_what_the_same_supply_gives_on_them(shed):
    """The row of 10 m of 16 mm2 is what a preview of the shed on such leads gives at the dial of the wanted current."""
    (row,) = cases(shed, kind="weld_lead", section=16e-6, length=10.0)
    on_them = weldsim.vary(weldsim.read("toroid_shed"), {"weld_leads.section": "16 mm2", "weld_leads.length": "10 m"})
    found = weldsim.preview(on_them, dial=shed.numbers["wanted.dial"].value).numbers["output.current.mean"].value
    # 1e-4: two periods of the settled state are read there, ten here, and the core is biased a little
    assert row["output_current"] == pytest.approx(found, rel=1e-4)
    assert row["in_window"] == (abs(row["volts_lost"]) <= 1.0)


def test_longest_weld_leads_take_one_volt_more(shed):
    """By Ohm's law: own cable of 6 m of 25 mm2, plus a volt at these amps, over the ohms of a metre of the other."""
    amps = shed.numbers["output.current.mean"].value
    for section, name in ((16e-6, "16"), (35e-6, "35")):
        by_hand = (1.95e-8 * 6.0 / 25e-6 + 1.0 / amps) / (1.95e-8 / section)  # 0.780 ohm/km at 25 mm2 (IEC 60228)
        assert shed.numbers[f"weld_leads.section_{name}.window"].value == pytest.approx(by_hand, rel=0.005)


@pytest.mark.slow
def test_stick_is_judged_by_its_amps():
    """A stick set holds its amps or not: no wire feed is spoken of, and the window ends at 90 % of the current."""
    stick = weldsim.vary(
        weldsim.read("long_lead"), {"load": "absent", "wire": "absent", "weld_leads": {"length": 8.0, "section": 16e-6}}
    )
    stick = weldsim.vary(stick, {"load.kind": "load line", "load.process": "MMA"})
    answer = lead.ask(stick, dial=0.7, sections=(1.5e-6,))
    assert "the good window ends at 90 %" in next(one.text for one in answer.verdicts if one.name == "lead")
    assert "wire feed asks" not in " ".join(verdict.text for verdict in answer.verdicts)
    for row in cases(answer, kind="lead"):
        assert row["in_window"] == (row["output_current"] >= 0.9 * answer.numbers["wanted.output.current"].value)


@pytest.mark.slow
def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with caution and picture, JSON with its rows; dial and current together are refused."""
    monkeypatch.chdir(tmp_path)
    asked = ["lead", "long_lead", "--section", "2.5 mm2", "--length", "40 m"]
    assert main([*asked, "--dial", "50%"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "burns before any breaker trips" in page
    assert "Longest leads" in page
    assert (tmp_path / "long_lead-lead.png").exists()
    assert main([*asked, "--current", "90 A", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert {row["kind"] for row in answer["rows"]} == {"longest", "lead", "weld_lead"}
    assert main([*asked, "--current", "90 A", "--dial", "50%"]) == 2


@pytest.mark.slow
def test_beyond_the_longest_says_how_long_it_looked():
    """Where the amps can be had on every lead looked at, the answer names a length that is longer than what it gives at
    low mains, never shorter.
    """
    answer = lead.ask(weldsim.read("toroid_shed"), current=60.0, sections=[6e-6])
    (text,) = (one.text for one in answer.verdicts if one.name == "reach")
    middle, low = re.search(r"6 mm2: (?:over )?([\d.]+) m \(mains -10 %: (?:over )?([\d.]+) m", text).groups()
    assert float(middle) >= float(low)
    assert float(middle) > 60.0  # the map's leads of 1 mm2 are 60 m long at most: as many ohms are longer here


def test_a_map_of_one_dial_has_its_curve():
    """Where every other dial misfires, the one that is left has the numbers of a single curve: 200 A at no lead."""
    ohms, amps = np.array([0.0, 0.5, 1.0]), np.array([200.0, 150.0, 120.0])
    three = np.array([amps, amps, amps])
    found = LeadMap(ohms, (0.6,), 0, amps[:, None], amps, three, amps, three, None, (0.0, 0.0))
    assert found.dial_for(100.0, 0.5) is None
    assert found.output(0.0) == pytest.approx(200.0)
