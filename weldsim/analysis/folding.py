"""A measured trace folded onto one period of the mains, and laid over a waveform that repeats with it."""

import numpy as np

from weldsim.frozen import dataclass

BINS = 2000  # of a period: 10 us at 50 Hz
SPREAD = 0.02  # of the nominal period: how far a mains may be off
LOOKS = 81  # at periods within it
CLEARLY = 0.8  # of what differs at the nominal period: another must leave clearly less
ALONE = 0.2  # of a period, over those that lie between: nearer than that two half waves cannot be exchanged
HELD = 0.03  # of all samples at one end, from which on a channel may have been there
NEAR = 0.02  # of the range: as near below that end there are few samples where a channel cuts off
AT_ZERO = 0.1  # of the range: an end as near to zero is where a current rests
POINTS = 2000  # of a trace that are compared with a period later


@dataclass(frozen=True, eq=False)
class Folded:
    """A trace by its place in the period: how many samples each bin has, their mean, what is scattered within bins."""

    counts: np.ndarray  # [1]
    means: np.ndarray  # [unit of the trace]; 0 where there is no sample
    scatter: float  # mean square beside the bins' means [unit squared]
    square: float  # mean square of the trace [unit squared]
    to_weights: np.ndarray  # conjugate spectra of the shares of the samples, and of these times the means
    to_means: np.ndarray


@dataclass(frozen=True)
class Laid:
    """How a waveform lies over a trace: what remains (rms), the shift in periods, the sign, and the correlation."""

    remainder: float
    shift: float
    sign: float
    correlation: float


def difference_between_periods(time: np.ndarray, values: np.ndarray, period: float, *, apart: int = 1) -> float:
    """What a trace differs by from period to period, as the rms of one of them: noise, and what does not repeat.

    ``sqrt(mean((v(t + n T) - v(t))^2) / mean(1 + f^2 + (1 - f)^2))``, the later value by a straight line between its
    neighbours, f of the way from one to the next.

    Parameters
    ----------
    time : numpy.ndarray
        Times, rising, more than ``apart`` periods of them [s].
    values : numpy.ndarray
        Samples [any unit].
    period : float
        Period T [s].
    apart : int
        How many periods n lie between what is compared [1].

    Returns
    -------
    float
        Rms [unit of the samples]; not a number where the trace is too short.

    Notes
    -----
    White noise of rms s gives s, wherever samples fall: the divisor is 2 where they meet again, and less where the line
    evens out.  What differs otherwise is overestimated, by 15 % at most; so are edges that fall between samples.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.06, 601)
    >>> round(difference_between_periods(t, np.sin(2.0 * np.pi * 50.0 * t), 0.02), 6)
    0.0
    >>> round(difference_between_periods(t, np.sin(2.0 * np.pi * 50.0 * t), 0.01), 2)  # 2 sin against itself
    1.0

    References
    ----------
    Derived here: variances of independent values add, each with the square of its weight.
    """
    first = time[time <= time[-1] - apart * period]
    if len(first) < 2:
        return float("nan")
    step = max(1, len(first) // POINTS)
    chosen = slice(0, len(first), step)
    moments = first[chosen] + apart * period
    before = np.clip(np.searchsorted(time, moments, side="right") - 1, 0, len(time) - 2)
    way = (moments - time[before]) / (time[before + 1] - time[before])
    later = values[before] + way * (values[before + 1] - values[before])
    weights = np.mean(1.0 + way**2 + (1.0 - way) ** 2)
    return float(np.sqrt(np.mean((later - values[chosen]) ** 2) / weights))


def found_period(time: np.ndarray, values: np.ndarray, nominal: float) -> float:
    """The period with which a trace repeats, within 2 % of the nominal one.

    Parameters
    ----------
    time : numpy.ndarray
        Times, rising [s].
    values : numpy.ndarray
        Samples [any unit].
    nominal : float
        Period as it should be [s].

    Returns
    -------
    float
        Period; the nominal one where the trace is shorter than two periods or does not say [s].

    Notes
    -----
    Where the difference between periods is least; first from one to the next, then over as many as the trace holds,
    which is finer by their number.  A trace without a corner, or one drowned in noise, tells no period.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.1, 5001)
    >>> round(1.0 / found_period(t, np.sin(2.0 * np.pi * 49.8 * t), 0.02), 2)
    49.8

    References
    ----------
    Derived here.
    """
    periods = (time[-1] - time[0]) / nominal
    found, width = nominal, SPREAD
    for apart in dict.fromkeys((1, max(1, int(periods / 4.0)), max(1, int(periods / 2.0)))):
        if periods < (1.0 + SPREAD) * apart + 0.5:
            break
        near = min(width, ALONE / apart)
        tried = found * (1.0 + near * np.linspace(-1.0, 1.0, LOOKS))
        errors = np.array([difference_between_periods(time, values, one, apart=apart) for one in tried])
        before = difference_between_periods(time, values, found, apart=apart)
        best = int(errors.argmin())
        if errors[best] < CLEARLY * before:
            found, width = float(_vertex(tried, errors**2, best)), near * 6.0 / LOOKS
    return found


def _vertex(places: np.ndarray, values: np.ndarray, best: int) -> float:
    """Where the parabola through the least value and its neighbours is least."""
    if not 0 < best < len(values) - 1:
        return float(places[best])
    before, here, after = values[best - 1 : best + 2]
    bend = before - 2.0 * here + after
    offset = 0.5 * (before - after) / bend if bend > 0.0 else 0.0
    return float(places[best] + offset * (places[1] - places[0]))


def cut_off(values: np.ndarray, step: float = 0.0) -> float:
    """How many samples stand at the largest or the least value as where a channel cuts off, as a share of all.

    A crest that is rounded by its steps has more samples on the next steps than half of those on the last one: near a
    crest the time to a depth d goes with its root.  A channel that is at its end has not.

    Parameters
    ----------
    values : numpy.ndarray
        Samples, evenly spaced or nearly so [any unit].
    step : float
        Of the samples; found from them where it is 0 [unit of the samples].

    Returns
    -------
    float
        Share; 0 where nothing is cut off, or where that end lies near zero [1].

    Notes
    -----
    A wave that is flat by itself looks the same: ask the same of the wave that is expected.

    Examples
    --------
    >>> wave = 10.0 + 3.0 * np.sin(2.0 * np.pi * (np.arange(4000) + 0.5) / 1000)
    >>> round(cut_off(np.minimum(wave, 12.0)), 2), cut_off(wave), cut_off(np.round(wave, 1))
    (0.27, 0.0, 0.0)

    References
    ----------
    Derived here.
    """
    low, high = float(values.min()), float(values.max())
    span = high - low
    if span == 0.0:
        return 0.0
    step = step or smallest_step(values)
    for end, depth in ((high, high - values), (low, values - low)):
        there = float(np.mean(depth < 0.5 * step))
        near = float(np.mean(depth < max(NEAR * span, 1.5 * step))) - there
        if there > HELD and near < 0.5 * there and abs(end) > AT_ZERO * span:
            return there
    return 0.0


def smallest_step(values: np.ndarray) -> float:
    """The least difference between two values that are not the same.

    Parameters
    ----------
    values : numpy.ndarray
        Samples [any unit].

    Returns
    -------
    float
        Step; 0 where all are the same [unit of the samples].

    Notes
    -----
    Of samples that come in steps this is theirs, but for rounding; of others a number that means nothing.

    Examples
    --------
    >>> smallest_step(np.array([1.5, 0.5, 1.0, 3.0, 0.5]))
    0.5

    References
    ----------
    Derived here.
    """
    apart = np.diff(np.unique(values))
    apart = apart[apart > 1e-9 * float(np.abs(values).max())]
    return float(apart.min()) if len(apart) else 0.0


def folded(time: np.ndarray, values: np.ndarray, period: float) -> Folded:
    """A trace sorted into the bins of one period, counted from its first sample.

    Parameters
    ----------
    time : numpy.ndarray
        Times [s].
    values : numpy.ndarray
        Samples [any unit].
    period : float
        Period [s].

    Returns
    -------
    Folded
        Counts, means and scatter [unit of the samples].

    Notes
    -----
    Samples within a bin, 1/2000 of the period, count as taken at its middle.

    Examples
    --------
    >>> one = folded(np.array([0.0, 0.01, 0.02]), np.array([1.0, 5.0, 3.0]), 0.02)
    >>> one.counts[[0, 1000]], one.means[[0, 1000]], round(one.scatter, 3)
    (array([2., 1.]), array([2., 5.]), 0.667)

    References
    ----------
    Derived here.
    """
    places = np.floor(((time - time[0]) / period + 1e-9) % 1.0 * BINS).astype(int) % BINS
    counts = np.bincount(places, minlength=BINS).astype(float)
    means = np.bincount(places, weights=values, minlength=BINS) / np.maximum(counts, 1.0)
    scatter = float(np.mean((values - means[places]) ** 2))
    weights = counts / counts.sum()
    spectra = np.fft.rfft(weights).conj(), np.fft.rfft(weights * means).conj()
    return Folded(counts, means, scatter, float(np.mean(values**2)), *spectra)


def laid_over(trace: Folded, wave: np.ndarray, *, signs: tuple[float, ...] = (1.0,), clearly: float = 1.0) -> Laid:
    """The shift in time with which a waveform fits a trace best.

    With n the counts and m the means of the trace, w the waveform and k the shift in bins, what remains is
    ``scatter + sum n (m - s w_k)^2 / sum n``; all k at once are two circular correlations, by Fourier transforms.

    Parameters
    ----------
    trace : Folded
        The trace [any unit].
    wave : numpy.ndarray
        One period of the waveform, at the middle of each bin [unit of the trace].
    signs : tuple of float
        Signs s to try: 1.0, and -1.0 for a probe that may be reversed [1].
    clearly : float
        What a later sign must leave at most of the first's remainder, to be preferred [1].

    Returns
    -------
    Laid
        Remainder rms [unit of the trace], shift of the first sample behind the waveform's beginning [periods], sign
        and correlation [1].

    Notes
    -----
    Between two bins the shift follows from the parabola through the least three remainders.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.04, 4001)
    >>> place = (np.arange(BINS) + 0.5) / BINS
    >>> found = laid_over(folded(t, np.sin(2.0 * np.pi * (50.0 * t + 0.3)), 0.02), np.sin(2.0 * np.pi * place))
    >>> round(found.shift, 3), found.remainder < 0.01, round(found.correlation, 3)
    (0.3, True, 1.0)

    References
    ----------
    The correlation theorem of the discrete Fourier transform; the rest is derived here.
    """
    best: Laid | None = None
    for sign in signs:
        left = _left(trace, wave, sign)
        place = int(left.argmin())
        remainder = max(float(left[place]), 0.0) ** 0.5
        if best is None or remainder < clearly * best.remainder:
            around = left[[place - 1, place, (place + 1) % BINS]]
            shift = place + _vertex(np.array([-1.0, 0.0, 1.0]), around, 1)
            alike = sign * _correlation(trace, np.roll(wave, -place))
            best = Laid(remainder, shift / BINS % 1.0, sign, alike)
    assert best is not None
    return best


def least_remainder(trace: Folded, wave: np.ndarray, *, sign: float = 1.0) -> float:
    """What remains at least of a trace under a waveform, at whatever shift: as ``laid_over``, and nothing else.

    Parameters
    ----------
    trace : Folded
        The trace [any unit].
    wave : numpy.ndarray
        One period of the waveform, at the middle of each bin [unit of the trace].
    sign : float
        1.0, or -1.0 for a reversed probe [1].

    Returns
    -------
    float
        Rms [unit of the trace].

    Notes
    -----
    To one bin.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.04, 4001)
    >>> one = folded(t, np.sin(2.0 * np.pi * 50.0 * t), 0.02)
    >>> round(least_remainder(one, np.zeros(BINS)), 3)
    0.707

    References
    ----------
    As there.
    """
    return max(float(_left(trace, wave, sign).min()), 0.0) ** 0.5


def _left(trace: Folded, wave: np.ndarray, sign: float) -> np.ndarray:
    """Mean square that remains at every shift."""
    of_squares = trace.to_weights * np.fft.rfft(wave**2)
    left: np.ndarray = np.fft.irfft(of_squares - 2.0 * sign * trace.to_means * np.fft.rfft(wave), BINS) + trace.square
    return left


def _correlation(trace: Folded, wave: np.ndarray) -> float:
    """Of the trace with a waveform that is shifted already; not a number where either is constant."""
    weights = trace.counts / trace.counts.sum()
    mean, mean_wave = float(weights @ trace.means), float(weights @ wave)
    spread = (trace.square - mean**2) * (float(weights @ wave**2) - mean_wave**2)
    product = float(weights @ (trace.means * wave)) - mean * mean_wave
    return product / spread**0.5 if spread > 0.0 else float("nan")
