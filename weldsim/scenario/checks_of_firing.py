"""Findings about the moment of firing: will the gate pulse outlast the latching current, does the dial make sense?

The estimate of the current after firing counts the core alone: behind a charged bank, a battery or no load at all, the
device carries nothing else until the secondary has risen above what holds it back.
"""

import math
from collections.abc import Callable, Iterator

from weldsim.parts.iron import MagnetisingBranch, magnetising_branch
from weldsim.parts.mains import crest_flux_linkage, crest_voltage
from weldsim.parts.phase_control import (
    HALF_CYCLE,
    PhaseControl,
    delay_angle,
    diac_voltages,
    first_firing_resistance,
    gate_pulses,
)
from weldsim.scenario.consistency import primary_turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import FAULT, GOOD, NOTE, Finding, shown, source_of
from weldsim.scenario.pair import shares

VISIBLE_DC = 0.5  # [V] direct voltage on a closed core that is heard and felt (common practice)
_HALVINGS = 50  # of the interval in which the pulse length is sought: to the last digit


def _delay(scenario: Scenario) -> float | None:
    """The delay of the scenario's own dial; None where it has none of its own."""
    control = scenario.phase_control
    if control is None or control.dial_kind == "rc-diac":
        return None
    return delay_angle(control, scenario.mains.frequency)


def core_current(branch: MagnetisingBranch, *, crest: float, frequency: float, delay: float, time: float) -> float:
    """Rough current of an unloaded transformer at a time after firing: core at rest, all voltage across it [A]."""
    angular = 2.0 * math.pi * frequency
    start, end = math.radians(delay), math.radians(delay) + angular * time
    flux = crest / angular * (math.cos(start) - math.cos(end))
    friction = sum(min(stiffness * flux, 2.0 * limit) for stiffness, limit in branch.frictions)
    eddy = crest * math.sin(end) / branch.loss_resistance if branch.loss_resistance else 0.0
    return branch.current(flux) + friction + eddy


def pulse_needed(
    branch: MagnetisingBranch, latching: float, *, crest: float, frequency: float, delay: float
) -> float | None:
    """Shortest pulse that ends above the latching current, by ``core_current``; None where no pulse does [s]."""
    longest = max(HALF_CYCLE - delay, 0.0) / (360.0 * frequency)
    steps = 400
    times = [longest * step / steps for step in range(steps + 1)]
    currents = [core_current(branch, crest=crest, frequency=frequency, delay=delay, time=time) for time in times]
    step = next((index for index, current in enumerate(currents) if current >= latching), None)
    if not step:
        return None if step is None else 0.0
    low, high = times[step - 1], times[step]
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        enough = core_current(branch, crest=crest, frequency=frequency, delay=delay, time=middle) >= latching
        low, high = (low, middle) if enough else (middle, high)
    return high


def _held_back(scenario: Scenario) -> bool:
    """Whether something keeps the load current away at first: a bank, a battery, an arc, or nothing connected."""
    load = scenario.load
    return scenario.bank is not None or load is None or load.kind not in ("resistor", "short")


def _gate_pulse(scenario: Scenario) -> Iterator[Finding]:
    """A single pulse against the rise of the magnetising current."""
    control, delay = scenario.phase_control, _delay(scenario)
    if control is None or delay is None or not _held_back(scenario) or control.latching_current == 0.0:
        return
    if control.pulse_kind != "single":
        yield Finding("phase_control.gate_pulse", GOOD, "The gate is driven until the load current could rise.")
        return
    if scenario.core is None or scenario.transformer is None:
        yield Finding(
            "phase_control.gate_pulse",
            NOTE,
            "Without a [core] there is no magnetising current: a single pulse latches on load current or not at all.",
        )
        return
    branch = magnetising_branch(scenario.core, primary_turns(scenario))
    source, frequency, width = source_of(scenario), scenario.mains.frequency, control.pulse_width
    crest = crest_voltage(source) * shares(scenario, crest_flux_linkage(source))[0]
    alone = "" if scenario.second_transformer is None else " Of the first transformer's core alone."
    ends = core_current(branch, crest=crest, frequency=frequency, delay=delay, time=width)
    needed = pulse_needed(branch, control.latching_current, crest=crest, frequency=frequency, delay=delay)
    advice = "; only a train would do" if needed is None else f"; {shown(needed, 'time')} would do, or a train"
    outlasted = _outlasted(scenario.load is None, delay, delay + 360.0 * frequency * width)
    reached = ends >= control.latching_current
    yield Finding(
        "phase_control.gate_pulse",
        GOOD if reached and not outlasted else NOTE,
        f"At {delay:.4g} deg a pulse of {shown(width, 'time')} ends at about {shown(ends, 'current')} of "
        f"core current; the {control.device} latches at {shown(control.latching_current, 'current')}"
        f"{'' if reached else advice}.{outlasted} Rough: load current held back, core at rest in the steep part "
        f"of its curve, mains impedance neglected; the simulation decides.{alone}",
        ends,
        "A",
    )


def _outlasted(unloaded: bool, delay: float, end: float) -> str:
    """What the current of one half cycle does to a pulse of the next that ends at this angle [deg]; nothing: no harm.

    In a core without losses current that begins as long behind a zero crossing ends as long before the second next.
    """
    longest = HALF_CYCLE - delay
    if end >= longest:
        return ""
    when = "It has no load here" if unloaded else "Without load, before the wire touches or behind a full bank"
    return (
        f" {when}: the core's own current may then flow until {longest:.4g} deg of the next half cycle (less by its "
        f"losses), outlast a pulse that ends at {end:.4g} deg and leave that half cycle out: half-waving. Preview it "
        "with --set load=absent; a train until then cures it."
    )


def _gate_times(scenario: Scenario) -> Iterator[Finding]:
    """Pulses that reach into the next half cycle, or do not come at all."""
    control, delay = scenario.phase_control, _delay(scenario)
    if control is None or delay is None:
        return
    frequency = scenario.mains.frequency
    if delay >= HALF_CYCLE:
        yield Finding(
            "phase_control.delay", FAULT, f"The dial asks for {delay:.4g} deg: behind the half cycle.", delay, "deg"
        )
        return
    pulses = gate_pulses(control, frequency, delay=delay)
    if not pulses:
        yield Finding(
            "phase_control.delay",
            FAULT,
            f"The dial asks for {delay:.4g} deg, but the gate is off after train_end = "
            f"{control.train_end:.4g} deg: it never fires.",
            delay,
            "deg",
        )
    elif pulses[-1][1] * 360.0 * frequency > HALF_CYCLE:
        end = pulses[-1][1] * 360.0 * frequency
        yield Finding(
            "phase_control.delay",
            NOTE,
            f"The gate is driven until {end:.4g} deg: past the zero crossing it fires the next half cycle by "
            "itself, at full output.",
            end,
            "deg",
        )


def _asymmetry(scenario: Scenario) -> Iterator[Finding]:
    """Direct voltage that unequal half cycles put on the core: crest sin(delay) difference / 2 pi."""
    control, delay = scenario.phase_control, _delay(scenario)
    if control is None or delay is None or not control.asymmetry:
        return
    crest = crest_voltage(source_of(scenario))
    direct = crest * math.sin(math.radians(delay)) * math.radians(abs(control.asymmetry)) / (2.0 * math.pi)
    yield Finding(
        "phase_control.asymmetry",
        NOTE if direct > VISIBLE_DC else GOOD,
        f"Half cycles {shown(abs(control.asymmetry), 'angle')} apart put about {shown(direct, 'voltage')} of "
        f"direct voltage on the transformer at {delay:.4g} deg; {VISIBLE_DC} V is heard in a closed core "
        "(common practice). Assumed: conduction to the end of each half cycle.",
        direct,
        "V",
    )


_ENDS = {  # of a dial: keys of its two ends, kind of what stands there
    "linear": ("delay_at_0", "delay_at_100", "angle"),
    "timed": ("delay_time_at_0", "delay_time_at_100", "time"),
    "rc-diac": ("timing_resistance_at_0", "timing_resistance_at_100", "resistance"),
}


def _turned_round(scenario: Scenario) -> Iterator[Finding]:
    """A dial that gives less the more it is turned up."""
    control = scenario.phase_control
    if control is None:
        return
    first, last, kind = _ENDS[control.dial_kind]
    at_0, at_100 = getattr(control, first), getattr(control, last)
    if at_0 is None or at_100 is None or at_0 >= at_100:
        return
    yield Finding(
        f"phase_control.{first}",
        NOTE,
        f"The dial is turned round: {shown(at_0, kind)} at 0 % are less than {shown(at_100, kind)} at 100 %, so that "
        "it fires later, and gives less, the more it is turned up.",
    )


def _diac_dial(scenario: Scenario) -> Iterator[Finding]:
    """Where in its travel an RC-and-diac dial snaps on."""
    control = scenario.phase_control
    if control is None or control.dial_kind != "rc-diac":
        return
    share = _snap_on(control, crest_voltage(source_of(scenario)), scenario.mains.frequency)
    if share is None:
        yield Finding("phase_control.dial", FAULT, "The diac's breakover is never reached, at any dial position.")
        return
    sentence = (
        f"Turned up from rest, the dial snaps on at {shown(share, 'fraction')}"
        if share > 0.0
        else "The dial fires in its lowest position"
    )
    yield Finding(
        "phase_control.dial",
        NOTE if share > control.dial else GOOD,
        f"{sentence}; it stands at {shown(control.dial, 'fraction')}. Rough: load and device drop neglected; "
        "once fired it can be turned down further.",
        share,
        "1",
    )


def _snap_on(control: PhaseControl, crest: float, frequency: float) -> float | None:
    """Lowest dial at which a resting RC-and-diac dial fires; None where it never does."""
    resistance = first_firing_resistance(
        crest, max(diac_voltages(control)), frequency=frequency, capacitance=control.timing_capacitance
    )
    at_0, at_100 = control.timing_resistance_at_0 or 0.0, control.timing_resistance_at_100 or 0.0
    if at_0 <= resistance:
        return 0.0
    return (at_0 - resistance) / (at_0 - at_100) if at_100 <= resistance and at_0 != at_100 else None


FIRING_QUESTIONS: tuple[Callable[[Scenario], Iterator[Finding]], ...] = (
    _gate_pulse,
    _gate_times,
    _asymmetry,
    _turned_round,
    _diac_dial,
)
