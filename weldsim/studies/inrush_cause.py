"""Why the worst press is as bad as it is.

The same press again with another bank and another core, beside what settled running asks for anyway.
"""

import dataclasses
import math

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.first_fire import LOOKED_AT, looked_at
from weldsim.runs.flux_left import Driven, driven
from weldsim.runs.presses import Presser, Rest, Trigger
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict
from weldsim.studies.core_words import cores_word, driven_told, left_told
from weldsim.studies.press_trips import volts_told

ALIKE = 0.05  # a share of the peak that is not worth the name of a cause


@dataclass(frozen=True)
class Cause:
    """Largest primary current [A] of the worst press, and of what it is compared with.

    ``settled`` is settled running; ``charged`` the same press with the bank as charged as then, ``demagnetised`` with
    nothing left in the core (nan: that is how it began, or there is no such part).
    """

    worst: float
    settled: float
    charged: float
    demagnetised: float
    phase: float  # [deg]
    flux_linkage: float  # [V s]
    bank_voltage: float | None  # [V]
    second_flux_linkage: float = math.nan  # [V s] of the second of two cores
    driven: tuple[Driven, ...] = ()  # how far the worst press drives each core
    span: float = LOOKED_AT  # [s] looked at


def cause_of(presser: Presser, trigger: Trigger) -> Cause:
    """The worst press, taken apart."""
    rest = presser.resting_after(trigger)
    press, trace = presser.press_from(rest, presser.rule)
    place, charged, demagnetised = presser.bank_place(), math.nan, math.nan
    if place is not None and presser.setting.bank != "charged":
        state = rest.state.copy()
        state[place] = presser.charged()
        charged = _peak(presser, rest, state, rest.signature)
    volts = 0.0 if place is None else float(rest.state[place])
    if press.flux_linkage or press.second_flux_linkage > 0.0 or press.second_flux_linkage < 0.0:
        demagnetised = _peak(presser, rest, *presser.resting(0.0, volts))
    return Cause(
        press.largest,
        settled_peak(presser),
        charged,
        demagnetised,
        press.phase,
        press.flux_linkage,
        press.bank_voltage,
        press.second_flux_linkage,
        tuple(driven(presser.scenario, trace)),
        span=looked_at(presser.scenario.soft_start, presser.rule, 1.0 / presser.period),
    )


def settled_peak(presser: Presser) -> float:
    """Largest primary current of one period of settled running [A]."""
    rest = Rest(presser.before.state, presser.before.signature, 0.0, 0, Trigger(0.0, 0.0, 0.0))
    trace = presser.pressed(rest, None, end=presser.period, soft=None).trace()
    return float(np.abs(trace.extremes(["primary.current"])[0]).max())


def _peak(presser: Presser, rest: Rest, state: np.ndarray, signature: tuple[int, ...]) -> float:
    """Largest half-cycle peak of the press from another state and signature [A]."""
    other = dataclasses.replace(rest, state=state, signature=signature)
    return presser.press_from(other, presser.rule)[0].largest


def cause_of_the_worst(scenario: Scenario, cause: Cause) -> Verdict:
    """The same in words, of one core or of both."""
    left = left_told(scenario, cause.flux_linkage, cause.second_flux_linkage)
    return cause_verdict(cause, left, cores=cores_word(scenario))


def cause_verdict(cause: Cause, left: str, *, cores: str = "core") -> Verdict:
    """What makes the worst press, with the figures that say so; ``left`` is what was left in the core, in words.

    >>> print(cause_verdict(Cause(146.0, 131.0, 132.0, 145.0, 24.0, 0.38, 1.0), "+0.54 T left in the core").text[-88:])
    with a demagnetised core at 145 A: the charging of the bank makes it worse than running.
    """
    bank = "" if cause.bank_voltage is None else f" and {volts_told(cause.bank_voltage)} on the bank"
    tried = {
        "with the bank charged": cause.charged,
        "with a demagnetised core" if cores == "core" else f"with demagnetised {cores}": cause.demagnetised,
    }
    told = ", ".join(
        f"{how}{' it would peak' if k == 0 else ''} at {peak:.3g} A"
        for k, (how, peak) in enumerate((how, peak) for how, peak in tried.items() if math.isfinite(peak))
    )
    told = f" {told[0].upper()}{told[1:]}: " if told else " "
    text = (
        f"The press with the largest peak within {1e3 * cause.span:.0f} ms ({cause.worst:.3g} A) began at "
        f"{cause.phase:.0f} deg of the mains with {left}{bank}; settled running peaks at {cause.settled:.3g} A."
    )
    reach = driven_told(cause.driven)
    text += f"{' ' * bool(reach)}{reach}{told}"
    reason = _reason(cause, cores)
    return Verdict("cause", "note", text + (reason if told != " " else reason[0].upper() + reason[1:]) + ".")


def _reason(cause: Cause, cores: str) -> str:
    """The part that decides, by what the press would lose without it."""
    if cause.worst < (1.0 + ALIKE) * cause.settled:
        return "running itself asks for as much, and no way of switching on gets below it"
    least = (1.0 - ALIKE) * cause.worst
    makes = {
        "the charging of the bank": cause.charged < least,
        f"what was left in the {cores}": cause.demagnetised < least,
    }
    parts = [name for name, decides in makes.items() if decides]
    if len(parts) == 2 and cause.charged != cause.demagnetised:
        parts = [parts[0] if cause.charged < cause.demagnetised else parts[1]]
        return f"mostly {parts[0]} makes it worse than running"
    return f"{parts[0] if parts else 'the moment of the trigger'} makes it worse than running"
