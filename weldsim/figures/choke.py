"""The picture of a choke study: rise, peak and starts over the inductance."""

import math

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import NullFormatter

from weldsim.figures import style
from weldsim.studies.answer import Answer


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim choke``."""
    rows = [row for row in answer.rows or [] if row["kind"] == "inductance"]
    milli = 1e3 * np.array([row["inductance"] for row in rows])
    wanted = 1e3 * answer.numbers["wanted.inductance"].value
    with style.house_look():
        figure = style.blank(7.5, 7.2)
        style.write_title(figure, answer.scenario.title or answer.scenario.source, below=_below(answer))
        rise, peak, share = style.stack(figure, 3, left=0.85, right=7.2)
        rise.plot(milli, [1e-3 * row["rise"] for row in rows], marker="o", markersize=4, label="found", **style.pen(0))
        rise.axhline(1e-3 * answer.numbers["wanted.rise"].value, label="wanted", **style.pen(2))
        rise.set_yscale("log")
        rise.yaxis.set_major_formatter("{x:g}")
        style.name_axis(rise, vertical="rise [A/ms]")
        peak.plot(milli, [row["max_current"] for row in rows], label="largest of a short", **style.pen(1))
        peak.plot(milli, [row["peak_current"] for row in rows], label="mean of the shorts", **style.pen(0))
        peak.plot(milli, [row["start_peak"] for row in rows], label="at the start", **style.pen(3))
        peak.set_ylim(bottom=0.0)
        style.name_axis(peak, vertical="peak current [A]")
        share.plot(milli, [100.0 * row["struck"] for row in rows], label="starts that strike", **style.pen(0))
        share.plot(milli, [100.0 * row["extinguished"] for row in rows], label="of the time out", **style.pen(2))
        stubs = [100.0 * row["stubs"] / max(row["dip_rate"] * 2.0, 1.0) for row in rows]
        share.plot(milli, stubs, label="shorts that stub", **style.pen(3))
        share.set_ylim(-3.0, 103.0)
        style.name_axis(share, vertical="of 100", horizontal="inductance, unsaturated [mH]")
        for axes in (rise, peak, share):
            axes.set_xscale("log")
            axes.set_xlim(0.9 * milli[0], 1.1 * milli[-1])
            axes.xaxis.set_minor_formatter(NullFormatter())
            axes.xaxis.set_major_formatter("{x:g}")
            if math.isfinite(wanted):
                axes.axvline(wanted, **style.HELPER_LINE)
            style.explain_lines(axes)
        for axes in (rise, peak):
            axes.tick_params(labelbottom=False)
    return figure


def _below(answer: Answer) -> str:
    wanted, rise = answer.numbers["wanted.inductance"].value, 1e-3 * answer.numbers["wanted.rise"].value
    if not math.isfinite(wanted):
        return f"no inductance of the table gives {rise:.3g} A/ms"
    largest = answer.numbers["wanted.peak_current.max"].value
    return f"{1e3 * wanted:.3g} mH (grey line) give {rise:.3g} A/ms, if they hold up to {largest:.3g} A"
