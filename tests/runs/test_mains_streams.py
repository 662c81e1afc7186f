"""Streams of minutes at the plug: nothing is missed between chunks, presses and shorts come as asked."""

import itertools

import numpy as np
import pytest

import weldsim
from weldsim.errors import QuestionError
from weldsim.parts.mains import reference_impedance
from weldsim.runs.half_cycles import half_cycles
from weldsim.runs.mains_streams import dip_stream, mean_squares_of, press_stream, short_stream, source_squares
from weldsim.studies.mains_flicker import cell_of, followed

CELL = 1.0 / 1200.0

RESISTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "0.4 ohm"
inductance = "0.25 mH"
[load]
kind = "resistor"
resistance = "{load} ohm"
"""


def test_chunks_join():
    """A weld's chunks follow each other without a gap, from the trigger to the end asked for, on whole windows."""
    stream = dip_stream(weldsim.read("toroid_shed"), seconds=1.1, dial=0.5, delay=None, feed=None, seed=3)
    spans = [(chunk.begin, chunk.end) for chunk in stream.chunks]
    assert all(one[1] == pytest.approx(other[0]) for one, other in itertools.pairwise(spans))
    assert [end for _, end in spans] == pytest.approx(0.2 * np.arange(1, 7))
    assert stream.events > 0


def test_mean_squares_are_those_of_the_trace():
    """Cells of a chunk make the mean square of the plug's voltage; behind its own impedance they are the same.

    1e-7: spans of 25 ns count as straight lines.
    """
    scenario = weldsim.vary(weldsim.read("benchmark_c"), {"mains.resistance": 0.4, "mains.inductance": 0.000795774715})
    stream = short_stream(scenario, seconds=0.4, dial=0.5, delay=None)
    impedance = reference_impedance(50.0)
    for chunk in stream.chunks:
        found = mean_squares_of(stream, chunk, cell=CELL, impedance=impedance)
        sums = chunk.trace.integrals(chunk.begin, chunk.end)
        assert found.shape == (2, 240)
        assert found[0].mean() == pytest.approx(sums.rms("plug.voltage") ** 2, rel=1e-7)
        np.testing.assert_allclose(found[1], found[0], rtol=1e-6, atol=1e-3)


def test_source_squares():
    """The square of a clean source over a period is its rms squared times the period; over half a half period half."""
    scenario = weldsim.read_text(RESISTOR.format(load=10))
    assert source_squares(scenario, np.array([0.0, 0.02]))[0] == pytest.approx(0.02 * 230.0**2, rel=1e-10)
    assert source_squares(scenario, np.array([0.0, 0.005]))[0] == pytest.approx(0.005 * 230.0**2, rel=1e-12)


def test_presses_of_a_resistor():
    """A resistor held for 0.4 s and let go for 1.6 s: the voltage falls by the divider's share.

    230 V behind 0.4 ohm and 0.25 mH on 19.6 ohm: |19.6 / (20 + j 0.0785)| of it stays (voltage divider, 1e-4: the first
    half period after a press is not yet settled); let go it rises to the source's and 2e-6 above, by stored current.
    """
    scenario = weldsim.read_text(RESISTOR.format(load=19.6))
    stream = press_stream(scenario, seconds=6.0, dial=None, delay=None, on=0.4, off=1.6, seed=1, cell=CELL)
    minutes = followed(stream)
    left = abs(19.6 / (20.0 + 2j * np.pi * 50.0 * 0.25e-3))
    assert stream.events == 3
    assert minutes.given.least.min() == pytest.approx(left, abs=1e-4)
    assert minutes.given.changes.d_max == pytest.approx(1.0 - left, abs=1e-4)
    assert minutes.given.most.max() == pytest.approx(1.0, abs=2e-6)
    assert minutes.given.changes.changes == 3  # pressed and let go within the second that rest takes


def test_flicker_of_a_switched_resistor():
    """Presses that change the voltage by 0.894 %, 39 changes a minute, have Pst 1 (published: IEC 61000-4-15, table 5).

    Through scenario, engine and meter. 5 %: the standard's tolerance; the trigger's random phase and the current's zero
    at which it ends move each change by up to a period of 1.54 s.
    """
    share = 0.00894 / (1.0 + 0.5 * 0.00894)
    load = 0.4 * (1.0 - share) / share
    scenario = weldsim.vary(weldsim.read_text(RESISTOR.format(load=load)), {"mains.inductance": 0.0})
    half = 60.0 / 39.0
    stream = press_stream(
        scenario, seconds=240.0, dial=None, delay=None, on=half - 0.005, off=half - 0.005, seed=5, cell=CELL
    )
    minutes = followed(stream)
    assert minutes.given.minutes[1:] == pytest.approx([1.0] * 3, abs=0.05)


def test_presses_fire_with_the_polarity_asked_for():
    """A first firing opposite to the last conduction is that in each of twenty presses; at random half would be."""
    changes = {"soft_start.kind": "first fire", "soft_start.first_delay": 90.0, "soft_start.polarity": "opposite"}
    scenario = weldsim.vary(weldsim.read("toroid_shed"), changes)
    stream = press_stream(scenario, seconds=5.0, dial=0.6, delay=None, on=0.05, off=0.2, seed=1, cell=CELL)
    presses, last = 0, 0
    for chunk in stream.chunks:
        signs = [half.polarity for half in half_cycles(chunk.trace, chunk.begin)]
        if stream.events > presses and signs:
            presses = stream.events
            assert signs[0] == -last or presses == 1
        last = signs[-1] if signs else last
    assert presses >= 20


def test_same_seed_same_weld():
    """One seed gives one weld to the last digit, another seed another; all parts of it differ."""
    scenario = weldsim.read("toroid_shed")

    def weld(seed):
        return followed(dip_stream(scenario, seconds=3.0, dial=0.5, delay=None, feed=None, seed=seed))

    one, again, other = weld(1), weld(1), weld(2)
    assert one.given.pst == again.given.pst != other.given.pst
    assert one.parts == one.distinct == 15
    assert one.stream.events > 5


def test_cells_at_other_frequencies():
    """Twelve cells to a half period at 50 Hz, ten at 60 Hz; a mains of 49 Hz counts as 50 Hz that runs slow."""
    assert [round(0.5 / f / cell_of(f), 9) for f in (50.0, 49.0, 60.0)] == [12.0, 12.0, 10.0]


def test_no_wire():
    """Dip transfer without a wire is refused with what to do instead."""
    with pytest.raises(QuestionError, match=r"no wire.*--on and --off"):
        dip_stream(weldsim.read("benchmark_a"), seconds=5.0, dial=None, delay=None, feed=None, seed=1)
