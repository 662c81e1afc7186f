"""Taps against phase control, side by side over the output current, and both waveforms at the own setting.

Rows of kind "pair": ``output_current`` [A] and, for ``tap_`` and ``dial_`` each, ``ripple``, ``primary_rms`` [A],
``power_factor`` [1], ``trip`` [s].
"""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 10.6, 7.4
PANELS = (
    ("ripple", "output ripple, peak to peak [A]"),
    ("primary_rms", "primary current, rms [A]"),
    ("power_factor", "power factor [1]"),
)
WAYS = (("tap", "taps", "taps"), ("dial", "dial", "phase control"))
WAVES = (("output.current", "output current [A]"), ("primary.current", "primary current [A]"))


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim taps``."""
    rows = sorted(answer.rows or [], key=lambda row: row["output_current"])
    with style.house_look():
        figure = style.blank(WIDTH, HEIGHT)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below="taps on the primary against the dial, at equal output",
        )
        for number, (name, label) in enumerate(PANELS):
            axes = figure.add_axes((0.07 + 0.325 * number, 0.53, 0.255, 0.33))
            for pen, (way, _, words) in enumerate(WAYS):
                axes.plot(
                    [row["output_current"] for row in rows],
                    [row[f"{way}_{name}"] for row in rows],
                    marker=".",
                    label=words,
                    **style.pen(pen),
                )
            axes.set_xlim(left=0.0)
            axes.set_ylim(bottom=0.0)
            style.name_axis(axes, vertical=label, horizontal="output current [A]")
            if number == 0:
                style.explain_lines(axes)
        for number, (name, label) in enumerate(WAVES):
            _draw_waves(figure.add_axes((0.07 + 0.49 * number, 0.09, 0.42, 0.31)), answer, name, label)
    return figure


def _draw_waves(axes: Axes, answer: Answer, name: str, label: str) -> None:
    """One waveform both ways, two mains periods."""
    for pen, (_, run_name, _) in enumerate(WAYS):
        run = answer.runs[run_name]
        axes.plot(1e3 * run.time, run[name], **style.pen(pen))
    run = answer.runs["taps"]
    axes.set_xlim(1e3 * run.time[0], 1e3 * run.time[-1])
    style.name_axis(axes, vertical=label, horizontal="time [ms]")
