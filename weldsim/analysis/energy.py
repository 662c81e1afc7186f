"""Energy balance: what went in must be stored, lost or delivered."""

import math

import numpy as np

from weldsim.errors import WeldsimError


def balance(supplied: float, *, lost: float, delivered: float, stored: float) -> float:
    """Energy that the books cannot place: supplied - lost - delivered - change of what is stored.

    Parameters
    ----------
    supplied : float
        Energy given by the sources [J].
    lost : float
        Energy turned into heat in the parts [J].
    delivered : float
        Energy taken by the load [J].
    stored : float
        Change of the energy in capacitors, inductances and iron, end minus start [J].

    Returns
    -------
    float
        Residual [J]; zero in a perfect account.

    Notes
    -----
    Every entry must have been found by itself, from a part's own voltage and current: an entry found as a difference
    makes the residual zero whatever is wrong.

    Examples
    --------
    A bank charged from 0 to 40 V through a resistor: 160 J supplied, 80 J lost, 80 J stored in 0.1 F:

    >>> balance(160.0, lost=80.0, delivered=0.0, stored=80.0)
    0.0

    References
    ----------
    Conservation of energy; derived here.
    """
    return math.fsum((supplied, -lost, -delivered, -stored))


def relative_residual(supplied: float, *, lost: float, delivered: float, stored: float) -> float:
    """The residual of the balance as a share of the energy that was moved.

    residual / max(|supplied|, |lost| + |delivered| + |stored|)

    Parameters
    ----------
    supplied : float
        Energy given by the sources [J].
    lost : float
        Energy turned into heat in the parts [J].
    delivered : float
        Energy taken by the load [J].
    stored : float
        Change of the energy in capacitors, inductances and iron, end minus start [J].

    Returns
    -------
    float
        Residual over the energy moved [1]; 0 where nothing moved.

    Notes
    -----
    The larger side of the account is the measure, so that a capacitor that merely feeds a load (nothing supplied) is
    judged too.

    Examples
    --------
    One joule missing of a thousand:

    >>> relative_residual(1000.0, lost=300.0, delivered=650.0, stored=49.0)
    0.001

    References
    ----------
    Derived here.
    """
    moved = max(abs(supplied), abs(lost) + abs(delivered) + abs(stored))
    return balance(supplied, lost=lost, delivered=delivered, stored=stored) / moved if moved else 0.0


def energy_of(time: np.ndarray, voltage: np.ndarray, current: np.ndarray) -> float:
    """Energy of a sampled voltage and current, by trapezoids of their product: for recordings without a ledger.

    Parameters
    ----------
    time : numpy.ndarray
        Times of the samples, not falling [s].
    voltage : numpy.ndarray
        Samples of the voltage [V].
    current : numpy.ndarray
        Samples of the current, at the same times [A].

    Returns
    -------
    float
        Energy [J], positive where current flows in at the positive terminal.

    Notes
    -----
    The error is about (2 pi f dt)^2 / 12 for the fastest frequency f that both hold.  The ledger of a run is exact and
    is not computed this way.

    Examples
    --------
    20 V and 100 A for half a second:

    >>> energy_of(np.array([0.0, 0.5]), np.array([20.0, 20.0]), np.array([100.0, 100.0]))
    1000.0

    References
    ----------
    Trapezoidal rule.
    """
    if not len(time) == len(voltage) == len(current):
        raise WeldsimError(
            f"{len(voltage)} voltages and {len(current)} currents at {len(time)} times",
            place="energy",
            advice="give one of each per time",
        )
    power = np.asarray(voltage, np.float64) * np.asarray(current, np.float64)
    return float(np.dot(np.diff(time), power[1:] + power[:-1]) / 2)
