"""The wire feeder: a permanent-magnet direct-current motor, its gear, and what it has to pull and push.

    reel ~~~~> [rolls] ====liner, curved====> [contact tube] --> wire
                  |
                gear -- motor (armature R, L, back-EMF k w)

What reel, liner and rolls ask of it is in ``feed_load.py``, its supply and control in ``feed_supply.py``.  The motor is
told by what its plate and two measurements say: rated voltage, current and speed, armature resistance, current without
load.  Letters in the formulas: u volts, i amperes, w speed of the armature [rad/s], k back-EMF per speed, which is
torque per current too.
"""

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class FeedMotor:
    """Table [feed_motor]: the motor by its plate, gear and rolls, reel and liner."""

    rated_voltage: float = units.quantity("voltage", doc="of the plate", low="1 V", high="400 V", default="24 V")
    rated_current: float = units.quantity("current", doc="of the plate", low="50 mA", high="100 A", default="2.5 A")
    rated_speed: float = units.quantity(
        "rotation", doc="of the plate, before the gear", low="10 rev/min", high="30000 rev/min", default="3000 rev/min"
    )
    armature_resistance: float = units.quantity(
        "resistance", doc="across the brushes", low="1 mohm", high="1 kohm", default="1.2 ohm"
    )
    armature_inductance: float = units.quantity(
        "inductance", doc="across the brushes", low="1 uH", high="1 H", default="1.5 mH"
    )
    no_load_current: float = units.quantity(
        "current", doc="with the gear, without wire: friction", low=0.0, high="50 A", default="0.4 A"
    )
    inertia: float = units.quantity(
        "inertia", doc="of armature and gear, at the armature", low="0.1 g.cm2", high="1 kg.m2", default="350 g.cm2"
    )
    gear: float = units.ratio(doc="turns of the motor per turn of the roll", low=1.0, high=1000.0, default=20.0)
    gear_efficiency: float = units.quantity("fraction", doc="of the gear", low="5 %", high="100 %", default="70 %")
    roll_diameter: float = units.quantity("length", doc="of the drive roll", low="5 mm", high="200 mm", default="30 mm")
    roll_grip: float = units.quantity(
        "force", doc="at which the wire slips in the rolls", low="1 N", high="2 kN", default="150 N"
    )
    brake_resistance: float | None = units.quantity(
        "resistance", doc="across the motor when it is to stop; it coasts unless given", low=0.0, high="1 kohm",
        default=None,
    )  # fmt: skip
    reel_mass: float = units.quantity("mass", doc="wire on a full reel", low="0.1 kg", high="50 kg", default="5 kg")
    reel_outer_diameter: float = units.quantity(
        "length", doc="of the wire on a full reel", low="30 mm", high="1 m", default="200 mm"
    )
    reel_inner_diameter: float = units.quantity(
        "length", doc="of the empty reel", low="10 mm", high="0.9 m", default="100 mm"
    )
    reel_fill: float = units.quantity("fraction", doc="wire left on the reel", low=0.0, high=1.0, default="100 %")
    reel_brake: float = units.quantity("torque", doc="of the hub's brake", low=0.0, high="20 N.m", default="150 mN.m")
    hub_diameter: float = units.quantity(
        "length", doc="on which the reel turns", low="5 mm", high="200 mm", default="50 mm"
    )
    hub_friction: float = units.quantity("fraction", doc="of reel on hub", low=0.0, high=1.0, default="20 %")
    tube_force: float = units.quantity(
        "force", doc="that contact tube and straight liner take", low=0.0, high="500 N", default="5 N"
    )
    liner_bend: float = units.quantity(
        "angle", doc="all bends of the liner, added up", low=0.0, high="3600 deg", default="180 deg"
    )
    liner_friction: float = units.quantity(
        "fraction", doc="of the wire in its liner", low=0.0, high=1.0, default="20 %"
    )

    def faults(self) -> list[tuple[str, str]]:
        """A plate that cannot be, and a reel inside out."""
        found = []
        if self.rated_voltage <= self.armature_resistance * self.rated_current:
            found.append(("rated_current", "the armature alone takes all of rated_voltage at this current"))
        if self.no_load_current >= self.rated_current:
            found.append(("no_load_current", "not below rated_current"))
        if self.reel_inner_diameter >= self.reel_outer_diameter:
            found.append(("reel_inner_diameter", "not below reel_outer_diameter"))
        return found


def back_emf_constant(motor: FeedMotor) -> float:
    """Back-EMF per speed, which is torque per current too: k = (U - R I) / w at the plate's values.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Constant [V s/rad = N m/A].

    Examples
    --------
    >>> round(back_emf_constant(FeedMotor()), 5)
    0.06685

    References
    ----------
    Derived here: Kirchhoff's law at the plate's values, steady.
    """
    return (motor.rated_voltage - motor.armature_resistance * motor.rated_current) / motor.rated_speed


def friction_torque(motor: FeedMotor) -> float:
    """Torque lost in brushes, bearings and gear without wire: k times the current without load.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].

    Returns
    -------
    float
        Torque at the armature, the same at every speed [N m].

    Examples
    --------
    >>> round(1e3 * friction_torque(FeedMotor()), 2)
    26.74

    References
    ----------
    Derived here; that friction hardly depends on speed is common practice for small geared motors.
    """
    return back_emf_constant(motor) * motor.no_load_current


def speed_at(motor: FeedMotor, voltage: float, *, torque: float) -> float:
    """Steady speed at a voltage and a load: (u - R i) / k, with i = (torque + friction) / k.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    voltage : float
        At the brushes [V].
    torque : float
        Of the load, at the armature [N m].

    Returns
    -------
    float
        Speed of the armature; none where the motor stands [rad/s].

    Examples
    --------
    >>> motor = FeedMotor()
    >>> rated = back_emf_constant(motor) * 2.5 - friction_torque(motor)
    >>> round(speed_at(motor, 24.0, torque=rated) / motor.rated_speed, 6)
    1.0

    References
    ----------
    Derived here.
    """
    drop = motor.armature_resistance * current_at(motor, torque)
    return max(0.0, (voltage - drop) / back_emf_constant(motor))


def current_at(motor: FeedMotor, torque: float) -> float:
    """Current that a load takes: (torque + friction) / k.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    torque : float
        Of the load, at the armature [N m].

    Returns
    -------
    float
        Current, steady and turning [A].

    Examples
    --------
    >>> current_at(FeedMotor(), 0.0)
    0.4

    References
    ----------
    Derived here.
    """
    return (torque + friction_torque(motor)) / back_emf_constant(motor)


def stall_current(motor: FeedMotor, voltage: float) -> float:
    """Current of a motor that cannot turn: u / R.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    voltage : float
        At the brushes [V].

    Returns
    -------
    float
        Current [A].

    Examples
    --------
    >>> stall_current(FeedMotor(), 24.0)
    20.0

    References
    ----------
    Ohm's law; derived here.
    """
    return voltage / motor.armature_resistance
