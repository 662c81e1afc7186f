"""The weld output as what feeds a motor: volts at the terminals from the trigger on, through strike and weld."""

from dataclasses import replace

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.feed_motor import FeedMotor
from weldsim.parts.feed_supply import FeedSupply
from weldsim.runs.commands import with_dial
from weldsim.runs.feeder import START, Feeder, follow_start, knob_for
from weldsim.runs.wire_runs import WireRun, WireSupply, delay_of, phase_of
from weldsim.scenario.document import Scenario

TERMINAL = "terminal.voltage"
WELDS = 0.5  # of a start, from when on the wire has struck and the motor has run up


@dataclass(frozen=True, eq=False)
class Terminals:
    """Volts at the terminals at every tick of the wire."""

    spacing: float  # [s]
    volts: np.ndarray

    def at(self, time: float) -> float:
        """Volts at a time from the trigger [s]; the last ones beyond the record."""
        place = min(int(time / self.spacing), len(self.volts) - 1)
        return float(self.volts[place])

    @property
    def mean(self) -> float:
        """Mean from there on where it welds [V]."""
        return float(self._welding.mean())

    @property
    def high(self) -> float:
        """What they exceed for a twentieth of that time: a capacitor behind a diode holds such highs [V]."""
        return float(np.quantile(self._welding, 0.95))

    @property
    def _welding(self) -> np.ndarray:
        return self.volts[round(WELDS * len(self.volts)) :]


def terminals_of(scenario: Scenario, *, dial: float | None, delay: float | None, mains: int, seed: int) -> Terminals:
    """A strike and weld of the scenario's wire at a mains voltage (``mains`` % off the rated one).

    The wire of this weld is fed by its own motor of [wire]: what the sag of the feed does to the arc is for ``spot``.
    """
    supply = WireSupply(with_dial(scenario, dial))
    name = TERMINAL if TERMINAL in supply.names else "output.voltage"
    supply.record([name])
    run = WireRun(
        supply,
        seed=seed,
        trial=0,
        delay=delay_of(scenario, dial, delay),
        length=START,
        phase=phase_of(seed, 0),
        every=1,
        mains_factor=1.0 + mains / 100.0,
    )
    run.run(stop_when_struck=False)
    rows = run.record[: int(run.count[12])]
    return Terminals(supply.tick, rows[:, 3].copy())


def capacitor_on(terminals: Terminals, motor: FeedMotor, supply: FeedSupply, *, frequency: float, feed: float) -> float:
    """Mean voltage of the capacitor on the weld output while the motor runs at a feed under the load as written [V]."""
    stage = "linear" if supply.stage == "resistor" else supply.stage
    held = replace(supply, control="stabilised voltage", stage=stage)
    feeder = Feeder(motor, held, frequency=frequency)
    feeder.source = terminals.at
    table = follow_start(feeder, knob_for(motor, held, frequency=frequency, feed=feed, capacitor=terminals.mean)).table
    return float(table[table[:, 0] > WELDS * START, 2].mean())
