"""Steels: the straight pieces against the smooth law, and the law against what is known of such sheet."""

import numpy as np
import pytest

from weldsim.parts.hysteresis import after_turning
from weldsim.parts.steel import DENSITY, FRICTION_SHARES, MU_0, STEELS, law_field, straight_curve


def own_curve(steel):
    """Straight pieces at the steel's own coercive field and remanence, and the k3 for which the law meets both."""
    elements = [(share * steel.coercive_field, reach) for share, reach in FRICTION_SHARES]
    friction = after_turning(elements, steel.corners[-1] - steel.remanence)
    curve = straight_curve(steel, remanence=steel.remanence, friction_at_remanence=friction)
    knee = steel.knee_scale * np.exp(steel.knee_exponent * steel.remanence**2)
    return curve, -friction / steel.remanence - knee


@pytest.mark.parametrize("name", STEELS)
def test_straight_pieces_stay_near_the_law(name):
    """Worst deviation over field plus coercive field up to full iron: 17 % as the module says; spread to both sides."""
    steel = STEELS[name]
    curve, slope = own_curve(steel)
    b = np.linspace(0.01, steel.corners[-1], 5000)
    law = np.array([law_field(steel, value, low_field_slope=slope) for value in b])
    deviation = (np.interp(b, *np.transpose(curve)) - law) / (law + steel.coercive_field)

    assert np.abs(deviation).max() < 0.175
    assert deviation.max() > 0.10
    assert deviation.min() < -0.10


@pytest.mark.parametrize("name", STEELS)
def test_curve_meets_the_remanence(name):
    """On the falling branch field and friction cancel at the remanence (rounding)."""
    steel = STEELS[name]
    curve, _ = own_curve(steel)
    elements = [(share * steel.coercive_field, reach) for share, reach in FRICTION_SHARES]
    friction = after_turning(elements, steel.corners[-1] - steel.remanence)

    assert np.interp(steel.remanence, *np.transpose(curve)) == pytest.approx(-friction, rel=1e-12)


@pytest.mark.parametrize("name", STEELS)
def test_pieces_are_few_and_rise(name):
    """Six pieces and the air's; each steeper than the one before, the last 1/mu0."""
    curve, _ = own_curve(STEELS[name])
    slopes = np.diff([h for _, h in curve]) / np.diff([b for b, _ in curve])

    assert len(slopes) == 7
    assert np.all(np.diff(slopes) > 0.0)
    assert slopes[-1] == pytest.approx(1.0 / MU_0, rel=1e-9)


def test_grain_oriented_sheet():
    """1.80 to 1.85 T at 800 A/m, saturation 2.03 T: from memory (1 %, the air line prolonged back)."""
    steel = STEELS["grain-oriented"]
    full = steel.corners[-1]

    assert law_field(steel, 1.80, low_field_slope=8.5) < 800.0 < law_field(steel, 1.85, low_field_slope=8.5)
    assert full - MU_0 * law_field(steel, full, low_field_slope=8.5) == pytest.approx(2.03, rel=0.01)
    assert law_field(steel, 1.75, low_field_slope=8.5) / law_field(steel, 1.5, low_field_slope=8.5) > 8.0


@pytest.mark.parametrize("name", ["non-oriented", "unknown"])
def test_other_sheet(name):
    """Saturation about 2.0 T, knee near 1.4 to 1.5 T: common practice, no published source (2 %)."""
    steel = STEELS[name]
    full = steel.corners[-1]
    slope = own_curve(steel)[1]

    assert full - MU_0 * law_field(steel, full, low_field_slope=slope) == pytest.approx(1.98, rel=0.02)
    assert 800.0 < law_field(steel, 1.4, low_field_slope=slope) < 2500.0


def test_law_is_odd_and_goes_over_into_air():
    """Beyond the last corner only mu0 counts; the other polarity mirrors it (rounding)."""
    steel = STEELS["non-oriented"]
    at_end, beyond = (law_field(steel, b, low_field_slope=46.0) for b in (2.1, 2.2))

    assert beyond - at_end == pytest.approx(0.1 / MU_0, rel=1e-9)
    assert law_field(steel, -2.2, low_field_slope=46.0) == -beyond


def test_friction_shares_are_a_whole():
    """The four shares make up the coercive field, and all elements slide at zero flux on a loop to saturation."""
    assert sum(share for share, _ in FRICTION_SHARES) == pytest.approx(1.0, rel=1e-12)
    assert max(reach for _, reach in FRICTION_SHARES) < 0.5 * min(steel.corners[-1] for steel in STEELS.values())


def test_density_of_silicon_steel():
    """7.65 g/cm3: from memory."""
    assert DENSITY == 7650.0
