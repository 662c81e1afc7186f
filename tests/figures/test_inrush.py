"""The pictures of inrush and drill: nothing lies on anything, axes have units, bars and bands are drawn true."""

import math

import pytest

import weldsim
from tests.figures import layout
from weldsim.figures import inrush as picture
from weldsim.figures import press_drill as drill_picture
from weldsim.parts.breaker_curves import fuse_window
from weldsim.parts.soft_start import SoftStart
from weldsim.scenario.vary import vary
from weldsim.studies import inrush, press_drill

FUSE = {"breaker.curve": "gG", "breaker.current": "6 A"}
DISC = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=0.02, cooling_time=90.0, bypass_delay=0.1)


@pytest.fixture(scope="module")
def answers():
    """The shed behind a breaker with remedies, behind a fuse, and without anything."""
    shed = weldsim.read("toroid_shed")
    return {
        "breaker": inrush.ask(shed, presses=8),
        "fuse": inrush.ask(vary(shed, FUSE), presses=8, remedies=False),
        "none": inrush.ask(vary(shed, {"breaker": "absent", "bank": "absent"}), presses=4, remedies=False),
    }


@pytest.fixture(scope="module")
def drills():
    """Drills of the shed: its breaker, a fuse, a thermistor, no breaker."""
    shed = weldsim.read("toroid_shed")
    return {
        "breaker": press_drill.ask(shed, presses=5),
        "fuse": press_drill.ask(vary(shed, FUSE), presses=3),
        "thermistor": press_drill.ask(vary(shed, {"soft_start": DISC}), presses=3),
        "none": press_drill.ask(vary(shed, {"breaker": "absent"}), presses=1),
    }


@pytest.mark.slow
@pytest.mark.parametrize("name", ["breaker", "fuse", "none"])
def test_inrush_can_be_read(answers, name):
    """No text lies on another or leaves the picture, and what has a number has a unit."""
    figure = picture.draw(answers[name])
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []
    labels = [label for axes in figure.axes for label in (axes.get_xlabel(), axes.get_ylabel()) if label]
    assert all("[" in label for label in labels if label != "of 100 presses")


@pytest.mark.parametrize("name", ["breaker", "fuse", "thermistor", "none"])
def test_drill_can_be_read(drills, name):
    """No text lies on another or leaves the picture; the thermistor and the breaker's heat have their own panels."""
    figure = drill_picture.draw(drills[name])
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []
    labels = " ".join(axes.get_ylabel() for axes in figure.axes)
    assert ("thermistor" in labels) == (name == "thermistor")
    assert ("heat" in labels) == (name in ("breaker", "thermistor"))


def test_band_of_the_breaker_and_window_of_the_fuse(answers):
    """Grey from 5 to 10 times 16 A times sqrt 2 (IEC 60898-1, C); for the fuse over its window of I2t."""
    for name, edges in (
        ("breaker", [5.0 * 16.0 * math.sqrt(2.0), 10.0 * 16.0 * math.sqrt(2.0)]),
        ("fuse", list(fuse_window(6.0))),
    ):
        axes = next(axes for axes in picture.draw(answers[name]).axes if axes.get_ylabel() == "of 100 presses")
        title = axes.get_title(loc="left")
        assert title.startswith("grey: ")
        assert ("fuse" in title) == (name == "fuse")
        boxes = [patch.get_extents().transformed(axes.transData.inverted()) for patch in axes.patches]
        assert any([box.x0, box.x1] == pytest.approx(edges) for box in boxes)
        heights = [patch.get_height() for patch in axes.patches if patch.get_height() > 1.5]
        assert sum(heights) == pytest.approx(100.0)  # every press is in some bar; the band is 1 of the axes high


def test_bars_of_the_remedies(answers):
    """One bar for each remedy, as long as what 90 of 100 of its presses keep below, named at its side."""
    rows = [row for row in answers["breaker"].rows if row["kind"] == "remedy"]
    axes = next(axes for axes in picture.draw(answers["breaker"]).axes if "until 60 ms" in axes.get_xlabel())
    assert [patch.get_width() for patch in axes.patches] == pytest.approx([row["p90_largest"] for row in rows])
    assert [label.get_text() for label in axes.get_yticklabels()] == [row["name"] for row in rows]


def test_two_maps_in_one_scale(answers):
    """With a bank there is a map of it empty and one of it charged, both shaded from the least peak to the largest."""
    maps = [axes for axes in picture.draw(answers["breaker"]).axes if axes.get_title(loc="left").startswith("bank ")]
    meshes = [axes.collections[0] for axes in maps]
    assert [axes.get_title(loc="left") for axes in maps] == ["bank empty", "bank charged"]
    assert meshes[0].get_clim() == meshes[1].get_clim()
    peaks = [row["first_peak"] for row in answers["breaker"].rows if row["kind"] == "map"]
    assert meshes[0].get_clim() == (min(peaks), max(peaks))
