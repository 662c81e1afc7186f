"""The picture of a press drill: the largest peak of each press with the breaker's band, and what it started from."""

import math

from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.parts.protection import instantaneous_band
from weldsim.studies.answer import Answer


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim drill``."""
    rows = answer.rows or []
    numbers = [row["number"] for row in rows]
    with style.house_look():
        figure = style.blank(7.5, 6.0)
        style.write_title(
            figure,
            answer.scenario.title or answer.scenario.source,
            below="each press from what the last one left in core and bank",
        )
        peaks, flux, bank = style.stack(figure, 3, left=0.85, right=7.2)
        peaks.bar(numbers, [row["peak"] for row in rows], color=style.PENS[1]["color"], width=0.6)
        breaker = getattr(answer.scenario, "breaker", None)
        band = instantaneous_band(breaker) if breaker is not None else None
        if band is not None:
            peaks.axhspan(math.sqrt(2.0) * band[0], math.sqrt(2.0) * band[1], color="#DDDDDD", zorder=0.2)
            peaks.set_title("grey: the band in which the breaker may trip at once", loc="left", pad=3.0)
        style.name_axis(peaks, vertical="largest peak [A]")
        flux.bar(numbers, [row["flux_linkage"] for row in rows], color=style.PENS[2]["color"], width=0.6)
        flux.axhline(0.0, **style.HELPER_LINE)
        style.name_axis(flux, vertical="flux left [V s]")
        bank.bar(numbers, [row["bank_voltage"] for row in rows], color=style.PENS[3]["color"], width=0.6)
        style.name_axis(bank, vertical="bank [V]", horizontal="press")
    return figure
