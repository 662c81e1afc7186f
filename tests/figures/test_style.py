"""The house look: readable colours, the same bytes for the same picture, and no window system."""

import subprocess
import sys
from pathlib import Path

import matplotlib
import pytest

from tests.figures import layout, made_up
from weldsim.errors import WeldsimError
from weldsim.figures import show, style
from weldsim.figures.formats import FORMATS, picture_format

ROOT = Path(__file__).resolve().parents[2]
LEAST_CONTRAST = 3.0  # of a line on its ground: W3C, Web Content Accessibility Guidelines 2.1, criterion 1.4.11


def luminance(colour):
    """Relative luminance of "#RRGGBB" (W3C, Web Content Accessibility Guidelines 2.1, definition)."""
    channels = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_pen_stands_out_from_white():
    """Each colour has the contrast that the accessibility guidelines ask of graphics."""
    for pen in style.PENS:
        assert 1.05 / (luminance(pen["color"]) + 0.05) >= LEAST_CONTRAST


def test_pens_are_all_different():
    """Six colours, six dashes; the seventh pen is the first, thinner."""
    pens = [style.pen(number) for number in range(6)]
    assert len({pen["color"] for pen in pens}) == len({str(pen["linestyle"]) for pen in pens}) == 6
    seventh = style.pen(6)
    assert seventh["color"] == pens[0]["color"]
    assert seventh["linewidth"] < pens[0]["linewidth"]


@pytest.mark.parametrize("kind", FORMATS)
def test_same_picture_same_bytes(kind, tmp_path):
    """Nothing of the moment or the machine is in a picture: two drawings are equal byte by byte."""
    files = [style.save(show.draw(made_up.run(0.1)), tmp_path / f"{number}.{kind}") for number in range(2)]
    first, second = (file.read_bytes() for file in files)
    assert first == second
    assert len(first) > 1000


def test_svg_keeps_text_and_says_what_it_shows(tmp_path):
    """Labels in an SVG are text, and the sentence for screen readers is inside."""
    file = style.save(show.draw(made_up.run(0.1)), tmp_path / "run.svg", description="settles at 20 V")
    svg = file.read_text(encoding="utf-8")
    assert "time [ms]" in svg
    assert "settles at 20 V" in svg


def test_users_own_settings_are_neither_used_nor_changed(tmp_path):
    """A dark style chosen elsewhere leaves our pictures white, and is still chosen afterwards."""
    plain = style.save(show.draw(made_up.run(0.1)), tmp_path / "plain.png").read_bytes()
    with matplotlib.rc_context({"axes.facecolor": "black", "lines.linewidth": 9.0, "svg.fonttype": "path"}):
        styled = style.save(show.draw(made_up.run(0.1)), tmp_path / "styled.png").read_bytes()
        assert matplotlib.rcParams["lines.linewidth"] == 9.0
    assert styled == plain


@pytest.mark.parametrize("name", ["out.jpg", "out", "out.png.txt"])
def test_other_endings_are_refused(name):
    """A file name with another ending says which endings there are."""
    with pytest.raises(WeldsimError, match=r"end the name in \.png, \.svg or \.pdf"):
        picture_format(name)


def test_no_window_system_is_touched():
    """Drawing and saving never load pyplot, which would look for a screen."""
    probe = (
        "import sys, io\nfrom tests.figures import made_up\nfrom weldsim.figures import show, style\n"
        "show.draw(made_up.run(0.1)).savefig(io.BytesIO(), format='png')\n"
        "print('matplotlib.pyplot' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("values", "label", "marks"),
    [
        ((0.04197, 0.042), "current [mA]", 5),
        ((0.0, 1.2e-5), "current [\N{MICRO SIGN}A]", 4),
        ((0.0, 7.6e-17), "current [A]", 4),
        ((229.9, 230.0), "current [A]", 5),
        ((-120.0, 120.0), "current [A]", 4),
    ],
)
def test_marks_stay_short_whatever_the_size(values, label, marks):
    """A tiny or nearly constant figure has a unit and digits that fit beside its axis, and no offset above it."""
    with style.house_look():
        figure = style.blank(4.0, 3.0)
        axes = figure.add_axes((0.2, 0.2, 0.75, 0.7))
        axes.plot([0.0, 1.0], values)
        style.name_axis(axes, vertical="current [A]")
        style.keep_marks_short(axes)
        texts = [text for text, _ in layout.texts_of(figure)]
    assert label in texts
    low, high = axes.get_ylim()
    assert high - low >= 0.019 * max(abs(low), abs(high))
    shown = [one.get_text() for one in axes.get_yticklabels()]
    assert max(map(len, shown)) <= marks
    assert len(set(shown)) == len(shown)
    assert axes.yaxis.get_offset_text().get_text() == ""
    assert layout.cut_off(figure) == []
    assert layout.overlapping(figure) == []
