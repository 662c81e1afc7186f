"""What tables ask of each other: contradictions that make a scenario meaningless, each found by one small function.

Doubtful values are not judged here (see ``checks.py``); these are faults of the text.
"""

import contextlib
from collections.abc import Callable, Collection, Iterator
from typing import Any

from weldsim.errors import Complaint, ScenarioError
from weldsim.parts.choke import flux_curve
from weldsim.parts.flux import saturation_flux_linkage
from weldsim.parts.iron import magnetising_branch
from weldsim.parts.transformer import turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import OneTransformer, is_tapped, loop_impedance, transformers

Found = Iterator[tuple[str, str]]


def primary_turns(scenario: Scenario) -> int | None:
    """Turns of the primary where they are known."""
    known = turns(scenario.transformer, "primary") if scenario.transformer is not None else None
    return round(known) if known is not None else None


def _usable(place: str, derive: Callable[[Any], object], part: Any) -> Found:
    """Whether a part gives what is derived from it; extreme values may leave nothing to compute with."""
    try:
        derive(part)
    except ScenarioError as error:
        yield error.place or place, f"{error.fact}; {error.advice}" if error.advice else error.fact
    except ArithmeticError:
        yield place, "its values together are too extreme to compute with"


def _core(scenario: Scenario) -> Found:
    """A core sits in a transformer, and iron needs the turns around it."""
    if scenario.core is None:
        return
    if scenario.transformer is None:
        yield "core", "there is no [transformer] for this core"
        return
    yield from _usable("core", lambda core: saturation_flux_linkage(core, primary_turns(scenario)), scenario.core)


def _second_transformer(scenario: Scenario) -> Found:
    """A second transformer and its core stand beside a first; together with it they are sound, and can be joined."""
    table = scenario.second_transformer
    if scenario.second_core is not None and table is None:
        yield "second_core", "there is no [second_transformer] for this core"
    elif scenario.second_core is not None and scenario.core is None:
        yield "second_core", "there is no [core] of the first transformer, from which the rest is taken"
    if table is None:
        return
    if scenario.transformer is None:
        yield "second_transformer", "there is no [transformer] beside it, from which the rest is taken"
        return
    second = transformers(scenario)[1]
    faults = second.transformer.faults()
    yield from ((f"second_transformer.{name}", fact) for name, fact in faults)
    if second.core is not None and not faults:
        place = "second_core" if scenario.second_core is not None else "second_transformer"
        for _, fact in _usable(place, lambda core: saturation_flux_linkage(core, second.primary_turns), second.core):
            yield place, f"with what is taken from the first transformer: {fact}"
    if not faults:
        yield from _join(scenario)


def _join(scenario: Scenario) -> Found:
    """What cannot be joined so, or has no solution."""
    table = scenario.second_transformer
    assert table is not None
    if is_tapped(scenario):
        if table.secondaries == "parallel":
            fact = "a centre-tap between two secondaries needs them in series, each one half"
            yield "second_transformer.secondaries", fact
        elif table.primaries == "series":
            fact = "with a centre-tap each half works alone, which the other's primary in series holds up: parallel"
            yield "second_transformer.primaries", fact
    if table.primaries == "parallel":
        if table.secondaries == "parallel" and not abs(loop_impedance(scenario, scenario.mains.frequency)) > 0.0:
            fact = "two ideal transformers in parallel form a loop in which nothing limits the current; give either"
            yield "second_transformer.secondaries", f"{fact} a winding resistance or a leakage inductance"
        return
    if scenario.boost is not None and scenario.boost.kind == "winding":
        fact = "a boost winding, which lies on the first transformer, needs the whole mains on its primary: parallel"
        yield "second_transformer.primaries", fact
    if table.secondaries == "series" and not any(map(_loses, transformers(scenario))):
        fact = "with series secondaries only the iron tells how they share the mains; add a [core] with loss_resistance"
        yield "second_transformer.primaries", f"{fact}, or with section, path_length and steel"


def _loses(one: OneTransformer) -> bool:
    """Whether a core has an eddy loss; one that cannot be computed with is told of elsewhere."""
    try:
        return one.core is not None and magnetising_branch(one.core, one.primary_turns).loss_resistance is not None
    except (ScenarioError, ArithmeticError):
        return True


def _choke(scenario: Scenario) -> Found:
    """A choke has an inductance, or what it follows from."""
    if scenario.choke is not None:
        yield from _usable("choke", flux_curve, scenario.choke)


def _rectifier(scenario: Scenario) -> Found:
    """A centre-tap needs a winding with a tap."""
    if is_tapped(scenario) and scenario.transformer is None:
        yield "rectifier.kind", "a centre-tap rectifier needs a [transformer]"


def _boost_winding(scenario: Scenario) -> Found:
    """A boost winding lies on the transformer, and its ballast may lie on the choke."""
    boost = scenario.boost
    if boost is None or boost.kind != "winding":
        return
    if scenario.transformer is None:
        yield "boost.kind", "a boost winding needs a [transformer]"
    elif boost.turns is not None and primary_turns(scenario) is None:
        yield "boost.turns", "the turns of the primary are not known; write the winding's voltage instead"
    if boost.feeds == "bank" and scenario.bank is None:
        yield "boost.feeds", "there is no [bank] to feed"


def _boost_choke(scenario: Scenario) -> Found:
    """A second winding on the choke needs a choke, and its turns where turns are given."""
    boost = scenario.boost
    if boost is None or not (boost.kind == "choke" or boost.ballast_on_choke):
        return
    if scenario.choke is None:
        place = "boost.kind" if boost.kind == "choke" else "boost.ballast_on_choke"
        yield place, "there is no [choke] to carry the second winding"
    elif boost.choke_turns is not None and scenario.choke.turns is None:
        yield "boost.choke_turns", "the choke's own turns are not given; write choke_ratio instead"


def _boost_rectifier(scenario: Scenario) -> Found:
    """A boost adds direct current, so the supply must be one of direct current."""
    if scenario.boost is not None and scenario.rectifier is None:
        yield "boost", "a boost feeds direct current, but there is no [rectifier]"


def _start(scenario: Scenario) -> Found:
    """Initial values need the part that holds them."""
    start = scenario.start
    if start.bank_voltage and scenario.bank is None:
        yield "start.bank_voltage", "there is no [bank] to be charged"
    both = {one.prefix: one for one in transformers(scenario)}
    for place, flux, density, held_by in (
        ("", start.flux_linkage or None, start.remanence, (scenario.core,)),
        ("second_", start.second_flux_linkage, start.second_remanence, (scenario.core, scenario.second_transformer)),
    ):
        if None in held_by:
            lacks = "[second_transformer] with a core" if place else "[core]"
            names = [name for name, value in (("flux_linkage", flux), ("remanence", density)) if value is not None]
            yield from ((f"start.{place}{name}", f"there is no {lacks} to be magnetised") for name in names)
        elif density is not None and place in both and not _iron_known(both[place]):
            instead = f"write start.{place}flux_linkage instead"
            yield f"start.{place}remanence", f"needs {place}core.section and the primary turns; {instead}"


def _iron_known(one: OneTransformer) -> bool:
    """Whether flux density means something: section and turns are known."""
    return one.core is not None and one.core.section is not None and one.primary_turns is not None


def _timed_dial(scenario: Scenario) -> Found:
    """A timed dial fires within the half cycle whose zero crossing it counts from."""
    control = scenario.phase_control
    if control is None or control.dial_kind != "timed":
        return
    half = 0.5 / scenario.mains.frequency
    for name in ("delay_time_at_0", "delay_time_at_100"):
        delay = getattr(control, name)
        if delay is not None and delay > half * (1.0 + 1e-9):
            at = f"{1e3 * half:.4g} ms at {scenario.mains.frequency:.4g} Hz"
            yield f"phase_control.{name}", f"longer than a half cycle of the mains, {at}, within which it must fire"


def _soft_start(scenario: Scenario) -> Found:
    """A rule of firing needs something that fires when it is told to."""
    soft_start, control = scenario.soft_start, scenario.phase_control
    if soft_start is None or soft_start.kind not in ("ramp", "first fire"):
        return
    if control is None:
        yield "soft_start.kind", f'kind = "{soft_start.kind}" needs a [phase_control] that fires'
    elif control.dial_kind == "rc-diac":
        yield "soft_start.kind", f'kind = "{soft_start.kind}" needs a control with a delay; an rc-diac dial has none'


def _load(scenario: Scenario) -> Found:
    """A wire needs its own table."""
    if scenario.load is not None and scenario.load.kind == "wire" and scenario.wire is None:
        yield "load.kind", "a wire is described by a table [wire], which is missing"


def _feeder(scenario: Scenario) -> Found:
    """The supply of a feed motor feeds a motor, and weld volts that feed it are direct ones."""
    supply = scenario.feed_supply
    if supply is None:
        return
    if scenario.feed_motor is None:
        yield "feed_supply", 'there is no [feed_motor] to feed; feed_motor.rated_voltage = "24 V" adds a usual one'
    if supply.kind == "weld output" and scenario.rectifier is None:
        yield "feed_supply.kind", "the weld output is alternating: there is no [rectifier]"


QUESTIONS: tuple[Callable[[Scenario], Found], ...] = (
    _core,
    _second_transformer,
    _choke,
    _rectifier,
    _boost_winding,
    _boost_choke,
    _boost_rectifier,
    _start,
    _timed_dial,
    _soft_start,
    _load,
    _feeder,
)


class _Unread(Exception):  # noqa: N818 (not an error: a question that cannot be asked)
    """A question asked for a table that could not be read."""


class _AsFarAsRead:
    """A scenario some tables of which could not be read: asked for, they are unknown, not absent."""

    def __init__(self, scenario: Scenario, unread: Collection[str]) -> None:
        self.__dict__.update(scenario=scenario, unread=unread)

    def __getattr__(self, name: str) -> Any:
        if name in self.unread:
            raise _Unread(name)
        return getattr(self.scenario, name)


def contradictions(scenario: Scenario, unread: Collection[str] = ()) -> list[Complaint]:
    """Every contradiction between tables; of tables that could not be read nothing is said."""
    known: Any = _AsFarAsRead(scenario, unread) if unread else scenario
    found = []
    for question in QUESTIONS:
        with contextlib.suppress(_Unread):
            for place, fact in question(known):
                found.append(Complaint(place, fact))
    return found
