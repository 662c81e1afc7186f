"""Samples of a state that decays and grows by turns, against its exponential functions written out here."""

import numpy as np
import pytest

from tests.engine.toys import bare, equations, with_clock
from weldsim.engine.library import ModeLibrary
from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import simulate
from weldsim.errors import SimulationError

RATES = (-200.0, 900.0, -2000.0, -30.0)  # [1/s] of the one state, in each segment
CHANGES = (1.37e-3, 2.0e-3, 2.0e-3 + 1.1e-6)  # [s] when the next one begins; none lasts long enough to grow far
END = 20e-3
SIGNALS = 9  # the k-th shows k + 1 times the state, plus ten times the segment's number
MILLISECOND = 2**26  # quanta
NAMES = tuple(f"y{k}" for k in range(SIGNALS))


def assemble(signature):
    """One state with the rate of its segment; a jump of all signals where the segment changes."""
    outputs = [[k + 1.0, 0.0, 0.0, 10.0 * signature[0]] for k in range(SIGNALS)]
    return equations(with_clock([[RATES[signature[0]], 0.0, 0.0, 0.0]]), outputs, [])


@pytest.fixture(scope="module")
def trace():
    """From one on, through all four segments; the last holds most of the time."""
    system = bare(assemble, 1, ("first", "second", "third", "fourth"), events=3, names=NAMES)
    commands = [(instant, k) for k, instant in enumerate(CHANGES)]
    return simulate(ModeLibrary(system, 20), RunPlan(0.0, END, np.ones(1), (0,), commands))


def told(signals, quanta):
    """The signals at instants in quanta, NaN outside the run; at a change they are those of the later segment."""
    begins = np.rint(np.array([0.0, *CHANGES]) * 1e3 * MILLISECOND)
    segment = np.searchsorted(begins, quanta, side="right") - 1
    spans = np.clip(np.asarray(quanta)[:, None] - begins, 0.0, np.append(np.diff(begins), np.inf))
    state = np.exp(spans @ np.array(RATES) * (1e-3 / MILLISECOND))
    state[(quanta < 0) | (quanta > END * 1e3 * MILLISECOND)] = np.nan
    return np.array([(k + 1.0) * state + 10.0 * segment for k in range(signals)])


@pytest.mark.parametrize("signals", [1, 3, 4, 8, 9])
@pytest.mark.parametrize(
    ("first", "spacing", "count"),
    [
        (0, MILLISECOND / 20, 401),  # to the very end; two changes fall on samples
        (0, 100_003.0, 13_420),  # whole quanta, of many bits
        (12_345, 100_003.4, 13_415),  # between quanta: the nearest one
        (0, 100_003.5, 2_000),  # half way between them: the even one
        (-5 * MILLISECOND, MILLISECOND / 64, 1_700),  # begins before the run and ends behind it
        (0, 77_777_777.7, 17),  # few
        (round(END * 1e3) * MILLISECOND, 1.0, 2),  # the end itself, and a quantum behind it
    ],
)
def test_samples_are_the_exponential_functions(trace, signals, first, spacing, count):
    """Each value is the closed form at its instant, rounded to quanta (1e-12 of it: rounding of some hundred products),
    and nothing is told of what was not recorded.
    """
    quanta = first + np.rint(np.arange(count) * spacing)
    values = trace.sample(NAMES[:signals], first * trace.quantum, spacing=spacing * trace.quantum, count=count)
    np.testing.assert_allclose(values, told(signals, quanta), rtol=1e-12)


def test_samples_of_nothing(trace):
    """No names or no instants give an array of that shape; what would begin behind the end is refused."""
    assert trace.sample([], 0.0, spacing=1e-4, count=5).shape == (0, 5)
    assert trace.sample(NAMES, 0.0, spacing=1e-4, count=0).shape == (SIGNALS, 0)
    with pytest.raises(SimulationError, match="outside the recorded part"):
        trace.sample(NAMES, 2.0 * END, spacing=1e-4, count=5)
