"""How many secondary turns: by closed forms of an ideal transformer, and beside the same supply written by hand."""

import math

import pytest

import weldsim
from weldsim.errors import QuestionError, WiringError
from weldsim.report.wording import page
from weldsim.runs.tapped import rewound
from weldsim.studies import characteristic, preview
from weldsim.studies.operating import with_load

PLAIN = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
primary_turns = 230
secondary_turns = {turns}
primary_resistance = "0 ohm"
secondary_resistance = "{ohms} ohm"
[rectifier]
threshold = "0.8 V"
slope = "0 ohm"
"""


def plain(turns=30, ohms=0.05):
    """A transformer with nothing but the resistance of its secondary, and a bridge."""
    return weldsim.read_text(PLAIN.format(turns=turns, ohms=ohms))


def turned(answer, turns, current):
    """The row of a number of turns at a current."""
    return next(
        row
        for row in answer.rows
        if row["kind"] == "turns" and (row["turns"], row["current"]) == (turns, pytest.approx(current))
    )


def closed_form(turns, load, factor=1.0):
    """Mean volts and amperes of a resistor behind bridge and secondary resistance, which goes with the turns.

    i = (V |sin| - 2 x 0.8 V) / (Rs + R) while positive; its mean over a half cycle from the angle where it begins.
    """
    crest, drop, ohms = factor * turns * math.sqrt(2.0), 1.6, 0.05 * turns / 30.0
    begins = math.asin(drop / crest)
    mean = (2.0 * crest * math.cos(begins) - drop * (math.pi - 2.0 * begins)) / math.pi
    return mean * load / (ohms + load), mean / (ohms + load)


@pytest.mark.parametrize("turns", [24, 30, 40])
@pytest.mark.parametrize(("column", "factor"), [("voltage_low", 0.9), ("voltage", 1.0), ("voltage_high", 1.1)])
def test_volts_of_an_ideal_transformer(turns, column, factor):
    """One volt a turn behind 50 mohm at 30 turns: volts at the amperes that a resistor takes, by closed form.

    Between the resistors simulated they are read off a curve: 0.1 V.
    """
    volts, amps = closed_form(turns, 0.2, factor)
    answer = characteristic.ask(plain(), turns=[turns], currents=[amps])
    assert turned(answer, turns, amps)[column] == pytest.approx(volts, abs=0.1)


def test_without_load_and_enough():
    """Without load the bridge gives the winding's crest less its drops; enough is what the load line asks, also low."""
    answer = characteristic.ask(plain(), turns=[24, 40], currents=[100.0])
    few, many = turned(answer, 24, 100.0), turned(answer, 40, 100.0)
    assert answer.numbers["turns_24.open_circuit.voltage"].value == pytest.approx(1.1 * 24 * math.sqrt(2.0), abs=1.7)
    assert few["asked"] == many["asked"] == pytest.approx(19.0)
    assert (few["enough"], many["enough"]) == ("no", "yes")
    assert few["voltage"] < 19.0 < many["voltage_low"]
    told = next(one.text for one in answer.verdicts if one.name == "fewest_turns")
    assert "40 for 100 A at 19 V" in told
    assert "Secondary turns" in page(answer)


def test_beside_a_scenario_with_those_turns():
    """The shed with 17 turns written into its file gives on the load line what the table says, fully fired.

    Its winding is told by wire and length of turn, so nothing but the turns changes; its leakage is scaled by hand.
    """
    shed = weldsim.vary(weldsim.read("toroid_shed"), {"phase_control.pulse_kind": "held"})
    answer = characteristic.ask(shed, dials=[0.6], turns=[17])
    other = {"transformer.secondary_turns": 17, "transformer.secondary_leakage_inductance": 13e-6 * (17 / 15) ** 2}
    own = preview.ask(with_load(weldsim.vary(shed, other), {"load.kind": "load line"}), dial=0.6)
    found = answer.numbers["turns_17.crossing.current"].value
    assert found == pytest.approx(own.numbers["output.current.mean"].value, rel=1e-6)  # the same settled state


def test_a_bank_that_the_turns_would_burst_is_a_fault():
    """30 turns on the shed's 130 lift the bank to 230 x 1.1 x root 2 x 30 / 130 = 82 V less drops: over its 63 V."""
    answer = characteristic.ask(weldsim.read("toroid_shed"), dials=[0.5], turns=[30], currents=[60.0])
    told = next(one for one in answer.verdicts if one.name == "turns_over_bank")
    assert (told.level, "From 30 turns on" in told.text) == ("fault", True)


def test_resistance_and_leakage_go_along():
    """Twice the turns of the same wire: twice the ohms, four times the leakage; the primary stays."""
    charger = weldsim.read("charger").transformer
    other = rewound(weldsim.read("charger"), 72).transformer
    assert other.secondary_turns == 2 * charger.secondary_turns
    assert other.secondary_resistance == pytest.approx(2.0 * charger.secondary_resistance)
    assert other.secondary_leakage_inductance == pytest.approx(4.0 * charger.secondary_leakage_inductance)
    assert (other.primary_turns, other.primary_resistance) == (charger.primary_turns, charger.primary_resistance)


def test_what_cannot_be_asked():
    """A ratio has no turns to change, and amperes without turns tell nothing."""
    with pytest.raises(WiringError, match="turns of both windings"):
        characteristic.ask(weldsim.read("benchmark_a"), dials=[0.5], turns=[12])
    with pytest.raises(QuestionError, match="numbers of turns"):
        characteristic.ask(weldsim.read("charger"), dials=[0.5], currents=[20.0])


@pytest.mark.slow
def test_a_dial_with_diac_is_fully_fired_too():
    """Fully fired, the school rig's 22 turns give 22/240 of the mains' crest less two diode drops without load."""
    answer = characteristic.ask(weldsim.read("school_spot"), turns=[22], currents=[50.0])
    row = turned(answer, 22, 50.0)
    crest = 230.0 * math.sqrt(2.0) * 22 / 240
    assert row["no_load"] == pytest.approx(crest - 1.7 - 0.3, abs=0.5)  # the bleed resistor and the triac take the rest
    assert row["enough"] in ("yes", "not at -10 %")


@pytest.mark.slow
def test_a_supply_that_reaches_no_load_line_wants_a_current():
    """Two volts do not reach 14 V: which amperes would be of interest has to be said; a load of its own says them."""
    spot = weldsim.read("resistance_spot")
    with pytest.raises(QuestionError, match="does not reach the load line"):
        characteristic.ask(weldsim.vary(spot, {"load": "absent"}), dials=[0.8], turns=[2])
    rows = [row for row in characteristic.ask(spot, dials=[0.8], turns=[2]).rows if row["kind"] == "turns"]
    assert [row["asked"] for row in rows] == pytest.approx([1.2e-3 * row["current"] for row in rows])
    assert [row["enough"] for row in rows] == ["yes"] * 3  # shares of what it gives at most
