"""How every picture looks: white ground, colours that a colour-blind eye tells apart, a dash of its own for each.

The colours are black, grey and four of the Okabe-Ito set whose contrast on white is above 3 to 1 (M. Okabe and
K. Ito, "Color universal design", 2008); the dashes keep a black-and-white print readable.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures.formats import picture_format

PENS: tuple[dict, ...] = (
    {"color": "#000000", "linestyle": "-"},
    {"color": "#0072B2", "linestyle": (0, (5, 1.2))},
    {"color": "#D55E00", "linestyle": (0, (1.2, 1.0))},
    {"color": "#009E73", "linestyle": (0, (6, 1.2, 1.2, 1.2))},
    {"color": "#CC79A7", "linestyle": (0, (3, 1, 1, 1, 1, 1))},
    {"color": "#767676", "linestyle": (0, (9, 2))},
)
HELPER_LINE = {"color": "#767676", "linewidth": 0.8}

_SETTINGS = {
    "figure.facecolor": "white",
    "axes.facecolor": "white",
    "savefig.facecolor": "white",
    "font.family": "DejaVu Sans",        # comes with matplotlib and has Ω, µ, ° and superscripts
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
    "svg.fonttype": "none",              # text stays text: searchable, and small
    "svg.hashsalt": "weldsim",           # the same picture gives the same bytes
    "path.simplify_threshold": 0.05,
    "savefig.dpi": 130,
}


@contextmanager
def house_look() -> Iterator[None]:
    """Use the settings above for what is drawn inside, whatever the user's own matplotlib settings are."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield


def pen(number: int) -> dict:
    """Colour and dash of the line with this number; after the sixth they begin again, thinner."""
    turn, place = divmod(number, len(PENS))
    return {**PENS[place], "linewidth": 1.2 / (1 + 0.5 * turn)}


def blank(width: float, height: float) -> Figure:
    """An empty figure of this size in inches that lays itself out, made without any window system."""
    return Figure(figsize=(width, height), layout="constrained")


def name_axis(axes: Axes, *, vertical: str = "", horizontal: str = "") -> None:
    """Write the axis labels; every one ends in its unit."""
    if vertical:
        axes.set_ylabel(vertical)
    if horizontal:
        axes.set_xlabel(horizontal)


def explain_lines(axes: Axes, *, columns: int = 3) -> None:
    """A key above the panel, outside of it, so that it never covers a curve."""
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 0.985), ncols=columns, borderaxespad=0.1, columnspacing=1.6)


def save(figure: Figure, path: Path | str, *, description: str = "") -> Path:
    """Write the figure in the format of its file name; the same figure gives the same bytes.

    ``description`` is the sentence that a screen reader speaks for an SVG.
    """
    path = Path(path)
    kind = picture_format(path)
    metadata: dict[str, str | None] = {
        "png": {"Software": "weldsim"},
        "svg": {"Date": None, "Creator": "weldsim", "Description": description or None},
        "pdf": {"CreationDate": None, "Creator": "weldsim", "Producer": None, "Subject": description or None},
    }[kind]
    with house_look():
        figure.savefig(path, format=kind, metadata=metadata)
    return path
