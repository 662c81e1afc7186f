"""The picture of a sweep: the chosen numbers over one key as lines, or one number over two keys as a map."""

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import counted
from weldsim.studies.sweep import Axis, SweepAnswer

WIDTH, PANEL, EDGES = 8.0, 2.4, 0.8  # [in]
MAP_HEIGHT = 5.4  # [in]
MOST_PANELS = 6
MOST_MARKS = 9  # gaps between marks along a side of a map
WRITTEN = 100  # cells of a map that still have their number written in them
NOT_DONE = "#DDDDDD"
UNITS = {"1": "1", "deg": "°", "degC": "°C", "ohm": "Ω", "V.s": "V s", "A2.s": "A²s", "%": "%"}


def draw(answer: SweepAnswer) -> Figure:
    """The picture of ``weldsim sweep``."""
    with style.house_look():
        return _lines(answer) if len(answer.axes) == 1 else _map(answer)


def _below(answer: SweepAnswer) -> str:
    count, failed = (round(answer.numbers[name].value) for name in ("cases.count", "cases.failed"))
    return f"{counted(count, 'case')} of {answer.asked}" + (f", {failed} could not be done" if failed else "")


def _axis_name(axis: Axis) -> str:
    return f"{axis.key} [{UNITS.get(axis.unit, axis.unit)}]"


def _values(answer: SweepAnswer, name: str) -> np.ndarray:
    """One number of every case; not a number where there is none."""
    rows: list[dict[str, Any]] = answer.rows or []
    found = [row["numbers"].get(name) for row in rows]
    return np.array([np.nan if value is None else float(value) for value in found])


def _lines(answer: SweepAnswer) -> Figure:
    """A panel for each number."""
    (axis,), told = answer.axes, answer.told[:MOST_PANELS]
    height = EDGES + PANEL * len(told)
    figure = style.blank(WIDTH, height)
    style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
    places = [axis.shown(value) for value in axis.values]
    for number, name in enumerate(told):
        foot = (0.55 + PANEL * (len(told) - 1 - number)) / height
        axes = figure.add_axes((0.11, foot, 0.86, (PANEL - 0.45) / height))
        axes.plot(places, _values(answer, name), marker="o", markersize=3.5, **style.pen(0))
        unit = answer.units.get(name, "1")
        axes.set_title(name, loc="left", pad=3.0)
        style.name_axis(
            axes,
            vertical=f"[{UNITS.get(unit, unit)}]",
            horizontal=_axis_name(axis) if number == len(told) - 1 else "",
        )
    return figure


def _map(answer: SweepAnswer) -> Figure:
    """The first number as cells; a cell without a value is grey and crossed."""
    (down, across), name = answer.axes, answer.told[0]
    unit = answer.units.get(name, "1")
    figure = style.blank(WIDTH, MAP_HEIGHT)
    style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
    axes = figure.add_axes((0.11, 0.11, 0.72, 0.76))
    axes.grid(visible=False)
    axes.set_facecolor(NOT_DONE)
    cells = _values(answer, name).reshape(len(down.values), len(across.values))
    xs, ys = ([axis.shown(value) for value in axis.values] for axis in (across, down))
    shown = np.ma.masked_invalid(cells)
    image = axes.pcolormesh(_edges(xs), _edges(ys), shown, cmap="cividis_r", shading="flat")
    scale = figure.colorbar(image, cax=figure.add_axes((0.86, 0.11, 0.02, 0.76)))
    scale.set_label(f"{name} [{UNITS.get(unit, unit)}]")
    scale.outline.set_visible(False)
    middle = 0.5 * (float(shown.max()) + float(shown.min())) if shown.count() else 0.0
    for (row, column), value in np.ndenumerate(cells):
        if np.isnan(value) or cells.size <= WRITTEN:
            axes.text(
                xs[column],
                ys[row],
                "\N{MULTIPLICATION SIGN}" if np.isnan(value) else f"{value:.3g}",
                ha="center",
                va="center",
                fontsize=8.0,
                color="white" if value > middle else "black",
            )
    style.name_axis(axes, vertical=_axis_name(down), horizontal=_axis_name(across))
    for ruler, places in ((axes.xaxis, xs), (axes.yaxis, ys)):
        marked = _apart(places)
        ruler.set_ticks(marked, labels=[style.short(float(f"{place:.4g}")) for place in marked])
    return figure


def _apart(places: list[float]) -> list[float]:
    """The values to mark: no others, since a cell ends where nothing was asked, and none too near the one before."""
    room = (max(places) - min(places)) / MOST_MARKS
    marked = places[:1]
    for place in places[1:]:
        if abs(place - marked[-1]) >= 0.999 * room:
            marked.append(place)
    return marked


def _edges(marks: list[float]) -> np.ndarray:
    """Edges of cells around marks that may be unevenly spaced, rising or falling."""
    places = np.asarray(marks, dtype=float)
    if len(places) == 1:
        return np.array([places[0] - 0.5, places[0] + 0.5])
    inner = 0.5 * (places[1:] + places[:-1])
    return np.concatenate(([2.0 * places[0] - inner[0]], inner, [2.0 * places[-1] - inner[-1]]))
