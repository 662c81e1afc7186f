"""Panels of waveforms: which signals share one, how they are called, and how long records are thinned for print."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from weldsim.figures import style
from weldsim.runs.run import Run

BINS = 1500      # of a thinned record: about two for each dot of paper that a panel is wide


@dataclass(frozen=True)
class Panel:
    """One strip of a picture: its axis label with the unit, and the signals in it with their short names."""

    label: str
    lines: tuple[tuple[str, str], ...]

    def present(self, run: Run) -> list[tuple[str, str]]:
        """The lines whose signal the run holds."""
        return [(name, words) for name, words in self.lines if name in run.signals]


def thinned(time: np.ndarray, values: np.ndarray, bins: int = BINS) -> tuple[np.ndarray, np.ndarray]:
    """The record, or where it is much longer than ``bins`` the least and the most of each bin, in order of time.

    On paper the thinned record looks the same: no peak is lost, only what happens inside the width of one bin.

    >>> time = np.arange(6.0)
    >>> thinned(time, np.array([0.0, 5.0, 1.0, 2.0, -3.0, 0.0]), bins=1)[1]
    array([ 5., -3.])
    """
    if len(values) <= 4 * bins:
        return time, values
    edges = np.linspace(0, len(values), bins + 1).astype(int)
    keep = set()
    for first, last in zip(edges[:-1], edges[1:], strict=True):
        piece = values[first:last]
        keep.update((first + int(np.argmin(piece)), first + int(np.argmax(piece))))
    chosen = np.array(sorted(keep))
    return time[chosen], values[chosen]


def between(run: Run, start: float, end: float) -> slice:
    """The samples of a run from ``start`` to ``end`` [s], both included."""
    slack = 1e-9 * max(1.0, abs(end))
    return slice(int(np.searchsorted(run.time, start - slack)), int(np.searchsorted(run.time, end + slack, side="right")))


def draw_panel(axes: Axes, run: Run, panel: Panel, *, span: tuple[float, float], unit: float, zero: float) -> None:
    """Draw the panel's lines over ``span`` [s]; the axis counts from ``zero`` [s] in steps of ``unit`` [s]."""
    part = between(run, *span)
    lines = panel.present(run)
    for number, (name, words) in enumerate(lines):
        time, values = thinned(run.time[part], run.signals[name][part])
        axes.plot((time - zero) / unit, values, label=words, **style.pen(number))
    axes.axhline(0.0, zorder=1.5, **style.HELPER_LINE)
    axes.set_xlim((span[0] - zero) / unit, (span[1] - zero) / unit)
    axes.margins(y=0.08)
    style.name_axis(axes, vertical=panel.label)
    style.explain_lines(axes, columns=len(lines))


def draw_stack(stack: Iterable[Axes], run: Run, panels: Iterable[Panel], *, span: tuple[float, float]) -> None:
    """Draw one panel for each axis; the lowest carries the time axis, in ms or s as its length asks."""
    unit, name = (1e-3, "ms") if span[1] - span[0] < 0.5 else (1.0, "s")
    axes_list = list(stack)
    for axes, panel in zip(axes_list, panels, strict=True):
        draw_panel(axes, run, panel, span=span, unit=unit, zero=0.0)
        axes.tick_params(labelbottom=axes is axes_list[-1])
    style.name_axis(axes_list[-1], horizontal=f"time [{name}]")
