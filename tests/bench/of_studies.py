"""How long the studies take at the size people ask for; each once, with its modes assembled on the way."""

from collections.abc import Callable

import numpy as np

import weldsim
from tests.bench.measuring import SCENARIOS, Size, line, once
from weldsim.analysis.flicker import Flickermeter, SensationClasses
from weldsim.runs.weld_runs import mean_squares, weld_parts
from weldsim.studies.operating import operate, with_load

TEN_MINUTES = 600.0  # [s] that a short-term severity is counted over
TICKS_PER_MEAN = 5  # process ticks in one mean square: 2000 means a second at 50 Hz
DIPS = 0.4  # of the dial, where the boosted shed makes some 47 dips a second; at 60 % it burns a long arc


def presses(size: Size) -> int:
    """Random trigger presses with their trips, without the remedies."""
    count = size.of(1000, 3)
    weldsim.inrush(weldsim.read(SCENARIOS / "toroid_shed.toml"), presses=count, remedies=False, workers=1)
    return count


def strikes(size: Size) -> int:
    """Strikes at one setting."""
    count = size.of(100, 2)
    weldsim.strike(weldsim.read(SCENARIOS / "toroid_shed_boost.toml"), dial=0.4, trials=count)
    return count


def dial_settings(size: Size) -> int:
    """Settled settings of the dial, each with its exact figures."""
    count = size.of(40, 2)
    scenario = weldsim.read(SCENARIOS / "toroid_shed.toml")
    for dial in np.linspace(0.1, 1.0, count):
        operate(with_load(scenario, {"load.kind": "load line", "load.process": "MIG"}), dial=float(dial))
    return count


def volt_ampere_map(size: Size) -> int:
    """Dial settings by resistors from nearly short to nearly open, settled at each."""
    dials, loads = size.of(41, 2), size.of(25, 2)
    scenario = weldsim.read(SCENARIOS / "toroid_shed.toml")
    for resistance in np.geomspace(0.005, 10.0, loads):
        loaded = with_load(scenario, {"load.kind": "resistor", "load.resistance": float(resistance)})
        for dial in np.linspace(0.1, 1.0, dials):
            operate(loaded, dial=float(dial))
    return dials * loads


def flicker(size: Size) -> int:
    """Seconds of dip transfer simulated outright, through the flickermeter at the plug as they come."""
    seconds = size.of(int(TEN_MINUTES), 2)
    scenario = weldsim.read(SCENARIOS / "toroid_shed_boost.toml")
    meter, classes = Flickermeter("230 V 50 Hz", rate=2000.0, start=230.0), SensationClasses()
    for means in mean_squares(weld_parts(scenario, seconds=seconds, dial=DIPS), ticks=TICKS_PER_MEAN):
        classes.add(meter.feed_mean_squares(means))
    assert classes.short_term_severity() > 0.0
    return seconds


STUDIES: dict[str, Callable[[Size], int]] = {
    "trigger presses": presses,
    "strikes": strikes,
    "dial settings": dial_settings,
    "points of a volt-ampere map": volt_ampere_map,
    "seconds of welding through the flickermeter": flicker,
}


def studies(size: Size) -> dict:
    """CPU and wall seconds of each, and how many of its things it did."""
    found = {}
    for name, work in STUDIES.items():
        counts: list[int] = []
        spent = once(lambda work=work, counts=counts: counts.append(work(size)))
        found[name] = {"count": counts[0], **spent}
    return found


def studies_lines(found: dict) -> list[str]:
    """Seconds, and milliseconds of CPU for each thing."""
    lines = [line("a study", "CPU s", "wall s", "CPU ms each")]
    for name, row in found.items():
        each = f"{1e3 * row['cpu'] / row['count']:.2f}"
        lines.append(line(f"  {row['count']} {name}", f"{row['cpu']:.2f}", f"{row['wall']:.2f}", each))
    return lines
