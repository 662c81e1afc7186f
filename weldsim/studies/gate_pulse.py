"""The shortest gate pulse with which a setting settles without a missed half cycle, found by trying.

Latching is not monotone: a pulse that suffices for the first half cycle may leave a current that outlasts the next
pulse, and a snubber's discharge may carry a device over a pulse of microseconds.  So pulses are tried from long to
short, and the shortest is the last before the first that misses.
"""

import math

from weldsim.errors import QuestionError
from weldsim.parts.phase_control import PhaseControl
from weldsim.runs.supply import supply_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict, amount
from weldsim.studies.operating import MAINS_STEPS, operate

CLEAR = 5.0  # [deg] before the zero crossing at which the longest pulse ends, as trains do
FACTOR = 1.5  # from one pulse to the next shorter one
LEAST = 2e-6  # [s] shorter ones are not tried
NEAR = 1.03  # between the pulse told and one that misses


def shortest_pulse(
    scenario: Scenario, *, dial: float | None = None, delay: float | None = None, mains_factor: float = 1.0
) -> float | None:
    """Shortest single pulse [s] at which, and above which, no half cycle is missed; None where there is none.

    ``LEAST`` where every pulse tried does.  Settled from a demagnetised core, to 3 %.
    """

    def misses(width: float) -> bool:
        changed = vary(scenario, {"phase_control.pulse_kind": "single", "phase_control.pulse_width": width})
        return bool(operate(changed, dial=dial, delay=delay, mains_factor=mains_factor).missed)

    longest = _longest(scenario, dial, delay)
    if longest is None or longest <= LEAST or misses(longest):
        return None
    good, bad = longest, longest / FACTOR
    while bad > LEAST and not misses(bad):
        good, bad = bad, bad / FACTOR
    if bad <= LEAST:
        return good if misses(LEAST) else LEAST
    while good > NEAR * bad:
        middle = math.sqrt(good * bad)
        good, bad = (good, middle) if misses(middle) else (middle, bad)
    return good


def _longest(scenario: Scenario, dial: float | None, delay: float | None) -> float | None:
    """The longest pulse that ends clear of the zero crossing in either half cycle [s]; None where a diac makes it."""
    control, asked = scenario.phase_control, supply_of(scenario).delay(dial, delay)
    if control is None or asked is None:
        return None
    left = 180.0 - CLEAR - asked - max(control.asymmetry, 0.0)
    return left / 360.0 / scenario.mains.frequency


def gate_pulse(scenario: Scenario, *, delay: float | None) -> tuple[dict[str, Number], list[Verdict]]:
    """The shortest pulse at mains -10, 0 and +10 %, and whether the scenario's own gate misses none there.

    Raises
    ------
    QuestionError : nothing is fired, or a dial's own circuit makes the pulse.
    """
    control = scenario.phase_control
    if control is None or delay is None:
        raise QuestionError(
            "no pulse is given to a gate here" if control is None else "its diac makes the pulse",
            place="--gate",
            advice="leave it out, or let a [phase_control] of another dial_kind fire it",
        )
    needed = [shortest_pulse(scenario, delay=delay, mains_factor=step) for step in MAINS_STEPS]
    own = [operate(scenario, delay=delay, mains_factor=step).missed or 0.0 for step in MAINS_STEPS]
    names = (
        "phase_control.pulse_needed.low_mains",
        "phase_control.pulse_needed",
        "phase_control.pulse_needed.high_mains",
    )
    numbers = {
        name: Number(math.nan if value is None else value, "s") for name, value in zip(names, needed, strict=True)
    }
    level = "fault" if any(own) else "good"
    return numbers, [Verdict("gate_pulse", level, f"{_needed(needed, delay)} {_own(control, own)} {_ASSUMED}")]


_ASSUMED = (
    "Cause: until the mains have risen above what bank or battery hold, the device carries the core's current alone, "
    "and a tail of the half cycle before may outlast the pulse. Assumed: the latching current as written; devices of "
    "one kind differ by a factor of two, and it grows in the cold (common practice)."
)


def _needed(needed: list[float | None], delay: float) -> str:
    """The shortest pulses in words."""
    if None in needed:
        at = [f"{100.0 * (step - 1.0):+.0f} %" for step, one in zip(MAINS_STEPS, needed, strict=True) if one is None]
        return f"At {delay:.4g} deg no single pulse that ends before 175 deg misses none at mains {', '.join(at)}."
    if all(one == LEAST for one in needed):
        return f"At {delay:.4g} deg any single pulse of {1e6 * LEAST:.0f} us and more misses no half cycle."
    told = ", ".join(amount(1e6 * one, "us") for one in needed if one is not None)
    return f"At {delay:.4g} deg a single pulse misses no half cycle from {told} on (mains -10, 0, +10 %)."


def _own(control: PhaseControl, missed: list[float]) -> str:
    """What the scenario's own gate does."""
    width = f"{1e6 * control.pulse_width:.4g} us"
    gate = {
        "single": f"The pulse of {width}",
        "train": f"The train of pulses of {width}",
        "held": "The gate held until latched",
    }[control.pulse_kind]
    if not any(missed):
        return f"{gate} misses none."
    told = ", ".join(f"{100.0 * share:.3g}" for share in missed)
    return f"{gate} misses {told} % of them: give such a pulse, a train of pulses, or hold the gate until latched."
