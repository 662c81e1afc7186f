"""The boost circuit: its bridge, its ballast, and where it joins.

winding kind:  boost winding --- resistance --- bridge --- ballast ---> terminal or plus rail
choke kind:    second winding of the choke --- resistance, leakage --- bridge --- ballast ---> terminal
"""

from weldsim.network.devices import Line, Scale
from weldsim.network.draft import Draft, Inductance, Resistance
from weldsim.network.wiring_output import BOOST_RAIL, bridge_paths, draw_diodes
from weldsim.network.wiring_transformer import boost_ratio
from weldsim.parts.boost import Boost, choke_turns_ratio


def draw_boost(draft: Draft, terminal: str, plus: str) -> None:
    """Bridge and ballast of either kind; their windings have been drawn with transformer and choke."""
    boost = draft.scenario.boost
    assert boost is not None
    first, second = _alternating_ends(draft, boost)
    line = Line(boost.threshold, boost.slope, boost.leakage_resistance)
    paths = bridge_paths(first, second, plus=BOOST_RAIL, minus=draft.minus)
    draw_diodes(draft, "boost", "boost rectifier", paths=paths, line=line, scale=_scale(draft, boost))
    draft.voltage("boost.voltage", "voltage behind the boost bridge", plus=BOOST_RAIL, minus=draft.minus)
    target = plus if boost.kind == "winding" and boost.feeds == "bank" else terminal
    start = "second out" if boost.kind == "winding" and boost.ballast_on_choke else BOOST_RAIL
    draft.series(
        "boost ballast",
        start,
        [
            Resistance("boost.ballast", boost.ballast_resistance, "boost.ballast_resistance"),
            Inductance("boost.ballast_inductance", boost.ballast_inductance, "boost.ballast_inductance"),
        ],
        end=target,
    )
    resistive = boost.ballast_resistance or not boost.ballast_inductance
    draft.current(
        "boost.current", "current in the boost ballast", "boost.ballast" if resistive else "boost.ballast_inductance"
    )


def _alternating_ends(draft: Draft, boost: Boost) -> tuple[str, str]:
    """Where the boost bridge is fed: behind the boost winding's resistance, or the choke's second winding."""
    resistance = Resistance("boost.resistance", boost.resistance, "boost.resistance")
    if boost.kind == "winding":
        return draft.series("boost winding", "boost coil end", [resistance]), "boost low"
    leakage = Inductance("boost.leakage", boost.leakage_inductance, "boost.leakage_inductance")
    return draft.series("boost winding", "second in", [resistance, leakage]), "second out"


def _scale(draft: Draft, boost: Boost) -> Scale:
    """Full scale around the boost bridge."""
    if boost.kind == "winding":
        return Scale(boost_ratio(draft) * draft.primary.voltage, draft.secondary.current)
    choke = draft.scenario.choke
    ratio = choke_turns_ratio(boost, main_turns=choke.turns if choke is not None else None) or 1.0
    return Scale(max(ratio, 1.0) * draft.secondary.voltage, draft.secondary.current)
