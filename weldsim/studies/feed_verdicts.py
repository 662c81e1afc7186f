"""What is said of a wire feeder: what holds its feed, its stage's volts and heat, its start and stop."""

from collections.abc import Mapping

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.feed_load import push_force, reel_force
from weldsim.parts.feed_motor import FeedMotor
from weldsim.parts.feed_supply import SINK_AIR, FeedSupply
from weldsim.runs.feed_source import Terminals
from weldsim.runs.feeder import COLUMNS, Start
from weldsim.studies.answer import MAINS_STEPS, Verdict, amount, spread

CONTROLS = ("open loop", "stabilised voltage", "speed")
CURVED = 360.0  # [deg] more bend of the curved liner
HELD = 0.03  # share of the wanted feed by which a feed may be off and still count as held (common practice)
OVERSHOOT, FAR_OVER = 1.2, 1.5  # of the feed it settles at: told, and a fault (common practice, no published source)
JUNCTION = 125.0  # [degC] where a stage's heat becomes a fault (common practice for silicon)


@dataclass(frozen=True)
class Case:
    """One start: which control, at which mains, pulling what."""

    control: str
    stage: str
    mains: int  # [%] off the rated voltage
    load: str
    motor: FeedMotor
    start: Start


def late(start: Start, column: int) -> float:
    """Mean over the last 0.1 s of a start."""
    table = start.table
    return float(table[table[:, 0] > table[-1, 0] - 0.1, column].mean())


def verdicts_of(
    own: dict[tuple[int, str], Case],
    cases: list[Case],
    stages: dict[str, Start],
    *,
    wanted: float,
    supply: FeedSupply,
) -> list[Verdict]:
    """All verdicts on the cases; ``own`` are those of the scenario's own control, by mains and load."""
    found = [_holding(own, wanted, supply), _side_by_side(cases, wanted)]
    found += [
        *_headroom(own, supply),
        *_slipping(own),
        _running(own[0, "as written"].start, supply),
        _heat(stages, supply),
    ]
    return found


def _per_minute(case: Case) -> float:
    return 60.0 * case.start.settled


def _holding(own: dict[tuple[int, str], Case], wanted: float, supply: FeedSupply) -> Verdict:
    """How far mains and load move the feed under the scenario's own control."""
    mains = [_per_minute(own[step, "as written"]) for step in MAINS_STEPS]
    loads = [_per_minute(own[0, load]) for load in ("full reel", "empty reel", "curved liner")]
    worst = max(abs(value / (60.0 * wanted) - 1.0) for value in [*mains, *loads])
    follows = "the mains" if supply.kind == "own transformer" else "the highs of the weld output"
    cause = {
        "open loop": f"its volts follow {follows}, and friction takes its share of them first",
        "stabilised voltage": "the volts are held, what the armature's resistance takes of them is not",
        "speed": "what the armature's resistance takes is made good, so that the back-EMF stays",
    }[supply.control]
    if mains[1] < 60.0 * wanted * (1.0 - HELD):
        cause = "the feeder has not the volts for this feed and load"
    level = "good" if worst <= HELD else "note" if worst <= 0.10 else "fault"
    return Verdict(
        "feed_held",
        level,
        f"Asked for {60 * wanted:.3g} m/min, {supply.control} feeds {spread(mains, 'm/min')}; with a full reel "
        f"{loads[0]:.3g}, an empty one {loads[1]:.3g}, a liner curved by {CURVED:.0f} deg more {loads[2]:.3g} m/min: "
        f"{amount(100 * worst, '%', digits=2)} off at most: {cause}. Assumed: knob set at rated mains, load as is.",
    )


def from_the_weld(sources: Mapping[int, Terminals]) -> list[Verdict]:
    """The weld output as what charges the capacitor: its mean, and the highs that the capacitor holds."""
    if not sources:
        return []
    means, highs = ([getattr(sources[step], name) for step in MAINS_STEPS] for name in ("mean", "high"))
    text = (
        f"While it welds the terminals have {spread(means, 'V')} on average, and for a twentieth of the time more than "
        f"{spread(highs, 'V')}. Cause: between shorts and lost arcs they jump towards open circuit, and a capacitor "
        "behind a diode holds the highs."
    )
    if highs[0] > highs[1]:
        text += (
            " At low mains this weld loses its arc more often: the highs rise, open loop need not feed slower there."
        )
    return [Verdict("feed_source", "note", f"{text} Assumed: one weld with the wire as written.")]


def _side_by_side(cases: list[Case], wanted: float) -> Verdict:
    """The three controls beside each other."""
    told = []
    for control in CONTROLS:
        off = [float(f"{100 * (case.start.settled / wanted - 1):.2g}") for case in cases if case.control == control]
        told.append(f"{control} {min(off):+g} to {max(off):+g} %")
    return Verdict(
        "feed_controls",
        "note",
        "Off the wanted feed over mains -10 to +10 % and all four loads: " + "; ".join(told) + ". Same motor, same "
        "capacitor, knob set once.",
    )


def _headroom(own: dict[tuple[int, str], Case], supply: FeedSupply) -> list[Verdict]:
    """Whether the stage keeps its volts at low mains."""
    if supply.control == "open loop":
        return []
    values = [own[step, "as written"].start.headroom for step in MAINS_STEPS]
    lost = min(values) <= 1e-6
    feeds = [_per_minute(own[step, "as written"]) for step in MAINS_STEPS]
    off = 1.0 - min(feeds) / max(feeds) if max(feeds) > 0.0 else 1.0
    fact = "holds in the valleys of the capacitor"
    if lost:
        fact = "drops out in the valleys: feed falls with the mains there"
        if off <= HELD:
            fact = f"drops out for moments, which the motor's inertia bridges: the feed keeps within {100 * off:.2g} %"
    return [
        Verdict(
            "stage_headroom",
            ("note" if off <= HELD else "fault") if lost else "good",
            f"The {supply.stage} stage has {spread(values, 'V')} between capacitor and motor beyond its dropout of "
            f"{supply.dropout:g} V and {fact}. Assumed: load as written, motor run up.",
        )
    ]


def _slipping(own: dict[tuple[int, str], Case]) -> list[Verdict]:
    """Loads beyond what the rolls grip, or that stop the motor."""
    still = [load for (mains, load), case in own.items() if case.start.settled <= 0.0 and mains == 0]
    if not still:
        return []
    force = max(reel_force(own[0, load].motor) + push_force(own[0, load].motor) for load in still)
    grip = own[0, "as written"].motor.roll_grip
    what = "slips in the rolls" if force > grip else "stands still: the motor has not the torque"
    return [
        Verdict(
            "feed_slip",
            "fault",
            f"With {', '.join(still)} the wire {what}: up to {force:.0f} N are needed, the rolls grip {grip:.0f} N. "
            "Assumed: friction in the liner as written; it doubles easily with dirt.",
        )
    ]


def fastest(start: Start) -> tuple[float, float]:
    """Largest feed of a start [m/s], and when it is reached [s]."""
    row = int(np.argmax(start.table[:, COLUMNS.index("feed")]))
    return float(start.table[row, COLUMNS.index("feed")]), float(start.table[row, 0])


def _running(start: Start, supply: FeedSupply) -> Verdict:
    """Run-up, what it shoots over, and run-down."""
    slow = not start.run_up <= 0.1
    most, when = fastest(start)
    over = start.settled > 0.0 and most > OVERSHOOT * start.settled
    text = f"The motor has 63 % of its feed after {amount(1e3 * start.run_up, 'ms')}"
    if over:
        text += (
            f" and overshoots to {60.0 * most:.3g} m/min, {most / start.settled:.2g} times what it settles at, "
            f"{amount(1e3 * when, 'ms')} after it began: the wire runs into its own start, stubs and parts far back"
        )
        if supply.kind == "weld output":
            text += " (before the arc the terminals stand at open circuit, and the capacitor keeps that)"
    return Verdict(
        "feed_start",
        "fault" if over and most > FAR_OVER * start.settled else "note" if slow or over else "good",
        f"{text}; after the stop "
        f"{amount(1e3 * start.overrun, 'mm')} of wire still come, as with a time constant of "
        f"{amount(1e3 * start.run_down, 'ms')}: the burn-back has to outlast them. 30 to 100 ms are common practice.",
    )


def _heat(stages: dict[str, Start], supply: FeedSupply) -> Verdict:
    """Linear against chopped, at the highest mains."""
    linear, chopper = (late(stages[name], 5) for name in ("linear", "chopper"))
    own = chopper if supply.stage == "chopper" else linear
    text = (
        f"At mains +{MAINS_STEPS[-1]} % a linear stage turns {linear:.3g} W into heat, a chopper {chopper:.3g} W with "
        "the same dropout (its switching losses left out)."
    )
    level = "note"
    if supply.heat_sink is not None:
        warm = SINK_AIR + supply.heat_sink * own
        level = "fault" if warm > JUNCTION else "good"
        text += f" On its sink of {supply.heat_sink:g} K/W the {supply.stage} one reaches {warm:.0f} degC in steady use"
        text += f" (air {SINK_AIR:.0f} degC, limit {JUNCTION:.0f} degC: common practice)."
    return Verdict("stage_heat", level, text)
