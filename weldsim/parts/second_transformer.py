"""A second transformer beside the first: how the two are joined, and what of it differs.

    primaries in parallel (each has the mains)          in series (they share them)
    o--+--[first]--+--o                                 o--[first]--[second]--o
       '--[second]-'

    secondaries in series (their volts add up)          in parallel (their amperes add up)

The iron of a pair is mostly "the same model, but": a key that is not given is that of the first transformer.  Two equal
transformers with parallel primaries and series secondaries are the commonest join: each core keeps the volts it was
made for, and a winding for welding finds too little room on one of them.
"""

import dataclasses
from typing import Any

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.cable import CONDUCTORS
from weldsim.parts.iron import Core
from weldsim.parts.transformer import Transformer, turns

# Key that is given -> keys of the first that then no longer count, since they would go before it.
_DISPLACED = {
    "primary_wire_section": ("primary_resistance",),
    "primary_turn_length": ("primary_resistance",),
    "secondary_wire_section": ("secondary_resistance",),
    "secondary_turn_length": ("secondary_resistance",),
    "layout": ("primary_leakage_inductance", "secondary_leakage_inductance"),
}
_ELECTRICAL = ("magnetising_inductance", "saturation_flux_linkage", "saturated_inductance")
_DISPLACED_IN_CORE = {
    "steel": (*_ELECTRICAL, "magnetising_curve", "coercive_field", "hysteresis", "remanence"),
    "magnetising_curve": _ELECTRICAL,
    "coercive_field": ("hysteresis",),
    "loss_per_mass": ("loss_resistance",),
    "eddy_share": ("loss_resistance",),
}
_TURNS = ("primary_turns", "secondary_turns", "ratio")
_JOIN = ("primaries", "secondaries", "reversed")


@dataclass(frozen=True, kw_only=True)
class SecondTransformer(Transformer):
    """Table [second_transformer]: how it is joined to the first, and whatever differs from the first."""

    winding_temperature: float | None = units.quantity(  # type: ignore[assignment]
        "temperature", doc="temperature of the windings", low=-50.0, high=300.0, default=None
    )
    conductor: str | None = units.choice(  # type: ignore[assignment]
        CONDUCTORS, doc="metal of both windings", default=None
    )
    primaries: str = units.choice(
        ("parallel", "series"),
        doc="how the two primaries are joined: each has the mains, or they share them",
        default="parallel",
    )
    secondaries: str = units.choice(
        ("series", "parallel"),
        doc="how the two secondaries are joined: volts add up, or amperes",
        default="series",
    )
    reversed: bool = units.flag(doc="the second secondary is joined the wrong way round", default=False)

    def faults(self) -> list[tuple[str, str]]:
        """None alone: what is missing here is that of the first transformer."""
        return []


@dataclass(frozen=True, kw_only=True)
class SecondCore(Core):
    """Table [second_core]: whatever of the second transformer's core differs from the first's."""

    stacking: float | None = units.quantity(  # type: ignore[assignment]
        "fraction", doc="share of iron in the section (1 where a net section is given)", low=0.1, high=1.0, default=None
    )
    gap: float | None = units.quantity(  # type: ignore[assignment]
        "length", doc="air gaps along the path, added up", low=0.0, high="0.1 m", default=None
    )


def second_transformer(first: Transformer, table: SecondTransformer) -> Transformer:
    """The second transformer in full: what its table gives, the rest as the first's.

    Parameters
    ----------
    first : Transformer
        The first transformer [-].
    table : SecondTransformer
        What differs [-].

    Returns
    -------
    Transformer
        The second transformer [-].

    Notes
    -----
    What would go before a given key does not come from the first: a wire section makes the first's resistance count no
    more, a layout its leakage.  Of turns and ratio the given ones count; a winding without any keeps the turns of the
    first's.  A resistance taken over stays the same with other turns.

    Examples
    --------
    One turn more on the second secondary:

    >>> oven = Transformer(primary_turns=210, secondary_turns=18, secondary_resistance=9e-3)
    >>> other = second_transformer(oven, SecondTransformer(secondary_turns=19))
    >>> other.primary_turns, other.secondary_turns, other.secondary_resistance
    (210, 19, 0.009)

    References
    ----------
    Derived here: a rule of this project.
    """
    given = _given(table, _JOIN)
    dropped = {name for key in given for name in _DISPLACED.get(key, ())}
    changes: dict[str, Any] = dict.fromkeys(dropped) | given | _turns(first, given)
    return dataclasses.replace(first, **changes)


def second_core(first: Core, table: SecondCore | None) -> Core:
    """The second transformer's core in full: what its table gives, the rest as the first's.

    Parameters
    ----------
    first : Core
        The first core [-].
    table : SecondCore or None
        What differs; None: nothing [-].

    Returns
    -------
    Core
        The second core [-].

    Notes
    -----
    Values in the winding's terms (inductance, flux linkage) are those of its own primary and are not converted to other
    turns.  Another steel takes none of the first steel's width and remanence.

    Examples
    --------
    >>> second_core(Core(section=24e-4, path_length=0.28, steel="non-oriented"), SecondCore(section=22e-4)).section
    0.0022

    References
    ----------
    Derived here: a rule of this project.
    """
    given = _given(table, ()) if table is not None else {}
    dropped = {name for key in given for name in _DISPLACED_IN_CORE.get(key, ())}
    changes: dict[str, Any] = dict.fromkeys(dropped) | given
    return dataclasses.replace(first, **changes)


def _given(table: Transformer | Core, without: tuple[str, ...]) -> dict[str, Any]:
    """What a table of the second transformer says."""
    fields = {item.name: getattr(table, item.name) for item in dataclasses.fields(table) if item.name not in without}
    return {name: value for name, value in fields.items() if value is not None}


def _turns(first: Transformer, given: dict[str, Any]) -> dict[str, Any]:
    """Turns and ratio of the second where any of them is given."""
    named = {name: given.get(name) for name in _TURNS}
    if not any(named.values()):
        return {}
    if named["ratio"] is not None:
        known = turns(first, "primary")
        if named["primary_turns"] is None and named["secondary_turns"] is None and known is not None:
            named["primary_turns"] = round(known)
        return named
    primary, secondary = (named[f"{side}_turns"] or turns(first, side) for side in ("primary", "secondary"))
    if primary is None or secondary is None:
        return named  # which `faults` tells
    if float(primary).is_integer() and float(secondary).is_integer():
        return {"primary_turns": round(primary), "secondary_turns": round(secondary), "ratio": None}
    return {"primary_turns": round(primary), "secondary_turns": None, "ratio": primary / secondary}
