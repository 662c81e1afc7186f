"""The feed motor and what it pulls against closed forms worked out by hand, and limits that anybody can check."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.parts.feed_load import (
    feed_of,
    load_torque,
    push_force,
    reel_force,
    run_up_time_constant,
    speed_of,
    total_inertia,
    wound_radius,
)
from weldsim.parts.feed_motor import (
    FeedMotor,
    back_emf_constant,
    current_at,
    friction_torque,
    speed_at,
    stall_current,
)

PER_MINUTE = math.pi / 30.0
# A motor with round figures: k = (12 - 2 x 1) V / 100 rad/s = 0.1 V s.
ROUND = FeedMotor(
    rated_voltage=12.0,
    rated_current=1.0,
    rated_speed=100.0,
    armature_resistance=2.0,
    no_load_current=0.2,
    inertia=5e-5,
    gear=10.0,
    gear_efficiency=0.5,
    roll_diameter=40e-3,
    reel_mass=4.0,
    reel_outer_diameter=0.2,
    reel_inner_diameter=0.1,
    reel_fill=1.0,
    reel_brake=0.1,
    hub_diameter=0.05,
    hub_friction=0.0,
    tube_force=4.0,
    liner_bend=0.0,
)


def test_plate_and_limits_by_hand():
    """k, no-load speed, stall and the rated point of a motor with round figures, each worked out on paper."""
    assert back_emf_constant(ROUND) == pytest.approx(0.1, rel=1e-12)
    assert friction_torque(ROUND) == pytest.approx(0.02, rel=1e-12)
    assert speed_at(ROUND, 12.0, torque=0.0) == pytest.approx((12.0 - 0.4) / 0.1, rel=1e-12)
    assert stall_current(ROUND, 12.0) == 6.0
    assert speed_at(ROUND, 12.0, torque=0.08) == pytest.approx(100.0, rel=1e-12)  # the plate itself
    assert current_at(ROUND, 0.08) == pytest.approx(1.0, rel=1e-12)
    assert speed_at(ROUND, 12.0, torque=0.6) == 0.0


@given(voltage=st.floats(1.0, 50.0), share=st.floats(0.0, 0.99))
def test_power_adds_up(voltage, share):
    """Electrical power in = armature heat + (load + friction) torque x speed, at any load below stall (energy).

    A few digits are lost near stall, where the speed is a small difference: 1e-9 of the power.
    """
    torque = share * max(0.0, 0.1 * stall_current(ROUND, voltage) - friction_torque(ROUND))
    current, speed = current_at(ROUND, torque), speed_at(ROUND, voltage, torque=torque)
    if speed > 0.0:
        out = 2.0 * current**2 + (torque + friction_torque(ROUND)) * speed
        assert voltage * current == pytest.approx(out, rel=1e-9)


def test_run_up_time_constant():
    """J R / k^2 without a reel: 5e-5 x 2 / 0.01 = 10 ms; a resistor of 8 ohm in series makes it five times that."""
    alone = replace(ROUND, reel_fill=0.0)
    assert run_up_time_constant(alone) == pytest.approx(10e-3, rel=1e-12)
    assert run_up_time_constant(alone, resistance=8.0) == pytest.approx(50e-3, rel=1e-12)


def test_reel_through_the_gear():
    """A full reel of 4 kg between 50 and 100 mm weighs 2.5 kg at its rim (hollow cylinder); the gear passes on 4e-6."""
    assert total_inertia(ROUND) - ROUND.inertia == pytest.approx(2.5 * (0.02 / 10.0) ** 2, rel=1e-12)
    assert total_inertia(replace(ROUND, reel_fill=0.0)) == ROUND.inertia


def test_reel_radius_and_pull():
    """Radius at both ends; 0.1 N.m at 100 mm pulls 1 N, at 50 mm 2 N; weight on the hub adds to the full one."""
    assert wound_radius(ROUND) == pytest.approx(0.1)
    assert reel_force(ROUND) == pytest.approx(1.0)
    assert reel_force(replace(ROUND, reel_fill=0.0)) == pytest.approx(2.0)
    rubbing = replace(ROUND, hub_friction=0.2)
    assert reel_force(rubbing) - 1.0 == pytest.approx(0.2 * 4.0 * 9.81 * 0.025 / 0.1, rel=1e-12)


def test_rope_round_a_drum():
    """One turn at a friction of 0.25 multiplies the force by 4.81 (Eytelwein; exp(pi / 2) from tables)."""
    bent = replace(ROUND, liner_friction=0.25, liner_bend=360.0)
    assert push_force(bent) / 4.0 == pytest.approx(4.8105, rel=1e-4)


def test_load_at_the_armature():
    """5 N at a roll of 20 mm radius through 10 : 1 at half efficiency: 20 mN.m (by hand)."""
    assert load_torque(ROUND) == pytest.approx(0.02, rel=1e-12)


@given(feed=st.floats(1e-3, 0.5))
def test_feed_and_speed_are_inverse(feed):
    """One turn of the roll draws its circumference: 100 rad/s at 10 : 1 and 20 mm are 0.2 m/s, and back again."""
    assert feed_of(ROUND, speed_of(ROUND, feed)) == pytest.approx(feed, rel=1e-12)
    assert feed_of(ROUND, 100.0) == pytest.approx(0.2, rel=1e-12)


def test_a_plate_that_cannot_be():
    """An armature that takes all the voltage, more current without load than with it, a reel inside out."""
    assert [place for place, _ in FeedMotor(armature_resistance=10.0).faults()] == ["rated_current"]
    assert [place for place, _ in FeedMotor(no_load_current=3.0).faults()] == ["no_load_current"]
    assert [place for place, _ in FeedMotor(reel_inner_diameter=0.3).faults()] == ["reel_inner_diameter"]
    assert FeedMotor().faults() == []


def test_default_motor_reaches_what_small_feeders_do():
    """2 to 15 m/min at 24 V is common practice for small feeders; no published source."""
    assert 12.0 < 60.0 * feed_of(FeedMotor(), speed_at(FeedMotor(), 24.0, torque=load_torque(FeedMotor()))) < 17.0
    assert FeedMotor().rated_speed == pytest.approx(3000.0 * PER_MINUTE)
