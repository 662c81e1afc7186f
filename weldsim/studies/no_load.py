"""Highest volts without load: those of switching on, and those at which a boost has charged what it can in the end."""

from typing import Any

from weldsim.runs.generator_runs import settle_fed
from weldsim.runs.perform import record
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary

FIRST = 1.0  # [s] from rest: the first charge of an empty bank may overshoot
PATIENCE = 60  # periods after which a supply that misfires without load is taken as one that never repeats
SNUBBER = {"phase_control.snubber_resistance": 47.0, "phase_control.snubber_capacitance": 100e-9}  # common practice
SHOWN = 2.0  # periods looked at once settled


def highest_without_load(scenario: Scenario, *, delay: float | None = None, mains_factor: float) -> dict[str, float]:
    """Largest magnitude of the voltages "output" and "bank" without load, and "rms" of the output's [V].

    Looked at are the first second from rest and, with a boost, the settled state as well: through its ballast a boost
    may take a minute to lift a bank.
    """
    bare = vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario
    names = ["output.voltage"] + (["bank.voltage"] if scenario.bank is not None else [])
    looked_at: dict[str, Any] = {"delay": delay, "mains_factor": mains_factor, "signals": names, "figures": names}
    runs = [record(bare, start="rest", duration=FIRST, window=FIRST, sample_interval=0.01, **looked_at).run]
    if scenario.boost is not None:
        supply = supply_of(bare)
        settled = settle_fed(supply, delay=supply.delay(None, delay), mains_factor=mains_factor, patience=PATIENCE)
        span = SHOWN * supply.period
        runs.append(record(bare, start="steady", settled=settled, duration=span, window=span, **looked_at).run)
    found = {
        name.split(".")[0]: max(abs(run.table[f"{name}.{end}"][0]) for run in runs for end in ("min", "max"))
        for name in names
    }
    return found | {"rms": max(run.table["output.voltage.rms"][0] for run in runs)}
