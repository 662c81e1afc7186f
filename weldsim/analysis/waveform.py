"""Mean, rms, ripple and the shape factors of sampled waveforms, for recordings that come without exact figures.

Integrals are sums over trapezoids, so the times may be uneven and a jump may be two samples at one time.  A waveform
that repeats must be handed over as whole periods, the end point included (it repeats the start).  The exact figures of
a run do not come from here: they are integrals of the solution.
"""

import math

import numpy as np

from weldsim.errors import WeldsimError


def mean(time: np.ndarray, values: np.ndarray) -> float:
    """Mean over the span of the samples.

    mean = integral of x dt / T, by trapezoids.

    Parameters
    ----------
    time : numpy.ndarray
        Times of the samples, not falling [s].
    values : numpy.ndarray
        Samples [any unit].

    Returns
    -------
    float
        Mean [unit of the samples].

    Notes
    -----
    Exact for straight pieces between samples.  For a smooth period on even times the error falls faster than any power
    of the step; with corners it is about (step / period) squared.

    Examples
    --------
    The rectified sine of a bridge, 2/pi of its crest:

    >>> t = np.linspace(0, 0.02, 2001)
    >>> round(mean(t, 325.27 * abs(np.sin(100 * np.pi * t))), 2)
    207.07

    References
    ----------
    Trapezoidal rule; derived here for uneven times.
    """
    return _average(time, np.asarray(values, np.float64))


def rms(time: np.ndarray, values: np.ndarray) -> float:
    """Root of the mean square over the span of the samples: what heats a resistance.

    rms = sqrt(integral of x^2 dt / T), by trapezoids of x^2.

    Parameters
    ----------
    time : numpy.ndarray
        Times of the samples, not falling [s].
    values : numpy.ndarray
        Samples [any unit].

    Returns
    -------
    float
        Root mean square [unit of the samples].

    Notes
    -----
    Samples must be dense: a triangle known by its corners alone comes out up to 73 % high.  For a smooth period on even
    times the error falls faster than any power of the step.

    Examples
    --------
    >>> t = np.linspace(0, 0.02, 2001)
    >>> round(rms(t, 325.269 * np.sin(100 * np.pi * t)), 3)
    230.0

    References
    ----------
    IEC 60050-103, 103-02-03 (root-mean-square value), from memory.
    """
    return math.sqrt(_average(time, np.square(np.asarray(values, np.float64))))


def mean_absolute(time: np.ndarray, values: np.ndarray) -> float:
    """Mean of the magnitude: what a rectifier in front of a moving coil gives.

    Parameters
    ----------
    time : numpy.ndarray
        Times of the samples, not falling [s].
    values : numpy.ndarray
        Samples [any unit].

    Returns
    -------
    float
        Mean of the magnitude [unit of the samples].

    Notes
    -----
    The corner where the waveform passes through zero costs about (step / period) squared.

    Examples
    --------
    >>> t = np.linspace(0, 0.02, 2001)
    >>> round(mean_absolute(t, np.sin(100 * np.pi * t)), 4)
    0.6366

    References
    ----------
    IEC 60050-103, 103-02-04 (rectified value), from memory.
    """
    return _average(time, np.abs(np.asarray(values, np.float64)))


def ripple(values: np.ndarray) -> float:
    """Ripple, peak to peak: largest minus smallest sample.

    Parameters
    ----------
    values : numpy.ndarray
        Samples [any unit].

    Returns
    -------
    float
        Peak to peak [unit of the samples].

    Notes
    -----
    A peak between two samples is missed; the error is at most a step squared times a quarter of the curvature.

    Examples
    --------
    >>> ripple(np.array([27.5, 36.1, 30.2]))
    8.6

    References
    ----------
    Common practice; "ripple" is used as peak to peak throughout this package.
    """
    if len(values) == 0:
        raise WeldsimError("there are no samples", place="waveform", advice="choose a span that holds some")
    return float(np.max(values) - np.min(values))


def ripple_factor(rms_value: float, mean_value: float) -> float:
    """Ripple factor: rms of what is not direct, over the mean.

    r = sqrt(rms^2 - mean^2) / mean

    Parameters
    ----------
    rms_value : float
        Root mean square [any unit].
    mean_value : float
        Mean [same unit].

    Returns
    -------
    float
        Ripple factor [1]; not a number where the mean is zero.

    Notes
    -----
    Differences of nearly equal numbers: with a ripple below 0.1 % the samples must be good to seven digits.

    Examples
    --------
    A bridge on a resistor has 0.483:

    >>> round(ripple_factor(0.707107, 0.636620), 3)
    0.483

    References
    ----------
    Rashid, Power Electronics, chapter on diode rectifiers (definition; page not checked).
    """
    if mean_value == 0:
        return math.nan
    return math.sqrt(max(rms_value**2 - mean_value**2, 0.0)) / abs(mean_value)


def form_factor(rms_value: float, mean_absolute_value: float) -> float:
    """Form factor: rms over the mean of the magnitude.

    Parameters
    ----------
    rms_value : float
        Root mean square [any unit].
    mean_absolute_value : float
        Mean of the magnitude [same unit]; of a waveform of one sign its mean.

    Returns
    -------
    float
        Form factor [1]: 1.1107 for a sine, 1 for direct or square; not a number for a waveform that is zero.

    Notes
    -----
    Never below 1, apart from the error of sampling.

    Examples
    --------
    A sine of 230 V:

    >>> round(form_factor(230.0, 207.073), 4)
    1.1107

    References
    ----------
    IEC 60050-103, 103-02-06 (form factor), from memory.
    """
    return rms_value / mean_absolute_value if mean_absolute_value else math.nan


def crest_factor(peak: float, rms_value: float) -> float:
    """Crest factor: largest magnitude over rms.

    Parameters
    ----------
    peak : float
        Largest magnitude [any unit].
    rms_value : float
        Root mean square [same unit].

    Returns
    -------
    float
        Crest factor [1]: 1.4142 for a sine; not a number for a waveform that is zero.

    Notes
    -----
    Never below 1, apart from the error of sampling.

    Examples
    --------
    A primary current of 34.4 A rms that peaks at 96 A:

    >>> round(crest_factor(96.0, 34.4), 2)
    2.79

    References
    ----------
    IEC 60050-103, 103-02-08 (peak factor), from memory.
    """
    return peak / rms_value if rms_value else math.nan


def _average(time: np.ndarray, values: np.ndarray) -> float:
    """Average over time by trapezoids, after looking whether there is a span to average over."""
    times = np.asarray(time, np.float64)
    if len(times) != len(values) or len(times) < 2 or not times[-1] > times[0]:
        raise WeldsimError(
            f"{len(values)} samples at {len(times)} times span nothing",
            place="waveform",
            advice="give two or more samples, one per time, with times that grow",
        )
    return float(np.dot(np.diff(times), values[1:] + values[:-1]) / (2 * (times[-1] - times[0])))
