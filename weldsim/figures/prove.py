"""The picture of the proofs: for each subsystem, how much of its tolerance every value uses."""

from typing import Any

import matplotlib.ticker
import numpy as np
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer
from weldsim.studies.prove import STATUSES, share, summarised

WIDTH, ROW, EDGES = 9.5, 0.24, 1.25  # [in] of the figure, of a subsystem, above and below
LEAST, MOST = 1e-6, 30.0  # of a tolerance; what is beyond lies at the edge
MARKS = ("o", "s", "D", "^")


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim prove``."""
    rows: list[Any] = answer.rows or []
    summaries = summarised(rows)
    height = EDGES + ROW * max(len(summaries), 1)
    with style.house_look():
        figure = style.blank(WIDTH, height)
        counts = {name: round(number.value) for name, number in answer.numbers.items()}
        below = (
            f"{counts['checks.count']} values from {counts['sources.count']} sources, "
            f"{counts['checks.failed']} beyond tolerance"
        )
        style.write_title(figure, answer.scenario.title, below=below)
        axes = figure.add_axes((0.36, 0.58 / height, 0.62, 1.0 - EDGES / height))
        places = {one.subsystem: -float(k) for k, one in enumerate(summaries)}
        for pen, mark, status in zip(style.PENS, MARKS, STATUSES, strict=False):
            found = [row for row in rows if row["status"] == status]
            if not found:
                continue
            used = np.clip([share(row) for row in found], LEAST, MOST)
            heights = np.array([places[row["subsystem"]] for row in found])
            axes.plot(
                used, heights, linestyle="none", marker=mark, markersize=4.2, markerfacecolor="none",
                markeredgecolor=pen["color"], markeredgewidth=0.8, label=status,
            )  # fmt: skip
        axes.axvline(1.0, **style.HELPER_LINE)
        axes.set_xscale("log")
        axes.set_xlim(0.7 * LEAST, 1.4 * MOST)
        axes.xaxis.set_major_locator(matplotlib.ticker.LogLocator(numticks=12))
        axes.set_ylim(-len(summaries) + 0.4, 0.6)
        axes.set_yticks([places[one.subsystem] for one in summaries])
        axes.set_yticklabels([f"{one.subsystem} ({one.count})" for one in summaries])
        style.name_axis(
            axes, horizontal="deviation over tolerance [1]; less than 1e-6 is drawn there, beyond the line is a failure"
        )
        style.explain_lines(axes, columns=4)
    return figure
