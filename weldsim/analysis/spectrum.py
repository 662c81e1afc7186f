"""Displacement of fundamentals."""

import math


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

    >>> round(displacement_factor(-325j, 10 * math.e ** (-1j * math.radians(150))), 3)
    0.5

    References
    ----------
    IEC 60050-131, 131-11-48 (displacement factor), from memory.
    """
    size = abs(voltage) * abs(current)
    return float((voltage * current.conjugate()).real / size) if size else math.nan
