"""Sequence: what a press of the trigger switches when, and what the wire makes of it, from first touch to wire end."""

import math
from concurrent.futures import Executor
from operator import itemgetter

import numpy as np

from weldsim import __version__
from weldsim.errors import QuestionError
from weldsim.parts.trigger import Timeline, Trigger
from weldsim.runs.crew import Crew
from weldsim.runs.run import Run, stamp
from weldsim.runs.sequence_runs import IN_THE_TUBE, STUCK, Pulse, Sequence, Sequencer
from weldsim.runs.weld_saving import changes
from weldsim.runs.wire_runs import CONDITIONS
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict, counted
from weldsim.studies.burn_back import ASSUMED, NEAR, Asked, Ends, maker_of, sweep
from weldsim.studies.choke_words import for_a_wire
from weldsim.studies.progress import Progress, silent

TRIALS = 20
LONG_WAIT = 0.25  # [s] from power to the first arc beyond which a start counts as slow (common practice)
WHILE_WELDING = (
    " (starts and weld together: `weld` tells whether it dips regularly, `feed` whether the motor overshoots)"
)
EMPTY_GAP = 1e-3  # [s] feed that long before the power pushes a dead wire
UNITS = {"output.current": "A", "output.voltage": "V", "terminal.voltage": "V", "bank.voltage": "V"}
LABELS = {
    "output.current": "output current",
    "output.voltage": "output voltage",
    "terminal.voltage": "voltage at the terminals",
    "bank.voltage": "bank voltage at its terminals",
    "feed": "wire feed",
    "wire_end": "wire out of the contact tube",
}
SWITCHED = ("trigger", "gas", "power", "feed")


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    trials: int = TRIALS,
    seed: int = 1,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
) -> Answer:
    """The timeline of the scenario's trigger, trials of it, and wire ends over the burn-back time.

    Parameters
    ----------
    scenario : Scenario
        Its [trigger], [wire] and, where it has one, [feed_motor]; default ones of the first two where they are absent.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg].
    feed : float or None
        Wire feed [m/s]; the scenario's own if None.
    trials, seed : int
        Number of trials; start of the draws, which are keyed by seed and trial.
    workers, executor
        Who tries the burn-back times: so many threads (None: as many as cores), or any concurrent.futures Executor.

    Returns
    -------
    Answer : rows "span", "trial" and "burn_back"; run "typical", the trial whose wire end is the median.

    Raises
    ------
    QuestionError : no trials, or a trigger that starts nothing; WiringError, SimulationError.
    """
    if trials < 1:
        raise QuestionError(f"{trials} trials say nothing", place="trials", advice="ask for 1 or more")
    asked = Asked(scenario, dial, delay, feed)
    maker = maker_of(asked)
    done: list[Sequence] = []
    for trial in range(trials):
        done.append(maker.run(seed=seed, trial=trial))
        progress(trial + 1, trials, "sequences")
        if not done[0].pulses:
            raise QuestionError(
                "the trigger is let go before power comes", place="trigger.held", advice="hold it longer"
            )
    with Crew(workers, executor) as crew:
        swept = sweep(asked, maker.trigger, seed=seed, crew=crew, progress=progress)
    last = [sequence.pulses[-1] for sequence in done]
    median = int(np.argsort([pulse.wire_end for pulse in last], kind="stable")[len(last) // 2])
    typical = maker.run(seed=seed, trial=median, recorded=True)
    rows = _spans(typical.plan) + [_pulse_row(pulse) for sequence in done for pulse in sequence.pulses]
    return Answer(
        "sequence",
        scenario,
        _numbers(done, typical.plan),
        for_a_wire(scenario, _verdicts(done, maker.trigger, swept, height=maker.supply.constants.height)),
        _assumptions(scenario, maker, trials=trials, seed=seed),
        rows=rows + [ends.row() for ends in swept],
        runs={"typical": _recorded(scenario, typical, height=maker.supply.constants.height)},
    )


def _spans(plan: Timeline) -> list[dict]:
    return [
        {"kind": "span", "switched": name, "begin": begin, "end": end}
        for name in SWITCHED
        for begin, end in getattr(plan, name)
    ]


def _pulse_row(pulse: Pulse) -> dict:
    return {
        "kind": "trial",
        "trial": pulse.trial,
        "begin": pulse.power[0],
        "end": pulse.power[1],
        "half_cycles": pulse.half_cycles,
        "first_arc": pulse.first_arc,
        "cold_touches": pulse.cold_touches,
        "stubs": pulse.stubs,
        "losses": pulse.losses,
        "arc_time": pulse.arc_time,
        "charge": pulse.charge,
        "energy": pulse.energy,
        "wire_end": pulse.wire_end,
        "ending": pulse.ending,
    }


def _numbers(done: list[Sequence], plan: Timeline) -> dict[str, Number]:
    """Times of the plan and figures of the trials."""
    pulses = [pulse for sequence in done for pulse in sequence.pulses]
    arcs = np.array([pulse.first_arc for pulse in pulses if math.isfinite(pulse.first_arc)])
    ends = np.array([pulse.wire_end for pulse in pulses])
    numbers: dict[str, Number] = {}
    for name in ("gas", "power", "feed"):
        spans = getattr(plan, name)
        if spans:
            numbers |= {f"{name}.begin": Number(spans[0][0], "s"), f"{name}.end": Number(spans[-1][1], "s")}
    return numbers | {
        "pulses.count": Number(len(plan.power), "1"),
        "trials.count": Number(len(done), "1"),
        "first_arc.median": Number(float(np.median(arcs)) if len(arcs) else math.nan, "s"),
        "first_arc.latest": Number(float(arcs.max()) if len(arcs) else math.nan, "s"),
        "without_arc.count": Number(len(pulses) - len(arcs), "1"),
        "cold_touches.mean": Number(float(np.mean([pulse.cold_touches for pulse in pulses])), "1"),
        "stubs.count": Number(sum(pulse.stubs for pulse in pulses), "1"),
        "energy.mean": Number(float(np.mean([pulse.energy for pulse in pulses])), "J"),
        "charge.mean": Number(float(np.mean([pulse.charge for pulse in pulses])), "C"),
        "wire_end.median": Number(float(np.median(ends)), "m"),
        "wire_end.min": Number(float(ends.min()), "m"),
        "wire_end.max": Number(float(ends.max()), "m"),
        "stuck.count": Number(sum(pulse.ending == STUCK for pulse in pulses), "1"),
        "in_the_tube.count": Number(sum(pulse.ending == IN_THE_TUBE for pulse in pulses), "1"),
        "rest.time": Number(float(np.median([sequence.length for sequence in done])), "s"),
    }


def _verdicts(done: list[Sequence], trigger: Trigger, swept: list[Ends], *, height: float) -> list[Verdict]:
    pulses = [pulse for sequence in done for pulse in sequence.pulses]
    return [_start(pulses), _end(pulses, trigger, swept, height), *_order(done[0].plan)]


def _start(pulses: list[Pulse]) -> Verdict:
    """First touches of the cold wire."""
    arcs = [pulse.first_arc for pulse in pulses if math.isfinite(pulse.first_arc)]
    slow, without = sum(arc > LONG_WAIT for arc in arcs), len(pulses) - len(arcs)
    late = slow + without
    stubs = sum(pulse.stubs for pulse in pulses)
    when = (
        f", half of them after {1e3 * np.median(arcs):.3g} ms (latest {1e3 * max(arcs):.3g} ms) of power"
        if arcs
        else ""
    )
    return Verdict(
        "sequence_start",
        "good" if not late + stubs else "fault" if late > 0.1 * len(pulses) or stubs > len(pulses) else "note",
        f"{len(arcs)} of {len(pulses)} starts have an arc{when}, with "
        f"{_touches(pulses)} of the cold wire; {_how_often(stubs)}{WHILE_WELDING if stubs else ''}."
        f"{_why_slow(slow)}{_why_stubbing(pulses) if stubs or without else ''} "
        "Assumed: 1 to 5 mm from wire to work at the press, unless written.",
    )


def _why_slow(slow: int) -> str:
    """That starts are slow, and what makes them so."""
    if not slow:
        return ""
    return (
        f" {counted(slow, 'arc comes', 'arcs come')} later than {1e3 * LONG_WAIT:.0f} ms: what the wire takes to the "
        "work at its run-in feed (wire.run_in_feed, wire.first_gap_high), and its first touch to part."
    )


def _why_stubbing(pulses: list[Pulse]) -> str:
    """What stubs, the start or the weld behind it, and what helps there."""
    took = all(math.isfinite(pulse.first_arc) and pulse.cold_touches <= 1 for pulse in pulses if pulse.stubs)
    if took and all(math.isfinite(pulse.first_arc) for pulse in pulses):
        return (
            " Where it stubs the first touch had made an arc: it is the weld behind it that stubs, for want of volts "
            "or for too much feed."
        )
    return (
        " A wire that starts against an empty bank or too fast stubs and explodes: delay the feed or slow its run-in."
    )


def _how_often(stubs: int) -> str:
    """Stubs in words.

    >>> _how_often(0), _how_often(1), _how_often(3)
    ('it never stubs', 'it stubs once', 'it stubs 3 times')
    """
    return f"it stubs {stubs} times" if stubs > 1 else "it stubs once" if stubs else "it never stubs"


def _touches(pulses: list[Pulse]) -> str:
    """How often the cold wire touches, as a mean."""
    mean = f"{np.mean([pulse.cold_touches for pulse in pulses]):.3g}"
    return "1 touch" if mean == "1" else f"{mean} touches"


def _end(pulses: list[Pulse], trigger: Trigger, swept: list[Ends], height: float) -> Verdict:
    """Wire ends, and in which direction burn-back would have to go."""
    ends = 1e3 * np.array([pulse.wire_end for pulse in pulses])
    stuck, burnt = (sum(pulse.ending == what for pulse in pulses) for what in (STUCK, IN_THE_TUBE))
    clean = [one.burn_back for one in swept if not one.stuck and not one.in_the_tube]
    told = "No burn-back of those tried is free of both"
    if clean:
        ends_of = [f"{1e3 * one:.0f}" for one in (min(clean), max(clean))]
        told = "None stick or burn in " + (
            f"at {ends_of[0]} ms" if ends_of[0] == ends_of[1] else f"from {' to '.join(ends_of)} ms"
        )
    bad = stuck + burnt
    blunt = 1e3 * height - np.median(ends) < 1e3 * NEAR
    level = "fault" if bad > 0.2 * len(pulses) else "note" if bad or blunt else "good"
    return Verdict(
        "sequence_end",
        level,
        f"A burn-back of {1e3 * trigger.burn_back:.3g} ms leaves {np.median(ends):.3g} mm of wire out of the tube "
        f"({ends.min():.3g} to {ends.max():.3g} mm, of {1e3 * height:.3g} mm to the work); {stuck} of {len(pulses)} "
        f"stick in the work, {burnt} burn into the tube. {told}. Assumed: the torch stays where it is until all rests.",
    )


def _order(plan: Timeline) -> list[Verdict]:
    """Feed before power, and gas that comes too late or goes too soon."""
    found = []
    if plan.feed and plan.power and plan.feed[0][0] < plan.power[0][0] - EMPTY_GAP:
        before = 1e3 * (plan.power[0][0] - plan.feed[0][0])
        text = (
            f"The feed starts {before:.3g} ms before the power: a dead wire may already stand on the work when the "
            "volts come, and its first touch is then a long one. Let the power lead (common practice)."
        )
        found.append(Verdict("sequence_order", "note", text))
    return found


def _recorded(scenario: Scenario, sequence: Sequence, *, height: float) -> Run:
    """The typical trial as a recording: what was read at each tick, feed, wire's end, and what switched when."""
    wave = sequence.wave
    time = np.ascontiguousarray(wave[:, 0])
    signals = {name: np.ascontiguousarray(wave[:, 3 + k]) for k, name in enumerate(sequence.signals)}
    feed = np.interp(time, sequence.feed[:, 0], sequence.feed[:, 1])
    signals |= {"feed": feed, "wire_end": height - np.clip(wave[:, 2], 0.0, height)}
    units = {name: UNITS[name] for name in sequence.signals} | {"feed": "m/s", "wire_end": "m"}
    labels = {name: LABELS[name] for name in units}
    stamped = stamp("sequence", weldsim_version=__version__)
    switched = [
        (at, name, *ways)
        for name in SWITCHED
        for span in getattr(sequence.plan, name)
        for at, ways in zip(span, (("off", "on"), ("on", "off")), strict=True)
    ]
    events = sorted([*switched, *changes(time, wave[:, 1], before=CONDITIONS.index("clear"))], key=itemgetter(0))
    return Run(scenario, time, signals, units, labels, events, provenance=stamped, window=(0.0, float(time[-1])))


def _assumptions(scenario: Scenario, maker: Sequencer, *, trials: int, seed: int) -> list[str]:
    """What was taken for granted."""
    told = [
        f"{counted(trials, 'trial')}, seed {seed}; draws are keyed by seed and trial. Times count from the first "
        "press.",
        "A device once fired conducts to its current's zero, and bank and choke burn on after that: power ends "
        "softer than its switch.",
        "Bank empty and core demagnetised at the first press; the torch is held still.",
        "Gas has no effect here beyond its constants: pre-flow and post-flow are times only.",
        ASSUMED,
        "A supply model cannot tell bead, penetration, porosity or spatter as mass.",
    ]
    if scenario.trigger is None:
        told.append("The scenario has no [trigger]: 2 s of a 2-step trigger with 50 ms of burn-back are taken.")
    if scenario.wire is None:
        told.append("The scenario has no [wire]: 0.8 mm solid steel in CO2 is taken.")
    if scenario.feed_motor is None:
        told.append("The scenario has no [feed_motor]: feed rises and falls with the time constant of [wire].")
    return [*told, *([maker.remark] if maker.remark else [])]
