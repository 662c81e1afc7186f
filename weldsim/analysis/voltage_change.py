"""Voltage changes as IEC 61000-3-3 counts them, from the rms of half periods: d_max, d_c, and time above 3.3 %.

The voltage is steady while the last second of half periods lies within 0.2 % of the nominal voltage around its own
mean.  From the first half period that breaks this to the first that mends it is one voltage change; its figures are
told from the mean that held before.
"""

import math

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass

STEADY_BAND = 0.002  # of the nominal voltage, either way (IEC 61000-3-3, 3.x, from memory, 85 % sure)
LIMIT_OF_TIME = 0.033  # d(t) above this is timed (IEC 61000-3-3, clause 5, from memory, 95 % sure)


@dataclass(frozen=True)
class VoltageChangeFigures:
    """Largest figures over all voltage changes, of either sign; shares of the nominal voltage [1], times [s].

    ``time_above`` is summed up over one voltage change until the voltage is steady again; ``longest_above`` is the
    longest unbroken part of it.  ``open`` tells whether the last change was still running, so that its d_c is unknown.
    """

    d_max: float
    d_c: float
    time_above: float
    longest_above: float
    changes: int
    open: bool


def half_period_rms(mean_squares: np.ndarray, *, per_half: int) -> np.ndarray:
    """Rms of each half period from means of the square.

    Parameters
    ----------
    mean_squares : numpy.ndarray
        Means of the squared voltage over equal parts of a half period, from a zero crossing on [V2].
    per_half : int
        How many make a half period [1].

    Returns
    -------
    numpy.ndarray
        One rms value for each whole half period; a broken one at the end is left out [V].

    Notes
    -----
    Exact where the means are.  Squares of bare samples will do where the voltage holds nothing above their rate.

    Examples
    --------
    >>> half_period_rms([52900.0, 52900.0, 48400.0, 48400.0], per_half=2)
    array([230., 220.])

    References
    ----------
    IEC 61000-3-3, definition of the half-period rms value (from memory).
    """
    squares = np.asarray(mean_squares, np.float64)
    whole = len(squares) // per_half * per_half
    return np.sqrt(squares[:whole].reshape(-1, per_half).mean(axis=1))


class VoltageChanges:
    """Watches the rms of half periods, block by block, for voltage changes.

    Parameters
    ----------
    nominal : float
        Nominal voltage, to which every change is referred [V].
    frequency : float
        Mains frequency; a second has twice as many half periods [Hz].
    start : float or None
        Rms that held for the second before the first value; None: the first value [V].

    Notes
    -----
    A voltage that never comes to rest, as with dips in quick order, is one long change told from the level before it.
    A slow drift is no change at all: the mean follows it.

    Examples
    --------
    Five seconds at 230 V, five at 225 V with the first two half periods at 218 V:

    >>> watch = VoltageChanges(230.0, frequency=50.0)
    >>> watch.feed(np.concatenate([np.full(500, 230.0), [218.0, 218.0], np.full(498, 225.0)]))
    >>> found = watch.figures()
    >>> round(found.d_max, 4), round(found.d_c, 4), round(found.time_above, 3), found.changes
    (0.0522, 0.0217, 0.02, 1)

    References
    ----------
    IEC 61000-3-3, clause 3 and IEC 61000-4-15, edition 2, clause 5.9 (from memory, 85 % sure).
    """

    def __init__(self, nominal: float, *, frequency: float, start: float | None = None) -> None:
        if not (nominal > 0.0 and frequency > 0.0):
            raise QuestionError("nominal voltage and frequency must be above zero", place="voltage changes")
        self.nominal, self.frequency = nominal, frequency
        self._second = max(round(2.0 * frequency), 2)
        self._recent = None if start is None else np.full(self._second - 1, float(start))
        self._level = math.nan if start is None else float(start)  # of the last steady state
        self._changing = False
        self._above = self._unbroken = 0  # half periods of the change that runs
        self._most = dict.fromkeys(("d_max", "d_c", "time", "unbroken"), 0.0)
        self._changes = 0

    def feed(self, rms: np.ndarray) -> None:
        """Take the next rms values of half periods [V]."""
        values = np.asarray(rms, np.float64)
        if not len(values):
            return
        if self._recent is None:
            self._recent, self._level = np.full(self._second - 1, values[0]), float(values[0])
        joined = np.concatenate([self._recent, values])
        self._recent = joined[len(values) :]
        seconds = sliding_window_view(joined, self._second)
        means = seconds.mean(axis=1)
        band = STEADY_BAND * self.nominal
        steady = (seconds.max(axis=1) - means <= band) & (means - seconds.min(axis=1) <= band)
        borders = np.flatnonzero(np.diff(steady)) + 1
        for first, last in zip([0, *borders], [*borders, len(values)], strict=True):
            if steady[first]:
                self._rest(float(means[first]), float(means[last - 1]))
            else:
                self._change((self._level - values[first:last]) / self.nominal)

    def _rest(self, regained: float, left: float) -> None:
        """A steady stretch, with its mean where it begins and where it ends."""
        if self._changing:
            self._keep("d_c", abs(self._level - regained) / self.nominal)
            self._changing = False
        self._level = left

    def _change(self, depths: np.ndarray) -> None:
        """A stretch of a voltage change: depths below the level before it."""
        if not self._changing:
            self._changing = True
            self._changes += 1
            self._above = self._unbroken = 0
        self._keep("d_max", float(np.max(np.abs(depths))))
        over = np.abs(depths) > LIMIT_OF_TIME
        self._above += int(np.count_nonzero(over))
        gaps = np.flatnonzero(~over)
        if len(gaps):
            inner = int(np.max(np.diff(gaps))) - 1 if len(gaps) > 1 else 0
            self._keep("unbroken", max(self._unbroken + int(gaps[0]), inner))
            self._unbroken = len(depths) - 1 - int(gaps[-1])
        else:
            self._unbroken += len(depths)
        self._keep("unbroken", self._unbroken)
        self._keep("time", self._above)

    def _keep(self, name: str, value: float) -> None:
        self._most[name] = max(self._most[name], value)

    def figures(self) -> VoltageChangeFigures:
        """The figures of all that was fed."""
        half = 0.5 / self.frequency
        most = self._most
        return VoltageChangeFigures(
            d_max=most["d_max"],
            d_c=most["d_c"],
            time_above=half * most["time"],
            longest_above=half * most["unbroken"],
            changes=self._changes,
            open=self._changing,
        )
