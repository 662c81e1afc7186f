"""The picture of a strike study: how soon the trials struck, case beside case, and a typical strike and failure."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.runs.wire_places import TRIAL_LENGTH
from weldsim.runs.wire_runs import CONDITIONS
from weldsim.studies.strike import StrikeAnswer
from weldsim.studies.strike_boost import BARE
from weldsim.studies.strike_traces import StrikeTrace

NAMES = {
    "with_boost": "with the boost",
    "without_boost": "without the boost",
    BARE: "without boost and diode",
    "trials_struck": "as it is",
}
BINS = np.linspace(0.0, TRIAL_LENGTH, 16)
WIDTH, LEFT, RIGHT = 8.2, 0.75, 7.55  # [in]
MOST_TRACES = 3
SHOWN = 0.16  # [s] of a trace, at most
HEIGHTS = (0.98, 0.855, 0.73, 0.605)  # of names of moments, of the panel
LETTER = 0.0085  # width of a letter of these, of the panel
AGAIN = 0.005  # of the width: moments of one kind so close are one
LONGEST = "stubs: longest contact"
PLAIN = ("first touch", "contact parts", "arc lost", "next touch", "stable arc begins", LONGEST)  # moments worth a line


def draw(answer: StrikeAnswer) -> Figure:
    """The picture of ``weldsim strike``."""
    rows: Sequence[Mapping[str, Any]] = answer.rows or []
    trials = [row for row in rows if row["kind"] == "trial"]
    settings = [row for row in rows if row["kind"] == "setting"]
    cases = list(dict.fromkeys(row["case"] for row in trials))
    traces = _chosen(answer.traces)
    heights = [1.9, *([2.1] if settings else []), *([1.95] * len(traces))]
    with style.house_look():
        figure = style.blank(WIDTH, 0.55 + sum(heights) + 0.05)
        told = ", ".join(f"{NAMES.get(case, case)} {sum(row['struck'] for row in trials if row['case'] == case)} of "
                         f"{sum(row['case'] == case for row in trials)} struck" for case in cases)  # fmt: skip
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=told)
        panels = _panels(figure, heights)
        _histogram(panels[0], trials, cases)
        if settings:
            _over_dial(panels[1], settings)
        for axes, trace in zip(panels[len(panels) - len(traces) :], traces, strict=True):
            _trace(axes, trace)
    return figure


def _chosen(traces: Sequence[StrikeTrace]) -> list[StrikeTrace]:
    """One strike of each case and one failure, at most three."""
    struck = [trace for trace in traces if trace.trial.struck]
    failed = [trace for trace in traces if not trace.trial.struck]
    return [*struck[: MOST_TRACES - bool(failed)], *failed[-1:]]


def _panels(figure: Figure, heights: Sequence[float]) -> list[Axes]:
    """Axes one above the other, heights [in] with the room for their labels and key."""
    whole = float(figure.get_size_inches()[1])
    foot, panels = whole - 0.55, []
    for height in heights:
        foot -= height
        axes = figure.add_axes((LEFT / WIDTH, (foot + 0.5) / whole, (RIGHT - LEFT) / WIDTH, (height - 0.8) / whole))
        panels.append(axes)
    return panels


def _histogram(axes: Axes, trials: Sequence[Mapping[str, Any]], cases: Sequence[str]) -> None:
    """Trials by the time to the stable arc, bars of the cases side by side; those that failed stand at the right."""
    step = float(BINS[1] - BINS[0])
    width = 0.8 * step / len(cases)
    failed_at = TRIAL_LENGTH + step
    for number, case in enumerate(cases):
        mine = [row for row in trials if row["case"] == case]
        counts, _ = np.histogram([row["time_to_arc"] for row in mine if row["struck"]], BINS)
        shift = 0.1 * step + (number + 0.5) * width
        bars = [*counts, sum(not row["struck"] for row in mine)]
        color = style.pen(number)["color"]
        hatch = ("", "////", "....")[number % 3]
        axes.bar(
            [*(BINS[:-1] + shift), failed_at - 0.5 * step + shift],
            bars,
            width,
            label=NAMES.get(case, case),
            facecolor="white" if hatch else color,
            edgecolor=color,
            hatch=hatch,
            linewidth=0.8,
        )
    axes.axvline(TRIAL_LENGTH, **style.HELPER_LINE)
    axes.set_xlim(0.0, failed_at + 0.7 * step)
    axes.set_xticks(
        [0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, failed_at], ["0", "0.25", "0.5", "0.75", "1", "1.25", "1.5", "never"]
    )
    style.name_axis(axes, vertical="trials", horizontal="time from the trigger to the stable arc [s]")
    style.explain_lines(axes)


def _over_dial(axes: Axes, settings: Sequence[Mapping[str, Any]]) -> None:
    """Share struck over the dial; a colour for each feed, solid with the boost and dotted without it."""
    feeds = sorted({row["feed"] for row in settings})
    cases = [case for case in ("with_boost", "without_boost", "trials_struck") if case in settings[0]]
    for number, feed in enumerate(feeds):
        mine = [row for row in settings if row["feed"] == feed]
        dials = [100.0 * (row["dial"] if row["dial"] is not None else 1.0) for row in mine]
        for place, case in enumerate(cases):
            axes.plot(
                dials,
                [100.0 * row[case] / row["trials"] for row in mine],
                color=style.pen(number)["color"],
                linestyle=("-", ":")[place],
                marker=("o", "x")[place],
                markersize=4,
                label=f"{60.0 * feed:.2g} m/min, {NAMES[case]}",
            )
    axes.set_ylim(-4.0, 104.0)
    style.name_axis(axes, vertical="struck [%]", horizontal="dial [%]")
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.1, columnspacing=1.2, fontsize=7)


def _trace(axes: Axes, trace: StrikeTrace) -> None:
    """Current and voltage at the wire, with the moments named."""
    begin = _shown_from(trace)
    shown = (trace.time >= begin) & (trace.time <= begin + SHOWN)
    time = 1e3 * trace.time[shown]
    axes.plot(time, trace.signals["output.current"][shown], label="output current [A]", **style.pen(0))
    volts = axes.twinx()
    volts.plot(time, trace.signals["output.voltage"][shown], label="output voltage [V]", **style.pen(2))
    volts.spines["right"].set_visible(True)
    volts.grid(visible=False)
    volts.set_ylim(0.0, 1.75 * float(np.max(trace.signals["output.voltage"][shown])) + 1.0)
    volts.set_ylabel("voltage [V]")
    axes.set_ylim(0.0, 1.75 * float(np.max(trace.signals["output.current"][shown])) + 1.0)
    axes.set_xlim(time[0], time[-1])
    _name_moments(axes, sorted([*trace.moments, *_stub(trace)]), (time[0], time[-1]))
    style.name_axis(axes, vertical="current [A]", horizontal="time from the trigger [ms]")
    lines = [*axes.get_lines()[:1], *volts.get_lines()[:1]]
    axes.legend(lines, ["current", "voltage"], loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=2, borderaxespad=0.1)
    axes.set_title(trace.name, loc="left", fontsize=8.5, pad=4)


def _shown_from(trace: StrikeTrace) -> float:
    """Where the picture of a trace begins [s]: with what made it end as it did."""
    first = next((time for time, what in trace.moments if what == "first touch"), 0.0)
    begin = max(0.0, first - 0.01)
    if trace.trial.struck:  # the end, where the arc becomes stable
        return max(begin, trace.trial.time_to_arc - 0.6 * SHOWN)
    if trace.trial.reason == "stubbing":
        latest = max(begin, float(trace.time[-1]) - SHOWN)
        return min(latest, max([begin, *(time - 0.3 * SHOWN for time, _ in _stub(trace))]))
    # where the first arc is lost
    return max(begin, next((time for time, what in trace.moments if what == "arc lost"), begin) - 0.3 * SHOWN)


def _stub(trace: StrikeTrace) -> list[tuple[float, str]]:
    """The begin of the longest contact of a trial that stubs [s]; nothing of others, and of one without any."""
    if trace.trial.struck or trace.trial.reason != "stubbing":
        return []
    touching = np.concatenate([[False], trace.condition == CONDITIONS.index("touching"), [False]])
    edges = np.flatnonzero(np.diff(touching.astype(int)))
    begins, ends = edges[::2], np.minimum(edges[1::2], len(trace.time) - 1)
    if not len(begins):
        return []
    longest = int(np.argmax(trace.time[ends] - trace.time[begins]))
    return [(float(trace.time[begins[longest]]), LONGEST)]


def _name_moments(axes: Axes, moments: Sequence[tuple[float, str]], span: tuple[float, float]) -> None:
    """A line at each moment, its name at the first height where there is room; where there is none, the line alone.

    Of an arc that is lost and comes back by itself over and over, the first loss.
    """
    free = [span[0]] * len(HEIGHTS)
    last: dict[str, float] = {}
    for seconds, what in moments:
        time = 1e3 * seconds
        if what not in PLAIN or not span[0] <= time <= span[1]:
            continue
        again = time - last.get(what, -math.inf) < AGAIN * (span[1] - span[0])
        last[what] = time
        if again:
            continue
        axes.axvline(time, **style.HELPER_LINE)
        end = time + LETTER * (len(what) + 3) * (span[1] - span[0])
        place = next((k for k, begin in enumerate(free) if begin <= time), None)
        if place is None or end > span[1]:
            continue
        free[place] = end
        axes.text(
            time + 0.006 * (span[1] - span[0]),
            HEIGHTS[place],
            what,
            transform=axes.get_xaxis_transform(),
            fontsize=7.5,
            va="top",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
            zorder=4.0,
        )
