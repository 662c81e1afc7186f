"""Dip transfer measured: short circuits, arcs and gaps of a weld, fed block by block, in memory that does not grow.

    arc ____        arc ________            period: from one short's beginning to the next one's
            |______|            |_____      rise:   from the current where a short begins to its largest, over that time
             short               short

What a short, an arc and nothing are is told by the caller (the wire's process knows); current and voltage alone would
have to guess it.  A change falls on a sample, which still belongs to what ends there: the current goes on through it,
the voltage jumps behind it.
"""

import dataclasses
import math
from dataclasses import field

import numpy as np

NOTHING, SHORT, ARC = 0, 1, 2  # kinds of a sample
STUBBED = 0.02  # [s] a short that lasts as long is stubbing: twice the longest of dip transfer
PERIOD_BIN, PERIOD_BINS = 2e-3, 50  # [s] of the histogram of dip periods; the last bin takes all longer ones

_Ends = tuple[np.ndarray, np.ndarray]  # of ticks: where they begin, where they end


@dataclasses.dataclass
class Tally:
    """Count, mean and spread of values that are not kept."""

    count: int = 0
    total: float = 0.0
    square: float = 0.0
    least: float = math.inf
    largest: float = -math.inf

    def add(self, value: float) -> None:
        """Take one more value."""
        self.count += 1
        self.total += value
        self.square += value * value
        self.least, self.largest = min(self.least, value), max(self.largest, value)

    @property
    def mean(self) -> float:
        """Mean; unknown where there was nothing."""
        return self.total / self.count if self.count else math.nan

    @property
    def spread(self) -> float:
        """Standard deviation over mean; unknown with fewer than two values."""
        if self.count < 2 or self.total == 0.0:
            return math.nan
        variance = max(self.square - self.total**2 / self.count, 0.0) / (self.count - 1)
        return math.sqrt(variance) / abs(self.mean)


@dataclasses.dataclass
class Stretch:
    """Samples of one kind in a row; currents [A], volts of the bank [V], the rest counted in samples."""

    kind: int
    count: int
    first: float  # where it begins: at the sample before its own
    least: float  # of its own samples
    largest: float
    at_largest: int
    last: float
    bank: float = math.nan  # where it begins
    bank_least: float = math.nan
    whole: bool = True  # its beginning was seen

    def join(self, later: "Stretch") -> None:
        """Go on with the samples that follow."""
        if later.largest > self.largest:
            self.largest, self.at_largest = later.largest, self.count + later.at_largest
        self.least, self.last = min(self.least, later.least), later.last
        self.bank_least = min(self.bank_least, later.bank_least)
        self.count += later.count


@dataclasses.dataclass
class DipMeter:
    """Dip-transfer figures of a weld, fed in blocks of any length.

    Parameters
    ----------
    tick : float
        Between two samples [s].
    hold : float
        Current below which the arc may go out [A].
    most_current, most_voltage : float
        Where the density picture ends [A], [V].
    bins : int
        Of the density picture, each way [1].
    height : float
        Gap at which the arc has reached the contact tube [m].

    Notes
    -----
    Spread is standard deviation over mean.  The first and the last stretch are cut by the window and count for the
    sums only.  A sample stands for the tick that ends with it, so durations are whole ticks; within it current and
    voltage are taken as straight, the voltage as level in the tick after a change.

    Examples
    --------
    Shorts of 3 ms every 12 ms, in which the current rises from 80 to 250 A:

    >>> kind = np.tile(np.repeat([ARC, SHORT], [90, 30]), 20)
    >>> current = np.interp(np.arange(1, 2401) % 120, [0, 90, 120], [250.0, 80.0, 250.0])
    >>> meter = DipMeter(tick=1e-4, hold=10.0)
    >>> meter.feed(kind, current, np.where(kind == ARC, 18.0, 3.0))
    >>> round(1.0 / meter.period.mean, 1), round(1e3 * meter.duration.mean, 1), round(1e-3 * meter.rise.mean, 1)
    (83.3, 3.0, 56.7)

    References
    ----------
    Derived here; the words are the trade's.
    """

    tick: float
    hold: float
    most_current: float = 600.0
    most_voltage: float = 60.0
    bins: int = 75
    height: float = math.inf
    period: Tally = field(default_factory=Tally)  # [s]
    duration: Tally = field(default_factory=Tally)  # [s] of shorts
    arc_time: Tally = field(default_factory=Tally)  # [s] of unbroken arcs
    peak: Tally = field(default_factory=Tally)  # [A] largest current of a short
    rupture: Tally = field(default_factory=Tally)  # [A] its last current
    rise: Tally = field(default_factory=Tally)  # [A/s]
    bank_fall: Tally = field(default_factory=Tally)  # [V] from the bank's voltage at a short's beginning to its least
    arc_minimum: Tally = field(default_factory=Tally)  # [A] least current of an arc, none where it was lost
    below_hold: int = 0  # arcs whose least current lies below the hold limit
    losses: int = 0  # arcs that ended in nothing
    stubs: int = 0  # shorts as long as STUBBED
    burnt_back: int = 0  # samples of an arc that has reached the contact tube
    energy: float = 0.0  # [J]

    def __post_init__(self) -> None:
        """Sums by kind, and the picture."""
        self.samples, self.charge, self.volts = np.zeros(3), np.zeros(3), np.zeros(3)
        self.squares = np.zeros(2)  # of current and voltage
        self.density = np.zeros((self.bins, self.bins))
        self.periods = np.zeros(PERIOD_BINS, np.int64)
        self._open: Stretch | None = None
        self._last: tuple[int, float, float, float] | None = None  # kind, current, voltage, bank of the last sample
        self._since_short: int | None = None  # samples from the last short's beginning to the open stretch's

    def feed(
        self,
        kind: np.ndarray,
        current: np.ndarray,
        voltage: np.ndarray,
        *,
        gap: np.ndarray | None = None,
        bank: np.ndarray | None = None,
        lost: np.ndarray | None = None,
    ) -> None:
        """Take the next samples: kinds of the ticks that end with them, currents [A], voltages [V] and, where they are
        known, gaps [m], voltages of the bank [V], and in which ticks an arc was lost: there its voltage counts on.
        """
        if not len(kind):
            return
        if gap is not None:
            self.burnt_back += int(np.count_nonzero((kind == ARC) & (gap >= self.height)))
        volts = np.full(len(kind), math.nan) if bank is None else bank
        last = self._last or (int(kind[0]), float(current[0]), float(voltage[0]), float(volts[0]))
        self._last = int(kind[-1]), float(current[-1]), float(voltage[-1]), float(volts[-1])
        before = np.concatenate([[last[1]], current[:-1]])
        unchanged = np.concatenate([[last[0]], kind[:-1]]) == kind
        earlier = np.concatenate([[last[2]], voltage[:-1]])
        end = voltage if lost is None else np.where(lost & unchanged, earlier, voltage)
        self._sum(kind, (before, current), (np.where(unchanged, earlier, end), end))
        self._paint(current, voltage)
        for stretch in _stretches(kind, (before, current), (np.concatenate([[last[3]], volts[:-1]]), volts)):
            if self._open is None:
                stretch.whole = False
                self._open = stretch
            elif stretch.kind == self._open.kind:
                self._open.join(stretch)
            else:
                self._close(self._open, stretch.kind)
                self._open = stretch

    def _sum(self, kind: np.ndarray, current: _Ends, voltage: _Ends) -> None:
        """Add up ticks whose currents and voltages go straight from end to end."""
        mean_current, mean_voltage = 0.5 * (current[0] + current[1]), 0.5 * (voltage[0] + voltage[1])
        rise, climb = current[1] - current[0], voltage[1] - voltage[0]
        self.samples += np.bincount(kind, minlength=3)
        self.charge += np.bincount(kind, weights=mean_current, minlength=3)
        self.volts += np.bincount(kind, weights=mean_voltage, minlength=3)
        self.energy += float(mean_current @ mean_voltage + rise @ climb / 12.0) * self.tick
        self.squares += (
            float(mean_current @ mean_current + rise @ rise / 12.0),
            float(mean_voltage @ mean_voltage + climb @ climb / 12.0),
        )

    def _paint(self, current: np.ndarray, voltage: np.ndarray) -> None:
        """Count the samples in the cells of the picture; what lies outside belongs to the outermost cell."""
        across = np.clip(current * (self.bins / self.most_current), 0, self.bins - 1).astype(np.int64)
        up = np.clip(voltage * (self.bins / self.most_voltage), 0, self.bins - 1).astype(np.int64)
        cells = np.bincount(up * self.bins + across, minlength=self.bins * self.bins)
        self.density += cells.reshape(self.bins, self.bins)

    def _close(self, done: Stretch, following: int) -> None:
        """Count a stretch that has ended."""
        if done.kind == SHORT:
            if self._since_short is not None:
                self.period.add(self._since_short * self.tick)
                self.periods[min(int(self._since_short * self.tick / PERIOD_BIN), PERIOD_BINS - 1)] += 1
            self._since_short = 0 if done.whole else None
            if done.whole:
                self.duration.add(done.count * self.tick)
                self.stubs += done.count * self.tick >= STUBBED
                self.peak.add(done.largest)
                self.rupture.add(done.last)
                if done.at_largest:
                    self.rise.add((done.largest - done.first) / (done.at_largest * self.tick))
                if math.isfinite(done.bank):
                    self.bank_fall.add(done.bank - min(done.bank, done.bank_least))
        elif done.kind == ARC:
            self.losses += following == NOTHING
            if done.whole:
                self.arc_time.add(done.count * self.tick)
                least = 0.0 if following == NOTHING else done.least
                self.arc_minimum.add(least)
                self.below_hold += least < self.hold
        if self._since_short is not None:
            self._since_short += done.count

    @property
    def length(self) -> float:
        """Time fed so far [s]."""
        return float(self.samples.sum()) * self.tick

    def mean_current(self, kind: int | None = None) -> float:
        """Mean current [A] of all samples, or of one kind."""
        return _mean(self.charge, self.samples, kind)

    def mean_voltage(self, kind: int | None = None) -> float:
        """Mean voltage [V] of all samples, or of one kind."""
        return _mean(self.volts, self.samples, kind)

    @property
    def burnt_back_share(self) -> float:
        """Share of the time in which the arc burns in the contact tube [1]."""
        return float(self.burnt_back / self.samples.sum()) if self.samples.any() else math.nan

    def share(self, kind: int) -> float:
        """Share of the time [1]."""
        return float(self.samples[kind] / self.samples.sum()) if self.samples.any() else math.nan


def _mean(sums: np.ndarray, samples: np.ndarray, kind: int | None) -> float:
    """Sum over count, of one kind or of all."""
    total, count = (sums.sum(), samples.sum()) if kind is None else (sums[kind], samples[kind])
    return float(total / count) if count else math.nan


def _stretches(kind: np.ndarray, current: _Ends, bank: _Ends) -> list[Stretch]:
    """The rows of samples of one kind, in their order."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(kind)) + 1])
    ends = np.append(starts[1:], len(kind))
    least, largest = np.minimum.reduceat(current[1], starts), np.maximum.reduceat(current[1], starts)
    bank_least = np.minimum.reduceat(bank[1], starts)
    found = []
    for k, (start, end) in enumerate(zip(starts, ends, strict=True)):
        first = float(current[0][start])
        at = 0 if largest[k] <= first or kind[start] != SHORT else 1 + int(np.argmax(current[1][start:end]))
        found.append(
            Stretch(
                int(kind[start]),
                int(end - start),
                first,
                float(least[k]),
                max(first, float(largest[k])),
                at,
                float(current[1][end - 1]),
                float(bank[0][start]),
                float(bank_least[k]),
            )
        )
    return found
