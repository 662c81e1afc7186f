"""perform(scenario, ...) -> Run: where file, network and engine meet.

``record`` gives the studies the exact pieces beside the Run.
"""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from weldsim import __version__
from weldsim.engine.kept import is_compiled_already
from weldsim.engine.trace import Integrals, Trace
from weldsim.frozen import dataclass
from weldsim.runs.asked import check_lengths, check_start
from weldsim.runs.commands import with_dial
from weldsim.runs.generator_runs import settle_fed
from weldsim.runs.run import Ledger, Run, Table, stamp
from weldsim.runs.steady import Settled
from weldsim.runs.supply import Supply, supply_of
from weldsim.runs.under_way import UnderWay, begin_run
from weldsim.scenario.document import Scenario, check_is_read

SAMPLES_PER_PERIOD = 400  # 50 us at 50 Hz


@dataclass(frozen=True)
class Recording:
    """A Run with the exact pieces behind it, and the integrals over its window.

    ``origin`` is the mains clock at the run's time zero [s].
    """

    run: Run
    trace: Trace
    integrals: Integrals
    supply: Supply
    delay: float | None
    settled: Settled | None
    origin: float

    @property
    def window(self) -> tuple[float, float]:
        """The window on the mains clock [s]."""
        return self.origin + self.run.window[0], self.origin + self.run.window[1]


def must_compile() -> bool:
    """Whether the first run has to make machine code of the solver."""
    return not is_compiled_already()


def perform(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    start: str = "rest",
    duration: float | None = None,
    window: float | None = None,
    sample_interval: float | None = None,
    signals: Sequence[str] | None = None,
) -> Run:
    """Simulate a scenario and record it.

    Parameters
    ----------
    scenario : Scenario
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.
    start : str
        "rest" (record from switch-on) or "steady" (settle first).
    duration, window : float or None
        Length, and its last part, of which table and ledger speak [s].
    sample_interval : float or None
        From sample to sample [s]; 400 samples a mains period by default.
    signals : sequence of str or None
        Waveforms to record; None: all.

    Returns
    -------
    Run : ``run["output.current"]`` and ``run.time`` are arrays of equal length [SI]; ``run.table`` holds exact figures.

    Raises
    ------
    WiringError : the parts cannot be joined.
    SimulationError : no consistent mode, or endless switching.
    QuestionError : a setting, a start or a time that cannot be, or a window longer than the duration.
    """
    check_is_read(scenario)
    return record(
        scenario,
        dial=dial,
        delay=delay,
        start=start,
        duration=duration,
        window=window,
        sample_interval=sample_interval,
        signals=signals,
    ).run


def record(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    start: str = "rest",
    duration: float | None = None,
    window: float | None = None,
    sample_interval: float | None = None,
    signals: Sequence[str] | None = None,
    mains_factor: float = 1.0,
    figures: Sequence[str] | None = None,
    keep: float | None = None,
    settled: Settled | None = None,
) -> Recording:
    """As perform, with the exact pieces beside the Run.

    ``mains_factor`` scales the mains voltage (its tolerance).  ``figures`` are the signals whose exact figures are
    wanted; by default those of all signals.  A run of some figures only, without chosen waveforms, has no ledger.
    ``keep`` [s] is how much of the end stays in memory.  ``settled`` is a state to go on from, found before with the
    same setting.
    """
    scenario = with_dial(scenario, dial)
    supply = supply_of(scenario)
    asked, spacing = supply.delay(dial, delay), sample_spacing(supply, sample_interval)
    settled = settled_start(supply, start, delay=asked, mains_factor=mains_factor, found=settled)
    going = begin_run(supply, delay=asked, settled=settled, duration=duration, window=window, mains_factor=mains_factor)
    span, length, window = (going.begin, going.end), going.length, going.window
    held = length if keep is None else min(length, max(keep, window))
    for _ in going.parts_to(span[1] - held):
        pass  # simulated, and forgotten
    jumps = _advance(going, span[1] - window, span[1])
    trace = going.stepper.trace()
    waves = _waves(trace, span, signals, first=span[1] - held, spacing=spacing)
    integrals = trace.integrals(span[1] - window, span[1])
    names = [signal.name for signal in trace.system.signals] if figures is None else figures
    table = exact_table(trace, names, integrals=integrals, span=(span[1] - window, span[1]))
    energies: Ledger = {}
    if figures is None or signals:
        energies = ledger(trace, integrals, span=(span[1] - window, span[1]), jumps=jumps)
    run = Run(
        scenario=scenario,
        ledger=energies,
        table=table,
        provenance=stamp("perform", weldsim_version=__version__),
        window=(length - window, length),
        **waves,
    )
    return Recording(run, trace, integrals, supply, asked, settled, span[0])


def sample_spacing(supply: Supply, asked: float | None) -> float:
    """Time from sample to sample [s], ``SAMPLES_PER_PERIOD`` where none is asked for."""
    check_lengths(sample_interval=asked)
    return asked or supply.period / SAMPLES_PER_PERIOD


def settled_start(
    supply: Supply, start: str, *, delay: float | None, mains_factor: float = 1.0, found: Settled | None = None
) -> Settled | None:
    """The state that a run begins in: None where that is rest; not settled again where it has been found before."""
    check_start(start)
    if start != "steady" or not supply.periodic:
        return None
    return found or settle_fed(supply, delay=delay, mains_factor=mains_factor)


def _advance(going: UnderWay, begin: float, end: float) -> float:
    """Run to the end; returns the energy that jumps of the state took away within the window [J]."""
    going.run_to(begin)
    before = float(going.stepper.account[0])
    going.run_to(end)
    return float(going.stepper.account[0]) - before


def _waves(
    trace: Trace, span: tuple[float, float], signals: Sequence[str] | None, *, first: float, spacing: float
) -> dict[str, Any]:
    """Samples from ``first`` on, units, labels and switch log; time counts from the beginning of the span."""
    origin, known = span[0], {signal.name: signal for signal in trace.system.signals}
    names = list(signals) if signals is not None else list(known)
    skipped = math.ceil((first - origin) / spacing - 1e-9)
    count = math.floor((span[1] - origin) / spacing + 1e-6) + 1 - skipped
    values = trace.sample(names, origin + skipped * spacing, spacing=spacing, count=count)
    return {
        "time": (skipped + np.arange(count)) * spacing,
        "signals": dict(zip(names, values, strict=True)),
        "units": {name: known[name].unit for name in names},
        "labels": {name: known[name].label for name in names},
        "events": trace.changes(origin),
    }


def exact_table(trace: Trace, names: Sequence[str], *, integrals: Integrals, span: tuple[float, float]) -> Table:
    """Mean, rms, least and largest value of signals over a span, from the exact solution."""
    values, _ = trace.extremes(names, *span)
    integrals.prepare_squares(names)
    units = {signal.name: signal.unit for signal in trace.system.signals}
    table: Table = {}
    for name, (least, largest) in zip(names, values, strict=True):
        unit = units[name]
        table |= {
            f"{name}.mean": (integrals.mean(name), unit),
            f"{name}.rms": (integrals.rms(name), unit),
            f"{name}.min": (float(least), unit),
            f"{name}.max": (float(largest), unit),
        }
    return table


def ledger(trace: Trace, integrals: Integrals, *, span: tuple[float, float], jumps: float = 0.0) -> Ledger:
    """Energy ledger of a span [J]: every part by its own voltage and current; what does not close is the residual."""
    energies = integrals.energies()
    states = len(trace.system.states)
    stored = [sum(trace.system.stored_energy(state[:states]).values()) for state in trace.states_at(span)]
    result: Ledger = {}
    for role, lines in energies.items():
        for part, energy in lines.items():
            entry = result.setdefault(part, {})
            assert isinstance(entry, dict)
            entry[role] = energy
    if jumps:
        result["jumps of state"] = {"loss": jumps}
    spent = sum(energies["loss"].values()) + sum(energies["load"].values()) + jumps
    result["stored"] = stored[1] - stored[0]
    result["residual"] = sum(energies["source"].values()) - spent - (stored[1] - stored[0])
    return result
