"""Flicker as IEC 61000-4-15 measures it: what lamp, eye and brain make of a voltage that is never quite still.

    voltage -> square -> over its own slow mean -> 0.05 Hz high pass, 35 or 42 Hz low pass -> lamp and eye
            -> square -> 0.3 s mean (the sensation) -> how long which level is exceeded -> Pst -> Plt

A sensation of 1 is what half of all people just notice.  A Pst of 1 is what they can just bear for ten minutes.
The meter streams: it takes blocks of any length and keeps filter states and 8000 counters, however long the weld.
"""

import functools
import math

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass

RATE = 1200.0  # [1/s] mean squares: twelve to a half period at 50 Hz, ten at 60 Hz
LEAST_RATE = 600.0  # [1/s] below it the tolerance of the standard is broken at 25 Hz and above
_PRELUDE = 4.0  # [s] of the first period repeated: the low pass forgets in 0.1 s, the high pass in 3 s
_CALIBRATION = 8.8  # [Hz] where the eye is keenest
_SLOW_MEAN, _MEMORY = 27.3, 0.3  # [s] of the normaliser and of the brain


@dataclass(frozen=True)
class Lamp:
    """Lamp and eye as one filter, K w1 s/(s^2 + 2 L s + w1^2) (1 + s/w2)/((1 + s/w3)(1 + s/w4)); [Hz] but ``gain``.

    ``threshold`` is the sine at 8.8 Hz, trough to crest over the mean, whose sensation is 1 [1].
    """

    gain: float
    damping: float
    resonance: float
    lead: float
    lags: tuple[float, float]
    threshold: float


_LAMP_230 = Lamp(1.74802, 4.05981, 9.15494, 2.27979, (1.22535, 21.9), 0.00250)  # seen in a library of that purpose
_LAMP_120 = Lamp(1.6357, 4.167375, 9.077169, 2.939902, (1.394468, 17.31512), 0.00321)  # from memory, 95 % sure
# Pair -> lamp, mains frequency, corner of the low pass [Hz]; pairs and thresholds as the tables of edition 2 name them.
PAIRS: dict[str, tuple[Lamp, float, float]] = {
    "230 V 50 Hz": (_LAMP_230, 50.0, 35.0),
    "120 V 60 Hz": (_LAMP_120, 60.0, 42.0),
    "120 V 50 Hz": (_LAMP_120, 50.0, 35.0),
    "230 V 60 Hz": (_LAMP_230, 60.0, 42.0),
}


def pair_for(voltage: float, *, frequency: float) -> str:
    """The pair of lamp and grid that stands nearest to a supply.

    Parameters
    ----------
    voltage : float
        Nominal voltage between line and neutral, rms [V].
    frequency : float
        Mains frequency [Hz].

    Returns
    -------
    str
        Name in ``PAIRS`` [name].

    Notes
    -----
    The standard knows these four.  100 V and 127 V are taken as 120 V, 220 V and 240 V as 230 V, by the nearer ratio.

    Examples
    --------
    >>> pair_for(240.0, frequency=50.0), pair_for(127.0, frequency=60.0)
    ('230 V 50 Hz', '120 V 60 Hz')

    References
    ----------
    IEC 61000-4-15, edition 2, tables 1 to 5; the borders are common practice, no published source.
    """
    lamp = 230 if voltage > math.sqrt(120.0 * 230.0) else 120
    return f"{lamp} V {50 if frequency < 55.0 else 60} Hz"


class Flickermeter:
    """Voltage in, sensation out, block by block, for one pair of lamp and grid.

    Parameters
    ----------
    pair : str
        Name in ``PAIRS`` [name].
    rate : float
        Values per second that will be fed, a whole number to a half period [1/s].
    start : float or None
        Rms voltage that held for long before the first value; None: that of the first period fed [V].

    Notes
    -----
    The voltage before the first value is taken as its first period over and over, so the meter starts settled.
    Where that period already swings, say what held before, or the 27 s of the slow mean have to pass.  Against the
    tables of edition 2, means of the square at 1200/s keep Pinst within 1.7 % and Pst within 0.5 %, at 2400/s within
    0.5 and 0.5 %, at 600/s within 8 and 4 %.  Bare samples of the voltage fold what lies above half their rate back
    into the band: steps locked to the mains then need 2000/s (3.5 and 0.3 %), slow ones do not.

    Examples
    --------
    A lamp that swings by 0.25 % at 8.8 Hz is just seen:

    >>> meter = Flickermeter("230 V 50 Hz")
    >>> time = np.arange(0, 20, 1 / 1200)
    >>> voltage = 325.27 * np.sin(100 * np.pi * time) * (1 + 0.00125 * np.sin(2 * np.pi * 8.8 * time))
    >>> round(float(meter.feed(voltage)[-1200:].max()), 2)
    1.00

    References
    ----------
    IEC 61000-4-15, edition 2: chain and constants; see ``PAIRS`` for how they are known.
    """

    def __init__(self, pair: str, *, rate: float = RATE, start: float | None = None) -> None:
        if pair not in PAIRS:
            raise QuestionError(f"'{pair}' is none of {', '.join(PAIRS)}", place="flicker")
        lamp, frequency, corner = PAIRS[pair]
        self.pair, self.rate, self.start = pair, rate, start
        self.per_half = round(rate / (2.0 * frequency))
        if rate < LEAST_RATE or abs(rate / (2.0 * frequency) - self.per_half) > 1e-9 * self.per_half:
            raise QuestionError(
                f"{rate:g} values per second are not a whole number to a half period of {frequency:g} Hz, or too few",
                place="flicker",
                advice=f"take {RATE:g}, or another multiple of {2 * frequency:g} above {LEAST_RATE:g}",
            )
        self._chain, self._slow, self._memory, self._scale = _filters(lamp, corner, rate)
        self._states: list[np.ndarray] | None = None

    def feed(self, voltage: np.ndarray) -> np.ndarray:
        """Sensation [1] for the next samples of the voltage [V], of which the first block holds a whole period."""
        return self.feed_mean_squares(np.square(np.asarray(voltage, np.float64)))

    def feed_mean_squares(self, squares: np.ndarray) -> np.ndarray:
        """Sensation [1] for the next means of the squared voltage [V2], each over 1/rate, as a run integrates them."""
        squares = np.asarray(squares, np.float64)
        if self._states is None and len(squares):
            self._begin(squares)
        return self._through(squares) if len(squares) else np.empty(0)

    def _begin(self, squares: np.ndarray) -> None:
        """Settle every filter on the first period, repeated, at the level that held before."""
        period = squares[: 2 * self.per_half]
        level = float(np.mean(period))
        if len(period) < 2 * self.per_half or not (math.isfinite(level) and level > 0.0):
            raise QuestionError(
                "the first block must hold a whole period of a voltage that is there",
                place="flicker",
                advice="feed longer blocks, or start where the mains is on",
            )
        level_before = level if self.start is None else self.start**2
        self._states = [np.array([0.0]), np.zeros((len(self._chain), 2)), np.array([0.0])]
        self._states[0] = _settled(self._slow) * level_before
        self._through(np.tile(period * (level_before / level), math.ceil(_PRELUDE * self.rate / len(period))))

    def _through(self, squares: np.ndarray) -> np.ndarray:
        """Send squares down the chain and keep the states."""
        from scipy import signal  # half a second to load, so only where a flickermeter runs

        assert self._states is not None
        slow, chain, memory = self._states
        reference, slow = signal.lfilter(*self._slow, squares, zi=slow)
        seen, chain = signal.sosfilt(self._chain, squares / reference - 1.0, zi=chain)
        felt, memory = signal.lfilter(*self._memory, seen * seen, zi=memory)
        self._states = [slow, chain, memory]
        return self._scale * felt


def _settled(section: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """State of a first-order section of unit gain that has long seen 1: y = b0 x + z, and z + b0 = 1."""
    return np.array([1.0 - section[0][0]])


@functools.cache
def _filters(lamp: Lamp, corner: float, rate: float) -> tuple[np.ndarray, tuple, tuple, float]:
    """Second-order sections, normaliser, 0.3 s mean, and the scale that makes the threshold's sensation 1."""
    from scipy import signal  # see ``_through``

    turn = 2.0 * math.pi
    poles = [*np.roots([1.0, 2.0 * turn * lamp.damping, (turn * lamp.resonance) ** 2]), *(-turn * np.array(lamp.lags))]
    gain = lamp.gain * lamp.resonance * turn**2 * lamp.lags[0] * lamp.lags[1] / lamp.lead
    eye = signal.zpk2sos(*signal.bilinear_zpk([0.0, -turn * lamp.lead], poles, gain, rate))
    high_pass = signal.butter(1, 0.05, "highpass", fs=rate, output="sos")
    chain = np.vstack([high_pass, signal.butter(6, corner, fs=rate, output="sos"), eye])
    slow = signal.bilinear([1.0], [_SLOW_MEAN, 1.0], rate)
    memory = signal.bilinear([1.0], [_MEMORY, 1.0], rate)
    # The squared swing a sin has the mean a^2/2 and a ripple of that size at twice its frequency.
    swing = lamp.threshold * abs(signal.freqz_sos(chain, [_CALIBRATION], fs=rate)[1][0])
    ripple = abs(signal.freqz(*memory, [2.0 * _CALIBRATION], fs=rate)[1][0])
    return chain, slow, memory, 2.0 / (swing**2 * (1.0 + ripple))


# Weight and the exceeded shares of time [%] whose levels are averaged.
_SEVERITY = (
    (0.0314, (0.1,)),
    (0.0525, (0.7, 1.0, 1.5)),
    (0.0657, (2.2, 3.0, 4.0)),
    (0.28, (6.0, 8.0, 10.0, 13.0, 17.0)),
    (0.08, (30.0, 50.0, 80.0)),
)
_FLOOR, _CLASSES, _CLASS_WIDTH = 1e-6, 8000, 0.004  # lowest level, counters, and their width in the logarithm


class SensationClasses:
    """How long the sensation has been at which level: 8000 counters, each 0.4 % wide, from 1e-6 to 8e7.

    Examples
    --------
    A sensation that stands at 2 for the whole time has Pst = sqrt(0.5096 x 2), as the weights add up to 0.5096:

    >>> classes = SensationClasses()
    >>> classes.add(np.full(1000, 2.0))
    >>> round(classes.short_term_severity(), 3)
    1.010

    References
    ----------
    IEC 61000-4-15, 5.7 (classifier), percentiles seen in an instrument's manual; logarithmic counters: derived here.
    """

    def __init__(self) -> None:
        self._counts = np.zeros(_CLASSES + 1, np.int64)  # the first counter holds all that is below the floor
        self.peak = 0.0

    def add(self, sensation: np.ndarray) -> None:
        """Count the next values of the sensation [1], evenly spaced in time."""
        if len(sensation):
            self.peak = max(self.peak, float(np.max(sensation)))
            logarithms = np.log(np.maximum(sensation, 0.5 * _FLOOR) / _FLOOR) / _CLASS_WIDTH
            places = np.clip(np.floor(logarithms).astype(np.int64) + 1, 0, _CLASSES)
            self._counts += np.bincount(places, minlength=_CLASSES + 1)

    @property
    def count(self) -> int:
        """How many values have been counted."""
        return int(self._counts.sum())

    def exceeded(self, percent: float) -> float:
        """Level that is exceeded for ``percent`` of the time [1]; within the width of a counter, 0.4 %."""
        total = self.count
        if not total:
            return math.nan
        above = total - np.cumsum(self._counts)  # how many lie above each counter's upper edge
        wanted = total * percent / 100.0
        place = int(np.searchsorted(-above, -wanted))  # first counter with no more than that above it
        if place == 0:
            return 0.0
        within = (wanted - above[place]) / max(int(self._counts[place]), 1)
        return _FLOOR * math.exp(_CLASS_WIDTH * (place - min(within, 1.0)))

    def short_term_severity(self) -> float:
        """Pst [1] of all that was counted; ten minutes where it is to be compared with a limit."""
        return math.sqrt(
            sum(weight * sum(map(self.exceeded, shares)) / len(shares) for weight, shares in _SEVERITY),
        )


def long_term_severity(short_terms: np.ndarray) -> float:
    """Plt: cube root of the mean cube of the Pst values of two hours.

    Parameters
    ----------
    short_terms : numpy.ndarray
        Pst of successive ten minutes, twelve for the standard's two hours, zero where nothing is welded [1].

    Returns
    -------
    float
        Plt [1]; not a number without values.

    Notes
    -----
    Fewer than twelve values are averaged as they are: that takes the rest of the two hours to be like them.

    Examples
    --------
    Ten minutes of welding at Pst 1.5 in two quiet hours, and two hours of it:

    >>> round(long_term_severity([1.5] + 11 * [0.0]), 3), long_term_severity([1.5])
    (0.655, 1.5)

    References
    ----------
    IEC 61000-3-3, 4.2.3 (from memory, 99 % sure).
    """
    values = np.asarray(short_terms, np.float64)
    return float(np.cbrt(np.mean(values**3))) if values.size else math.nan
