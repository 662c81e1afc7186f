"""The first call of a kernel function compiles it: what Python does meanwhile, and that nothing of it stays."""

import gc

import pytest

from weldsim.engine.compiled import guarded


class Kernel:
    """Stands for a compiled function: it has no overloads before its first call."""

    def __init__(self, failure=None):
        self.overloads, self.swept, self.failure = [], [], failure

    def __call__(self, number):
        """Note whether the collector would sweep now."""
        self.swept.append(gc.isenabled())
        self.overloads.append("int64")
        if self.failure:
            raise self.failure
        return number


def test_only_compiling_is_left_unswept():
    """The collector rests in the first call alone, and goes on as before."""
    kernel = Kernel()
    door = guarded(kernel)
    assert [door(1), door(2)] == [1, 2]
    assert kernel.swept == [False, True]
    assert gc.isenabled()


def test_collector_goes_on_after_a_failure_and_stays_off_where_it_was():
    """Whatever the first call ends with, the collector is as it was found."""
    with pytest.raises(RuntimeError):
        guarded(Kernel(RuntimeError("no")))(1)
    assert gc.isenabled()
    gc.disable()
    try:
        guarded(Kernel())(1)
        assert not gc.isenabled()
    finally:
        gc.enable()
