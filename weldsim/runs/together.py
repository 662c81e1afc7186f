"""One piece of work shared by this process and others of our own: whoever is free takes the next job.

The others are started when more than one job waits, and take part once they are up, which takes them half a second:
what is done sooner is done here.  Threads would take turns wherever Python itself is at work, as it is half of the time
where modes are assembled.
"""

import contextlib
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, wait
from functools import partial
from types import TracebackType
from typing import Any, TypeVar

from weldsim.runs.processes import processes

Done = TypeVar("Done")
Job = tuple["_Shared", Callable[[], Any]]

LOOK = 0.2  # [s] from one look at what is left to do to the next


class _Shared(Future[Any]):
    """What a job will give; whoever waits for it does jobs meanwhile."""

    def __init__(self, together: "Together") -> None:
        super().__init__()
        self._together = together

    def result(self, timeout: float | None = None) -> Any:
        """What the job gave, as of any future; where no time is set, jobs are done here until it is there."""
        while timeout is None and not self.done():
            if not self._together.do_one():
                wait([self], LOOK)
        return super().result(timeout)


class Together(Executor):
    """This process and ``count`` - 1 others, which end with the ``with`` block."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._jobs: deque[Job] = deque()
        self._change = threading.Condition()
        self._block = contextlib.ExitStack()
        self._pool: Executor | None = None
        self._over = False

    def submit(self, work: Callable[..., Done], /, *arguments: Any, **named: Any) -> Future[Done]:
        """Put a job, plain data as ``work`` is, behind those that wait."""
        future = _Shared(self)
        self._put((future, partial(work, *arguments, **named)))
        if self._pool is None and len(self._jobs) > 1 and self.count > 1:
            self._pool = self._block.enter_context(processes(self.count - 1))
            for _ in range(self.count - 1):
                threading.Thread(target=self._hand_over, args=(self._pool,), daemon=True).start()
        return future

    def do_one(self) -> bool:
        """Do the next job here; False if none waits."""
        job = self._next()
        if job is None:
            return False
        future, work = job
        try:
            given = work()
        except Exception as error:
            future.set_exception(error)
        else:
            future.set_result(given)
        return True

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Give up what waits and end the other processes."""
        self._end()
        self._block.close()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()
        self._block.__exit__(kind, error, trace)

    def _end(self) -> None:
        with self._change:
            self._over = True
            for future, _ in self._jobs:
                future.cancel()
            self._change.notify_all()

    def _put(self, job: Job, *, first: bool = False) -> None:
        with self._change:
            if first:
                self._jobs.appendleft(job)
            else:
                self._jobs.append(job)
            self._change.notify()

    def _next(self, *, patient: bool = False) -> Job | None:
        """The next job that is still wanted; None if there is none, or, to who is ``patient``, when all is over."""
        with self._change:
            while not self._over:
                while self._jobs:
                    job = self._jobs.popleft()
                    if job[0].running() or job[0].set_running_or_notify_cancel():  # running: given back
                        return job
                if not patient:
                    return None
                self._change.wait()
        return None

    def _hand_over(self, pool: Executor) -> None:
        """Give jobs to one of the other processes, as long as there is one; what it leaves undone is given back."""
        job: Job | None = None
        try:
            pool.submit(_awake).result()
            while (job := self._next(patient=True)) is not None:
                future, work = job
                answer = pool.submit(work)
                if (error := answer.exception()) is None:
                    future.set_result(answer.result())
                elif isinstance(error, BrokenExecutor):
                    raise error
                else:
                    future.set_exception(error)
        except Exception:  # killed, ended, or never up
            if job is not None:
                self._put(job, first=True)


def _awake() -> None:
    """What a process does first: be there."""
