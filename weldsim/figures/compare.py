"""A capture beside the simulation: both over a few cycles, what remains, and what each cause would leave.

Runs "capture", "simulated" and, where a cause was looked for, "likeliest", all on the clock of the mains; rows of kind
"cause" hold ``cause``, ``takes`` and ``remains`` [1].
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.figures.waveforms import thinned
from weldsim.runs.run import Run
from weldsim.studies.answer import Answer

WIDTH = 10.0
CYCLES = 3.0  # of the mains that are drawn
TOP, OVERLAY, REMAINDER, BAR, BETWEEN, FOOT = 0.85, 2.6, 1.5, 0.24, 0.55, 0.55  # [in]
MEASURED: dict[str, Any] = {"color": "#A0A0A0", "linewidth": 2.6}
LEFT, RIGHT = 0.09, 0.98  # of the width


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim compare``."""
    causes = [row for row in answer.rows or () if row["kind"] == "cause"]
    bars = FOOT + BAR * (len(causes) + 2) if causes else 0.0
    height = TOP + OVERLAY + BETWEEN + REMAINDER + FOOT + bars
    with style.house_look():
        figure = style.blank(WIDTH, height)
        left = answer.numbers["remainder.share"].value
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"measured and simulated; as written {100.0 * left:.3g} % of the measured rms remain",
        )
        foot = height - TOP - OVERLAY
        overlay = figure.add_axes((LEFT, foot / height, RIGHT - LEFT, OVERLAY / height))
        foot -= BETWEEN + REMAINDER
        remainder = figure.add_axes((LEFT, foot / height, RIGHT - LEFT, REMAINDER / height))
        _draw_traces(overlay, remainder, answer.runs, causes)
        if causes:
            room = (0.40, FOOT / height, RIGHT - 0.45, BAR * (len(causes) + 1) / height)
            _draw_causes(figure.add_axes(room), answer, causes)
    return figure


def _draw_traces(overlay: Axes, remainder: Axes, runs: Mapping[str, Run], causes: Sequence[Mapping[str, Any]]) -> None:
    """Capture, simulation and likeliest cause; below, what they leave of it."""
    (name,) = runs["simulated"].signals
    unit, period = runs["capture"].unit(name), _period(runs["simulated"])
    time, values = _first_cycles(runs["capture"], name, CYCLES * period)
    overlay.plot(*_shown(time, values), label="measured", **MEASURED)
    lines = [("simulated", "as written", 0)]
    if "likeliest" in runs:
        lines.append(("likeliest", f"with {causes[0]['cause']} {causes[0]['takes']}".strip(), 2))
    for run, words, pen in lines:
        wave = _at(runs[run], name, time, period)
        overlay.plot(*_shown(time, wave), label=words, **style.pen(pen))
        remainder.plot(*_shown(time, values - wave), label=words, **style.pen(pen))
    for axes in (overlay, remainder):
        axes.axhline(0.0, zorder=1.5, **style.HELPER_LINE)
        axes.set_xlim(1e3 * time[0], 1e3 * time[-1])
        style.explain_lines(axes)
    overlay.tick_params(labelbottom=False)
    style.name_axis(overlay, vertical=f"{name.replace('.', ' ').replace('_', ' ')} [{unit}]")
    style.name_axis(
        remainder, vertical=f"remainder [{unit}]", horizontal="time from a rising zero crossing of the mains [ms]"
    )


def _period(run: Run) -> float:
    """The mains period of a run of one, sampled at the middle of even bins [s]."""
    return float(run.time[0] + run.time[-1])


def _first_cycles(run: Run, name: str, span: float) -> tuple[np.ndarray, np.ndarray]:
    """The beginning of a capture."""
    last = int(np.searchsorted(run.time, run.time[0] + span, side="right"))
    return run.time[:last], run[name][:last]


def _at(run: Run, name: str, time: np.ndarray, period: float) -> np.ndarray:
    """A waveform of one period at other times."""
    return np.interp(time, run.time, run[name], period=period)


def _shown(time: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """In ms, and no finer than paper."""
    time, values = thinned(time, values)
    return 1e3 * time, values


def _draw_causes(axes: Axes, answer: Answer, causes: Sequence[Mapping[str, Any]]) -> None:
    """One bar for each cause, the supply as written on top; a line where the noise of the capture ends."""
    written = answer.numbers["remainder.share"].value
    names = ["as written", *(f"{row['cause']} {row['takes']}".strip() for row in causes)]
    left = 100.0 * np.array([written, *(row["remains"] for row in causes)])
    places = np.arange(len(names))[::-1]
    axes.barh(places, left, height=0.65, color=["#767676", "#D55E00", *["#0072B2"] * (len(causes) - 1)])
    for place, one in zip(places, left, strict=True):
        axes.annotate(
            f"{one:.2g} %" if one < 100.0 else f"{one:.0f} %",
            (one, place),
            xytext=(3.0, 0.0),
            textcoords="offset points",
            va="center",
            fontsize=7.5,
        )
    axes.set_yticks(places, labels=names, fontsize=8.0)
    axes.axvline(100.0 * answer.numbers["capture.noise.share"].value, **style.HELPER_LINE)
    axes.margins(x=0.1, y=0.02)
    axes.grid(visible=False, axis="y")
    style.name_axis(axes, horizontal="remains, share of the measured rms [%] (line: noise from cycle to cycle)")
