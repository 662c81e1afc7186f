"""Laws between two runs: cut in pieces, sampled otherwise, stepped otherwise, the half waves exchanged, likenesses."""

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from tests.laws.case import BLINK, ROUNDED, Case, left_by_a_quantum
from tests.laws.supplies_at_random import SeededDice
from weldsim.network.pieces import BAND
from weldsim.parts.flux import remanent_flux_linkage
from weldsim.runs.supply import STEPS_PER_PERIOD, Supply
from weldsim.runs.under_way import UnderWay
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import TABLES, Scenario
from weldsim.units import Quantity, rule_of

CUT, RESAMPLED, STEPPED = 1e-9, 1e-8, 1e-6  # of full scale
LIKE = 3e-7  # alike but for some quanta in every switching, which are found by the last digits of the machine
CUTS = 7
MOVED = 1000.0  # quanta, 6 ns: as far a switching may lie from its like, which follows from one moved by a quantum
SHORT_SPAN = 1e-9  # [s] over which a rate is taken


def cuts_do_not_matter(case: Case) -> Iterator[str]:
    """A run stopped at odd moments, and one begun anew from its own state there, end where the whole one ends."""
    dice = SeededDice(round(1e6 * case.length))
    whole = _ended(case.under_way(), [])
    begin = whole.begin
    cuts = sorted(dice.between(begin, begin + case.length) for _ in range(CUTS))
    yield from _same(case, whole, _ended(case.under_way(), cuts), CUT, "cut in pieces")
    if "dial.resistance" in case.circuit_parts() or not case.recording.supply.periodic:
        return  # what a diac or a load has begun belongs to the run
    first = _ended(case.under_way(), cuts[:1], stop=cuts[0])
    stepper = first.stepper
    count = len(case.scale) + 2 * len(case.trace.system.inputs)
    anew = case.recording.supply.stepper(
        stepper.x[:count].copy(),
        case.trace.signatures[int(stepper.control[1])],
        (stepper.now, begin + case.length),
        delay=case.delay,
    )
    anew.run_to(begin + case.length)
    second = dataclasses.replace(whole, stepper=anew)
    yield from _same(case, whole, second, CUT, f"begun anew at {cuts[0]:.9g} s")


def _ended(going: UnderWay, cuts: list[float], stop: float | None = None) -> UnderWay:
    for cut in cuts:
        going.run_to(cut)
    going.run_to(going.end if stop is None else stop)
    return going


def _same(case: Case, one: UnderWay, other: UnderWay, room: float, what: str) -> Iterator[str]:
    count = len(case.scale)
    bands = np.array([BAND * case.volts() * name.endswith("voltage") for name in case.trace.system.states])
    wrong = np.abs(one.stepper.x[:count] - other.stepper.x[:count])
    if one.supply is other.supply and (wrong > bands + room * case.scale).any():
        bands += 2.0 * _left_by_quanta(one, other)[:count]
        if (wrong > bands + room * case.scale).any():
            bands += _left_by_a_hair(case)
    wrong = np.maximum(wrong - bands, 0.0) / case.scale
    if wrong.max(initial=0.0) > room + case.drift:
        worst = int(wrong.argmax())
        yield f"{what}: {case.trace.system.states[worst]} off by {wrong.max():.3g} of full scale"


def _left_by_quanta(one: UnderWay, other: UnderWay) -> np.ndarray:
    """What switchings that two runs find some quanta apart leave in each state, seen some time later.

    Rounding decides between neighbouring quanta; where a guard hardly falls within one, between dozens; and between
    two parts that switch at once, which is the first.  Nothing where the runs do not go through the same modes that
    last: then one of them is wrong.
    """
    first, second = one.stepper.trace(), other.stepper.trace()
    total = np.zeros(first.system.size)
    pieces, others = (np.flatnonzero(np.diff(np.append(run.time, run.end)) > BLINK) for run in (first, second))
    skipped = len(pieces) - len(others)  # by a run that begins later
    if skipped < 0 or np.any(first.kin[pieces[skipped + 1 :]] != second.kin[others[1:]]):
        return total
    for before, piece, like in zip(pieces[skipped:-1], pieces[skipped + 1 :], others[1:], strict=True):
        apart = abs(int(first.time[piece] - second.time[like]))
        if apart:
            total += apart * np.abs(left_by_a_quantum(first, before, piece)).max(axis=0, initial=0.0)
    return total


def _left_by_a_hair(case: Case) -> np.ndarray:
    """What a hair of the mains' voltage makes of the states in the end, thrice; never more than other steps may."""
    count = len(case.scale)
    here, *beside = (_ended(one.under_way(), []).stepper.x[:count] for one in (case, *case.beside))
    moved = np.abs([one - here for one in beside]).max(axis=0)
    return np.minimum(3.0 * moved, STEPPED * case.scale)


def known_modes_do_not_matter(case: Case) -> Iterator[str]:
    """A supply that meets all its modes for the first time, and one that knows them, end alike to the last bit."""
    supply = Supply(case.scenario)
    state, signature = supply.rest()
    ends = []
    for _ in range(2):
        going = case.under_way()
        stepper = supply.stepper(state, signature, (going.begin, going.begin), delay=None)
        going = _ended(dataclasses.replace(going, supply=supply, stepper=stepper), [])
        ends.append(going.stepper.x)
    if not np.array_equal(*ends):
        yield f"modes known: {np.abs(ends[0] - ends[1]).max():.3g} apart"


def samples_do_not_matter(case: Case) -> Iterator[str]:
    """Recorded at another interval, the same instants hold the same values and the exact figures stay the same.

    Within a piece each sample is found from the one before by a product, which rounds every term once more.
    """
    one = case.recording.run
    other = case.record(sample_interval=case.period / SAMPLES).run
    places = np.round(other.time / case.period * 400).astype(int)
    meeting = np.abs(places / 400 * case.period - other.time) < 1e-12
    products = case.longest_piece / case.period * (400 + SAMPLES)
    rounded = 2.0 + products * HALF_A_DIGIT / ROUNDED  # each of the two is rounded on its way
    for name, values in one.signals.items():
        size = float(np.abs(values).max()) + 1e-12
        apart = np.abs(values[places[meeting]] - other.signals[name][meeting]).max()
        if apart > RESAMPLED * size + rounded * case.rounding(name) + 0.01 * BAND * case.volts():
            yield f"{name}: {apart:.3g} apart, of {size:.3g}"
    for name, (value, _) in one.table.items():
        if name.endswith(".rms"):
            continue  # of voltages that spike where two parts switch at once, in either order
        size = abs(one.table[f"{name.rpartition('.')[0]}.max"][0]) + abs(one.table[f"{name.rpartition('.')[0]}.min"][0])
        if abs(value - other.table[name][0]) > RESAMPLED * (size + 1e-12):
            yield f"{name}: {value:.12g} becomes {other.table[name][0]:.12g}"


HALF_A_DIGIT = 2.0**-53  # of a term: what rounding takes or adds at most
SAMPLES = 160  # per period; every second one meets one of the usual 400


def steps_do_not_matter(case: Case) -> Iterator[str]:
    """With another step length and another quantum of time the run ends in the same state.

    A switching is found to one quantum, 6 ps, and a supply may make much of that: a triac that is let go at amperes
    behind henries charges its dial at 1e8 V/s, ampere-turns leave a small difference on the other side.  What so comes
    of a quantum, in runs with the same switchings, shrinks with it: then much finer quanta have to hold the law.
    """
    whole, other = _ended(case.under_way(), []), _stepped(case, OTHER_STEPS)
    broken = list(_same(case, whole, other, STEPPED, "other steps"))
    if broken and _as_many_changes(whole, other) and not list(_same(case, whole, other, FINER * STEPPED, "")):
        finer = [_stepped(case, FINER * steps) for steps in (STEPS_PER_PERIOD, OTHER_STEPS)]
        broken = list(_same(case, *finer, STEPPED, f"other steps, {FINER} times finer"))
    yield from broken


FINER = 32
OTHER_STEPS = 73


def _stepped(case: Case, steps: int) -> UnderWay:
    """The same run, to its end, with so many steps a period."""
    other, going = Supply(case.scenario, steps), case.under_way()
    state, signature = other.rest()
    stepper = other.stepper(state, signature, (going.begin, going.begin), delay=None)
    return _ended(dataclasses.replace(going, supply=other, stepper=stepper), [])


def _as_many_changes(one: UnderWay, other: UnderWay) -> bool:
    return bool(one.stepper.control[12] == other.stepper.control[12])


def half_waves_are_alike(case: Case) -> Iterator[str]:
    """Begun half a period later with the iron magnetised the other way, a symmetrical supply does the same mirrored."""
    scenario = case.scenario
    control, mains, rectifier = scenario.phase_control, scenario.mains, scenario.rectifier
    if mains.dc_offset or not _odd(mains.background) or (rectifier is not None and rectifier.fault != "none"):
        return
    if control is not None and (control.asymmetry or control.diac_asymmetry):
        return
    if rectifier is not None and rectifier.kind == "centre-tap" and scenario.second_transformer is not None:
        return  # two unlike transformers are its halves
    if (
        rectifier is not None
        and rectifier.kind == "centre-tap"
        and scenario.start.flux_linkage
        and _needs_current(scenario)
    ):
        return  # of the current that holds its flux the file does not say in which half winding it flows
    if rectifier is None and scenario.load is not None and scenario.load.kind not in ("resistor", "short"):
        return
    start = dict(case.drawn.tables.get("start", {}))
    start["mains_phase"] = start.get("mains_phase", 0.0) + (180.0 if start.get("mains_phase", 0.0) < 180.0 else -180.0)
    start |= {name: -start[name] for name in ("flux_linkage", "second_flux_linkage") if name in start}
    mirrored = Case(dataclasses.replace(case.drawn, tables=case.drawn.tables | {"start": start}))
    factors = {"primary.current": -1.0, "output.voltage": 1.0, "output.current": 1.0}
    yield from _alike(case, mirrored, factors, "mirrored")


def _needs_current(scenario: Scenario) -> bool:
    """Whether the core holds its flux by a current: iron without remanence, or a flux beyond its remanence."""
    if scenario.core is None:
        return False
    kept = remanent_flux_linkage(scenario.core, primary_turns(scenario))
    return abs(scenario.start.flux_linkage) > kept


def _odd(background: Any) -> bool:
    return isinstance(background, str) or all(row.order % 2 for row in background)


def _alike(case: Case, other: Case, factors: dict[str, float], what: str, room: float = LIKE) -> Iterator[str]:
    """Signals of two runs, sample by sample, up to a factor.

    Switchings are found to one quantum of time, and some where a current has died away to the dead band of its guard,
    which does not scale: what a signal changes by while they are apart, up to ``MOVED``, is no difference.  Nor is
    what a quantum more before a switching leaves in a signal.
    """
    apart = min(_switchings_apart(case, other), MOVED)
    if case.scenario.rectifier is None:
        factors = {name: -abs(factor) if what == "mirrored" else factor for name, factor in factors.items()}
    for name, factor in factors.items():
        one, two = case.recording.run.signals[name], other.recording.run.signals[name] / factor
        count = min(len(one), len(two))
        size = float(np.abs(one).max()) + (1e-6 * case.volts() if name.endswith("voltage") else 1e-3)
        wrong = np.abs(one[:count] - two[:count])
        # a sample on a switching belongs to either side of it
        close = np.minimum.reduce([wrong[1:-1], np.abs(one[:count][1:-1] - two[:count][2:]), wrong[2:]])
        close -= np.abs(_changes(case, name, apart + 1.0)[: count - 2])
        late = case.unresolved(name) + other.unresolved(name) / abs(factor)
        rounded = case.rounding(name) + other.rounding(name) / abs(factor)
        allowed = (room + case.drift) * size + rounded + late
        if close.max(initial=0.0) > allowed:
            beside = (np.abs(near.recording.run.signals[name] - one).max() for near in case.beside)
            allowed += min(3.0 * max(beside), STEPPED * size)  # what a hair of the mains' voltage makes of it
        if close.max(initial=0.0) > allowed:
            at = int(close.argmax()) + 1
            yield f"{what}: {name} {wrong[at]:.3g} apart, of {size:.3g}, at {case.recording.run.time[at]:.6g} s"
            return


def _switchings_apart(case: Case, other: Case) -> float:
    """Quanta that switchings of two runs lie apart, as shares of their periods; none where their numbers differ."""
    one, two = case.trace, other.trace
    if len(one.time) != len(two.time):
        return 0.0
    apart = (one.time - one.time[0]) - (two.time - two.time[0]) * (one.period / two.period)
    return float(np.abs(apart).max(initial=0.0))


def _changes(case: Case, name: str, quanta: float) -> np.ndarray:
    """What a signal changes by within so many quanta of every inner sample."""
    trace, times = case.trace, case.recording.run.time
    found = []
    for shift in (-SHORT_SPAN, SHORT_SPAN):
        ahead = trace.sample([name], trace.span[0] + times[1] + shift, spacing=times[1], count=len(times) - 2)[0]
        found.append(np.abs(ahead - case.recording.run.signals[name][1:-1]))
    return np.minimum(*found) * (quanta * trace.quantum / SHORT_SPAN)


# What doubling does: exponents of voltage and of frequency, by kind of quantity.
POWERS = {
    "voltage": (1, 0),
    "current": (1, 0),
    "resistance": (0, 0),
    "inductance": (0, -1),
    "capacitance": (0, -1),
    "time": (0, -1),
    "frequency": (0, 1),
    "flux_linkage": (1, -1),
    "voltage_rate": (1, 1),
}


def voltage_scales(case: Case) -> Iterator[str]:
    """All voltages and currents of the file doubled, resistances and inductances left: everything doubles."""
    yield from _scaled(case, (2.0, 1.0))


def frequency_scales(case: Case) -> Iterator[str]:
    """Frequency doubled, inductances, capacitances and times halved: the same waveforms twice as fast."""
    yield from _scaled(case, (1.0, 2.0))


def _scaled(case: Case, by: tuple[float, float]) -> Iterator[str]:
    if not _scalable(case.scenario):
        return
    tables = {
        name: _scaled_table(getattr(case.scenario, name), by)
        for name in TABLES
        if getattr(case.scenario, name) is not None and name != "breaker"
    }
    if any(table is None for table in tables.values()):
        return
    other = Case(dataclasses.replace(case.drawn, tables=tables))
    factors = {"primary.current": by[0], "output.voltage": by[0], "output.current": by[0]}
    yield from _alike(case, other, factors, f"voltage x {by[0]:g}, frequency x {by[1]:g}")


def _scalable(scenario: Scenario) -> bool:
    """Whether every figure behind the waveforms stands in the file: no steel, no metal of cables, no fixed line."""
    load, core = scenario.load, scenario.core
    if load is not None and (load.kind == "load line" or load.falling_voltage is not None):
        return False
    if core is not None and core.steel is not None:
        return False
    return all(cable is None or cable.length is None for cable in (scenario.supply_lead, scenario.weld_leads))


def _scaled_table(part: Any, by: tuple[float, float]) -> dict[str, Any] | None:
    """A table with every quantity scaled, defaults too; None where a value would leave its range."""
    found: dict[str, Any] = {}
    for field in dataclasses.fields(part):
        value, rule = getattr(part, field.name), rule_of(field)
        if value is None or value == "" or (isinstance(value, tuple) and not value):
            continue
        if isinstance(rule, Quantity) and rule.kind in POWERS:
            volts, hertz = POWERS[rule.kind]
            value = value * by[0] ** volts * by[1] ** hertz
            if (rule.low is not None and value < rule.low) or (rule.high is not None and value > rule.high):
                return None
        elif isinstance(value, tuple):
            value = [dataclasses.asdict(row) for row in value]
        found[field.name] = value
    if isinstance(part, TABLES["load"]) and part.voltage is None and part.kind in ("arc line", "shorted arc"):
        found["voltage"] = 14.0 * by[0]
    return found


def turns_scale(case: Case) -> Iterator[str]:
    """All turns doubled, with inductances and resistances as they are: nothing changes, for only ratios count."""
    tables = {name: dict(table) for name, table in case.drawn.tables.items()}
    transformer, core = tables.get("transformer", {}), tables.get("core", {})
    if "secondary_turns" not in transformer or "steel" in core:
        return
    wound = ("primary_turns", "secondary_turns")
    for table, names in (("transformer", wound), ("second_transformer", wound), ("boost", ("turns",))):
        for name in names:
            if name in tables.get(table, {}):
                tables[table][name] *= 2
    other = Case(dataclasses.replace(case.drawn, tables=tables))
    yield from _alike(case, other, {"primary.current": 1.0, "output.voltage": 1.0, "output.current": 1.0}, "turns x 2")


REPETITIONS: dict[str, Callable[[Case], Iterator[str]]] = {
    "cuts": cuts_do_not_matter,
    "known modes": known_modes_do_not_matter,
    "samples": samples_do_not_matter,
    "steps": steps_do_not_matter,
    "half waves": half_waves_are_alike,
    "voltage": voltage_scales,
    "frequency": frequency_scales,
    "turns": turns_scale,
}
