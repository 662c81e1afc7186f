"""The picture of the mains: harmonics against limits, the plug's voltage, and flicker or the settings of a sweep.

Rows of kind "order", "limit" and "setting" as the study gives them; run "window" holds two periods, run "record" the
sensation and the voltage of every second.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer
from weldsim.studies.mains_numbers import OF_THE_VOLTAGE

WIDTH, HEIGHT = 10.6, 8.2
Row = Mapping[str, Any]
JUST_SEEN = 1.0  # sensation that half of all people notice
LEAST_SHOWN = 1e-3  # [A]


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim mains``."""
    rows = answer.rows or []
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
        record, settings = answer.runs.get("record"), [row for row in rows if row["kind"] == "setting"]
        third = record is not None or bool(settings)
        feet, height = ((0.675, 0.375, 0.075), 0.19) if third else ((0.56, 0.10, 0.0), 0.32)
        _draw_orders(figure.add_axes((0.075, feet[0], 0.90, height)), rows)
        _draw_waves(figure, answer, foot=feet[1], height=height)
        if record is not None:
            _draw_record(figure, answer, foot=feet[2], height=height)
        elif settings:
            _draw_settings(figure, settings, foot=feet[2], height=height)
    return figure


def _below(answer: Answer) -> str:
    """What the picture shows, in one line."""
    numbers = answer.numbers
    return (
        f"{numbers['primary.current.rms'].value:.3g} A rms, THD {100 * numbers['primary.current.thd'].value:.0f} %, "
        f"power factor {numbers['primary.power_factor'].value:.2f}; limits as far as known, no certificate"
    )


def _draw_orders(axes: Axes, rows: Sequence[Row]) -> None:
    """Bars of the current by order, with the limits of the standard over them and what lies between the orders."""
    orders = [row for row in rows if row["kind"] == "order"]
    numbers = np.array([row["order"] for row in orders])
    axes.bar(numbers, [max(row["group"], LEAST_SHOWN) for row in orders], width=0.55, color="#0072B2", label="current")
    between = np.array([row["interharmonic_above"] for row in orders])
    if between.any():
        axes.plot(numbers + 0.5, np.maximum(between, LEAST_SHOWN), label="between the orders", **style.pen(3))
    limits = [row for row in rows if row["kind"] == "limit" and row["quantity"].isdigit() and row["unit"] == "A"]
    base = 1.0
    if not limits:
        limits = [
            row
            for row in rows
            if row["kind"] == "limit" and row["quantity"].isdigit() and row["standard"] not in OF_THE_VOLTAGE
        ]
        limits = [row for row in limits if row["standard"] == limits[0]["standard"]]
        base = _base(limits, orders)
    if limits:
        places = np.array([int(row["quantity"]) for row in limits])
        levels = np.array([row["most"] * base for row in limits])
        words = f"limits of {limits[0]['standard']}"
        axes.hlines(levels, places - 0.45, places + 0.45, color="#D55E00", linewidth=2.0, label=words, zorder=3.0)
    axes.set_yscale("log")
    axes.yaxis.set_major_formatter("{x:g}")
    axes.set_ylim(LEAST_SHOWN, 3.0 * max(1.0, *(row["group"] for row in orders)))
    axes.set_xlim(0.3, 40.7)
    axes.set_xticks(range(1, 41, 2))
    style.explain_lines(axes)
    style.name_axis(axes, vertical="current [A rms]", horizontal="order of the harmonic")


def _base(limits: Sequence[Row], orders: Sequence[Row]) -> float:
    """What shares are shares of [A]: found current over found share, of the largest."""
    known = {row["order"]: row["group"] for row in orders}
    pairs = [(row["found"], known[int(row["quantity"])]) for row in limits if int(row["quantity"]) in known]
    share, current = max(pairs, default=(0.0, 1.0))
    return current / share if share > 0.0 else 1.0


def _draw_waves(figure: Figure, answer: Answer, *, foot: float, height: float) -> None:
    """Voltage of the source and at the plug, and the current."""
    run = answer.runs["window"]
    left, right = figure.add_axes((0.075, foot, 0.41, height)), figure.add_axes((0.565, foot, 0.41, height))
    time = 1e3 * run.time
    left.plot(time, run["mains.voltage"], label="source", **style.pen(5))
    left.plot(time, run["plug.voltage"], label="at the plug", **style.pen(0))
    right.plot(time, run["primary.current"], **style.pen(1))
    style.explain_lines(left)
    style.name_axis(left, vertical="voltage [V]", horizontal="time [ms]")
    style.name_axis(right, vertical="primary current [A]", horizontal="time [ms]")
    for axes in (left, right):
        axes.set_xlim(time[0], time[-1])
        axes.axhline(0.0, zorder=1.5, **style.HELPER_LINE)


def _draw_record(figure: Figure, answer: Answer, *, foot: float, height: float) -> None:
    """Sensation of flicker and voltage at the plug, second by second."""
    run, numbers = answer.runs["record"], answer.numbers
    left, right = figure.add_axes((0.075, foot, 0.41, height)), figure.add_axes((0.565, foot, 0.41, height))
    unit, name = (60.0, "min") if run.time[-1] > 180.0 else (1.0, "s")
    time = run.time / unit
    words = f"plug, Pst {numbers['flicker.pst'].value:.2f}"
    left.plot(time, run["flicker.sensation"], label=words, **style.pen(0))
    words = f"reference, Pst {numbers['reference.flicker.pst'].value:.2f}"
    left.plot(time, run["reference.flicker.sensation"], label=words, **style.pen(1))
    left.axhline(JUST_SEEN, label="just seen", **style.pen(2))
    left.set_yscale("log")
    left.yaxis.set_major_formatter("{x:g}")
    left.set_ylim(0.1, 3.0 * max(float(run["reference.flicker.sensation"].max()), 1.0))
    right.fill_between(
        time,
        100.0 * run["plug.voltage.least"],
        100.0 * run["plug.voltage.most"],
        step="mid",
        color="#0072B2",
        alpha=0.4,
        linewidth=0.0,
        label="half periods of each second, least to most",
    )
    style.explain_lines(left)
    style.explain_lines(right)
    style.name_axis(left, vertical="flicker sensation [1]", horizontal=f"time from the trigger [{name}]")
    style.name_axis(right, vertical="voltage at the plug [%]", horizontal=f"time from the trigger [{name}]")
    for axes in (left, right):
        axes.set_xlim(0.0, time[-1] + 0.5 / unit)


def _draw_settings(figure: Figure, rows: Sequence[Row], *, foot: float, height: float) -> None:
    """Distortion and power factor over the settings; hollow: no state that repeats."""
    left, right = figure.add_axes((0.075, foot, 0.41, height)), figure.add_axes((0.565, foot, 0.41, height))
    dial = rows[0]["dial"] is not None
    place = [100.0 * row["dial"] if dial else row["delay"] for row in rows]
    panels = (
        (left, (("harmonic_1", "fundamental", 1.0), ("harmonic_3", "order 3", 1.0), ("harmonic_5", "order 5", 1.0))),
        (right, (("power_factor", "power factor", 100.0), ("plug_thd", "THD of the plug's voltage", 100.0))),
    )
    for axes, lines in panels:
        for number, (name, words, factor) in enumerate(lines):
            values = [factor * row[name] if row[name] is not None else np.nan for row in rows]
            axes.plot(place, values, label=words, **style.pen(number))
        hunting = [(x, row) for x, row in zip(place, rows, strict=True) if not row["repeats"]]
        if hunting:
            name, _, factor = lines[0]
            axes.scatter(
                [x for x, _ in hunting],
                [factor * row[name] for _, row in hunting],
                s=20.0,
                color="white",
                edgecolors="black",
                zorder=3.0,
                label="does not repeat" if axes is left else None,
            )
        axes.set_ylim(bottom=0.0)
        style.explain_lines(axes, columns=4)
        style.name_axis(axes, horizontal="dial [%]" if dial else "firing delay [deg]")
    style.name_axis(left, vertical="current [A rms]")
    style.name_axis(right, vertical="share [%]")
