"""What moves with the voltage of the mains: the figures of a settled setting at -10, 0 and +10 %, and of its output."""

import numpy as np

from weldsim.runs.mains_looks import Look, settled_look
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number
from weldsim.studies.mains_numbers import ORDERS

MAINS_STEPS = (0.9, 1.0, 1.1)  # the spread every verdict states
FLUXES = ("core.flux_linkage", "second_core.flux_linkage")


def of_the_supply(look: Look) -> dict[str, Number]:
    """Output and core, which feel the mains."""
    trace = look.trace
    assert trace is not None
    sums, found = trace.integrals(), {"mains.voltage.mean": Number(float(look.source[0, 0].real), "V")}
    if "output.current" in trace.names:
        direct = "rectifier.current" in trace.names
        value = sums.mean("output.current") if direct else sums.rms("output.current")
        found["output.current"] = Number(value, "A")
    for name in FLUXES:
        if name in trace.names:
            extremes, _ = trace.extremes([name])
            found[f"{name}.mean"] = Number(sums.mean(name), "V.s")
            found[f"{name}.peak"] = Number(float(np.abs(extremes).max()), "V.s")
    return found


def spreads_of(scenario: Scenario, look: Look) -> dict[str, list[float]]:
    """THD of current and plug, even orders, direct current, each order and the flux bias at each mains, same delay."""
    supply, patience = supply_of(scenario), look.patience
    looks = [
        look if step == 1.0 else settled_look(supply, delay=look.delay, mains_factor=step, patience=patience)
        for step in MAINS_STEPS
    ]
    rms, plugs = ([one.orders(name, ORDERS) for one in looks] for name in ("current", "plug"))
    found = {
        "thd": [_over_the_first(one, one[1:]) for one in rms],
        "even": [_over_the_first(one, one[1::2]) for one in rms],
        "plug": [_over_the_first(one, one[1:]) for one in plugs],
        "direct": [abs(one.mean) for one in looks],
    }
    found |= {f"order_{n}": [float(one[n - 1]) for one in rms] for n in range(1, ORDERS + 1)}
    outputs = [of_the_supply(one) for one in looks]
    for name in FLUXES:
        if f"{name}.mean" in outputs[1]:
            found[name] = [one[f"{name}.mean"].value for one in outputs]
    return found


def _over_the_first(rms: np.ndarray, some: np.ndarray) -> float:
    """Some orders together over the fundamental."""
    return float(np.linalg.norm(some) / rms[0]) if rms[0] > 0.0 else np.nan
