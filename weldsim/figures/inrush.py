"""The picture of an inrush study.

The map over phase and remanence, the histogram with the breaker's band, three presses with their flux, the remedies.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, NullFormatter

from weldsim.figures import style
from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import fuse_window
from weldsim.parts.protection import instantaneous_band
from weldsim.studies.answer import Answer, counted
from weldsim.studies.breaker_words import called
from weldsim.studies.inrush_verdicts import LATER

PRESSES = ("worst", "median", "best")
WIDTH, HEIGHT = 11.0, 7.4  # [in] without the remedies
LINE, FOOT = 0.175, 0.95  # [in] of each remedy; above and below them
GREY = "#DDDDDD"
ALIKE = 0.05  # of the largest peak: maps that differ by less are shaded from 0 A on, not to look like more


@dataclass(frozen=True)
class _Page:
    """Where things stand: inches from the bottom of the upper part, which lies above the remedies."""

    figure: Figure
    below: float  # [in] taken by the remedies

    def axes(self, place: tuple[float, float, float, float]) -> Axes:
        """Axes in the upper part; left, bottom, width and height as fractions of it."""
        left, bottom, width, height = place
        total = self.below + HEIGHT
        return self.figure.add_axes((left, (self.below + bottom * HEIGHT) / total, width, height * HEIGHT / total))


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim inrush``."""
    rows = answer.rows or []
    remedies = [row for row in rows if row["kind"] == "remedy"]
    with style.house_look():
        below = FOOT + LINE * len(remedies) if remedies else 0.0
        figure = style.blank(WIDTH, HEIGHT + below)
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
        page = _Page(figure, below)
        _draw_maps(page, [row for row in rows if row["kind"] == "map"])
        _draw_histogram(page.axes((0.07, 0.08, 0.40, 0.33)), answer, [row for row in rows if row["kind"] == "press"])
        _draw_presses(page, answer)
        if remedies:
            total = HEIGHT + below
            axes = figure.add_axes((0.36, 0.5 / total, 0.47, LINE * len(remedies) / total))
            _draw_remedies(axes, remedies)
    return figure


def _below(answer: Answer) -> str:
    numbers = answer.numbers
    count, median, worst = (numbers[name].value for name in ("presses.count", "first_peak.median", "first_peak.worst"))
    text = f"{counted(round(count), 'press', 'presses')}: median {median:.3g} A, worst {worst:.3g} A"
    largest = max(row["largest_peak"] for row in answer.rows or [] if row["kind"] == "press")
    if largest > LATER * worst:
        text += f" at first, later up to {largest:.3g} A"
    breaker = getattr(answer.scenario, "breaker", None)
    if "presses.tripped" in numbers and breaker is not None:
        what = "fuse's window" if instantaneous_band(breaker) is None else "breaker's band"
        text += f", {numbers['presses.tripped'].value:.0f} beyond the middle of the {what}"
    return text


def _draw_maps(page: _Page, rows: Sequence[Mapping[str, Any]]) -> None:
    """First peak over phase and remanence: with the bank empty and charged side by side, in the same shades."""
    banks = list(dict.fromkeys(row.get("bank", "empty") for row in rows))
    peaks = [row["first_peak"] for row in rows] or [0.0, 1.0]
    shades = (min(peaks) if max(peaks) - min(peaks) > ALIKE * max(peaks) else 0.0, max(peaks))
    width = 0.34 if len(banks) == 1 else 0.16
    image = None
    for k, bank in enumerate(banks):
        axes = page.axes((0.07 + k * 0.18, 0.54, width, 0.33))
        image = _draw_map(axes, [row for row in rows if row.get("bank", "empty") == bank], shades)
        if k:
            axes.tick_params(labelleft=False)
            axes.set_ylabel("")
        if len(banks) > 1:
            axes.set_xticks([0, 180, 360])
            axes.set_title(f"bank {bank}", loc="left", pad=3.0)
    if image is not None:
        scale = page.figure.colorbar(image, cax=page.axes((0.42, 0.54, 0.012, 0.33)))
        scale.set_label("first peak [A]")
        scale.outline.set_visible(False)


def _draw_map(axes: Axes, rows: Sequence[Mapping[str, Any]], shades: tuple[float, float]) -> QuadMesh:
    """One map as shades of colour from the least to the largest peak of all."""
    phases = sorted({row["phase"] for row in rows})
    kept = sorted({row["remanence"] for row in rows})
    dense = rows[0].get("flux_density") is not None
    peaks = np.array(
        [row["first_peak"] for row in sorted(rows, key=lambda row: (row["remanence"], row["phase"]))]
    ).reshape(len(kept), len(phases))
    marks = [row["flux_density"] if dense else row["remanence"] for row in rows if row["phase"] == phases[0]]
    image = axes.pcolormesh(
        [*phases, 360.0], _edges(sorted(marks)), peaks, cmap="cividis_r", shading="flat", vmin=shades[0], vmax=shades[1]
    )
    axes.grid(visible=False)
    axes.set_xticks([0, 90, 180, 270, 360])
    style.name_axis(
        axes,
        horizontal="phase at the trigger [°]",
        vertical="flux density left [T]" if dense else "flux linkage left [V s]",
    )
    return image


def _edges(marks: Sequence[float]) -> np.ndarray:
    """Edges of cells whose middles are the marks."""
    middles = np.asarray(marks, dtype=float)
    inner = 0.5 * (middles[1:] + middles[:-1])
    return np.concatenate(([2.0 * middles[0] - inner[0]], inner, [2.0 * middles[-1] - inner[-1]]))


def _draw_histogram(axes: Axes, answer: Answer, rows: Sequence[Mapping[str, Any]]) -> None:
    """How many of 100 presses reach which peak, with the band of the breaker as a grey field; of a fuse which I2t."""
    breaker = getattr(answer.scenario, "breaker", None)
    band = instantaneous_band(breaker) if breaker is not None else None
    if breaker is not None and band is None:
        values = np.array([row["i2t_of_60_ms"] for row in rows])
        low, high = fuse_window(breaker.current)
        middle, what = math.sqrt(low * high), f"window in which a gG {breaker.current:g} A fuse melts"
        least = min(float(values[values > 0.0].min(initial=low)), low)
        bins = np.geomspace(0.8 * least, 1.25 * max(float(values.max(initial=low)), high), 45)
        axes.set_xscale("log")
        axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axes.xaxis.set_major_formatter("{x:g}")
        axes.xaxis.set_minor_formatter(NullFormatter())
        label = "I2t of a press's worst 60 ms [A²s]"
    else:
        values = np.array([row["largest_peak"] for row in rows])
        low, high = (math.sqrt(2.0) * edge for edge in band or (0.0, 0.0))
        middle = 0.5 * (low + high)
        what = f"band of the {called(breaker)}" if breaker is not None else ""
        bins = np.linspace(0.0, 1.05 * max(float(values.max(initial=1.0)), high), 45)
        label = "largest half-cycle peak of a press [A]"
    axes.hist(
        values, bins=list(bins), weights=np.full(len(values), 100.0 / max(len(values), 1)), color=style.PENS[1]["color"]
    )
    if what:
        axes.axvspan(low, high, color=GREY, zorder=0.2)
        axes.axvline(middle, **style.HELPER_LINE)
        axes.set_title(f"grey: {what}; line: its middle", loc="left", pad=3.0)
    axes.set_xlim(bins[0], bins[-1])
    style.name_axis(axes, horizontal=label, vertical="of 100 presses")


def _draw_presses(page: _Page, answer: Answer) -> None:
    """Primary current of the worst, the median and the best press, each with the core's flux under it."""
    names = [name for name in PRESSES if name in answer.runs]
    for k, name in enumerate(names):
        run = answer.runs[name]
        foot = 0.68 - k * 0.30
        above = page.axes((0.565, foot + 0.095, 0.42, 0.115))
        below = page.axes((0.565, foot, 0.42, 0.085))
        above.plot(1e3 * run.time, run["primary.current"], **style.pen(0))
        above.set_title(f"{name} press", loc="left", pad=2.0)
        above.tick_params(labelbottom=False)
        style.name_axis(above, vertical="primary [A]")
        lines = [
            below.plot(1e3 * run.time, run[f"{core}.flux_linkage"], label=label, **style.pen(pen))[0]
            for pen, (core, label) in enumerate((("core", "first core"), ("second_core", "second core")), start=2)
            if f"{core}.flux_linkage" in run.signals
        ]
        if len(lines) > 1 and not k:
            above.legend(handles=lines, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=2, borderaxespad=0.1)
        style.name_axis(
            below, vertical="flux [V s]", horizontal="time from the trigger [ms]" if k == len(names) - 1 else ""
        )
        for axes in (above, below):
            axes.set_xlim(0.0, 1e3 * run.time[-1])
            axes.axhline(0.0, **style.HELPER_LINE)
            axes.yaxis.set_label_coords(-0.10, 0.5)


def _draw_remedies(axes: Axes, rows: Sequence[Mapping[str, Any]]) -> None:
    """Each remedy as a bar to the peak that 90 of 100 presses keep below, a mark at the worst, and its trips."""
    places = np.arange(len(rows))
    axes.barh(places, [row["p90_largest"] for row in rows], height=0.62, color=style.PENS[1]["color"], zorder=2.0)
    axes.plot([row["largest"] for row in rows], places, "|", color="black", markersize=8.0, zorder=3.0)
    axes.plot(
        [row["median"] for row in rows], places, "o", color="white", markersize=3.2, markeredgewidth=0.0, zorder=3
    )
    axes.axvline(rows[0]["p90_largest"], **style.HELPER_LINE)
    axes.set_yticks(places, [row["name"] for row in rows], fontsize=8.0)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(left=0.0)
    axes.grid(visible=False, axis="y")
    for place, row in enumerate(rows):
        if "tripped" in row:
            share = (
                f"{100.0 * row['tripped'] / row['count']:.0f} ({row['tripped_from']:.0f} to {row['tripped_to']:.0f})"
            )
            axes.text(1.03, place, share, transform=axes.get_yaxis_transform(), va="center", fontsize=8.0)
    if any("tripped" in row for row in rows):
        axes.text(1.03, -1.1, "trips of 100 (95 %)", transform=axes.get_yaxis_transform(), va="bottom", fontsize=8.0)
    axes.set_title(
        "bar: 90 of 100 presses have no larger peak; tick: worst; dot: median of the first", loc="left", pad=4.0
    )
    style.name_axis(axes, horizontal="primary current [A], until 60 ms after the remedy has ended")
