"""The picture of a spot study: energy of every spot under each condition, and wire ends over the burn-back time."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim spot``."""
    rows = answer.rows or []
    spots = [row for row in rows if row["kind"] == "spot"]
    swept = [row for row in rows if row["kind"] == "burn_back"]
    names = list(dict.fromkeys(row["condition"] for row in spots))
    time, count = (answer.numbers[name].value for name in ("spot.time", "spots.count"))
    with style.house_look():
        figure = style.blank(7.5, 7.4 if swept else 5.4)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"{count:.0f} spots of {time:.3g} s under each condition, the same draws in each",
        )
        foot, height = (0.40, 0.49) if swept else (0.12, 0.74)
        _energies(figure.add_axes((0.24, foot, 0.73, height)), spots, names)
        if swept:
            _burn_backs(figure.add_axes((0.11, 0.08, 0.86, 0.20)), swept, answer)
    return figure


def _energies(axes: Axes, spots: Sequence[Mapping[str, Any]], names: Sequence[str]) -> None:
    """A dot for each spot, a bar from the tenth to the ninetieth of 100, a line at the median."""
    for number, name in enumerate(names):
        values = np.array([row["energy"] for row in spots if row["condition"] == name])
        place = len(names) - 1 - number
        shifts = 0.25 * (np.arange(len(values)) % 7 - 3) / 3.0
        axes.plot(values, place + shifts, "o", markersize=3.0, color=style.PENS[1]["color"], alpha=0.6)
        low, middle, high = np.quantile(values, (0.1, 0.5, 0.9))
        axes.plot([low, high], [place, place], color=style.PENS[0]["color"], linewidth=2.0)
        axes.plot([middle, middle], [place - 0.33, place + 0.33], color=style.PENS[2]["color"], linewidth=2.0)
    axes.set_yticks(range(len(names)), reversed(names))
    axes.set_ylim(-0.6, len(names) - 0.4)
    axes.set_xlim(left=0.0)
    axes.grid(visible=False, axis="y")
    axes.set_title("dot: a spot; thick line: 10 to 90 of 100; upright line: the median", loc="left", pad=4.0)
    style.name_axis(axes, horizontal="energy of a spot [J]")


def _burn_backs(axes: Axes, swept: Sequence[Mapping[str, Any]], answer: Answer) -> None:
    """Wire end over the burn-back time, with its spread and the wanted one."""
    times = [1e3 * row["burn_back"] for row in swept]
    low, middle, high = ([1e3 * row[name] for row in swept] for name in ("wire_end_low", "wire_end", "wire_end_high"))
    axes.fill_between(times, low, high, color="#DDDDDD", zorder=0.5, label="5 to 95 of 100")
    axes.plot(times, middle, marker="o", markersize=3.5, label="median", **style.pen(0))
    wanted = answer.numbers.get("burn_back.wire_end")
    if wanted is not None:
        axes.axhline(1e3 * wanted.value, label="wanted", **style.pen(2))
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="wire end [mm]", horizontal="burn-back: power outlasts the feed by [ms]")
    style.explain_lines(axes)
