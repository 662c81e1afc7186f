"""Harmonics and distortion of sampled waveforms over whole periods."""

import math

import numpy as np

from weldsim.errors import WeldsimError

ORDERS = 40  # the standards on mains current count orders 2 to 40


def harmonics(time: np.ndarray, values: np.ndarray, *, frequency: float, orders: int = ORDERS) -> np.ndarray:
    """Complex amplitudes of orders 1 to ``orders``, with time counted from zero of ``time``.

    c_n = 2/T integral of x(t) exp(-j n w t) dt, by trapezoids, so that x = mean + sum of |c_n| cos(n w t + arg c_n).
    A sine of amplitude A has c_1 = -j A.

    Parameters
    ----------
    time : numpy.ndarray
        Times of the samples, not falling, whole periods with the end point [s].
    values : numpy.ndarray
        Samples [any unit].
    frequency : float
        Frequency of the first order [Hz].
    orders : int
        Highest order wanted [1].

    Returns
    -------
    numpy.ndarray
        Complex peak amplitudes, order 1 first [unit of the samples].

    Notes
    -----
    On even times this is the discrete Fourier transform: exact up to the orders that fold back from above half the
    sampling rate (a waveform with jumps still holds 1/n of its jump there).  On uneven times the error of order n is
    about (2 pi n f dt)^2 / 12 of what the waveform holds, so let a period of the highest order have 50 samples.  The
    span must be whole periods to a thousandth of a period.

    Examples
    --------
    A square wave of 10 A has 4/pi of it in its first order and a third of that in its third:

    >>> t = np.linspace(0, 0.02, 20001)
    >>> square = np.where(t < 0.01, 10.0, -10.0)
    >>> [round(float(abs(c)), 2) for c in harmonics(t, square, frequency=50, orders=3)]
    [12.73, 0.0, 4.24]

    References
    ----------
    Fourier series; IEC 61000-4-7 for the windows of a measurement (10 periods at 50 Hz, 12 at 60 Hz).
    """
    periods = (time[-1] - time[0]) * frequency if len(time) > 1 else 0.0
    if len(time) != len(values) or round(periods) < 1 or abs(periods - round(periods)) > 1e-3:
        raise WeldsimError(
            f"the samples span {periods:.4g} periods of {frequency:g} Hz",
            place="harmonics",
            advice="choose a span of whole periods",
        )
    samples = np.asarray(values, np.float64)
    weights = np.zeros(len(time))
    steps = np.diff(time)
    weights[1:] += steps / 2
    weights[:-1] += steps / 2
    turn = np.exp(-2j * np.pi * frequency * np.asarray(time, np.float64))
    turned = 2 / (time[-1] - time[0]) * weights * samples + 0j
    found = np.empty(orders, complex)
    for order in range(orders):
        turned *= turn  # the samples times exp(-j n w t), without a new exponential for every order
        found[order] = turned.sum()
    return found


def rms_of_orders(amplitudes: np.ndarray) -> np.ndarray:
    """Rms of each order from its complex peak amplitude.

    Parameters
    ----------
    amplitudes : numpy.ndarray
        Complex or real peak amplitudes, order 1 first [any unit].

    Returns
    -------
    numpy.ndarray
        Root mean square of each order [unit of the amplitudes].

    Notes
    -----
    Exact.

    Examples
    --------
    >>> rms_of_orders(np.array([325.269, -16.263j])).round(2)
    array([230. ,  11.5])

    References
    ----------
    Derived here: the rms of a sine is its amplitude over the square root of 2.
    """
    return np.abs(amplitudes) / math.sqrt(2)


def total_harmonic_distortion(amplitudes: np.ndarray) -> float:
    """Total harmonic distortion: rms of orders 2 and above over the fundamental.

    Parameters
    ----------
    amplitudes : numpy.ndarray
        Amplitudes, peak or rms, order 1 first [any unit].

    Returns
    -------
    float
        Distortion [1]; not a number where there is no fundamental.

    Notes
    -----
    Counts the orders handed over and no others; with the first 40 it is the figure of the standards.

    Examples
    --------
    The mains current of the benchmark supply at 90 degrees, orders 1, 3, 5 and 7 [A]:

    >>> round(total_harmonic_distortion(np.array([23.906, 0, 19.669, 0, 13.070, 0, 6.362])), 3)
    1.023

    References
    ----------
    IEC 61000-3-12, definition of total harmonic distortion (orders 2 to 40), seen in an instrument's manual.
    """
    sizes = np.abs(amplitudes)
    return float(np.linalg.norm(sizes[1:]) / sizes[0]) if len(sizes) and sizes[0] else math.nan


def displacement_factor(voltage: complex, current: complex) -> float:
    """Displacement factor: cosine of the angle between the fundamentals of voltage and current.

    Parameters
    ----------
    voltage : complex
        Amplitude of order 1 of the voltage [V].
    current : complex
        Amplitude of order 1 of the current, on the same time axis [A].

    Returns
    -------
    float
        Displacement factor [1], negative where power flows back; not a number where one of them is zero.

    Notes
    -----
    Says nothing of whether the current leads or lags.

    Examples
    --------
    A current 60 degrees behind a voltage:

    >>> round(displacement_factor(-325j, 10 * np.exp(-1j * np.radians(150))), 3)
    0.5

    References
    ----------
    IEC 60050-131, 131-11-48 (displacement factor), from memory.
    """
    size = abs(voltage) * abs(current)
    return float((voltage * current.conjugate()).real / size) if size else math.nan
