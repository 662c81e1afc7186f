"""A generator in place of the mains: its impedance, its sag, and a slow regulator that holds its terminal voltage.

     resistance   inductance
 o---[=======]----(((((((----o  plug
 |
(~)  emf = excitation - sag (load / rating), the excitation made by the regulator, at most its ceiling
 |
 o---------------------------o
"""

import dataclasses
import math

from weldsim import units
from weldsim.frozen import dataclass
from weldsim.parts.mains import Mains

# Of the impedance that takes the rating at rated voltage: what a step of load meets in a small single-phase set
# (common practice, no published source).
PER_UNIT_RESISTANCE, PER_UNIT_REACTANCE = 0.057, 0.089
SAG_TIME = 0.08  # [s] in which the sag comes (common practice, no published source)
REGULATORS = ("slow", "none")
RATINGS = (2e3, 3e3, 4e3, 5e3, 6.5e3, 8e3, 10e3, 12.5e3, 15e3, 20e3)  # [VA] usual sizes (common practice)
LARGE_RATINGS = (30e3, 45e3, 65e3, 100e3, 150e3, 200e3, 300e3, 500e3)  # [VA] for what those do not carry


@dataclass(frozen=True, kw_only=True)
class Generator:
    """Table [generator]: what stands in place of the mains; its voltage and frequency are those of [mains]."""

    rating: float = units.quantity("apparent_power", doc="continuous rating", low="100 VA", high="1000 kVA")
    resistance: float | None = units.quantity(
        "resistance", doc="of the generator; by its rating", low=0.0, high="100 ohm", default=None
    )
    inductance: float | None = units.quantity(
        "inductance", doc="met by a step of load; by its rating", low=0.0, high="1 H", default=None
    )
    sag: float = units.quantity(
        "fraction", doc="fall of the emf under its rating, a tenth of a second after", low=0.0, high=1.0, default=0.15
    )
    regulator: str = units.choice(REGULATORS, doc="whether the terminal voltage is held", default="slow")
    regulator_time: float = units.quantity(
        "time", doc="time constant of the regulator", low="10 ms", high="60 s", default="300 ms"
    )
    ceiling: float = units.ratio(
        doc="highest excitation of the regulator, in rated voltages", low=1.0, high=5.0, default=1.5
    )


def generator_resistance(generator: Generator, *, voltage: float) -> float:
    """Resistance of a generator: as written, or by its rating.

    R = 0.057 V^2 / S

    Parameters
    ----------
    generator : Generator
        The table [-].
    voltage : float
        Rated voltage, rms [V].

    Returns
    -------
    float
        Resistance [ohm].

    Examples
    --------
    >>> round(generator_resistance(Generator(rating=5000.0), voltage=230.0), 2)
    0.6

    References
    ----------
    Share of the rated impedance: common practice, no published source.
    """
    if generator.resistance is not None:
        return generator.resistance
    return PER_UNIT_RESISTANCE * voltage**2 / generator.rating


def generator_inductance(generator: Generator, *, voltage: float, frequency: float) -> float:
    """Inductance that a step of load meets in a generator: as written, or by its rating.

    L = 0.089 V^2 / (2 pi f S)

    Parameters
    ----------
    generator : Generator
        The table [-].
    voltage : float
        Rated voltage, rms [V].
    frequency : float
        Frequency [Hz].

    Returns
    -------
    float
        Inductance [H].

    Notes
    -----
    The subtransient reactance, which chopped current meets within a half cycle; the larger reactances that follow in
    a tenth of a second are the sag.

    Examples
    --------
    >>> round(1e3 * generator_inductance(Generator(rating=5000.0), voltage=230.0, frequency=50.0), 2)
    3.0

    References
    ----------
    Share of the rated impedance: common practice, no published source.
    """
    if generator.inductance is not None:
        return generator.inductance
    return PER_UNIT_REACTANCE * voltage**2 / generator.rating / (2.0 * math.pi * frequency)


def as_mains(generator: Generator, mains: Mains) -> Mains:
    """A generator written as mains: its emf without load behind its impedance, its wave clean.

    Parameters
    ----------
    generator : Generator
        The table [-].
    mains : Mains
        The table whose place it takes; voltage, frequency and tolerance are kept [-].

    Returns
    -------
    Mains
        Source and impedance at the generator's terminals [-].

    Notes
    -----
    Sag and regulator move the emf; they are no part of this.

    Examples
    --------
    >>> wall = Mains(voltage=230.0, frequency=50.0, resistance=0.3, background="flat top")
    >>> round(as_mains(Generator(rating=5000.0), wall).resistance, 2)
    0.6
    """
    return dataclasses.replace(
        mains,
        resistance=generator_resistance(generator, voltage=mains.voltage),
        inductance=generator_inductance(generator, voltage=mains.voltage, frequency=mains.frequency),
        background=(),
        dc_offset=0.0,
    )


def regulated_excitation(generator: Generator, excitation: float, *, seen: float, duration: float) -> float:
    """Excitation after a while of regulation: it follows what is missing at the terminals.

    x' = x + (1 - seen) (1 - exp(-t / T)), between 0 and the ceiling

    Parameters
    ----------
    generator : Generator
        The table [-].
    excitation : float
        Before it, as the emf without load over the rated voltage [1].
    seen : float
        Voltage at the terminals, rms, over the rated one [1].
    duration : float
        How long [s].

    Returns
    -------
    float
        After it [1]; unchanged without a regulator.

    Notes
    -----
    One integrator; real regulators overshoot a little.  Engine speed is taken as held.

    Examples
    --------
    A tenth is missing for a tenth of a second:

    >>> round(regulated_excitation(Generator(rating=5000.0), 1.0, seen=0.9, duration=0.1), 4)
    1.0283

    References
    ----------
    Derived here: first-order regulator.
    """
    if generator.regulator == "none":
        return excitation
    moved = excitation + (1.0 - seen) * (1.0 - math.exp(-duration / generator.regulator_time))
    return min(max(moved, 0.0), generator.ceiling)


def felt_load(before: float, *, load: float, duration: float) -> float:
    """Load that the emf has given way to so far: follows the load within a tenth of a second.

    l' = l + (load - l) (1 - exp(-t / 0.08 s))

    Parameters
    ----------
    before : float
        Felt so far, over the rating [1].
    load : float
        Apparent power now, over the rating [1].
    duration : float
        How long [s].

    Returns
    -------
    float
        Felt after it [1].

    Examples
    --------
    >>> round(felt_load(0.0, load=1.0, duration=0.08), 3)
    0.632

    References
    ----------
    Derived here: first-order lag; its time constant is common practice.
    """
    return before + (load - before) * (1.0 - math.exp(-duration / SAG_TIME))
