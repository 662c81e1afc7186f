"""How warm parts get: each is one body that gives its heat to the air, and what may be welded before it is too hot.

    C dT/dt = P (1 + a (T - T_cold)) + P_iron - (T - T_air) / R

Copper takes more as it warms (a per kelvin), which acts like a larger R; where it takes as much more as the air takes
away, nothing settles.  Time constant R C.  The hottest place of a winding is some 10 K above its mean.

Source: heat balance of one body, any textbook; solved here.  Density and heat of the metals: tables, from memory, 95 %.
Typical time constants: windings 8 to 20 min in still air, chokes 5 to 15, heat sinks of devices 1 to 4, of rectifiers 2
to 6: common practice.
"""

import math
from dataclasses import replace

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.cable import warm_factor
from weldsim.parts.transformer import Transformer, turns

PARTS = ("winding", "second_winding", "choke", "device", "rectifier")
DENSITY = {"copper": 8900.0, "aluminium": 2700.0}  # [kg/m3]
BEYOND = 300.0  # exponent of a warming that is far beyond all limits
HEAT = {"copper": 385.0, "aluminium": 900.0}  # [J/(kg K)]


@dataclass(frozen=True, kw_only=True)
class Cooling:
    """Table [cooling]: how well the parts that get hot give their heat away, and how warm they may get."""

    ambient: float = units.quantity("temperature", doc="of the air around the set", low=-30.0, high=60.0, default=25.0)
    winding_to_air: float | None = units.quantity(
        "thermal_resistance", doc="all windings of the transformer", low=0.001, high="100 K/W", default=None
    )
    choke_to_air: float | None = units.quantity(
        "thermal_resistance", doc="winding of the choke", low=0.001, high="100 K/W", default=None
    )
    device_to_air: float | None = units.quantity(
        "thermal_resistance", doc="heat sink of the phase control", low=0.001, high="100 K/W", default=None
    )
    rectifier_to_air: float | None = units.quantity(
        "thermal_resistance", doc="heat sink of the rectifier", low=0.001, high="100 K/W", default=None
    )
    winding_mass: float | None = units.quantity(
        "mass",
        doc="metal of the transformer's windings, where no turns say it",
        low="1 g",
        high="1000 kg",
        default=None,
    )
    choke_mass: float | None = units.quantity(
        "mass", doc="metal of the choke's winding", low="1 g", high="1000 kg", default=None
    )
    winding_time: float = units.quantity(
        "time", doc="time constant of the windings", low="1 s", high="86400 s", default="780 s"
    )
    choke_time: float = units.quantity(
        "time", doc="time constant of the choke", low="1 s", high="86400 s", default="540 s"
    )
    device_time: float = units.quantity(
        "time", doc="time constant of the phase control's heat sink", low="1 s", high="86400 s", default="120 s"
    )
    rectifier_time: float = units.quantity(
        "time", doc="time constant of the rectifier's heat sink", low="1 s", high="86400 s", default="210 s"
    )
    winding_limit: float = units.quantity(
        "temperature", doc="that the insulation of windings and choke bears", low=60.0, high=300.0, default=130.0
    )
    sink_limit: float = units.quantity(
        "temperature", doc="that heat sinks may reach", low=40.0, high=200.0, default=85.0
    )
    cutout: float | None = units.quantity(
        "temperature", doc="at which a thermal cut-out on the windings opens", low=40.0, high=300.0, default=None
    )
    cutout_hysteresis: float = units.quantity(
        "temperature_step", doc="by which it must cool until it closes again", low=1.0, high=150.0, default=20.0
    )

    def faults(self) -> list[tuple[str, str]]:
        """Limits that the air alone reaches."""
        found = []
        for name in ("winding_limit", "sink_limit", "cutout"):
            limit = getattr(self, name)
            if limit is not None and limit <= self.ambient:
                found.append((name, f"not above ambient, {self.ambient:g} degC"))
        return found


@dataclass(frozen=True)
class Body:
    """One part on one setting.

    ``copper`` and ``fixed``: heat [W] at ``cold`` [degC], which grows with the temperature and which does not;
    ``growth`` [1/K] of the former; ``to_air`` [K/W]; ``time`` constant [s]; ``ambient`` and ``limit`` [degC].
    """

    copper: float
    fixed: float
    cold: float
    growth: float
    to_air: float
    time: float
    ambient: float
    limit: float

    @property
    def settled(self) -> float:
        """Temperature without a pause [degC]; infinity where copper takes more than the air takes away.

        T = T_air + R (P (1 + a (T_air - T_cold)) + P_iron) / (1 - R a P)
        """
        left = 1.0 - self.to_air * self.growth * self.copper
        return self.ambient + self.to_air * self.heat / left if left > 0.0 else math.inf

    @property
    def heat(self) -> float:
        """Heat at the temperature of the air [W]."""
        return self.copper * (1.0 + self.growth * (self.ambient - self.cold)) + self.fixed

    def after(self, duration: float, begin: float, *, welding: bool = True) -> float:
        """Temperature [degC] after a time [s] of welding, or of rest, from a temperature on."""
        if not welding:
            return self.ambient + (begin - self.ambient) * math.exp(-duration / self.time)
        rate = (1.0 - self.to_air * self.growth * self.copper) / self.time
        gain = self.to_air * self.heat / self.time - rate * (begin - self.ambient)
        grown = min(-rate * duration, BEYOND)
        return begin + gain * (duration if rate == 0.0 else -math.expm1(grown) / rate)

    def time_to(self, limit: float, begin: float) -> float:
        """Time [s] of welding until a temperature is reached, from another on; infinity where it never is."""
        if begin >= limit:
            return 0.0
        if self.settled <= limit:
            return math.inf
        rate = (1.0 - self.to_air * self.growth * self.copper) / self.time
        gain = self.to_air * self.heat / self.time - rate * (begin - self.ambient)
        rise = limit - begin
        return rise / gain if rate == 0.0 else -math.log1p(-rate * rise / gain) / rate

    def rest_to(self, limit: float, begin: float) -> float:
        """Time [s] of rest until it has cooled to a temperature; infinity where the air is warmer."""
        if begin <= limit:
            return 0.0
        if limit <= self.ambient:
            return math.inf
        return self.time * math.log((begin - self.ambient) / (limit - self.ambient))

    def hottest(self, duty: float, cycle: float) -> float:
        """Temperature [degC] when a weld ends, settled over cycles of some seconds with a share of welding in each.

        After a weld from T the temperature is A + E T (``after`` is straight in T), before it B + F of that.
        """
        on, rest = duty * cycle, (1.0 - duty) * cycle
        if duty >= 1.0:
            return self.settled
        offset = self.after(on, 0.0)
        slope = self.after(on, 1.0) - offset
        cooled = math.exp(-rest / self.time)
        left = 1.0 - slope * cooled
        return (offset + slope * self.ambient * (1.0 - cooled)) / left if left > 0.0 else math.inf

    def duty(self, cycle: float) -> float:
        """Largest share of each cycle [s] in which it may weld for ever [1]."""
        if self.settled <= self.limit:
            return 1.0
        low, high = 0.0, 1.0
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.hottest(middle, cycle) <= self.limit else (low, middle)
        return low

    def needed(self, duty: float, cycle: float) -> float:
        """Thermal resistance [K/W] that would keep it below its limit at a duty, with the same time constant."""
        low, high = 0.0, 1e4
        for _ in range(80):
            middle = 0.5 * (low + high)
            fits = replace(self, to_air=middle).hottest(duty, cycle) <= self.limit
            low, high = (middle, high) if fits else (low, middle)
        return low


def growth(temperature: float, *, conductor: str) -> float:
    """By which share of itself a winding's resistance grows per kelvin, from a temperature on.

    Parameters
    ----------
    temperature : float
        From which it is counted [degC].
    conductor : str
        "copper" or "aluminium" [-].

    Returns
    -------
    float
        Growth [1/K]: 0.00393 per kelvin of the value at 20 degC for copper.

    Examples
    --------
    >>> round(growth(20.0, conductor="copper"), 5), round(growth(100.0, conductor="copper"), 5)
    (0.00393, 0.00299)
    """
    return (warm_factor(temperature + 1.0, conductor=conductor) / warm_factor(temperature, conductor=conductor)) - 1.0


def winding_mass(transformer: Transformer, *, secondaries: int = 1) -> float | None:
    """Metal of primary and secondary from turns, section and mean turn length.

    Parameters
    ----------
    transformer : Transformer
        The table [-].
    secondaries : int
        Two where both halves of a centre-tap lie on it [1].

    Returns
    -------
    float or None
        Mass [kg]; None where one of these is unknown.

    Examples
    --------
    >>> toroid = Transformer(primary_turns=130, secondary_turns=15, primary_wire_section=3.3e-6,
    ...     secondary_wire_section=25e-6, primary_turn_length=0.383, secondary_turn_length=0.454)
    >>> round(winding_mass(toroid), 2)
    2.98
    """
    total = 0.0
    for side, count in (("primary", 1), ("secondary", secondaries)):
        section, length = getattr(transformer, f"{side}_wire_section"), getattr(transformer, f"{side}_turn_length")
        wound = turns(transformer, side)
        if section is None or length is None or wound is None:
            return None
        total += count * wound * section * length
    return total * DENSITY[transformer.conductor]


def capacity(mass: float, *, conductor: str) -> float:
    """Heat capacity of a winding's metal.

    Parameters
    ----------
    mass : float
        Of the metal [kg].
    conductor : str
        "copper" or "aluminium" [-].

    Returns
    -------
    float
        Heat capacity [J/K].

    Examples
    --------
    >>> capacity(3.0, conductor="copper")
    1155.0
    """
    return mass * HEAT[conductor]
