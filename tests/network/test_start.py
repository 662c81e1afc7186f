"""Where a run begins: flux and the friction that holds it, charge, and pieces that fit."""

import numpy as np
import pytest

from tests.network.supplies import IRON, benchmark
from weldsim.errors import WiringError
from weldsim.network.branches import Friction, SaturatingInductor
from weldsim.network.start import resting_frictions
from weldsim.network.wiring import wire
from weldsim.parts.flux import remanent_flux_linkage

CORE = SaturatingInductor("core", "a", "b", (-4.0, 4.0), (-1.0, 1.0))  # 4 H
STOPS = [Friction("one", "a", "b", 0.5, 0.02, 300.0), Friction("two", "a", "b", 0.1, 0.03, 300.0)]


def _state(system, x, name):
    return x[system.states.index(name)]


def test_everything_rests():
    """Without a [start] table all states are zero and every element is in its first segment, iron in the middle."""
    system = wire(benchmark())
    x, signature = system.start()

    assert np.array_equal(x, np.zeros(6))
    assert [element.segments[k] for element, k in zip(system.elements, signature, strict=True)] == [
        "off",
        "middle",
        *["blocked"] * 4,
        "knee",
    ]


def test_values_come_from_the_table_and_from_keywords():
    """[start] is the default; keywords and names of states override it; flux beyond the knee starts in its piece."""
    system = wire(benchmark({"start": {"flux_linkage": 0.8, "bank_voltage": 20.0}}))

    x, signature = system.start()
    y, beyond = system.start(flux_linkage=-1.3, **{"choke.current": 50.0})

    assert (_state(system, x, "core.flux_linkage"), _state(system, x, "bank.voltage")) == (0.8, 20.0)
    assert (_state(system, y, "core.flux_linkage"), _state(system, y, "choke.current")) == (-1.3, 50.0)
    assert (system.elements[1].segments[signature[1]], system.elements[1].segments[beyond[1]]) == ("middle", "-1")


def test_unknown_values_are_refused_with_near_names():
    """A misspelt state is an error that tells the nearest ones."""
    with pytest.raises(WiringError, match=r"'bank_volts' is no state of this supply; it knows .*bank_voltage"):
        wire(benchmark()).start(bank_volts=3.0)


@pytest.mark.parametrize("flux", [0.05, 0.15, -0.19])
def test_flux_at_rest_needs_no_current(flux):
    """Friction balances the curve for every flux up to the largest remanence (here 4 H times 50 mA = 0.2 V.s)."""
    held = resting_frictions(CORE, STOPS, flux)

    assert sum(held) + flux / 4.0 == pytest.approx(0.0, abs=1e-15)
    assert all(abs(value) <= stop.limit * (1 + 1e-12) for value, stop in zip(held, STOPS, strict=True))


def test_the_first_stop_to_slide_back_is_the_stiffest():
    """At 0.1 V.s the tip t solves 25 mA + (20 mA - 0.5 (t - 0.1)) + (0.1 t - 0.1 (t - 0.1)) = 0, so t = 0.21 V.s, where
    the stiff stop is at -35 mA: beyond its limit, so it slides at -20 mA and the soft one must hold -5 mA."""
    assert resting_frictions(CORE, STOPS, 0.1) == pytest.approx([-0.02, -0.005], abs=1e-12)


def test_beyond_the_largest_remanence_friction_holds_back_all_it_can():
    """At 0.5 V.s all elements are at their limits against the curve's current."""
    assert resting_frictions(CORE, STOPS, 0.5) == pytest.approx([-0.02, -0.03], rel=1e-12)


def test_remanence_of_real_iron_rests():
    """A core given as iron, started at 80 % of its largest remanence, has no magnetising current and stays.

    Tolerance: 1e-9 of the friction's 70 mA, from halving between curve and friction.
    """
    scenario = benchmark(IRON)
    system = wire(scenario)
    flux = 0.8 * remanent_flux_linkage(scenario.core, 130)
    x, signature = system.start(flux_linkage=flux)
    extended = np.concatenate([x, [0.0, 1.0, 1.0]])
    outputs = system.assemble(signature).outputs
    names = [signal.name for signal in system.signals]

    assert outputs[names.index("core.magnetising_current")] @ extended == pytest.approx(0.0, abs=1e-10)
    assert outputs[names.index("core.flux_density")] @ extended == pytest.approx(flux / (130 * 55e-4), rel=1e-12)


def test_remanence_in_tesla():
    """start.remanence = B means a flux linkage of N A B."""
    system = wire(benchmark(IRON | {"start": {"remanence": 0.5}}))

    assert _state(system, system.start()[0], "core.flux_linkage") == pytest.approx(0.5 * 130 * 55e-4, rel=1e-14)
