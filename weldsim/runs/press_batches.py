"""Many presses in batches: by one worker, by threads, or by an executor of the caller's."""

import os
import threading
from collections.abc import Iterable
from concurrent.futures import Executor, ThreadPoolExecutor, as_completed
from dataclasses import dataclass

from weldsim.runs.presses import AS_IT_IS, Press, Presser, Setting, drawn
from weldsim.scenario.document import Scenario

BATCH = 50  # presses of one job


@dataclass(frozen=True)
class Batch:
    """A job of some presses, small enough to be handed to another process."""

    scenario: Scenario
    setting: Setting
    seed: int
    trials: tuple[int, ...]


class _Kept(threading.local):
    """The supply that a thread pressed last, for its next batch."""

    asked: tuple[Scenario, Setting] | None = None
    presser: Presser | None = None


_KEPT = _Kept()


def press_batch(batch: Batch) -> list[Press]:
    """All presses of a batch, on a supply that belongs to this thread alone."""
    asked = (batch.scenario, batch.setting)
    if _KEPT.presser is None or asked != _KEPT.asked:
        _KEPT.presser, _KEPT.asked = Presser(batch.scenario, batch.setting), asked
    presser = _KEPT.presser
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

    ``executor`` is any concurrent.futures Executor; without one, threads are used, one for each core.
    """
    batches = [Batch(scenario, setting, seed, tuple(range(k, min(k + BATCH, count)))) for k in range(0, count, BATCH)]
    workers = workers or cores()
    if executor is None and workers == 1:
        yield from map(press_batch, batches)
        return
    own = executor is None
    pool = executor if executor is not None else ThreadPoolExecutor(workers)
    try:
        for future in as_completed([pool.submit(press_batch, batch) for batch in batches]):
            yield future.result()
    finally:
        if own:
            pool.shutdown(cancel_futures=True)


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
