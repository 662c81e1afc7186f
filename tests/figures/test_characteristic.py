"""The picture of the output characteristic: a line for each dial setting, the load line, the crossings."""

import numpy as np
import pytest

from tests.figures import layout, made_up
from weldsim.figures import characteristic
from weldsim.scenario.reading import read_text
from weldsim.studies.answer import Answer

DIALS = (0.2, 0.4, 0.6, 0.8, 1.0)


def answer(dials=DIALS):
    """Straight made-up lines from 24 + 12 x dial volts falling 5 V a hundred amps, and 14 V + 0.05 ohm x I."""
    rows = []
    for dial in dials:
        top = 24.0 + 12.0 * dial
        rows += [
            {"kind": "line", "dial": dial, "delay": 170.0 - 160.0 * dial, "current": amps, "voltage": top - 0.05 * amps}
            for amps in np.linspace(300.0, 0.0, 11)
        ]
        meeting = (top - 14.0) / 0.1
        rows.append(
            {
                "kind": "crossing",
                "dial": dial,
                "delay": 170.0 - 160.0 * dial,
                "current": meeting,
                "voltage": 14.0 + 0.05 * meeting,
            }
        )
    rows += [{"kind": "load line", "current": amps, "voltage": 14.0 + 0.05 * amps} for amps in (0.0, 300.0)]
    return Answer(
        study="characteristic", scenario=made_up.scenario(), numbers={}, verdicts=[], assumptions=[], rows=rows, runs={}
    )


@pytest.mark.parametrize("dials", [(0.5,), DIALS, tuple(np.linspace(0.05, 1.0, 12))], ids=["one", "five", "twelve"])
def test_one_line_for_each_dial_and_the_load_line(dials):
    """Every setting has its line, from the highest dial down, and the load line is there; nothing overlaps."""
    figure = characteristic.draw(answer(dials))
    labels = [line.get_label() for line in figure.axes[0].lines]
    assert len(labels) == len(dials) + 1
    assert labels[0].startswith(f"dial {100.0 * max(dials):.3g} %")
    assert labels[-1] == "load line"
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


def test_a_supply_without_dial_has_one_line():
    """Where nothing can be set, the one line is called the output."""
    rows = [
        {"kind": "line", "dial": None, "delay": None, "current": amps, "voltage": 30.0 - amps} for amps in (0.0, 10.0)
    ]
    figure = characteristic.draw(Answer("characteristic", made_up.scenario(), {}, rows=rows))
    assert [line.get_label() for line in figure.axes[0].lines] == ["output"]


def test_crossings_lie_on_the_load_line():
    """The dots are the rows marked as crossings: 14 V + 0.05 ohm x I, as the made-up rows say."""
    figure = characteristic.draw(answer())
    dots = np.concatenate([np.asarray(dots.get_offsets()) for dots in figure.axes[0].collections])
    assert len(dots) == len(DIALS)
    # Both sides are sums of a few floats: 1e-12 V is a thousand times their rounding.
    np.testing.assert_allclose(dots[:, 1], 14.0 + 0.05 * dots[:, 0], rtol=0.0, atol=1e-12)


def test_points_are_drawn_from_open_to_short():
    """Rows may come in any order; along a line the load's resistance, volts over amps, only falls."""
    line = characteristic.draw(answer()).axes[0].lines[0]
    current, voltage = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    assert current[0] == 0.0
    assert np.all(np.diff(voltage[1:] / current[1:]) < 0.0)


def test_misfiring_points_are_hollow():
    """A crossing and a point of the line at which half cycles are missed are drawn hollow, and the picture says so."""
    rows = [
        {"kind": "line", "dial": 1.0, "delay": 10.0, "current": 10.0, "voltage": 30.0, "missed": 0.0},
        {"kind": "line", "dial": 1.0, "delay": 10.0, "current": 50.0, "voltage": 20.0, "missed": 0.5},
        {"kind": "crossing", "dial": 1.0, "delay": 10.0, "current": 60.0, "voltage": 17.0, "missed": 0.25},
        {"kind": "crossing", "dial": 0.5, "delay": 90.0, "current": 20.0, "voltage": 15.0, "missed": 0.0},
        {"kind": "crossing", "dial": None, "delay": None, "current": 5.0, "voltage": 9.0, "missed": None},
    ]
    figure = characteristic.draw(Answer("characteristic", made_up.scenario(), {}, rows=rows))
    inside = {
        tuple(place): tuple(dots.get_facecolors()[0][:3])
        for dots in figure.axes[0].collections
        for place in np.asarray(dots.get_offsets()).tolist()
    }
    assert {place for place, colour in inside.items() if colour == (1.0, 1.0, 1.0)} == {(50.0, 20.0), (60.0, 17.0)}
    assert set(inside) == {(50.0, 20.0), (60.0, 17.0), (20.0, 15.0), (5.0, 9.0)}
    assert any("hollow: misfiring" in text.get_text() for text in figure.texts)
    assert not any("hollow" in text.get_text() for text in characteristic.draw(answer()).texts)


def test_a_line_that_doubles_back_keeps_its_order():
    """Where the current falls on a smaller load (a device that misfires), the points still follow the load."""
    points = [(10.0, 30.0), (50.0, 20.0), (20.0, 4.0), (100.0, 5.0)]
    rows = [{"kind": "line", "dial": 1.0, "delay": 10.0, "current": amps, "voltage": volts} for amps, volts in points]
    line = characteristic.draw(Answer("characteristic", made_up.scenario(), {}, rows=rows[::-1])).axes[0].lines[0]
    assert list(line.get_xdata()) == [10.0, 50.0, 20.0, 100.0]


def test_a_crossing_in_pulses_stands_alone():
    """A crossing whose means do not lie on the load line is a cross beside its line, and the picture says so."""
    rows = [
        {"kind": "line", "dial": 0.5, "delay": 90.0, "current": 10.0, "voltage": 30.0},
        {"kind": "line", "dial": 0.5, "delay": 90.0, "current": 50.0, "voltage": 10.0},
        {"kind": "crossing", "dial": 0.5, "delay": 90.0, "current": 40.0, "voltage": 12.0, "on_line": False},
    ]
    figure = characteristic.draw(Answer("characteristic", made_up.scenario(), {}, rows=rows))
    line, cross = figure.axes[0].lines[:2]
    assert list(line.get_xdata()) == [10.0, 50.0]
    assert (list(cross.get_xdata()), list(cross.get_ydata())) == ([40.0], [12.0])
    assert any("in pulses" in text.get_text() for text in figure.texts)
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


@pytest.mark.parametrize(("rectifier", "past"), [("", False), ("[rectifier]", True)])
def test_a_line_with_a_rectifier_does_not_go_through_its_crossing(rectifier, past):
    """Two points on resistors make one straight line; the crossing, on another load a little off it, bends it not.

    Without a rectifier the crossing is a point on a resistor and belongs to the line.
    """
    points = [("line", 10.0, 30.0), ("line", 50.0, 10.0), ("crossing", 32.0, 15.6)]
    rows = [
        {"kind": kind, "dial": 0.5, "delay": 90.0, "current": amps, "voltage": volts} for kind, amps, volts in points
    ]
    scenario = read_text(made_up.TEXT + rectifier, "made_up.toml")
    axes = characteristic.draw(Answer("characteristic", scenario, {}, rows=rows)).axes[0]
    assert list(axes.lines[0].get_xdata()) == ([10.0, 50.0] if past else [10.0, 32.0, 50.0])
    assert [32.0, 15.6] in np.concatenate([np.asarray(dots.get_offsets()) for dots in axes.collections]).tolist()


def test_a_load_line_far_above_is_told_and_not_drawn():
    """Two volts below a load line of 14 V would lie on the axis: it is told in words, and the picture is theirs."""
    rows = [
        {"kind": "line", "dial": 0.5, "delay": 90.0, "current": amps, "voltage": 2.0 - amps / 1e3}
        for amps in (0.0, 1e3)
    ]
    rows += [{"kind": "load line", "current": amps, "voltage": 14.0 + 0.05 * amps} for amps in (0.0, 300.0)]
    figure = characteristic.draw(Answer("characteristic", made_up.scenario(), {}, rows=rows))
    assert [line.get_label() for line in figure.axes[0].lines] == ["dial 50 %, 90°"]
    assert figure.axes[0].get_ylim()[1] < 3.0
    assert any("the load line begins at 14 V" in text.get_text() for text in figure.texts)
