"""The pictures of sweeps: panels for one key, a map for two, crosses where a case could not be done."""

import numpy as np
import pytest

from tests.figures import layout, made_up
from weldsim.figures import sweep
from weldsim.scenario.axes import axes_of
from weldsim.studies.answer import Number
from weldsim.studies.sweep import SweepAnswer

UNITS = {"output.current.mean": "A", "output.current.ripple": "A", "primary.power_factor": "1"}


def answer(over, *, told=("output.current.mean",), failed=()):
    """Made-up numbers that rise with the case."""
    axes = axes_of(over)
    grid = np.array(np.meshgrid(*(axis.values for axis in axes), indexing="ij")).reshape(len(axes), -1).T
    rows = [
        {"case": k + 1}
        | dict(zip([axis.key for axis in axes], values, strict=True))
        | {
            "numbers": {} if k in failed else {name: 10.0 * (n + 1) + k for n, name in enumerate(UNITS)},
            "level": "good",
            "error": "no solution" if k in failed else None,
        }
        for k, values in enumerate(grid.tolist())
    ]
    numbers = {"cases.count": Number(float(len(rows)), "1"), "cases.failed": Number(float(len(failed)), "1")}
    return SweepAnswer(
        "sweep", made_up.scenario(), numbers, rows=rows, axes=axes, asked="preview", told=told, units=UNITS
    )


@pytest.mark.parametrize("told", [("output.current.mean",), tuple(UNITS)], ids=["one", "three"])
def test_a_panel_for_each_number(told):
    """One key: as many panels as numbers, one axis label with key and unit; a failed case is a gap."""
    figure = sweep.draw(answer(["choke.inductance=0.1mH:1mH:10"], told=told, failed=(3,)))
    assert len(figure.axes) == len(told)
    assert figure.axes[-1].get_xlabel() == "choke.inductance [mH]"
    assert np.isnan(figure.axes[0].lines[0].get_ydata()[3])
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


@pytest.mark.parametrize("steps", [(3, 4), (15, 12), (1, 5)], ids=["few", "many", "a row"])
def test_a_map_for_two_keys(steps):
    """Two keys: cells with a scale that names number and unit; a failed case is crossed; nothing overlaps."""
    over = [f"dial=20%:80%:{steps[0]}" if steps[0] > 1 else "dial=20%:20%:1", f"choke.inductance=0.1mH:1mH:{steps[1]}"]
    figure = sweep.draw(answer(over, failed=(2,)))
    drawn = [text for text, _ in layout.texts_of(figure)]
    assert "\N{MULTIPLICATION SIGN}" in drawn
    assert "output.current.mean [A]" in drawn
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


@pytest.mark.parametrize("steps", [(2, 3), (30, 25)], ids=["few", "many"])
def test_a_map_marks_the_values_and_no_others(steps):
    """Marks stand at values that were asked: none below the least, where a cell's half would reach below zero."""
    asked = answer([f"dial=20%:60%:{steps[0]}", f"choke.inductance=0.1mH:1mH:{steps[1]}"])
    figure = sweep.draw(asked)
    layout.texts_of(figure)
    for ruler, axis in zip((figure.axes[0].yaxis, figure.axes[0].xaxis), asked.axes, strict=True):
        shown = [axis.shown(value) for value in axis.values]
        marks = ruler.get_ticklocs().tolist()
        assert 2 <= len(marks) <= 10
        assert set(marks) <= set(shown)
        assert [float(text.get_text()) for text in ruler.get_ticklabels()] == pytest.approx(marks, rel=1e-3)
    assert layout.overlapping(figure) == []
