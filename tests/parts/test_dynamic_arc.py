"""Arcs with a memory and Ayrton's line: limit cases and values from elsewhere."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.dynamic_arc import (
    ayrton_voltage,
    cassie_at_current,
    cassie_at_voltage,
    mayr_at_current,
    mayr_at_voltage,
)
from weldsim.parts.load import load_line
from weldsim.studies.proofs.bench import numbers_in, references

MAYR = {"time_constant": 50e-6, "power": 2e3}
CASSIE = {"time_constant": 50e-6, "arc_voltage": 20.0}
LINES = [row for row in references("arc", "ayrton") if row.quantity == "V"]


@pytest.mark.parametrize("row", LINES, ids=lambda row: row.condition)
def test_ayrton(row):
    """Solid carbons against numbers computed elsewhere, 46.302 V at 10 A and 2 mm among them (rounding only)."""
    said = numbers_in(row.condition)
    assert ayrton_voltage(said["I"], 1e-3 * said["L"]) == pytest.approx(row.value, rel=1e-12)


@pytest.mark.parametrize("row", references("transients", "load_line"), ids=lambda row: row.condition)
def test_conventional_load(row):
    """Conventional load voltages with their cap (IEC 60974-1; MIG line published, the rest from memory)."""
    process = row.condition.split(",")[0].removesuffix("/MAG")
    offset, slope, cap = load_line(process)
    assert min(offset + slope * numbers_in(row.condition)["I2"], cap) == pytest.approx(row.value, rel=1e-12)


def test_steady_arcs():
    """After many time constants: Mayr carries i^2/P0, Cassie i/Uc (definition of both; exp(-40) is nothing)."""
    held = {"before": 80.0, "after": 80.0}
    assert mayr_at_current(0.1, 40 * 50e-6, **held, **MAYR) == pytest.approx(80.0**2 / 2e3)
    assert cassie_at_current(0.1, 40 * 50e-6, **held, **CASSIE) == pytest.approx(4.0)


def test_no_current_no_arc():
    """Without current the conductance dies with the time constant, without voltage too."""
    gone = math.exp(-2.0)
    none = {"before": 0.0, "after": 0.0}
    assert mayr_at_current(1.0, 100e-6, **none, **MAYR) == pytest.approx(gone)
    assert cassie_at_current(1.0, 100e-6, **none, **CASSIE) == pytest.approx(gone)
    assert mayr_at_voltage(1.0, 100e-6, voltage=0.0, **MAYR) == pytest.approx(gone)
    assert cassie_at_voltage(1.0, 100e-6, voltage=0.0, **CASSIE) == pytest.approx(gone)


def test_steady_voltage_is_kept():
    """At Uc a Cassie arc keeps any conductance; at g u^2 = P0 a Mayr arc keeps its own."""
    assert cassie_at_voltage(3.0, 1e-3, voltage=20.0, **CASSIE) == pytest.approx(3.0)
    assert mayr_at_voltage(5.0, 1e-3, voltage=20.0, **MAYR) == pytest.approx(5.0)


def test_run_away():
    """With more power than is carried off a Mayr arc at constant voltage has no end, and its time can be told.

    g0 u^2 = 2 P0: by the closed form at t = tau ln 2; a Cassie arc grows beyond all numbers only after a long time.
    """
    limit = 50e-6 * math.log(2.0)
    assert mayr_at_voltage(10.0, 0.999 * limit, voltage=20.0, **MAYR) > 1e3
    assert math.isinf(mayr_at_voltage(10.0, 1.001 * limit, voltage=20.0, **MAYR))
    assert math.isinf(cassie_at_voltage(1.0, 1.0, voltage=40.0, **CASSIE))


@given(
    st.floats(0.01, 50.0), st.floats(0.0, 300.0), st.floats(0.0, 300.0), st.floats(1e-9, 3e-3), st.floats(0.01, 0.99)
)
def test_a_tick_may_be_cut_anywhere(conductance, before, after, time, share):
    """Two ticks with the current on the same straight line are one tick, for both arcs (exact: rounding only)."""
    middle = before + share * (after - before)
    for rule, said in ((mayr_at_current, MAYR), (cassie_at_current, CASSIE)):
        whole = rule(conductance, time, before=before, after=after, **said)
        half = rule(conductance, share * time, before=before, after=middle, **said)
        cut = rule(half, (1.0 - share) * time, before=middle, after=after, **said)
        assert cut == pytest.approx(whole, rel=1e-9, abs=1e-12)


def test_ramp_by_hand():
    """Current rising from 0 over a time far below the time constant: the mean square is a third of the last square.

    g = i^2 t / (3 tau P0), less t / (4 tau) of it and so on: 1e-3 at a thousandth of the time constant.
    """
    found = mayr_at_current(0.0, 50e-9, before=0.0, after=300.0, **MAYR)
    assert found == pytest.approx(300.0**2 * 1e-3 / 3.0 / 2e3, rel=1e-3)
