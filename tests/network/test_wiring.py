"""Every part drawn where it stands: power balances in any mode, the names the handover sheet promises, the refusals."""

import numpy as np
import pytest

from tests.network.supplies import BOOST, FALLING, VARIANTS, benchmark, straight
from weldsim.errors import WiringError
from weldsim.network.branches import Friction, SaturatingInductor
from weldsim.network.wiring import draw, wire
from weldsim.scenario.document import TABLES
from weldsim.scenario.reading import read

TRIALS = 12  # random modes of each supply


def _random_mode(system, circuit, rng):
    """A random signature and an extended state whose fluxes lie inside the pieces it names."""
    signature = [int(rng.integers(len(element.segments))) for element in system.elements]
    x = rng.normal(size=system.size)
    x[-1] = 1.0
    x[: len(system.states)] *= 30.0
    for branch in circuit.branches:
        if isinstance(branch, SaturatingInductor):
            piece = signature[[element.name for element in system.elements].index(branch.name)]
            low, high = branch.flux_linkages[piece : piece + 2]
            x[system.states.index(f"{branch.name}.flux_linkage")] = low + (high - low) * rng.uniform(0.1, 0.9)
        elif isinstance(branch, Friction):
            x[system.states.index(f"{branch.name}.friction_current")] = branch.limit * rng.uniform(-1.0, 1.0)
    return tuple(signature), x


def _stored_power(system, x, rates):
    """d(stored energy)/dt part by part, each state moved by a little; exact for a quadratic but for rounding."""
    total = size = 0.0
    count = len(system.states)
    for k in range(count):
        step = np.zeros(count)
        step[k] = 1e-3 * abs(x[k]) or 1e-3
        above, below = system.stored_energy(x[:count] + step), system.stored_energy(x[:count] - step)
        slope = sum(above[part] - below[part] for part in above) / (2.0 * step[k])
        total += slope * rates[k]
        size += abs(slope * rates[k])
    return total, size


@pytest.mark.parametrize("name", VARIANTS)
def test_power_balance(name):
    """In any mode and any state: source power = every part's own v times i, plus the rate of the stored energy.

    Tolerance: rounding, 1e-12 of the sum of all powers at worst, most of it in the differences of stored energy.
    """
    scenario = benchmark(VARIANTS[name])
    system, circuit = wire(scenario), draw(scenario)
    rng = np.random.default_rng(7)
    for _ in range(TRIALS):
        signature, x = _random_mode(system, circuit, rng)
        mode = system.assemble(signature)
        y = mode.outputs @ x
        powers = [
            y[line.voltage] * y[line.current] * (-1.0 if line.role == "source" else 1.0) for line in system.ledger
        ]
        stored, size = _stored_power(system, x, mode.matrix @ x)
        assert abs(sum(powers) + stored) <= 1e-11 * (sum(map(abs, powers)) + size), signature


@pytest.mark.parametrize(
    "name", ["as it is", "iron core with friction", "boost sharing leakage", "diac dial", "everything"]
)
def test_every_equation_is_met(name):
    """Putting a mode's solution back into all rows of the network leaves rounding only.

    Tolerance: 1e-11 of the sum of the terms' largest possible sizes, column by column.
    """
    system = wire(benchmark(VARIANTS[name]))
    modes = system.assemble.__self__
    rng = np.random.default_rng(3)
    for _ in range(TRIALS):
        signature = tuple(int(rng.integers(len(element.segments))) for element in system.elements)
        rows = modes.equations(signature)
        solution = np.vstack([modes.everything(signature), np.eye(system.size)])
        largest = np.max(np.abs(solution), axis=0)
        assert np.all(np.abs(rows @ solution) <= 1e-11 * np.sum(np.abs(rows), axis=1)[:, None] * largest)


def test_benchmark_has_six_states():
    """Mains and leakage, and choke and leads, are one state each: the six states of the published comparison."""
    system = wire(benchmark())

    assert system.states == (
        "mains.inductance.current",
        "snubber.voltage",
        "core.flux_linkage",
        "secondary.leakage.current",
        "bank.voltage",
        "choke.current",
    )
    assert system.orders == (1,)
    assert len(system.elements) == 7


@pytest.mark.parametrize(
    "name",
    [
        "benchmark_a",
        "benchmark_b",
        "benchmark_c",
        "charger",
        "garage_60hz",
        "long_lead",
        "oven_pair",
        "quarter_kiloamp",
        "school_spot",
        "toroid_shed",
        "toroid_shed_boost",
    ],
)
def test_bundled_scenarios_are_wired(name):
    """Every bundled supply has equations at its start, with finite numbers."""
    system = wire(read(name))
    x, signature = system.start()
    mode = system.assemble(signature)

    assert len(x) == len(system.states) + 2 * len(system.inputs)
    assert np.all(np.isfinite(mode.matrix))
    assert np.all(mode.guard_bands > 0.0)


PROMISED = {
    "always": (
        "mains.voltage",
        "plug.voltage",
        "primary.current",
        "terminal.voltage",
        "output.voltage",
        "output.current",
    ),
    "phase control": ("phase_control.voltage", "phase_control.current", "snubber.current", "dial.capacitor.voltage"),
    "varistor": ("varistor.voltage", "varistor.current"),
    "transformer": (
        "core.flux_linkage",
        "core.magnetising_current",
        "core.flux_density",
        "secondary.voltage",
        "secondary.current",
    ),
    "second transformer": (
        "second_core.flux_linkage",
        "second_core.magnetising_current",
        "second_core.flux_density",
        "second_secondary.voltage",
        "second_secondary.current",
        *(f"{which}_primary.{quantity}" for which in ("first", "second") for quantity in ("voltage", "current")),
    ),
    "rectifier": (
        *(f"rectifier.diode_{k}.{quantity}" for k in (1, 2, 3, 4) for quantity in ("voltage", "current")),
        "rectifier.current",
    ),
    "output": (
        "bank.voltage",
        "bank.current",
        "bleed.current",
        "choke.current",
        "boost.voltage",
        "boost.current",
        "blocking.voltage",
        "blocking.current",
    ),
}


def test_every_part_is_in_a_variant():
    """Each table stands in a variant, but those of no network and the two whose own tests wire them."""
    drawn = {name for changes in VARIANTS.values() for name in TABLES if getattr(benchmark(changes), name) is not None}
    own = {"generator", "soft_start"}
    assert set(TABLES) - drawn == own | {
        "breaker",
        "wire",
        "trigger",
        "feed_motor",
        "feed_supply",
        "cooling",
        "readings",
    }


def test_promised_signals():
    """A supply with every part offers every signal of the agreed list, each with unit and label, no name twice."""
    system = wire(benchmark(VARIANTS["everything"] | VARIANTS["diac dial"]))
    names = [signal.name for signal in system.signals]

    assert {name for group in PROMISED.values() for name in group} <= set(names)
    assert len(set(names)) == len(names)
    assert all(signal.unit in ("V", "A", "V.s", "T") and signal.label for signal in system.signals)


def test_every_loss_has_its_line():
    """Each part that heats up has a line of its own, and load and source are apart."""
    system = wire(benchmark(VARIANTS["everything"]))
    parts = {role: {line.part for line in system.ledger if line.role == role} for role in ("source", "loss", "load")}

    assert parts == {
        "source": {"mains"},
        "load": {"load"},
        "loss": {
            "mains impedance",
            "supply lead",
            "phase control",
            "snubber",
            "varistor",
            "transformer primary winding",
            "core loss",
            "core hysteresis",
            "transformer secondary winding",
            "second transformer primary winding",
            "second core loss",
            "second core hysteresis",
            "second transformer secondary winding",
            "boost winding",
            "boost rectifier",
            "boost ballast",
            "boost blocking diode",
            "rectifier",
            "bank",
            "bleed",
            "choke",
            "weld leads",
        },
    }


def _output(system, signature, name):
    return system.assemble(signature).outputs[[signal.name for signal in system.signals].index(name)]


def test_resistor_and_inductor_straight_on_the_mains():
    """The textbook circuit: L di/dt = V sin(w t) - R i with nothing else in it."""
    system = wire(straight())

    assert system.assemble(()).matrix[0] == pytest.approx([-500.0, np.sqrt(2.0) * 230.0 / 20e-3, 0.0, 0.0], rel=1e-13)


def test_unloaded_output():
    """Without a load the output shows the terminal's voltage and no current."""
    system = wire(benchmark({"load": "absent"}))
    signature = system.start()[1]

    assert np.array_equal(_output(system, signature, "output.current"), np.zeros(system.size))
    assert np.array_equal(_output(system, signature, "output.voltage"), _output(system, signature, "terminal.voltage"))


def test_currents_pass_through_the_chain():
    """What leaves the rectifier feeds bank, bleed and choke; the choke feeds the load."""
    system = wire(benchmark(VARIANTS["no snubber"]))
    signature = system.start()[1]
    rail = sum(_output(system, signature, name) for name in ("bank.current", "bleed.current", "choke.current"))

    assert _output(system, signature, "rectifier.current") == pytest.approx(rail, abs=1e-12)
    assert _output(system, signature, "choke.current") == pytest.approx(
        _output(system, signature, "output.current"), abs=1e-12
    )
    assert _output(system, signature, "primary.current") == pytest.approx(
        _output(system, signature, "phase_control.current"), abs=1e-12
    )


def test_boost_disconnected_keeps_its_blocking_diode():
    """For a fair comparison the boost circuit goes and the diode in the main lead stays."""
    scenario = benchmark({"boost": BOOST})
    elements = {element.name for element in wire(scenario, boost_connected=False).elements}

    assert "blocking" in elements
    assert not any(name.startswith("boost") for name in elements)


BALLAST_ON_CHOKE = BOOST | {"feeds": "bank", "ballast_on_choke": True, "choke_ratio": 3.0}


@pytest.mark.parametrize(
    ("scenario", "message"),
    [
        (
            straight({"load": {"kind": "short", "resistance": 0.0}}),
            r"mains, load: .* at least 1 uohm for mains.resistance",
        ),
        (
            straight({"load": {"kind": "battery", "voltage": 12.0, "resistance": 0.0}}),
            r"mains, load: .*load.resistance",
        ),
        (straight({"load": "absent", "bank": {"capacitance": 1e-3}}), r"mains, bank: .*bank.resistance"),
        (benchmark({"boost": BOOST | {"shared_leakage_inductance": 60e-6}}), r"leakage of 60 uH .* less than 18.97 uH"),
        (
            benchmark({"load": FALLING, "weld_leads": "absent", "choke": "absent"}),
            r"weld_leads.inductance: .*least 1 uH",
        ),
        (benchmark({"load": FALLING, "weld_leads.inductance": 0.5e-6, "boost": BOOST}), r"0.5 uH.*at least 1 uH"),
        (
            benchmark({"load": FALLING, "weld_leads.inductance": 0.5e-6, "boost": BALLAST_ON_CHOKE}),
            r"0.5 uH.*at least 1 uH",
        ),
        (benchmark({"load": FALLING | {"reignition_voltage": 20.0}}), r"load.reignition_voltage: .*at least 30 V"),
    ],
)
def test_refusals_name_parts_and_values(scenario, message):
    """What cannot be solved is refused with the parts, and the key and smallest value that would help."""
    with pytest.raises(WiringError, match=message):
        wire(scenario)


def test_smallest_resistance_is_enough():
    """The value that the refusal asks for makes the same network solvable, with the current it should have."""
    system = wire(straight({"load": {"kind": "short", "resistance": 0.0}, "mains.resistance": 1e-6}))

    assert _output(system, (), "output.current")[0] == pytest.approx(np.sqrt(2.0) * 230.0 / 1e-6, rel=1e-12)


def test_a_mode_without_solution_is_refused_when_it_is_asked_for():
    """Ideal diodes between a source and a bank have no current of their own; the message tells what conducts."""
    bank = {"capacitance": 1e-3}
    system = wire(straight({"rectifier": {"threshold": 0.0, "slope": 0.0}, "bank": bank}))

    with pytest.raises(WiringError, match=r"diode_1 on its piece 'on', .*rectifier.slope"):
        system.assemble((1, 0, 0, 1))
    wire(straight({"rectifier": {"threshold": 0.0, "slope": 1e-6}, "bank": bank})).assemble((1, 0, 0, 1))


def test_a_piece_of_the_load_is_named_as_a_piece_and_no_slope_that_it_has_not():
    """The flat end of the standard's load line on a bank without resistance: the bank's resistance alone can help."""
    bank = {"capacitance": 40e-3}
    system = wire(straight({"rectifier": {"slope": 1e-3}, "bank": bank, "load": {"kind": "load line"}}))

    with pytest.raises(WiringError) as raised:
        system.assemble((0, 0, 0, 0, 2))
    assert "load on its piece 'cap'" in str(raised.value)
    assert "1 uohm for bank.resistance" in str(raised.value)
    assert "load.slope" not in str(raised.value)
