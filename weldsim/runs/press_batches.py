"""Many presses in batches, and the supplies that each worker keeps for them."""

import threading
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor

from weldsim.frozen import dataclass
from weldsim.runs.crew import Crew
from weldsim.runs.presses import AS_IT_IS, Press, Presser, Setting, drawn
from weldsim.scenario.document import Scenario

BATCH = 50  # presses of one job
KEPT = 3  # supplies of one worker


@dataclass(frozen=True)
class Batch:
    """A job of some presses, small enough to be handed to another process."""

    scenario: Scenario
    setting: Setting
    seed: int
    trials: tuple[int, ...]


class _Kept(threading.local):
    """The supplies that a thread pressed of late, for its next jobs."""

    def __init__(self) -> None:
        self.pressers: list[Presser] = []


_KEPT = _Kept()


def presser_of(scenario: Scenario, setting: Setting = AS_IT_IS) -> Presser:
    """A supply to press that belongs to this thread alone; one at the same dial or delay brings its modes."""
    kept = _KEPT.pressers
    alike = [one for one in kept if one.asked == scenario and _of_dial(one.setting) == _of_dial(setting)]
    same = [one for one in alike if one.setting == setting]
    found = same[0] if same else alike[0].set_to(setting) if alike else Presser(scenario, setting)
    _KEPT.pressers = [one for one in kept if one is not found][1 - KEPT :] + [found]
    return found


def _of_dial(setting: Setting) -> tuple[float | None, float | None]:
    return setting.dial, setting.delay


def press_batch(batch: Batch) -> list[Press]:
    """All presses of a batch."""
    presser = presser_of(batch.scenario, batch.setting)
    return [presser.press(trial, drawn(batch.seed, trial))[0] for trial in batch.trials]


def press_many(
    scenario: Scenario,
    *,
    count: int,
    seed: int,
    setting: Setting = AS_IT_IS,
    workers: int | None = None,
    executor: Executor | None = None,
) -> Iterable[list[Press]]:
    """Presses 0 .. count-1 in batches, in their order; the same numbers whatever the workers.

    ``executor`` is any concurrent.futures Executor; without one, threads are used, one for each core.
    """
    with Crew(workers, executor) as crew:
        yield from press_by(crew, scenario, count=count, seed=seed, setting=setting)


def press_by(
    crew: Crew, scenario: Scenario, *, count: int, seed: int, setting: Setting = AS_IT_IS
) -> Iterator[list[Press]]:
    """The same by a crew that has more to do afterwards."""
    batches = [Batch(scenario, setting, seed, tuple(range(k, min(k + BATCH, count)))) for k in range(0, count, BATCH)]
    yield from crew.each(press_batch, batches)
