"""The welding wire: what it is, how fast it comes, and the constants of the process at its end.

            contact tube            drop
    feed -> ====[tube]==============O   ~~~ arc ~~~   work
                   |<-- extension L -->|<-- gap l -->|

The rules are told one by one in ``wire_rules.py`` and ``drop_rules.py`` (motion), ``short_rules.py`` (contacts and
bridges) and ``arc_rules.py``; what holds where a key is left out, with its source, in ``wire_kinds.py`` and
``fusing.py``.  They are simple on purpose: two supplies meet the same wire with the same seeds, so that a difference
between them comes from the circuit.  The model knows nothing of the pool, of penetration, of spatter as mass or of
fume.

Defaults without another source are assumed within the range told by common practice (no published source).
"""

import math
from dataclasses import fields

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.fusing import steel_action
from weldsim.parts.wire_kinds import (
    USUAL_GAS,
    WIRE_KINDS,
    drain_time,
    heaviest_drop,
    hold_limit,
    melting_coefficients,
    pinch_current,
    usual_feed,
)

MEMORIES = ("none", "Cassie", "Mayr", "Cassie and Mayr")
RUN_IN_SHARE = 0.6  # of the weld feed (common practice: half to full speed)


@dataclass(frozen=True, kw_only=True)
class Wire:
    """Table [wire]: the wire, its feed and the constants of the process, where they are to differ from the defaults."""

    kind: str = units.choice(tuple(USUAL_GAS), doc="solid wire in gas, or cored wire without", default="solid steel")
    gas: str | None = units.choice(
        ("CO2", "argon mix", "none"), doc="shielding gas; by kind: CO2, or none", default=None
    )
    polarity: str | None = units.choice(
        ("positive", "negative"), doc="of the wire; by kind: positive, self-shielded negative", default=None
    )
    diameter: float = units.quantity("length", doc="of the wire", low="0.3 mm", high="3 mm", default="0.8 mm")
    feed: float | None = units.quantity(
        "speed", doc="wire feed while welding; by diameter and kind", low=0.0, high="30 m/min", default=None
    )
    run_in_feed: float | None = units.quantity(
        "speed", doc="wire feed before the first arc; 60 % of feed", low=0.0, high="30 m/min", default=None
    )
    motor_time_constant: float = units.quantity(
        "time", doc="of the feed motor, up and down", low="1 ms", high="2 s", default="60 ms"
    )
    extension: float | None = units.quantity(
        "length", doc="contact tube to work; by kind 12 or 18 mm", low="3 mm", high="60 mm", default=None
    )
    arc_voltage: float | None = units.quantity(
        "voltage", doc="of an arc without length; by kind and gas 13.5 to 15 V", low="5 V", high="40 V", default=None
    )
    arc_gradient: float | None = units.quantity(
        "voltage_gradient",
        doc="arc volts per length; by kind and gas 0.7 to 1 V/mm",
        low="0.1 V/mm",
        high="5 V/mm",
        default=None,
    )
    arc_resistance: float = units.quantity(
        "resistance", doc="slope of the arc", low=0.0, high="0.2 ohm", default="22 mohm"
    )
    arc_memory: str = units.choice(MEMORIES, doc="conductance that follows the current", default="none")
    arc_time_constant: float = units.quantity("time", doc="of that memory", low="5 us", high="5 ms", default="50 us")
    arc_power: float = units.quantity(
        "power", doc="heat that a Mayr arc loses", low="1 W", high="50 kW", default="80 W"
    )
    falling_voltage: float = units.quantity(
        "voltage", doc="rise of the arc towards no current", low="1 V", high="60 V", default="8 V"
    )
    falling_current: float | None = units.quantity(
        "current",
        doc="hold limit, below which the voltage rises; 12.5 A per mm of wire",
        low="1 A",
        high="60 A",
        default=None,
    )
    melting: float = units.quantity(
        "fraction", doc="melting rate, of what the next two give", low="10 %", high="300 %", default="100 %"
    )
    melting_alpha: float | None = units.quantity(
        "melting_per_current",
        doc="by heat of the arc; by diameter, kind, polarity",
        low="0.01 mm/(A.s)",
        high="20 mm/(A.s)",
        default=None,
    )
    melting_beta: float | None = units.quantity(
        "melting_per_heat",
        doc="by heat of the extension; by diameter and kind",
        low=0.0,
        high="100 um/(mm.A2.s)",
        default=None,
    )
    heating_time_constant: float = units.quantity(
        "time", doc="over which the extension's heat is a mean", low="0.1 ms", high="2 s", default="60 ms"
    )
    resistivity_hot: float | None = units.quantity(
        "resistivity",
        doc="mean, of the hot extension; by kind 0.85 or 1.1",
        low="0.05 uohm.m",
        high="3 uohm.m",
        default=None,
    )
    resistivity_cold: float = units.quantity(
        "resistivity", doc="of the wire at the first touch", low="0.05 uohm.m", high="3 uohm.m", default="0.16 uohm.m"
    )
    contact_tube: float = units.quantity(
        "resistance",
        doc="contact tube (and clamp, where the leads leave it out)",
        low=0.0,
        high="0.2 ohm",
        default="4 mohm",
    )
    contact_tube_spread: float = units.quantity(
        "fraction", doc="its spread from start to start", low=0.0, high=1.0, default="50 %"
    )
    cold_contact_low: float = units.quantity(
        "resistance", doc="cold wire on the work, least", low=0.0, high="1 ohm", default="2 mohm"
    )
    cold_contact_high: float = units.quantity(
        "resistance", doc="cold wire on the work, most", low=0.0, high="1 ohm", default="20 mohm"
    )
    spot_low: float = units.quantity(
        "fraction", doc="contact spot, of the wire's section, least", low="0.1 %", high=1.0, default="5 %"
    )
    spot_high: float = units.quantity(
        "fraction", doc="contact spot, of the wire's section, most", low="0.1 %", high=1.0, default="40 %"
    )
    spot_time_constant: float = units.quantity(
        "time", doc="in which a warm spot cools", low="0.1 ms", high="1 s", default="10 ms"
    )
    action: float | None = units.quantity(
        "action",
        doc="integral that melts steel; by its properties",
        low="100 A2.s/mm4",
        high="1000000 A2.s/mm4",
        default=None,
    )
    bridge_resistance: float = units.quantity(
        "resistance", doc="liquid bridge before it necks", low=0.0, high="0.1 ohm", default="2 mohm"
    )
    drain_time: float | None = units.quantity(
        "time",
        doc="of a bridge to drain without current; 12.5 ms per mm of wire",
        low="0.1 ms",
        high="1 s",
        default=None,
    )
    drain_current: float | None = units.quantity(
        "current",
        doc="whose pinch drains as fast again; by diameter, 123 A at 0.8 mm",
        low="1 A",
        high="10 kA",
        default=None,
    )
    gap_bridge_low: float = units.quantity(
        "length", doc="gap after a bridge, least", low="0.05 mm", high="5 mm", default="0.3 mm"
    )
    gap_bridge_high: float = units.quantity(
        "length", doc="gap after a bridge, most", low="0.05 mm", high="5 mm", default="1 mm"
    )
    gap_spot_low: float = units.quantity(
        "length", doc="gap after a hot spot, least", low="0.05 mm", high="10 mm", default="0.5 mm"
    )
    gap_spot_high: float = units.quantity(
        "length", doc="gap after a hot spot, most", low="0.05 mm", high="10 mm", default="1.5 mm"
    )
    gap_long_low: float = units.quantity(
        "length", doc="gap when the extension melts, least", low="0.1 mm", high="20 mm", default="2 mm"
    )
    gap_long_high: float = units.quantity(
        "length", doc="gap when the extension melts, most", low="0.1 mm", high="20 mm", default="8 mm"
    )
    gap_rise_time: float = units.quantity(
        "time", doc="contact as long as this counts as slow: longer gaps", low="1 ms", high="10 s", default="100 ms"
    )
    reach_base: float = units.quantity(
        "length", doc="reach of the pool that rocks", low=0.0, high="5 mm", default="0.2 mm"
    )
    reach_growth: float = units.quantity(
        "fraction", doc="reach of the drop per diameter of it", low=0.0, high=3.0, default="80 %"
    )
    reach_spread: float = units.quantity("fraction", doc="spread of both", low=0.0, high=0.9, default="20 %")
    drop_limit: float | None = units.quantity(
        "length",
        doc="diameter at which a drop falls; by diameter, 4.4 mm at 0.8 mm",
        low="0.3 mm",
        high="20 mm",
        default=None,
    )
    reignite_first: float = units.quantity(
        "fraction", doc="volts to re-ignite at once, of the arc's", low=1.0, high=10.0, default="150 %"
    )
    reignite_later: float = units.quantity(
        "fraction", doc="volts to re-ignite after reignite_time", low=1.0, high=20.0, default="300 %"
    )
    reignite_time: float = units.quantity("time", doc="when that is", low="0.1 ms", high="20 ms", default="1 ms")
    reignite_lost: float = units.quantity(
        "time", doc="after which only a touch helps", low="0.2 ms", high="100 ms", default="4 ms"
    )
    dead_time: float = units.quantity("time", doc="before any re-ignition", low=0.0, high="10 ms", default="0.1 ms")
    least_current: float = units.quantity(
        "current", doc="below which no arc lives on for longer than dead_time", low=0.0, high="20 A", default="0.35 A"
    )
    stub_length: float = units.quantity(
        "length", doc="fed into a touch before the wire gives way", low="1 mm", high="100 mm", default="10 mm"
    )
    first_gap_low: float = units.quantity(
        "length", doc="wire to work at the trigger, least", low=0.0, high="30 mm", default="1 mm"
    )
    first_gap_high: float = units.quantity(
        "length", doc="wire to work at the trigger, most", low=0.0, high="30 mm", default="5 mm"
    )

    def faults(self) -> list[tuple[str, str]]:
        """Ranges that are upside down, and a wire in the wrong gas."""
        pairs = [item.name.removesuffix("_low") for item in fields(self) if item.name.endswith("_low")]
        found = [
            (f"{name}_low", f"above {name}_high")
            for name in pairs
            if getattr(self, f"{name}_low") > getattr(self, f"{name}_high")
        ]
        if self.kind == "solid steel" and self.gas == "none":
            found.append(("gas", "a solid wire needs a gas: CO2 or argon mix"))
        elif self.kind == "self-shielded" and self.gas not in (None, "none"):
            found.append(("gas", "a self-shielded wire has none; leave the key out"))
        if self.reignite_lost <= self.reignite_time:
            found.append(("reignite_lost", "not after reignite_time"))
        if self.reignite_later < self.reignite_first:
            found.append(("reignite_later", "below reignite_first: a lost arc only grows harder to bring back"))
        return found


@dataclass(frozen=True)
class WireConstants:
    """All constants of a wire as plain floats, as the kernel takes them; names as in [wire] or shorter."""

    diameter: float  # [m]
    section: float  # [m2, full circle also of a cored wire]
    feed: float  # [m/s]
    run_in: float  # [m/s]
    motor_tau: float  # [s]
    height: float  # [m, contact tube to work]
    arc_voltage: float  # [V]
    arc_gradient: float  # [V/m]
    arc_resistance: float  # [ohm]
    falling_voltage: float  # [V, added at no current]
    falling_current: float  # [A]
    melt_alpha: float  # [m/(A s)]
    melt_beta: float  # [1/(A2 s)]
    heat_tau: float  # [s]
    resistivity_hot: float  # [ohm m]
    resistivity_cold: float  # [ohm m]
    arc_memory: float  # [0 none, 1 Cassie, 2 Mayr, 3 both]
    arc_tau: float  # [s]
    arc_power: float  # [W]
    contact_tube: float  # [ohm]
    contact_tube_spread: float  # [1]
    cold_contact_low: float  # [ohm]
    cold_contact_high: float  # [ohm]
    spot_low: float  # [1]
    spot_high: float  # [1]
    action: float  # [A2 s/m4]
    spot_tau: float  # [s]
    bridge_resistance: float  # [ohm]
    drain_base: float  # [1/s]
    drain_current: float  # [1/(A2 s)]
    gap_bridge_low: float  # [m]
    gap_bridge_high: float  # [m]
    gap_spot_low: float  # [m]
    gap_spot_high: float  # [m]
    gap_long_low: float  # [m]
    gap_long_high: float  # [m]
    gap_rise_time: float  # [s]
    reach_base: float  # [m]
    reach_growth: float  # [1]
    reach_spread: float  # [1]
    drop_limit: float  # [m]
    reignite_first: float  # [1]
    reignite_later: float  # [1]
    reignite_time: float  # [s]
    reignite_lost: float  # [s]
    dead_time: float  # [s]
    least_current: float  # [A]
    stub_length: float  # [m]
    first_gap_low: float  # [m]
    first_gap_high: float  # [m]


def constants(wire: Wire | None) -> WireConstants:
    """All constants of a wire, with the defaults that depend on kind, gas, polarity and diameter.

    Parameters
    ----------
    wire : Wire or None
        The table; None for 0.8 mm solid steel in CO2 [-].

    Returns
    -------
    WireConstants
        In SI units [-].

    Notes
    -----
    Bridge: neck falls at ``drain_base + drain_current i^2``, from 1 to 0.

    Examples
    --------
    >>> found = constants(None)
    >>> round(found.melt_alpha * 1e3, 4), round(found.action * 1e-16, 2), found.falling_current
    (0.675, 1.47, 10.0)
    >>> round(constants(Wire(kind="self-shielded", diameter=0.9e-3)).feed * 60, 2)
    2.25

    References
    ----------
    Sources of each default: ``wire_kinds.py`` and ``fusing.py``; the rest assumed, common practice.
    """
    wire = wire or Wire()
    kind = WIRE_KINDS[wire.kind, wire.gas or USUAL_GAS[wire.kind]]
    alpha, beta = melting_coefficients(wire.diameter, kind=wire.kind, polarity=wire.polarity or kind.polarity)
    feed = _or(wire.feed, usual_feed(wire.diameter, wire.kind))
    drain = 1.0 / _or(wire.drain_time, drain_time(wire.diameter))
    values = {item.name: getattr(wire, item.name) for item in fields(WireConstants) if hasattr(wire, item.name)}
    values |= {
        "section": 0.25 * math.pi * wire.diameter**2,
        "feed": feed,
        "run_in": _or(wire.run_in_feed, RUN_IN_SHARE * feed),
        "motor_tau": wire.motor_time_constant,
        "height": _or(wire.extension, kind.extension),
        "arc_voltage": _or(wire.arc_voltage, kind.arc_voltage),
        "arc_gradient": _or(wire.arc_gradient, kind.arc_gradient),
        "falling_current": _or(wire.falling_current, hold_limit(wire.diameter)),
        "melt_alpha": _or(wire.melting_alpha, alpha) * wire.melting,
        "melt_beta": _or(wire.melting_beta, beta) * wire.melting,
        "resistivity_hot": _or(wire.resistivity_hot, kind.resistivity_hot),
        "heat_tau": wire.heating_time_constant,
        "arc_memory": float(MEMORIES.index(wire.arc_memory)),
        "arc_tau": wire.arc_time_constant,
        "spot_tau": wire.spot_time_constant,
        "action": _or(wire.action, steel_action()),
        "drain_base": drain,
        "drain_current": drain / _or(wire.drain_current, pinch_current(wire.diameter)) ** 2,
        "drop_limit": _or(wire.drop_limit, heaviest_drop(wire.diameter)),
    }
    return WireConstants(**values)


def _or(given: float | None, default: float) -> float:
    """What was written, or the default."""
    return default if given is None else given


def extension_resistance(wire: Wire, length: float) -> float:
    """Resistance of the hot wire between contact tube and melting end.

    Parameters
    ----------
    wire : Wire
        The table [-].
    length : float
        Electrode extension [m].

    Returns
    -------
    float
        Resistance [ohm].

    Notes
    -----
    One mean resistivity for the whole extension, which is cold at the tube and melts at its end.

    Examples
    --------
    >>> round(1e3 * extension_resistance(Wire(), 12e-3), 1)
    20.3

    References
    ----------
    ``wire_kinds.py``.
    """
    found = constants(wire)
    return found.resistivity_hot * length / found.section
