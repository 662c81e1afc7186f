"""The picture of an inrush study.

The map over phase and remanence, the histogram with the breaker's band, three presses with their flux.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.studies.answer import Answer

PRESSES = ("worst", "median", "best")
WIDTH, HEIGHT = 11.0, 7.4


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim inrush``."""
    rows = answer.rows or []
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
        _draw_map(figure, [row for row in rows if row["kind"] == "map"])
        _draw_histogram(
            figure.add_axes((0.07, 0.08, 0.40, 0.34)), answer, [row for row in rows if row["kind"] == "press"]
        )
        _draw_presses(figure, answer)
    return figure


def _below(answer: Answer) -> str:
    numbers = answer.numbers
    count, median, worst = (numbers[name].value for name in ("presses.count", "first_peak.median", "first_peak.worst"))
    text = f"{count:.0f} presses: median {median:.3g} A, worst {worst:.3g} A"
    if "presses.tripped" in numbers:
        text += f", {numbers['presses.tripped'].value:.0f} beyond the middle of the breaker's band"
    return text


def _draw_map(figure: Figure, rows: Sequence[Mapping[str, Any]]) -> None:
    """First peak over phase and remanence as grey levels with their scale."""
    axes = figure.add_axes((0.07, 0.55, 0.34, 0.33))
    phases = sorted({row["phase"] for row in rows})
    kept = sorted({row["remanence"] for row in rows})
    if not rows:
        return
    dense = rows[0].get("flux_density") is not None
    peaks = np.array(
        [row["first_peak"] for row in sorted(rows, key=lambda row: (row["remanence"], row["phase"]))]
    ).reshape(len(kept), len(phases))
    marks = sorted({row["flux_density"] for row in rows}) if dense else kept
    image = axes.pcolormesh([*phases, 360.0], _edges(marks), peaks, cmap="cividis_r", shading="flat")
    axes.grid(visible=False)
    axes.set_xticks([0, 90, 180, 270, 360])
    style.name_axis(
        axes,
        horizontal="phase of the mains at the trigger [°]",
        vertical="flux density left [T]" if dense else "flux linkage left [V s]",
    )
    scale = figure.colorbar(image, cax=figure.add_axes((0.42, 0.55, 0.012, 0.33)))
    scale.set_label("first peak, empty bank [A]")
    scale.outline.set_visible(False)


def _edges(marks: Sequence[float]) -> np.ndarray:
    """Edges of cells whose middles are the marks."""
    middles = np.asarray(marks, dtype=float)
    inner = 0.5 * (middles[1:] + middles[:-1])
    return np.concatenate(([2.0 * middles[0] - inner[0]], inner, [2.0 * middles[-1] - inner[-1]]))


def _draw_histogram(axes: Axes, answer: Answer, rows: Sequence[Mapping[str, Any]]) -> None:
    """How many of 100 presses reach which peak, with the band of the breaker as a grey field."""
    peaks = np.array([row["largest_peak"] for row in rows])
    breaker: Breaker | None = getattr(answer.scenario, "breaker", None)
    band = instantaneous_band(breaker) if breaker is not None else None
    top = max(float(peaks.max(initial=1.0)), math.sqrt(2.0) * band[1] if band else 0.0) * 1.05
    axes.hist(
        peaks,
        bins=list(np.linspace(0.0, top, 45)),
        weights=np.full(len(peaks), 100.0 / max(len(peaks), 1)),
        color=style.PENS[1]["color"],
    )
    if band is not None and breaker is not None:
        low, high = (math.sqrt(2.0) * edge for edge in band)
        axes.axvspan(low, high, color="#DDDDDD", zorder=0.2)
        axes.axvline(0.5 * (low + high), **style.HELPER_LINE)
        name = f"{breaker.curve}{breaker.current:g}"
        axes.text(
            0.5 * (low + high),
            0.97,
            f"band of the {name} breaker, its middle as a line",
            transform=axes.get_xaxis_transform(),
            ha="center",
            va="top",
            fontsize=8.5,
        )
        axes.set_ylim(top=axes.get_ylim()[1] * 1.2)
    axes.set_xlim(0.0, top)
    style.name_axis(axes, horizontal="largest half-cycle peak of a press [A]", vertical="of 100 presses")


def _draw_presses(figure: Figure, answer: Answer) -> None:
    """Primary current of the worst, the median and the best press, each with the core's flux under it."""
    names = [name for name in PRESSES if name in answer.runs]
    for k, name in enumerate(names):
        run = answer.runs[name]
        foot = 0.68 - k * 0.30
        above = figure.add_axes((0.565, foot + 0.095, 0.42, 0.115))
        below = figure.add_axes((0.565, foot, 0.42, 0.085))
        above.plot(1e3 * run.time, run["primary.current"], **style.pen(0))
        above.set_title(f"{name} press", loc="left", pad=2.0)
        above.tick_params(labelbottom=False)
        style.name_axis(above, vertical="primary [A]")
        below.plot(1e3 * run.time, run["core.flux_linkage"], **style.pen(2))
        style.name_axis(
            below, vertical="flux [V s]", horizontal="time from the trigger [ms]" if k == len(names) - 1 else ""
        )
        for axes in (above, below):
            axes.set_xlim(0.0, 1e3 * run.time[-1])
            axes.axhline(0.0, **style.HELPER_LINE)
            axes.yaxis.set_label_coords(-0.10, 0.5)
