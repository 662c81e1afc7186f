"""Flicker and voltage changes of minutes of a voltage, block by block, in constant memory."""

import numpy as np

from weldsim.analysis.flicker import RATE, Flickermeter, SensationClasses, long_term_severity, pair_for
from weldsim.analysis.voltage_change import VoltageChangeFigures, VoltageChanges, half_period_rms
from weldsim.frozen import dataclass

MINUTE = 60.0  # [s] of which each has a Pst of its own, for the spread
SHORT_TERM = 600.0  # [s] of which each has a Pst of the standard


@dataclass(frozen=True, eq=False)
class FlickerFigures:
    """What was found: Pst of all of it, Plt, Pst of each minute [1], voltage changes, and a picture of every second.

    ``sensation`` is the largest Pinst of each second [1], ``least`` and ``most`` the extremes of its half-period rms
    over the nominal voltage [1].
    """

    pst: float
    plt: float
    peak: float
    minutes: tuple[float, ...]
    changes: VoltageChangeFigures
    sensation: np.ndarray
    least: np.ndarray
    most: np.ndarray


class FlickerRecord:
    """Takes means of the squared voltage, 1200 a second of the nominal frequency, and keeps the figures.

    Parameters
    ----------
    nominal : float
        Nominal voltage, rms [V].
    frequency : float
        Mains frequency; its periods are counted as those of 50 or 60 Hz, whichever is nearer [Hz].
    start : float
        Rms of the voltage that held before the first value [V].

    Notes
    -----
    Where the weld lasts longer than ten minutes, the Pst is that of the whole, and Plt is made of the Pst of each ten
    minutes.  Fewer than ten minutes give a Pst of what there is.

    Examples
    --------
    A voltage that stands still flickers not at all:

    >>> record = FlickerRecord(nominal=230.0, frequency=50.0, start=230.0)
    >>> record.feed(np.full(24000, 52900.0))
    >>> found = record.figures()
    >>> round(found.pst, 3), found.changes.d_max, len(found.sensation)
    (0.001, 0.0, 20)

    References
    ----------
    IEC 61000-4-15 and IEC 61000-3-3, as in ``Flickermeter`` and ``VoltageChanges``.
    """

    def __init__(self, *, nominal: float, frequency: float, start: float) -> None:
        self.nominal = nominal
        self.pair = pair_for(nominal, frequency=frequency)
        self._meter = Flickermeter(self.pair, rate=RATE, start=start)
        self._changes = VoltageChanges(nominal, frequency=0.5 * RATE / self._meter.per_half, start=start)
        self._all, self._minute, self._ten = SensationClasses(), SensationClasses(), SensationClasses()
        self._minutes: list[float] = []
        self._tens: list[float] = []
        self._seconds: list[tuple[float, float, float]] = []
        self._kept = np.zeros(0)

    def feed(self, squares: np.ndarray) -> None:
        """Take the next means of the square [V2]; they are worked on by whole seconds."""
        joined = np.concatenate([self._kept, np.asarray(squares, np.float64)])
        second = round(RATE)
        whole = len(joined) // second * second
        for first in range(0, whole, second):
            self._second(joined[first : first + second])
        self._kept = joined[whole:]

    def _second(self, squares: np.ndarray) -> None:
        felt = self._meter.feed_mean_squares(squares)
        for classes in (self._all, self._minute, self._ten):
            classes.add(felt)
        rms = half_period_rms(squares, per_half=self._meter.per_half)
        self._changes.feed(rms)
        self._seconds.append((float(felt.max()), float(rms.min()) / self.nominal, float(rms.max()) / self.nominal))
        if len(self._seconds) % round(MINUTE) == 0:
            self._minutes.append(self._minute.short_term_severity())
            self._minute = SensationClasses()
        if len(self._seconds) % round(SHORT_TERM) == 0:
            self._tens.append(self._ten.short_term_severity())
            self._ten = SensationClasses()

    def figures(self) -> FlickerFigures:
        """The figures of all whole seconds that were fed."""
        pst = self._all.short_term_severity()
        sensation, least, most = np.array(self._seconds).reshape(-1, 3).T
        return FlickerFigures(
            pst=pst,
            plt=long_term_severity(np.array(self._tens or [pst])),
            peak=self._all.peak,
            minutes=tuple(self._minutes),
            changes=self._changes.figures(),
            sensation=sensation,
            least=least,
            most=most,
        )
