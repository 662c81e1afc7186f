"""Inductors bound to each other by Kirchhoff's current law: one state for each free current, exactly."""

import numpy as np
import pytest

from tests.network.drawings import row, run_one_mode, state_row, system_of
from weldsim.errors import WiringError
from weldsim.network.branches import (
    Capacitor,
    Coil,
    CoupledInductors,
    Friction,
    Inductor,
    Resistor,
    SaturatingInductor,
    Winding,
    Windings,
)
from weldsim.network.circuit import Circuit
from weldsim.network.followers import find_followers

EXACT = 1e-13
CURVE = ((-2.0, -1.0, 1.0, 2.0), (-100.25, -0.25, 0.25, 100.25))  # 4 H, then 10 mH


def _series(*, parallel=None):
    """Source, resistor, two inductances in series, load; ``parallel`` puts a resistor across the second one."""
    branches = [
        Resistor("r", "line", "a", 0.5),
        Inductor("choke", "a", "b", 3e-4),
        Inductor("leads", "b", "c", 1.2e-5),
        Resistor("load", "c", "return", 0.1),
    ]
    if parallel:
        branches.append(Resistor("loss", "b", "c", parallel))
    return branches


def test_series_inductances_merge():
    """Choke and leads in series are one inductance of their sum; the later one follows."""
    system = system_of(_series(), [("u", "voltage", "leads")], amplitude=10.0)
    rate = state_row(system, (), "choke.current")

    assert system.states == ("choke.current",)
    assert rate["choke.current"] == pytest.approx(-0.6 / 3.12e-4, rel=EXACT)
    share = 1.2e-5 / 3.12e-4
    assert row(system, (), "u") == pytest.approx([-0.6 * share, 10.0 * share, 0.0, 0.0], rel=EXACT)


def test_merging_equals_a_very_large_loss_resistor():
    """Two states joined by a loss resistor of 1e12 1/s times the inductance give the same currents to 1e-8.

    Tolerance: the resistor itself takes about 1e-9 of the current's swing; the stiff exponential up to 1.1e-8, by the
    arithmetic of the processor, for which 3e-8 leaves room.
    """
    readings = [("i", "current", "load"), ("u", "voltage", "load")]
    merged = system_of(_series(), readings, amplitude=30.0)
    loose = system_of(_series(parallel=1.2e-5 * 1e12), readings, amplitude=30.0)

    assert len(loose.states) == 2
    for end in (1e-4, 3e-3, 2e-2):
        for name in ("i", "u"):
            exact = row(merged, (), name) @ run_one_mode(merged, (), end)
            assert row(loose, (), name) @ run_one_mode(loose, (), end) == pytest.approx(exact, abs=3e-8 * 50.0)


def test_nodes_that_float_together():
    """Mains and leakage either side of a resistor and its capacitor are bound although no node has only inductors."""
    branches = [
        Inductor("l1", "line", "a", 1e-3),
        Resistor("switch", "a", "b", 50.0),
        Capacitor("snubber", "a", "b", 1e-7),
        Inductor("l2", "b", "c", 2e-3),
        Resistor("load", "c", "return", 10.0),
    ]
    system = system_of(branches, amplitude=100.0)

    assert system.states == ("l1.current", "snubber.voltage")
    assert state_row(system, (), "l1.current") == pytest.approx(
        {"l1.current": -10.0 / 3e-3, "snubber.voltage": -1.0 / 3e-3, "sine": 100.0 / 3e-3, "cosine": 0.0, "one": 0.0},
        rel=EXACT,
        abs=1e-9,
    )


@pytest.mark.parametrize(("piece", "inductance"), [(1, 4.0), (2, 10e-3)])
def test_iron_in_the_bound_sum_counts_with_its_own_piece(piece, inductance):
    """Leakage and core share a node with nothing else: the voltage divides by the core's inductance in that piece."""
    branches = [Inductor("leakage", "line", "a", 5e-3), SaturatingInductor("core", "a", "return", *CURVE)]
    system = system_of(
        branches,
        [("u", "voltage", "core"), ("i", "current", "leakage")],
        amplitude=100.0,
        start=lambda layout: lambda: (np.zeros(1), (1,)),
    )

    assert system.states == ("core.flux_linkage",)
    assert row(system, (piece,), "u")[1] == pytest.approx(100.0 * inductance / (inductance + 5e-3), rel=EXACT)
    assert row(system, (piece,), "i")[0] == pytest.approx(1.0 / inductance, rel=EXACT)


@pytest.mark.parametrize(("piece", "stiffness"), [(0, 0.5), (1, 0.0), (2, 0.0)])
def test_friction_in_the_bound_sum_counts_only_while_it_sticks(piece, stiffness):
    """A stuck friction element is another inductance of 1/stiffness beside the core; a sliding one is none."""
    branches = [
        Inductor("leakage", "line", "a", 0.2),
        SaturatingInductor("core", "a", "return", *CURVE),
        Friction("stop", "a", "return", 0.5, 0.02, 100.0),
    ]
    system = system_of(
        branches, [("u", "voltage", "core")], amplitude=100.0, start=lambda layout: lambda: (np.zeros(2), (1, 0))
    )
    together = 1.0 / (0.25 + stiffness)

    assert row(system, (1, piece), "u")[2] == pytest.approx(100.0 * together / (together + 0.2), rel=EXACT)


def test_coupled_coils_may_follow():
    """Two coupled coils in series are one inductance L1 + L2 + 2 M."""
    coils = CoupledInductors((Coil("c1", "line", "a"), Coil("c2", "a", "b")), ((3e-3, 1e-3), (1e-3, 2e-3)))
    system = system_of([coils, Resistor("load", "b", "return", 7.0)], amplitude=10.0)

    assert len(system.states) == 1
    assert system.assemble(()).matrix[0, 0] == pytest.approx(-7.0 / 7e-3, rel=EXACT)


def test_a_current_that_must_be_zero():
    """An inductor with a loose end carries no current and shows the whole voltage behind it."""
    circuit_end = Windings((Winding("w1", "b", "return", 1.0), Winding("w2", "c", "d", 2.0)))
    system = system_of(
        [
            Resistor("r", "line", "a", 1.0),
            Inductor("l", "a", "b", 1e-3),
            circuit_end,
            Inductor("open", "c", "e", 1e-3),
            Capacitor("stray", "d", "return", 1e-9),
        ],
        [("u", "voltage", "w2"), ("i", "current", "l")],
        amplitude=5.0,
    )

    assert "l.current" not in system.states
    assert row(system, (), "u")[-3] == pytest.approx(10.0, rel=EXACT)
    assert row(system, (), "i") == pytest.approx(np.zeros(system.size), abs=1e-15)


def test_iron_bound_by_iron_alone_is_refused():
    """Two saturating inductors in series with nothing linear between them have no follower to choose."""
    circuit = Circuit("return", 50.0)
    circuit.add(Resistor("r", "return", "a", 1.0), "winding")
    circuit.add(SaturatingInductor("one", "a", "b", *CURVE), "core")
    circuit.add(SaturatingInductor("two", "b", "return", *CURVE), "choke")

    with pytest.raises(WiringError, match=r"core, choke: .*iron.*at least 0.1 uH"):
        find_followers(circuit)
