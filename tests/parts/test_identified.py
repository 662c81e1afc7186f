"""A transformer's values from readings: what they are shared out by, what is assumed, and what each doubt does."""

import math

import pytest

from weldsim.parts.hysteresis import loop_area
from weldsim.parts.identified import Guess, identify, variants
from weldsim.parts.readings import NoLoadReading, Readings, ShortReading

OMEGA = 2.0 * math.pi * 50.0
MAINS = {"frequency": 50.0, "mains_voltage": 230.0}
IDLE = (
    NoLoadReading(voltage=115.0, current=0.1, power=7.0),
    NoLoadReading(voltage=230.0, current=0.4, power=28.0, secondary_voltage=28.0, test_voltage=15.0),
)
SHORTED = (ShortReading(voltage=10.0, current=10.0, power=80.0),)


def test_resistance_of_the_short_circuit_is_shared_as_direct_current_says():
    """0.8 ohm in all where direct current shows 0.3 and 0.4: three sevenths of it are the primary's."""
    ratio = identify(Readings(no_load=IDLE), **MAINS).ratio
    bench = Readings(no_load=IDLE, short_circuit=SHORTED, primary_resistance=0.3, secondary_resistance=0.4 / ratio**2)
    found = identify(bench, **MAINS)
    assert found.primary_resistance == pytest.approx(0.8 * 3.0 / 7.0, rel=2e-3)  # the ratio moves by the drop
    assert found.secondary_resistance * found.ratio**2 == pytest.approx(0.8 * 4.0 / 7.0, rel=2e-3)
    # X = sqrt(1 - 0.8^2); the magnetising branch of some 2 kohm takes 2e-4 of the current
    assert found.primary_leakage == pytest.approx(0.5 * 0.6 / OMEGA, rel=3e-4)


def test_the_leakage_may_lie_on_either_side():
    """No reading tells: all of 0.6 ohm on the primary, or none of it."""
    bench = Readings(no_load=IDLE, short_circuit=SHORTED)
    one = identify(bench, guess=Guess(leakage=1.0), **MAINS)
    other = identify(bench, guess=Guess(leakage=0.0), **MAINS)
    assert (one.secondary_leakage, other.primary_leakage) == (0.0, 0.0)
    assert one.primary_leakage == pytest.approx(0.6 / OMEGA, rel=3e-3)
    assert other.secondary_leakage * other.ratio**2 == pytest.approx(0.6 / OMEGA, rel=3e-3)
    assert one.ratio < other.ratio  # what lies on the primary takes some of its volts


def test_resistance_beyond_the_impedance_leaves_less_than_nothing():
    """1.2 ohm by direct current where U / I is 1 ohm: X^2 = 1 - 1.44, kept with its sign; the leakage is none."""
    ratio = 230.0 / 28.0
    shorted = (ShortReading(voltage=10.0, current=10.0),)
    bench = Readings(no_load=IDLE, short_circuit=shorted, primary_resistance=0.6, secondary_resistance=0.6 / ratio**2)
    found = identify(bench, **MAINS)
    assert found.leakage_squared == pytest.approx(-0.44 / OMEGA**2, rel=0.02)  # the ratio moves by the drop
    assert found.primary_leakage == pytest.approx(0.0, abs=1e-6)


def test_resistances_are_told_at_20_degrees():
    """Copper of 70 degC has 1.1965 times its resistance at 20 (0.00393 per kelvin)."""
    bench = Readings(no_load=IDLE, primary_resistance=0.3, secondary_resistance=4e-3, winding_temperature=70.0)
    found = identify(bench, **MAINS)
    assert found.primary_resistance == pytest.approx(0.3 / (1.0 + 0.00393 * 50.0), rel=1e-3)


def test_turns_follow_from_the_test_turns():
    """10 turns give 15 V where 230 V stand: 153.3 turns."""
    found = identify(Readings(no_load=IDLE, test_turns=10), **MAINS)
    assert found.primary_turns == pytest.approx(153.33, abs=0.01)


def test_saturation_is_assumed_by_section_and_turns_or_by_the_mains():
    """1.95 T on 153.3 turns of 50 cm2; without them 1.3 times the flux of the mains; a guess moves either."""
    flux = math.sqrt(2.0) * 230.0 / OMEGA
    measured = Readings(no_load=IDLE, test_turns=10, section=50e-4)
    assert identify(measured, **MAINS).curve[-1][0] == pytest.approx(1.95 * 153.33 * 50e-4, rel=1e-3)
    assert identify(Readings(no_load=IDLE), **MAINS).curve[-1][0] == pytest.approx(1.3 * flux, rel=1e-6)
    more = identify(Readings(no_load=IDLE), guess=Guess(saturation=1.1), **MAINS)
    assert more.curve[-1][0] == pytest.approx(1.43 * flux, rel=1e-6)
    assert more.read == 2


def test_beyond_saturation_the_winding_is_air():
    """By ruler mu0 N^2 A / l; else 2.5 times the leakage; never near the slope of the last piece read."""
    measured = Readings(no_load=IDLE, test_turns=10, section=50e-4, path_length=0.5)
    air = 4e-7 * math.pi * 153.33**2 * 50e-4 / 0.5
    assert identify(measured, **MAINS).saturated_inductance == pytest.approx(air, rel=1e-3)
    bench = Readings(no_load=IDLE, short_circuit=SHORTED)
    found = identify(bench, **MAINS)
    assert found.saturated_inductance == pytest.approx(2.5 * 2.0 * found.primary_leakage, rel=1e-9)


def test_watts_that_were_not_read_follow_from_the_nearest():
    """The square of the volts: 7 W at 115 V are 28 W at 230 V."""
    rows = (IDLE[0], NoLoadReading(voltage=230.0, current=0.4, secondary_voltage=28.0))
    one, both = identify(Readings(no_load=rows), **MAINS), identify(Readings(no_load=IDLE), **MAINS)
    assert one.iron_loss == pytest.approx(both.iron_loss)
    assert one.loss_resistance == pytest.approx(230.0**2 / (0.5 * 28.0), rel=1e-6)  # half of it goes with the volts
    assert one.iron_loss == pytest.approx(28.0)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_the_iron_loss_is_shared_out(share: float):
    """What the resistor takes at mains voltage and what friction loses in each cycle add up to what was read."""
    found = identify(Readings(no_load=IDLE, eddy_share=share), **MAINS)
    flux = math.sqrt(2.0) * 230.0 / OMEGA
    in_the_resistor = 230.0**2 / found.loss_resistance if found.loss_resistance else 0.0
    assert in_the_resistor == pytest.approx(share * 28.0)
    assert 50.0 * loop_area(found.frictions, flux) == pytest.approx((1.0 - share) * 28.0)


def test_every_instrument_is_off_in_turn():
    """One variant for each column and each resistance that was read, scaled by the doubt of its instrument."""
    bench = Readings(
        no_load=IDLE,
        short_circuit=SHORTED,
        primary_resistance=0.3,
        secondary_resistance=4e-3,
        test_turns=10,
        current_doubt=0.1,
    )
    found = {name: (below, above) for name, below, above in variants(bench)}
    assert len(found) == 10
    below, above = found["amperes without load"]
    assert [row.current for row in below.no_load] == pytest.approx([0.09, 0.36])
    assert [row.current for row in above.no_load] == pytest.approx([0.11, 0.44])
    assert above.short_circuit == SHORTED
    assert found["resistance of the secondary"][1].secondary_resistance == pytest.approx(4.12e-3)
