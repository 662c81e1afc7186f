"""Many presses in batches: by one worker, by threads, or by an executor of the caller's."""

from collections.abc import Iterable
from concurrent.futures import Executor, ThreadPoolExecutor, as_completed
from dataclasses import dataclass

from weldsim.runs.presses import AS_IT_IS, Press, Presser, Setting, drawn
from weldsim.scenario.document import Scenario

BATCH = 125  # presses of one job


@dataclass(frozen=True)
class Batch:
    """A job of some presses, small enough to be handed to another process."""

    scenario: Scenario
    setting: Setting
    seed: int
    trials: tuple[int, ...]


def press_batch(batch: Batch) -> list[Press]:
    """All presses of a batch, on a supply of its own."""
    presser = Presser(batch.scenario, batch.setting)
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
    """Presses 0 .. count-1 in batches, as they are finished; the same numbers whatever the workers.

    ``executor`` is any concurrent.futures Executor; without one, threads are used.
    """
    trials = list(range(count))
    batches = [Batch(scenario, setting, seed, tuple(trials[k : k + BATCH])) for k in range(0, count, BATCH)]
    if executor is None and (workers or 2) == 1:
        presser = Presser(scenario, setting)
        for batch in batches:
            yield [presser.press(trial, drawn(seed, trial))[0] for trial in batch.trials]
        return
    own = executor is None
    pool = executor if executor is not None else ThreadPoolExecutor(workers or 2)
    try:
        for future in as_completed([pool.submit(press_batch, batch) for batch in batches]):
            yield future.result()
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
