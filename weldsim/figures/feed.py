"""The picture of a feed study: starts under three controls, how far each is off, and where the volts go."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer
from weldsim.studies.feed_verdicts import CONTROLS

SHOWN = 0.4  # [s] of each start


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim feed``."""
    rows = [row for row in answer.rows or [] if row["kind"] == "start"]
    wanted = 60.0 * answer.numbers["feed.wanted"].value
    with style.house_look():
        figure = style.blank(7.5, 7.6)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=f"asked for {wanted:.3g} m/min; knob set at the rated mains and the load as written",
        )
        feed, volts = figure.add_axes((0.11, 0.70, 0.86, 0.20)), figure.add_axes((0.11, 0.42, 0.86, 0.18))
        off = figure.add_axes((0.11, 0.08, 0.86, 0.23))
        _starts(feed, answer, wanted)
        _volts(volts, answer)
        _deviations(off, rows)
    return figure


def _starts(axes: Axes, answer: Answer, wanted: float) -> None:
    """Feed through a start, one line for each control."""
    for number, control in enumerate(CONTROLS):
        run = answer.runs[control]
        part = run.time <= SHOWN
        axes.plot(1e3 * run.time[part], 60.0 * run["feed"][part], label=control, **style.pen(number))
    axes.axhline(wanted, **style.HELPER_LINE)
    axes.set_xlim(0.0, 1e3 * SHOWN)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="feed [m/min]", horizontal="time from the start of the motor [ms]")
    style.explain_lines(axes)


def _volts(axes: Axes, answer: Answer) -> None:
    """Capacitor and motor of the scenario's own control."""
    supply = getattr(answer.scenario, "feed_supply", None)
    control = supply.control if supply is not None else CONTROLS[1]
    run = answer.runs[control]
    part = run.time <= SHOWN
    for number, (name, words) in enumerate((("capacitor.voltage", "capacitor"), ("motor.voltage", "motor"))):
        axes.plot(1e3 * run.time[part], run[name][part], label=f"{words}, {control}", **style.pen(number + 3))
    axes.set_xlim(0.0, 1e3 * SHOWN)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="voltage [V]", horizontal="time from the start of the motor [ms]")
    style.explain_lines(axes)


def _deviations(axes: Axes, rows: Sequence[Mapping[str, Any]]) -> None:
    """Settled feed off the wanted one, case by case, a bar for each control."""
    cases = list(dict.fromkeys((row["mains"], row["load"]) for row in rows))
    for number, control in enumerate(CONTROLS):
        values = [
            100.0 * next(r["off"] for r in rows if (r["control"], r["mains"], r["load"]) == (control, *case))
            for case in cases
        ]
        places = np.arange(len(cases)) + 0.27 * (number - 1)
        axes.bar(
            places,
            values,
            width=0.24,
            color=style.PENS[number]["color"],
            hatch=("", "//", "..")[number],
            edgecolor="white",
            label=control,
        )
    axes.axhline(0.0, **style.HELPER_LINE)
    axes.grid(visible=False, axis="x")
    names = [
        load.replace(" ", "\n") if load != "as written" else f"mains\n{100.0 * mains:+.0f} %" for mains, load in cases
    ]
    axes.set_xticks(np.arange(len(cases)), [name.replace("+0 %", "as rated") for name in names])
    style.name_axis(axes, vertical="feed off the wanted [%]")
    style.explain_lines(axes)
