"""The picture of a dial setting: left a few mains cycles of the window, right the approach from switch-on."""

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from weldsim.figures import style, waveforms
from weldsim.figures.waveforms import Panel
from weldsim.runs.run import Run, ScenarioText
from weldsim.studies.answer import Answer, amount

CYCLES = 3  # of the mains, shown of the window
MOST_CYCLES = 10  # shown where the load has a rhythm of its own
MOST_DRAWN = 25  # cycles of the approach that are drawn as waveforms; more would run into each other
UNKNOWN = 0.06  # [s] shown of a run whose mains is not known

_OUTPUT_VOLTAGE = Panel(
    "voltage [V]", (("output.voltage", "output"), ("bank.voltage", "bank"), ("boost.voltage", "boost"))
)
_OUTPUT_CURRENT = Panel("current [A]", (("output.current", "output"), ("boost.current", "boost")))
_PRIMARY_CURRENT = Panel("current [A]", (("primary.current", "primary"),))
_DEVICE_VOLTAGE = Panel("voltage [V]", (("phase_control.voltage", "across the triac or thyristors"),))
_FLUX = Panel(
    "flux linkage [V s]",
    (("core.flux_linkage", "core, seen from the primary"), ("second_core.flux_linkage", "second core")),
)

CYCLE_PANELS = (_OUTPUT_VOLTAGE, _OUTPUT_CURRENT, _PRIMARY_CURRENT, _DEVICE_VOLTAGE, _FLUX)
APPROACH_PANELS = (_OUTPUT_VOLTAGE, _OUTPUT_CURRENT, _PRIMARY_CURRENT, _FLUX)

Column = tuple[Run | None, Sequence[Panel]]


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim preview``: ``answer.runs`` holds "window" and, where there is one, "approach"."""
    title = answer.scenario.title or answer.scenario.source
    return draw_columns(
        title,
        _figures(answer),
        left=(answer.runs["window"], CYCLE_PANELS),
        right=(answer.runs.get("approach"), APPROACH_PANELS),
    )


def draw_columns(title: str, below: str, *, left: Column, right: Column) -> Figure:
    """Last cycles of one run on the left; the whole of another on the right, where there is one."""
    window, whole = left[0], right[0]
    assert window is not None
    panels = [panel for panel in left[1] if _shown(panel, window)] or [one for one in left[1] if one.present(window)]
    others = [panel for panel in right[1] if whole is not None and _shown(panel, whole)]
    with style.house_look():
        figure = style.blank(11.0 if others else 6.6, style.TOP + style.BOTTOM + 1.4 * max(len(panels), 2))
        style.write_title(figure, title, below=below)
        axes = style.stack(figure, len(panels), left=0.75, right=5.75 if others else 6.35)
        waveforms.draw_stack(axes, window, panels, span=_last_cycles(window), clock="time")
        if whole is not None and others:
            _draw_whole(figure, whole, others)
    return figure


def _shown(panel: Panel, run: Run) -> bool:
    """Whether a run has what the panel shows; an output current that is nothing throughout is nothing to see."""
    idle = panel is _OUTPUT_CURRENT and not any(np.any(run[name]) for name, _ in panel.lines if name in run.signals)
    return bool(panel.present(run)) and not idle


def cycle_of(run: Run) -> float:
    """One cycle of the run's mains [s]; 0 where its scenario cannot be read."""
    return 0.0 if isinstance(run.scenario, ScenarioText) else 1.0 / run.scenario.mains.frequency


def _draw_whole(figure: Figure, run: Run, panels: Sequence[Panel]) -> None:
    """The right half; a long record is drawn as bands, since its cycles would run into each other."""
    span, cycle = (float(run.time[0]), float(run.time[-1])), cycle_of(run)
    if span[1] - span[0] < MOST_DRAWN * cycle:
        cycle = 0.0
    axes = style.stack(figure, len(panels), left=6.6, right=10.75)
    waveforms.draw_stack(axes, run, panels, span=span, clock="time from the start", cycle=cycle)


def _last_cycles(run: Run) -> tuple[float, float]:
    """The end of the run's window: a few mains cycles, more of them where the load has a rhythm of its own."""
    start, end = float(run.time[0]), min(float(run.window[1]), float(run.time[-1]))
    load = getattr(run.scenario, "load", None)
    cycles = MOST_CYCLES if load is not None and load.kind == "shorted arc" else CYCLES
    return max(start, end - (cycles * cycle_of(run) or UNKNOWN)), end


def _unloaded(answer: Answer) -> bool:
    """Whether nothing is connected to the output."""
    return not isinstance(answer.scenario, ScenarioText) and answer.scenario.load is None


def told_of_output(scenario: object) -> str:
    """Which figure tells of an output: "mean" of a direct one, "rms" of one without a rectifier."""
    return "rms" if getattr(scenario, "rectifier", ScenarioText) is None else "mean"


def _figures(answer: Answer) -> str:
    """What the supply gives and takes, in one line."""
    parts: list[str] = []
    kind = told_of_output(answer.scenario)
    named = (
        (f"output.current.{kind}", f"output, {kind}:"),
        (f"output.voltage.{kind}", "at"),
        ("primary.current.rms", "primary, rms:"),
    )
    for name, words in named:
        if name in answer.numbers and not (name.startswith("output.current") and _unloaded(answer)):
            number = answer.numbers[name]
            value = number.value if abs(number.value) >= style.NOTHING else 0.0
            told = amount(value, number.unit, digits=4)
            parts.append(f"{'output:' if words == 'at' and not parts else words} {told}")
    return ", ".join(parts)
