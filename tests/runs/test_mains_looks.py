"""What the mains sees of a supply, against closed forms, and of neighbours in a sweep."""

import math

import numpy as np
import pytest

import weldsim
from weldsim.runs.mains_looks import (
    WindowLooks,
    lines_of,
    power_of,
    reference_plug,
    settled_look,
    source_lines,
    swept,
)
from weldsim.runs.perform import record
from weldsim.runs.steady import settle
from weldsim.runs.supply import supply_of

BENCH = ("toroid_shed", "garage_60hz", "toroid_shed_boost")


@pytest.mark.parametrize("name", BENCH)
def test_figures_are_those_of_the_recording(name):
    """Rms, powers and mean are the exact integrals of a recording of the same settled state (1e-7, dents of 25 ns)."""
    scenario = weldsim.read(name)
    look, recording = settled_look(supply_of(scenario), dial=0.5), record(scenario, dial=0.5, start="steady")
    sums = recording.trace.integrals(*recording.window)
    length = sums.length
    assert look.rms == pytest.approx(sums.rms("primary.current"), rel=1e-9)
    assert look.plug_rms == pytest.approx(sums.rms("plug.voltage"), rel=1e-7)
    assert look.source_rms == pytest.approx(sums.rms("mains.voltage"), rel=1e-9)
    assert look.source_power == pytest.approx(sums.product("mains.voltage", "primary.current") / length, rel=1e-7)
    assert look.plug_power == pytest.approx(sums.product("plug.voltage", "primary.current") / length, rel=1e-7)
    assert look.mean == pytest.approx(sums.mean("primary.current"), abs=1e-7 * look.rms)
    peaks, _ = recording.trace.extremes(["primary.current"], *recording.window)
    assert look.peak == pytest.approx(np.abs(peaks).max(), rel=1e-9)


@pytest.mark.parametrize("name", BENCH)
def test_plug_follows_from_the_current(name):
    """The plug's lines are the source's less impedance times current: Ohm's law order by order (1e-8 of the source)."""
    scenario = weldsim.read(name)
    look, mains = settled_look(supply_of(scenario), dial=0.6), scenario.mains
    behind = reference_plug(look, scenario, (mains.resistance, mains.inductance))
    np.testing.assert_allclose(look.plug, behind, atol=1e-8 * mains.voltage)


def test_neighbours_lead_to_the_same_state():
    """Settings settled from their neighbours are those settled from rest, where there is only one state (1e-6)."""
    supply = supply_of(weldsim.read("quarter_kiloamp"))
    settings = [(dial, None) for dial in (0.4, 0.45, 0.5)]
    for look in swept(supply.scenario, settings):
        alone = settled_look(supply, dial=look.dial, orders=40)
        np.testing.assert_allclose(look.current, alone.current, atol=1e-6 * alone.rms)


def test_a_neighbour_saves_periods():
    """From a neighbour's state fewer periods are stepped than from rest."""
    supply = supply_of(weldsim.read("benchmark_a"))
    first = settle(supply, delay=90.0)
    assert settle(supply, delay=92.0, after=first).periods < settle(supply, delay=92.0).periods


def test_windows_of_a_settled_supply():
    """Windows of 200 ms of a settled supply show its harmonics, and nothing between the orders (1e-8)."""
    scenario = weldsim.read("benchmark_a")
    supply = supply_of(scenario)
    look, recording = settled_look(supply, dial=0.5), record(scenario, dial=0.5, start="steady", duration=0.4)
    windows = WindowLooks(scenario)
    windows.add(recording.trace, 0.0)
    windows.add(recording.trace, 0.2)
    both = windows.look(delay=recording.delay)
    assert windows.count == 2
    np.testing.assert_allclose(both.orders("current", 40), look.orders("current", 40), atol=1e-8 * look.rms)
    between = np.delete(both.current[1], np.arange(0, both.current.shape[1], both.periods))
    assert np.abs(between).max() < 1e-8 * look.rms
    assert both.plug_power == pytest.approx(look.plug_power, rel=1e-7)


def test_lines_against_an_independent_transform():
    """Lines of a load with programmed shorts equal a fast Fourier transform (scipy) of 2^17 samples of the window.

    2e-4 of the fundamental: steps of the plug's voltage fall between two samples, 1.5 us apart.
    """
    fft = pytest.importorskip("scipy.fft")
    scenario = weldsim.read("benchmark_c")
    recording = record(scenario, dial=0.5, duration=1.0, window=0.4)
    lines = lines_of(recording.trace, 10, span=(0.6, 0.8), orders=40)
    samples = recording.trace.sample(["primary.current", "plug.voltage"], 0.6, spacing=0.2 / 2**17, count=2**17)
    theirs = 2.0 * fft.rfft(samples, axis=1)[:, :410] / 2**17
    theirs[:, 0] *= 0.5
    for ours, other in zip(lines, theirs, strict=True):
        assert np.abs(ours - other).max() < 2e-4 * np.abs(other).max()


def test_source_lines_and_power():
    """The source's lines are its harmonics: 230 V and 5 % of fifth; in phase with 10 A they make 230 V x 10 A."""
    scenario = weldsim.vary(
        weldsim.read("benchmark_a"), {"mains.background": [{"order": 5, "fraction": 0.05}], "mains.dc_offset": 2.0}
    )
    lines = source_lines(scenario, 10, count=60)
    assert lines[0] == 2.0
    assert lines[[10, 50]] == pytest.approx([-1j * math.sqrt(2) * 230, -0.05j * math.sqrt(2) * 230])
    current = np.zeros(60, complex)
    current[0], current[10] = 1.0, -1j * math.sqrt(2) * 10
    assert power_of(lines, current) == pytest.approx(2302.0)
