"""The picture of a generator as source: its voltage and current, the step of load, and the ladder of ratings.

Rows of kind "rating": ``rating`` [VA], ``plug_thd``, ``load`` [1], ``output_current`` [A], ``carries``; of kind "step":
``time`` [s], ``plug_voltage`` [V], ``output_current`` [A].
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 10.6, 7.6
LOW_DISTORTION = 8.0  # [%] EN 50160


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim generator``."""
    rows = answer.rows or []
    ladder = [row for row in rows if row["kind"] == "rating"]
    steps = [row for row in rows if row["kind"] == "step"]
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        rating = answer.numbers["generator.rating"].value
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"on a generator of {rating / 1e3:g} kVA",
        )
        _draw_waves(figure, answer)
        _draw_step(figure, answer, steps)
        _draw_ladder(figure, ladder)
    return figure


def _draw_waves(figure: Figure, answer: Answer) -> None:
    """Voltage at the terminals beside a clean sine, and the current under it."""
    run, mains = answer.runs["window"], answer.scenario.mains  # type: ignore[union-attr]
    above, below = figure.add_axes((0.075, 0.71, 0.40, 0.16)), figure.add_axes((0.075, 0.535, 0.40, 0.12))
    time = 1e3 * run.time
    sine = math.sqrt(2.0) * mains.voltage * np.sin(2.0 * math.pi * mains.frequency * run.time)
    above.plot(time, run["plug.voltage"], label="at the terminals", **style.pen(0))
    above.plot(time, sine, label="clean sine", **style.pen(5))
    below.plot(time, run["primary.current"], **style.pen(1))
    above.tick_params(labelbottom=False)
    style.explain_lines(above)
    style.name_axis(above, vertical="voltage [V]")
    style.name_axis(below, vertical="current [A]", horizontal="time [ms]")
    for axes in (above, below):
        style.keep_marks_short(axes)
        axes.set_xlim(time[0], time[-1])
        axes.yaxis.set_label_coords(-0.13, 0.5)


def _draw_step(figure: Figure, answer: Answer, steps: Sequence[Mapping[str, Any]]) -> None:
    """What the voltage and the output do when the load comes on."""
    above, below = figure.add_axes((0.585, 0.71, 0.39, 0.16)), figure.add_axes((0.585, 0.535, 0.39, 0.12))
    time = [row["time"] for row in steps]
    above.plot(time, [row["plug_voltage"] for row in steps], label="rms of each period", **style.pen(0))
    above.axhline(answer.scenario.mains.voltage, **style.HELPER_LINE)  # type: ignore[union-attr]
    below.plot(time, [row["output_current"] for row in steps], **style.pen(1))
    above.tick_params(labelbottom=False)
    style.explain_lines(above)
    style.name_axis(above, vertical="voltage [V]")
    style.name_axis(below, vertical="output [A]", horizontal="time from the load coming on [s]")
    for axes in (above, below):
        style.keep_marks_short(axes)
        axes.set_xlim(0.0, time[-1] if time else 1.0)
        axes.yaxis.set_label_coords(-0.13, 0.5)


def _draw_ladder(figure: Figure, ladder: Sequence[Mapping[str, Any]]) -> None:
    """Distortion, load and output over the ratings; filled dots: it carries the supply."""
    panels = (
        ("plug_thd", 100.0, "voltage distortion [%]", LOW_DISTORTION, "EN 50160: 8 %"),
        ("load", 100.0, "load, of its volt-amperes [%]", 100.0, "rating"),
        ("output_current", 1.0, "output current [A]", None, ""),
    )
    sizes = [row["rating"] / 1e3 for row in ladder]
    for number, (name, factor, label, limit, words) in enumerate(panels):
        axes = figure.add_axes((0.075 + 0.325 * number, 0.085, 0.25, 0.31))
        axes.plot(sizes, [factor * row[name] for row in ladder], **style.pen(0))
        for carries, inside, key in ((True, "black", "carries the supply"), (False, "white", "does not")):
            dots = [row for row in ladder if row["carries"] is carries]
            if not dots:
                continue
            axes.scatter(
                [row["rating"] / 1e3 for row in dots],
                [factor * row[name] for row in dots],
                s=22.0,
                color=inside,
                edgecolors="black",
                zorder=3.0,
                label=key,
            )
        axes.set_xlim(left=0.0)
        axes.set_ylim(0.0, 1.08 * max(factor * row[name] for row in ladder))
        if limit is not None and limit < axes.get_ylim()[1]:
            axes.axhline(limit, label=words, **style.pen(2))
        style.explain_lines(axes, columns=2)
        style.name_axis(axes, vertical=label, horizontal="rating [kVA]")
        if "%" not in label:
            style.keep_marks_short(axes)
