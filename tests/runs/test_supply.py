"""A supply made ready to run: what its scenarios share, the mains' tolerance, and where on the mains it begins."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import weldsim
from weldsim.runs.perform import record
from weldsim.runs.supply import SUPPLIES_KEPT, Supply, supply_of

SQRT2 = np.sqrt(2.0)


def plain_source(**changes):
    """A resistor of 10 ohm straight on the mains."""
    parts = dict.fromkeys(
        ("phase_control", "transformer", "core", "rectifier", "bank", "choke", "weld_leads"), "absent"
    )
    load = {"load": {"kind": "resistor", "resistance": "10 ohm"}}
    return weldsim.vary(weldsim.read("benchmark_a"), parts | load | changes)


@pytest.mark.parametrize(
    "change",
    [
        {"phase_control.dial": "70 %"},
        {"phase_control.pulse_width": "200 us", "phase_control.asymmetry": "1 deg"},
        {"phase_control.delay_at_0": "150 deg", "title": "another", "start.mains_phase": "90 deg"},
        {"breaker": {"curve": "C", "current": "16 A"}},
    ],
)
def test_dials_share_one_library(change):
    """Scenarios that differ in dial, timing of the gate, start or breaker have their modes assembled once."""
    scenario = weldsim.read("benchmark_b")
    first = supply_of(scenario)
    other = supply_of(weldsim.vary(scenario, change))

    assert other.library is first.library
    assert first.scenario is not other.scenario


def test_a_shared_library_changes_no_figure():
    """A dial that finds its modes assembled by another dial gives what it gives alone, to the last digits."""
    scenario = weldsim.read("benchmark_b")
    other = weldsim.vary(scenario, {"phase_control.dial": "70 %", "phase_control.pulse_width": "200 us"})
    record(scenario, start="rest", duration=0.1)
    shared, alone = supply_of(other), Supply(other)
    ends = []
    for supply in (shared, alone):
        stepper = supply.from_rest(0.1, delay=supply.delay())
        stepper.run_to(0.1)
        ends.append(stepper.x[: len(supply.system.states)])

    assert shared.library is supply_of(scenario).library
    np.testing.assert_allclose(*ends, rtol=1e-12, atol=1e-12)  # the same products in the same order


@pytest.mark.parametrize(
    "change", [{"choke.inductance": "0.4 mH"}, {"load": "absent"}, {"mains.frequency": "60 Hz"}, {"bank.cans": 4}]
)
def test_other_parts_have_their_own_library(change):
    """A change of what enters the network is wired anew."""
    scenario = weldsim.read("benchmark_b")

    assert supply_of(weldsim.vary(scenario, change)).library is not supply_of(scenario).library


def test_the_setting_is_each_scenario_s_own():
    """Scenarios that share a library keep their own dial: 170 to 10 degrees, so 70 % asks for 58 degrees."""
    scenario = weldsim.read("benchmark_b")
    other = weldsim.vary(scenario, {"phase_control.dial": "70 %"})

    assert supply_of(scenario).delay() == pytest.approx(90.0, abs=1e-12)  # 170 - 0.5 x 160, rounding only
    assert supply_of(other).delay() == pytest.approx(58.0, abs=1e-12)  # 170 - 0.7 x 160
    assert supply_of(scenario).delay(dial=1.0) == pytest.approx(10.0, abs=1e-12)
    assert supply_of(scenario).delay(0.3, 75.0) == 75.0  # a delay given outright wins


def test_the_start_is_each_scenario_s_own():
    """A charged start does not linger in the library that a scenario with an empty one shares, nor the other way."""
    scenario = weldsim.read("benchmark_b")
    charged = weldsim.vary(scenario, {"start": {"flux_linkage": "0.5 V.s", "bank_voltage": "10 V"}})
    first, second = supply_of(charged), supply_of(scenario)
    flux, bank = (first.system.states.index(name) for name in ("core.flux_linkage", "bank.voltage"))
    first.rest()[0][:] = 99.0  # what a caller does to his copy is his own affair

    assert second.library is first.library
    assert (first.rest()[0][flux], first.rest()[0][bank]) == (0.5, 10.0)
    assert not second.rest()[0].any()


def test_a_remanence_is_flux_in_every_turn():
    """0.8 T left in the toroid's 55 cm2 are 130 x 55e-4 m2 x 0.8 T = 0.572 V.s of the primary (rounding: 1e-12)."""
    supply = supply_of(weldsim.vary(weldsim.read("toroid_shed"), {"start": {"remanence": "0.8 T"}}))

    assert supply.rest()[0][supply.system.states.index("core.flux_linkage")] == pytest.approx(0.572, rel=1e-12)


def test_only_a_few_supplies_are_kept():
    """The oldest supply is given up when more than six have been asked for, so sweeps of parts take no more memory."""
    scenario = weldsim.read("benchmark_b")
    first = supply_of(scenario)
    for k in range(SUPPLIES_KEPT):
        supply_of(weldsim.vary(scenario, {"choke.resistance": f"{k + 6} mohm"}))

    assert supply_of(scenario).library is not first.library


def test_threads_share_no_supply():
    """Eight runs of one supply with a diac, on four threads at once, give the figure of a run alone, to the bit.

    A library of modes that two threads step is torn: one gave no output, or a combination that does not exist.
    """
    scenario = weldsim.read("school_spot")

    def mean(_job: int) -> float:
        return record(scenario, start="steady", figures=["output.current"]).run.figure("output.current.mean")

    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(mean, range(8)))
        theirs = list(pool.map(lambda _: supply_of(scenario), range(8)))
    assert set(together) == {mean(0)}
    assert all(supply.library is not supply_of(scenario).library for supply in theirs)


@pytest.mark.parametrize(
    ("name", "start"), [("benchmark_a", "rest"), ("benchmark_b", "steady"), ("benchmark_c", "rest")]
)
def test_a_mains_factor_is_another_mains_voltage(name, start):
    """Figures at mains x 1.1 by the factor, which shares the modes, equal those of a scenario with 253 V."""
    scenario = weldsim.read(name)
    higher = weldsim.vary(scenario, {"mains.voltage": 1.1 * scenario.mains.voltage})
    ours = record(scenario, start=start, duration=0.3, mains_factor=1.1).run
    theirs = record(higher, start=start, duration=0.3).run
    plain = record(scenario, start=start, duration=0.3).run

    assert plain.figure("output.current.mean") < 0.95 * ours.figure("output.current.mean")
    for name in ("mains.voltage", "primary.current", "bank.voltage", "output.current", "core.flux_linkage"):
        scale = theirs.figure(f"{name}.rms")
        for statistic in ("mean", "rms", "min", "max"):
            figure = f"{name}.{statistic}"
            # 1e-9 of its rms: the same equations, only rounded and switched on other quanta
            assert ours.figure(figure) == pytest.approx(theirs.figure(figure), abs=1e-9 * scale), figure


@pytest.mark.parametrize("phase", [0.0, 30.0, 90.0, 200.0])
def test_a_run_begins_at_its_phase_of_the_mains(phase):
    """From rest the source starts at 230 sqrt 2 sin(phase), rising as the sine does there; time counts from zero."""
    scenario = plain_source(start={"mains_phase": f"{phase} deg"})
    recording = record(scenario, start="rest", duration=0.02, sample_interval=1e-4)
    run, angle = recording.run, np.radians(phase) + 100.0 * np.pi * np.arange(201) * 1e-4

    assert run.time[0] == 0.0
    assert recording.origin == pytest.approx(phase / 360.0 * 0.02, abs=1e-11)  # a quantum of 6 ps
    np.testing.assert_allclose(run["mains.voltage"], 230.0 * SQRT2 * np.sin(angle), rtol=0, atol=1e-6)  # 6 ps x 1e5 V/s


def test_the_gate_keeps_to_the_mains_clock():
    """A start at 200 degrees with a delay of 90 fires first at 270 degrees: 70 degrees after the run began."""
    scenario = weldsim.vary(weldsim.read("benchmark_a"), {"start": {"mains_phase": "200 deg"}})
    events = record(scenario, delay=90.0, start="rest", duration=0.02).run.events
    fired = [time for time, element, left, _ in events if element == "phase_control"]

    assert fired[0] == pytest.approx(70.0 / 360.0 * 0.02, abs=1e-10)  # 6 ps for begin, command and clock each


def test_a_load_with_its_own_timing_is_not_periodic():
    """Programmed shorts do not repeat with the mains; all other loads, and none, do."""
    names = {name: Supply(weldsim.read(name)).periodic for name in ("benchmark_a", "benchmark_b", "benchmark_c")}

    assert names == {"benchmark_a": True, "benchmark_b": True, "benchmark_c": False}
    assert Supply(weldsim.vary(weldsim.read("benchmark_c"), {"load": "absent"})).periodic
