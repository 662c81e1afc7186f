"""The wire process on a supply: strikes from the trigger to a stable arc, and welds of seconds."""

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from weldsim.engine import layout, wire_layout
from weldsim.engine.doors import door
from weldsim.engine.library import QUANTA_BITS, ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import Stepper, scratch
from weldsim.engine.untouched import ON_DEMAND
from weldsim.errors import SimulationError
from weldsim.frozen import dataclass
from weldsim.network.wire_load import INPUT, LEVELS, WireElement
from weldsim.network.wiring import wire
from weldsim.parts.wire import Wire, WireConstants
from weldsim.runs.commands import Command, asked_delay, event_numbers, gate_table
from weldsim.runs.feeder import wire_constants
from weldsim.runs.first_fire import onset_of, rule_of
from weldsim.runs.leases import leased
from weldsim.runs.left_over import Left
from weldsim.runs.soft_start import Walk, starter_of
from weldsim.runs.supply import STEPS_PER_PERIOD, network_key
from weldsim.runs.wire_places import STRUCK_BAD, STRUCK_SPAN, TRIAL_LENGTH, arc_level, constant_array
from weldsim.scenario.document import Scenario

TICK_BITS = QUANTA_BITS - 2  # 100 us at 50 Hz and 50 steps a period: README, "The tick"
RECORDED = ("output.current", "output.voltage", "bank.voltage", "primary.current", "plug.voltage")
REASONS = (
    "no touch",
    "touched too late",
    "no current",
    "stubbing",
    "re-ignition voltage not reached",
    "current fell below hold",
)
ROOM = 8192 if ON_DEMAND else 2048  # modes of a supply with a wire; to grow later takes as long as to assemble 500
CONDITIONS = ("clear", "touching", "burning", "bridged", "out")

_weld, _uniform = door("wire_kernel", "weld"), door("wire_kernel", "uniform")


@dataclass(frozen=True)
class Trial:
    """What one strike did.  Times [s] from the trigger; currents [A]; rise [A/s]."""

    trial: int
    struck: bool
    time_to_arc: float
    touches: int
    bridges: int
    losses: int
    reignitions: int
    stubs: int
    peak_current: float
    rise: float
    reason: str  # of a failure, one of REASONS; empty where it struck
    out: float = 0.0  # [s] without an arc after one was lost
    touching: float = 0.0  # [s] in solid contact
    burnt_back: bool = False  # whether the arc has reached the contact tube by its end


class WireSupply:
    """A supply with the wire's end as its load, ready for trials; the rules never know whether it has a boost."""

    def __init__(self, scenario: Scenario, *, boost_connected: bool = True, tick_bits: int = TICK_BITS) -> None:
        self.scenario, self.quanta = scenario, 1 << tick_bits  # of a tick
        self.constants: WireConstants = wire_constants(scenario)
        self._fed: dict[float, WireConstants] = {}
        self.levels = np.array(LEVELS)
        self.arc_level = arc_level(self.constants)
        rise = 0.0 if self.constants.arc_memory else self.constants.falling_voltage  # a memory has its own falling part
        element = WireElement(self.arc_level, rise, self.constants.falling_current)

        def library() -> ModeLibrary:
            system = wire(scenario, boost_connected=boost_connected, element=element)
            return ModeLibrary(system, STEPS_PER_PERIOD, room=ROOM)

        key = f"{boost_connected} {element} {scenario.start} {network_key(scenario)}"
        self.library = leased(self, key, library)
        self.system = self.library.system
        self.period = 1.0 / scenario.mains.frequency
        self.numbers = event_numbers(self.system)
        self.names = self.system.signal_numbers
        wanted = ("open", "arc", "ignite", *(f"contact {k}" for k in range(len(LEVELS))))
        self.events = np.array([self.numbers[f"wire {name}"] for name in wanted])
        self.input_place = len(self.system.states) + 2 * self.system.inputs.index(INPUT)
        self.rows = Rows(self.library, self.names)
        self.record(RECORDED)

    @property
    def recorded(self) -> list[str]:
        """Names of the signals that are recorded."""
        return self.rows.recorded

    def record(self, names: Sequence[str]) -> None:
        """From now on these signals are recorded, as far as the supply has them."""
        self.rows.record_these([name for name in names if name in self.names])

    @property
    def tick(self) -> float:
        """Length of the process tick [s]."""
        return self.library.quantum * self.quanta

    def constant_array(self, feed: float | None = None) -> np.ndarray:
        """The constants in the order of the kernel."""
        return constant_array(self.fed(feed))

    def fed(self, feed: float | None = None) -> WireConstants:
        """Constants of the wire where another feed [m/s] is asked for than the file's, as if the file had said it."""
        if feed is None:
            return self.constants
        if feed not in self._fed:
            wire = dataclasses.replace(self.scenario.wire or Wire(), feed=feed)
            self._fed[feed] = wire_constants(dataclasses.replace(self.scenario, wire=wire))
        return self._fed[feed]


class Rows:
    """Rows of the wire's current and voltage and of what is recorded, and the kind of its segment, for every mode."""

    def __init__(self, library: ModeLibrary, names: dict[str, int]) -> None:
        self.library, self.names = library, names
        self.element = [element.name for element in library.system.elements].index("load")
        self.kind_of = [
            wire_layout.OPEN
            if name == "open"
            else wire_layout.FALLING
            if name in ("rising", "falling")
            else wire_layout.ARC
            if name == "arc"
            else wire_layout.CONTACT + 10 * int(name.rpartition("_")[2])
            for name in library.system.elements[self.element].segments
        ]
        self.record_these([])

    def record_these(self, recorded: list[str]) -> None:
        """Begin anew with these signals."""
        self.recorded = recorded
        self.kinds, self.generation, self.filled = np.zeros(0, dtype=np.int64), -1, 0
        self.fill()

    def fill(self) -> None:
        """Bring the rows up to date with the library."""
        library, names = self.library, self.names
        if library.generation != self.generation or len(self.kinds) < library.capacity:
            self.kinds = np.full(library.capacity, -1, dtype=np.int64)
            w = library.width
            self.current, self.voltage = np.zeros((library.capacity, w)), np.zeros((library.capacity, w))
            self.record = np.zeros((library.capacity, len(self.recorded), w))
            self.generation, self.filled = library.generation, 0
        first, last, n = self.filled, len(library.signatures), library.system.size
        if last > first:
            wanted = [names[name] for name in ("output.current", "output.voltage", *self.recorded)]
            outputs = np.stack([equations.outputs[wanted] for equations in library.equations[first:last]])
            self.current[first:last, :n], self.voltage[first:last, :n] = outputs[:, 0], outputs[:, 1]
            self.record[first:last, :, :n] = outputs[:, 2:]
            self.kinds[first:last] = [self.kind_of[signature[self.element]] for signature in library.signatures[first:]]
        self.filled = last


class WireRun:
    """One wire process under way, from the trigger.

    ``commands`` replace those of a gate that is driven throughout; ``mains_factor`` scales the mains voltage.
    ``after`` is what a press before has left; without it the run begins from the scenario's own start.
    """

    def __init__(  # noqa: PLR0913 (all by keyword)
        self,
        supply: WireSupply,
        *,
        seed: int,
        trial: int,
        delay: float | None,
        feed: float | None = None,
        length: float = TRIAL_LENGTH,
        phase: float = 0.0,
        every: int = 0,
        commands: Sequence[Command] | np.ndarray | None = None,
        mains_factor: float = 1.0,
        after: Left | None = None,
    ) -> None:
        self.supply = supply
        begin = phase * supply.period
        span = (begin, begin + length)
        state, signature = supply.system.start() if after is None else (after.state, after.signature)
        scenario, self.onset = supply.scenario, None
        if commands is None:
            rule = rule_of(scenario.soft_start)
            self.onset = onset_of(rule, scenario.mains.frequency, delay=delay, trigger=begin)
            commands = gate_table(
                scenario, supply.system, delay=delay, span=span, onset=self.onset, pressed=after is None
            )
        self.soft_start = starter_of(scenario, supply.system) if after is None else after.starter()
        if self.soft_start is not None:
            signature = self.soft_start.onto(signature)
            self.soft_start.pressed(begin)
        most = int(2e5 * (length + 1.0))
        self.stepper = Stepper(
            supply.library, RunPlan(*span, state, signature, commands, most_changes=most, source_scale=mains_factor)
        )
        self.end = round(span[1] / supply.library.quantum)
        self.c = supply.constant_array(feed)
        self.state, self.count, self.told = np.zeros(wire_layout.STATES), np.zeros(20, np.int64), np.zeros(10)
        self.count[3], self.count[4], self.count[11], self.count[18] = seed, trial, -1, int(self.stepper.control[0])
        self.told[9] = math.inf
        low, high = self.c[wire_layout.FIRST_GAP_LOW], self.c[wire_layout.FIRST_GAP_HIGH]
        self.state[0] = _uniform(self.count, wire_layout.FIRST_GAP, low, high)
        self.state[7] = 1.0
        spread = self.c[wire_layout.TUBE_SPREAD] * _uniform(self.count, wire_layout.TUBE_DRAW, -1.0, 1.0)
        self.state[12] = self.c[wire_layout.TUBE] * (1.0 + spread)
        self.wanted = np.zeros(3)
        self.ring = np.zeros(round(STRUCK_SPAN / supply.tick), np.int64)
        self.every = every
        rows = int(length / (supply.tick * every)) + 8 if every else 0
        self.record = np.zeros((rows, 3 + len(supply.recorded)))

    def run(self, *, stop_when_struck: bool = True, until: float | None = None) -> int:
        """Go on to the end, or to ``until`` [s from the trigger]; returns the code of the kernel."""
        quantum = self.supply.library.quantum
        end = self.end if until is None else int(self.count[18]) + round(until / quantum)
        if self.soft_start is None:
            return self.weld_to(end, stop_when_struck=stop_when_struck)
        walk = _WireWalk(self, stop_when_struck=stop_when_struck)
        self.soft_start.advance(self.stepper, end * quantum, walk=walk)
        return walk.code

    def weld_to(self, end: int, *, stop_when_struck: bool) -> int:
        """Go on to ``end`` [quanta of the mains clock] whatever a soft start would do."""
        supply, stepper, library = self.supply, self.stepper, self.supply.library
        while True:
            rows = supply.rows
            code = _weld(
                library.tables,
                stepper.log,
                stepper.control,
                stepper.x,
                stepper.schedule_time,
                stepper.schedule_event,
                stepper.later,
                stepper.account,
                end,
                library.quantum,
                *scratch(stepper),
                supply.quanta,
                self.state,
                self.count,
                self.c,
                self.told,
                self.ring,
                self.wanted,
                rows.current,
                rows.voltage,
                rows.kinds,
                supply.events,
                supply.input_place,
                supply.levels,
                self.record,
                rows.record,
                self.every,
                stop_when_struck,
            )
            if code in (layout.DONE, wire_layout.TRIAL_OVER):
                return code
            if code == layout.NEED_MODE:
                stepper.resolve_pending()
                rows.fill()
            elif code == wire_layout.NEED_ROWS or code == layout.UNSETTLED and stepper.search():
                rows.fill()
            elif code == wire_layout.TOO_MANY_LOSSES:
                raise SimulationError(
                    "the arc is lost more than a thousand times a second",
                    place=f"t = {stepper.now:.4f} s, wire",
                    advice="no arc of this kind lives on this supply; look at its falling part and hold current",
                )
            else:
                raise stepper.failure(code)

    def hold_feed(self, speed: float) -> None:
        """From now on the wire comes at this speed [m/s], whatever the built-in motor would do."""
        self.state[1] = self.c[wire_layout.FEED] = self.c[wire_layout.RUN_IN] = speed

    def outcome(self) -> Trial:
        """What the trial did."""
        struck = int(self.count[11]) >= 0
        time = int(self.count[11]) * self.supply.tick if struck else math.nan
        return Trial(
            int(self.count[4]),
            struck,
            time,
            int(self.count[5]),
            int(self.count[14]),
            int(self.count[7]),
            int(self.count[8]),
            int(self.count[13]),
            float(self.told[0]),
            float(self.told[1]),
            "" if struck else self._reason(),
            int(self.count[17]) * self.supply.tick,
            int(self.count[19]) * self.supply.tick,
            bool(self.state[0] >= self.c[wire_layout.HEIGHT]),
        )

    def _reason(self) -> str:
        """Why it failed: whether it still burnt well, else what took the most time, and for lost arcs whether most of
        them came back by themselves.
        """
        touches, ruptures, losses, back = (int(self.count[k]) for k in (5, 6, 7, 8))
        no_touch, too_late, no_current, stubbing, not_reached, below_hold = REASONS
        if touches == 0:
            return no_touch
        if ruptures > 0 and (self.count[17] + self.count[19]) * self.supply.tick <= STRUCK_BAD:
            return too_late  # nothing but the time until the first touch kept it from being struck
        if self.told[0] < self.c[wire_layout.FALLING_CURRENT]:
            return no_current
        if ruptures == 0 or self.count[19] > self.count[17]:
            return stubbing
        return not_reached if 2 * back <= losses else below_hold


class _WireWalk(Walk):
    """A wire run moved for a soft start; the current squared is summed by trapezoids over process ticks."""

    def __init__(self, run: WireRun, *, stop_when_struck: bool) -> None:
        super().__init__(run.stepper)
        self.run, self.stop = run, stop_when_struck
        self.code = layout.DONE
        self.row = run.supply.names["primary.current"]

    def run_to(self, end: float) -> None:
        if not self.over:
            quanta = round(end / self.run.supply.library.quantum)
            self.code = self.run.weld_to(quanta, stop_when_struck=self.stop)
            self.over = self.code == wire_layout.TRIAL_OVER

    def square_to(self, end: float) -> float:
        total, before = 0.0, self._square()
        while self.stepper.now < end - 1e-12 and not self.over:
            since = self.stepper.now
            self.run_to(min(since + self.run.supply.tick, end))
            now = self._square()
            total += 0.5 * (before + now) * (self.stepper.now - since)
            if self.stepper.now <= since:
                break
            before = now
        return total

    def _square(self) -> float:
        """Primary current squared now [A2]."""
        library, x = self.stepper.library, self.stepper.x
        return float(library.equations[int(self.stepper.control[1])].outputs[self.row] @ x[: library.system.size]) ** 2


def strike_trial(supply: WireSupply, *, seed: int, trial: int, delay: float | None, feed: float | None = None) -> Trial:
    """One strike: everything random is keyed by seed and trial, the mains phase at the trigger too."""
    run = WireRun(supply, seed=seed, trial=trial, delay=delay, feed=feed, phase=phase_of(seed, trial))
    run.run()
    return run.outcome()


def phase_of(seed: int, trial: int) -> float:
    """Phase of the mains at the trigger of a trial, of a period."""
    keys = np.array([0, 0, 0, seed, trial])
    return float(_uniform(keys, wire_layout.PHASE, 0.0, 1.0))


def delay_of(scenario: Scenario, dial: float | None, delay: float | None) -> float | None:
    """Delay angle asked for [deg]."""
    return asked_delay(scenario, dial, delay)
