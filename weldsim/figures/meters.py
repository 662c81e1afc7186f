"""What meters show: the waveforms of one setting with each instrument's reading, and how far each is off.

Rows of kind "reading": ``place``, ``instrument``, ``shows``, ``truth`` (in ``unit``), ``off`` [1], ``trusted``; of kind
"fault": ``fault``, under whose name its run stands.  With those it is a picture of the faults: primary and output
current of each over those of the supply with nothing broken, side by side, each on its own scale.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from weldsim.figures import style
from weldsim.runs.run import Run
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 10.0, 7.2
PANELS = (("output.current", "output current [A]"), ("primary.current", "primary current [A]"))
ROW, BETWEEN, TOP, FOOT = 1.15, 0.42, 0.55, 0.55  # [in] of a fault, between two, above and below all
BEHIND: dict[str, Any] = {"color": "#A0A0A0", "linewidth": 2.2}
INSTRUMENTS = ("moving coil", "average-responding", "true rms")


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim meters``."""
    rows = [row for row in answer.rows or () if row["kind"] == "reading"]
    faults = [row["fault"] for row in answer.rows or () if row["kind"] == "fault"]
    if faults:
        return _draw_faults(answer, faults)
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below="two mains periods, settled; lines: what each instrument shows",
        )
        for number, (name, label) in enumerate(PANELS):
            axes = figure.add_axes((0.085 + 0.49 * number, 0.52, 0.40, 0.30))
            _draw_wave(
                axes, answer.runs["window"], name, [row for row in rows if row["place"] == name.replace(".", " ")]
            )
            style.name_axis(axes, vertical=label, horizontal="time [ms]")
        _draw_errors(figure.add_axes((0.30, 0.085, 0.66, 0.33)), rows)
    return figure


def _draw_wave(axes: Axes, run: Run, name: str, rows: Sequence[Mapping[str, Any]]) -> None:
    """One waveform with the readings across it."""
    axes.plot(1e3 * run.time, run[name], **style.pen(0))
    for number, instrument in enumerate(INSTRUMENTS, start=1):
        shown = next((row for row in rows if row["instrument"] == instrument), None)
        if shown is None:
            continue
        axes.axhline(shown["shows"], label=f"{instrument}:\n{shown['shows']:.4g} {shown['unit']}", **style.pen(number))
    axes.set_xlim(1e3 * run.time[0], 1e3 * run.time[-1])
    style.explain_lines(axes)


def _draw_errors(axes: Axes, rows: Sequence[Mapping[str, Any]]) -> None:
    """How far each reading is off, one bar each; hollow where the maker would not stand by it."""
    shown = [row for row in rows if np.isfinite(row["off"])]
    names = [f"{row['place']}, {row['instrument']}" for row in shown]
    places = np.arange(len(shown))[::-1]
    for place, row in zip(places, shown, strict=True):
        off = 100.0 * row["off"]
        axes.barh(place, off, height=0.7, color="#0072B2" if row["trusted"] else "white", edgecolor="#0072B2")
        axes.annotate(
            f"{off:+.0f} %" if abs(off) >= 0.5 else "0 %",
            (max(off, 0.0), place),
            xytext=(3.0, 0.0),
            textcoords="offset points",
            va="center",
            fontsize=7.5,
        )
    axes.set_yticks(places, labels=names, fontsize=7.5)
    axes.axvline(0.0, **style.HELPER_LINE)
    axes.margins(x=0.12)
    axes.grid(visible=False, axis="y")
    style.name_axis(axes, horizontal="reading beside the truth [%] (hollow: not to be trusted)")


def _draw_faults(answer: Answer, faults: Sequence[str]) -> Figure:
    """One line of panels for each fault, the supply with nothing broken in grey behind it."""
    healthy, broken = answer.runs[faults[0]], faults[1:]
    height = TOP + ROW * len(broken) + FOOT
    with style.house_look():
        figure = style.blank(WIDTH, height)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below="two mains periods, settled; grey: nothing broken",
        )
        for number, fault in enumerate(broken):
            foot = (FOOT + ROW * (len(broken) - 1 - number)) / height
            for column, (name, label) in enumerate(PANELS):
                axes = figure.add_axes((0.085 + 0.49 * column, foot, 0.40, (ROW - BETWEEN) / height))
                for run, look in ((healthy, BEHIND), (answer.runs[fault], style.pen(1) | {"linestyle": "-"})):
                    time, wave = _last_periods(run, name, healthy.time[-1] - healthy.time[0])
                    axes.plot(1e3 * time, wave, **look)
                axes.set_xlim(0.0, 1e3 * (healthy.time[-1] - healthy.time[0]))
                axes.set_ylim(bottom=min(0.0, axes.get_ylim()[0]))
                axes.yaxis.set_major_locator(MaxNLocator(nbins=3, min_n_ticks=2))
                last = number == len(broken) - 1
                axes.tick_params(labelbottom=last)
                axes.set_title(f"{fault}: {label}" if column == 0 else label, loc="left", fontsize=8.5)
                if last:
                    style.name_axis(axes, horizontal="time [ms]")
    return figure


def _last_periods(run: Run, name: str, span: float) -> tuple[np.ndarray, np.ndarray]:
    """The end of a run that may be longer than the others, from zero on."""
    first = int(np.searchsorted(run.time, run.time[-1] - span - 1e-9))
    return run.time[first:] - run.time[first], run[name][first:]
