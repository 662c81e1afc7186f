"""Work shared by this process and others: same results whoever does it, nothing started for little, nothing left."""

import math
import multiprocessing
import os
import time

import pytest

from weldsim.runs.crew import Crew
from weldsim.runs.together import Together


def who(seconds: float) -> int:
    """The process that waits so long."""
    time.sleep(seconds)
    return os.getpid()


def die_elsewhere(home: int) -> int:
    """End every process but one at once; that one tells who it is."""
    if os.getpid() != home:
        os._exit(1)
    time.sleep(0.02)
    return os.getpid()


@pytest.mark.parametrize("count", [1, 2])
def test_results_come_in_the_order_of_the_jobs(count):
    """Square roots of 0, 1, 4, 9 ... are 0, 1, 2, 3 ... whoever is done first."""
    with Together(count) as pool, Crew(executor=pool) as crew:
        assert list(crew.each(math.sqrt, [k * k for k in range(50)])) == list(range(50))


def test_one_job_starts_no_process():
    """What cannot be shared is done here; with a second job another process is started."""
    with Together(2) as pool:
        assert pool.submit(who, 0.0).result() == os.getpid()
        assert pool._pool is None
        futures = [pool.submit(who, 0.0) for _ in range(2)]
        assert pool._pool is not None
        assert len([future.result() for future in futures]) == 2
    assert not multiprocessing.active_children()


def test_another_process_takes_part():
    """Jobs of a tenth of a second, for some seconds: both processes do some of them."""
    with Together(2) as pool, Crew(executor=pool) as crew:
        begin, found = time.monotonic(), set()
        while len(found) < 2 and time.monotonic() - begin < 300.0:
            found |= set(crew.each(who, [0.1] * 20))
    assert len(found) == 2
    assert os.getpid() in found


def test_an_error_in_a_job_is_told_wherever_it_was():
    """The logarithm of zero is refused by the standard library; the jobs before it are given."""
    with Together(2) as pool, Crew(executor=pool) as crew:
        given = crew.each(math.log, [1.0] * 30 + [0.0] + [2.0] * 30)
        assert [next(given) for _ in range(30)] == [0.0] * 30
        with pytest.raises(ValueError, match="math domain|positive"):
            next(given)


def test_what_a_killed_process_leaves_is_done_here():
    """Each job ends whatever process does it but this one: all are done in the end."""
    with Together(3) as pool, Crew(executor=pool) as crew:
        assert set(crew.each(die_elsewhere, [os.getpid()] * 100)) == {os.getpid()}


def test_left_by_an_error_it_waits_for_nobody():
    """What the other process is at, and what nobody has begun, is given up."""
    begin, futures = time.monotonic(), []

    def left():
        with Together(2) as pool:
            futures.extend(pool.submit(who, 600.0) for _ in range(3))
            while not futures[0].running():
                time.sleep(0.05)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        left()
    assert time.monotonic() - begin < 300.0  # half of what was asked for
    assert futures[2].cancelled()
    assert not multiprocessing.active_children()
