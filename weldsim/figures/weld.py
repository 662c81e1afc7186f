"""The picture of a weld: its end over time, where volts and amperes dwell, how regular the dips are, and the window."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LogNorm
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.figures.waveforms import Panel, draw_stack
from weldsim.studies.answer import Answer
from weldsim.studies.weld_measure import MOST_BURNT_BACK

PANELS = (
    Panel("current [A]", (("output.current", "arc circuit"),)),
    Panel("voltage [V]", (("output.voltage", "arc circuit"), ("bank.voltage", "bank"))),
)
WIDTH, HEIGHT, LEFT = 11.0, 6.8, 6.1
GREEN, RED = style.PENS[3]["color"], style.PENS[2]["color"]


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim weld``."""
    rows, run = answer.rows or [], answer.runs["window"]
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
        current, voltage, gap = style.stack(figure, 3, left=0.85, right=LEFT)
        span = (float(run.time[0]), float(run.time[-1]))
        draw_stack([current, voltage], run, PANELS, span=span, clock="time from the trigger")
        voltage.set_xlabel("")
        hold = answer.numbers["arc.hold_limit"].value
        current.axhline(hold, label=f"below {hold:.3g} A it may go out", **style.HELPER_LINE)
        style.explain_lines(current)
        gap.plot(run.time, 1e3 * run["wire.gap"], **style.pen(0))
        gap.set_xlim(*span)
        gap.set_ylim(0.0, 1.08 * max(1e3 * float(run["wire.gap"].max()), 1.0))  # clear of the frame, if it stands
        style.only_grid(voltage)
        voltage.set_xticks([])
        style.name_axis(gap, vertical="gap [mm]", horizontal="time from the trigger [s]")
        window = [row for row in rows if row["kind"] == "window"]
        _density(figure, _first(rows, "density"), low=0.36 if window else 0.50)
        if window:
            _window(figure.add_axes((0.64, 0.09, 0.335, 0.17)), window)
            return figure
        _periods(figure.add_axes((0.64, 0.09, 0.335, 0.27)), _first(rows, "periods"))
    return figure


def _first(rows: Sequence[Mapping[str, Any]], kind: str) -> Mapping[str, Any]:
    return next(row for row in rows if row["kind"] == kind)


def _below(answer: Answer) -> str:
    numbers = answer.numbers
    rate, short = numbers["dip.rate"].value, numbers["short_circuit.duration.mean"].value
    amps, volts = numbers["output.current.mean"].value, numbers["output.voltage.mean"].value
    dips = f"{rate:.3g} dips a second" + (f" of {1e3 * short:.2g} ms" if rate > 0.0 else "")
    if numbers["arc.burnt_back.share"].value > MOST_BURNT_BACK:
        return f"burnt back into the contact tube: {amps:.3g} A at {volts:.3g} V are no weld's"
    return f"{amps:.3g} A at {volts:.3g} V, {dips}; the model knows no pool, bead or penetration"


def _density(figure: Figure, row: Mapping[str, Any], *, low: float) -> None:
    """Where the arc circuit dwells in the plane of volts and amperes, as grey levels with their scale."""
    axes = figure.add_axes((0.64, low, 0.27, 0.88 - low))
    scale = figure.add_axes((0.925, low, 0.012, 0.88 - low))
    current, voltage, share = (np.array(row[key]) for key in ("current", "voltage", "share"))
    ampere, volt = row["cell_current"], row["cell_voltage"]
    across, up = np.round(current / ampere - 0.5).astype(int), np.round(voltage / volt - 0.5).astype(int)
    cells = np.full((up.max() + 3, across.max() + 3), np.nan)
    cells[up, across] = 100.0 * share
    image = axes.pcolormesh(
        ampere * np.arange(cells.shape[1] + 1),
        volt * np.arange(cells.shape[0] + 1),
        cells,
        cmap="cividis_r",
        norm=LogNorm(vmin=max(100.0 * share.min(), 1e-3), vmax=100.0 * share.max()),
        rasterized=True,
    )
    bar = figure.colorbar(image, cax=scale)
    bar.set_label("of the time [%]")
    axes.set_title("where it dwells: shorts below, arcs above", loc="left", pad=3.0)
    style.name_axis(axes, vertical="arc circuit [V]", horizontal="current [A]")


def _periods(axes: Axes, row: Mapping[str, Any]) -> None:
    """Histogram of the time from dip to dip."""
    counts, width = np.array(row["counts"]), 1e3 * row["width"]
    last = min(len(counts), int(np.flatnonzero(counts).max(initial=9)) + 2)
    places = width * (np.arange(last) + 0.5)
    axes.bar(places, counts[:last], width=0.9 * width, color=style.PENS[1]["color"])
    rest = ", the last bar all longer" if last == len(counts) else ""
    axes.set_title("from dip to dip" + rest, loc="left", pad=3.0)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="dips", horizontal="time [ms]")


def _window(axes: Axes, rows: Sequence[Mapping[str, Any]]) -> None:
    """Mean volts over the dial; filled where it runs regularly."""
    dial, volts = ([row[key] for row in rows] for key in ("dial", "voltage"))
    axes.plot(100.0 * np.array(dial), volts, **style.pen(0))
    for regular, words, look in ((True, "regular", {"color": GREEN}), (False, "not", {"color": RED, "mfc": "white"})):
        mine = [row for row in rows if row["regular"] is regular]
        axes.plot(
            [100.0 * row["dial"] for row in mine],
            [row["voltage"] for row in mine],
            "o" if regular else "s",
            markersize=4.5,
            label=words,
            **look,
        )
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="mean [V]", horizontal="dial [%]")
    style.explain_lines(axes)
