"""A feed motor under way: capacitor, armature current and speed through starts, loads and stops.

Each step splits the system into parts that are solved exactly (capacitor, armature) or advanced with the mean current
(speed), in symmetric order, so that the error falls with the square of the step; no step can become unstable.
"""

import dataclasses
import math
from collections.abc import Callable

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.feed_load import feed_of, load_torque, push_force, reel_force, speed_of, total_inertia
from weldsim.parts.feed_motor import FeedMotor, back_emf_constant, current_at, friction_torque
from weldsim.parts.feed_supply import FeedSupply, Setting, setting_for, stage_heat
from weldsim.parts.wire import WireConstants, constants
from weldsim.scenario.document import Scenario

TICK = 100e-6  # [s] longest step; half of it moves the feed by less than 1e-4 (tests/runs/test_feeder.py)
SETTLING = 20  # mains periods until the capacitor's mean is taken
RUN_UP_SHARE = 1.0 - math.exp(-1.0)  # of the settled feed, reached after one time constant
START, LATE = 1.0, 0.1  # [s] in which a start is followed; at its end, over which its settled feed is a mean
KNOB_TURNS, KNOB_STEP, KNOB_NEAR = 10, 0.4, 1e-3  # of an open loop's knob, until the feed is met so nearly
KNOB_FALL = 1.5  # of the feed, over the share by which the capacitor is taken higher: where the search begins
COLUMNS = ("time", "feed", "capacitor", "voltage", "current", "heat")


@dataclass(frozen=True)
class Start:
    """A start from standstill and the stop after it."""

    table: np.ndarray  # rows at every tick, columns as in COLUMNS; the stop is not in it
    settled: float  # [m/s] mean feed over the last mains periods of the start
    run_up: float  # [s] to 63 % of it; infinite where it does not move
    overrun: float  # [m] wire that comes after the stop
    headroom: float  # [V] least of capacitor - dropout - motor, once the motor has run up

    @property
    def run_down(self) -> float:
        """Time constant of a lag that lets as much wire come after the stop [s]."""
        return self.overrun / self.settled if self.settled > 0.0 else 0.0


class Feeder:
    """A motor on its supply.  ``setting`` is where the knob stands; ``source`` is what charges the capacitor."""

    def __init__(
        self, motor: FeedMotor, supply: FeedSupply, *, frequency: float, mains_factor: float = 1.0, phase: float = 0.0
    ) -> None:
        self.motor, self.supply = motor, supply
        self.k, self.inertia = back_emf_constant(motor), total_inertia(motor)
        self.torque = load_torque(motor) + friction_torque(motor)
        self.slips = reel_force(motor) + push_force(motor) > motor.roll_grip
        self.setting = Setting()
        self.time = 0.0
        own = supply.kind == "own transformer"
        crest = math.sqrt(2.0) * supply.voltage * mains_factor if own else 0.0
        turn, begin = 2.0 * math.pi * frequency, 2.0 * math.pi * phase
        self.source: Callable[[float], float] = lambda time: crest * abs(math.sin(turn * time + begin))
        self.capacitor = max(0.0, crest - supply.diode_drop)
        self.seen = self.capacitor  # by the stage, in the middle of a step
        self.current = self.speed = self.voltage = 0.0

    @property
    def feed(self) -> float:
        """Wire feed now [m/s]; none where the wire slips in the rolls."""
        return 0.0 if self.slips else feed_of(self.motor, self.speed)

    def advance(self, duration: float, *, rows: list[tuple[float, ...]] | None = None, tick: float = TICK) -> float:
        """Go on for a time [s]; returns the wire that came in it [m]."""
        count = max(1, math.ceil(duration / tick - 1e-9))
        h, wire = duration / count, 0.0
        for _ in range(count):
            before = self.feed
            self._step(h)
            wire += 0.5 * (before + self.feed) * h
            if rows is not None:
                rows.append((self.time, self.feed, self.seen, self.voltage, self.current, self.heat))
        return wire

    @property
    def heat(self) -> float:
        """Heat in the stage now [W]."""
        current = max(0.0, self.current)
        return stage_heat(self.supply, capacitor=self.seen, voltage=self.voltage, current=current)

    def _step(self, h: float) -> None:
        self._charge(0.5 * h)
        self._turn(0.5 * h)
        self._drive(h)
        self._turn(0.5 * h)
        self.time += h
        self._charge(0.5 * h)

    def _charge(self, h: float) -> None:
        """The capacitor: a resistance to the source while that is above it, and the stage's draw."""
        supply = self.supply
        draw = max(0.0, self.current) if self.voltage > 0.0 else 0.0
        if supply.stage == "chopper" and self.capacitor > 0.0:
            draw *= min(1.0, (self.voltage + supply.dropout) / self.capacitor)
        source = self.source(self.time) - supply.diode_drop
        if source > self.capacitor:
            settled = source - draw * supply.resistance
            lag = supply.resistance * supply.smoothing_capacitance
            self.capacitor = settled + (self.capacitor - settled) * math.exp(-h / lag)
        else:
            self.capacitor -= draw * h / supply.smoothing_capacitance
        self.capacitor = max(self.capacitor, 0.0)

    def _turn(self, h: float) -> None:
        """The speed: friction and load hold, they never drive."""
        self.speed = max(0.0, self.speed + h * (self.k * self.current - self.torque) / self.inertia)

    def _drive(self, h: float) -> None:
        """The armature: the stage's voltage behind a resistance against the back-EMF."""
        motor, (given, resistance, braked) = self.motor, self._stage()
        self.seen = self.capacitor
        settled = (given - self.k * self.speed) / resistance
        self.current = settled + (self.current - settled) * math.exp(-h * resistance / motor.armature_inductance)
        if not braked:
            self.current = max(self.current, 0.0)
        if self.current > self.supply.current_limit and math.isinf(self.setting.series):
            self.current = self.supply.current_limit
            self.voltage = min(given, self.k * self.speed + motor.armature_resistance * self.current)
            return
        inner = resistance - motor.armature_resistance
        self.voltage = max(0.0, given - inner * self.current) if given > 0.0 else 0.0

    def _stage(self) -> tuple[float, float, bool]:
        """Voltage that the stage gives without current [V], resistance behind it [ohm], and whether it brakes."""
        setting, motor, supply = self.setting, self.motor, self.supply
        if math.isfinite(setting.series):
            return self.capacitor, motor.armature_resistance + setting.series, False
        limit = max(0.0, self.capacitor - supply.dropout)
        if setting.share > 0.0:
            given = max(0.0, setting.share * self.capacitor - supply.dropout)
            return min(limit, given), motor.armature_resistance, False
        if setting.voltage > 0.0:
            if setting.voltage + setting.compensated * self.current >= limit:
                return limit, motor.armature_resistance, False
            return setting.voltage, motor.armature_resistance - setting.compensated, False
        if motor.brake_resistance is not None:
            return 0.0, motor.armature_resistance + motor.brake_resistance, True
        return 0.0, motor.armature_resistance, False


def capacitor_mean(motor: FeedMotor, supply: FeedSupply, *, frequency: float, feed: float) -> float:
    """Mean capacitor voltage at the rated mains while the motor runs at a feed under the load as written [V]."""
    feeder = Feeder(motor, supply, frequency=frequency)
    feeder.current = current_at(motor, load_torque(motor))
    feeder.voltage = feeder.k * speed_of(motor, feed) + motor.armature_resistance * feeder.current
    period, values = 1.0 / frequency, []
    steps = 2 * math.ceil(0.5 * period / TICK)
    for number in range(SETTLING * steps):
        feeder._charge(period / steps)
        feeder.time += period / steps
        if number >= (SETTLING - 1) * steps:
            values.append(feeder.capacitor)
    return sum(values) / len(values)


def knob_for(
    motor: FeedMotor, supply: FeedSupply, *, frequency: float, feed: float, capacitor: float | None = None
) -> Setting:
    """Where the knob stands for a feed at the rated mains and the load as written.

    ``capacitor`` [V] is its mean voltage where it is not charged by the motor's own transformer.
    """
    if feed > 0.0 and capacitor is None:
        capacitor = capacitor_mean(motor, supply, frequency=frequency, feed=feed)
        if supply.control == "open loop":
            return _turned(motor, supply, frequency=frequency, feed=feed, capacitor=capacitor)
    return setting_for(motor, supply, feed=feed, capacitor=capacitor or math.inf)


def _turned(motor: FeedMotor, supply: FeedSupply, *, frequency: float, feed: float, capacitor: float) -> Setting:
    """An open loop's knob turned until the motor runs at the feed, as one does by ear: current that swings with the
    capacitor's voltage draws most while it is charged, so its mean alone puts the knob some per cent too low.
    """
    knob, fall, before = setting_for(motor, supply, feed=feed, capacitor=capacitor), KNOB_FALL, math.nan
    turn = 0.0
    for _ in range(KNOB_TURNS):
        off = settled_feed(Feeder(motor, supply, frequency=frequency), knob) / feed - 1.0
        if abs(off) < KNOB_NEAR:
            break
        if turn and (before - off) / turn > 0.0:
            fall = min(max((before - off) / turn, 0.3 * KNOB_FALL), 30.0 * KNOB_FALL)
        turn, before = max(min(off / fall, KNOB_STEP), -KNOB_STEP), off
        capacitor *= math.exp(turn)
        knob = setting_for(motor, supply, feed=feed, capacitor=capacitor)
    return knob


def settled_feed(feeder: Feeder, setting: Setting, *, length: float = START, late: float = LATE) -> float:
    """Mean feed in the last ``late`` [s] of a start from standstill [m/s]."""
    feeder.setting = setting
    feeder.advance(length - late)
    return feeder.advance(late) / late


def follow_start(feeder: Feeder, setting: Setting, *, length: float = START, late: float = LATE) -> Start:
    """A start of a feeder from standstill; settled is the mean of the last ``late`` [s]; then a stop."""
    feeder.setting = setting
    rows: list[tuple[float, ...]] = []
    feeder.advance(length, rows=rows)
    table = np.array(rows)
    end = table[:, 0] > length - late
    settled = float(table[end, 1].mean())
    moving = np.nonzero(table[:, 1] >= RUN_UP_SHARE * settled)[0]
    run_up = float(table[moving[0], 0]) if settled > 0.0 and len(moving) else math.inf
    room = table[end, 2] - table[end, 3] - (feeder.supply.dropout if feeder.supply.stage != "resistor" else 0.0)
    feeder.setting = Setting()
    overrun = 0.0
    for _ in range(200):
        overrun += feeder.advance(10e-3)
        if feeder.speed <= 0.0:
            break
    return Start(table, settled, run_up, overrun, float(room.min()))


def feeder_of(scenario: Scenario, *, mains_factor: float = 1.0, phase: float = 0.0) -> Feeder:
    """The scenario's feeder, at rest; its supply is the default one where none is written."""
    assert scenario.feed_motor is not None
    return Feeder(
        scenario.feed_motor,
        scenario.feed_supply or FeedSupply(),
        frequency=scenario.mains.frequency,
        mains_factor=mains_factor,
        phase=phase,
    )


def wire_constants(scenario: Scenario) -> WireConstants:
    """Constants of the wire, its feed and its run-up by the feed motor where the scenario has one.

    A motor that the weld output feeds is taken at its run-up alone: what the arc does to its speed is for ``feed`` and
    ``spot``.
    """
    wire, motor = constants(scenario.wire), scenario.feed_motor
    if motor is None:
        return wire
    supply = scenario.feed_supply or FeedSupply()
    if supply.kind == "weld output":
        supply = dataclasses.replace(supply, kind="own transformer")
    frequency = scenario.mains.frequency
    starts = [
        follow_start(
            Feeder(motor, supply, frequency=frequency), knob_for(motor, supply, frequency=frequency, feed=feed)
        )
        for feed in (wire.run_in, wire.feed)
    ]
    run_in, feed = starts
    reached = math.isfinite(feed.run_up)
    return dataclasses.replace(
        wire, run_in=run_in.settled, feed=feed.settled, motor_tau=feed.run_up if reached else wire.motor_tau
    )
