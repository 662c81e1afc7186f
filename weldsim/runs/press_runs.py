"""Runs of chosen presses, for pictures.

The waveform of the worst, the median and the best press with the flux beside it.
"""

import numpy as np

from weldsim import __version__
from weldsim.engine.trace import Trace
from weldsim.runs.perform import SAMPLES_PER_PERIOD
from weldsim.runs.presses import Press, Presser, drawn
from weldsim.runs.run import Run, stamp
from weldsim.scenario.document import Scenario

SHOWN = (
    "primary.current",
    "core.flux_linkage",
    "second_core.flux_linkage",
    "mains.voltage",
    "bank.voltage",
    "output.current",
)


def typical_runs(presser: Presser, presses: list[Press], peaks: np.ndarray, *, seed: int) -> dict[str, Run]:
    """Runs of the worst, the median and the best press of a statistic, simulated again."""
    order = np.argsort(peaks, kind="stable")
    chosen = {"worst": order[-1], "median": order[len(order) // 2], "best": order[0]}
    return {
        name: run_of_press(presser.press(presses[k].trial, drawn(seed, presses[k].trial))[1], presser.asked)
        for name, k in chosen.items()
    }


def run_of_press(trace: Trace, scenario: Scenario) -> Run:
    """What was looked at of a press as a Run, time counted from the trigger."""
    begin, end = trace.span
    known = {signal.name: signal for signal in trace.system.signals}
    names = [name for name in SHOWN if name in known]
    spacing = 1.0 / (trace.system.frequency * SAMPLES_PER_PERIOD)
    count = int((end - begin) / spacing) + 1
    values = trace.sample(names, begin, spacing=spacing, count=count)
    return Run(
        scenario,
        np.arange(count) * spacing,
        dict(zip(names, values, strict=True)),
        {name: known[name].unit for name in names},
        {name: known[name].label for name in names},
        trace.changes(begin),
        provenance=stamp("inrush", weldsim_version=__version__),
        window=(0.0, end - begin),
    )
