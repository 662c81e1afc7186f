"""The picture of a saved run: its last cycles on the left, the whole record on the right."""

from collections.abc import Sequence

from matplotlib.figure import Figure

from weldsim.figures.preview import CYCLE_PANELS, cycle_of, draw_columns
from weldsim.figures.waveforms import Panel
from weldsim.runs.run import Run, known_name

CALLED = {"V": "voltage [V]", "A": "current [A]", "V.s": "flux linkage [V s]", "T": "flux density [T]"}
MOST_LINES = 2       # in one panel: their full names fit beside each other above it
LONG = 1.5           # a record this much longer than the cycles on the left is worth drawing whole


def draw(run: Run, *, signals: Sequence[str] = ()) -> Figure:
    """The picture of ``weldsim show``: the signals that were asked for, else those of a preview, else all."""
    if signals:
        panels = grouped(run, [known_name(name, run.signals) for name in signals])
    else:
        panels = [panel for panel in CYCLE_PANELS if panel.present(run)] or grouped(run, list(run.signals))
    figures = ", ".join(f"{name.replace('.', ' ')} {run.table[name][0]:.4g} {run.table[name][1]}"
                        for name in ("output.current.mean", "output.voltage.mean") if name in run.table)
    shown = 3.0 * cycle_of(run) if cycle_of(run) else 0.06
    whole = run if run.time[-1] - run.time[0] > LONG * shown else None
    title = run.scenario.title or run.scenario.source or "a saved run"
    return draw_columns(title, figures, left=(run, panels), right=(whole, panels))


def grouped(run: Run, names: Sequence[str]) -> list[Panel]:
    """One panel for each unit, and another where one would hold too many lines."""
    by_unit: dict[str, list[str]] = {}
    for name in names:
        by_unit.setdefault(run.unit(name), []).append(name)
    panels = []
    for unit, group in by_unit.items():
        for first in range(0, len(group), MOST_LINES):
            lines = tuple((name, name.replace(".", " ").replace("_", " ")) for name in group[first:first + MOST_LINES])
            panels.append(Panel(CALLED.get(unit, f"[{unit}]"), lines))
    return panels
