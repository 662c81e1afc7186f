"""The breaker while welding: time to a trip by heat at each dial, what runs for ever, how warm lead and plug get."""

import math
from collections.abc import Sequence

from weldsim.analysis.conductor_heat import (
    BURNS,
    CONTACTS,
    DRUM_TIME,
    LAYERS,
    LEAD_TIME,
    LIMIT,
    PLUG_TIME,
    cover_at,
    cycle_current,
    flexible_rating,
    known_temperature,
    plug_rise,
)
from weldsim.analysis.conductors import duty_multiplier
from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.breaker_curves import EDGES, Edge, heat_after, longest_current, trip_heat, trip_time
from weldsim.parts.breaker_cycles import fusing_currents, longest_current_in_cycles, trip_time_in_cycles
from weldsim.parts.cable import supply_lead_resistance
from weldsim.parts.protection import Breaker
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict, amount, spread
from weldsim.studies.breaker_words import called, lasts, told_points, trips_after, where, who_trips
from weldsim.studies.lead_heat import own_temperature, told_warmth
from weldsim.studies.operating import (
    Setting,
    at_single_dial,
    firing_verdicts,
    found_by,
    has_dial,
    over_the_mains,
    sound,
    sweep,
    told_backlash,
    told_load,
    welding,
)
from weldsim.studies.running_trips import at_once_verdict, dead_short, dead_short_numbers, dead_short_verdict

DIALS = tuple(round(0.1 * step, 1) for step in range(1, 11))
DUTY, CYCLE = 0.35, 600.0  # of the 10 minutes in which duty is counted
CARRIED_FOR = 3600.0  # [s] before the weld: the conventional time of IEC 60898-1
PLUGS = {50: (16.0, 32.0, 63.0, 125.0), 60: (15.0, 20.0, 30.0, 50.0)}  # [A] IEC 60309; NEMA sizes, from memory, 85 %
PLUG_LIMIT = 45.0  # [K] above the room, IEC 60884-1 (from memory, 85 %)


@dataclass(frozen=True)
class Question:
    """What was asked: the supply on its load, its breaker, how it is used."""

    scenario: Scenario
    breaker: Breaker
    duty: float
    plug: float  # [A] rating of the plug
    plug_given: bool = True  # or the smallest that the breaker protects
    carried: float = 0.0  # [A] for an hour before

    @property
    def fuse(self) -> bool:
        """Whether a fuse stands there: no minutes are known of it."""
        return self.breaker.curve == "gG"

    @property
    def name(self) -> str:
        """The breaker in words."""
        return called(self.breaker)

    @property
    def begins(self) -> str:
        """How a sentence on trips begins: with a cold breaker or a warm one."""
        return f"After {amount(self.carried, 'A')} for an hour, without" if self.carried else "Without"

    def minutes(self, current: float, edge: Edge, *, duty: float = 1.0) -> float:
        """Time to the trip [s]; not a number for a fuse."""
        multiple = current / self.breaker.current
        if self.fuse:
            return math.nan
        heat = self.warmth(edge)
        if duty < 1.0:
            return trip_time_in_cycles(self.breaker, multiple, duty=duty, cycle=CYCLE, edge=edge, heat=heat)
        return trip_time(self.breaker, multiple, edge=edge, heat=heat)

    def trips(self, current: float, edge: Edge) -> bool:
        """Whether this current trips it, without a pause, warm as it is; a fuse, whether it has too much for ever."""
        return current > self.for_ever(edge) if self.fuse else math.isfinite(self.minutes(current, edge))

    def warmth(self, edge: Edge) -> float:
        """Heat that the current before has left in it [1]."""
        multiple = self.carried / self.breaker.current
        return heat_after(self.breaker, 0.0, multiple=multiple, duration=CARRIED_FOR, edge=edge)

    def for_ever(self, edge: Edge, *, duty: float = 1.0) -> float:
        """Current that never trips it [A]; of a fuse its conventional currents, the middle between them."""
        if self.fuse:
            holds, melts = fusing_currents(self.breaker)
            return {"fastest": holds, "middle": math.sqrt(holds * melts), "slowest": melts}[edge]
        if duty < 1.0:
            return longest_current_in_cycles(self.breaker, duty=duty, cycle=CYCLE, edge=edge)
        return longest_current(self.breaker, edge=edge)


def ask(
    scenario: Scenario,
    *,
    dials: Sequence[float] | None = None,
    duty: float = DUTY,
    plug: float | None = None,
    carried: float | None = None,
) -> Answer:
    """Minutes to a trip by heat at each dial, by the rms of the primary current, settled, from a cold or warm breaker.

    Parameters
    ----------
    scenario : Scenario
        With a breaker.
    dials : sequence of float or None
        Settings of the dial [1]; 10 to 100 % by default.
    duty : float
        Share of each ten minutes in which it welds [1].
    plug : float or None
        Rated current of the plug [A]; None: the smallest size that is not below the breaker's rating.
    carried : float or None
        Current that the breaker has carried for an hour before, rms [A]; None: it is cold.

    Returns
    -------
    Answer : rows "dial"; numbers at the single dial asked for, else the scenario's.  A time never come is infinity.

    Raises
    ------
    QuestionError : no breaker, or a duty that is none; WiringError, SimulationError.
    """
    if scenario.breaker is None:
        raise QuestionError("there is no breaker that could trip", place="breaker", advice="add a table [breaker]")
    if not 0.0 < duty <= 1.0:
        raise QuestionError(
            f"a duty of {100.0 * duty:g} % is none", place="duty", advice="give more than 0, up to 100 %"
        )
    size = plug_for(scenario.breaker.current, scenario.mains.frequency) if plug is None else plug
    asked = Question(
        welding(at_single_dial(scenario, dials)), scenario.breaker, duty, size, plug is not None, carried or 0.0
    )
    if carried and not asked.fuse and asked.warmth("slowest") >= trip_heat(asked.breaker, edge="slowest"):
        raise QuestionError(
            f"{carried:g} A for an hour trip every {asked.name} before the weld begins",
            place="carried",
            advice=f"give less than {amount(asked.for_ever('slowest'), 'A')}",
        )
    chosen = sorted(dials) if dials and has_dial(scenario) else list(DIALS)
    gone_through = sweep(asked.scenario, sorted({0.0, *DIALS, *chosen}))
    swept = [one for one in gone_through if one.dial is None or one.dial in chosen]
    own = over_the_mains(asked.scenario)
    lasting = {edge: _lasting(asked, gone_through, asked.for_ever(edge)) for edge in EDGES}
    stuck = dead_short(asked.scenario)
    times = {edge: asked.minutes(stuck[1].primary, edge) for edge in EDGES if stuck}
    return Answer(
        "breaker",
        scenario,
        _numbers(asked, own[1], lasting) | dead_short_numbers(stuck, times),
        [
            *firing_verdicts(own),
            _trip_verdict(asked, own),
            *at_once_verdict(asked.breaker, own),
            *dead_short_verdict(asked.breaker, stuck, times),
            _for_ever_verdict(asked, own, lasting),
            *_heat_verdicts(asked, own),
        ],
        _assumptions(asked),
        rows=[_row(asked, setting) for setting in swept],
        runs={},
    )


def plug_for(rating: float, frequency: float) -> float:
    """The smallest plug that a breaker of this rating protects [A]; beyond the largest size, the rating itself.

    >>> plug_for(16.0, 50.0), plug_for(25.0, 50.0), plug_for(30.0, 60.0), plug_for(160.0, 50.0)
    (16.0, 32.0, 30.0, 160.0)
    """
    sizes = PLUGS[60 if frequency > 55.0 else 50]
    return next((size for size in sizes if size >= rating), rating)


def _lasting(asked: Question, swept: Sequence[Setting], current: float) -> Setting | None:
    """The setting that draws this primary current; the most there is where all draw less, None where all draw more."""
    good = sound(swept)
    if good and max(one.primary for one in good) <= current:
        return max(good, key=lambda one: one.primary)
    return found_by(asked.scenario, current, measure=lambda one: one.primary, among=swept)


def _row(asked: Question, setting: Setting) -> dict:
    """One dial: output, primary current, time to the trip for the three breakers, heat in lead and plug."""
    times = {edge: asked.minutes(setting.primary, edge) for edge in EDGES}
    heat = _heat(asked, setting.primary)
    told = ("supply_lead.heat", "supply_lead.temperature", "plug.temperature_rise")
    return {
        "kind": "dial",
        "dial": setting.dial,
        "delay": setting.delay,
        "output_current": setting.current,
        "output_voltage": setting.voltage,
        "primary_rms": setting.primary,
        "power_factor": setting["primary.power_factor"],
        "missed": setting.missed,
        **{f"trip_{edge}": time for edge, time in times.items()},
        "trips": who_trips([edge for edge in EDGES if asked.trips(setting.primary, edge)]),
        **{name.replace(".", "_"): heat[name].value for name in told if name in heat},
    }


def _heat(asked: Question, current: float) -> dict[str, Number]:
    """Heat of lead and plug while welding, and where they settle at the duty."""
    through = cycle_current(current, duty=asked.duty, time=PLUG_TIME)
    numbers = {
        "plug.heat": Number(CONTACTS * current**2, "W"),
        "plug.temperature_rise": Number(plug_rise(through, rating=asked.plug), "K"),
    }
    lead = asked.scenario.supply_lead
    if lead is None:
        return numbers
    heat = supply_lead_resistance(lead) * current**2
    numbers["supply_lead.heat"] = Number(heat, "W")
    if lead.length:
        numbers["supply_lead.heat_per_length"] = Number(heat / lead.length, "W/m")
    if lead.section and lead.conductor == "copper":
        settled = own_temperature(current, duty=asked.duty, section=lead.section, coiled=lead.coiled)
        numbers["supply_lead.temperature"] = Number(known_temperature(settled), "degC")
    return numbers


def _numbers(asked: Question, own: Setting, lasting: dict[Edge, Setting | None]) -> dict[str, Number]:
    """Everything at the scenario's own dial, and the currents that hold for ever."""
    numbers = {
        "output.current.mean" if own.kind == "mean" else "output.current.rms": Number(own.current, "A"),
        "primary.current.rms": Number(own.primary, "A"),
        "primary.current.peak": Number(own["primary.current.peak"], "A"),
        "conductors.current.needed": Number(own.primary * duty_multiplier(asked.duty), "A"),
    }
    for edge in EDGES:
        setting = lasting[edge]
        numbers |= {
            f"breaker.trip.{edge}": Number(asked.minutes(own.primary, edge), "s"),
            f"breaker.trip_in_cycles.{edge}": Number(asked.minutes(own.primary, edge, duty=asked.duty), "s"),
            f"breaker.for_ever.{edge}": Number(asked.for_ever(edge), "A"),
            f"breaker.for_ever.{edge}.dial": Number(
                math.nan if setting is None or setting.dial is None else setting.dial, "1"
            ),
            f"breaker.for_ever.{edge}.output": Number(math.nan if setting is None else setting.current, "A"),
        }
    return numbers | _heat(asked, own.primary)


def _trip_verdict(asked: Question, own: Sequence[Setting]) -> Verdict:
    """Whether welding without a pause, and at the duty, trips at the scenario's own dial."""
    current = own[1].primary
    draws = f"{where(own[1])} draws {spread([one.primary for one in own], 'A')} rms from the mains"
    if asked.fuse:
        holds, melts = fusing_currents(asked.breaker)
        level = "good" if current <= holds else "fault" if current >= melts else "note"
        does = (
            "carries it"
            if level == "good"
            else "melts within its conventional time"
            if level == "fault"
            else "may melt"
        )
        return Verdict(
            "trip",
            level,
            f"{draws}; a {asked.name} {does}: it carries {amount(holds, 'A')} for ever and melts from "
            f"{amount(melts, 'A')} within the hour. How many minutes it lasts between is not promised by its standard.",
        )
    times = {edge: asked.minutes(current, edge) for edge in EDGES}
    cycles = asked.minutes(current, "middle", duty=asked.duty)
    level = "fault" if math.isfinite(times["middle"]) else "note" if math.isfinite(times["fastest"]) else "good"
    at_mains = ", ".join(lasts(asked.minutes(one.primary, "middle")) for one in own)
    text = (
        f"{draws}, {current / asked.breaker.current:.2f} times the rating of the {asked.name}. {asked.begins} "
        f"a pause a middle one {trips_after(times['middle'])} by heat (the fastest that the standard "
        f"allows: {lasts(times['fastest'])}, the slowest: {lasts(times['slowest'])}; middle at mains -10, 0, +10 %: "
        f"{at_mains}); with {100.0 * asked.duty:.0f} % of each ten minutes it {trips_after(cycles)}."
    )
    cause = own[1]["primary.power_factor"]
    return Verdict(
        "trip",
        level,
        f"{text} Cause: rms heats it, and at a power factor of {cause:.2f} that is {1.0 / cause:.1f} times what the "
        "watts alone would draw.",
    )


def _for_ever_verdict(asked: Question, own: Sequence[Setting], lasting: dict[Edge, Setting | None]) -> Verdict:
    """The largest current that holds for ever, and what it gives at the output."""
    told = []
    for edge in EDGES:
        setting = lasting[edge]
        gives = _gives(setting, asked.for_ever(edge))
        who = "" if asked.fuse else f"the {edge} "
        told.append(f"{who}{amount(asked.for_ever(edge), 'A')} ({gives})")
    most = asked.for_ever("middle", duty=asked.duty)
    duty = f"; at {100.0 * asked.duty:.0f} % duty the middle one takes {amount(most, 'A')}"
    level = "good" if own[1].primary <= asked.for_ever("fastest") else "note"
    says = f"Heat never trips a {asked.name} up to this primary current, without a pause"
    if asked.fuse:
        says = f"A {asked.name} carries the first for good and melts within its conventional time from the last"
    return Verdict(
        "for_ever",
        level,
        f"{says}: {'; '.join(told)}{'' if asked.fuse else duty}. That it holds says nothing of the cable behind it.",
    )


def _gives(setting: Setting | None, current: float) -> str:
    """What comes out where the primary draws a current that holds for ever."""
    if setting is None:
        return "which no sound setting keeps to"
    if setting.primary < 0.99 * current:
        return f"more than it ever draws, {amount(setting.primary, 'A')}"
    at = "" if setting.dial is None else f" at dial {math.floor(100.0 * setting.dial + 1e-6):.0f} %"  # not beyond it
    return f"{amount(setting.current, 'A')} at the output{at}"


def _heat_verdicts(asked: Question, own: Sequence[Setting]) -> list[Verdict]:
    """The lead and the plug at the scenario's dial and duty."""
    currents = [cycle_current(one.primary, duty=asked.duty, time=PLUG_TIME) for one in own]
    rises = [plug_rise(current, rating=asked.plug) for current in currents]
    level = "fault" if rises[1] > PLUG_LIMIT else "note" if own[1].primary > asked.plug else "good"
    taken = "" if asked.plug_given else f" (the smallest size that a breaker of {asked.breaker.current:g} A protects)"
    verdicts = [
        Verdict(
            "plug",
            level,
            f"A {asked.plug:g} A plug{taken} that just passes its standard gets {spread(rises, 'K')} above the room "
            f"at {100.0 * asked.duty:.0f} % duty, against {PLUG_LIMIT:g} K allowed; while welding it carries "
            f"{amount(own[1].primary, 'A')}, {own[1].primary / asked.plug:.2f} times its rating. A worn or loose "
            f"contact has no upper limit.",
        )
    ]
    lead = asked.scenario.supply_lead
    if lead is None or not lead.section or lead.conductor != "copper":
        return verdicts
    size = {"duty": asked.duty, "section": lead.section}
    warm = [own_temperature(one.primary, **size, coiled=lead.coiled) for one in own]
    reel = own_temperature(own[1].primary, **size, coiled=True)
    level = "fault" if warm[1] > LIMIT else "note" if reel > LIMIT else "good"
    how = "on its drum" if lead.coiled else "laid out"
    verdicts.append(
        Verdict(
            "lead_heat",
            level,
            f"The {1e6 * lead.section:.4g} mm2 lead {how} has cores of {_warmth(warm)} when a weld ends, at "
            f"{100.0 * asked.duty:.0f} % duty, against {LIMIT:g} degC that its cover bears"
            + ("" if lead.coiled else f"; left on a drum of {LAYERS} layers: {_warmth([reel])}")
            + f". It is good for {amount(flexible_rating(lead.section), 'A')} without pause when laid out.",
        )
    )
    return verdicts


def _warmth(warm: Sequence[float]) -> str:
    """Settled temperatures in words: one, or over the mains."""
    if cover_at(warm[len(warm) // 2]) == "burns":
        return f"more than {BURNS:g} degC (its cover burns)"
    return f"{warm[0]:.3g} degC" if len(warm) == 1 else told_warmth(warm)


def _assumptions(asked: Question) -> list[str]:
    """What every figure stands on."""
    lines = [
        f"Load: {told_load(asked.scenario)}; every current is the rms of a settled state, windings at the scenario's "
        "temperature.",
        "Spread: mains -10, 0 and +10 %, same dial.",
        f"Duty of {100.0 * asked.duty:.0f} % counted over {CYCLE / 60.0:.0f} minutes, welding first; nothing flows "
        "between welds.",
        f"Lead: a table of flexible leads in air of 30 degC and, on a drum of {LAYERS} layers, the factor for it "
        f"(both from memory, 85 %), hottest when a weld ends: time constants of {LEAD_TIME / 60.0:g} min laid out, "
        f"{DRUM_TIME / 60.0:g} min on a drum, {PLUG_TIME / 60.0:g} min of a plug (derived, 40 %). Plug: 45 K at 1.375 "
        "times its rating (IEC 60884-1, from memory, 85 %), its heat "
        f"with {1e3 * CONTACTS:g} mohm in both poles (common practice)."
        + ("" if asked.plug_given else " A smaller plug, as many a set has, runs hotter: give yours with --plug."),
        "conductors.current.needed: rated primary current times the multiplier of NEC 630.11(A); local codes decide.",
    ]
    if not asked.fuse:
        state = f"warm from {amount(asked.carried, 'A')} for an hour" if asked.carried else "cold"
        lines.insert(
            2,
            f"Thermal part: one time constant, set by {told_points(asked.breaker)}, {state} at the start, room as in "
            "the standard; what the magnetic part does at a press is judged by `inrush`.",
        )
    return [*lines, *told_backlash(asked.scenario)]
