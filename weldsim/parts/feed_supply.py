"""What feeds the feed motor, and how its speed is held.

    own transformer or weld output --- bridge or diode --- capacitor --- stage --- motor

The stage is a mere resistor, a linear stabiliser (the rest of the voltage becomes heat in it) or a chopper (which
draws less current than it gives).  The control asks the stage for a voltage: the same share of the capacitor's (open
loop), always the same (stabilised voltage), or one that follows the current so that the back-EMF stays (speed).
"""

import math

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.feed_load import load_torque, speed_of
from weldsim.parts.feed_motor import FeedMotor, back_emf_constant, current_at

SINK_AIR = 40.0  # [degC] air around the heat sink, in the housing (common practice)


@dataclass(frozen=True, kw_only=True)
class FeedSupply:
    """Table [feed_supply]: where the motor's power comes from, and its control."""

    kind: str = units.choice(
        ("own transformer", "weld output"), doc="own small transformer, or the terminals", default="own transformer"
    )
    voltage: float = units.quantity(
        "voltage", doc="own transformer: rms without load, at the rated mains", low="1 V", high="400 V", default="27 V"
    )
    resistance: float = units.quantity(
        "resistance", doc="in front of the capacitor: all windings, seen from it", low="10 mohm", high="100 ohm",
        default="1 ohm",
    )  # fmt: skip
    diode_drop: float = units.quantity("voltage", doc="of all diodes in the way", low=0.0, high="5 V", default="1.6 V")
    smoothing_capacitance: float = units.quantity(
        "capacitance", doc="behind the diodes", low="10 uF", high="1 F", default="4.7 mF"
    )
    stage: str = units.choice(("resistor", "linear", "chopper"), doc="between capacitor and motor", default="linear")
    control: str = units.choice(
        ("open loop", "stabilised voltage", "speed"), doc="what is held", default="stabilised voltage"
    )
    dropout: float = units.quantity(
        "voltage", doc="least that the stage takes; nothing for a resistor", low=0.0, high="20 V", default="2.5 V"
    )
    compensation: float = units.quantity(
        "fraction", doc="speed: share of the armature's drop made good", low=0.0, high="99 %", default="90 %"
    )
    current_limit: float = units.quantity(
        "current", doc="that a linear stage or chopper gives at most", low="0.1 A", high="200 A", default="8 A"
    )
    heat_sink: float | None = units.quantity(
        "thermal_resistance", doc="stage to air, all of it", low="0.05 K/W", high="100 K/W", default=None
    )

    def faults(self) -> list[tuple[str, str]]:
        """A resistor holds nothing."""
        if self.stage == "resistor" and self.control != "open loop":
            return [("control", 'a resistor is "open loop": it holds neither voltage nor speed')]
        return []


@dataclass(frozen=True)
class Setting:
    """Where the knob stands: what the stage is told for one wanted feed."""

    voltage: float = 0.0  # [V] stabilised voltage, or back-EMF wanted with ``compensated`` on top
    compensated: float = 0.0  # [ohm] added to it per ampere
    share: float = 0.0  # [1] of the capacitor's voltage; open loop with a linear stage or chopper
    series: float = math.inf  # [ohm] of a resistor


OFF = Setting()


def setting_for(motor: FeedMotor, supply: FeedSupply, *, feed: float, capacitor: float) -> Setting:
    """Where the knob must stand for a feed, on a capacitor voltage and the load as written.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    supply : FeedSupply
        The table [-].
    feed : float
        Wanted wire feed; nothing is asked of the motor at zero [m/s].
    capacitor : float
        Mean voltage of the capacitor at this load and the rated mains [V].

    Returns
    -------
    Setting
        What the stage is told [-].

    Notes
    -----
    Steady: i = (load + friction) / k, u = k w + R i.  A feed beyond reach gives a setting beyond the capacitor's volts.

    Examples
    --------
    >>> found = setting_for(FeedMotor(), FeedSupply(), feed=5.0 / 60.0, capacitor=33.0)
    >>> round(found.voltage, 3)
    8.164

    References
    ----------
    Derived here.
    """
    if feed <= 0.0:
        return OFF
    current = current_at(motor, load_torque(motor))
    emf = back_emf_constant(motor) * speed_of(motor, feed)
    voltage = emf + motor.armature_resistance * current
    if supply.stage == "resistor":
        return Setting(series=max(0.0, (capacitor - voltage) / current) if current > 0.0 else 0.0)
    if supply.control == "open loop":
        return Setting(share=(voltage + supply.dropout) / capacitor)
    if supply.control == "stabilised voltage":
        return Setting(voltage=voltage)
    compensated = supply.compensation * motor.armature_resistance
    return Setting(voltage=voltage - compensated * current, compensated=compensated)


def speed_under_load(motor: FeedMotor, setting: Setting, *, torque: float) -> float:
    """Steady speed of a stage that has headroom, at another load: (u0 - (R - Rc) i) / k.

    Parameters
    ----------
    motor : FeedMotor
        The table [-].
    setting : Setting
        Of a stabilised voltage or a speed control [-].
    torque : float
        Of the load, at the armature [N m].

    Returns
    -------
    float
        Speed of the armature [rad/s].

    Notes
    -----
    What the control makes good (Rc = compensation x R) no longer lowers the speed: with all of R the back-EMF would
    stand still.  A warmer armature has more resistance than the control knows of.

    Examples
    --------
    >>> motor = FeedMotor()
    >>> held = setting_for(motor, FeedSupply(control="speed"), feed=5.0 / 60.0, capacitor=33.0)
    >>> round(speed_under_load(motor, held, torque=load_torque(motor)), 1)
    111.1

    References
    ----------
    Derived here.
    """
    current = current_at(motor, torque)
    left = motor.armature_resistance - setting.compensated
    return max(0.0, (setting.voltage - left * current) / back_emf_constant(motor))


def stage_heat(supply: FeedSupply, *, capacitor: float, voltage: float, current: float) -> float:
    """Heat in the stage: all the voltage between (linear, resistor), or its dropout alone (chopper), times the current.

    Parameters
    ----------
    supply : FeedSupply
        The table [-].
    capacitor, voltage : float
        Before and behind the stage [V].
    current : float
        Of the motor [A].

    Returns
    -------
    float
        Heat [W].

    Notes
    -----
    Switching losses of the chopper are left out: some tenths of a watt at these powers (common practice).

    Examples
    --------
    >>> [round(stage_heat(FeedSupply(stage=stage), capacitor=33.0, voltage=8.2, current=0.6), 2)
    ...  for stage in ("linear", "chopper")]
    [14.88, 1.5]

    References
    ----------
    Derived here.
    """
    across = supply.dropout if supply.stage == "chopper" else capacitor - voltage
    return max(0.0, across) * current


def lowest_valley(supply: FeedSupply, *, crest: float, current: float, frequency: float) -> float:
    """Valley of the capacitor's voltage, on the safe side: crest - drops - I / (2 f C).

    Parameters
    ----------
    supply : FeedSupply
        The table [-].
    crest : float
        Of the transformer's voltage without load [V].
    current : float
        Drawn from the capacitor [A].
    frequency : float
        Of the mains [Hz].

    Returns
    -------
    float
        Voltage that the valley does not reach while the peaks reach crest less the drops [V].

    Notes
    -----
    As if the whole half cycle discharged the capacitor.  The drop in ``resistance`` while it is charged comes on top: a
    valley from the simulation lies above this only where that drop is small.

    Examples
    --------
    >>> round(lowest_valley(FeedSupply(), crest=38.18, current=2.5, frequency=50.0), 2)
    31.26

    References
    ----------
    Common practice (capacitor-input filter); derived here: charge I / (2 f) in one half cycle.
    """
    return crest - supply.diode_drop - current / (2.0 * frequency * supply.smoothing_capacitance)
