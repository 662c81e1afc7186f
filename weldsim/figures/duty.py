"""The picture of how long it may weld: warming of each part from cold, and the duty over the dial.

Rows of kind "part": ``part``, ``known``, ``limit`` [degC], ``lasts`` [s]; of kind "warming": ``time`` [s] and the
temperature of each known part; of kind "dial": ``output_current`` [A], ``missed``, ``duty_winding`` and the like [1].
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer
from weldsim.studies.duty_heat import NAMES

WIDTH, HEIGHT = 8.6, 6.6
ABOVE = 1.15  # of its limit, up to where a part is drawn
RATED = 0.35  # [1] a duty that many sets are rated at


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim duty``."""
    rows = answer.rows or []
    parts = [row for row in rows if row["kind"] == "part" and row["known"] != "unknown"]
    dials = [row for row in rows if row["kind"] == "dial" and not row["missed"]]
    lost = sum(bool(row["missed"]) for row in rows if row["kind"] == "dial")
    kind = "mean" if "output.current.mean" in answer.numbers else "rms"
    amps = answer.numbers[f"output.current.{kind}"].value
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"from cold without a pause at {amps:.3g} A, and what each ten minutes allow"
            + (f"; {lost} that misfire left out" if lost else "")
            if parts
            else f"loss at {amps:.3g} A; how warm it makes them is not known without [cooling]",
        )
        if not parts:
            _draw_losses(figure.add_axes((0.26, 0.14, 0.48, 0.70)), [row for row in rows if row["kind"] == "part"])
            return figure
        warming = [row for row in rows if row["kind"] == "warming"]
        _draw_warming(figure.add_axes((0.10, 0.55, 0.56, 0.34)), parts, warming)
        _draw_duty(figure.add_axes((0.10, 0.10, 0.56, 0.34)), dials, f"output current, {kind} [A]")
    return figure


def _draw_losses(axes: Axes, parts: Sequence[Mapping[str, Any]]) -> None:
    """Loss of each part, and the thermal resistance that would do."""
    heats = [row["heat"] for row in parts]
    axes.barh([row["part"] for row in parts], heats, height=0.5, color=style.PENS[1]["color"])
    for place, row in enumerate(parts):
        axes.text(row["heat"], place, f"  needs at most {row['needed']:.2g} K/W", va="center", fontsize="small")
    axes.set_xlim(0.0, 1.05 * max(heats))
    axes.invert_yaxis()
    axes.set_xlabel("loss [W]")


def _draw_warming(axes: Axes, parts: Sequence[Mapping[str, Any]], warming: Sequence[Mapping[str, Any]]) -> None:
    """Temperature of each part against time, up to a little above its limit."""
    minutes = [row["time"] / 60.0 for row in warming]
    end = minutes[-1]
    for row in parts:
        number = list(NAMES.values()).index(row["part"])
        key = list(NAMES)[number]
        shown = [moment[key] if moment[key] <= ABOVE * row["limit"] else math.nan for moment in warming]
        axes.plot(minutes, shown, label=row["part"], **style.pen(number))
        if row["lasts"] <= 60.0 * end:
            axes.plot(row["lasts"] / 60.0, row["limit"], "o", color=style.PENS[number]["color"])
    for limit in sorted({row["limit"] for row in parts}):
        axes.axhline(limit, **style.HELPER_LINE)
        axes.text(1.01 * end, limit, f"limit {limit:g}", va="center", fontsize="small")
    axes.set_xlim(0.0, end)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="temperature [°C]", horizontal="welding [min]")
    axes.legend(loc="upper left", bbox_to_anchor=(1.16, 1.01), borderaxespad=0.0)


def _draw_duty(axes: Axes, dials: Sequence[Mapping[str, Any]], name: str) -> None:
    """Share of each ten minutes against the output current, part by part."""
    amps = [row["output_current"] for row in dials]
    for number, (part, words) in enumerate(NAMES.items()):
        shares = [100.0 * row[f"duty_{part}"] for row in dials if f"duty_{part}" in row]
        if shares:
            axes.plot(amps, shares, marker=".", label=words, **style.pen(number))
    axes.axhline(100.0 * RATED, **style.HELPER_LINE)
    axes.set_xlim(0.0, 1.04 * max(amps, default=1.0))
    axes.text(1.045 * max(amps, default=1.0), 100.0 * RATED, f"{100.0 * RATED:.0f} %", va="center", fontsize="small")
    axes.set_ylim(0.0, 105.0)
    style.name_axis(axes, vertical="welding of ten minutes [%]", horizontal=name)
