"""Mode matrices against equations derived by hand, and against implicit steps through the unreduced network."""

import numpy as np
import pytest

from tests.network.descriptor import Descriptor
from tests.network.drawings import row, run_one_mode, state_row, system_of
from weldsim.network.branches import (
    Capacitor,
    Coil,
    CoupledInductors,
    Inductor,
    PiecewiseBranch,
    Resistor,
    SaturatingInductor,
    Segment,
    Winding,
    Windings,
    resistive,
)
from weldsim.network.devices import Line, Scale, diode

EXACT = 1e-13  # relative: a dozen operations in double precision


def test_resistor_and_inductor():
    """L di/dt = V sin(w t) - R i."""
    system = system_of([Resistor("r", "line", "a", 3.0), Inductor("l", "a", "return", 0.02)], amplitude=325.0)

    rate = state_row(system, (), "l.current")

    assert rate == pytest.approx({"l.current": -150.0, "sine": 16250.0, "cosine": 0.0, "one": 0.0}, rel=EXACT)


def test_series_resonance():
    """L di/dt = V sin(w t) - R i - u and C du/dt = i; the power of the resistor is read from its own v and i."""
    system = system_of(
        [Resistor("r", "line", "a", 2.0), Inductor("l", "a", "b", 1e-3), Capacitor("c", "b", "return", 1e-5)],
        amplitude=100.0,
    )

    assert state_row(system, (), "l.current") == pytest.approx(
        {"l.current": -2000.0, "c.voltage": -1000.0, "sine": 1e5, "cosine": 0.0, "one": 0.0}, rel=EXACT
    )
    assert state_row(system, (), "c.voltage") == pytest.approx(
        {"l.current": 1e5, "c.voltage": 0.0, "sine": 0.0, "cosine": 0.0, "one": 0.0}, rel=EXACT
    )
    assert row(system, (), "r.voltage")[0] == pytest.approx(2.0, rel=EXACT)


def test_source_rows_turn_with_the_mains():
    """sin' = w cos and cos' = -w sin for every order, in the last rows of the extended matrix."""
    system = system_of([Resistor("r", "line", "return", 1.0)], amplitude=1.0)
    speed = 2.0 * np.pi * 50.0

    assert system.assemble(()).matrix == pytest.approx(np.array([[0, speed, 0], [-speed, 0, 0], [0, 0, 0]]), rel=EXACT)


def test_bridge_with_two_diodes_on():
    """By symmetry the rails lie at +p and -p from the source's middle, p = ((E/2 - V)/r - g E/2) / (1/r + g + 2/R)."""
    line, scale = Line(0.8, 2e-3, 40e3), Scale(100.0, 100.0)
    paths = (("line", "plus"), ("return", "plus"), ("minus", "line"), ("minus", "return"))
    diodes = [diode(f"d{k}", *ends, line=line, scale=scale) for k, ends in enumerate(paths, start=1)]
    system = system_of([*diodes, Resistor("load", "plus", "minus", 0.5)], amplitude=1.0)
    total = 1.0 / 2e-3 + 1.0 / 40e3 + 2.0 / 0.5

    found = row(system, (1, 0, 0, 1), "load.voltage")

    assert found == pytest.approx([(1.0 / 2e-3 - 1.0 / 40e3) / total, 0.0, -2.0 * 0.8 / 2e-3 / total], rel=EXACT)


def test_ideal_windings():
    """A load of R on the secondary of n:1 is n^2 R on the primary, and the leakages add the same way."""
    system = system_of(
        [
            Inductor("l1", "line", "a", 2e-3),
            Windings((Winding("first", "a", "return", 10.0), Winding("second", "b", "return", 2.0))),
            Inductor("l2", "b", "c", 1e-4),
            Resistor("load", "c", "return", 0.3),
        ],
        amplitude=1.0,
    )

    rate = state_row(system, (), "l1.current")

    assert system.states == ("l1.current",)
    assert rate["l1.current"] == pytest.approx(-25.0 * 0.3 / (2e-3 + 25.0 * 1e-4), rel=EXACT)
    assert rate["sine"] == pytest.approx(1.0 / (2e-3 + 25.0 * 1e-4), rel=EXACT)


def test_zero_values_are_connections():
    """0 ohm and 0 H carry their current without a voltage and without a state."""
    system = system_of(
        [Resistor("r0", "line", "a", 0.0), Inductor("l0", "a", "b", 0.0), Resistor("r", "b", "return", 4.0)],
        [("i", "current", "r0"), ("u", "voltage", "l0")],
        amplitude=8.0,
    )

    assert system.states == ()
    assert row(system, (), "i") == pytest.approx([2.0, 0.0, 0.0], rel=EXACT)
    assert row(system, (), "u") == pytest.approx([0.0, 0.0, 0.0], abs=1e-15)


def test_input_enters_as_a_voltage():
    """A system input in a piece v = R i + E + u moves the current by -u over the whole loop's resistance."""
    gap = PiecewiseBranch("gap", "a", "return", (Segment("burning", resistive(0.5, 14.0, ("length",))),))
    system = system_of([Resistor("r", "line", "a", 1.5), gap], amplitude=1.0, inputs=("length",))

    assert row(system, (0,), "r.current") == pytest.approx([-0.5, 0.0, 0.5, 0.0, -7.0], rel=EXACT)
    assert system.assemble((0,)).matrix[0] == pytest.approx([0.0, 1.0, 0.0, 0.0, 0.0])


def _supply(iron):
    """Two series inductances, an ideal transformer with iron across it, coupled secondaries, and a bank."""
    return [
        Resistor("rm", "line", "a", 0.3),
        Inductor("lm", "a", "b", 0.4e-3),
        Resistor("r1", "b", "c", 0.4),
        Inductor("l1", "c", "d", 0.5e-3),
        iron,
        Windings(
            (Winding("w1", "d", "return", 1.0), Winding("w2", "e", "return", 0.135), Winding("w3", "f", "return", 0.21))
        ),
        CoupledInductors((Coil("l2", "e", "g"), Coil("l3", "f", "h")), ((9e-6, 4e-6), (4e-6, 30e-6))),
        Resistor("r2", "g", "k", 7e-3),
        Resistor("r3", "h", "k", 2.0),
        Capacitor("bank", "k", "return", 44e-3),
        Inductor("choke", "k", "m", 0.3e-3),
        Inductor("leads", "m", "n", 12e-6),
        Resistor("load", "n", "return", 0.18),
    ]


def _supply_unreduced(magnetising):
    """The same written out for the independent method; node numbers follow the letters, line is 1."""
    line, a, b, c, d, e, f, g, h, k, m, n = range(1, 13)
    other = Descriptor(12)
    other.source(line, 0, lambda t: 325.0 * np.sin(2.0 * np.pi * 50.0 * t))
    other.resistor(line, a, 0.3)
    primary = other.inductor(a, b, 0.4e-3)
    other.resistor(b, c, 0.4)
    other.inductor(c, d, 0.5e-3)
    core = other.inductor(d, 0, magnetising)
    other.transformer((d, 0), (e, 0), 0.135)
    other.transformer((d, 0), (f, 0), 0.21)
    secondary, boost = other.inductors([(e, g), (f, h)], [[9e-6, 4e-6], [4e-6, 30e-6]])
    other.resistor(g, k, 7e-3)
    other.resistor(h, k, 2.0)
    other.capacitor(k, 0, 44e-3)
    choke = other.inductor(k, m, 0.3e-3)
    other.inductor(m, n, 12e-6)
    other.resistor(n, 0, 0.18)
    return other, {"lm": primary, "core": core, "l2": secondary, "l3": boost, "choke": choke}


@pytest.mark.parametrize("magnetising", [4.0, 6e-3])
def test_against_implicit_steps_through_the_unreduced_network(magnetising):
    """Currents and the core's voltage after 7 ms agree with extrapolated backward Euler on the full index-2 network.

    Tolerance: the four step lengths of the other method leave 1e-7 of the largest current.
    """
    iron = SaturatingInductor("core", "d", "return", (-1.0, 1.0), (-1.0 / magnetising, 1.0 / magnetising))
    names = ("lm", "core", "l2", "l3", "choke")
    readings = [*((name, "current", name) for name in names), ("u", "voltage", "core")]
    system = system_of(_supply(iron), readings, amplitude=325.0)
    other, columns = _supply_unreduced(magnetising)

    x = run_one_mode(system, (0,), 7e-3)
    y = other.solve(7e-3, 400)
    scale = max(abs(y[column]) for column in columns.values())

    assert len(system.states) == 5  # lm, core, one of l2 and l3 with it, bank, choke: 8 storing parts less 3 sums
    for name in names:
        assert row(system, (0,), name) @ x == pytest.approx(y[columns[name]], abs=1e-6 * scale), name
    assert row(system, (0,), "u") @ x == pytest.approx(y[4], abs=1e-6 * 325.0)
