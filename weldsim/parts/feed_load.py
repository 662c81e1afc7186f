"""What the feed motor has to pull and push: reel, liner and rolls, seen through the gear at its armature."""

import math

from weldsim.parts.feed_motor import FeedMotor, back_emf_constant

BEARING_SHARE = 0.5  # of the hub's diameter: where the weight of the reel rubs


def run_up_time_constant(motor: FeedMotor, *, resistance: float = 0.0) -> float:
    """Mechanical time constant on a stiff voltage: J (R + resistance) / k^2.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    resistance : float
        In series with the armature [ohm].

    Returns
    -------
    float
        Time constant [s].

    Notes
    -----
    With J of armature, gear, and wire and reel as the gear passes them on (``total_inertia``).  The armature's
    inductance is neglected: holds where L / R is well below the result.

    Examples
    --------
    >>> round(1e3 * run_up_time_constant(FeedMotor()), 2)
    9.87

    References
    ----------
    Derived here: J dw/dt = k (u - k w) / R - friction.
    """
    return total_inertia(motor) * (motor.armature_resistance + resistance) / back_emf_constant(motor) ** 2


def total_inertia(motor: FeedMotor) -> float:
    """Inertia at the armature: its own and that of the reel, through the wire and the gear.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Moment of inertia [kg m2].

    Notes
    -----
    The wire on the reel is a hollow cylinder of mass m between r and R: m (R^2 + r^2) / 2, seen at its rim as a mass
    m (1 + r^2 / R^2) / 2.  The empty spool is left out.  Taut wire: a slack loop starts the reel later and softer.

    Examples
    --------
    >>> round(1e7 * total_inertia(FeedMotor()), 1)
    367.6

    References
    ----------
    Derived here.
    """
    rim, inner = wound_radius(motor), 0.5 * motor.reel_inner_diameter
    at_rim = 0.5 * motor.reel_mass * motor.reel_fill * (1.0 + (inner / rim) ** 2)
    return motor.inertia + at_rim * (0.5 * motor.roll_diameter / motor.gear) ** 2


def wound_radius(motor: FeedMotor) -> float:
    """Radius at which the wire leaves the reel: the share that is left fills its share of the area.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Radius [m].

    Examples
    --------
    >>> from dataclasses import replace
    >>> [round(wound_radius(replace(FeedMotor(), reel_fill=fill)), 4) for fill in (0.0, 0.5, 1.0)]
    [0.05, 0.0791, 0.1]

    References
    ----------
    Derived here (evenly wound).
    """
    inner, outer = 0.5 * motor.reel_inner_diameter, 0.5 * motor.reel_outer_diameter
    return math.sqrt(inner**2 + motor.reel_fill * (outer**2 - inner**2))


def reel_force(motor: FeedMotor) -> float:
    """Pull that turns the reel: brake and weight on the hub, over the radius.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Force in the wire before the rolls [N].

    Notes
    -----
    A full reel is heavy, an empty one has a short lever: which pulls harder depends on brake and weight.

    Examples
    --------
    >>> from dataclasses import replace
    >>> [round(reel_force(replace(FeedMotor(), reel_fill=fill)), 2) for fill in (0.0, 1.0)]
    [3.0, 3.95]

    References
    ----------
    Derived here.
    """
    weight = 9.81 * motor.reel_mass * motor.reel_fill
    friction = motor.hub_friction * weight * BEARING_SHARE * motor.hub_diameter
    return (motor.reel_brake + friction) / wound_radius(motor)


def push_force(motor: FeedMotor) -> float:
    """Push behind the rolls that brings the wire through the liner: tube force x exp(friction x bend).

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Force in the wire [N].

    Notes
    -----
    A wire without stiffness of its own; one that is stiff rubs in a straight liner too, and buckles where it is pushed
    too hard.  Friction of 0.15 to 0.3 is told for steel in steel liners (from memory, 60 %), more when they are dirty.

    Examples
    --------
    >>> from dataclasses import replace
    >>> [round(push_force(replace(FeedMotor(), liner_bend=bend)), 1) for bend in (0.0, 180.0, 720.0)]
    [5.0, 9.4, 61.7]

    References
    ----------
    Euler; Eytelwein (rope on a drum); derived here.
    """
    return motor.tube_force * math.exp(motor.liner_friction * math.radians(motor.liner_bend))


def load_torque(motor: FeedMotor) -> float:
    """Torque of the load at the armature: all force in the wire x roll radius / (gear x its efficiency).

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Torque, without the friction of motor and gear themselves [N m].

    Examples
    --------
    >>> round(1e3 * load_torque(FeedMotor()), 2)
    14.28

    References
    ----------
    Derived here.
    """
    force = reel_force(motor) + push_force(motor)
    return force * 0.5 * motor.roll_diameter / (motor.gear * motor.gear_efficiency)


def feed_of(motor: FeedMotor, speed: float) -> float:
    """Wire feed at a speed of the armature.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    speed : float
        Of the armature [rad/s].

    Returns
    -------
    float
        Wire feed, without slip [m/s].

    Examples
    --------
    >>> round(60.0 * feed_of(FeedMotor(), 3000.0 * math.pi / 30.0), 2)
    14.14

    References
    ----------
    Derived here.
    """
    return speed * 0.5 * motor.roll_diameter / motor.gear


def speed_of(motor: FeedMotor, feed: float) -> float:
    """Speed of the armature that gives a wire feed.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    feed : float
        Wire feed [m/s].

    Returns
    -------
    float
        Speed [rad/s].

    Examples
    --------
    >>> round(speed_of(FeedMotor(), 5.0 / 60.0), 1)
    111.1

    References
    ----------
    Derived here.
    """
    return feed * motor.gear / (0.5 * motor.roll_diameter)
