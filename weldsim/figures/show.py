"""The picture of a saved run: its last cycles on the left, the whole record on the right."""

from collections.abc import Sequence

from matplotlib.figure import Figure

from weldsim.errors import WeldsimError
from weldsim.figures.preview import CYCLE_PANELS, cycle_of, draw_columns, told_of_output
from weldsim.figures.waveforms import Panel
from weldsim.runs.run import Run, known_name

CALLED = {"V": "voltage [V]", "A": "current [A]", "V.s": "flux linkage [V s]", "T": "flux density [T]"}
WIDEST = 46  # characters of the names in one panel: they fit beside each other above it
LONG = 1.5  # a record this much longer than the cycles on the left is worth drawing whole


def draw(run: Run, *, signals: Sequence[str] = ()) -> Figure:
    """The picture of ``weldsim show``: the signals that were asked for, else those of a preview, else all.

    Raises
    ------
    WeldsimError : a run without waveforms.
    """
    if not run.signals or not len(run.time):
        raise WeldsimError("it holds no waveform that could be drawn", place="run", advice="record signals with it")
    if signals:
        panels = grouped(run, [known_name(name, run.signals) for name in signals])
    else:
        panels = [panel for panel in CYCLE_PANELS if panel.present(run)] or grouped(run, list(run.signals))
    kind = told_of_output(run.scenario)
    figures = ", ".join(
        f"{name.replace('.', ' ')} {run.table[name][0]:.4g} {run.table[name][1]}"
        for name in (f"output.current.{kind}", f"output.voltage.{kind}")
        if name in run.table
    )
    shown = 3.0 * cycle_of(run) if cycle_of(run) else 0.06
    whole = run if run.time[-1] - run.time[0] > LONG * shown else None
    title = run.scenario.title or run.scenario.source or "a saved run"
    return draw_columns(title, figures, left=(run, panels), right=(whole, panels))


def grouped(run: Run, names: Sequence[str]) -> list[Panel]:
    """One panel for each unit, and another where the names would not fit beside each other."""
    by_unit: dict[str, list[str]] = {}
    for name in names:
        by_unit.setdefault(run.unit(name), []).append(name)
    panels = []
    for unit, group in by_unit.items():
        panels += [Panel(CALLED.get(unit, f"[{unit}]"), tuple(lines)) for lines in _rows_of_names(group)]
    return panels


def _rows_of_names(names: Sequence[str]) -> list[list[tuple[str, str]]]:
    """Names with their words, in rows that are not too wide; a long name has a row of its own."""
    rows: list[list[tuple[str, str]]] = [[]]
    for name in names:
        words = name.replace(".", " ").replace("_", " ")
        if rows[-1] and sum(len(other) for _, other in rows[-1]) + len(words) > WIDEST:
            rows.append([])
        rows[-1].append((name, words))
    return rows
