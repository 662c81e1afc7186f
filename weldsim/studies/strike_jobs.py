"""Strikes of one supply at one setting, as a job that any worker can do."""

from collections.abc import Sequence

from weldsim.frozen import dataclass
from weldsim.runs.crew import Crew
from weldsim.runs.wire_runs import Trial, WireSupply, strike_trial
from weldsim.scenario.document import Scenario
from weldsim.studies.progress import Progress, silent
from weldsim.studies.strike_traces import StrikeTrace, typical_traces


@dataclass(frozen=True)
class Setting:
    """What all trials of a comparison share: delay [deg], feed [m/s], start of the draws."""

    delay: float | None
    feed: float | None
    seed: int


@dataclass(frozen=True)
class StrikeJob:
    """The first so many trials on a supply at one setting after the other, by one worker, which learns its modes."""

    scenario: Scenario
    settings: tuple[Setting, ...]
    count: int
    case: str = ""
    boost_connected: bool = True
    traced: bool = False  # whether a typical success and failure are recorded too


@dataclass(frozen=True, eq=False)
class Struck:
    """The trials of a job for each of its settings, and traces of typical ones."""

    trials: tuple[list[Trial], ...]
    traces: list[StrikeTrace]


def strikes(job: StrikeJob, progress: Progress = silent) -> Struck:
    """All trials of a job."""
    supply = WireSupply(job.scenario, boost_connected=job.boost_connected)
    done: list[list[Trial]] = []
    what, whole = f"strikes {job.case}".strip(), job.count * len(job.settings)
    for setting in job.settings:
        done.append([])
        for trial in range(job.count):
            done[-1].append(
                strike_trial(supply, seed=setting.seed, trial=trial, delay=setting.delay, feed=setting.feed)
            )
            progress((len(done) - 1) * job.count + trial + 1, whole, what)
    traces = []
    if job.traced:
        first = job.settings[0]
        traces = typical_traces(supply, done[0], case=job.case, seed=first.seed, delay=first.delay, feed=first.feed)
    return Struck(tuple(done), traces)


def all_struck(crew: Crew, jobs: Sequence[StrikeJob], progress: Progress = silent) -> list[Struck]:
    """What some jobs gave; a crew of one tells of every trial, as for a single job, others of every job."""
    if crew.pool is None or len(jobs) == 1:
        return [strikes(job, progress) for job in jobs]
    return crew.all_done(strikes, jobs, progress=progress, what="supplies struck with")
