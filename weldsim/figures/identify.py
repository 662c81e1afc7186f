"""The picture of readings on the bench: amperes without load against volts, the magnetising curve, one cycle at idle.

Rows of kind "corner": ``flux_linkage`` [V s], ``current`` [A], ``told_by``; the readings stand in the scenario, the run
"window" is that without load next to the mains voltage.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weldsim.figures import style
from weldsim.parts.bench_tests import effective_current
from weldsim.runs.run import Run
from weldsim.studies.answer import Answer

WIDTH, HEIGHT = 10.4, 6.2
LOOKED_AT = 120  # volts at which the line through the readings is worked out
CYCLES = 2.0  # of the mains, of the current at idle
DECIDING = {  # values of a transformer that decide its output, its presses and its heat, in short words
    "transformer.ratio": "ratio",
    "short_circuit.resistance": "resistance",
    "short_circuit.inductance": "leakage",
    "core.magnetising_inductance": "magnetising",
    "core.saturation_flux_linkage": "saturation",
    "switch_on.flux_linkage": "flux kept",
    "cooling.winding_to_air": "way to the air",
}


def draw(answer: Answer) -> Figure:
    """The picture of ``weldsim identify``."""
    scenario: Any = answer.scenario
    rows = {kind: [row for row in answer.rows or () if row["kind"] == kind] for kind in ("corner", "bias")}
    transformer = bool(rows["corner"])
    height = HEIGHT if transformer else 0.55 * HEIGHT
    with style.house_look():
        figure = style.blank(WIDTH, height)
        below = "the values found, from readings on the bench"
        if transformer:
            below = f"ratio {answer.numbers['transformer.ratio'].value:.4g}; readings at the primary with their doubt"
        style.write_title(figure, scenario.title or scenario.source, below=below)

        def place(left: float, row: int) -> Axes:
            return figure.add_axes((left, (0.55 + 2.85 * row) / height, 0.38, 1.95 / height))

        if transformer:
            _draw_readings(place(0.075, 1), scenario, *_without_load(answer, rows["corner"]))
            _draw_curve(place(0.595, 1), scenario, rows["corner"])
            _draw_idle(place(0.075, 0), answer.runs["window"], scenario)
        if rows["bias"]:
            _draw_choke(place(0.595, 0), rows["bias"])
        if not (transformer and rows["bias"]):
            _draw_doubts(place(0.595 if transformer else 0.15, 0), answer, few=not transformer)
    return figure


def _draw_choke(axes: Axes, rows: Sequence[Mapping[str, Any]]) -> None:
    """Inductance of the choke against its current."""
    amps, millihenries = [row["current"] for row in rows], [1e3 * row["inductance"] for row in rows]
    axes.plot(amps, millihenries, marker="o", markersize=3.5, label="choke, from its readings", **style.pen(1))
    axes.set_xlim(0.0, 1.05 * amps[-1] or 1.0)
    axes.set_ylim(0.0, 1.1 * max(millihenries) or 1.0)
    style.name_axis(axes, vertical="inductance [mH]", horizontal="current [A]")
    style.explain_lines(axes)


def _draw_doubts(axes: Axes, answer: Answer, *, few: bool) -> None:
    """How far each value may be off, as a share of it; of a transformer those that decide its output."""
    names = [name for name in answer.numbers if not name.endswith((".low", ".high"))]
    shown = [name for name in names if few or name in DECIDING]
    for place, name in enumerate(shown):
        value, low, high = (answer.numbers[one].value for one in (name, f"{name}.low", f"{name}.high"))
        ends = [[100.0 * (value - low) / value], [100.0 * (high - value) / value]] if value else [[0.0], [0.0]]
        axes.errorbar([0.0], [place], xerr=ends, fmt="o", color=style.PENS[0]["color"], markersize=4.0, capsize=3.0)
    axes.set_yticks(range(len(shown)), [DECIDING.get(name, name.replace(".", " ").replace("_", " ")) for name in shown])
    axes.set_ylim(len(shown) - 0.5, -0.5)
    axes.axvline(0.0, **style.HELPER_LINE)
    axes.set_xlabel("may be off by [%]")


def _without_load(answer: Answer, corners: Sequence[Mapping[str, Any]]) -> tuple[list[float], list[float]]:
    """Volts at the primary, and the amperes that the values found take there, the drop in the winding as a sine's."""
    scenario: Any = answer.scenario
    curve = [(row["flux_linkage"], row["current"]) for row in corners]
    elements = [(row["current"], row["flux_linkage"]) for row in answer.rows or () if row["kind"] == "friction"]
    omega = 2.0 * math.pi * scenario.mains.frequency
    names = ("core.loss_resistance", "transformer.primary_resistance", "transformer.primary_leakage_inductance")
    loss, resistance, leakage = (answer.numbers[name].value if name in answer.numbers else 0.0 for name in names)
    volts, amps = [], []
    for inner in np.linspace(0.02, 1.05, LOOKED_AT) * scenario.readings.no_load[-1].voltage:
        working = inner / loss if loss else 0.0
        flux = math.sqrt(2.0) * inner / omega
        amps.append(effective_current(curve, flux, elements=elements, working=working))
        current = complex(working, -math.sqrt(max(amps[-1] ** 2 - working**2, 0.0)))
        volts.append(abs(inner + complex(resistance, omega * leakage) * current))
    return volts, amps


def _draw_readings(axes: Axes, scenario: Any, volts: Sequence[float], amps: Sequence[float]) -> None:
    """Amperes against volts: the readings, and what the values found give."""
    readings, rows = scenario.readings, scenario.readings.no_load
    axes.plot(volts, amps, label="values found", **style.pen(1))
    read = [row.voltage for row in rows], [row.current for row in rows]
    doubts = [[readings.voltage_doubt * one for one in read[0]], [readings.current_doubt * one for one in read[1]]]
    look = {"fmt": "o", "color": style.PENS[0]["color"], "markersize": 4.0, "capsize": 2.5, "label": "read"}
    axes.errorbar(*read, xerr=doubts[0], yerr=doubts[1], **look)
    _mark_mains(axes, scenario.mains.voltage)
    axes.set_xlim(0.0, 1.08 * rows[-1].voltage)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="primary current, rms [A]", horizontal="voltage [V]")
    style.keep_marks_short(axes)
    style.explain_lines(axes)


def _mark_mains(axes: Axes, volts: float) -> None:
    """A line at the mains voltage."""
    axes.axvline(volts, **style.HELPER_LINE)
    axes.text(volts, 0.04, "mains ", transform=axes.get_xaxis_transform(), ha="right", fontsize="small")


def _draw_curve(axes: Axes, scenario: Any, corners: Sequence[Mapping[str, Any]]) -> None:
    """Flux linkage against current, corner by corner; what was assumed is broken."""
    read = [row for row in corners if row["told_by"] == "reading"]
    beyond = [row for row in corners if row["told_by"] != "reading"]
    for rows, words, number in (
        ([{"current": 0.0, "flux_linkage": 0.0}, *read], "from readings", 0),
        (read[-1:] + beyond, "assumed", 2),
    ):
        amps, fluxes = [row["current"] for row in rows], [row["flux_linkage"] for row in rows]
        axes.plot(amps, fluxes, marker="o", markersize=3.5, label=words, **style.pen(number))
    omega = 2.0 * math.pi * scenario.mains.frequency
    for factor, words in ((1.0, "mains"), (1.1, "mains +10 %")):
        flux = factor * math.sqrt(2.0) * scenario.mains.voltage / omega
        axes.axhline(flux, **style.HELPER_LINE)
        axes.text(0.99, flux, words, transform=axes.get_yaxis_transform(), ha="right", va="bottom", fontsize="small")
    axes.set_xlim(left=0.0)
    axes.set_ylim(bottom=0.0)
    style.name_axis(axes, vertical="flux linkage, peak [V s]", horizontal="magnetising current, peak [A]")
    style.explain_lines(axes)


def _draw_idle(axes: Axes, run: Run, scenario: Any) -> None:
    """The current of the primary without load, and how the mains voltage lies to it."""
    end = float(run.time[-1])
    shown = run.between(max(0.0, end - CYCLES / scenario.mains.frequency), end)
    times = 1e3 * (shown.time - shown.time[0])
    amps, volts = shown["primary.current"], shown["mains.voltage"]
    top = float(np.abs(amps).max()) or 1.0
    axes.plot(times, amps, label="primary current", **style.pen(0))
    scaled = volts / float(np.abs(volts).max()) * top
    axes.plot(times, scaled, label="mains voltage, not to scale", **style.pen(5))
    axes.axhline(0.0, **style.HELPER_LINE)
    axes.set_xlim(times[0], times[-1])
    style.name_axis(axes, vertical="current [A]", horizontal=f"time at {run.table['mains.voltage.rms'][0]:.4g} V [ms]")
    style.keep_marks_short(axes)
    style.explain_lines(axes)
