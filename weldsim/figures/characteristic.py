"""The picture of the output characteristic: one volt-ampere line for each dial setting, the load line, the crossings.

Rows of the answer: ``kind`` is "line" (a point of a dial's line, with ``dial`` [1] or None and ``delay`` [deg]),
"crossing" (where that line meets the load line) or "load line"; all have ``current`` [A] and ``voltage`` [V].  Those
of a dial have ``missed``, the share of half cycles that the phase control misses there, or None; a crossing whose
figures do not lie on the load line, since the current comes in pulses, says so in ``on_line``.

A line joins its points on resistors.  Behind a rectifier a crossing stands alone: its load follows the load line at
every instant, and at the same mean current its mean volts are not those of a resistor (0.1 V off at 172 A of the shed,
more where the current ripples more), so that a line led through it would have a kink that no supply has.  The crossing
of an alternating output is a point on a resistor.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer

Row = Mapping[str, Any]
FAR = 2.0  # times the highest volts


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim characteristic``."""
    rows = answer.rows or []
    lines: dict[float | None, list[Row]] = {}
    for row in rows:
        if row["kind"] in ("line", "crossing"):
            lines.setdefault(row.get("dial"), []).append(row)
    with style.house_look():
        figure = style.blank(7.5, 5.2)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below=_subtitle(answer, rows),
        )
        axes = figure.add_axes((0.09, 0.105, 0.70, 0.78))
        for number, dial in enumerate(sorted(lines, key=lambda dial: -(dial or 0.0))):
            _draw_dial(axes, lines[dial], number=number, through_crossings=not _is_direct(answer))
        if not _is_far_below(rows):
            _draw_load_line(axes, [row for row in rows if row["kind"] == "load line"])
        axes.set_xlim(left=0.0)
        axes.set_ylim(bottom=0.0)
        style.name_axis(axes, vertical="output voltage [V]", horizontal="output current [A]")
        axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.01), borderaxespad=0.0)
    return figure


def _subtitle(answer: Answer, rows: Sequence[Row]) -> str:
    """What is drawn and what its marks mean, as far as they occur."""
    marks = ["dots: crossings of the load line"]
    if _is_far_below(rows):
        marks = [f"the load line begins at {min(_volts(rows, 'load line')):g} V, far above"]
    if any(not row.get("on_line", True) for row in rows):
        marks.append("crosses: in pulses, off it")
    if any(row.get("missed") for row in rows):
        marks.append("hollow: misfiring")
    return "; ".join([f"{'means' if _is_direct(answer) else 'rms values'} at the load", *marks])


def _is_direct(answer: Answer) -> bool:
    return getattr(answer.scenario, "rectifier", None) is not None


def _volts(rows: Sequence[Row], *kinds: str) -> list[float]:
    return [row["voltage"] for row in rows if row["kind"] in kinds]


def _is_far_below(rows: Sequence[Row]) -> bool:
    """Whether all volts lie so far below the load line that, drawn with it, they would lie on the axis."""
    asked, given = _volts(rows, "load line"), _volts(rows, "line", "crossing")
    return bool(asked) and min(asked) > FAR * max(given, default=0.0)


def _draw_dial(axes: Axes, rows: Sequence[Row], *, number: int, through_crossings: bool) -> None:
    """The line of one dial setting from open to short, with its crossings as dots, hollow where the device misfires.

    In the order of the load's resistance, volts over amps: where the device misfires on some loads, current is none.
    """
    good = [row for row in rows if row.get("on_line", True)]
    ordered = sorted(good, key=lambda row: -row["voltage"] / max(row["current"], 1e-9))
    joined = [row for row in ordered if through_crossings or row["kind"] == "line"]
    look, first = style.pen(number), rows[0]
    label = "output" if first.get("dial") is None else f"dial {100.0 * first['dial']:.3g} %"
    if first.get("delay") is not None:
        label += f", {first['delay']:.0f}°"
    axes.plot([row["current"] for row in joined], [row["voltage"] for row in joined], label=label, **look)
    for row in (row for row in rows if not row.get("on_line", True)):
        axes.plot(
            [row["current"]],
            [row["voltage"]],
            color=look["color"],
            marker="X",
            markersize=7.0,
            zorder=3.0,
            clip_on=False,
        )
    sound = [row for row in ordered if row["kind"] == "crossing" and not row.get("missed")]
    _dots(axes, sound, inside=look["color"], edge=look["color"])
    _dots(axes, [row for row in ordered if row.get("missed")], inside="white", edge=look["color"])


def _dots(axes: Axes, rows: Sequence[Row], *, inside: str, edge: str) -> None:
    """A dot at each of these points; nothing where there are none."""
    if rows:
        amps, volts = [row["current"] for row in rows], [row["voltage"] for row in rows]
        axes.scatter(amps, volts, s=25.0, color=inside, edgecolors=edge, linewidths=1.2, zorder=3.0)


def _draw_load_line(axes: Axes, rows: Sequence[Row]) -> None:
    """The conventional load line, thin and grey, under the others."""
    if rows:
        ordered = sorted(rows, key=lambda row: row["current"])
        axes.plot(
            [row["current"] for row in ordered],
            [row["voltage"] for row in ordered],
            label="load line",
            zorder=1.8,
            color=style.HELPER_LINE["color"],
            linewidth=1.6,
        )
