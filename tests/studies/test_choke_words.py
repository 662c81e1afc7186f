"""A choke in words: whose arc it is asked for."""

import pytest

import weldsim
from weldsim.studies.answer import Verdict
from weldsim.studies.choke_words import for_a_wire, told_of_process, told_wire

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
