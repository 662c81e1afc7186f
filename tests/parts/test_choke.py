"""The choke: its four forms against hand figures, the smooth laws against calculus, the pieces against the laws."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize

from weldsim.errors import ScenarioError
from weldsim.parts.choke import (
    LAW_CORNERS,
    Choke,
    InductancePoint,
    core_current,
    flux_curve,
    gap_section,
    halving_flux_linkage,
    halving_inductance,
    inductance_at,
)
from weldsim.parts.pieces import on_chain

MU_0 = 4e-7 * math.pi
SHED = Choke(inductance=0.3e-3, saturation_current=260.0)


def points(*values):
    """Rows of an inductance curve from (current, inductance)."""
    return tuple(InductancePoint(current=i, inductance=inductance) for i, inductance in values)


def test_plain_inductance():
    """0.30 mH is one piece at any current."""
    curve = flux_curve(Choke(inductance=0.3e-3))

    assert curve.corners == ()
    assert curve.inductances == (0.3e-3,)
    assert inductance_at(Choke(inductance=0.3e-3), 1e4) == 0.3e-3


@given(current=st.floats(0.0, 2000.0), share=st.floats(0.0, 0.4))
def test_flux_is_the_integral_of_inductance(current, share):
    """The closed form against numerical quadrature, to the 1e-8 V.s asked of it (0.6 V.s at 2 kA)."""
    law = {"inductance": 0.3e-3, "saturation_current": 260.0, "saturated": share * 0.3e-3}
    integral, _ = quad(lambda i: halving_inductance(i, **law), 0.0, current, epsabs=1e-10, limit=200)

    assert halving_flux_linkage(current, **law) == pytest.approx(integral, abs=1e-8)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3])
def test_half_at_the_saturation_current(share):
    """What the key says: half the inductance at the saturation current, L_s far beyond (the rest falls with 1/i^4)."""
    law = {"inductance": 0.3e-3, "saturation_current": 260.0, "saturated": share * 0.3e-3}

    assert halving_inductance(0.0, **law) == pytest.approx(0.3e-3, rel=1e-12)
    assert halving_inductance(260.0, **law) == pytest.approx(0.15e-3, rel=1e-12)
    assert halving_inductance(1e5, **law) == pytest.approx(share * 0.3e-3, abs=1e-12)


@pytest.mark.parametrize("saturated", [None, 0.0001e-3, 0.06e-3, 0.12e-3])
def test_pieces_of_the_halving_law(saturated):
    """Four pieces; flux within 2 % of the saturation flux linkage (L_0 - L_s) a pi / sqrt8; both ends exact."""
    choke = Choke(inductance=0.3e-3, saturation_current=260.0, saturated_inductance=saturated)
    left = 0.03e-3 if saturated is None else saturated
    curve = flux_curve(choke)
    scale = 260.0 / ((0.3e-3 - left) / (0.15e-3 - left) - 1.0) ** 0.25
    saturation = (0.3e-3 - left) * scale * math.pi / math.sqrt(8.0)
    deviation = [
        on_chain(i, curve.currents, curve.flux_linkages) - halving_flux_linkage(i, 0.3e-3, 260.0, saturated=left)
        for i in np.linspace(0.0, 3000.0, 6001)
    ]

    assert len(curve.inductances) == 4
    assert max(map(abs, deviation)) < 0.02 * saturation
    assert curve.inductances[0] == pytest.approx(0.3e-3, rel=1e-9)
    assert curve.inductances[-1] == pytest.approx(left, rel=1e-9)
    assert all(np.diff(curve.inductances) < 0.0)


def test_corners_of_the_law_are_the_best():
    """A search from the stored corners finds nothing better than 2 % less; the reached error is the 1.9 % stated."""
    x = np.linspace(0.0, 40.0, 20001)
    root = math.sqrt(2.0)
    law = (
        0.5 * np.log((x * x + root * x + 1) / (x * x - root * x + 1))
        + np.arctan(root * x + 1)
        + np.arctan(root * x - 1)
    ) / (2 * root)
    (x_1, _), (x_2, y_2), (x_3, y_3) = LAW_CORNERS

    def worst(places):
        first, second, third, height = places
        if not 0.0 < first < second < third:
            return 1.0
        chain = np.interp(x, [0.0, first, second, third, 50.0], [0.0, first, height, y_3, y_3])
        return float(np.max(np.abs(chain - law)) / y_3)

    start = worst((x_1, x_2, x_3, y_2))
    best = minimize(worst, (x_1, x_2, x_3, y_2), method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-7})

    assert start == pytest.approx(0.0186, abs=2e-4)
    assert best.fun > 0.98 * start


def test_measured_list():
    """Trapezoids: 0.4 mH falling to 0.2 mH at 200 A holds 60 mV.s there, then 0.2 mH for ever (by hand)."""
    choke = Choke(inductance_curve=points((0.0, 0.4e-3), (200.0, 0.2e-3)))
    curve = flux_curve(choke)

    assert on_chain(200.0, curve.currents, curve.flux_linkages) == pytest.approx(0.06, rel=1e-12)
    assert on_chain(-300.0, curve.currents, curve.flux_linkages) == pytest.approx(-0.08, rel=1e-12)
    assert inductance_at(choke, 100.0) == pytest.approx(0.3e-3)


def test_measured_list_that_starts_late():
    """Below the first measured current its inductance is taken; one value alone is a plain inductance."""
    late = flux_curve(Choke(inductance_curve=points((50.0, 0.4e-3), (150.0, 0.2e-3))))

    assert late.inductances == pytest.approx((0.4e-3, 0.3e-3, 0.2e-3))
    assert flux_curve(Choke(inductance_curve=points((0.0, 0.4e-3)))).inductances == pytest.approx((0.4e-3,))


def test_gap_with_fringing():
    """25 cm2, 5 cm leg, 2 mm of gap: 5.2 cm squared (by hand)."""
    assert gap_section(25e-4, 2e-3) == pytest.approx(27.04e-4, rel=1e-12)


def test_gapped_core_at_small_current():
    """mu0 N^2 A_g / g with 20 turns, 25 cm2, 3 mm, A_g = (5.3 cm)^2 is 0.471 mH; iron takes some: within 10 % below."""
    choke = Choke(turns=20, section=25e-4, path_length=0.3, gap=3e-3, steel="grain-oriented")
    air_gap = MU_0 * 400.0 * 28.09e-4 / 3e-3

    assert air_gap == pytest.approx(0.4707e-3, rel=1e-3)
    assert 0.90 * air_gap < inductance_at(choke, 1.0) < air_gap


def test_core_saturates():
    """At full iron, 2.06 T, Ampere's law for iron plus gap (by hand); beyond it only air is left."""
    choke = Choke(turns=20, section=25e-4, path_length=0.3, gap=3e-3, steel="grain-oriented")
    curve = flux_curve(choke)
    iron = ((2e-3 * math.exp(3.6 * 2.06**2)) + 10.0) * 2.06 * 0.3
    gap = 2.06 * 25.0 / 28.09 * 3e-3 / MU_0

    assert curve.currents[-2] == pytest.approx((iron + gap) / 20.0, rel=1e-3)
    assert curve.flux_linkages[-2] == pytest.approx(20 * 25e-4 * 2.06, rel=1e-12)
    assert inductance_at(choke, 2000.0) == pytest.approx(MU_0 * 400.0 * 25e-4 / 0.303, rel=1e-9)


@pytest.mark.parametrize(("gap", "bound"), [(5e-3, 0.02), (3e-3, 0.02), (0.0, 0.07)])
@pytest.mark.parametrize("steel", ["grain-oriented", "non-oriented", "unknown"])
def test_pieces_of_a_core(gap, bound, steel):
    """Five pieces; flux within 2 % of that at full iron with a gap of 1 % of the path and more, 7 % without."""
    choke = Choke(turns=20, section=25e-4, path_length=0.3, gap=gap, steel=steel)
    curve = flux_curve(choke)
    fluxes = np.linspace(0.0, curve.flux_linkages[-2], 3001)
    straight = [on_chain(core_current(choke, flux), curve.currents, curve.flux_linkages) for flux in fluxes]

    assert len(curve.inductances) == 5
    assert np.max(np.abs(straight - fluxes)) < bound * fluxes[-1]
    assert all(np.diff(curve.inductances) < 0.0)


@given(turns=st.integers(5, 60), factor=st.integers(2, 4))
def test_turns_of_a_core(turns, factor):
    """N times the turns: the same core at one Nth of the current holds N times the flux linkage."""
    one = flux_curve(Choke(turns=turns, section=25e-4, path_length=0.3, gap=3e-3))
    many = flux_curve(Choke(turns=turns * factor, section=25e-4, path_length=0.3, gap=3e-3))

    assert many.currents[:-1] == pytest.approx([i / factor for i in one.currents[:-1]], rel=1e-6)
    assert many.flux_linkages[:-1] == pytest.approx([flux * factor for flux in one.flux_linkages[:-1]], rel=1e-6)


def test_turns_of_an_electrical_choke_change_nothing():
    """Turns beside an inductance serve a second winding only."""
    assert flux_curve(Choke(inductance=0.3e-3, saturation_current=260.0, turns=20)) == flux_curve(SHED)


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({}, "choke.turns"),
        ({"turns": 20}, "choke.section"),
        ({"turns": 20, "section": 25e-4, "path_length": 0.3}, "choke.gap"),
        (
            {"inductance": 0.3e-3, "saturation_current": 100.0, "saturated_inductance": 0.2e-3},
            "choke.saturated_inductance",
        ),
        ({"inductance_curve": points((100.0, 0.2e-3), (50.0, 0.3e-3))}, "choke.inductance_curve"),
    ],
)
def test_what_is_missing_is_named(values, place):
    """Each gap in the table is an error that names its key and says what to do."""
    with pytest.raises(ScenarioError) as caught:
        flux_curve(Choke(**values))

    assert caught.value.place == place
    assert caught.value.advice
