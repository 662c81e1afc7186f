"""What is said of welds, chokes, spots and sequences where a plain figure would mislead."""

import dataclasses

import numpy as np
import pytest

import weldsim
from weldsim.analysis.dips import ARC, SHORT, DipMeter
from weldsim.errors import QuestionError
from weldsim.figures.weld import draw
from weldsim.parts.feed_motor import FeedMotor
from weldsim.parts.feed_supply import FeedSupply
from weldsim.runs.feeder import Start
from weldsim.runs.power import settled_delay
from weldsim.runs.sequence_runs import Pulse
from weldsim.runs.weld_runs import weld_parts
from weldsim.runs.wire_runs import CONDITIONS
from weldsim.scenario.vary import vary
from weldsim.studies import choke, feed, feed_verdicts, sequence, spot, weld
from weldsim.studies.answer import Number
from weldsim.studies.feed_verdicts import Case
from weldsim.studies.spot_verdicts import scatter, scattered
from weldsim.studies.weld_measure import BURNT_BACK, START, WeldJob, irregularities, measure
from weldsim.studies.weld_verdicts import _window, bank_resonance

SOURCE = """
title = "A direct source behind a resistance and a choke"
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "45 V"
resistance = "60 mohm"
[choke]
inductance = "0.3 mH"
[wire]
diameter = "0.8 mm"
"""


def test_a_weld_that_burns_back_is_a_fault():
    """45 V less 60 mohm x 123 A are 37 V, an arc of 12 mm takes 30 V (by hand): nothing stops it."""
    answer = weld.ask(weldsim.read_text(SOURCE), seconds=1.0, spread=False)
    found = next(one for one in answer.verdicts if one.name == "transfer")
    assert answer.numbers["arc.burnt_back.share"].value > 0.9
    assert found.level == "fault"
    assert "burns back into the contact tube" in found.text
    assert any(text.get_text().startswith("burnt back into the contact tube") for text in draw(answer).texts)


def test_a_weld_in_front_of_the_tube_does_not_burn_back():
    """The shed at its own dial dips; its arc never comes near the tube."""
    meter = measure(WeldJob(weldsim.read("toroid_shed"), seconds=1.0))
    assert meter.burnt_back_share == 0.0
    assert BURNT_BACK not in irregularities(meter)


def test_only_arcs_count_as_burnt_back():
    """Of four samples one is an arc at the tube, one a gap without an arc as long, one a short, one a shorter arc."""
    meter = DipMeter(tick=1e-4, hold=10.0, height=10e-3)
    kind, gap = np.array([ARC, 0, SHORT, ARC]), np.array([10e-3, 12e-3, 0.0, 9e-3])
    meter.feed(kind, np.full(4, 50.0), np.full(4, 20.0), gap=gap)
    assert meter.burnt_back_share == pytest.approx(0.25)


def test_means_of_the_verdict_are_those_of_the_numbers():
    """The verdict's volts and amperes are the table's, not a shorter weld's; mains are told off the rated ones."""
    answer = weld.ask(weldsim.read("toroid_shed"), seconds=3.0)
    found = next(one for one in answer.verdicts if one.name == "transfer")
    for name, unit in (("current", "A"), ("voltage", "V")):
        assert f"{answer.numbers[f'output.{name}.mean'].value:.3g} {unit} (" in found.text
    rows = [row for row in answer.rows or [] if row["kind"] == "mains"]
    assert [row["mains"] for row in rows] == pytest.approx([-0.1, 0.0, 0.1])


@pytest.mark.slow
def test_a_dial_with_diac_fires_on_the_arc_where_there_is_no_load():
    """Without [load] the dial settles on the wire's arc, as with a load that says so, and a sequence can be asked."""
    rig = weldsim.read("school_spot")
    bare = vary(rig, {"load": "absent"})
    assert settled_delay(bare, 0.7) == settled_delay(vary(bare, {"load.kind": "wire"}), 0.7)
    assert sequence.ask(bare, dial=0.7, trials=1).numbers["energy.mean"].value > 0.0


@pytest.mark.parametrize(("struck", "level"), [(1.0, "good"), (0.75, "note"), (0.25, "fault")])
def test_a_choke_that_welds_and_does_not_strike_is_not_good(struck, level):
    """Nine of ten starts are asked for in the table; so they are of the choke that is advised."""
    row = {"max_current": 300.0, "rise": 80e3, "short_duration": 3e-3, "peak_current": 250.0, "struck": struck}
    numbers = {"wanted.rise": Number(80e3, "A/s"), "wanted.inductance": Number(0.2e-3, "H")}
    found = choke._inductance(weldsim.read("toroid_shed"), [row | {"reason": "", "kind": "wanted"}], numbers)
    assert found.level == level


@pytest.mark.slow
def test_what_a_short_takes_out_of_the_bank():
    """As counted here from the same weld's samples, one short after the other (rounding only); with 0.12 mH, where it
    flutters and shorts are long, charge over capacitance would be more volts than the bank ever holds.
    """
    shed = weldsim.read("toroid_shed")
    answer = choke.ask(shed, trials=1)
    rows = {row["inductance"]: row for row in answer.rows or [] if row["kind"] == "inductance"}
    row = rows[0.12e-3]
    assert "flutter" in row["reason"]
    small = vary(vary(shed, {"choke": "absent"}), {"choke.inductance": "0.12 mH", "choke.resistance": "4 mohm"})
    weld = list(weld_parts(small, seconds=START + choke.SECONDS))
    bank = np.concatenate([part.signals["bank.voltage"] for part in weld])
    condition = np.concatenate([part.condition for part in weld])
    shorted = np.isin(condition, [CONDITIONS.index("touching"), CONDITIONS.index("bridged")])
    first = round(START / weld[0].tick)
    begins = np.flatnonzero(shorted[1:] & ~shorted[:-1]) + 1
    ends = np.flatnonzero(~shorted[1:] & shorted[:-1]) + 1
    falls = [bank[k] - bank[k : ends[ends > k][0] + 1].min() for k in begins if k >= first and (ends > k).any()]
    assert row["bank_fall"] == pytest.approx(np.mean(falls))
    assert rows[0.3e-3]["bank_fall"] < row["bank_fall"] < bank.max()
    text = next(one.text for one in answer.verdicts if one.name == "range")
    assert "Where it flutters the bank falls by" in text


def test_spread_is_that_of_a_sample():
    """9, 10 and 11 have a standard deviation of 1 (of a sample, as the dips'); one value has none, rounding is none."""
    assert scatter(np.array([9.0, 10.0, 11.0])) == pytest.approx(0.1)
    assert scattered(np.array([10.0])) == "unknown"
    assert scattered(np.array([10.0, 10.0 * (1 + 1e-15)])) == "under 0.01 %"


def test_one_spot_tells_no_spread():
    """One spot is no statistics: the answer says so in place of a spread of nothing."""
    answer = spot.ask(weldsim.read("resistance_spot"), spots=1)
    found = next(one for one in answer.verdicts if one.name == "spot_energy")
    assert found.level == "note"
    assert "takes more of them" in found.text
    assert answer.as_json()["numbers"]["random.energy.spread"]["value"] is None


@pytest.mark.slow
def test_starts_without_an_arc_are_told_plainly():
    """A feed of nothing never touches: none of the starts has an arc, and no time of it is told."""
    answer = sequence.ask(weldsim.read("toroid_shed"), feed=0.0, trials=1)
    text = next(one.text for one in answer.verdicts if one.name == "sequence_start")
    assert text.startswith("0 of 1 starts have an arc, with 0 touches")


FEEDER = """
title = "A feed motor on a small transformer"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[feed_motor]
[feed_supply]
voltage = "{volts} V"
"""


@pytest.mark.slow
def test_a_feeder_without_the_volts_says_that():
    """5 m/min take 8.2 V at the motor (by hand) and 2.5 V of dropout: 6 V rms, 8.5 V of crest, fall short."""
    answer = feed.ask(weldsim.read_text(FEEDER.format(volts=6)), feed=5.0 / 60.0)
    said = {one.name: one for one in answer.verdicts}
    assert "has not the volts" in said["feed_held"].text
    assert said["stage_headroom"].level == "fault"


def test_a_stage_that_drops_out_for_moments_is_no_fault():
    """A linear stage may touch its dropout once a half cycle while the motor's inertia holds the feed to 3 %."""
    speeds = {-10: 0.0820, 0: 0.0833, 10: 0.0833}
    own = {
        (step, "as written"): Case("stabilised voltage", "linear", step, "as written", FeedMotor(), _start(speed))
        for step, speed in speeds.items()
    }
    (said,) = feed_verdicts._headroom(own, FeedSupply())
    assert said.level == "note"
    assert "keeps within 1.6 %" in said.text


def _start(settled):
    """A start that settles at a feed, its stage without headroom."""
    return Start(np.zeros((2, 6)), settled, 0.02, 5e-3, 0.0)


def test_a_choke_that_gives_way_is_told_by_the_weld():
    """Half of a choke is gone at 60 A: at the peak of a short hardly anything is left, and the weld says so.

    The same inductance that holds up to 2 kA is not accused.
    """
    shed = weldsim.read("toroid_shed")
    texts = []
    for amps in ("60 A", "2000 A"):
        answer = weld.ask(vary(shed, {"choke.saturation_current": amps}), seconds=1.0, spread=False)
        texts.append(next(one.text for one in answer.verdicts if one.name == "short_circuit"))
    assert "The choke saturates: of its 0.3 mH" in texts[0]
    assert "saturates" not in texts[1]


def test_a_set_without_a_dial_is_sent_to_its_taps():
    """Where there is no phase control no answer sends for --voltage-window, which would refuse."""
    tapped = vary(weldsim.read("toroid_shed"), {"phase_control": "absent"})
    answer = weld.ask(tapped, seconds=1.0, spread=False)
    found = next(one for one in answer.verdicts if one.name == "transfer")
    assert "No regular dip transfer" in found.text  # all of the mains is far too much for 7 m/min
    assert "--voltage-window" not in found.text
    assert "transformer.primary_turns" in found.text
    with pytest.raises(QuestionError, match="there is no dial") as caught:
        weld.ask(tapped, seconds=1.0, voltage_window=True)
    assert "transformer.primary_turns" in str(caught.value)


@pytest.mark.parametrize(("stubs", "level"), [(0, "good"), (1, "note"), (7, "fault")])
def test_starts_that_stub_are_not_good(stubs, level):
    """A press in which the wire gives way is no good start; more than one in each press is a fault."""
    pulse = Pulse(**{item.name: 0 for item in dataclasses.fields(Pulse)})
    pulses = [dataclasses.replace(pulse, first_arc=0.1, cold_touches=1, stubs=stubs) for _ in range(3)]
    assert sequence._start(pulses).level == level


def test_a_feed_without_a_window_says_what_to_ask_next():
    """Where no dial dips the answer names what is left to change: the feed, choke or bank where it flutters."""
    row = {"kind": "window", "dial": 0.45, "regular": False, "dip_rate": 15.0, "extinguished": 0.2, "voltage": 15.0}
    for reason, end in (("stubbing, flutter", "why it flutters."), ("few dips", "Ask again with another --feed.")):
        found = _window([row | {"reason": reason}], {"window.dial.low": Number(float("nan"), "1")}, 2.0)
        assert found.level == "fault"
        assert f"nearest is dial 45 %: {reason}. Ask again with another --feed" in found.text
        assert found.text.endswith(end)


@pytest.mark.parametrize("by_ratio", [False, True])
def test_a_tap_is_told_by_the_key_that_the_file_has(by_ratio):
    """Without a dial volts are those of a tap: other turns, or another ratio where the file gives that."""
    changes: dict[str, object] = {"phase_control": "absent"}
    if by_ratio:
        windings = {"ratio": 8.7, "primary_resistance": 0.3, "secondary_resistance": 7e-3}
        changes |= {"core": "absent", "transformer": windings}
    by_hand = weldsim.vary(weldsim.read("toroid_shed"), changes)
    key = "transformer.ratio" if by_ratio else "transformer.primary_turns"
    with pytest.raises(QuestionError, match=f"sweep --study weld --over {key}="):
        weldsim.weld(by_hand, seconds=1.0, voltage_window=True)
    with pytest.raises(QuestionError, match=f"sweep --over {key}="):
        weldsim.setting(by_hand, current=100.0)


def test_bank_and_choke_swing_by_the_inductance_that_counts():
    """0.3 mH and 60 mF swing at 37.5 Hz (closed form), also where a measured curve says so and not choke.inductance."""
    curve = {"inductance_curve": [{"current": 0.0, "inductance": 0.3e-3}, {"current": 300.0, "inductance": 0.3e-3}]}
    for given in (curve, curve | {"inductance": 3e-3}):
        found = bank_resonance(vary(weldsim.read("toroid_shed"), {"choke": given, "bank.capacitance": 60e-3}))
        assert found == pytest.approx(37.513, abs=1e-3)
