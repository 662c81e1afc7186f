"""What softens the switching on: a series resistor or thermistor that a relay bypasses, or rules of the first firings.

    supply lead ---+--- resistance ---+--- phase control --- transformer
                   +--- relay contact +      (ramp, first fire: nothing here, the firing alone is told)

The relay's times count from the trigger. The thermistor's own temperature is in ``thermistor``.
"""

from weldsim import units
from weldsim.frozen import dataclass

KINDS = ("resistor", "ntc", "ramp", "first fire")
POLARITIES = {"any": 0, "opposite": -1, "same": 1}  # of the first conduction, times that of the last one before it

_RELAY = ("bypass_delay", "bounce_count", "bounce_time", "release_time", "contact_resistance")
# Kind -> the fields that say something for it.
USED: dict[str, tuple[str, ...]] = {
    "resistor": ("resistance", "rated_energy", *_RELAY),
    "ntc": ("resistance", "rated_energy", *_RELAY, "beta", "dissipation", "heat_capacity", "cooling_time", "ambient"),
    "ramp": ("half_cycles", "start_delay", "polarity"),
    "first fire": ("first_delay", "polarity"),
}
_NEEDED = {
    "resistor": ("resistance", "bypass_delay"),
    "ntc": ("resistance", "beta", "dissipation"),
    "ramp": ("half_cycles",),
}


@dataclass(frozen=True, kw_only=True)
class SoftStart:
    """Table [soft_start]: kind, and what that kind needs."""

    kind: str = units.choice(KINDS, doc="series resistor, thermistor, rising firing angle, or rule of the first firing")
    resistance: float | None = units.quantity(
        "resistance", doc="series resistor; ntc: at 25 degC", low="10 mohm", high="10 kohm", default=None
    )
    bypass_delay: float | None = units.quantity(
        "time", doc="from the trigger to the first contact of the relay", low=0.0, high="60 s", default=None
    )
    bounce_count: int = units.count(doc="how often the contact opens again", low=0, high=20, default=0)
    bounce_time: float = units.quantity(
        "time", doc="from the first contact to the last", low=0.0, high="50 ms", default="3 ms"
    )
    release_time: float = units.quantity(
        "time", doc="from letting go to the open contact", low=0.0, high="60 s", default="10 ms"
    )
    contact_resistance: float = units.quantity(
        "resistance", doc="of the closed contact", low=0.0, high="1 ohm", default="2 mohm"
    )
    rated_energy: float | None = units.quantity(
        "energy", doc="heat that one press may put in", low="1 mJ", high="1000 kJ", default=None
    )
    beta: float | None = units.quantity(
        "temperature_step", doc="ntc: B of its law, usually 2600 K to 3500 K", low=100.0, high=10_000.0, default=None
    )
    dissipation: float | None = units.quantity(
        "heat_per_kelvin", doc="ntc: heat given off per kelvin above ambient", low=1e-5, high=100.0, default=None
    )
    heat_capacity: float | None = units.quantity(
        "heat_capacity", doc="ntc: of its body", low=1e-4, high="10 kJ/K", default=None
    )
    cooling_time: float | None = units.quantity(
        "time", doc="ntc: time constant of cooling, instead of heat_capacity", low="1 ms", high="10000 s", default=None
    )
    ambient: float = units.quantity("temperature", doc="ntc: of the air around it", low=-50.0, high=150.0, default=25.0)
    half_cycles: int | None = units.count(
        doc="ramp: half cycles until the dial's delay is reached", low=1, high=1000, default=None
    )
    start_delay: float = units.quantity(
        "angle", doc="ramp: delay of the first firing", low=0.0, high=180.0, default=170.0
    )
    first_delay: float | None = units.quantity(
        "angle", doc="first fire: its delay; the dial's unless given", low=0.0, high=180.0, default=None
    )
    polarity: str = units.choice(
        tuple(POLARITIES), doc="ramp, first fire: polarity beside that of the last conduction before", default="any"
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other or are missing for the kind."""
        found = [
            (name, f'missing: kind = "{self.kind}" needs it')
            for name in _NEEDED.get(self.kind, ())
            if getattr(self, name) is None
        ]
        if self.kind == "ntc" and (self.heat_capacity is None) == (self.cooling_time is None):
            found.append(("heat_capacity", "give heat_capacity or cooling_time of the thermistor, one of them"))
        if self.kind == "first fire" and self.first_delay is None and self.polarity == "any":
            found.append(("first_delay", "no rule: give first_delay, or a polarity other than any"))
        if self.bounce_count and not self.bounce_time:
            found.append(("bounce_time", "no time for the contact to bounce; leave bounce_count out"))
        return found


def contact_times(soft_start: SoftStart) -> list[tuple[float, bool]]:
    """When the bypass relay closes and opens after the trigger, its bounces included.

    Parameters
    ----------
    soft_start : SoftStart
        The table, of kind "resistor" or "ntc" [-].

    Returns
    -------
    list of (float, bool)
        Time after the trigger [s], and whether the contact is closed from then on [-]; empty without a relay.

    Notes
    -----
    Each bounce is half as long as the one before it and half of it open; the last contact is made ``bounce_time`` after
    the first (common practice, no published source: real contacts scatter). The arc of an opening contact is not
    modelled: current and inductance decide what really happens there.

    Examples
    --------
    >>> contact_times(SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1, bounce_count=1, bounce_time=3e-3))
    [(0.1, True), (0.1015, False), (0.103, True)]
    """
    if soft_start.bypass_delay is None:
        return []
    first, count = soft_start.bypass_delay, soft_start.bounce_count
    found = [(first, True)]
    shares = 2.0 - 2.0 ** (1 - count)  # 1 + 1/2 + 1/4 ... of all bounces
    now = 0.0
    for k in range(count):
        length = soft_start.bounce_time * 0.5**k / shares
        found += [(first + now + 0.5 * length, False), (first + now + length, True)]
        now += length
    return found


def soft_start_lasts(soft_start: SoftStart | None, *, frequency: float) -> float:
    """How long a soft start stands in the way after the trigger: until the relay's last contact, or the ramp's end.

    Parameters
    ----------
    soft_start : SoftStart or None
        The table [-].
    frequency : float
        Of the mains [Hz].

    Returns
    -------
    float
        Span; nothing for a rule of the first firing alone, or a thermistor that no relay bypasses [s].

    Notes
    -----
    What a press does shows only behind it: a relay that closes onto an empty bank is a second switching on.

    Examples
    --------
    >>> soft_start_lasts(SoftStart(kind="ramp", half_cycles=20), frequency=50.0)
    0.2
    >>> soft_start_lasts(SoftStart(kind="resistor", resistance=10.0, bypass_delay=0.1), frequency=50.0)
    0.1

    References
    ----------
    Derived here.
    """
    if soft_start is None:
        return 0.0
    if soft_start.kind == "ramp":
        return (soft_start.half_cycles or 0) * 0.5 / frequency
    if "bypass_delay" not in USED[soft_start.kind]:
        return 0.0
    return max((time for time, _ in contact_times(soft_start)), default=0.0)


def skips_soft_start(soft_start: SoftStart, *, pause: float) -> bool:
    """Whether a press after this pause finds the relay still closed, so that nothing softens it.

    Parameters
    ----------
    soft_start : SoftStart
        The table [-].
    pause : float
        From letting go of the trigger to the next press [s].

    Returns
    -------
    bool
        True where the resistance is bypassed from the start [-].

    Notes
    -----
    Only for presses so long that the relay had closed. A relay driven by a charged capacitor lets go late, and closes
    early the next time; put the first into ``release_time``, the second is not modelled.

    Examples
    --------
    >>> slow = SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1, release_time=0.4)
    >>> skips_soft_start(slow, pause=0.25), skips_soft_start(slow, pause=1.0)
    (True, False)

    References
    ----------
    Derived here.
    """
    return soft_start.bypass_delay is not None and pause < soft_start.release_time


def needed_resistance(crest: float, *, peak: float, loop_resistance: float = 0.0) -> float:
    """Series resistance that keeps even a fully saturated core and an empty bank below a peak: crest / peak - loop.

    Parameters
    ----------
    crest : float
        Of the mains, at its highest [V].
    peak : float
        Largest current wanted [A].
    loop_resistance : float
        Mains, leads and primary, which help [ohm].

    Returns
    -------
    float
        Resistance; zero where the loop itself is enough [ohm].

    Notes
    -----
    On the safe side: no inductance, the whole crest across the resistances.

    Examples
    --------
    Below the lower edge of a B16, 48 A rms, at mains +10 %:

    >>> round(needed_resistance(357.8, peak=67.9, loop_resistance=0.8), 2)
    4.47

    References
    ----------
    Ohm's law; derived here.
    """
    return max(crest / peak - loop_resistance, 0.0)


def firing_delays(soft_start: SoftStart, delay: float, *, count: int) -> list[float]:
    """Delays of the first half cycles of a press.

    Ramp of n half cycles: start + (delay - start) k / n, k = 0 .. n - 1, then the dial's; first fire: one own delay.

    Parameters
    ----------
    soft_start : SoftStart
        The table; a resistor or thermistor leaves the dial's delay as it is [-].
    delay : float
        Delay that the dial asks for [deg].
    count : int
        How many half cycles [1].

    Returns
    -------
    list of float
        Delay of each [deg].

    Notes
    -----
    A ramp never fires earlier than the dial asks: where the dial's delay is above ``start_delay`` there is no ramp.
    Half cycles that do not latch are counted like the others.

    Examples
    --------
    >>> firing_delays(SoftStart(kind="ramp", half_cycles=4), 50.0, count=6)
    [170.0, 140.0, 110.0, 80.0, 50.0, 50.0]
    >>> firing_delays(SoftStart(kind="first fire", first_delay=90.0), 30.0, count=3)
    [90.0, 30.0, 30.0]

    References
    ----------
    Derived here.
    """
    first: list[float] = []
    if soft_start.kind == "ramp":
        start, steps = soft_start.start_delay, soft_start.half_cycles or 1
        first = [max(start + (delay - start) * k / steps, delay) for k in range(steps)]
    elif soft_start.kind == "first fire" and soft_start.first_delay is not None:
        first = [soft_start.first_delay]
    return [*first, *[delay] * max(0, count - len(first))][:count]
