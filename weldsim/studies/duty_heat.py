"""The parts of a set that get hot, as bodies: what warms them on a setting, and what is known of their cooling."""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.frozen import dataclass
from weldsim.parts.cooling import Body, Cooling, capacity, growth, winding_mass
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import is_tapped, transformers
from weldsim.studies.operating import Setting

ROUNDING = 1e-6  # between what two transformers of one make come to
CYCLE = 600.0  # [s] in which duty is counted (IEC 60974-1)
GIVEN, ESTIMATED = 1.15, 1.6  # factors by which a cooling may be off: a measured one, one from a time constant
NAMES = {
    "winding": "transformer windings",
    "second_winding": "second transformer's windings",
    "choke": "choke",
    "device": "phase control's heat sink",
    "rectifier": "rectifier's heat sink",
}
WINDINGS = ("winding", "second_winding")
# Part -> parts of the ledger whose loss warms it: those of metal, which grow with the temperature, and the others.
HEATED_BY: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "winding": (
        ("transformer primary winding", "transformer secondary winding", "boost winding"),
        ("core loss", "core hysteresis"),
    ),
    "second_winding": (
        ("second transformer primary winding", "second transformer secondary winding"),
        ("second core loss", "second core hysteresis"),
    ),
    "choke": (("choke",), ()),
    "device": ((), ("phase control",)),
    "rectifier": ((), ("rectifier",)),
}


@dataclass(frozen=True)
class Warm:
    """One part on the scenario's own setting: its body as assumed, at its best and at its worst, where that is known.

    ``known`` is "given", "estimated" or "unknown"; then the cooling of ``body`` stands for nothing.
    """

    part: str
    body: Body
    best: Body
    worst: Body
    known: str

    @property
    def name(self) -> str:
        """In words."""
        return NAMES[self.part]


def warms(setting: Setting, part: str) -> bool:
    """Whether a part of this kind is there and takes any power."""
    return any(_heat(setting, part))


def _heat(setting: Setting, part: str) -> tuple[float, float]:
    """Loss that warms a part [W]: in metal, which grows with its temperature, and the rest."""
    run = setting.recording.run
    length = run.window[1] - run.window[0]

    def loss(names: Sequence[str]) -> float:
        entries = [run.ledger.get(name) for name in names]
        return sum(max(entry.get("loss", 0.0), 0.0) for entry in entries if isinstance(entry, Mapping)) / length

    metal, others = (loss(names) for names in HEATED_BY[part])
    return metal, others


def _body(scenario: Scenario, part: str, setting: Setting) -> tuple[Body, str]:
    """A part on a setting, and how its cooling is known."""
    cooling, (metal, others) = scenario.cooling or Cooling(), _heat(setting, part)
    wound = next((one for one in transformers(scenario) if f"{one.prefix}winding" == part), None)
    winds, of_metal = wound is not None, part in (*WINDINGS, "choke")
    conductor = wound.transformer.conductor if wound is not None else "copper"
    cold = wound.transformer.winding_temperature if wound is not None else 20.0
    kind = part.removeprefix("second_")  # what is given of the cooling holds for each of two transformers
    mass: float | None = getattr(cooling, f"{kind}_mass", None)
    if mass is None and wound is not None:
        both_halves = is_tapped(scenario) and scenario.second_transformer is None
        mass = winding_mass(wound.transformer, secondaries=2 if both_halves else 1)
    to_air, time = getattr(cooling, f"{kind}_to_air"), getattr(cooling, f"{kind}_time")
    known = "given" if to_air is not None else "estimated" if mass is not None else "unknown"
    if to_air is None:
        to_air = 1.0 if mass is None else time / capacity(mass, conductor=conductor)
    limit = cooling.winding_limit if of_metal else cooling.sink_limit
    if winds and cooling.cutout is not None:
        limit = min(limit, cooling.cutout)
    grows = growth(cold, conductor=conductor) if of_metal else 0.0
    return Body(metal, others, cold, grows, to_air, time, cooling.ambient, limit), known


def warm_part(scenario: Scenario, part: str, own: Sequence[Setting]) -> Warm:
    """A part on the scenario's own setting, over the mains and what is not known of its cooling."""
    bodies = [_body(scenario, part, setting) for setting in own]
    (low, _), (body, known), (high, _) = bodies
    off = GIVEN if known == "given" else ESTIMATED
    best = dataclasses.replace(low, to_air=low.to_air / off, time=low.time / off)
    worst = dataclasses.replace(high, to_air=high.to_air * off, time=high.time * off)
    return Warm(part, body, best, worst, known)


def first_hot(parts: Sequence[Warm]) -> Warm | None:
    """The part that allows the least duty, of those whose cooling is known; the sooner hot where two allow the same."""
    known = [one for one in parts if one.known != "unknown"]
    found = _first([one.body for one in known])
    return known[found] if known else None


def _first(bodies: Sequence[Body]) -> int:
    """Place of the body that is too hot first; of those that differ by rounding alone the one told first."""
    ranks = [(body.duty(CYCLE), _soon(body)) for body in bodies]
    best = min(ranks, default=())
    return next((k for k, rank in enumerate(ranks) if all(map(_alike, rank, best))), 0)


def _alike(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=ROUNDING)


def _soon(body: Body) -> float:
    """Time of welding from cold until its limit [s]; where that never comes, by how far it stays below."""
    time = body.time_to(body.limit, body.ambient)
    return time if math.isfinite(time) else 1e9 * (body.limit - body.ambient) / (body.settled - body.ambient)


def rest_for(body: Body) -> float:
    """Rest [s] after which a part at its limit may weld a minute again."""
    if body.settled <= body.limit:
        return 0.0
    low, high = body.ambient, body.limit
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if body.after(60.0, middle) <= body.limit else (low, middle)
    return body.rest_to(low, body.limit)


def dial_row(scenario: Scenario, setting: Setting, parts: Sequence[Warm]) -> dict[str, Any]:
    """One dial: what it gives, and what the first part to get hot allows."""
    bodies = {one.name: _body(scenario, one.part, setting)[0] for one in parts if one.known != "unknown"}
    row = {
        "kind": "dial",
        "dial": setting.dial,
        "delay": setting.delay,
        "output_current": setting.current,
        "output_voltage": setting.voltage,
        "missed": setting.missed,
    }
    if not bodies:
        return row | {"first": "", "lasts": math.nan, "duty": math.nan}
    shares = {name: body.duty(CYCLE) for name, body in bodies.items()}
    first = list(bodies)[_first(list(bodies.values()))]
    lasts = min(body.time_to(body.limit, body.ambient) for body in bodies.values())
    told = {f"duty_{one.part}": shares[one.name] for one in parts if one.name in shares}
    return row | {"first": first, "lasts": lasts, "duty": shares[first]} | told
