"""The picture of the breaker while welding: time to the trip over the dial, and the primary current against what lasts.

Rows of kind "dial": ``dial`` [1] or None, ``output_current``, ``primary_rms`` [A], ``trip_fastest``, ``trip_middle``,
``trip_slowest`` [s], infinity where it never trips; ``missed``, the share of half cycles that are lost.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from weldsim.figures import style
from weldsim.parts.breaker_curves import EDGES, trip_time
from weldsim.parts.protection import Breaker
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 8.6, 6.6
TIMES = {1.0: "1 s", 10.0: "10 s", 60.0: "1 min", 600.0: "10 min", 3600.0: "1 h"}
SOONEST, LONGEST = 0.3, 7200.0  # [s] ends of the axis: below, the magnetic part decides


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim breaker``."""
    rows = [row for row in answer.rows or [] if not row["missed"]]
    lost = len(answer.rows or []) - len(rows)
    breaker: Breaker | None = getattr(answer.scenario, "breaker", None)
    with style.house_look():
        fuse = breaker is None or breaker.curve == "gG"
        trips = not fuse and any(math.isfinite(row[f"trip_{edge}"]) for row in rows for edge in EDGES)
        figure = style.blank(WIDTH, HEIGHT if trips else 0.6 * HEIGHT)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=(f"{breaker.curve} {breaker.current:g} A, " if breaker else "")
            + ("" if fuse else "cold at the start, ")
            + "welding without a pause"
            + ("" if fuse or trips else ": never trips by heat")
            + (f"; {lost} that misfire left out" if lost else ""),
        )
        if breaker is not None and trips:
            _draw_times(figure.add_axes((0.10, 0.54, 0.66, 0.35)), rows, breaker)
        _draw_currents(figure.add_axes((0.10, 0.10, 0.66, 0.35) if trips else (0.10, 0.14, 0.66, 0.68)), answer, rows)
    return figure


def _draw_times(axes: Axes, rows: Sequence[Mapping[str, Any]], breaker: Breaker) -> None:
    """Time to the trip against the output current; between the dials the primary current goes straight."""
    amps, primary = ([row[name] for row in rows] for name in ("output_current", "primary_rms"))
    fine = np.unique(np.concatenate((np.linspace(amps[0], amps[-1], 400), amps))) if amps else np.zeros(1)
    drawn = np.interp(fine, amps, primary) if amps else fine
    for number, edge in enumerate(EDGES):
        times = np.array([trip_time(breaker, one / breaker.current, edge=edge) for one in drawn])
        axes.plot(fine, np.where(np.isfinite(times), times, np.nan), label=f"{edge} breaker", **style.pen(number))
        known = [(row["output_current"], row[f"trip_{edge}"]) for row in rows if np.isfinite(row[f"trip_{edge}"])]
        axes.plot(*zip(*known, strict=True) if known else ([], []), ".", color=style.PENS[number]["color"])
    axes.set_yscale("log")
    axes.set_ylim(SOONEST, LONGEST)
    axes.yaxis.set_major_locator(FixedLocator(list(TIMES)))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.set_yticks(list(TIMES), labels=list(TIMES.values()))
    axes.set_xlim(0.0, 1.04 * max(amps, default=1.0))
    style.name_axis(axes, vertical="time to the trip; no line: never")
    axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.01), borderaxespad=0.0)


def _draw_currents(axes: Axes, answer: Answer, rows: Sequence[Mapping[str, Any]]) -> None:
    """Primary current against output current, and what each breaker carries without a trip."""
    amps = [row["output_current"] for row in rows]
    axes.plot(amps, [row["primary_rms"] for row in rows], marker=".", label="drawn from the mains", **style.pen(4))
    fuse = getattr(getattr(answer.scenario, "breaker", None), "curve", "") == "gG"
    for number, edge in enumerate(EDGES):
        lasts = answer.numbers[f"breaker.for_ever.{edge}"].value
        words = {"fastest": "carried for good", "middle": "", "slowest": "melts in an hour"} if fuse else {}
        told = words.get(edge, f"{edge} trips\nonly beyond")
        if told:
            axes.axhline(lasts, label=f"{told}: {lasts:.3g} A", **style.pen(number))
    axes.set_xlim(0.0, 1.04 * max(amps, default=1.0))
    axes.set_ylim(bottom=0.0)
    kind = "mean" if "output.current.mean" in answer.numbers else "rms"
    style.name_axis(axes, vertical="primary current, rms [A]", horizontal=f"output current, {kind} [A]")
    axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.01), borderaxespad=0.0)
