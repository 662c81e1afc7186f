"""A supply on a generator with its sag and its regulator: settled, and through a step of load."""

from collections.abc import Callable

from weldsim.frozen import dataclass
from weldsim.parts.generator import Generator, felt_load, regulated_excitation
from weldsim.runs.steady import MOST_PERIODS, Settled, settle
from weldsim.runs.supply import Supply, supply_of
from weldsim.scenario.document import Scenario

HELD = 1e-5  # of the rated voltage: how closely a settled regulator holds it
TRIES = 40
HUNTING_PERIODS = 25  # looked at, of a state that does not repeat
LEAST_EMF, MOST_EMF = 0.2, 5.0  # looked at, over the rated voltage


@dataclass(frozen=True)
class Period:
    """One mains period of a step of load."""

    time: float  # [s] its end, from the moment the load comes on
    excitation: float  # over the rated voltage
    emf: float  # likewise
    plug: float  # voltage at the terminals over the rated one, rms
    current: float  # mean of the output current [A]
    primary: float  # rms [A]


def settle_fed(
    supply: Supply,
    *,
    delay: float | None,
    mains_factor: float = 1.0,
    patience: int = MOST_PERIODS,
    after: Settled | None = None,
) -> Settled:
    """The settled state of a supply on what feeds it: the mains, or a generator with its regulator settled too.

    On a generator ``mains_factor`` is the voltage that its regulator is set to, over the rated one; the factor by which
    the source was scaled in the end is the state's ``source_factor``.
    """
    generator = supply.scenario.generator
    if generator is None:
        return settle(supply, delay=delay, mains_factor=mains_factor, patience=patience, after=after)
    found: dict[float, Settled] = {}

    def answer(emf: float) -> tuple[float, float]:
        factor = mains_factor * emf
        found[emf] = settle(supply, delay=delay, mains_factor=factor, patience=patience, after=after)
        plug, apparent = _terminals(supply, found[emf], delay)
        return plug / (mains_factor * supply.scenario.mains.voltage), apparent / generator.rating

    emf, _ = settled_emf(generator, answer)
    return found[emf]


def _terminals(supply: Supply, settled: Settled, delay: float | None) -> tuple[float, float]:
    """Volts, rms, at the generator's terminals and the apparent power drawn there [V, VA]."""
    end = (1 if settled.periodic else HUNTING_PERIODS) * supply.period
    span, factor = (0.0, end), settled.source_factor
    stepper = supply.stepper(settled.state, settled.signature, span, delay=delay, mains_factor=factor)
    stepper.run_to(end)
    integrals = stepper.trace().integrals(*span)
    plug = integrals.rms("plug.voltage")
    return plug, plug * integrals.rms("primary.current")


def settled_emf(generator: Generator, answer: Callable[[float], tuple[float, float]]) -> tuple[float, float]:
    """The emf at which generator and load settle, and the excitation for it, both over the rated voltage.

    ``answer`` gives for an emf the voltage at the terminals over the rated one, and the load over the rating.  The
    regulator holds the voltage, unless that takes more than its ceiling; without one the excitation is 1.
    """
    limit = 1.0 if generator.regulator == "none" else generator.ceiling

    def error(emf: float) -> tuple[float, float]:
        plug, load = answer(emf)
        excitation = emf + generator.sag * load
        beyond = excitation - limit
        return (beyond if generator.regulator == "none" else max(plug - 1.0, beyond)), excitation

    low, high, emf = LEAST_EMF, MOST_EMF, 1.0
    missing, excitation = error(emf)
    for _ in range(TRIES):
        if abs(missing) < HELD:
            break
        low, high = (low, emf) if missing > 0.0 else (emf, high)
        guess = emf - missing  # both errors grow with the emf nearly one to one
        emf = guess if low < guess < high else 0.5 * (low + high)
        missing, excitation = error(emf)
    return emf, excitation


def step_of_load(scenario: Scenario, *, delay: float | None, duration: float) -> list[Period]:
    """Period by period from rest, sag and regulator at work, the gate driven from the first zero crossing on.

    The emf is held within a period: sag and regulator are slower.
    """
    generator = scenario.generator
    assert generator is not None
    supply, rated = supply_of(scenario), scenario.mains.voltage
    state, signature = supply.rest()
    excitation, felt = 1.0, 0.0
    found: list[Period] = []
    for number in range(1, round(duration / supply.period) + 1):
        emf = max(excitation - generator.sag * felt, 0.0)
        stepper = supply.stepper(state, signature, (0.0, supply.period), delay=delay, mains_factor=emf)
        stepper.run_to(supply.period)
        trace = stepper.trace()
        integrals = trace.integrals(0.0, supply.period)
        plug, primary = integrals.rms("plug.voltage"), integrals.rms("primary.current")
        current = integrals.mean("output.current") if scenario.rectifier else integrals.rms("output.current")
        found.append(Period(number * supply.period, excitation, emf, plug / rated, current, primary))
        excitation = regulated_excitation(generator, excitation, seen=plug / rated, duration=supply.period)
        felt = felt_load(felt, load=plug * primary / generator.rating, duration=supply.period)
        state = trace.end_state[: len(state)].copy()
        signature = trace.signatures[trace.end_mode]
    return found
