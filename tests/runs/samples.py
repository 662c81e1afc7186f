"""Small hand-made runs for the tests of this room; nothing in them is simulated."""

import numpy as np

from weldsim.runs.run import Run
from weldsim.scenario.reading import read_text

TEXT = """format = 1
title = "A made-up supply"

[mains]
voltage = "230 V"      # a comment of its writer
frequency = "50 Hz"
"""
NAMES = ("output.voltage", "choke.current", "core.flux_linkage")
UNITS = {"output.voltage": "V", "choke.current": "A", "core.flux_linkage": "V.s"}
LABELS = {"output.voltage": "output voltage", "choke.current": "choke current", "core.flux_linkage": "flux linkage"}
EVENTS = [(0.01, "triac", "off", "on forward"), (0.02, "triac", "on forward", "off"), (0.05, "diode 1", "off", "on")]
LEDGER = {"mains": {"source": 1234.5}, "choke": {"loss": 0.1 + 0.2}, "stored": -3.25, "residual": 1e-9}
TABLE = {"output.current.mean": (127.650056, "A"), "plug.power_factor": (1.0 / 3.0, "1"), "time.to_arc": (np.nan, "s")}
PROVENANCE = {
    "command": "weldsim preview 'my supply.toml' --dial 60%",
    "created": "2026-01-02T03:04:05+00:00",
    "versions": {"weldsim": "0.1.0", "numpy": "2.4.6"},
}


def waves(time):
    """Three signals of unlike size over some times."""
    return {
        "output.voltage": 20 + 5 * np.sin(628 * time),
        "choke.current": 130 + 40 * np.cos(628 * time),
        "core.flux_linkage": 1e-3 * np.sin(314 * time),
    }


def a_run(rows=1001, *, step=1e-4, first=0.0, **changes):
    """A run of ``rows`` samples."""
    time = first + np.arange(rows) * step
    parts = {
        "scenario": read_text(TEXT, "my supply.toml"),
        "time": time,
        "signals": waves(time),
        "units": UNITS,
        "labels": LABELS,
        "events": EVENTS,
        "ledger": LEDGER,
        "table": TABLE,
        "provenance": PROVENANCE,
        "window": (0.06, 0.1),
    }
    return Run(**(parts | changes))
