"""Burn-back: how long the power must outlast the feed for a wanted wire end, found on the same random draws."""

import dataclasses
import math
import threading

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.trigger import Trigger
from weldsim.runs.crew import Crew
from weldsim.runs.sequence_runs import IN_THE_TUBE, STUCK, Pulse, Sequencer
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number, Verdict
from weldsim.studies.progress import Progress

TIMES = (0.0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.125, 0.15, 0.2, 0.3)  # [s] looked at
TRIALS = 10  # at each of them
BRIEF = 0.6  # [s] of welding before a stop that is looked at: see ``brief``
NEAR = 2e-3  # [m] from the wanted wire end that still counts as met (common practice)


@dataclass(frozen=True)
class Ends:
    """Wire ends of some trials with one burn-back [m]; those that stuck or burnt into the tube are counted apart."""

    burn_back: float  # [s]
    lengths: tuple[float, ...]
    stuck: int
    in_the_tube: int

    @property
    def median(self) -> float:
        """Of all wire ends; a stuck wire counts with the whole way to the work."""
        return float(np.median(self.lengths)) if self.lengths else math.nan

    def row(self) -> dict:
        """As a case of an answer."""
        low, high = np.quantile(self.lengths, (0.05, 0.95)) if self.lengths else (math.nan, math.nan)
        return {
            "kind": "burn_back",
            "burn_back": self.burn_back,
            "wire_end": self.median,
            "wire_end_low": float(low),
            "wire_end_high": float(high),
            "stuck": self.stuck,
            "in_the_tube": self.in_the_tube,
            "trials": len(self.lengths),
        }


def ends_of(pulses: list[Pulse], burn_back: float) -> Ends:
    """Wire ends of spots or welds."""
    return Ends(
        burn_back,
        tuple(pulse.wire_end for pulse in pulses),
        sum(pulse.ending == STUCK for pulse in pulses),
        sum(pulse.ending == IN_THE_TUBE for pulse in pulses),
    )


@dataclass(frozen=True)
class Asked:
    """A supply that makes sequences, at one setting."""

    scenario: Scenario
    dial: float | None
    delay: float | None
    feed: float | None


class _Kept(threading.local):
    """What a thread made its sequences with of late."""

    def __init__(self) -> None:
        self.made: tuple[Asked, Sequencer] | None = None


_KEPT = _Kept()


def maker_of(asked: Asked) -> Sequencer:
    """What makes the sequences, this thread's own: the one of the time before, if that was asked alike."""
    if _KEPT.made is None or _KEPT.made[0] != asked:
        maker = Sequencer(asked.scenario, dial=asked.dial, delay=asked.delay, feed=asked.feed)
        _KEPT.made = asked, maker
    return _KEPT.made[1]


@dataclass(frozen=True)
class BurnBackJob:
    """Trials of one trigger sequence."""

    asked: Asked
    trigger: Trigger
    seed: int
    trials: int


def ends_of_job(job: BurnBackJob) -> Ends:
    """The wire ends of a job."""
    return ends_with(maker_of(job.asked), job.trigger, seed=job.seed, trials=job.trials)


def sweep(
    asked: Asked, trigger: Trigger, *, seed: int, trials: int = TRIALS, crew: Crew, progress: Progress
) -> list[Ends]:
    """Wire ends over the burn-back time."""
    triggers = [dataclasses.replace(brief(trigger), burn_back=time) for time in TIMES]
    jobs = [BurnBackJob(asked, table, seed, trials) for table in triggers]
    return crew.all_done(ends_of_job, jobs, progress=progress, what="burn-back times")


def brief(trigger: Trigger) -> Trigger:
    """The trigger, let go after ``BRIEF`` of welding at the latest.

    How a wire ends is decided by the last few dips: after 0.4, 0.6, 1 and 2 s of welding the medians of 40 trials lie
    within 0.1 mm of each other, at burn-backs of 50 and 125 ms, on a supply with bank and choke of either mains.
    """
    begin = trigger.pre_flow + max(trigger.power_delay, trigger.feed_delay)
    return dataclasses.replace(trigger, held=min(trigger.held, max(begin, trigger.tap) + BRIEF))


ASSUMED = f"Burn-back times are looked at behind {BRIEF:g} s of welding at most: the last dips decide how a wire ends."


def ends_with(maker: Sequencer, trigger: Trigger, *, seed: int, trials: int) -> Ends:
    """Wire ends of some trials of one trigger sequence, after its last span of power."""
    pulses = [maker.run(seed=seed, trial=trial, trigger=trigger).pulses[-1:] for trial in range(trials)]
    return ends_of([pulse for found in pulses for pulse in found], trigger.burn_back)


def time_for(swept: list[Ends], wire_end: float) -> float:
    """Burn-back [s] whose median wire end is the wanted one, between the times looked at; not a number beyond them.

    Where the median comes back to the wanted length more than once, the shortest time counts.
    """
    for first, second in zip(swept, swept[1:], strict=False):
        low, high = sorted((first.median, second.median))
        if low <= wire_end <= high and high > low:
            share = (wire_end - first.median) / (second.median - first.median)
            return first.burn_back + share * (second.burn_back - first.burn_back)
    return math.nan


def _why_not(wanted: float, longest: float, *, height: float) -> str:
    """What bounds the wire ends [mm], on the side of the one wanted."""
    if wanted > height:
        return (
            f"The work is {height:.3g} mm from the contact tube: hold the torch farther off for more (wire.extension)."
        )
    if wanted > longest:
        return "Bank and choke burn on after the power, which no burn-back gives back: less dial leaves more wire."
    return "The arc goes out where it grows longer than its volts hold it: at more dial it burns back farther."


def answer_for(  # noqa: PLR0913 (all by keyword)
    asked: Asked, trigger: Trigger, *, wire_end: float, seed: int, trials: int, crew: Crew, progress: Progress
) -> tuple[dict[str, Number], Verdict, list[dict]]:
    """Burn-back for a wanted wire end [m]: its numbers, the verdict, and the sweep; tried again on its own trials."""
    swept = sweep(asked, trigger, seed=seed, crew=crew, progress=progress)
    rows = [ends.row() for ends in swept]
    time = time_for(swept, wire_end)
    numbers = {"burn_back.wire_end": Number(wire_end, "m"), "burn_back.time": Number(time, "s")}
    if math.isnan(time):
        longest, shortest = (1e3 * pick(ends.median for ends in swept) for pick in (max, min))
        text = (
            f"No burn-back of 0 to {1e3 * TIMES[-1]:.0f} ms leaves {1e3 * wire_end:.3g} mm of wire: the median goes "
            f"from {longest:.3g} to {shortest:.3g} mm. "
            + _why_not(1e3 * wire_end, longest, height=1e3 * maker_of(asked).supply.constants.height)
        )
        return numbers, Verdict("burn_back", "fault", text), rows
    tried = ends_with(maker_of(asked), dataclasses.replace(trigger, burn_back=time), seed=seed + 1, trials=trials)
    row = tried.row()
    numbers |= {
        "burn_back.median": Number(tried.median, "m"),
        "burn_back.low": Number(row["wire_end_low"], "m"),
        "burn_back.high": Number(row["wire_end_high"], "m"),
        "burn_back.stuck": Number(tried.stuck, "1"),
    }
    bad = tried.stuck + tried.in_the_tube
    met = abs(tried.median - wire_end) <= NEAR
    level = "fault" if bad > 0.2 * len(tried.lengths) or not met else "note" if bad else "good"
    text = (
        f"Power that outlasts the feed by {1e3 * time:.3g} ms leaves {1e3 * tried.median:.3g} mm of wire "
        f"({1e3 * row['wire_end_low']:.3g} to {1e3 * row['wire_end_high']:.3g} mm, 5 to 95 of 100; wanted "
        f"{1e3 * wire_end:.3g} mm), tried on {len(tried.lengths)} other draws; {tried.stuck} stuck in the work, "
        f"{tried.in_the_tube} burnt into the tube. Assumed: torch held still, melting as of the wire's constants."
    )
    return numbers, Verdict("burn_back", level, text), rows
