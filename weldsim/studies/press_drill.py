"""The re-press drill.

A train of trigger presses as one simulation, with remanence, bank charge and breaker memory carried through.
"""

import math
from dataclasses import dataclass

import numpy as np

from weldsim.errors import QuestionError
from weldsim.parts.protection import instantaneous_band
from weldsim.runs.presses import HalfCycle, Presser, half_cycles
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number, Verdict
from weldsim.studies.inrush import check_question

PRESSES = 10
ON, OFF = 0.8, 0.7  # [s]
JITTER = 0.5  # of a period: the trigger knows nothing of the mains


@dataclass(frozen=True)
class DrillPress:
    """One press of a drill."""

    number: int
    begin: float  # [s] from the first press
    phase: float  # [deg]
    flux_linkage: float  # [V s] in the core at the trigger
    bank_voltage: float  # [V] at the trigger
    half_cycles: tuple[HalfCycle, ...]
    rms: float  # [A] primary current over the press

    @property
    def largest(self) -> float:
        """Largest half-cycle peak [A]."""
        return max((half.peak for half in self.half_cycles), default=0.0)


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    presses: int = PRESSES,
    on: float = ON,
    off: float = OFF,
    seed: int = 1,
    dial: float | None = None,
    delay: float | None = None,
) -> Answer:
    """A train of presses, ``on`` seconds each with ``off`` seconds between, at moments that know nothing of the mains.

    Returns
    -------
    Answer : rows "press" in order; numbers presses.count, presses.tripped, press_<n>.peak of the worst.

    Raises
    ------
    QuestionError : no presses, no time on, or no core; WiringError, SimulationError.
    """
    check_question(scenario, presses)
    if on <= 0.0 or off < 0.0:
        raise QuestionError(
            f"on {on:g} s and off {off:g} s make no train", place="presses", advice="give times above zero"
        )
    done = drill(scenario, presses=presses, times=(on, off), seed=seed, dial=dial, delay=delay)
    limit = _limit(scenario)
    peaks = np.array([press.largest for press in done])
    worst = done[int(peaks.argmax())]
    numbers = {
        "presses.count": Number(len(done), "1"),
        "presses.worst": Number(worst.number, "1"),
        "first_peak.worst": Number(float(peaks.max()), "A"),
        "first_peak.median": Number(float(np.median(peaks)), "A"),
        "press_5.peak": Number(float(peaks[4]) if len(peaks) > 4 else math.nan, "A"),
    }
    if limit is not None:
        numbers["presses.tripped"] = Number(int((peaks > limit).sum()), "1")
    rows = [
        {
            "kind": "press",
            "number": p.number,
            "begin": p.begin,
            "phase": p.phase,
            "flux_linkage": p.flux_linkage,
            "bank_voltage": p.bank_voltage,
            "peak": p.largest,
            "rms": p.rms,
            "tripped": limit is not None and p.largest > limit,
        }
        for p in done
    ]
    return Answer(
        "drill",
        scenario,
        numbers,
        [_verdict(scenario, done, limit)],
        [
            f"One continuous simulation, seed {seed}: {on:g} s on, {off:g} s off, each moment shifted by up to half a "
            f"mains period at random.",
            "The breaker's magnetic part only: largest half-cycle peak over sqrt2 against the middle of its band "
            "(common practice).",
        ],
        rows=rows,
        runs={},
    )


def drill(
    scenario: Scenario,
    *,
    presses: int,
    times: tuple[float, float],
    seed: int,
    dial: float | None = None,
    delay: float | None = None,
) -> list[DrillPress]:
    """Simulate the train from the scenario's own start."""
    presser = Presser(scenario, dial=dial, delay=delay)
    shifts = (
        np.random.Generator(np.random.Philox(np.random.SeedSequence((seed, 0)))).random(2 * presses)
        * 2.0
        * JITTER
        * presser.period
    )
    begins = [k * (times[0] + times[1]) + shifts[2 * k] for k in range(presses)]
    ends = [begin + times[0] + shifts[2 * k + 1] * (times[1] > 2.0 * presser.period) for k, begin in enumerate(begins)]
    state, signature = presser.supply.rest()
    found, now = [], 0.0
    for k, (begin, end) in enumerate(zip(begins, ends, strict=True)):
        resting = presser.continued(state, signature, (now, begin), [])
        state, signature = resting
        stepper = presser.gated(state, signature, (begin, end))
        stepper.run_to(end)
        trace = stepper.trace()
        start = {
            name: float(trace.rows([name], trace.mode[:1])[0, 0] @ trace.state[0])
            for name in ("core.flux_linkage", "bank.voltage")
            if name in presser.signals
        }
        found.append(
            DrillPress(
                k + 1,
                begin,
                360.0 * (begin / presser.period % 1.0),
                start.get("core.flux_linkage", math.nan),
                start.get("bank.voltage", 0.0),
                half_cycles(trace, begin),
                trace.integrals(begin, end).rms("primary.current"),
            )
        )
        state, signature, now = presser.state_of(stepper), presser.signature_of(stepper), end
    return found


def _limit(scenario: Scenario) -> float | None:
    """Peak [A] at the middle of the breaker's instantaneous band."""
    band = instantaneous_band(scenario.breaker) if scenario.breaker is not None else None
    return None if band is None else 0.5 * (band[0] + band[1]) * math.sqrt(2.0)


def _verdict(scenario: Scenario, done: list[DrillPress], limit: float | None) -> Verdict:
    worst = max(done, key=lambda press: press.largest)
    usual = float(np.median([press.largest for press in done]))
    text = (
        f"Press {worst.number} of {len(done)} is the worst: {worst.largest:.3g} A against a median of {usual:.3g} A. "
        f"It began at {worst.phase:.0f} deg of the mains with "
        f"{worst.flux_linkage:+.3g} V.s left in the core and {worst.bank_voltage:.3g} V on the bank."
    )
    if limit is None or scenario.breaker is None:
        return Verdict("drill", "note", text)
    tripped = [press.number for press in done if press.largest > limit]
    level = "fault" if tripped else "good"
    which = f"Presses {', '.join(map(str, tripped[:12]))} trip" if tripped else "None trips"
    return Verdict(
        "drill",
        level,
        f"{text} {which} the {scenario.breaker.curve}{scenario.breaker.current:g} breaker at the middle of its band "
        f"({limit:.3g} A peak).",
    )
