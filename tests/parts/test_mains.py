"""The mains: amplitudes, crests and stiffness of the source."""

import math

import pytest

from weldsim.parts.mains import (
    PRESETS,
    Harmonic,
    Mains,
    background_rows,
    crest_flux_linkage,
    crest_voltage,
    short_circuit_current,
    source_terms,
)

PLAIN = Mains(voltage=230.0, frequency=50.0)


def test_plain_sine():
    """A sine of 230 V has its crest at sqrt 2 of it, and its flux at crest over 2 pi f (by definition)."""
    assert source_terms(PLAIN) == [(1, pytest.approx(325.2691193458, rel=1e-12), 0.0)]
    assert crest_voltage(PLAIN) == pytest.approx(325.2691193458, rel=1e-12)
    assert crest_flux_linkage(PLAIN) == pytest.approx(325.2691193458 / 314.159265358979, rel=1e-12)


def test_harmonic_splits_into_sine_and_cosine():
    """A 10 % third harmonic at 90 degrees is all cosine; two rows of one order add."""
    mains = Mains(
        voltage=100.0,
        frequency=50.0,
        background=(Harmonic(order=3, fraction=0.1, phase=90.0), Harmonic(order=3, fraction=0.1)),
    )
    (first, *_), (order, sine, cosine) = source_terms(mains)
    assert (first, order) == (1, 3)
    assert (sine, cosine) == (pytest.approx(14.142135623731), pytest.approx(14.142135623731))


def test_third_harmonic_raises_or_lowers_the_crest():
    """sin 3x at phase 0 is -1 at the crest (by hand: crest less 10 %, plus at 180 degrees); sampled, so 1e-5."""
    low = Mains(voltage=100.0, frequency=50.0, background=(Harmonic(order=3, fraction=0.1),))
    high = Mains(voltage=100.0, frequency=50.0, background=(Harmonic(order=3, fraction=0.1, phase=180.0),))
    assert crest_voltage(high) == pytest.approx(math.sqrt(2.0) * 110.0, rel=1e-5)
    assert crest_voltage(low) < math.sqrt(2.0) * 100.0


def test_direct_voltage_adds_to_the_crest():
    """5 V of direct voltage lifts one crest by 5 V; the mains factor does not touch it."""
    mains = Mains(voltage=230.0, frequency=50.0, dc_offset=-5.0)
    assert crest_voltage(mains, factor=2.0) == pytest.approx(2.0 * 325.2691193458 + 5.0)


def test_flux_of_harmonics_is_divided_by_order():
    """A harmonic n adds its fraction over n to the flux (in phase: at 180 degrees for n = 3; sampled, so 1e-5)."""
    mains = Mains(voltage=230.0, frequency=50.0, background=(Harmonic(order=3, fraction=0.3),))
    assert crest_flux_linkage(mains) == pytest.approx(1.1 * crest_flux_linkage(PLAIN), rel=1e-5)


@pytest.mark.parametrize("name", sorted(PRESETS))
def test_presets_stay_within_the_supply_standard(name):
    """Total distortion of each preset stays at or below 11 %: the limits of EN 50160 taken together (8 % alone)."""
    rows = background_rows(Mains(voltage=230.0, frequency=50.0, background=name))
    assert 0.0 < math.sqrt(sum(row.fraction**2 for row in rows)) < 0.11


def test_flat_top_is_flat():
    """The preset of that name lowers the crest."""
    assert crest_voltage(Mains(voltage=230.0, frequency=50.0, background="flat top")) < crest_voltage(PLAIN)


def test_reference_impedance():
    """0.4 + j 0.25 ohm (loop of the reference impedance, from memory 97 %) at 230 V: 230 / 0.4717 ohm."""
    mains = Mains(voltage=230.0, frequency=50.0, resistance=0.4, inductance=0.25 / (100.0 * math.pi))
    assert short_circuit_current(mains) == pytest.approx(487.6, rel=1e-4)
    assert short_circuit_current(PLAIN) == math.inf


def test_an_order_is_given_once():
    """Two rows of one order would add up without a word: told, by its number."""
    rows = tuple(Harmonic(order=n, fraction=0.02) for n in (3, 5, 3))
    assert Mains(voltage=230.0, frequency=50.0, background=rows).faults() == [
        ("background", "order 3 is given more than once: write one row for each")
    ]
    assert Mains(voltage=230.0, frequency=50.0, background=rows[:2]).faults() == []
    assert Mains(voltage=230.0, frequency=50.0, background="flat top").faults() == []
