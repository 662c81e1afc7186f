"""The picture of a sequence: what is switched when, the feed, the current, and where the wire's end is."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.figures.waveforms import thinned
from weldsim.runs.run import Run
from weldsim.studies.answer import Answer
from weldsim.studies.sequence import SWITCHED

HELD = "trigger"  # it may be held long after the wire has come to rest


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim sequence``."""
    run = answer.runs["typical"]
    rows = answer.rows or []
    with style.house_look():
        figure = style.blank(7.5, 8.6)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below="trigger sequence; the trial whose wire end is the median, and wire ends over the burn-back time",
        )
        axes = [figure.add_axes((0.11, foot, 0.86, 0.13)) for foot in (0.79, 0.625, 0.46, 0.295)]
        spans = [row for row in rows if row["kind"] == "span"]
        end = max([float(run.time[-1]), *(row["end"] for row in spans if row["switched"] != HELD)])
        _switched(axes[0], spans, end)
        _line(axes[1], run, "feed", scale=60.0, label="feed [m/min]")
        _line(axes[2], run, "output.current", scale=1.0, label="current [A]")
        _line(axes[3], run, "wire_end", scale=1e3, label="wire end [mm]")
        for one in axes:
            one.set_xlim(0.0, end)
        style.name_axis(axes[3], horizontal="time from the first press [s]")
        _burn_back(figure.add_axes((0.11, 0.065, 0.86, 0.15)), rows)
    return figure


def _switched(axes: Axes, rows: list[dict], last: float) -> None:
    """A bar for each span; of one that goes on behind the last moment shown [s] until when it does."""
    for number, name in enumerate(reversed(SWITCHED)):
        spans = [(row["begin"], row["end"] - row["begin"]) for row in rows if row["switched"] == name]
        axes.broken_barh(spans, (number - 0.32, 0.64), color=style.PENS[len(SWITCHED) - number]["color"])
        ends = [begin + length for begin, length in spans if begin < last < begin + length]
        if ends:
            axes.text(0.99 * last, number, f"until {ends[0]:.3g} s", ha="right", va="center", color="white")
    axes.set_yticks(range(len(SWITCHED)), reversed(SWITCHED))
    axes.set_ylim(-0.6, len(SWITCHED) - 0.4)
    axes.grid(visible=False, axis="y")


def _line(axes: Axes, run: Run, name: str, *, scale: float, label: str) -> None:
    """One waveform."""
    time, values = thinned(run.time, scale * run[name])
    axes.plot(time, values, **style.pen(0))
    axes.set_ylim(bottom=min(0.0, float(np.min(values))))
    axes.yaxis.set_label_coords(-0.06, 0.5)
    style.name_axis(axes, vertical=label)


def _burn_back(axes: Axes, rows: list[dict]) -> None:
    """Median wire end with its spread over the burn-back time."""
    swept = [row for row in rows if row["kind"] == "burn_back"]
    times = [1e3 * row["burn_back"] for row in swept]
    low, middle, high = ([1e3 * row[name] for row in swept] for name in ("wire_end_low", "wire_end", "wire_end_high"))
    axes.fill_between(times, low, high, color="#DDDDDD", zorder=0.5)
    axes.plot(times, middle, marker="o", markersize=3.5, **style.pen(0))
    axes.set_title("median, and 5 to 95 of 100 in grey", loc="left", pad=3.0)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="wire end [mm]", horizontal="burn-back: power outlasts the feed by [ms]")
