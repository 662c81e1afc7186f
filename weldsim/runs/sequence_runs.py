"""A trigger sequence on a supply: power and feed switched in time, the wire's end followed until it rests.

The wire comes as the feed motor brings it: its own model where the scenario has a [feed_motor], a lag otherwise; both
are looked at once a millisecond.  Gates are given as the timer asks; what conducts then ends by itself.
"""

import dataclasses
import math
from typing import Protocol

import numpy as np

from weldsim.engine import wire_layout
from weldsim.engine.doors import door
from weldsim.engine.simulate import Stepper
from weldsim.frozen import dataclass
from weldsim.parts.feed_supply import FeedSupply
from weldsim.parts.trigger import Timeline, Trigger, synchronised, timeline
from weldsim.parts.wire_rules import feed_speed
from weldsim.runs.feed_source import capacitor_on, terminals_of
from weldsim.runs.feeder import Feeder, feeder_of, knob_for
from weldsim.runs.first_fire import FirstFire, rule_of
from weldsim.runs.left_over import Left, left_by
from weldsim.runs.power import power_commands, switched
from weldsim.runs.soft_start import SoftStarter
from weldsim.runs.wire_runs import WireRun, WireSupply, delay_of, phase_of
from weldsim.scenario.document import Scenario

_uniform = door("wire_kernel", "uniform")

CHUNK = 10  # ticks of the wire between two looks at the motor: a millisecond at 50 Hz
TAIL = 0.6  # [s] after power and feed in which the wire comes to rest at the latest
SLOW = 5  # times as long after that
QUIET, NO_CURRENT, STANDING = 0.05, 0.5, 1e-4  # [s], [A], [m/s]: so long so little current and feed is rest
TIMERS = 1_000_000_000  # number of an event that no wire reaches: key of the timers' random numbers
SIGNALS = ("output.current", "output.voltage", "terminal.voltage", "bank.voltage")
FREE, STUCK, IN_THE_TUBE = "free", "stuck", "in the tube"


@dataclass(frozen=True)
class Pulse:
    """One span of power: a weld, a spot or a stitch, and the wire's end after it.  Times [s] from the first press."""

    trial: int
    power: tuple[float, float]
    half_cycles: int  # fired
    first_arc: float  # [s] from the start of power; not a number where none burnt
    arc_time: float  # [s] burning and bridged
    charge: float  # [A s]
    energy: float  # [J] at the arc circuit, wire included
    cold_touches: int  # up to the first arc
    stubs: int
    losses: int
    wire_end: float  # [m] out of the contact tube, at rest or when the next one begins
    ending: str  # "free", "stuck" in the work, or "in the tube"
    bank_voltage: float = math.nan  # [V] at the trigger, where a spot follows another
    flux_linkage: float = math.nan  # [V s] likewise
    second_flux_linkage: float = math.nan  # [V s] of the second of two cores
    thermistor: float = math.nan  # [degC] of a soft start's


@dataclass(frozen=True, eq=False)
class Sequence:
    """A whole sequence; ``wave`` holds a row for every tick where it was recorded."""

    plan: Timeline
    pulses: tuple[Pulse, ...]
    phase: float  # of the mains at the trigger, of a period
    feed: np.ndarray  # rows: time [s], feed [m/s]
    wave: np.ndarray  # rows: time, condition, gap, then ``signals``
    signals: tuple[str, ...]
    length: float  # [s] until the wire rests
    stepper: Stepper  # where it stands then
    soft_start: SoftStarter | None
    polarity: int  # of the last half cycle fired; 0: not known

    def left(self, pause: float) -> Left:
        """What the sequence leaves to another whose trigger closes a pause [s] after the wire has come to rest."""
        ended = self.stepper.now - self.length + self.plan.power[-1][1]
        return left_by(self.stepper, self.soft_start, ended=ended, pause=pause, polarity=self.polarity)


class Drive(Protocol):
    """What brings the wire."""

    def want(self, feed: str, terminals: float) -> None:
        """Ask for "off", "run-in" or "weld"; the weld output stands at ``terminals`` [V]."""

    def advance(self, duration: float) -> float:
        """Go on [s]; wire that came [m]."""


class Lag:
    """A feed motor that is a lag of first order, as [wire] tells it."""

    def __init__(self, speeds: dict[str, float], time_constant: float) -> None:
        self.speeds, self.time_constant = speeds, time_constant
        self.speed = self.wanted = 0.0

    def want(self, feed: str, terminals: float) -> None:
        """Ask for a speed; the terminals do not matter."""
        self.wanted = self.speeds[feed]

    def advance(self, duration: float) -> float:
        """Exact travel of a lag."""
        before = self.speed
        self.speed = feed_speed(before, self.wanted, time=duration, time_constant=self.time_constant)
        return self.wanted * duration + (before - self.speed) * self.time_constant


class Motor:
    """The feed motor of the scenario with its three settings."""

    def __init__(self, feeder: Feeder, settings: dict[str, object]) -> None:
        self.feeder, self.settings = feeder, settings
        self.own = feeder.supply.kind == "own transformer"

    def want(self, feed: str, terminals: float) -> None:
        """Turn the knob; charge the capacitor from the terminals where they feed it."""
        self.feeder.setting = self.settings[feed]  # type: ignore[assignment]
        if not self.own:
            self.feeder.source = lambda _: terminals

    def advance(self, duration: float) -> float:
        """The motor's own steps."""
        return self.feeder.advance(duration)


def timers(seed: int, trial: int, trigger: Trigger) -> Trigger:
    """The trigger with the times that a free timer makes of its settings in this trial."""
    if trigger.timer != "free" or trigger.timer_spread == 0.0:
        return trigger
    keys = np.array([0, 0, TIMERS, seed, trial])
    spread = trigger.timer_spread
    first, second = (1.0 + spread * float(_uniform(keys, k, -1.0, 1.0)) for k in range(2))
    changed = {name: getattr(trigger, name) for name in ("spot_time", "stitch_on")}
    scaled = {name: value * first for name, value in changed.items() if value is not None}
    return dataclasses.replace(trigger, burn_back=trigger.burn_back * second, **scaled)


class Sequencer:
    """A supply with wire, feeder and trigger, ready for sequences that share its modes."""

    def __init__(
        self,
        scenario: Scenario,
        *,
        dial: float | None = None,
        delay: float | None = None,
        feed: float | None = None,
    ) -> None:
        self.scenario, self.remark = switched(scenario, dial=dial, delay=delay)
        self.trigger = scenario.trigger or Trigger()
        self.supply = WireSupply(self.scenario)
        self.delay = None if scenario.phase_control is None else delay_of(self.scenario, dial, delay)
        self.rule = rule_of(scenario.soft_start)
        self.supply.record(SIGNALS)
        wire = self.supply.constants
        wanted = wire.feed if feed is None else feed
        self.speeds = {"off": 0.0, "run-in": min(self.supply.fed(feed).run_in, wanted), "weld": wanted}
        self.settings = self._knobs(dial, delay) if scenario.feed_motor is not None else {}

    def _knobs(self, dial: float | None, delay: float | None) -> dict[str, object]:
        """Settings of the feed motor for its three speeds."""
        motor, supply = self.scenario.feed_motor, self.scenario.feed_supply or FeedSupply()
        assert motor is not None
        frequency, capacitor = self.scenario.mains.frequency, None
        if supply.kind == "weld output":
            terminals = terminals_of(self.scenario, dial=dial, delay=delay, mains=0, seed=1)
            capacitor = capacitor_on(terminals, motor, supply, frequency=frequency, feed=self.speeds["weld"])
        return {
            name: knob_for(motor, supply, frequency=frequency, feed=speed, capacitor=capacitor)
            for name, speed in self.speeds.items()
        }

    def drive(self, *, phase: float, mains_factor: float) -> Drive:
        """The feeder at rest."""
        if self.settings:
            return Motor(feeder_of(self.scenario, mains_factor=mains_factor, phase=phase), self.settings)
        return Lag(self.speeds, self.supply.constants.motor_tau)

    def run(  # noqa: PLR0913 (all by keyword)
        self,
        *,
        seed: int,
        trial: int,
        trigger: Trigger | None = None,
        mains_factor: float = 1.0,
        rule: FirstFire | None = None,
        recorded: bool = False,
        after: Left | None = None,
    ) -> Sequence:
        """One sequence, everything random keyed by seed and trial; ``rule`` is of the first firings.

        ``after`` is what a sequence before has left; without it the supply is at its scenario's own start.
        """
        phase = phase_of(seed, trial)
        table = timers(seed, trial, trigger or self.trigger)
        under_way = _UnderWay(self, seed, trial, phase, mains_factor, rule or self.rule, after)
        plan = timeline(table)
        if table.spot_time is not None and table.spot_from == "arc" and plan.power:
            longest = dataclasses.replace(table, spot_time=None)
            first = under_way.follow(timeline(longest), table, recorded=False, to_first_arc=True).pulses[0].first_arc
            plan = timeline(table, arc_delay=first if math.isfinite(first) else table.held)
        return under_way.follow(plan, table, recorded=recorded)


@dataclasses.dataclass
class _UnderWay:
    """What one sequence needs to be followed, once or twice."""

    maker: Sequencer
    seed: int
    trial: int
    phase: float
    mains_factor: float
    rule: FirstFire | None
    after: Left | None = None

    def follow(self, plan: Timeline, table: Trigger, *, recorded: bool, to_first_arc: bool = False) -> Sequence:
        """Follow a plan to rest, or to the first arc."""
        maker, supply = self.maker, self.maker.supply
        plan = self._on_the_mains(plan, table)
        begin = self.phase * supply.period
        spans = tuple((begin + on, begin + off) for on, off in plan.power)
        commands, fired, polarity = power_commands(
            maker.scenario,
            supply.system,
            delay=maker.delay,
            spans=spans,
            rule=self.rule,
            last_polarity=self.after.polarity if self.after is not None else 0,
        )
        last = max([end for span in (plan.power, plan.feed) for _, end in span], default=0.0)
        own = (
            isinstance(drive := maker.drive(phase=self.phase, mains_factor=self.mains_factor), Motor) and not drive.own
        )
        run = WireRun(
            supply,
            seed=self.seed,
            trial=self.trial,
            delay=maker.delay,
            length=last + TAIL + 0.01,
            phase=self.phase,
            every=1 if recorded or own else 0,
            commands=commands,
            mains_factor=self.mains_factor,
            after=self.after,
        )
        if run.soft_start is not None:
            run.soft_start.follow(spans)
        feed, marks = _step(run, drive, plan, last=last, to_first_arc=to_first_arc)
        pulses = tuple(
            _pulse(self.trial, plan.power[k], fired[k], marks[k], marks[k + 1], run) for k in range(len(marks) - 1)
        )
        wave = run.record[: int(run.count[12])].copy() if recorded else np.zeros((0, 3))
        return Sequence(
            plan,
            pulses,
            self.phase,
            np.array(feed),
            wave,
            tuple(supply.recorded),
            feed[-1][0],
            run.stepper,
            run.soft_start,
            polarity,
        )

    def _on_the_mains(self, plan: Timeline, table: Trigger) -> Timeline:
        """The plan of a synchronised timer: power from crossing to crossing, feed moved with it."""
        if table.timer == "free":
            return plan
        frequency = self.maker.scenario.mains.frequency
        power = tuple(synchronised(span, frequency=frequency, phase=self.phase) for span in plan.power)
        feed = []
        for begin, end in plan.feed:
            for old, new in zip(plan.power, power, strict=True):
                if old[0] <= end <= old[1]:
                    feed.append((begin + new[0] - old[0], end + new[1] - old[1]))
        return dataclasses.replace(plan, power=power, feed=tuple(feed))


@dataclass(frozen=True)
class _Mark:
    """Counters of the wire at one moment, and the first arc after it where there was one."""

    time: float
    count: np.ndarray
    told: np.ndarray
    gap: float
    first_arc: float = math.nan
    cold_touches: int = 0


def _step(
    run: WireRun, drive: Drive, plan: Timeline, *, last: float, to_first_arc: bool
) -> tuple[list[tuple[float, float]], list[_Mark]]:
    """Advance wire and motor together; feed against time, and marks at each start of power and at the end."""
    supply = run.supply
    short, long = CHUNK * supply.tick, SLOW * CHUNK * supply.tick
    place = supply.recorded.index("terminal.voltage") if "terminal.voltage" in supply.recorded else 1
    feed: list[tuple[float, float]] = [(0.0, 0.0)]
    marks: list[_Mark] = []
    quiet = time = 0.0
    while time < last + TAIL - long:
        dt = short if time < last + QUIET else long
        if len(marks) < len(plan.power) and time + dt > plan.power[len(marks)][0]:
            marks.append(_mark(run, time))
        fed = any(begin <= time + 0.5 * dt < end for begin, end in plan.feed)
        struck = bool(marks) and math.isfinite(marks[-1].first_arc)
        rows = int(run.count[12])
        drive.want(
            "off" if not fed else "weld" if struck else "run-in", run.record[rows - 1, 3 + place] if rows else 0.0
        )
        speed = max(0.0, drive.advance(dt) / dt)
        run.hold_feed(speed)
        run.run(stop_when_struck=False, until=time + dt)
        time += dt
        feed.append((time, speed))
        if marks and not struck and run.count[6] > marks[-1].count[6]:
            touches = int(run.count[5] - marks[-1].count[5])
            marks[-1] = dataclasses.replace(marks[-1], first_arc=time, cold_touches=touches)
            if to_first_arc:
                break
        still = speed < STANDING and abs(run.state[14]) < NO_CURRENT and time > last
        quiet = quiet + dt if still else 0.0
        if quiet >= QUIET:
            break
    return feed, [*marks, _mark(run, feed[-1][0])]


def _mark(run: WireRun, time: float) -> _Mark:
    return _Mark(time, run.count.copy(), run.told.copy(), float(run.state[0]))


def _pulse(trial: int, power: tuple[float, float], fired: int, begin: _Mark, end: _Mark, run: WireRun) -> Pulse:
    """What happened between two marks."""
    height = float(run.c[wire_layout.HEIGHT])
    condition = int(end.count[0])
    if condition in (wire_layout.TOUCHING, wire_layout.BRIDGED):
        ending = STUCK
    else:
        ending = IN_THE_TUBE if end.gap >= height else FREE
    return Pulse(
        trial=trial,
        power=power,
        half_cycles=fired,
        first_arc=begin.first_arc - power[0],
        arc_time=float(end.count[15] - begin.count[15]) * run.supply.tick,
        charge=float(end.told[2] + end.told[6] - begin.told[2] - begin.told[6]),
        energy=float(end.told[3] - begin.told[3]),
        cold_touches=begin.cold_touches if math.isfinite(begin.first_arc) else int(end.count[5] - begin.count[5]),
        stubs=int(end.count[13] - begin.count[13]),
        losses=int(end.count[7] - begin.count[7]),
        wire_end=max(0.0, height - max(end.gap, 0.0)),
        ending=ending,
    )
