"""The picture of a press drill: the largest peak of each press with the breaker's band, and what it started from."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from weldsim.figures import style
from weldsim.parts.breaker_curves import fuse_window
from weldsim.parts.protection import Breaker, instantaneous_band
from weldsim.studies.answer import Answer

GREY = "#DDDDDD"
EACH = 1.35  # [in] of a panel


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim drill``."""
    rows = answer.rows or []
    numbers = [row["number"] for row in rows]
    breaker: Breaker | None = getattr(answer.scenario, "breaker", None)
    panels = _panels(rows, breaker)
    with style.house_look():
        figure = style.blank(7.5, 1.6 + EACH * len(panels))
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below="each press from what the last one left in core, bank, thermistor and breaker",
        )
        stack = style.stack(figure, len(panels), left=1.0, right=7.2)
        for k, (axes, (key, label)) in enumerate(zip(stack, panels, strict=True)):
            look = style.PENS[1 + k % (len(style.PENS) - 1)]["color"]
            axes.bar(numbers, [row[key] for row in rows], color=look, width=0.6)
            axes.axhline(0.0, **style.HELPER_LINE)
            if key == "bank_voltage":  # what leaks into an empty bank is not worth an axis of its own
                axes.set_ylim(top=max(axes.get_ylim()[1], 1.0))
            axes.xaxis.set_major_locator(MaxNLocator(integer=True))
            last = axes is stack[-1]
            style.name_axis(axes, vertical=label, horizontal="press" if last else "")
            if not last:
                style.only_grid(axes)
        _mark_first(stack[0], breaker)
        for axes, (key, _) in zip(stack, panels, strict=True):
            if key == "breaker_heat":
                axes.axhline(1.0, **style.HELPER_LINE)
                axes.set_title("1: a middle breaker trips by heat", loc="left", pad=3.0)
    return figure


def _panels(rows: Sequence[Mapping[str, Any]], breaker: Breaker | None) -> list[tuple[str, str]]:
    """Keys of the rows that have a panel, with their axis labels."""
    fuse = breaker is not None and instantaneous_band(breaker) is None
    found = [("i2t_of_60_ms", "I2t in 60 ms\n[A²s]") if fuse else ("peak", "largest peak\n[A]")]
    if fuse:
        found.append(("peak", "largest peak\n[A]"))
    found.append(("flux_linkage", "flux left\n[V s]"))
    if any("second_flux_linkage" in row for row in rows):
        found.append(("second_flux_linkage", "flux left,\nsecond [V s]"))
    if any(math.isfinite(row.get("bank_voltage", math.nan)) for row in rows):
        found.append(("bank_voltage", "bank\n[V]"))
    if any(math.isfinite(row.get("thermistor", math.nan)) for row in rows):
        found.append(("thermistor", "thermistor\nbefore [°C]"))
    if any("breaker_heat" in row for row in rows):
        found.append(("breaker_heat", "breaker's heat\n[of its trip]"))
    return found


def _mark_first(axes: Axes, breaker: Breaker | None) -> None:
    """The band in which the breaker may trip at once, or the window in which the fuse melts."""
    if breaker is None:
        return
    band = instantaneous_band(breaker)
    low, high = fuse_window(breaker.current) if band is None else (math.sqrt(2.0) * edge for edge in band)
    what = "the fuse may melt" if band is None else "the breaker may trip at once"
    top = axes.get_ylim()[1]
    if low < 2.5 * top:
        axes.axhspan(low, high, color=GREY, zorder=0.2)
        axes.set_ylim(top=min(1.05 * high, max(1.6 * top, 1.25 * low)))
        axes.set_title(f"grey: {what}", loc="left", pad=3.0)
    else:
        axes.set_title(f"{what} from {low:.3g} {'A²s' if band is None else 'A'} on", loc="left", pad=3.0)
