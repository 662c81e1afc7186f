"""The feed motor's supply and control: what each control holds, and where the stabiliser runs out of volts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.feed_load import load_torque, speed_of
from weldsim.parts.feed_motor import FeedMotor, back_emf_constant, current_at, speed_at
from weldsim.parts.feed_supply import (
    OFF,
    FeedSupply,
    lowest_valley,
    setting_for,
    speed_under_load,
    stage_heat,
)

MOTOR = FeedMotor()
LOAD = load_torque(MOTOR)


@given(feed=st.floats(0.01, 0.2))
def test_every_control_gives_the_wanted_feed_at_the_load_as_written(feed):
    """Put the setting back into Kirchhoff's law of each stage: the motor's own line gives the wanted speed again."""
    wanted = pytest.approx(speed_of(MOTOR, feed), rel=1e-9)
    current = current_at(MOTOR, LOAD)
    stabilised = setting_for(MOTOR, FeedSupply(), feed=feed, capacitor=40.0)
    assert speed_at(MOTOR, stabilised.voltage, torque=LOAD) == wanted
    open_loop = setting_for(MOTOR, FeedSupply(control="open loop", stage="chopper"), feed=feed, capacitor=40.0)
    assert speed_at(MOTOR, open_loop.share * 40.0 - 2.5, torque=LOAD) == wanted
    resistor = setting_for(MOTOR, FeedSupply(control="open loop", stage="resistor"), feed=feed, capacitor=60.0)
    assert speed_at(MOTOR, 60.0 - resistor.series * current, torque=LOAD) == wanted
    held = setting_for(MOTOR, FeedSupply(control="speed"), feed=feed, capacitor=40.0)
    assert speed_at(MOTOR, held.voltage + held.compensated * current, torque=LOAD) == wanted


def test_speed_control_holds_its_back_emf():
    """Twice the load lowers a stabilised motor by R di / k, a speed control by a tenth of it (compensation 90 %)."""
    fall = MOTOR.armature_resistance * LOAD / back_emf_constant(MOTOR) ** 2
    for supply, share in ((FeedSupply(), 1.0), (FeedSupply(control="speed"), 0.1)):
        held = setting_for(MOTOR, supply, feed=0.08, capacitor=40.0)
        once, twice = (speed_under_load(MOTOR, held, torque=n * LOAD) for n in (1.0, 2.0))
        assert once - twice == pytest.approx(share * fall, rel=1e-6)


def test_nothing_is_asked_for_no_feed():
    """A wanted feed of zero switches the stage off."""
    assert setting_for(MOTOR, FeedSupply(), feed=0.0, capacitor=30.0) == OFF


def test_heat():
    """Linear: (33 - 8) V x 0.6 A = 15 W; chopper: dropout x current; none is negative in dropout (by hand)."""
    assert stage_heat(FeedSupply(), capacitor=33.0, voltage=8.0, current=0.6) == pytest.approx(15.0)
    assert stage_heat(FeedSupply(stage="chopper"), capacitor=33.0, voltage=8.0, current=0.6) == pytest.approx(1.5)
    assert stage_heat(FeedSupply(), capacitor=5.0, voltage=8.0, current=0.6) == 0.0


def test_dropout_at_low_mains():
    """24 V x sqrt 2 - 1.6 V - 2 A x 10 ms / 4.7 mF = 28.1 V; at -10 % it is 24.7 V.

    Worked out on paper from the formula of the capacitor-input filter.
    """
    supply = FeedSupply(voltage=24.0)
    crest = 24.0 * 2.0**0.5
    rated = lowest_valley(supply, crest=crest, current=2.0, frequency=50.0)
    low = lowest_valley(supply, crest=0.9 * crest, current=2.0, frequency=50.0)
    assert rated == pytest.approx(28.09, abs=0.01)
    assert low == pytest.approx(24.69, abs=0.01)


def test_a_resistor_holds_nothing():
    """A resistor with a control other than open loop is refused."""
    assert [place for place, _ in FeedSupply(stage="resistor").faults()] == ["control"]
    assert FeedSupply(stage="resistor", control="open loop").faults() == []
