"""Mode libraries handed on from one supply to the next: one holder at a time, and no number depends on them."""

import numpy as np
import pytest

import weldsim
from weldsim.runs.leases import _IDLE
from weldsim.runs.presses import Presser, drawn
from weldsim.runs.wire_runs import WireRun, WireSupply, phase_of


@pytest.fixture(autouse=True)
def nothing_idle():
    """Begin without idle libraries."""
    _IDLE.libraries.clear()


def shed():
    """The supply of these tests."""
    return weldsim.read("scenarios/toroid_shed_boost.toml")


def test_an_idle_library_goes_to_the_next_supply_alike():
    """While its holder lives another gets a library of its own; afterwards the modes are used again."""
    first = WireSupply(shed())
    library = first.library
    assert WireSupply(shed()).library is not library
    del first
    assert WireSupply(weldsim.vary(shed(), {"breaker.current": "20 A"})).library is library
    assert WireSupply(weldsim.vary(shed(), {"choke.inductance": "0.4 mH"})).library is not library


def test_a_strike_does_not_depend_on_the_modes_known():
    """The state at the end of a trial, in a process that is chaotic, is the same to the last bit."""

    def end(supply, trial):
        run = WireRun(supply, seed=4, trial=trial, delay=90.0, length=0.3, phase=phase_of(4, trial))
        run.run(stop_when_struck=False)
        return np.concatenate((run.stepper.x, run.state, run.told))

    learnt = WireSupply(shed())
    before = [end(learnt, trial) for trial in range(3)]
    for trial in range(3):
        assert np.array_equal(end(learnt, trial), before[trial], equal_nan=True)
        _IDLE.libraries.clear()
        assert np.array_equal(end(WireSupply(shed()), trial), before[trial], equal_nan=True)


def test_a_press_does_not_depend_on_the_modes_known():
    """Presses after pauses that the engine leaps through: met for the first time and met again."""
    presser = Presser(weldsim.read("scenarios/garage_60hz.toml"))
    triggers = [drawn(seed=2, trial=trial) for trial in range(4)]
    first = [presser.press(k, trigger)[1] for k, trigger in enumerate(triggers)]
    again = [presser.press(k, trigger)[1] for k, trigger in enumerate(triggers)]
    for one, other in zip(first, again, strict=True):
        assert np.array_equal(one.time, other.time)
        assert np.array_equal(one.state, other.state)
