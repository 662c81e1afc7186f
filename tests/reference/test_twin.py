"""The engine against its twin: benchmark supply, loads A, B and C, three delays, with and without a remanent start.

The twin (``twin.py``) is plain equations under general stiff solvers and imports nothing of weldsim; it is itself
judged in ``test_twin_alone.py``: its own spread is below 1e-11 of full scale, scipy's solvers meet it within 1e-9.
"""

from pathlib import Path

import numpy as np
import pytest

import weldsim
from tests.reference.twin import Case, TwinRun, scheduled, solve
from weldsim.runs.run import Run

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
SIGNALS = [
    "primary.current",
    "core.flux_linkage",
    "core.magnetising_current",
    "secondary.current",
    "rectifier.current",
    "bank.voltage",
    "bank.current",
    "choke.current",
    "output.current",
    "output.voltage",
    "phase_control.voltage",
    "phase_control.current",
]
EXACT = (
    "output.current.mean",
    "output.current.rms",
    "output.voltage.mean",
    "output.voltage.rms",
    "bank.voltage.mean",
    "bank.current.rms",
    "primary.current.rms",
)
# Of full scale.  1e-5 is asked of the engine.  Kept here is what it reaches: an event falls up to one quantum and one
# dead band late, which moves the voltage of the triac just after it let go most of all.
CLOSE = {"phase_control.voltage": 1e-7}
CLOSE_OTHERWISE = 6e-8
EVENT_TIME = 1e-8  # s, as asked; quantum and dead band stay below it


def both(case: Case) -> tuple[TwinRun, Run]:
    """Run one case in the twin and, from the scenario file, in the engine."""
    scenario = weldsim.read(SCENARIOS / f"benchmark_{case.load.lower()}.toml")
    changes = {"start.flux_linkage": f"{case.flux_linkage} V.s", "start.bank_voltage": f"{case.bank_voltage} V"}
    if case.load == "C":
        changes["load.short_start"] = f"{case.short_start} s"
    run = weldsim.perform(
        weldsim.vary(scenario, changes),
        delay=case.delay,
        start="rest",
        duration=case.duration,
        window=case.window or case.duration,
        sample_interval=case.sample_interval,
        signals=SIGNALS,
    )
    return solve(case, tolerance=1e-11), run


def compared(name: str, case: Case, twin: TwinRun) -> np.ndarray:
    """Tell which samples of a signal are compared: none at a jump of it, nor the voltage of a blocked arc."""
    if name == "output.voltage" and case.load != "A":
        jumps = [at for at, what in scheduled(case) if what.startswith("short")]
        allowed = twin["output.current"] > 0.1  # an arc is blocked below 14 mA, where 1 mA of error is 1 V
    elif name in ("phase_control.voltage", "phase_control.current"):
        jumps = [at for at, element, *_ in twin.events if element == "triac"]
        allowed = np.ones(len(twin.time), dtype=bool)
    else:
        return np.ones(len(twin.time), dtype=bool)
    nearest = np.min(np.abs(twin.time[:, None] - np.array(jumps)[None, :]), axis=1, initial=np.inf)
    return allowed & (nearest > 1e-9)


def deviations(case: Case, twin: TwinRun, run: Run) -> dict[str, float]:
    """Give the largest difference of each signal, of its full scale (its largest value in the twin)."""
    result = {}
    for name in SIGNALS:
        kept = compared(name, case, twin)
        scale = np.max(np.abs(twin[name]))
        result[name] = float(np.max(np.abs(run[name] - twin[name])[kept]) / scale)
    return result


def unmatched(times: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Give the times that have no partner among the others."""
    return times[np.min(np.abs(times[:, None] - others[None, :]), axis=1) > EVENT_TIME]


def check(case: Case) -> tuple[TwinRun, Run]:
    """Compare waveforms and switching times of one case; give both for more."""
    twin, run = both(case)
    np.testing.assert_allclose(run.time, twin.time, rtol=0.0, atol=1e-12)
    found = deviations(case, twin, run)
    assert not {name: value for name, value in found.items() if value > CLOSE.get(name, CLOSE_OTHERWISE)}
    planned = [at for at, what in scheduled(case) if at < case.duration and what != "window"]
    in_twin = np.array([event[0] for event in twin.events])
    in_engine = np.array([event[0] for event in run.events])
    assert len(in_twin) > 8 * case.duration / 20e-3  # a diode pair and the triac go on and off in every half cycle
    assert unmatched(in_twin, in_engine).size == 0
    assert unmatched(in_engine, np.concatenate([in_twin, planned])).size == 0
    return twin, run


@pytest.mark.parametrize("flux", [0.0, 0.8])
@pytest.mark.parametrize("delay", [60.0, 90.0, 120.0])
@pytest.mark.parametrize("load", ["A", "B", "C"])
def test_engine_agrees_with_twin(load: str, delay: float, flux: float) -> None:
    """Two cycles from rest, or from +0.8 V.s of remanence: every signal and every switching time agree."""
    check(Case(load=load, delay=delay, flux_linkage=flux, duration=0.04, short_start=0.012))


@pytest.mark.parametrize(("load", "delay", "bank"), [("A", 60.0, 20.0), ("B", 75.0, 25.0)])
def test_engine_agrees_with_twin_on_a_charged_bank(load: str, delay: float, bank: float) -> None:
    """With the bank charged the first peak is the core's own inrush: it agrees too."""
    case = Case(load=load, delay=delay, flux_linkage=0.8, bank_voltage=bank, duration=0.04)
    check(case)


@pytest.mark.slow
@pytest.mark.parametrize("flux", [0.0, 0.8])
@pytest.mark.parametrize(("load", "delay"), [("A", 60.0), ("B", 90.0), ("C", 120.0)])
def test_engine_agrees_with_twin_for_a_second(load: str, delay: float, flux: float) -> None:
    """After one second, some 600 switchings later, the waveforms still agree, and so do the exact figures."""
    case = Case(load=load, delay=delay, flux_linkage=flux, duration=1.0, window=0.2)
    twin, run = check(case)
    for name in EXACT:  # 2e-8: integrals over ten cycles, each event up to some picoseconds late
        assert run.table[name][0] == pytest.approx(twin.figures[name], rel=2e-8), name
    swing = run.table["bank.voltage.max"][0] - run.table["bank.voltage.min"][0]
    # the twin takes extremes from stage points 3 us apart at most: 1e-6 of the swing
    assert swing == pytest.approx(twin.figures["bank.voltage.ripple"], rel=1e-6)
