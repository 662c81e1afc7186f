"""The lead map: which dial brings the output back, over length and section, cold and coiled, and where the window ends.

Rows of kind "lead": ``length`` [m], ``section`` [m2], ``state``, ``dial_needed`` [1] or None where no dial will do,
``volts_lost`` [V] or None, ``output_current`` [A], ``heat_per_length`` [W/m].  Below them torch and return, rows of
kind "weld_lead": ``length``, ``section``, ``volts_in_leads`` [V], ``heat_per_length``.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator

from weldsim.figures import style
from weldsim.frozen import dataclass
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 10.4, 10.2
PANELS = (("cold", "laid out, cores at 20 °C"), ("coiled", "coiled on its drum, cores at 85 °C"))
VERTICALS = ("output, same dial [A]", "heat in the supply lead [W/m]")
WELD = ("in the weld leads [V]", "heat in the weld leads [W/m]")
LOST = "#D9D9D9"  # where no dial will do
END = "#D55E00"  # of the good window
HALF_WINDOW = 1.0  # [V]
KEPT = 0.9  # of the current, where the amps decide
LEVELS = 12
FINE = 240  # lengths and sections of the map
SEEN = 0.002  # of a map: a smaller corner cannot be seen, and is not explained
WELD_ROOM = 0.25  # of the height, below all else: that of the figures of the weld leads


@dataclass(frozen=True)
class _Page:
    """Where things stand: fractions of the whole height, of which the lowest ``cut`` may be left out."""

    figure: Figure
    cut: float

    def up(self, place: float) -> float:
        """Height of a place in the figure."""
        return (place - self.cut) / (1.0 - self.cut)

    def axes(self, place: tuple[float, float, float, float]) -> Axes:
        """Axes at a place: left, foot, width and height."""
        left, foot, width, height = place
        return self.figure.add_axes((left, self.up(foot), width, height / (1.0 - self.cut)))


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim lead``."""
    rows = [row for row in answer.rows or [] if row["kind"] == "lead"]
    by_dial = any(row["dial_needed"] is not None for row in rows)
    wanted = answer.numbers["wanted.output.current"].value
    weld = [row for row in answer.rows or [] if row["kind"] == "weld_lead"]
    cut = 0.0 if weld else WELD_ROOM
    with style.house_look():
        figure = style.blank(WIDTH, (1.0 - cut) * HEIGHT)
        page = _Page(figure, cut)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"wanted: {wanted:.4g} A, set with the supply plugged in directly",
        )
        image = None
        for number, (state, words) in enumerate(PANELS):
            axes = page.axes((0.07 + 0.43 * number, 0.66, 0.385, 0.25))
            mine = [row for row in rows if row["state"] == state]
            longest = [row for row in answer.rows or [] if row["kind"] == "longest" and row["state"] == state]
            image = _draw_map(axes, mine, longest, by_dial=by_dial, own=_own(answer, state, mine))
            axes.set_title(words, loc="left", pad=3.0)
            style.name_axis(axes, vertical="section of one core [mm²]" if number == 0 else "")
        if image is not None:
            scale = figure.colorbar(image, cax=page.axes((0.905, 0.66, 0.014, 0.25)))
            scale.ax.set_ylabel("dial needed [%]" if by_dial else "output current [A]")
            if not by_dial:
                style.keep_marks_short(scale.ax)
            scale.outline.set_visible(False)
        _explain(page)
        cold, along = [row for row in rows if row["state"] == "cold"], "length, one way, cores at 20 °C [m]"
        _draw_pair(page, cold, 0.345, ("output_current", "heat_per_length"), along, VERTICALS)
        if weld:
            _draw_pair(page, weld, 0.06, ("volts_in_leads", "heat_per_length"), "length, torch plus return [m]", WELD)
        else:
            words = "no usual cable stands for these weld leads: it would take more volts than there are"
            figure.text(0.07, page.up(0.275), words)
    return figure


def _draw_pair(
    page: _Page,
    rows: Sequence[Mapping[str, Any]],
    foot: float,
    names: tuple[str, str],
    horizontal: str,
    verticals: tuple[str, str],
) -> None:
    """Two figures of leads side by side against their length, a line for each section, explained once."""
    left, right = page.axes((0.07, foot, 0.385, 0.21)), page.axes((0.54, foot, 0.345, 0.21))
    for axes, name, vertical in zip((left, right), names, verticals, strict=True):
        _draw_lines(axes, rows, name)
        style.name_axis(axes, vertical=vertical, horizontal=horizontal)
        if axes is right:
            axes.set_ylim(bottom=0.0)
        style.keep_marks_short(axes)
    right.legend(loc="upper left", bbox_to_anchor=(1.01, 1.03), borderaxespad=0.0, handlelength=2.0)


def _own(answer: Answer, state: str, rows: Sequence[Mapping[str, Any]]) -> tuple[float, float] | None:
    """Length and section of the scenario's own lead, in the panel of its state [m, mm2]; none beyond the map."""
    lead = getattr(answer.scenario, "supply_lead", None)
    if lead is None or not lead.length or not lead.section or lead.coiled != (state == "coiled"):
        return None
    lengths, sections = ([row[name] for row in rows] for name in ("length", "section"))
    if lead.length > max(lengths) or not 0.999 * min(sections) < lead.section < 1.001 * max(sections):
        return None
    return lead.length, 1e6 * lead.section


def _draw_map(
    axes: Axes,
    rows: Sequence[Mapping[str, Any]],
    longest: Sequence[Mapping[str, Any]],
    *,
    by_dial: bool,
    own: tuple[float, float] | None,
) -> QuadContourSet | None:
    """Dial needed as colour, grey where none will do, the end of the window as a line, the own lead as a cross."""
    lengths, sections = (sorted({row[name] for row in rows}) for name in ("length", "section"))
    axes.set_yscale("log")
    marks = [1e6 * one for one in sections]
    axes.yaxis.set_major_locator(FixedLocator(marks))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.set_yticks(marks, labels=[f"{mark:.3g}" for mark in marks])
    style.name_axis(axes, horizontal="length, one way [m]")
    if len(sections) < 2:
        return None
    along, up = np.linspace(lengths[0], lengths[-1], FINE), np.geomspace(marks[0], marks[-1], FINE)
    grid = _grid(rows, along, up, "dial_needed" if by_dial else "output_current") * (100.0 if by_dial else 1.0)
    image = axes.contourf(along, up, grid, levels=_levels(rows, by_dial), cmap="cividis_r", extend="neither")
    if by_dial:
        _grey_out(axes, longest, (lengths[-1], marks[-1]))
    name, level = _window(rows)
    there = _grid(rows, along, up, name)
    if SEEN < (there > level).mean() < 1.0 - SEEN:
        axes.contour(along, up, there, levels=[level], colors=END, linewidths=2.0, zorder=3.0)
        ends = "1 V short" if name == "volts_lost" else f"{100.0 * KEPT:.0f} % of the current"
        axes.plot([], [], color=END, linewidth=2.0, label=f"same dial: end of the good window ({ends})")
    if own is not None:
        cross: dict[str, Any] = {"color": "black", "markersize": 9.0, "markeredgewidth": 2.2, "zorder": 5.0}
        axes.plot(*own, "x", clip_on=False, label="the scenario's lead", **cross)
    axes.set_xlim(lengths[0], lengths[-1])
    axes.set_ylim(marks[0], marks[-1])
    axes.grid(visible=False)
    return image


def _window(rows: Sequence[Mapping[str, Any]]) -> tuple[str, float]:
    """Which figure ends the good window, and where: volts that are missing, else 90 % of the amps of a short lead."""
    if all(row["volts_lost"] is not None for row in rows):
        return "volts_lost", HALF_WINDOW
    return "output_current", KEPT * max(row["output_current"] for row in rows)


def _grey_out(axes: Axes, longest: Sequence[Mapping[str, Any]], ends: tuple[float, float]) -> None:
    """Grey from the longest lead of each section that any dial makes good; between sections in proportion to them."""
    known = sorted((1e6 * row["section"], row["reach"]) for row in longest if row.get("reach") is not None)
    if not known:
        return
    sections = np.geomspace(known[0][0], ends[1], 200)
    given, longest_of = np.array(known, dtype=float).T
    reach = np.interp(sections, given, longest_of)
    if np.maximum(1.0 - reach / ends[0], 0.0).mean() > SEEN:
        axes.fill_betweenx(
            sections,
            np.minimum(reach, ends[0]),
            ends[0],
            color=LOST,
            linewidth=0.0,
            zorder=2.0,
            label="no dial gives it",
        )


def _levels(rows: Sequence[Mapping[str, Any]], by_dial: bool) -> np.ndarray:
    """Steps of the colours: 5 % of the dial, or round amperes."""
    if by_dial:
        needed = [100.0 * row["dial_needed"] for row in rows if row["dial_needed"] is not None]
        low = 5.0 * np.floor(min(needed, default=0.0) / 5.0)
        return np.arange(low, 100.1, 5.0)
    amps = [row["output_current"] for row in rows]
    round_steps = MaxNLocator(nbins=LEVELS, steps=[1, 2, 2.5, 5, 10])
    least, most = min(*amps, (1.0 - style.LEAST_SPAN) * max(amps)), max(*amps, 1e-9)
    return np.asarray(round_steps.tick_values(least, most))


def _grid(rows: Sequence[Mapping[str, Any]], lengths: np.ndarray, marks: np.ndarray, name: str) -> np.ndarray:
    """One figure over lengths [m] and sections [mm2], between its rows by the lead's resistance, which alone decides.

    Beyond the last row that has one it keeps its value; not a number where no row has one.
    """
    known = sorted((row["resistance"], row[name]) for row in rows if row[name] is not None)
    if not known:
        return np.full((len(marks), len(lengths)), np.nan)
    per_metre = next(row["resistance"] * 1e6 * row["section"] / row["length"] for row in rows if row["length"] > 0.0)
    ohms = per_metre * lengths[None, :] / marks[:, None]
    along, values = np.array(known, dtype=float).T
    return np.interp(ohms, along, values)


def _explain(page: _Page) -> None:
    """The key of both maps, in the gap below them: what occurs in either."""
    handles: dict[str, Artist] = {}
    for axes in page.figure.axes[: len(PANELS)]:
        found, labels = axes.get_legend_handles_labels()
        handles |= dict(zip(labels, found, strict=True))
    if handles:
        page.figure.legend(
            list(handles.values()),
            list(handles),
            loc="upper left",
            bbox_to_anchor=(0.06, page.up(0.615)),
            ncols=3,
            columnspacing=2.0,
        )


def _draw_lines(axes: Axes, rows: Sequence[Mapping[str, Any]], name: str) -> None:
    """One figure against length for every section."""
    for number, section in enumerate(sorted({row["section"] for row in rows})):
        along = [row for row in rows if row["section"] == section]
        axes.plot(
            [row["length"] for row in along],
            [row[name] for row in along],
            label=f"{1e6 * section:.3g} mm²",
            **style.pen(number),
        )
    axes.set_xlim(left=0.0)
