"""The picture of the output characteristic: one volt-ampere line for each dial setting, the load line, the crossings.

Rows of the answer: ``dial`` [1], ``delay`` [deg], ``current`` [A] and ``voltage`` [V] of a point of a dial's line;
a row without a dial is a point of the conventional load line; ``crossing`` is true where both meet.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer

Row = Mapping[str, Any]


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim characteristic``."""
    rows = answer.rows or []
    lines: dict[float, list[Row]] = {}
    for row in rows:
        if row.get("dial") is not None:
            lines.setdefault(row["dial"], []).append(row)
    with style.house_look():
        figure = style.blank(7.5, 5.2)
        style.write_title(figure, answer.scenario.title or answer.scenario.source,
                          below="means over whole cycles, at the load; dots: where a line crosses the load line")
        axes = figure.add_axes((0.09, 0.105, 0.70, 0.78))
        for number, dial in enumerate(sorted(lines, reverse=True)):
            _draw_dial(axes, lines[dial], number=number)
        _draw_load_line(axes, [row for row in rows if row.get("dial") is None])
        axes.set_xlim(left=0.0)
        axes.set_ylim(bottom=0.0)
        style.name_axis(axes, vertical="output voltage [V]", horizontal="output current [A]")
        axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.01), borderaxespad=0.0)
    return figure


def _draw_dial(axes: Axes, rows: Sequence[Row], *, number: int) -> None:
    """The line of one dial setting, with its crossings as dots."""
    ordered = sorted(rows, key=lambda row: row["current"])
    look = style.pen(number)
    delay = f", {ordered[0]['delay']:.0f}°" if ordered[0].get("delay") is not None else ""
    axes.plot([row["current"] for row in ordered], [row["voltage"] for row in ordered],
              label=f"dial {100.0 * ordered[0]['dial']:.3g} %{delay}", **look)
    crossings = [row for row in ordered if row.get("crossing")]
    axes.scatter([row["current"] for row in crossings], [row["voltage"] for row in crossings], s=25.0,
                 color=look["color"], zorder=3.0)


def _draw_load_line(axes: Axes, rows: Sequence[Row]) -> None:
    """The conventional load line, thin and grey, under the others."""
    if rows:
        ordered = sorted(rows, key=lambda row: row["current"])
        axes.plot([row["current"] for row in ordered], [row["voltage"] for row in ordered], label="load line",
                  zorder=1.8, **{**style.HELPER_LINE, "linewidth": 1.6})
