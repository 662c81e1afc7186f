"""Phase control: the switch in the primary, how the dial sets its delay, and what the gate is given.

        triac or thyristor pair (threshold, slope, off resistance)
    o---+--------------|>|<|--------------+---o  transformer
        +----[snubber resistance]---||----+

Delay is counted in degrees from the zero crossing of the ideal source, in both half cycles alike.
"""

import math

from weldsim import units
from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass

HALF_CYCLE = 180.0  # [deg]
SHORTEST_SPACING = 100e-6  # [s] of a train whose spacing is not given (common practice, no published source)


@dataclass(frozen=True, kw_only=True)
class PhaseControl:
    """Table [phase_control]: dial, gate, device, snubber, timing parts, ratings."""

    dial: float = units.quantity(
        "fraction", doc="position of the dial, 100 % gives most", low=0.0, high=1.0, default=1.0
    )
    dial_kind: str = units.choice(("linear", "timed", "rc-diac"), doc="how the dial makes the delay", default="linear")
    delay_at_0: float = units.quantity("angle", doc="delay at dial 0 %", low=0.0, high=180.0, default=170.0)
    delay_at_100: float = units.quantity("angle", doc="delay at dial 100 %", low=0.0, high=180.0, default=10.0)
    delay_time_at_0: float | None = units.quantity(
        "time", doc="timed dial: delay at 0 %", low=0.0, high="50 ms", default=None
    )
    delay_time_at_100: float | None = units.quantity(
        "time", doc="timed dial: delay at 100 %", low=0.0, high="50 ms", default=None
    )
    pulse_kind: str = units.choice(
        ("single", "train", "held"), doc="one gate pulse, a train, or held until latched", default="single"
    )
    pulse_width: float = units.quantity(
        "time", doc="length of a gate pulse", low="0.1 us", high="50 ms", default="1 ms"
    )
    pulse_spacing: float | None = units.quantity(
        "time",
        doc="train: from pulse to pulse; 100 us, or twice a longer pulse_width",
        low="1 us",
        high="10 ms",
        default=None,
    )
    train_end: float = units.quantity(
        "angle", doc="train or held: no gate after this angle", low=0.0, high=360.0, default=175.0
    )
    asymmetry: float = units.quantity(
        "angle", doc="negative half cycles fire later by this", low=-180.0, high=180.0, default=0.0
    )
    device: str = units.choice(("triac", "thyristor pair"), doc="the switch", default="triac")
    threshold: float = units.quantity("voltage", doc="on-state threshold voltage", low=0.0, high="10 V", default=1.0)
    slope: float = units.quantity("resistance", doc="on-state slope resistance", low=0.0, high="10 ohm", default=12e-3)
    latching_current: float = units.quantity(
        "current", doc="least current that stays after the pulse", low=0.0, high="10 A", default=80e-3
    )
    holding_current: float = units.quantity(
        "current", doc="least current that stays on", low=0.0, high="10 A", default=50e-3
    )
    off_resistance: float = units.quantity(
        "resistance", doc="of the blocked device", low="100 ohm", high="1000 Mohm", default="200 kohm"
    )
    snubber_resistance: float | None = units.quantity(
        "resistance", doc="resistor of the snubber", low=0.0, high="1 Mohm", default=None
    )
    snubber_capacitance: float | None = units.quantity(
        "capacitance", doc="capacitor of the snubber", low="10 pF", high="100 uF", default=None
    )
    diac_voltage: float = units.quantity(
        "voltage", doc="breakover voltage of the diac", low="1 V", high="300 V", default=32.0
    )
    diac_asymmetry: float = units.quantity(
        "voltage", doc="positive breakover above the negative one", low="-50 V", high="50 V", default=0.0
    )
    diac_breakback: float = units.quantity(
        "voltage", doc="fall of its voltage at breakover", low=0.0, high="300 V", default=10.0
    )
    timing_capacitance: float = units.quantity(
        "capacitance", doc="timing capacitor", low="100 pF", high="100 uF", default="100 nF"
    )
    timing_resistance_at_0: float | None = units.quantity(
        "resistance", doc="timing resistance at dial 0 %", low="100 ohm", high="100 Mohm", default=None
    )
    timing_resistance_at_100: float | None = units.quantity(
        "resistance", doc="timing resistance at dial 100 %", low="100 ohm", high="100 Mohm", default=None
    )
    rated_current: float | None = units.quantity(
        "current", doc="rms rating of the device", low="0.1 A", high="10 kA", default=None
    )
    rated_voltage: float | None = units.quantity(
        "voltage", doc="repetitive peak rating of the device", low="10 V", high="10 kV", default=None
    )
    surge_current: float | None = units.quantity(
        "current", doc="one-cycle surge rating", low="1 A", high="100 kA", default=None
    )
    i2t: float | None = units.quantity("i2t", doc="I2t rating of the device", low=1.0, high=1e8, default=None)
    critical_dvdt: float | None = units.quantity(
        "voltage_rate", doc="critical rate of off-state voltage", low="1 V/ms", high="100000 V/us", default=None
    )
    commutating_dvdt: float | None = units.quantity(
        "voltage_rate", doc="critical rate of voltage after conduction", low="1 V/ms", high="100000 V/us", default=None
    )
    false_firing: bool = units.flag(doc="whether a blocked device fires by itself above critical_dvdt", default=False)
    current_rise: float | None = units.quantity(
        "current_rate", doc="critical rate of current at turn-on", low="1 A/ms", high="100000 A/us", default=None
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other or are missing for the kind of dial."""
        found = []
        if (self.snubber_resistance is None) != (self.snubber_capacitance is None):
            lacking = "snubber_resistance" if self.snubber_resistance is None else "snubber_capacitance"
            found.append((lacking, "missing: a snubber has a resistance and a capacitance, give both or neither"))
        needed = {
            "timed": ("delay_time_at_0", "delay_time_at_100"),
            "rc-diac": ("timing_resistance_at_0", "timing_resistance_at_100"),
        }.get(self.dial_kind, ())
        found += [
            (name, f'missing: dial_kind = "{self.dial_kind}" needs it')
            for name in needed
            if getattr(self, name) is None
        ]
        if self.pulse_kind == "train" and self.pulse_spacing is not None and self.pulse_spacing < self.pulse_width:
            found.append(("pulse_spacing", 'shorter than pulse_width: pulses would overlap; use pulse_kind = "held"'))
        if self.false_firing and self.critical_dvdt is None:
            found.append(("critical_dvdt", "missing: false_firing = true needs the rate at which the device fires"))
        if self.holding_current > self.latching_current:
            found.append(("holding_current", "above latching_current; a device latches above what holds it"))
        if self.diac_breakback > self.diac_voltage - abs(self.diac_asymmetry) / 2.0:
            found.append(("diac_breakback", "larger than the breakover voltage itself"))
        return found


def delay_angle(control: PhaseControl, frequency: float, *, dial: float | None = None) -> float:
    """Delay that the dial asks for.

    Linear: ``delay_at_0 + dial (delay_at_100 - delay_at_0)``; timed: the same for a time, and ``360 f t`` of it.

    Parameters
    ----------
    control : PhaseControl
        The table [-].
    frequency : float
        Mains frequency [Hz].
    dial : float or None
        Position of the dial, the table's own if None [1].

    Returns
    -------
    float
        Delay from the zero crossing of the ideal source, positive half cycles [deg].

    Notes
    -----
    A dial with resistor, capacitor and diac has no delay of its own: it follows from its circuit, cycle by cycle, and
    asking for it here is an error.

    Examples
    --------
    >>> delay_angle(PhaseControl(dial=0.6875), 50.0)
    60.0
    >>> delay_angle(PhaseControl(dial=0.5, dial_kind="timed", delay_time_at_0=8e-3, delay_time_at_100=1e-3), 60.0)
    97.2
    """
    share = control.dial if dial is None else dial
    if control.dial_kind == "rc-diac":
        raise ScenarioError(
            "an RC-and-diac dial has no fixed delay",
            place="phase_control.dial_kind",
            advice='its delay follows from the circuit; choose dial_kind = "linear" to set degrees',
        )
    if control.dial_kind == "timed":
        at_0, at_100 = control.delay_time_at_0 or 0.0, control.delay_time_at_100 or 0.0
        return 360.0 * frequency * (at_0 + share * (at_100 - at_0))
    return control.delay_at_0 + share * (control.delay_at_100 - control.delay_at_0)


def gate_pulses(
    control: PhaseControl, frequency: float, *, delay: float, negative: bool = False
) -> list[tuple[float, float]]:
    """When the gate is driven in one half cycle, in seconds after that half cycle's zero crossing.

    Parameters
    ----------
    control : PhaseControl
        The table [-].
    frequency : float
        Mains frequency [Hz].
    delay : float
        Delay of positive half cycles [deg].
    negative : bool
        For a negative half cycle, which fires later by ``asymmetry`` [-].

    Returns
    -------
    list of (float, float)
        Start and end of each pulse [s].

    Notes
    -----
    A single pulse keeps its full length, also past the next zero crossing (where it fires the next half cycle by
    itself).  Trains and held gates end at ``train_end``.  A held gate is driven until the device has latched, and again
    whenever it falls out before ``train_end``: in the circuit that is one long pulse.  A train or held gate that would
    start after ``train_end`` gives no pulse.

    Examples
    --------
    >>> gate_pulses(PhaseControl(pulse_width=1e-3), 50.0, delay=90.0)
    [(0.005, 0.006)]
    """
    degree = 1.0 / (360.0 * frequency)
    start = max(delay + (control.asymmetry if negative else 0.0), 0.0) * degree
    end = control.train_end * degree
    if control.pulse_kind == "single":
        return [(start, start + control.pulse_width)]
    if start >= end:
        return []
    if control.pulse_kind == "held":
        return [(start, end)]
    spacing = control.pulse_spacing
    if spacing is None:
        spacing = SHORTEST_SPACING if control.pulse_width <= SHORTEST_SPACING else 2.0 * control.pulse_width
    times = [start + index * spacing for index in range(math.ceil((end - start) / spacing))]
    return [(time, min(time + control.pulse_width, end)) for time in times if time < end]


def timing_resistance(control: PhaseControl, *, dial: float | None = None) -> float:
    """Resistance of an RC-and-diac dial.

    Parameters
    ----------
    control : PhaseControl
        The table, with both timing resistances [-].
    dial : float or None
        Position of the dial, the table's own if None [1].

    Returns
    -------
    float
        Resistance in series with the timing capacitor, linear in the dial [ohm].

    Examples
    --------
    >>> timing_resistance(PhaseControl(timing_resistance_at_0=400e3, timing_resistance_at_100=20e3), dial=0.5)
    210000.0
    """
    share = control.dial if dial is None else dial
    at_0, at_100 = control.timing_resistance_at_0, control.timing_resistance_at_100
    if at_0 is None or at_100 is None:
        raise ScenarioError(
            "timing_resistance_at_0 and timing_resistance_at_100 are not given",
            place="phase_control",
            advice='write both, such as "400 kohm" and "10 kohm"',
        )
    return at_0 + share * (at_100 - at_0)


def diac_voltages(control: PhaseControl) -> tuple[float, float]:
    """Breakover voltages of the diac in positive and in negative half cycles.

    Parameters
    ----------
    control : PhaseControl
        The table [-].

    Returns
    -------
    tuple of float
        Positive and negative breakover, both as positive numbers [V].

    Notes
    -----
    ``diac_asymmetry`` is the difference of the two, shared equally around ``diac_voltage``.

    Examples
    --------
    >>> diac_voltages(PhaseControl(diac_voltage=32.0, diac_asymmetry=3.0))
    (33.5, 30.5)
    """
    half = 0.5 * control.diac_asymmetry
    return control.diac_voltage + half, control.diac_voltage - half


def first_firing_resistance(crest: float, breakover: float, *, frequency: float, capacitance: float) -> float:
    """Largest timing resistance at which a resting RC-and-diac dial begins to fire.

    The capacitor's settled sine just reaches the breakover: ``crest / sqrt(1 + (w R C)^2) = breakover``.

    Parameters
    ----------
    crest : float
        Crest of the mains voltage [V].
    breakover : float
        Breakover voltage of the diac [V].
    frequency : float
        Mains frequency [Hz].
    capacitance : float
        Timing capacitance [F].

    Returns
    -------
    float
        Resistance; zero where the crest never reaches the breakover [ohm].

    Notes
    -----
    The device's drop and the load in series are neglected.  Once fired, the dial can be turned further down (backlash).

    Examples
    --------
    >>> round(first_firing_resistance(325.2691193, 32.0, frequency=50.0, capacitance=100e-9))
    321982

    References
    ----------
    Derived here; the example was computed with 30 digits elsewhere.
    """
    return math.sqrt(max((crest / breakover) ** 2 - 1.0, 0.0)) / (2.0 * math.pi * frequency * capacitance)
