"""The transformer: turns, winding resistances and leakage; its magnetising branch is the core's table.

    R1       L1                  L2      R2
o--[==]-----(((----+   ratio   +-(((----[==]--o
                   |   o   o   |
                 core   )|(    |
                   |   o   o   |
o------------------+           +--------------o
   primary side                 secondary side (one half, for a centre-tap rectifier)
"""

import math

from weldsim import units
from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass
from weldsim.parts.cable import CONDUCTORS, warm_factor, wire_resistance

# Leakage seen from the secondary, per secondary turn squared [H], and where turns are not known [H]: what welding-size
# iron has by how its windings lie (common practice, no published source; a factor of two either way).
_LEAKAGE_PER_TURN_SQUARED = {"toroid": 50e-9, "concentric": 95e-9, "side by side": 500e-9}
_LEAKAGE_UNKNOWN_TURNS = {"toroid": 12e-6, "concentric": 35e-6, "side by side": 150e-6}


@dataclass(frozen=True, kw_only=True)
class Transformer:
    """Table [transformer]: measured electrical values, or copper from which they follow."""

    primary_turns: int | None = units.count(doc="turns of the primary", low=1, high=100_000, default=None)
    secondary_turns: int | None = units.count(
        doc="turns of the secondary, of one half for a centre-tap", low=1, high=100_000, default=None
    )
    ratio: float | None = units.ratio(
        doc="primary to secondary turns, instead of both turns", low=1e-3, high=1e3, default=None
    )
    primary_resistance: float | None = units.quantity(
        "resistance", doc="of the primary at 20 degC", low=0.0, high="1 kohm", default=None
    )
    secondary_resistance: float | None = units.quantity(
        "resistance", doc="of the secondary at 20 degC", low=0.0, high="100 ohm", default=None
    )
    winding_temperature: float = units.quantity(
        "temperature", doc="temperature of the windings", low=-50.0, high=300.0, default=20.0
    )
    primary_leakage_inductance: float | None = units.quantity(
        "inductance", doc="leakage on the primary side", low=0.0, high="10 H", default=None
    )
    secondary_leakage_inductance: float | None = units.quantity(
        "inductance", doc="leakage on the secondary side", low=0.0, high="1 H", default=None
    )
    layout: str | None = units.choice(
        tuple(_LEAKAGE_PER_TURN_SQUARED), doc="how the windings lie: a leakage where none is given", default=None
    )
    primary_wire_section: float | None = units.quantity(
        "area", doc="metal of the primary wire", low="0.001 mm2", high="1000 mm2", default=None
    )
    secondary_wire_section: float | None = units.quantity(
        "area", doc="metal of the secondary wire", low="0.001 mm2", high="1000 mm2", default=None
    )
    primary_turn_length: float | None = units.quantity(
        "length", doc="mean length of a primary turn", low="1 cm", high="10 m", default=None
    )
    secondary_turn_length: float | None = units.quantity(
        "length", doc="mean length of a secondary turn", low="1 cm", high="10 m", default=None
    )
    conductor: str = units.choice(CONDUCTORS, doc="metal of both windings", default="copper")
    rating: float | None = units.quantity(
        "apparent_power", doc="rating as bought, continuous", low="1 VA", high="1000 kVA", default=None
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other or are missing for what others ask."""
        found = []
        if self.ratio is not None and self.primary_turns is not None and self.secondary_turns is not None:
            found.append(("ratio", "give ratio, or primary_turns and secondary_turns, not all three"))
        if self.ratio is None and (self.primary_turns is None or self.secondary_turns is None):
            lacking = "secondary_turns" if self.secondary_turns is None else "primary_turns"
            found.append((lacking, "missing: give primary_turns and secondary_turns, or ratio"))
        return found + _copper_faults(self, "primary") + _copper_faults(self, "secondary")


def _copper_faults(transformer: Transformer, side: str) -> list[tuple[str, str]]:
    """A winding resistance is given, or follows from turns, section and turn length; else it is zero."""
    section, length = getattr(transformer, f"{side}_wire_section"), getattr(transformer, f"{side}_turn_length")
    if getattr(transformer, f"{side}_resistance") is not None or (section is None and length is None):
        return []
    if section is None or length is None:
        lacking = f"{side}_wire_section" if section is None else f"{side}_turn_length"
        return [(lacking, f"missing: {side} resistance follows from wire section and mean turn length together")]
    if getattr(transformer, f"{side}_turns") is None and _turns_from_ratio(transformer, side) is None:
        return [(f"{side}_turns", f"missing: {side} resistance from copper needs the turns")]
    return []


def _turns_from_ratio(transformer: Transformer, side: str) -> float | None:
    """Turns of one side from the other side's and the ratio."""
    if transformer.ratio is None:
        return None
    if side == "primary" and transformer.secondary_turns is not None:
        return transformer.secondary_turns * transformer.ratio
    if side == "secondary" and transformer.primary_turns is not None:
        return transformer.primary_turns / transformer.ratio
    return None


def turns(transformer: Transformer, side: str) -> float | None:
    """Turns of one winding, where they are given or follow from the ratio.

    Parameters
    ----------
    transformer : Transformer
        The table [-].
    side : str
        "primary" or "secondary" [-].

    Returns
    -------
    float or None
        Turns [1]; None where only the ratio is known.

    Examples
    --------
    >>> turns(Transformer(primary_turns=130, ratio=6.5), "secondary")
    20.0
    """
    given: int | None = getattr(transformer, f"{side}_turns")
    return float(given) if given is not None else _turns_from_ratio(transformer, side)


def turns_ratio(transformer: Transformer) -> float:
    """Primary turns over secondary turns.

    Parameters
    ----------
    transformer : Transformer
        The table [-].

    Returns
    -------
    float
        Ratio [1].

    Examples
    --------
    >>> round(turns_ratio(Transformer(primary_turns=130, secondary_turns=15)), 4)
    8.6667
    """
    if transformer.ratio is not None:
        return transformer.ratio
    if transformer.primary_turns is None or transformer.secondary_turns is None:
        raise ScenarioError(
            "neither turns nor ratio are given",
            place="transformer",
            advice='write primary_turns and secondary_turns, or ratio = "230:31"',
        )
    return transformer.primary_turns / transformer.secondary_turns


def winding_resistance(transformer: Transformer, side: str) -> float:
    """Resistance of one winding at the winding temperature.

    Parameters
    ----------
    transformer : Transformer
        The table: resistance at 20 degC, or wire section and mean turn length [-].
    side : str
        "primary" or "secondary" [-].

    Returns
    -------
    float
        Resistance; zero where nothing is given [ohm].

    Notes
    -----
    ``R = turns * turn length * resistivity / section``; eddy currents in thick secondaries add a few per cent that are
    not in it, and neither are terminals.

    Examples
    --------
    >>> toroid = Transformer(primary_turns=130, ratio=8.667, primary_wire_section=3.3e-6, primary_turn_length=0.38)
    >>> round(winding_resistance(toroid, "primary"), 4)
    0.2581
    """
    given: float | None = getattr(transformer, f"{side}_resistance")
    if given is not None:
        return given * warm_factor(transformer.winding_temperature, conductor=transformer.conductor)
    section, length = getattr(transformer, f"{side}_wire_section"), getattr(transformer, f"{side}_turn_length")
    wound = turns(transformer, side)
    if section is None or length is None or wound is None:
        return 0.0
    return wire_resistance(
        wound * length, section, conductor=transformer.conductor, temperature=transformer.winding_temperature
    )


def leakage_inductances(transformer: Transformer) -> tuple[float, float]:
    """Leakage inductance on the primary and on the secondary side.

    Parameters
    ----------
    transformer : Transformer
        The table [-].

    Returns
    -------
    tuple of float
        Primary and secondary leakage [H].

    Notes
    -----
    As given; a side not given is zero.  Where neither is given but the layout is, all of it is put on the secondary:
    50, 95 or 500 nH per secondary turn squared (toroid, concentric, side by side), or 12, 35, 150 uH where turns are
    not known: common practice, good to a factor of two.  Measure it by a short-circuit test when it matters.

    Examples
    --------
    >>> toroid = Transformer(primary_turns=130, secondary_turns=15, layout="toroid")
    >>> [round(1e6 * value, 2) for value in leakage_inductances(toroid)]
    [0.0, 11.25]
    """
    primary, secondary = transformer.primary_leakage_inductance, transformer.secondary_leakage_inductance
    if primary is None and secondary is None and transformer.layout is not None:
        wound = turns(transformer, "secondary")
        known = _LEAKAGE_PER_TURN_SQUARED[transformer.layout] * wound * wound if wound is not None else None
        return 0.0, known if known is not None else _LEAKAGE_UNKNOWN_TURNS[transformer.layout]
    return primary or 0.0, secondary or 0.0


def flux_density(voltage: float, *, frequency: float, turns: float, section: float) -> float:
    """Peak flux density of a core under sinusoidal voltage: ``V = (2 pi / sqrt 2) f N B A``.

    Parameters
    ----------
    voltage : float
        Voltage at the winding, rms [V].
    frequency : float
        Frequency [Hz].
    turns : float
        Turns of that winding [1].
    section : float
        Net iron section [m2].

    Returns
    -------
    float
        Peak flux density [T].

    Notes
    -----
    Drop in winding resistance and leakage neglected, so it is the upper limit, reached unloaded.

    Examples
    --------
    >>> round(flux_density(230.0, frequency=50.0, turns=220, section=32e-4), 5)
    1.47069

    References
    ----------
    The EMF equation of every textbook; the example was computed elsewhere.
    """
    return voltage / (math.sqrt(2.0) * math.pi * frequency * turns * section)
