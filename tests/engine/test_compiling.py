"""The first call of a kernel function compiles it: how, and that nothing of it stays."""

import gc

import numba
import numpy as np
import pytest
from numba.core.types.functions import BaseFunction

from weldsim.engine import compiled
from weldsim.engine.machine import machine_code


def settings():
    """What compiling turns down: the optimizer's level, its vectorizers, the collector."""
    names = ("OPT", "LOOP_VECTORIZE", "SLP_VECTORIZE")
    return [int(getattr(numba.config, name)) for name in names], gc.isenabled()


def call_type():
    """What numba asks for the type of a call."""
    return BaseFunction.get_call_type


def test_all_is_as_it_was_after_compiling():
    """Within it the optimizer is at its lightest and the collector rests, also in one begun within another."""
    before, asked = settings(), call_type()
    with compiled._lightly():
        assert settings() == ([1, 0, 0], False)
        with compiled._lightly():
            pass
        assert settings() == ([1, 0, 0], False)
    assert settings() == before
    with pytest.raises(RuntimeError), compiled._lightly():
        raise RuntimeError
    assert settings() == before
    assert call_type() is asked


def test_the_collector_stays_off_where_it_was():
    """Who has switched it off finds it so."""
    gc.disable()
    try:
        with compiled._lightly():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
@pytest.mark.parametrize("tried", [((0, 60), numba.version_info.short), ((0, 1), (0, 2))])
def test_what_is_only_linked_becomes_no_code_by_itself(monkeypatch, tried):
    """It works within what calls it; with a numba that this was never tried with, it is compiled as numba does."""
    monkeypatch.setattr(compiled, "TRIED", tried)
    monkeypatch.setattr(compiled, "LINKED", compiled._ways()[1])

    @compiled.inner
    def doubled(number):
        """Twice a number."""
        return number + number

    @numba.njit
    def more(number):
        """One more than twice a number."""
        return doubled(number) + 1.0

    assert more(3.0) == 7.0
    (made,) = doubled.overloads.values()
    assert made.library._compiled == (tried[0] == (0, 1))


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
def test_what_is_left_out_changes_no_number():
    """A loop with a choice and a conditional expression: as Python has it, and as the whole compiler makes it."""

    def mixed(numbers, pair):
        """Some of all."""
        total, last = 0.0, -1
        for i in range(numbers.shape[0]):
            if numbers[i] > pair[0]:
                last = i
            total += numbers[i] ** 2 if last < 0 else min(numbers[i], pair[1]) / (i + 1)
        return total + last

    numbers, pair = np.linspace(-1.0, 2.0, 31), (0.5, 1.5)
    lean = numba.njit(**compiled.LEAN)(mixed)
    with compiled._lightly():
        lean.compile((numba.typeof(numbers), numba.typeof(pair)))
        again = numba.njit(**compiled.LEAN)(mixed)
        again.compile((numba.typeof(numbers), numba.typeof(pair)))
    whole = numba.njit(mixed)

    @numba.njit
    def both(numbers, pair):
        """What is compiled without a door for Python is called from what has one."""
        return lean(numbers, pair), again(numbers, pair)

    assert both(numbers, pair) == (whole(numbers, pair),) * 2
    assert whole(numbers, pair) == pytest.approx(mixed(numbers, pair), rel=1e-14)  # sums in another order


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
def test_machine_code_says_what_it_calls():
    """The mathematical library's sine and square root, by the compiler's own word or not; what it returns."""

    @compiled.inner
    def wave(numbers, angle):
        """A number times a sine, and its root."""
        return np.sqrt(numbers[0] * np.sin(angle))

    made = machine_code(compiled.intermediate(wave, (np.ones(3), 0.5)), "d1 f")
    assert made.returns == "float64"
    assert {"sin"} <= set(made.calls) <= {"sin", "sqrt"}
