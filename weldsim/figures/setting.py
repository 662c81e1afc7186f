"""The picture of a setting: output against the dial at three mains voltages, what is wanted, and what was found.

Rows of kind "dial": ``mains`` [1], ``dial`` [1], ``current`` [A], ``voltage`` [V], ``missed`` (share of half cycles);
of kind "point" the same for the chosen dial.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer

Row = Mapping[str, Any]

WIDTH, HEIGHT = 8.2, 5.0
UNITS = {"current": "A", "voltage": "V"}
NEARLY_NONE = 0.5  # of the largest output: where the least lies below it, the axis begins at nothing
ORDER = (0.0, -0.1, 0.1)  # mains off the rated voltage, which is drawn solid


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim setting``."""
    rows = answer.rows or []
    quantity = next(name for name in UNITS if f"wanted.output.{name}" in answer.numbers)
    wanted, dial = answer.numbers[f"wanted.output.{quantity}"].value, answer.numbers["setting.dial"].value
    reached = answer.numbers["setting.reached"].value > 0.0
    point = next(row for row in rows if row["kind"] == "point" and row["mains"] == 0.0)
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"dial {100.0 * dial:.3g} % gives {point[quantity]:.4g} {UNITS[quantity]}"
            + ("" if reached else f", the nearest to {wanted:.4g} {UNITS[quantity]}")
            + ("; hollow: misfiring" if any(row["missed"] for row in rows) else ""),
        )
        axes = figure.add_axes((0.09, 0.11, 0.66, 0.76))
        for number, mains in enumerate(ORDER):
            own = [row for row in rows if row["kind"] == "dial" and row["mains"] == mains]
            _draw_curve(axes, own, quantity, number=number)
        axes.axhline(wanted, label="wanted", **style.HELPER_LINE)
        axes.scatter(
            [100.0 * dial],
            [point[quantity]],
            s=70.0,
            marker="D",
            color=style.PENS[0]["color"],
            label="found" if reached else "nearest",
            zorder=4.0,
            clip_on=False,
        )
        axes.set_xlim(0.0, 100.0)
        low, high = axes.get_ylim()
        if low < NEARLY_NONE * high:
            axes.set_ylim(bottom=0.0)
        style.name_axis(axes, vertical=f"output {quantity} [{UNITS[quantity]}]", horizontal="dial [%]")
        axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.01), borderaxespad=0.0)
    return figure


def _draw_curve(axes: Axes, rows: Sequence[Row], quantity: str, *, number: int) -> None:
    """One mains voltage: a line through what is sound, broken where it misfires, and hollow dots there."""
    if not rows:
        return
    ordered, look = sorted(rows, key=lambda row: row["dial"]), style.pen(number)
    mains = 100.0 * ordered[0]["mains"]
    axes.plot(
        [100.0 * row["dial"] for row in ordered],
        [math.nan if row["missed"] else row[quantity] for row in ordered],
        label=f"mains {mains:+.0f} %" if round(mains) else "rated mains",
        **look,
    )
    missing = [row for row in ordered if row["missed"]]
    if missing:
        axes.scatter(
            [100.0 * row["dial"] for row in missing],
            [row[quantity] for row in missing],
            s=14.0,
            color="white",
            edgecolors=look["color"],
            linewidths=0.9,
            zorder=3.0,
            clip_on=False,
        )
