"""Panels of waveforms: which signals share one, how they are called, and how long records are thinned for print."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from weldsim.figures import style
from weldsim.frozen import dataclass
from weldsim.runs.run import Run

BINS = 1500  # of a thinned record: about two for each dot of paper that a panel is wide


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
    array([ 5., -3.,  0.])
    """
    if len(values) <= 4 * bins:
        return time, values
    width = -(-len(values) // bins)
    rows = np.append(values, np.full(-len(values) % width, values[-1])).reshape(-1, width)
    first = width * np.arange(len(rows))
    chosen = np.unique(np.concatenate([first + rows.argmin(axis=1), first + rows.argmax(axis=1), [len(values) - 1]]))
    chosen = chosen[chosen < len(values)]
    return time[chosen], values[chosen]


def banded(time: np.ndarray, values: np.ndarray, cycle: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges of the cycles [s], and the least and the most of the samples in each.

    >>> edges, least, most = banded(np.arange(6.0), np.array([0.0, 5.0, 1.0, 2.0, -3.0, 0.0]), 3.0)
    >>> least, most
    (array([ 0., -3.]), array([5., 2.]))
    """
    count = max(1, int(np.ceil((time[-1] - time[0]) / cycle - 1e-6)))
    edges = time[0] + cycle * np.arange(count + 1)
    starts = np.searchsorted(time, edges[:-1] - 1e-9 * cycle)
    return edges, np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)


def between(run: Run, start: float, end: float) -> slice:
    """The samples of a run from ``start`` to ``end`` [s], both included."""
    slack = 1e-9 * max(1.0, abs(end))
    first = np.searchsorted(run.time, start - slack)
    return slice(int(first), int(np.searchsorted(run.time, end + slack, side="right")))


@dataclass(frozen=True)
class Clock:
    """How the time axis counts: from ``zero`` [s], in steps of ``unit`` [s]; a ``cycle`` [s] above 0 asks for bands."""

    zero: float
    unit: float
    cycle: float

    def of(self, time: np.ndarray) -> np.ndarray:
        """Times [s] as numbers on the axis."""
        return (time - self.zero) / self.unit


def draw_panel(axes: Axes, run: Run, panel: Panel, *, span: tuple[float, float], clock: Clock) -> None:
    """Draw the panel's lines over ``span`` [s], or where the clock asks for it the band of each cycle."""
    part = between(run, *span)
    lines = panel.present(run)
    for number, (name, words) in enumerate(lines):
        time, values = run.time[part], run.signals[name][part]
        look = style.pen(number)
        if clock.cycle:
            edges, least, most = banded(time, values, clock.cycle)
            steps, low, high = np.repeat(clock.of(edges), 2)[1:-1], np.repeat(least, 2), np.repeat(most, 2)
            axes.fill_between(steps, low, high, label=words, alpha=0.3, color=look["color"], linewidth=0.0)
            axes.plot(steps, low, steps, high, **look)
        else:
            time, values = thinned(time, values)
            axes.plot(clock.of(time), values, label=words, **look)
    axes.axhline(0.0, zorder=1.5, **style.HELPER_LINE)
    axes.use_sticky_edges = False
    axes.margins(y=0.08)
    axes.autoscale_view(scalex=False)
    if span[1] > span[0]:  # a run of one moment has no span
        axes.set_xlim((span[0] - clock.zero) / clock.unit, (span[1] - clock.zero) / clock.unit)
    style.name_axis(axes, vertical=panel.label)
    style.keep_marks_short(axes)
    style.explain_lines(axes, columns=len(lines))


def draw_stack(
    axes_list: Sequence[Axes],
    run: Run,
    panels: Sequence[Panel],
    *,
    span: tuple[float, float],
    clock: str,
    cycle: float = 0.0,
) -> None:
    """Draw one panel for each axis; the lowest carries the time axis, called ``clock``, in ms or s as its length asks.

    A clock that counts "from" something begins with the span; any other shows the times of the run.
    """
    unit, unit_name = (1e-3, "ms") if span[1] - span[0] < 0.5 else (1.0, "s")
    axis = Clock(span[0] if "from" in clock else 0.0, unit, cycle)
    for axes, panel in zip(axes_list, panels, strict=True):
        draw_panel(axes, run, panel, span=span, clock=axis)
        if axes is not axes_list[-1]:
            style.only_grid(axes)
    remark = "; bands: least to most of each cycle" if cycle else ""
    style.name_axis(axes_list[-1], horizontal=f"{clock} [{unit_name}]{remark}")
