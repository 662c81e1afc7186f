"""The mains: an ideal source with harmonics and a little direct voltage, behind the impedance of the house and street.

     resistance   inductance
 o---[=======]----(((((((----o  plug (supply lead or primary follows)
 |
(~)  sqrt2 voltage sin(w t) + background + dc offset
 |
 o---------------------------o
"""

import math

from weldsim import units
from weldsim.frozen import dataclass

# One house, one evening: a published measurement of a single site, not a rule (data/mains_background).  Phases there
# are those of cosines counted from the crest of the fundamental; the sine of order n has 90 (n - 1) degrees less.
_MEASURED_EVENING = (
    (3, 0.0154, 65.0),
    (5, 0.0154, -139.0),
    (7, 0.0112, 58.0),
    (9, 0.0029, 101.0),
    (11, 0.0055, -67.0),
    (13, 0.0072, 63.0),
    (15, 0.0034, 142.0),
)
# Third and fifth harmonic that both flatten the crest: what rectifiers next door do (common practice, no source).
_FLAT_TOP = ((3, 0.02, 0.0), (5, 0.02, 180.0))
# Harmonics to order 13 at the limits of EN 50160 (as given in product notes); phases chosen here to flatten the crest.
_AT_THE_LIMITS = (
    (3, 0.05, 0.0),
    (5, 0.06, 180.0),
    (7, 0.05, 0.0),
    (9, 0.015, 180.0),
    (11, 0.035, 0.0),
    (13, 0.03, 180.0),
)
PRESETS = {"measured evening": _MEASURED_EVENING, "flat top": _FLAT_TOP, "at the limits": _AT_THE_LIMITS}
_SAMPLES_OF_A_PERIOD = 2000
# Loop of line and neutral at which equipment is tested, resistance and reactance at the mains frequency [ohm]: IEC/TR
# 60725 (loop seen in a text on flicker; its line 0.24 + j 0.15 and neutral 0.16 + j 0.10 ohm from memory, 97 % sure).
REFERENCE_IMPEDANCE = (0.4, 0.25)


@dataclass(frozen=True, kw_only=True)
class Harmonic:
    """One harmonic of the background: its amplitude is ``fraction`` of the fundamental's."""

    order: int = units.count(doc="order of the harmonic", low=2, high=50)
    fraction: float = units.quantity("fraction", doc="amplitude over the fundamental's", low=0.0, high=0.5)
    phase: float = units.quantity(
        "angle", doc="phase of its sine at the zero crossing", low=-360.0, high=360.0, default=0.0
    )


@dataclass(frozen=True, kw_only=True)
class Mains:
    """Table [mains]: what comes out of the wall, and how far it gives way."""

    voltage: float = units.quantity("voltage", doc="mains voltage, rms of the fundamental", low=0.0, high="1 kV")
    frequency: float = units.quantity("frequency", doc="mains frequency", low="10 Hz", high="1 kHz")
    resistance: float = units.quantity(
        "resistance", doc="loop resistance up to the plug", low=0.0, high="100 ohm", default=0.0
    )
    inductance: float = units.quantity(
        "inductance", doc="loop inductance up to the plug", low=0.0, high="1 H", default=0.0
    )
    background: tuple[Harmonic, ...] | str = units.rows(
        Harmonic, doc="harmonics of other people's loads", shortest=0, presets=tuple(PRESETS), default=()
    )
    dc_offset: float = units.quantity(
        "voltage", doc="direct voltage on the mains", low="-50 V", high="50 V", default=0.0
    )
    tolerance: float = units.quantity(
        "fraction", doc="how far the mains may rise and fall", low=0.0, high=0.5, default=0.1
    )

    def faults(self) -> list[tuple[str, str]]:
        """Orders of the background that are given more than once."""
        orders = [] if isinstance(self.background, str) else [row.order for row in self.background]
        twice = sorted({order for order in orders if orders.count(order) > 1})
        return [("background", f"order {order} is given more than once: write one row for each") for order in twice]


def background_rows(mains: Mains) -> tuple[Harmonic, ...]:
    """Harmonics of the source, with a preset's name replaced by its rows.

    Parameters
    ----------
    mains : Mains
        The table, whose ``background`` is a list or a preset's name [-].

    Returns
    -------
    tuple of Harmonic
        Fractions of the fundamental and phases [1, deg].

    Notes
    -----
    A preset is one example of a distorted evening, not what a given street has.

    Examples
    --------
    >>> background_rows(Mains(voltage=230.0, frequency=50.0, background="flat top"))[0].order
    3
    """
    if isinstance(mains.background, str):
        return tuple(Harmonic(order=n, fraction=part, phase=phase) for n, part, phase in PRESETS[mains.background])
    return mains.background


def source_terms(mains: Mains) -> list[tuple[int, float, float]]:
    """Amplitudes of the ideal source: rows of order, sine amplitude, cosine amplitude, fundamental first.

    The source is ``sum(a_n sin(n w t) + b_n cos(n w t)) + dc_offset`` with t counted from a rising zero crossing of
    the fundamental; a harmonic ``f sin(n w t + p)`` splits into ``a = f cos p`` and ``b = f sin p``.

    Parameters
    ----------
    mains : Mains
        The table [-].

    Returns
    -------
    list of (int, float, float)
        Order [1], sine and cosine amplitude [V].

    Notes
    -----
    An order of the background is given once (``Mains.faults`` refuses a second row).  Interharmonics cannot be
    written down.

    Examples
    --------
    >>> source_terms(Mains(voltage=230.0, frequency=50.0))
    [(1, 325.26911934581187, 0.0)]
    """
    crest = math.sqrt(2.0) * mains.voltage
    sums = {1: (crest, 0.0)}
    for row in background_rows(mains):
        sine, cosine = sums.get(row.order, (0.0, 0.0))
        size, phase = row.fraction * crest, math.radians(row.phase)
        sums[row.order] = (sine + size * math.cos(phase), cosine + size * math.sin(phase))
    return [(order, *sums[order]) for order in sorted(sums)]


def crest_voltage(mains: Mains, *, factor: float = 1.0) -> float:
    """Highest instantaneous voltage of the ideal source, of either sign.

    Parameters
    ----------
    mains : Mains
        The table [-].
    factor : float
        What the alternating part is multiplied by, for mains above or below its nominal value [1].

    Returns
    -------
    float
        Crest voltage [V].

    Notes
    -----
    With harmonics it is the largest of 2000 points of a period: low by less than (pi n / 2000)^2 / 2 of harmonic n.

    Examples
    --------
    >>> round(crest_voltage(Mains(voltage=230.0, frequency=50.0), factor=1.1), 2)
    357.8
    """
    terms = source_terms(mains)
    return _largest(terms, factor, mains.dc_offset)


def crest_flux_linkage(mains: Mains, *, factor: float = 1.0) -> float:
    """Largest flux linkage the source can ask of an unloaded winding in the settled state: the integral of its voltage.

    Parameters
    ----------
    mains : Mains
        The table [-].
    factor : float
        What the alternating part is multiplied by [1].

    Returns
    -------
    float
        Flux linkage, half of its swing [V.s].

    Notes
    -----
    Settled and without direct voltage; ``2 pi f`` under the crest for a pure sine.  At switch-on it may be exceeded by
    two and a half times.

    Examples
    --------
    >>> round(crest_flux_linkage(Mains(voltage=230.0, frequency=50.0)), 4)
    1.0354
    """
    angular = 2.0 * math.pi * mains.frequency
    integrated = [(n, b / (n * angular), -a / (n * angular)) for n, a, b in source_terms(mains)]
    return _largest(integrated, factor, 0.0)


def short_circuit_current(mains: Mains) -> float:
    """Current at the plug with a dead short there: how stiff the supply is.

    Parameters
    ----------
    mains : Mains
        The table [-].

    Returns
    -------
    float
        Prospective current, rms; infinite for an ideal source [A].

    Examples
    --------
    >>> round(short_circuit_current(Mains(voltage=230.0, frequency=50.0, resistance=0.4, inductance=0.25 / 314.159)), 1)
    487.6
    """
    impedance = math.hypot(mains.resistance, 2.0 * math.pi * mains.frequency * mains.inductance)
    return mains.voltage / impedance if impedance else math.inf


def reference_impedance(frequency: float) -> tuple[float, float]:
    """Resistance and inductance of the loop at which flicker and distortion are judged.

    Parameters
    ----------
    frequency : float
        Mains frequency [Hz].

    Returns
    -------
    tuple of float
        Resistance [ohm] and inductance [H].

    Notes
    -----
    0.4 + j 0.25 ohm for 230 V and 50 Hz.  At 60 Hz the same ohms are taken, for comparison only.

    Examples
    --------
    >>> [round(value, 6) for value in reference_impedance(50.0)]
    [0.4, 0.000796]

    References
    ----------
    IEC/TR 60725, as in ``REFERENCE_IMPEDANCE``.
    """
    resistance, reactance = REFERENCE_IMPEDANCE
    return resistance, reactance / (2.0 * math.pi * frequency)


def _largest(terms: list[tuple[int, float, float]], factor: float, offset: float) -> float:
    """Largest absolute value of a sum of harmonics plus an offset."""
    if len(terms) == 1:
        return factor * math.hypot(terms[0][1], terms[0][2]) + abs(offset)
    angles = [2.0 * math.pi * step / _SAMPLES_OF_A_PERIOD for step in range(_SAMPLES_OF_A_PERIOD)]
    sums = [sum(a * math.sin(n * t) + b * math.cos(n * t) for n, a, b in terms) for t in angles]
    return max(abs(offset + factor * value) for value in sums)
