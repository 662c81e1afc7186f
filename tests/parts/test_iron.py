"""The iron core as a branch: electrical values, iron, gap, friction, loss; each against hand figures or a law."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.errors import ScenarioError
from weldsim.parts.iron import Core, FrictionRow, flux_scale, iron_mass, magnetising_branch
from weldsim.parts.magnetising_curve import CurvePoint

MU_0 = 4e-7 * math.pi
TOROID = {"section": 55e-4, "path_length": 0.62}
CURVE = tuple(
    CurvePoint(field=h, flux_density=b)
    for b, h in ((0.5, 30.0), (1.0, 60.0), (1.4, 200.0), (1.6, 1500.0), (1.8, 12000.0))
)


def test_benchmark_core():
    """4.0 H up to 1.10 V.s, then 6 mH: 0.275 A at the corner and 10 A for each further 60 mV.s (by hand, exact)."""
    core = Core(
        magnetising_inductance=4.0, saturation_flux_linkage=1.10, saturated_inductance=6e-3, loss_resistance=1500.0
    )
    branch = magnetising_branch(core)

    assert branch.corners == (1.10,)
    assert [branch.current(flux) for flux in (1.10, 1.16, -1.22)] == pytest.approx([0.275, 10.275, -20.275], rel=1e-12)
    assert branch.frictions == ()
    assert branch.loss_resistance == 1500.0


def test_no_saturation():
    """An inductance alone is one piece without corners, at any flux."""
    branch = magnetising_branch(Core(magnetising_inductance=2.5))

    assert branch.corners == ()
    assert branch.slopes == (0.4,)
    assert branch.current(100.0) == pytest.approx(40.0)


def test_loss_or_friction_alone():
    """A core known by its loss alone takes no magnetising current."""
    branch = magnetising_branch(Core(loss_resistance=2000.0))

    assert branch.current(1.0) == 0.0
    assert branch.loss_resistance == 2000.0


def test_a_gap_alone():
    """Iron that needs no field leaves the gap: mu0 N^2 A / g = 0.5027 H for 200 turns, 10 cm2, 0.1 mm (textbook)."""
    easy = (CurvePoint(field=0.0, flux_density=1.5),)
    branch = magnetising_branch(Core(section=10e-4, path_length=0.3, magnetising_curve=easy, gap=1e-4), 200)

    assert 1.0 / branch.slopes[0] == pytest.approx(0.502655, rel=1e-5)


def test_air_core_slope():
    """The shed's toroid full of flux: mu0 130^2 55 cm2 / 0.62 m = 0.18839 mH (by hand)."""
    branch = magnetising_branch(Core(**TOROID, steel="grain-oriented"), 130)

    assert 1.0 / branch.slopes[-1] == pytest.approx(0.188394e-3, rel=1e-4)


@pytest.mark.parametrize(
    "core",
    [
        {"magnetising_inductance": 0.5, "saturation_flux_linkage": 1.3, "saturated_inductance": 6.0},
        {
            "magnetising_curve": (CurvePoint(flux_linkage=1.0, current=1.0), CurvePoint(flux_linkage=1.2, current=5.0)),
            "saturated_inductance": 6e-1,
        },
    ],
)
def test_more_inductance_beyond_saturation_is_refused(core):
    """H for mH: such a core would never saturate, and no press would trip (what saturation is: common practice)."""
    with pytest.raises(ScenarioError, match="left before saturation"):
        magnetising_branch(Core(**core), 130)


def test_saturated_inductance_replaces_the_air():
    """A measured inductance beyond saturation is taken as it is."""
    branch = magnetising_branch(Core(**TOROID, steel="grain-oriented", saturated_inductance=0.4e-3), 130)

    assert 1.0 / branch.slopes[-1] == pytest.approx(0.4e-3, rel=1e-9)


def test_friction_limits():
    """Coercive field times path over turns: 10 A/m x 0.62 m / 130 = 47.69 mA in all (Ampere's law)."""
    branch = magnetising_branch(Core(**TOROID, steel="grain-oriented"), 130)

    assert len(branch.frictions) == 4
    assert sum(limit for _, limit in branch.frictions) == pytest.approx(47.692e-3, rel=1e-4)
    assert magnetising_branch(Core(**TOROID, steel="grain-oriented", coercive_field=0.0), 130).frictions == ()


def test_friction_rows():
    """Limit and reach in either's terms: 26 A/m over 0.62 m and 130 turns is 124 mA, 0.2 T is 0.143 V.s (by hand)."""
    rows = (FrictionRow(field=26.0, flux_density=0.2), FrictionRow(current=0.05, flux_linkage=0.1))
    branch = magnetising_branch(Core(**TOROID, magnetising_inductance=4.0, hysteresis=rows), 130)

    assert branch.elements == (pytest.approx((0.124, 0.143)), pytest.approx((0.05, 0.1)))
    assert branch.frictions[1][0] == pytest.approx(0.5)


@given(turns=st.integers(10, 500), factor=st.integers(2, 5), flux_density=st.floats(-2.5, 2.5))
def test_turns(turns, factor, flux_density):
    """N times the turns: N times the flux linkage, one Nth of currents and friction limits, N^2 of loss resistance."""
    core = Core(**TOROID, steel="non-oriented", gap=5e-5)
    one, many = magnetising_branch(core, turns), magnetising_branch(core, turns * factor)
    flux = flux_density * turns * core.section

    assert many.current(flux * factor) == pytest.approx(one.current(flux) / factor, rel=1e-9, abs=1e-12)
    assert [f[1] for f in many.frictions] == pytest.approx([f[1] / factor for f in one.frictions], rel=1e-9)
    assert many.loss_resistance == pytest.approx(one.loss_resistance * factor**2, rel=1e-9)


@given(coercive=st.floats(0.0, 25.0))
def test_own_curve_is_a_curve_of_peaks(coercive):
    """On first magnetisation curve and friction add up to the given points (rounding), whatever the coercive field."""
    core = Core(**TOROID, magnetising_curve=CURVE, coercive_field=coercive)
    branch = magnetising_branch(core, 130)
    for point in CURVE:
        flux = point.flux_density * 130 * 55e-4
        friction = sum(min(stiffness * flux, limit) for stiffness, limit in branch.frictions)
        assert (branch.current(flux) + friction) * 130 / 0.62 == pytest.approx(point.field, rel=1e-9)


def test_gap_shears():
    """A gap adds B g / mu0 over the turns at every flux: 0.1 mm at 1.2 T is 95.49 A (by hand)."""
    closed = magnetising_branch(Core(**TOROID, magnetising_curve=CURVE), 130)
    cut = magnetising_branch(Core(**TOROID, magnetising_curve=CURVE, gap=1e-4), 130)
    flux = 1.2 * 130 * 55e-4

    assert (cut.current(flux) - closed.current(flux)) * 130 == pytest.approx(95.493, rel=1e-4)


def test_stacking():
    """A gross section with 95 % of iron carries 95 % of the flux at the same density."""
    assert flux_scale(Core(section=50e-4, stacking=0.95), 100, "this test") == pytest.approx(0.475)


def test_mass():
    """55 cm2 x 0.62 m x 7650 kg/m3 = 26.09 kg; a given mass counts first."""
    assert iron_mass(Core(**TOROID)) == pytest.approx(26.0865, rel=1e-4)
    assert iron_mass(Core(**TOROID, mass=24.0)) == 24.0


def test_eddy_loss_in_the_resistor():
    """V = 2 pi 50 Hz 1.5 T N A / sqrt2 = 238.25 V, half of 24 kg x 1.2 W/kg is 14.4 W: 3942 ohm (by hand)."""
    core = Core(**TOROID, mass=24.0, loss_per_mass=1.2, eddy_share=0.5, magnetising_inductance=4.0)

    assert magnetising_branch(core, 130).loss_resistance == pytest.approx(3942.0, rel=1e-3)


def test_loss_is_shared_without_a_given_split():
    """Friction loop at 50 Hz plus resistor make up the whole loss at 1.5 T; the loop is integrated step by step here.

    Tolerance 0.1 %: 4,000 steps of the loop."""
    branch = magnetising_branch(Core(**TOROID, steel="grain-oriented", loss_per_mass=1.1), 130)
    peak = 1.5 * 130 * 55e-4
    flux = peak * np.sin(np.linspace(0.5 * np.pi, 4.5 * np.pi, 8001))
    static = 0.0
    for stiffness, limit in branch.frictions:
        friction = limit
        for k in range(1, len(flux)):
            before, friction = friction, min(max(friction + stiffness * (flux[k] - flux[k - 1]), -limit), limit)
            static += 0.5 * (friction + before) * (flux[k] - flux[k - 1]) * (k > 4000)
    eddy = (2.0 * np.pi * 50.0 * peak) ** 2 / 2.0 / branch.loss_resistance

    assert 50.0 * static + eddy == pytest.approx(1.1 * 26.0865, rel=1e-3)
    assert 0.2 < 50.0 * static / (1.1 * 26.0865) < 0.5


def test_no_loss_no_resistor():
    """A loss of zero is no resistor, and so is one that friction takes alone."""
    assert magnetising_branch(Core(**TOROID, steel="grain-oriented", loss_per_mass=0.0), 130).loss_resistance is None
    assert magnetising_branch(Core(**TOROID, steel="grain-oriented", loss_per_mass=0.1), 130).loss_resistance is None


def test_idle_current_of_the_shed():
    """A good toroid idles at 0.05 to 0.2 A rms (common practice, no published source): 230 V, 130 turns, 55 cm2."""
    branch = magnetising_branch(Core(**TOROID, steel="grain-oriented", mass=24.0), 130)
    angle = np.linspace(0.0, 4.0 * np.pi, 4001)
    flux = math.sqrt(2.0) * 230.0 / (100.0 * np.pi) * np.sin(angle)
    current = np.array([branch.current(value) for value in flux])
    current += math.sqrt(2.0) * 230.0 * np.cos(angle) / branch.loss_resistance
    for stiffness, limit in branch.frictions:
        friction = 0.0
        for k in range(1, len(flux)):
            friction = min(max(friction + stiffness * (flux[k] - flux[k - 1]), -limit), limit)
            current[k] += friction

    assert 0.05 < np.sqrt(np.mean(current[2000:] ** 2)) < 0.2


@pytest.mark.parametrize(
    ("values", "turns", "place"),
    [
        ({}, 130, "core"),
        ({"steel": "unknown"}, 130, "core.section"),
        ({"steel": "unknown", "section": 1e-3}, 130, "core.path_length"),
        ({"steel": "unknown", "section": 1e-3, "path_length": 0.3}, None, "transformer.primary_turns"),
        ({"magnetising_inductance": 4.0, "saturation_flux_linkage": 1.0}, None, "core.saturated_inductance"),
        ({"magnetising_inductance": 4.0, "coercive_field": 10.0}, None, "core.section"),
        (
            {"magnetising_inductance": 4.0, "hysteresis": (FrictionRow(current=1.0, flux_density=0.1),)},
            130,
            "core.hysteresis, row 1",
        ),
        ({"section": 1e-3, "path_length": 0.3, "magnetising_curve": CURVE[::-1]}, 130, "core.magnetising_curve"),
        (
            {"section": 1e-3, "path_length": 0.3, "magnetising_curve": (CurvePoint(field=0.0, flux_density=0.0),)},
            130,
            "core.magnetising_curve",
        ),
        ({"magnetising_inductance": 4.0, "loss_per_mass": 1.0, "section": 1e-3}, 130, "core.mass"),
    ],
)
def test_what_is_missing_is_named(values, turns, place):
    """Each gap in the table is an error that names its key and says what to do."""
    with pytest.raises(ScenarioError) as caught:
        magnetising_branch(Core(**values), turns)

    assert caught.value.place == place
    assert caught.value.advice
