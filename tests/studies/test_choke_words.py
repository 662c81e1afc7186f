"""A choke in words: whose arc it is asked for."""

import pytest

import weldsim
from weldsim.studies.choke_words import told_of_process

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
