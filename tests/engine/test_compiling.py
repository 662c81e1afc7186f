"""The first call of a kernel function compiles it: how, and that nothing of it stays."""

import gc

import numba
import numpy as np
import pytest
from numba.core.caching import IndexDataCacheFile

from weldsim.engine import compiled


def settings():
    """What compiling turns down: the optimizer's level, its vectorizers, the collector."""
    names = ("OPT", "LOOP_VECTORIZE", "SLP_VECTORIZE")
    return [int(getattr(numba.config, name)) for name in names], gc.isenabled()


def test_all_is_as_it_was_after_compiling():
    """Within it the optimizer is at its lightest and the collector rests, also in one begun within another."""
    before = settings()
    with compiled._lightly():
        assert settings() == ([1, 0, 0], False)
        with compiled._lightly():
            pass
        assert settings() == ([1, 0, 0], False)
    assert settings() == before
    with pytest.raises(RuntimeError), compiled._lightly():
        raise RuntimeError
    assert settings() == before


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
    monkeypatch.setattr(compiled, "LINKED", compiled._linked())

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
def test_machine_code_says_what_it_calls():
    """The mathematical library's sine and square root, by the compiler's own word or not; what it returns."""

    @compiled.inner
    def wave(numbers, angle):
        """A number times a sine, and its root."""
        return np.sqrt(numbers[0] * np.sin(angle))

    made = compiled.machine_code(wave, (np.ones(3), 0.5))
    assert made.returns == "float64"
    assert {"sin"} <= set(made.calls) <= {"sin", "sqrt"}


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
def test_a_full_disk_keeps_nothing_and_hinders_nothing(monkeypatch):
    """What others link is compiled all the same where there is no room to keep it."""
    tried = []

    def full(*_):
        tried.append(1)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(IndexDataCacheFile, "save", full)

    @compiled.shared
    def tripled(number):
        """Three times a number."""
        return 3.0 * number

    assert compiled.machine_code(tripled, (2.0,)).returns == "float64"
    assert tried or compiled._FOLDER is None
