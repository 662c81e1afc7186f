"""The picture of a dial setting: what is in it, that nothing lies on anything, and that it is drawn true."""

import numpy as np
import pytest
from matplotlib.collections import PolyCollection

from tests.figures import layout, made_up
from weldsim.figures import preview
from weldsim.scenario.reading import read_text
from weldsim.studies.answer import Answer, Number

NUMBERS = {
    "output.current.mean": Number(127.65, "A"),
    "output.voltage.mean": Number(20.383, "V"),
    "primary.current.rms": Number(34.445, "A"),
}


def answer(*, title="A made-up supply", approach=1.0, leave_out=()):
    """An answer with made-up runs; ``approach`` [s] long, 0 for none."""
    runs = {"window": made_up.run(0.2, leave_out=leave_out, title=title)}
    if approach:
        runs["approach"] = made_up.run(approach, leave_out=leave_out, settle=0.08)
    return Answer(
        study="preview",
        scenario=made_up.scenario(title),
        numbers=NUMBERS,
        verdicts=[],
        assumptions=[],
        rows=None,
        runs=runs,
    )


@pytest.mark.parametrize(
    "options",
    [
        {"approach": 1.0},
        {"approach": 0.3},
        {"approach": 0.0},
        {"leave_out": ("bank.voltage", "core.flux_linkage", "phase_control.voltage")},
        {"title": "A supply whose title is so long that it cannot possibly fit on one line of any picture " * 2},
        {"title": "costs $5 or $6 with 50% off_and_more"},
    ],
    ids=["bands", "waveforms", "no approach", "missing parts", "long title", "odd letters"],
)
def test_no_text_lies_on_another_or_leaves_the_picture(options):
    """All labels, keys and numbers can be read, whatever the supply holds."""
    figure = preview.draw(answer(**options))
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


def test_every_axis_names_its_unit():
    """Each panel has a vertical label with a unit; the lowest of each column a time axis with one."""
    figure = preview.draw(answer())
    vertical = [axes.get_ylabel() for axes in figure.axes]
    horizontal = [axes.get_xlabel() for axes in figure.axes if axes.get_xlabel()]
    assert all(label.endswith("]") for label in vertical)
    assert horizontal == ["time [ms]", "time from the start [s]; bands: least to most of each cycle"]


def test_panels_follow_the_supply():
    """A supply without bank, flux and phase control has no panels for them."""
    full = preview.draw(answer(approach=0.0))
    small = preview.draw(answer(approach=0.0, leave_out=("phase_control.voltage", "core.flux_linkage")))
    assert (len(full.axes), len(small.axes)) == (5, 3)


def test_window_shows_the_last_three_cycles_sample_by_sample():
    """What is drawn on the left are the run's own samples of the last 60 ms."""
    source = answer(approach=0.0)
    axes = preview.draw(source).axes[1]
    run = source.runs["window"]
    shown = run.time >= 0.14 - 1e-9
    drawn = axes.lines[0]
    # Milliseconds from seconds: one rounding, so a relative 1e-12 is generous.
    np.testing.assert_allclose(drawn.get_xdata(), 1e3 * run.time[shown], rtol=1e-12)
    np.testing.assert_array_equal(drawn.get_ydata(), run["output.current"][shown])
    assert axes.get_xlim() == pytest.approx((140.0, 200.0), rel=1e-12)


def test_short_approach_is_drawn_as_waveforms():
    """Up to 25 cycles are drawn one by one, without bands."""
    figure = preview.draw(answer(approach=0.3))
    assert figure.axes[-1].get_xlabel() == "time from the start [ms]"
    assert not any(isinstance(drawn, PolyCollection) for axes in figure.axes for drawn in axes.collections)


def test_pens_differ_in_colour_and_dash():
    """No two lines of a panel share a colour or a dash, so that a grey print can be read."""
    lines = preview.draw(answer(approach=0.0)).axes[0].lines[:2]
    assert lines[0].get_color() != lines[1].get_color()
    assert lines[0]._dash_pattern != lines[1]._dash_pattern


def test_an_alternating_output_is_named_by_its_rms():
    """Without a rectifier the line below the title gives rms values, since the means are nothing."""
    figures = {
        "output.current.mean": Number(1e-11, "A"),
        "output.current.rms": Number(870.0, "A"),
        "output.voltage.rms": Number(1.05, "V"),
    }
    text = '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n[load]\nkind = "short"\n'
    alternating = Answer("preview", read_text(text), figures, runs={"window": made_up.run(0.2)})
    told = [words.get_text() for words in preview.draw(alternating).texts]
    assert "output, rms: 870 A, at 1.05 V" in told
