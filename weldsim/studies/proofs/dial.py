"""The RC-and-diac dial: where it snaps on, how far it jumps, and how far it can then be turned down.

A dial that rests is one whose diac never fires; its settled state, given to the same circuit with the diac in question,
is what a slowly turned knob starts from.  Turning down is followed the same way, each step from the state of the last.
"""

import re
from dataclasses import replace
from functools import cache

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.steady import settle
from weldsim.runs.supply import Supply
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import Reading, Row, angle, references, side_by_side

TABLE = "transients"
ANGLE, RESISTANCE = 0.05, 2e-3  # [deg], of the value: what an ideal diac in an ideal circuit should keep
NEVER = 300.0  # [V] breakover that no timing capacitor here sees
BRACKET = 1e-9  # of a resistance; an angle at the crest goes with its root
FINEST = 5e-5  # of a resistance: least step of turning down
PERIODS = 60  # to settle after a step of the knob

DIAL = """
[mains]
voltage = "{voltage!r} V"
frequency = "{frequency!r} Hz"
[phase_control]
dial_kind = "rc-diac"
timing_resistance_at_0 = "{resistance!r} ohm"
timing_resistance_at_100 = "{resistance!r} ohm"
timing_capacitance = "{capacitance!r} nF"
diac_voltage = "{breakover!r} V"
diac_breakback = "{drop!r} V"
pulse_width = "10 us"
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "0.1 ohm"
"""

State = tuple[np.ndarray, tuple[int, ...]]


@dataclass(frozen=True)
class Knob:
    """A dial but for its resistance."""

    voltage: float
    frequency: float
    capacitance: float  # [nF]
    breakover: float
    drop: float

    def supply(self, resistance: float, *, breakover: float | None = None) -> Supply:
        """The dial at a resistance, wired."""
        text = DIAL.format(
            voltage=self.voltage,
            frequency=self.frequency,
            capacitance=self.capacitance,
            resistance=resistance,
            breakover=self.breakover if breakover is None else breakover,
            drop=self.drop,
        )
        return Supply(read_text(text, source="proof"))

    def resting(self, resistance: float) -> State:
        """Settled state without any firing."""
        found = settle(self.supply(resistance, breakover=NEVER), delay=None)
        return found.state, found.signature


@dataclass(frozen=True)
class Course:
    """Half cycle and angle in it [deg] of every breakover, and the state at the end."""

    firings: list[tuple[int, float]]
    end: State


def _follow(supply: Supply, state: State, *, periods: int) -> Course:
    """Whole periods of the mains from a state on."""
    stepper = supply.stepper(*state, (0.0, periods * supply.period), delay=None)
    stepper.run_to(periods * supply.period)
    trace, half = stepper.trace(), 0.5 * supply.period
    instants = [at for at, name, _, entered in trace.changes() if name == "diac" and entered.startswith("fired")]
    kept = len(supply.system.states) + 2 * len(supply.system.inputs)
    return Course(
        [(int(at // half), 180.0 * (at % half) / half) for at in instants],
        (trace.end_state[:kept].copy(), trace.signatures[trace.end_mode]),
    )


def _crest(knob: Knob, resistance: float) -> float:
    """Largest voltage of the timing capacitor of a dial that rests [V]."""
    supply = knob.supply(resistance, breakover=NEVER)
    found = settle(supply, delay=None)
    stepper = supply.stepper(found.state, found.signature, (0.0, supply.period), delay=None)
    stepper.run_to(supply.period)
    return float(stepper.trace().extremes(["dial.capacitor.voltage"], 0.0, supply.period)[0][0, 1])


@cache
def _turned_up(knob: Knob) -> float:
    """The largest resistance at which a resting dial fires [ohm], just below where its capacitor does not get so far.

    By secants: a crest is a smooth function of the resistance.
    """
    before, here = 200e3, 300e3
    last = _crest(knob, before) - knob.breakover
    while abs(here - before) > 0.1 * BRACKET * here:
        short = _crest(knob, here) - knob.breakover
        before, here, last = here, here - short * (here - before) / (short - last), short
    return here * (1.0 - BRACKET)


def _turned_down(knob: Knob, begin: float) -> float:
    """The largest resistance up to which a dial that fires at ``begin`` still fires in every half cycle [ohm]."""
    here = _follow(knob.supply(begin), knob.resting(begin), periods=PERIODS).end
    resistance, step = begin, 0.2
    while step > FINEST:
        course = _follow(knob.supply(resistance * (1.0 + step)), here, periods=PERIODS)
        if {half for half, _ in course.firings} >= set(range(2 * PERIODS)):
            resistance, here = resistance * (1.0 + step), course.end
        else:
            step *= 0.5
    return resistance


def rc_diac() -> list[Row]:
    """First firing, the firings after it, and the end of firing, for three break-backs of the diac and two mains."""
    return side_by_side("dial with diac", references(TABLE, "rc_diac"), _measure_dial)


def _measure_dial(condition: str) -> dict[str, Reading]:
    voltage, frequency, capacitance, breakover, *drop = map(
        float, re.findall(r"(\d+(?:\.\d+)?) (?:V|Hz|nF)", condition.replace("=", " "))
    )
    knob = Knob(voltage, frequency, capacitance, breakover, drop[0] if drop else breakover)
    start = _turned_up(replace(knob, drop=breakover))  # what the diac takes away matters afterwards only
    course = _follow(knob.supply(start), knob.resting(start), periods=PERIODS)
    firings = [at for _, at in course.firings]
    found = {
        "R at which the diac first fires (turning up)": Reading(start, RESISTANCE),
        "first firing angle": angle(firings[0], ANGLE),
        "second firing angle (same R)": angle(firings[1], ANGLE),
        "settled firing angle (same R)": angle(firings[-1], ANGLE),
    }
    if drop:
        stop = _turned_down(knob, start)
        found["R at which firing stops (turning down)"] = Reading(stop, RESISTANCE)
        found["hysteresis ratio R_stop/R_start"] = Reading(stop / start, RESISTANCE)
    return found
