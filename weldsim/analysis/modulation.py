"""Voltages whose size swings as the test tables of IEC 61000-4-15 say, as exact means of their square.

u = sqrt2 U sin(2 pi F t) (1 + d/2 m(t)), with m a sine or a square wave that starts at zero, rising, with the mains.
"""

import math

import numpy as np

from weldsim.errors import QuestionError

SHAPES = ("sinusoidal", "rectangular")


def modulated_mean_squares(
    shape: str, *, depth: float, modulation: float, frequency: float, duration: float, rate: float
) -> np.ndarray:
    """Means over 1/rate of the square of a modulated mains voltage of 1 V rms.

    u^2 = (1 - cos 2 w t)(1 + d m + d^2 m^2 / 4), w = 2 pi F.  With m = sin a t it is a sum of cosines, whose mean over
    a span T is their value at mid-span times sinc(f T).  With m = +-1 the antiderivative of 1 - cos 2 w t is
    t - sin(2 w t) / 2 w, added from edge to edge with the sign of m.

    Parameters
    ----------
    shape : str
        "sinusoidal" or "rectangular" [name].
    depth : float
        Swing of the voltage from trough to crest over its mean, d [1].
    modulation : float
        Whole swings per second; a rectangular one has two changes in each [Hz].
    frequency : float
        Mains frequency F [Hz].
    duration : float
        How long [s].
    rate : float
        Means per second [1/s].

    Returns
    -------
    numpy.ndarray
        Mean squares [V2].

    Notes
    -----
    Exact but for rounding.  Phase matters where modulation and mains are locked (33.3 Hz at 50 Hz); both start at zero.

    Examples
    --------
    A step down by 10 % after half a second: mean squares 1.05^2 and 0.95^2.

    >>> found = modulated_mean_squares(
    ...     "rectangular", depth=0.1, modulation=1.0, frequency=50.0, duration=1.0, rate=100.0
    ... )
    >>> found[[0, 99]].round(4)
    array([1.1025, 0.9025])

    References
    ----------
    IEC 61000-4-15, edition 2, annex B (signals of the test points); antiderivatives: derived here.
    """
    if shape not in SHAPES:
        raise QuestionError(f"'{shape}' is none of {', '.join(SHAPES)}", place="modulation")
    edges = np.arange(round(duration * rate) + 1) / rate
    if shape == "sinusoidal":
        return _sine_squares(0.5 * (edges[1:] + edges[:-1]), 1.0 / rate, depth, (modulation, frequency))
    w = 4.0 * math.pi * frequency
    changes = np.arange(math.floor(edges[-1] * 2.0 * modulation) + 2) / (2.0 * modulation)
    signs = 1.0 - 2.0 * (np.arange(len(changes)) % 2)
    up_to = changes - np.sin(w * changes) / w
    sums = np.concatenate([[0.0], np.cumsum(signs[:-1] * np.diff(up_to))])
    place = np.clip(np.searchsorted(changes, edges, side="right") - 1, 0, len(changes) - 1)
    plain = edges - np.sin(w * edges) / w
    signed = sums[place] + signs[place] * (plain - up_to[place])
    return rate * ((1.0 + 0.25 * depth**2) * np.diff(plain) + depth * np.diff(signed))


def _sine_squares(middles: np.ndarray, span: float, depth: float, tones: tuple[float, float]) -> np.ndarray:
    """The same for a sine: 1 - cos 2wt times (1 + d^2/8) + d sin at - d^2/8 cos 2at, multiplied out."""
    modulation, frequency = tones
    mains, small = 2.0 * frequency, depth**2 / 8.0
    sines = ((depth, modulation), (-0.5 * depth, modulation + mains), (-0.5 * depth, modulation - mains))
    cosines = (
        (1.0 + small, 0.0),
        (-1.0 - small, mains),
        (-small, 2.0 * modulation),
        (0.5 * small, 2.0 * modulation + mains),
        (0.5 * small, 2.0 * modulation - mains),
    )
    found = np.zeros(len(middles))
    for terms, wave in ((sines, np.sin), (cosines, np.cos)):
        for size, tone in terms:
            found += size * np.sinc(tone * span) * wave(2.0 * math.pi * tone * middles)
    return found
