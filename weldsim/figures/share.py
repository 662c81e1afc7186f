"""Two transformers side by side: currents and fluxes of both over two cycles, shares and heat as bars.

Run "window": ``secondary.current``, ``core.flux_linkage`` and the like of both.  Rows of kind "transformer":
``condition``, ``transformer`` (first, second), ``share_of_even``, ``saturation`` [1], ``copper``, ``iron`` [W].
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style, waveforms
from weldsim.figures.preview import cycle_of
from weldsim.figures.waveforms import Panel
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 10.6, 6.6
CYCLES = 2
PANELS = (
    Panel("current [A]", (("secondary.current", "first secondary"), ("second_secondary.current", "second secondary"))),
    Panel("flux linkage [V s]", (("core.flux_linkage", "first core"), ("second_core.flux_linkage", "second core"))),
    Panel(
        "current [A]",
        (("core.magnetising_current", "magnetises the first"), ("second_core.magnetising_current", "the second")),
    ),
)
BAR = 0.36  # of the distance from one condition to the next
Row = Mapping[str, Any]


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim share``."""
    rows, run = [row for row in answer.rows or [] if row["kind"] == "transformer"], answer.runs["window"]
    table = getattr(answer.scenario, "second_transformer", None)
    below = "" if table is None else f"primaries in {table.primaries}, secondaries in {table.secondaries}; "
    below += "on the left at the setting"
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=below)
        panels = [panel for panel in PANELS if panel.present(run)]
        begin, cycle = float(run.time[0]), cycle_of(run)
        span = (begin, min(float(run.time[-1]), begin + CYCLES * cycle))
        waveforms.draw_stack(
            style.stack(figure, len(panels), left=0.75, right=5.9), run, panels, span=span, clock="time"
        )
        wanted: list[tuple[str, Callable[[Row], float | None]]] = [
            ("over an even share [%]", lambda row: _percent(row["share_of_even"])),
            ("flux of saturation [%]", lambda row: _percent(row["saturation"])),
            ("heat [W]", lambda row: row["copper"] + row["iron"]),
        ]
        axes_list = style.stack(figure, len(wanted), left=6.75, right=10.35)
        for axes, (label, value) in zip(axes_list, wanted, strict=True):
            _draw_bars(axes, rows, label, value)
            if label.startswith("heat"):
                axes.set_yscale("log")
                axes.yaxis.set_major_formatter("{x:g}")
                axes.set_ylim(bottom=1.0, top=3.0 * max(axes.get_ylim()[1], 10.0))
            axes.set_xticklabels([] if axes is not axes_list[-1] else _conditions(rows))
    return figure


def _percent(share: float | None) -> float | None:
    return None if share is None or share != share else 100.0 * share


def _conditions(rows: Sequence[Row]) -> list[str]:
    return list(dict.fromkeys(row["condition"] for row in rows))


def _draw_bars(axes: Axes, rows: Sequence[Row], label: str, value: Callable[[Row], float | None]) -> None:
    """Two bars for each condition; where there is no value, none."""
    conditions = _conditions(rows)
    for number, which in enumerate(("first", "second")):
        mine = [row for row in rows if row["transformer"] == which]
        places = [conditions.index(row["condition"]) + (number - 0.5) * BAR for row in mine]
        heights = [value(row) or 0.0 for row in mine]
        axes.bar(places, heights, BAR, label=which, color=style.PENS[number]["color"], alpha=0.55 + 0.3 * number)
        for place, height in zip(places, heights, strict=True):
            if height:
                axes.annotate(
                    f"{float(f'{height:.3g}'):g}",
                    (place, height),
                    (0, 1),
                    textcoords="offset points",
                    ha="center",
                    va="bottom",
                    size=7.5,
                )
    axes.margins(y=0.16)
    axes.set_xticks(range(len(conditions)))
    axes.set_xlim(-0.6, len(conditions) - 0.4)
    axes.grid(visible=False, axis="x")
    style.name_axis(axes, vertical=label)
    style.explain_lines(axes)
