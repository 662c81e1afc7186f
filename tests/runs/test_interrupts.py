"""Ctrl-C held back and let through again, and processes that never hear it."""

import os
import signal
import threading
import time
from concurrent.futures.process import BrokenProcessPool

import pytest

from weldsim.runs.interrupts import blocked_for_children, held_back, leave_to_the_parent
from weldsim.runs.processes import processes

needs_masks = pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="this system has no signal masks")


def test_held_back_and_let_through():
    """The interrupt is noted at once and arrives when the block is done; the handler before is back."""
    noted = []

    def work():
        with held_back(lambda: noted.append("heard")):
            signal.raise_signal(signal.SIGINT)
            noted.append("done")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert noted == ["heard", "done"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_other_threads_hold_nothing_back():
    """Only the main thread may set a handler; elsewhere the block is just done."""
    done = []

    def work():
        with held_back():
            done.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == [signal.default_int_handler]


@needs_masks
def test_children_begin_with_interrupts_blocked():
    """Inside the block the signal is in the mask that a child inherits; afterwards the mask is what it was."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, set())
    with blocked_for_children():
        assert signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, set())
    assert signal.pthread_sigmask(signal.SIG_BLOCK, set()) == before


@needs_masks
def test_a_child_leaves_interrupts_to_its_parent():
    """Ignored for good, and no longer blocked."""
    handler, mask = signal.getsignal(signal.SIGINT), signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        leave_to_the_parent()
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
        assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, set())
    finally:
        signal.signal(signal.SIGINT, handler)
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)


@needs_masks
def test_processes_survive_an_interrupt_while_they_start():
    """Sent a signal from the moment they exist, they start all the same and do their work."""
    with processes(2) as pool:
        futures = [pool.submit(os.getpid) for _ in range(2)]
        for _ in range(20):
            for number in list(pool._processes):
                os.kill(number, signal.SIGINT)
            time.sleep(0.01)
        assert {future.result(timeout=300) for future in futures} <= set(pool._processes)


def test_processes_end_with_the_block():
    """Left by an error, the block does not wait for what they are doing."""
    futures = []

    def work():
        with processes(1) as pool:
            futures.append(pool.submit(time.sleep, 600.0))
            raise ZeroDivisionError

    begin = time.monotonic()
    with pytest.raises(ZeroDivisionError):
        work()
    assert isinstance(futures[0].exception(timeout=300), BrokenProcessPool)
    assert time.monotonic() - begin < 300.0  # half of what it was asked to do
