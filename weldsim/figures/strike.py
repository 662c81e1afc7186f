"""The picture of a strike study: how soon the trials struck, and how many touches they took, case beside case."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.studies.answer import Answer

NAMES = {"with_boost": "with the boost", "without_boost": "without the boost"}


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim strike``."""
    rows: Sequence[Mapping[str, Any]] = answer.rows or []
    cases = list(dict.fromkeys(row["case"] for row in rows))
    with style.house_look():
        figure = style.blank(7.5, 5.6)
        told = ", ".join(f"{NAMES.get(case, case)} {sum(row['struck'] for row in rows if row['case'] == case)} of "
                         f"{sum(row['case'] == case for row in rows)} struck" for case in cases)  # fmt: skip
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=told)
        struck = figure.add_axes((0.11, 0.57, 0.86, 0.31))
        touches = figure.add_axes((0.11, 0.09, 0.86, 0.34))
        for number, case in enumerate(cases):
            mine = [row for row in rows if row["case"] == case]
            times = np.sort([row["time_to_arc"] for row in mine if row["struck"]])
            share = 100.0 * np.arange(len(times) + 1) / max(len(mine), 1)
            struck.step(
                [0.0, *times, 1.5], [*share, share[-1]], where="post", label=NAMES.get(case, case), **style.pen(number)
            )
            share = 100.0 * (np.arange(len(mine)) + 1) / max(len(mine), 1)
            touches.step(np.sort([row["touches"] for row in mine]), share, where="post", **style.pen(number))
        struck.set_xlim(0.0, 1.5)
        struck.set_ylim(0.0, 103.0)
        touches.set_ylim(0.0, 103.0)
        touches.set_xlim(left=0.0)
        style.name_axis(struck, vertical="struck, of 100", horizontal="time from the trigger to the stable arc [s]")
        style.name_axis(touches, vertical="of 100 trials", horizontal="touches of the wire, at most")
        style.explain_lines(struck)
    return figure
