"""A choke in words: whose arc it is asked for."""

import pytest

import weldsim
from weldsim.studies import sequence, strike, weld
from weldsim.studies.answer import Verdict
from weldsim.studies.choke_words import for_a_wire, not_found, range_verdict, told_of_process, told_wire

STICK = {"load": {"kind": "load line", "process": "MMA"}}


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (STICK | {"wire": "absent"}, True),
        (STICK, False),  # it has a wire: that is asked for
        ({"wire": "absent"}, False),  # the load line of MIG
        ({"wire": "absent", "load": {"kind": "resistor", "resistance": 0.2}}, False),
    ],
)
def test_a_stick_is_no_wire(changes: dict[str, object], told: bool):
    """A load of stick or TIG without a wire is answered with a usual wire: said, with what to ask in its place."""
    verdicts = told_of_process(weldsim.vary(weldsim.read("toroid_shed"), changes))
    assert [one.name for one in verdicts] == (["process"] if told else [])
    assert all("MMA" in one.text and "output.gap.longest" in one.text for one in verdicts)


def test_a_stick_is_not_judged_by_a_wire():
    """What a wire's shorts make of a set for sticks is no fault of it, nor is it praise: notes that name the wire."""
    stick = weldsim.vary(weldsim.read("toroid_shed"), STICK | {"wire": "absent"})
    judged = [Verdict("range", "fault", "None."), Verdict("present", "good", "It holds.")]
    told = for_a_wire(stick, judged)
    assert [one.level for one in told] == ["note"] * 3
    assert [one.text for one in told[1:]] == ["With a wire of MIG: None.", "With a wire of MIG: It holds."]
    assert for_a_wire(weldsim.read("toroid_shed"), judged) == judged


def test_a_wire_that_is_not_written_is_told():
    """The usual wire is named where the scenario has none; a battery is no wire either."""
    assert told_wire(weldsim.read("toroid_shed")) == []
    assert "solid steel of 0.8 mm in CO2" in told_wire(weldsim.read("charger"))[0]
    (verdict,) = told_of_process(weldsim.read("charger"))
    assert "The load is a battery" in verdict.text


@pytest.mark.slow
def test_every_question_of_a_wire_says_that_a_stick_is_none():
    """Strike, weld and sequence of a stick set stand on a wire of MIG: each says so."""
    stick = weldsim.vary(weldsim.read("toroid_shed"), STICK | {"wire": "absent"})
    for answer in (strike.ask(stick, trials=1), weld.ask(stick, seconds=0.5), sequence.ask(stick, trials=1)):
        assert [one.level for one in answer.verdicts if one.name == "process"] == ["note"]


def table(reason: str) -> list[dict[str, object]]:
    """Two chokes that fail for a reason, without a single short."""
    row = {"rise": float("nan"), "bank_fall": float("nan"), "regular": False, "struck": 1.0, "reason": reason}
    return [row | {"inductance": inductance} for inductance in (0.1e-3, 1e-3)]


def test_a_long_arc_is_not_mended_by_a_choke():
    """What to do where no inductance dips: less volts or more feed, by the dial where there is one, else by a tap."""
    shed = weldsim.read("toroid_shed")
    text = range_verdict(shed, table("few dips")).text
    assert "fewer volts or more feed shorten it (`weld --voltage-window` looks for the dials that dip)" in text
    by_hand = weldsim.vary(shed, {"phase_control": "absent"})
    assert "(volts are those of another tap, that is transformer.primary_turns)" in not_found(
        by_hand, 80.0, table("few dips")
    )
    assert "the arc is long" not in range_verdict(shed, table("stubbing, few dips")).text
