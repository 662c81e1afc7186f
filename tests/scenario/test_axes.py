"""Keys in steps as people type them, and what is refused."""

import pytest

from weldsim.errors import ScenarioError
from weldsim.scenario.axes import axes_of


@pytest.mark.parametrize(
    ("text", "values", "unit"),
    [
        ("choke.inductance=0.1mH:1mH:10", [1e-4, 2e-4, 3e-4, 4e-4, 5e-4, 6e-4, 7e-4, 8e-4, 9e-4, 1e-3], "mH"),
        ("choke.inductance=0.1:0.5 mH:3", [1e-4, 3e-4, 5e-4], "mH"),
        ("mains.voltage=1 kV:200V:5", [1000.0, 800.0, 600.0, 400.0, 200.0], "V"),
        ("dial=30%:60%:4", [0.3, 0.4, 0.5, 0.6], "%"),
        ("delay=60deg:120deg:3", [60.0, 90.0, 120.0], "deg"),
        ("feed=3 m/min:6 m/min:2", [0.05, 0.1], "m/min"),
        ("transformer.primary_turns=200:240:5", [200, 210, 220, 230, 240], "1"),
        ("start.remanence=-1T:1T:3", [-1.0, 0.0, 1.0], "T"),
        ("mains.voltage=230V:230V:1", [230.0], "V"),
    ],
)
def test_steps(text, values, unit):
    """Both ends are reached and the steps are round decimals, exactly (counted by hand)."""
    (axis,) = axes_of([text])
    assert list(axis.values) == values
    assert axis.unit == unit


def test_shown_in_the_unit_that_was_typed():
    """0.3 mH is shown as 0.3, whatever its float does."""
    (axis,) = axes_of(["choke.inductance=0.1mH:1mH:10"])
    assert [axis.shown(value) for value in axis.values][:3] == [0.1, 0.2, 0.3]


def test_from_python():
    """Values of one's own, with units or in SI; and the typed form."""
    first, second = axes_of({"choke.inductance": ["0.1 mH", 5e-4], "dial": "30%:60%:2"})
    assert first.values == (1e-4, 5e-4)
    assert second.values == (0.3, 0.6)
    assert second.asked
    assert not first.asked


@pytest.mark.parametrize(
    ("over", "words"),
    [
        (["choke.inductence=0.1mH:1mH:10"], "did you mean choke.inductance|choke.inductance"),
        (["chook.inductance=0.1mH:1mH:10"], "choke"),
        (["choke.inductance=0.1mH:1mH"], "not from:to:steps"),
        (["choke.inductance"], "not from:to:steps"),
        (["choke.inductance=0.1mH:1mH:0"], "not from:to:steps; steps are a whole number from 1 to 10000"),
        (["choke.inductance=0.1mF:1mF:3"], "capacitance"),
        (["choke.inductance=1mH:1mH:3"], "both ends are the same"),
        (["choke.inductance=1:2:3"], "no unit"),
        (["load.kind=a:b:3"], "no number"),
        (["transformer.primary_turns=200:201:3"], "no whole numbers"),
        (["dial=30%:160%:3"], "outside"),
        (["dial=30%:60%:3", "delay=60deg:90deg:2"], "sets the delay already"),
        (["dial=30%:60%:3", "dial=30%:60%:3"], "twice"),
        ([], "one or two"),
        (["dial=0%:100%:5000", "choke.inductance=0.1mH:1mH:3"], "too many"),
    ],
)
def test_refused(over, words):
    """Each slip is told with what would be right; none gives a sweep."""
    with pytest.raises(ScenarioError, match=words):
        axes_of(over)
