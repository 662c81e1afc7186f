"""Thinned and banded records lose no peak."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.figures import layout, made_up
from weldsim.errors import WeldsimError
from weldsim.figures import show, waveforms
from weldsim.runs.run import Run


@given(st.integers(1, 3000), st.integers(2, 40), st.integers(0, 2**32 - 1))
def test_thinning_keeps_extremes_and_order(count, bins, seed):
    """The least and the most of a record survive thinning; times stay in order and belong to their samples."""
    time = np.arange(count, dtype=float)
    values = np.random.default_rng(seed).normal(size=count)
    short_time, short = waveforms.thinned(time, values, bins)
    assert (short.min(), short.max()) == (values.min(), values.max())
    assert np.all(np.diff(short_time) > 0)
    np.testing.assert_array_equal(values[short_time.astype(int)], short)
    assert len(short) <= max(4 * bins, 2 * bins)


@given(st.integers(2, 40), st.integers(3, 50), st.integers(0, 2**32 - 1))
def test_bands_hold_every_sample(cycles, per_cycle, seed):
    """Each sample lies between the least and the most of its cycle, and both are samples."""
    time = np.arange(cycles * per_cycle) / per_cycle
    values = np.random.default_rng(seed).normal(size=len(time))
    edges, least, most = waveforms.banded(time, values, 1.0)
    by_hand = values.reshape(cycles, per_cycle)
    np.testing.assert_array_equal(least, by_hand.min(axis=1))
    np.testing.assert_array_equal(most, by_hand.max(axis=1))
    assert len(edges) == cycles + 1


def test_one_sample_makes_a_band():
    """A record of a single sample is a band of no height, not an error."""
    edges, least, most = waveforms.banded(np.array([0.5]), np.array([3.0]), 0.02)
    assert (len(edges), least[0], most[0]) == (2, 3.0, 3.0)


def test_chosen_signals_are_grouped_by_unit():
    """Volts and amps never share an axis; names that do not fit beside each other get another panel."""
    run = made_up.run(0.1)
    panels = show.grouped(run, list(run.signals))
    assert [panel.label for panel in panels] == ["voltage [V]", "voltage [V]", "current [A]", "flux linkage [V s]"]
    assert [len(panel.lines) for panel in panels] == [2, 1, 2, 1]


def test_the_longest_names_fit_above_their_panel():
    """Waveforms with the longest names there are can be told apart in both columns."""
    plain = made_up.run(1.0)
    names = (
        "core.friction_1.sliding_current",
        "weld_leads.resistance.current",
        "phase_control.current",
        "rectifier.diode_1.current",
        "rectifier.current",
        "secondary.current",
        "core.magnetising_current",
    )
    run = Run(
        scenario=plain.scenario,
        time=plain.time,
        signals=dict.fromkeys(names, plain["output.current"]),
        units=dict.fromkeys(names, "A"),
        window=plain.window,
    )
    figure = show.draw(run)
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


def test_unknown_signal_gives_the_nearest():
    """A misspelt waveform is answered with the nearest name."""
    with pytest.raises(WeldsimError, match="did you mean 'primary.current'"):
        show.draw(made_up.run(0.1), signals=["primary.curent"])


@pytest.mark.parametrize("signals", [(), ("output.current",), tuple(made_up.waveforms(np.zeros(1)))])
@pytest.mark.parametrize("end", [0.02, 1.0])
def test_saved_run_is_drawn_without_overlaps(signals, end):
    """A short and a long run, with few and with all signals, can be read."""
    figure = show.draw(made_up.run(end, settle=0.1), signals=signals)
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []
