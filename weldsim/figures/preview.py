"""The picture of a dial setting: a few mains cycles of the window on the left, the approach from switch-on on the right."""

from matplotlib.figure import Figure

from weldsim.figures import style, waveforms
from weldsim.figures.waveforms import Panel
from weldsim.runs.run import Run
from weldsim.studies.answer import Answer

CYCLES = 3       # of the mains, shown of the window
MOST_CYCLES = 25     # shown of the window where the load has a rhythm of its own

_OUTPUT_VOLTAGE = Panel("voltage [V]", (("output.voltage", "output"), ("bank.voltage", "bank"), ("boost.voltage", "boost")))
_OUTPUT_CURRENT = Panel("current [A]", (("output.current", "output"), ("boost.current", "boost")))
_PRIMARY_CURRENT = Panel("current [A]", (("primary.current", "primary"),))
_DEVICE_VOLTAGE = Panel("voltage [V]", (("phase_control.voltage", "across the triac or thyristors"),))
_FLUX = Panel("flux linkage [V s]", (("core.flux_linkage", "core, seen from the primary"),))

CYCLE_PANELS = (_OUTPUT_VOLTAGE, _OUTPUT_CURRENT, _PRIMARY_CURRENT, _DEVICE_VOLTAGE, _FLUX)
APPROACH_PANELS = (_OUTPUT_VOLTAGE, _OUTPUT_CURRENT, _PRIMARY_CURRENT, _FLUX)


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim preview``: ``answer.runs`` holds "window" and, where there is one, "approach"."""
    window, approach = answer.runs["window"], answer.runs.get("approach")
    left = [panel for panel in CYCLE_PANELS if panel.present(window)]
    right = [panel for panel in APPROACH_PANELS if approach is not None and panel.present(approach)]
    with style.house_look():
        figure = style.blank(11.0 if right else 7.0, 1.0 + 1.5 * max(len(left), 2))
        figure.suptitle(_title(answer), x=0.01, ha="left", fontsize=10.5)
        halves = figure.subfigures(1, 2, width_ratios=(1.15, 1.0)) if right else [figure]
        _column(halves[0], window, left, span=_last_cycles(window), heading="the last cycles of the window")
        if approach is not None and right:
            whole = (float(approach.time[0]), float(approach.time[-1]))
            _column(halves[1], approach, right, span=whole, heading="the approach from switch-on")
    return figure


def _column(place: Figure, run: Run, panels: list[Panel], *, span: tuple[float, float], heading: str) -> None:
    """One column of panels over a common time axis."""
    stack = place.subplots(len(panels), 1, squeeze=False)[:, 0]
    waveforms.draw_stack(stack, run, panels, span=span)
    place.align_ylabels(stack)
    stack[0].set_title(heading, loc="right", color="#555555")


def _last_cycles(run: Run) -> tuple[float, float]:
    """The end of the run's window: a few mains cycles."""
    end = float(run.window[1])
    cycles = MOST_CYCLES if run.scenario.load is not None and run.scenario.load.kind == "shorted arc" else CYCLES
    return max(float(run.time[0]), end - cycles / run.scenario.mains.frequency), end


def _title(answer: Answer) -> str:
    """Which supply, and what it gives, in one line."""
    numbers, parts = answer.numbers, []
    for name, words, form in (("output.voltage.mean", "V mean", ".1f"), ("output.current.mean", "A mean", ".0f"),
                              ("primary.current.rms", "A rms from the mains", ".1f")):
        if name in numbers:
            parts.append(f"{numbers[name].value:{form}} {words}")
    title = answer.scenario.title or answer.scenario.source
    return f"{title}: {', '.join(parts)}" if parts else title
