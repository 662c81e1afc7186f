"""Who computes the many runs of a study: this thread alone, threads of its own, or an executor of the caller's."""

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from types import TracebackType
from typing import Any, TypeVar

Job = TypeVar("Job")
Done = TypeVar("Done")


class Crew:
    """Workers that share out jobs; ``with Crew(...) as crew`` lets them go at the end.

    A job and the function that does it are plain data, so that another process may do it; what a job gives does not
    depend on who does it.  One worker without an executor is this thread itself.
    """

    def __init__(self, workers: int | None = None, executor: Executor | None = None) -> None:
        count = workers or cores()
        self.own = ThreadPoolExecutor(count) if executor is None and count > 1 else None
        self.pool = executor if executor is not None else self.own

    def __enter__(self) -> "Crew":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.own is not None:
            self.own.shutdown(cancel_futures=True)

    def each(self, work: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
        """What the jobs give, in their order, each as soon as it and those before it are done."""
        if self.pool is None:
            return map(work, jobs)
        return _results([self.pool.submit(work, job) for job in jobs])

    def all_done(
        self, work: Callable[[Job], Done], jobs: Sequence[Job], *, progress: Callable[[int, int, str], None], what: str
    ) -> list[Done]:
        """The same as a list; ``progress`` is told how many of them there are already, and what they are called."""
        found: list[Done] = []
        for one in self.each(work, jobs):
            found.append(one)
            progress(len(found), len(jobs), what)
        return found


def _results(futures: Sequence[Future[Any]]) -> Iterator[Any]:
    """Results in order; those that have not begun are given up where one fails or nobody wants more."""
    try:
        for future in futures:
            yield future.result()
    finally:
        for future in futures:
            future.cancel()


ALONE = Crew(1)


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
