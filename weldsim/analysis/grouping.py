"""Harmonics as IEC 61000-4-7 counts them: spectral lines every 5 Hz, put together to groups and subgroups.

A window of 10 periods at 50 Hz (12 at 60 Hz) has a line every 5 Hz, so the spread of a current that dip transfer
modulates falls on lines of its own.  Every function takes lines, not samples: complex peak amplitudes at index k of k
times the mains frequency over the periods of the window, direct part first.  They come from the exact Fourier sums
of a run.  A last axis holds the lines; more windows may stand before it.

    line  ... N-2  N-1   N  N+1  N+2 ... N+8  N+9  2N ...          N = 10
               :   [subgroup 1]   [interharmonic sub-  ]  :
          N-5 half [------------- group 1 -------------] N+5 half
"""

import math

import numpy as np

from weldsim.errors import WeldsimError

ORDERS = 40
_SMOOTHING = 1.5  # [s] of the first-order mean over windows (IEC 61000-4-7, 5.5.1, from memory, 95 % sure)


def harmonic_subgroups(lines: np.ndarray, *, periods: int, orders: int = ORDERS) -> np.ndarray:
    """Rms of each order with its two neighbouring lines.

    G_sg,n^2 = sum of C_k^2 over k = n N - 1 ... n N + 1

    Parameters
    ----------
    lines : numpy.ndarray
        Spectral lines, direct part first [any unit].
    periods : int
        Mains periods in the window, N [1].
    orders : int
        Highest order wanted [1].

    Returns
    -------
    numpy.ndarray
        Rms of subgroups 1 to ``orders`` [unit of the lines].

    Notes
    -----
    What swings slowly (below 7.5 Hz) about a harmonic counts with it.

    Examples
    --------
    10 A that swing by 10 % at 5 Hz have two neighbours of 0.5 A, all of the same subgroup:

    >>> lines = np.zeros(411, complex)
    >>> lines[9:12] = 0.5, 10.0, 0.5
    >>> round(float(harmonic_subgroups(lines, periods=10)[0]), 4)
    7.0887

    References
    ----------
    IEC 61000-4-7, 5.6, equation 9 (seen in an instrument's manual).
    """
    return np.sqrt(_sums(lines, periods, orders, {-1: 1.0, 0: 1.0, 1: 1.0}))


def harmonic_groups(lines: np.ndarray, *, periods: int, orders: int = ORDERS) -> np.ndarray:
    """Rms of each order with all lines half way to its neighbours.

    G_g,n^2 = C^2(n N - N/2) / 2 + sum of C^2 over k = n N - N/2 + 1 ... n N + N/2 - 1 + C^2(n N + N/2) / 2

    Parameters
    ----------
    lines : numpy.ndarray
        Spectral lines, direct part first [any unit].
    periods : int
        Mains periods in the window, N, even [1].
    orders : int
        Highest order wanted [1].

    Returns
    -------
    numpy.ndarray
        Rms of groups 1 to ``orders`` [unit of the lines].

    Notes
    -----
    Groups share the line half way, half its square each, so all groups together hold all of the rms above line N/2.
    IEC 61000-3-2 and -3-12 compare groups with their limits, IEC 61000-4-30 subgroups (from memory).

    Examples
    --------
    A line at 75 Hz of 2 A counts half in group 1 and half in group 2:

    >>> lines = np.zeros(411, complex)
    >>> lines[15] = 2.0
    >>> harmonic_groups(lines, periods=10, orders=3).round(4)
    array([1., 1., 0.])

    References
    ----------
    IEC 61000-4-7, 5.6, equation 8 (seen in an instrument's manual).
    """
    half = periods // 2
    weights = dict.fromkeys(range(1 - half, half), 1.0) | {-half: 0.5, half: 0.5}
    return np.sqrt(_sums(lines, periods, orders, weights))


def interharmonic_subgroups(lines: np.ndarray, *, periods: int, orders: int = ORDERS) -> np.ndarray:
    """Rms of what lies between the harmonics, neighbours of the harmonics left out.

    C_isg,n^2 = sum of C_k^2 over k = n N + 2 ... (n + 1) N - 2

    Parameters
    ----------
    lines : numpy.ndarray
        Spectral lines, direct part first [any unit].
    periods : int
        Mains periods in the window, N [1].
    orders : int
        Order above which the last subgroup lies [1].

    Returns
    -------
    numpy.ndarray
        Rms below order 1 (first), above order 1, ..., above ``orders`` [unit of the lines].

    Notes
    -----
    With the harmonic subgroups they hold every line once, but for lines 0 and 1, next to the direct part.

    Examples
    --------
    Dips of 35 a second on 50 Hz: lines at 15 Hz and 85 Hz of 1 A each, below and above the fundamental:

    >>> lines = np.zeros(421, complex)
    >>> lines[[3, 17]] = 1.0
    >>> interharmonic_subgroups(lines, periods=10, orders=2).round(4)
    array([0.7071, 0.7071, 0.    ])

    References
    ----------
    IEC 61000-4-7, annex A, centred interharmonic subgroups (from memory; seen in a text on interharmonics).
    """
    weights = dict.fromkeys(range(2, periods - 1), 1.0)
    return np.sqrt(_sums(lines, periods, orders, weights, first=0))


def smoothed(windows: np.ndarray, *, duration: float = 0.2) -> np.ndarray:
    """First-order mean of 1.5 s over the values of successive windows.

    y_i = y_(i-1) + (x_i - y_(i-1)) (1 - exp(-T / 1.5 s)), starting from the first window

    Parameters
    ----------
    windows : numpy.ndarray
        Rms values, one row for each window [any unit].
    duration : float
        Length of a window, T [s].

    Returns
    -------
    numpy.ndarray
        Smoothed values, row for row; limits are compared with their mean and their largest [unit of the values].

    Notes
    -----
    For 200 ms the standard prints y = (x + 7.012 y_before) / 8.012, which this is to four digits.

    Examples
    --------
    A harmonic that is switched on stands at 63 % after 1.5 s:

    >>> steps = smoothed(np.concatenate([np.zeros((1, 1)), np.ones((8, 1))]))[:, 0]
    >>> steps[[1, 7, 8]].round(3)
    array([0.125, 0.607, 0.656])

    References
    ----------
    IEC 61000-4-7, 5.5.1 (from memory, 95 % sure).
    """
    found = np.array(windows, np.float64)
    share = -math.expm1(-duration / _SMOOTHING)
    for row in range(1, len(found)):
        found[row] = found[row - 1] + share * (found[row] - found[row - 1])
    return found


def total_harmonic_current(rms: np.ndarray, *, lowest: int = 2, highest: int = ORDERS) -> float:
    """Rms of all harmonics together, the THC of the standards.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first: lines, groups or subgroups [A].
    lowest : int
        First order that counts [1].
    highest : int
        Last order that counts [1].

    Returns
    -------
    float
        Total harmonic current; over order 1 it is the THD, THDG of groups, THDS of subgroups [A].

    Notes
    -----
    Over the maximum demand current instead of order 1 it is the TDD of IEEE 519.

    Examples
    --------
    A square wave of 10 A, to order 7:

    >>> round(total_harmonic_current(np.array([9.0032, 0, 3.0011, 0, 1.8006, 0, 1.2862])), 3)
    3.729

    References
    ----------
    IEC 61000-3-12, 3.1 (seen in an instrument's manual).
    """
    return float(np.linalg.norm(np.asarray(rms, np.float64)[lowest - 1 : highest]))


def partial_weighted_current(rms: np.ndarray) -> float:
    """Partial weighted harmonic current, PWHC: orders 14 to 40, each square times its order.

    PWHC = sqrt(sum of n I_n^2 over n = 14 ... 40)

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first [A].

    Returns
    -------
    float
        Partial weighted harmonic current [A].

    Notes
    -----
    High orders heat capacitors and disturb telephones more than their size says, hence the weight.

    Examples
    --------
    >>> round(partial_weighted_current(np.r_[10.0, np.zeros(15), 0.2]), 3)
    0.825

    References
    ----------
    IEC 61000-3-12, 3.2 (seen in an instrument's manual).
    """
    values = np.asarray(rms, np.float64)[13:ORDERS]
    return math.sqrt(float(np.sum(np.arange(14, 14 + len(values)) * values**2)))


def demand_distortion(rms: np.ndarray, *, demand: float) -> float:
    """Total demand distortion: harmonics over the largest current the customer asks for.

    Parameters
    ----------
    rms : numpy.ndarray
        Rms of the orders, order 1 first [A].
    demand : float
        Maximum demand load current, the fundamental over 15 or 30 minutes, averaged over a year [A].

    Returns
    -------
    float
        Distortion [1]; not a number where nothing is demanded.

    Notes
    -----
    Small currents have large THD and do no harm; this figure says so.  Counts to order 50 where they are handed over.

    Examples
    --------
    >>> round(demand_distortion(np.array([6.0, 0.0, 4.0]), demand=40.0), 3)
    0.1

    References
    ----------
    IEEE 519, definition of total demand distortion (from memory, 95 % sure).
    """
    return total_harmonic_current(rms, highest=50) / demand if demand else math.nan


def _sums(lines: np.ndarray, periods: int, orders: int, weights: dict[int, float], first: int = 1) -> np.ndarray:
    """Weighted mean squares about each order from ``first`` to ``orders``."""
    squares = 0.5 * np.abs(np.asarray(lines)) ** 2  # a peak amplitude C has the mean square C^2 / 2
    squares[..., 0] *= 2.0
    places = periods * np.arange(first, orders + 1)
    if places[-1] + max(weights) >= squares.shape[-1]:
        raise WeldsimError(
            f"{squares.shape[-1]} lines do not reach order {orders} of a window of {periods} periods",
            place="grouping",
            advice=f"hand over at least {places[-1] + max(weights) + 1} lines, or ask for fewer orders",
        )
    found = np.zeros((*squares.shape[:-1], len(places)))
    for step, weight in weights.items():
        found += weight * squares[..., places + step]
    return found
