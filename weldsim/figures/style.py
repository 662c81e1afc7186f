"""How every picture looks: white ground, colours that a colour-blind eye tells apart, a dash of its own for each.

The colours are black, grey and four of the Okabe-Ito set whose contrast on white is above 3 to 1 (M. Okabe and
K. Ito, "Color universal design", 2008); the dashes keep a black-and-white print readable.
"""

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from weldsim.errors import written_out
from weldsim.figures.formats import picture_format
from weldsim.runs.replacing import written_beside

PENS: tuple[dict, ...] = (
    {"color": "#000000", "linestyle": "-"},
    {"color": "#0072B2", "linestyle": (0, (5, 1.2))},
    {"color": "#D55E00", "linestyle": (0, (1.2, 1.0))},
    {"color": "#009E73", "linestyle": (0, (6, 1.2, 1.2, 1.2))},
    {"color": "#CC79A7", "linestyle": (0, (3, 1, 1, 1, 1, 1))},
    {"color": "#767676", "linestyle": (0, (9, 2))},
)
TOP, BOTTOM, GAP = 0.42, 0.50, 0.34  # [in] above the first key, below the last panel, above each panel for its key
LEAST_SPAN = 0.02  # of its values: what differs by less is drawn as alike, and marks need no more than four digits
SMALL_UNITS = ((1.0, ""), (1e3, "m"), (1e6, "\N{MICRO SIGN}"), (1e9, "n"))  # how many of them make one
NOTHING = 1e-10  # of the unit
HELPER_LINE: dict[str, Any] = {"color": "#767676", "linewidth": 0.8}

_SETTINGS: Any = {
    "figure.facecolor": "white",
    "axes.facecolor": "white",
    "savefig.facecolor": "white",
    "font.family": "DejaVu Sans",  # comes with matplotlib and has Ω, µ, ° and superscripts
    "font.size": 9.0,
    "axes.titlesize": 9.0,
    "axes.labelsize": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "axes.grid": True,
    "grid.color": "#DDDDDD",
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "lines.linewidth": 1.2,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "legend.handlelength": 2.6,
    "svg.fonttype": "none",  # text stays text: searchable, and small
    "svg.hashsalt": "weldsim",  # the same picture gives the same bytes
    "path.simplify_threshold": 0.05,
    "savefig.dpi": 120,
}


_FASTER: dict[str, Any] = {"png": {"pil_kwargs": {"compress_level": 4}}}  # half the time for a tenth more bytes


@contextmanager
def house_look() -> Iterator[None]:
    """Use the settings above for what is drawn inside, whatever the user's own matplotlib settings are."""
    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # a title in other letters: drawn as boxes
        matplotlib.rcdefaults()
        with matplotlib.rc_context(_SETTINGS):
            yield


def pen(number: int) -> dict:
    """Colour and dash of the line with this number; after the sixth they begin again, thinner."""
    turn, place = divmod(number, len(PENS))
    return {**PENS[place], "linewidth": 1.2 / (1 + 0.5 * turn)}


def blank(width: float, height: float) -> Figure:
    """An empty figure of this size in inches, made without any window system."""
    return Figure(figsize=(width, height))


def stack(figure: Figure, count: int, *, left: float, right: float) -> list[Axes]:
    """``count`` axes one above the other between ``left`` and ``right`` [in] from the left edge of the figure.

    All distances are fixed in inches: labels cannot meet, and nothing has to be measured and laid out twice, which
    would take longer than the drawing itself.
    """
    width, height = figure.get_size_inches()
    row = (height - TOP - BOTTOM) / count
    axes_list = []
    for number in range(count):
        foot = height - TOP - row * (number + 1)
        axes = figure.add_axes((left / width, foot / height, (right - left) / width, (row - GAP) / height))
        axes.yaxis.set_label_coords(-0.55 / (right - left), 0.5)
        axes.yaxis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10], min_n_ticks=3))
        axes.xaxis.set_major_locator(_times())
        axes_list.append(axes)
    return axes_list


def _times() -> MaxNLocator:
    """Where the marks of a time axis lie; each axis needs its own."""
    return MaxNLocator(nbins=6, steps=[1, 2, 5, 10])


def only_grid(axes: Axes) -> None:
    """Vertical grid lines without ticks: for the panels above the one that carries the time axis.

    One collection of lines in place of ticks that are made and never labelled: a third of the time a picture takes.
    """
    low, high = axes.get_xlim()
    places = [place for place in _times().tick_values(low, high) if low <= place <= high]
    axes.vlines(
        places,
        0.0,
        1.0,
        transform=axes.get_xaxis_transform(),
        color=_SETTINGS["grid.color"],
        linewidth=_SETTINGS["grid.linewidth"],
        zorder=0.5,
    )
    axes.set_xticks([])
    axes.set_xlim(low, high)


def write_title(figure: Figure, title: str, *, below: str = "") -> None:
    """One or two lines at the top left, cut where they would leave the picture."""
    title = written_out(title)
    width, height = figure.get_size_inches()
    for text, size, drop in ((title, 10.5, 0.06), (below, 9.0, 0.26)):
        longest = int((width - 0.3) * 72 / (0.56 * size))
        cut = text if len(text) <= longest else text[: longest - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
        figure.text(0.12 / width, 1.0 - drop / height, cut, ha="left", va="top", fontsize=size, parse_math=False)


def name_axis(axes: Axes, *, vertical: str = "", horizontal: str = "") -> None:
    """Write the axis labels; every one ends in its unit."""
    if vertical:
        axes.set_ylabel(vertical)
    if horizontal:
        axes.set_xlabel(horizontal)


def keep_marks_short(axes: Axes) -> None:
    """Numbers of few digits on a vertical axis that has its curves and its label, whatever their size.

    Its span is at least a fiftieth of its values, and where all are below a tenth of the unit, it is told in
    thousandths of it, as mA for A.  What is smaller than any unit is nothing.
    """
    low, high = axes.get_ylim()
    largest = max(abs(low), abs(high))
    drawn = max(map(abs, axes.dataLim.intervaly))  # an axis around zeros alone is as wide as its margins
    if min(largest, drawn) < NOTHING:
        low, high, largest = -1.0, 1.0, 1.0
        axes.set_ylim(low, high)
    if high - low < LEAST_SPAN * largest:
        low, high = (low + high - LEAST_SPAN * largest) / 2.0, (low + high + LEAST_SPAN * largest) / 2.0
        axes.set_ylim(low, high)
    many, prefix = small_unit(largest)
    axes.set_ylabel(axes.get_ylabel().replace("[", f"[{prefix}", 1))
    axes.yaxis.set_major_formatter(lambda value, _: short(many * value))


def small_unit(largest: float) -> tuple[float, str]:
    """How many of the smaller unit make one, and its prefix, for values up to this one.

    >>> small_unit(12.0), small_unit(0.042)
    ((1.0, ''), (1000.0, 'm'))
    """
    return next((one for one in SMALL_UNITS if largest * one[0] >= 0.1), SMALL_UNITS[0])


def short(value: float) -> str:
    """A number at a mark, without what rounding leaves behind.

    >>> short(0.30000000000000004), short(-0.0), short(1250.0)
    ('0.3', '0', '1250')
    """
    return f"{round(value, 9) + 0.0:.6g}".replace("-", "\N{MINUS SIGN}")


def explain_lines(axes: Axes, *, columns: int = 3) -> None:
    """A key above the panel, outside of it, so that it never covers a curve."""
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=columns, borderaxespad=0.1, columnspacing=1.6)


def save(figure: Figure, path: Path | str, *, description: str = "") -> Path:
    """Write the figure in the format of its file name, whole or not at all; the same figure gives the same bytes.

    ``description`` is the sentence that a screen reader speaks for an SVG.
    """
    path = Path(path)
    kind = picture_format(path)
    about: dict[str, dict[str, str | None]] = {
        "png": {"Software": "weldsim"},
        "svg": {"Date": None, "Creator": "weldsim", "Description": description or None},
        "pdf": {"CreationDate": None, "Creator": "weldsim", "Producer": None, "Subject": description or None},
    }
    picture = io.BytesIO()
    with house_look():
        figure.savefig(picture, format=kind, metadata=about[kind], **_FASTER.get(kind, {}))
    with written_beside(path) as stream:
        stream.write(picture.getvalue())
    return path
