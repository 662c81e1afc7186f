"""The welding wire: what it is, how fast it comes, and the constants of the process at its end.

Every rule's arithmetic stands in engine/wire_kernel.py; here are its constants, their units, defaults and sources.
They are simple on purpose: two supplies meet the same wire with the same seeds, so that a difference between them comes
from the circuit.  The model knows nothing of the pool, of penetration, of spatter as mass or of fume.

Sources: (a) Halmoy and Quintino's melting rate for 1.2 mm mild steel, electrode positive (from memory, 85 %), scaled
by section; (b) literature of GMAW control models (from memory); (c) common practice, no published source; (d) derived.
"""

import math
from dataclasses import dataclass, fields

from weldsim import units

ALPHA_12, BETA_12 = 0.3e-3, 5e-5  # [m/(A s)], [1/(A2 s)] of 1.2 mm steel wire, source (a)
DIAMETER_12 = 1.2e-3  # [m]
CORED_MELTS_FASTER = 1.15  # a tubular wire has less section to melt at the same diameter (c)
TEMPERATURES = (20.0, 200.0, 400.0, 600.0, 800.0, 1000.0, 1200.0, 1500.0)  # [degC]
RESISTIVITIES = (0.15e-6, 0.25e-6, 0.43e-6, 0.63e-6, 1.08e-6, 1.16e-6, 1.22e-6, 1.28e-6)  # [ohm m] mild steel (b)
VOLUME_HEATS = (3.7e6, 4.2e6, 4.8e6, 5.8e6, 6.8e6, 5.0e6, 5.2e6, 5.6e6)  # [J/(m3 K)] density times heat capacity (b)


@dataclass(frozen=True, kw_only=True)
class Wire:
    """Table [wire]: the wire, its feed and the constants of the process, where they are to differ from the defaults."""

    kind: str = units.choice(
        ("solid steel", "self-shielded"), doc="solid wire in gas, or cored wire without", default="solid steel"
    )
    gas: str = units.choice(("CO2", "argon mix", "none"), doc="shielding gas", default="CO2")
    diameter: float = units.quantity("length", doc="of the wire", low="0.3 mm", high="3 mm", default="0.8 mm")
    feed: float = units.quantity("speed", doc="wire feed while welding", low=0.0, high="30 m/min", default="5 m/min")
    run_in: float | None = units.quantity(
        "speed", doc="wire feed before the arc", low=0.0, high="30 m/min", default=None
    )
    motor_tau: float = units.quantity(
        "time", doc="time constant of the feed motor", low="1 ms", high="2 s", default="60 ms"
    )
    height: float = units.quantity("length", doc="contact tube to work", low="3 mm", high="60 mm", default="12 mm")
    arc_voltage: float | None = units.quantity(
        "voltage", doc="of an arc without length", low="5 V", high="40 V", default=None
    )
    arc_gradient: float = units.quantity(
        "voltage_gradient", doc="arc volts per length", low="0.1 V/mm", high="5 V/mm", default="1 V/mm"
    )
    arc_resistance: float = units.quantity(
        "resistance", doc="slope of the arc", low=0.0, high="0.2 ohm", default="22 mohm"
    )
    falling_voltage: float = units.quantity(
        "voltage", doc="rise of the arc towards no current", low="1 V", high="60 V", default="8 V"
    )
    falling_current: float = units.quantity(
        "current", doc="below which the arc's voltage rises", low="1 A", high="60 A", default="10 A"
    )
    melting: float = units.quantity(
        "fraction", doc="melting rate, of the default", low="10 %", high="300 %", default="100 %"
    )
    resistivity_hot: float = units.quantity(
        "resistivity", doc="mean, of the hot extension", low="0.05 uohm.m", high="3 uohm.m", default="0.85 uohm.m"
    )
    contact_tube: float = units.quantity(
        "resistance", doc="contact tube and clamp", low=0.0, high="0.2 ohm", default="4 mohm"
    )
    contact_tube_spread: float = units.quantity(
        "fraction", doc="its spread from start to start", low=0.0, high=1.0, default="30 %"
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
    spot_tau: float = units.quantity(
        "time", doc="in which a warm spot cools", low="0.1 ms", high="1 s", default="10 ms"
    )
    bridge_resistance: float = units.quantity(
        "resistance", doc="liquid bridge", low=0.0, high="0.1 ohm", default="2 mohm"
    )
    drain_time: float = units.quantity(
        "time", doc="of a bridge to drain without current", low="0.1 ms", high="1 s", default="10 ms"
    )
    drain_current: float = units.quantity(
        "current", doc="whose pinch drains as fast again", low="1 A", high="10 kA", default="160 A"
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
    reach_base: float = units.quantity(
        "length", doc="reach of a pool that rocks", low=0.0, high="5 mm", default="0.3 mm"
    )
    reach_growth: float = units.quantity(
        "fraction", doc="reach per diameter of the drop", low=0.0, high=3.0, default="70 %"
    )
    reach_spread: float = units.quantity("fraction", doc="spread of the reach", low=0.0, high=0.9, default="20 %")
    reignite_first: float = units.quantity(
        "fraction", doc="volts to re-ignite at once, of the arc's", low=1.0, high=10.0, default="150 %"
    )
    reignite_later: float = units.quantity(
        "fraction", doc="volts to re-ignite a little later", low=1.0, high=20.0, default="300 %"
    )
    reignite_time: float = units.quantity("time", doc="when that is", low="0.1 ms", high="20 ms", default="1 ms")
    reignite_lost: float = units.quantity(
        "time", doc="after which only a touch helps", low="0.2 ms", high="100 ms", default="4 ms"
    )
    dead_time: float = units.quantity("time", doc="before any re-ignition", low=0.0, high="10 ms", default="0.1 ms")
    stub_length: float = units.quantity(
        "length", doc="fed into a touch before the wire buckles", low="1 mm", high="100 mm", default="10 mm"
    )
    first_gap_low: float = units.quantity(
        "length", doc="wire to work at the trigger, least", low=0.0, high="30 mm", default="1 mm"
    )
    first_gap_high: float = units.quantity(
        "length", doc="wire to work at the trigger, most", low=0.0, high="30 mm", default="5 mm"
    )

    def faults(self) -> list[tuple[str, str]]:
        """Ranges that are upside down."""
        pairs = [name.removesuffix("_low") for name in (item.name for item in fields(self)) if name.endswith("_low")]
        return [
            (f"{name}_low", f"above {name}_high")
            for name in pairs
            if getattr(self, f"{name}_low") > getattr(self, f"{name}_high")
        ]


@dataclass(frozen=True)
class WireConstants:
    """The constants of a wire in SI units, as the kernel takes them; names as in [wire]."""

    diameter: float
    section: float
    feed: float
    run_in: float
    motor_tau: float
    height: float
    arc_voltage: float
    arc_gradient: float
    arc_resistance: float
    falling_voltage: float
    falling_current: float
    melt_alpha: float
    melt_beta: float
    resistivity_hot: float
    contact_tube: float
    contact_tube_spread: float
    cold_contact_low: float
    cold_contact_high: float
    spot_low: float
    spot_high: float
    action: float
    spot_tau: float
    bridge_resistance: float
    drain_base: float
    drain_current: float
    gap_bridge_low: float
    gap_bridge_high: float
    gap_spot_low: float
    gap_spot_high: float
    gap_long_low: float
    gap_long_high: float
    reach_base: float
    reach_growth: float
    reach_spread: float
    reignite_first: float
    reignite_later: float
    reignite_time: float
    reignite_lost: float
    dead_time: float
    stub_length: float
    first_gap_low: float
    first_gap_high: float


def constants(wire: Wire | None) -> WireConstants:
    """All constants of a wire, with the defaults that depend on its kind, gas and diameter.

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
    Arc voltage without length: 15 V in CO2, 13.5 V in argon mix, 14 V self-shielded (from memory; 13 to 16 V are told).

    Examples
    --------
    >>> round(constants(None).melt_alpha * 1e3, 4)
    0.675

    References
    ----------
    Sources of each constant: the module's docstring.
    """
    wire = wire or Wire()
    given = {item.name: getattr(wire, item.name) for item in fields(WireConstants) if hasattr(wire, item.name)}
    alpha, beta = melting_coefficients(wire.diameter)
    faster = CORED_MELTS_FASTER if wire.kind == "self-shielded" else 1.0
    volts = 14.0 if wire.kind == "self-shielded" else 15.0 if wire.gas == "CO2" else 13.5
    given |= {
        "section": 0.25 * math.pi * wire.diameter**2,
        "action": action_to_melting(),
        "run_in": 0.6 * wire.feed if wire.run_in is None else wire.run_in,
        "arc_voltage": volts if wire.arc_voltage is None else wire.arc_voltage,
        "melt_alpha": alpha * faster * wire.melting,
        "melt_beta": beta * faster * wire.melting,
        "drain_base": 1.0 / wire.drain_time,
        "drain_current": 1.0 / (wire.drain_time * wire.drain_current**2),
    }
    return WireConstants(**given)


def melting_coefficients(diameter: float) -> tuple[float, float]:
    """Coefficients of the melting rate ``alpha i + beta L i^2`` of a steel wire.

    Parameters
    ----------
    diameter : float
        Of the wire [m].

    Returns
    -------
    tuple of float
        alpha [m/(A s)] and beta [1/(A2 s)].

    Notes
    -----
    alpha falls with the section, beta with its square; electrode positive, solid steel, 0.6 to 1.6 mm, some 15 %.

    Examples
    --------
    >>> [round(value, 7) for value in melting_coefficients(0.8e-3)]
    [0.000675, 0.0002531]

    References
    ----------
    Halmoy; Quintino: 1.2 mm mild steel, 0.3 mm/(A s) and 5e-5 1/(A2 s) (from memory, 85 %); scaling derived here.
    """
    ratio = (DIAMETER_12 / diameter) ** 2
    return ALPHA_12 * ratio, BETA_12 * ratio**2


def action_to_melting() -> float:
    """Action integral of steel from 20 degC to melting: j^2 dt integrated, which is heat capacity over resistivity dT.

    Returns
    -------
    float
        Integral of the squared current density [A2 s/m4].

    Notes
    -----
    Adiabatic, with the straight-line tables of this module; melting itself adds about a tenth and is left out.

    Examples
    --------
    >>> round(action_to_melting() * 1e-16, 2)
    1.33

    References
    ----------
    Derived here; the tables are literature values from memory, 80 %.
    """
    shares = [heat / rho for heat, rho in zip(VOLUME_HEATS, RESISTIVITIES, strict=True)]
    return sum(
        0.5 * (a + b) * (t1 - t0)
        for a, b, t0, t1 in zip(shares, shares[1:], TEMPERATURES, TEMPERATURES[1:], strict=False)
    )


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
    Resistivity 0.7 to 1.0 uohm m for hot steel (from memory).
    """
    return wire.resistivity_hot * length / (0.25 * math.pi * wire.diameter**2)
