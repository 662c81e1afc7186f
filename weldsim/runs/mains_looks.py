"""What the mains sees of a supply: exact spectral lines of its current and of the voltage at the plug.

A settled supply is read over the one period that repeats, without samples and without a recording, so that a dial with
forty settings takes half a second; one that does not repeat is read over a window of 10 or 12 periods.
"""

import dataclasses
import math
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np

from weldsim.engine.trace import Trace
from weldsim.frozen import dataclass
from weldsim.parts.mains import source_terms
from weldsim.runs.commands import with_dial
from weldsim.runs.generator_runs import settle_fed
from weldsim.runs.steady import MOST_PERIODS, Settled
from weldsim.runs.supply import Supply, supply_of
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of

ORDERS = 50  # IEEE 519 counts so far, IEC 61000 to 40
FEW_PERIODS = 30  # of a sweep, after which a setting counts as one that never repeats
READ = ("primary.current", "plug.voltage")


def periods_of_window(frequency: float) -> int:
    """Mains periods that make about 200 ms, an even number: 10 at 50 Hz, 12 at 60 Hz (IEC 61000-4-7)."""
    return 2 * round(0.1 * frequency)


@dataclass(frozen=True, eq=False)
class Look:
    """Current and voltages of the mains over one or more windows of whole periods.

    ``current``, ``plug`` and ``source`` hold complex peak amplitudes, one row for each window, ``periods`` lines to
    each order, the direct part (not doubled) first.  The other figures are exact over all windows [A, V, W].
    """

    dial: float | None
    delay: float | None
    repeats: bool
    periods: int
    current: np.ndarray
    plug: np.ndarray
    source: np.ndarray
    rms: float
    peak: float
    source_rms: float
    plug_rms: float
    source_power: float
    plug_power: float
    settled: Settled | None = None
    trace: Trace | None = None

    def orders(self, name: str, count: int = ORDERS) -> np.ndarray:
        """Rms of orders 1 to ``count`` of the current, the plug or the source: the lines of the orders themselves."""
        lines = getattr(self, name)[:, self.periods :: self.periods][:, :count]
        return np.sqrt(np.mean(0.5 * np.abs(lines) ** 2, axis=0))

    @property
    def patience(self) -> int:
        """Periods after which a setting beside this one counts as one that never repeats."""
        return max(FEW_PERIODS, self.settled.periods) if self.repeats and self.settled else FEW_PERIODS

    @property
    def mean(self) -> float:
        """Direct part of the current [A]."""
        return float(self.current[:, 0].real.mean())


def settled_look(  # noqa: PLR0913 (all by keyword)
    supply: Supply,
    *,
    dial: float | None = None,
    delay: float | None = None,
    mains_factor: float = 1.0,
    after: Settled | None = None,
    orders: int = ORDERS,
    patience: int = MOST_PERIODS,
) -> Look:
    """Settle one setting and read it; ``after`` is the settled state of a neighbouring one to start from."""
    asked = supply.delay(dial, delay)
    settled = settle_fed(supply, delay=asked, mains_factor=mains_factor, patience=patience, after=after)
    trace = _recorded(supply, settled, asked)
    look = _read(supply.scenario, settled, trace, setting=(dial, asked), orders=orders)
    return dataclasses.replace(look, trace=trace)


def _recorded(supply: Supply, settled: Settled, delay: float | None) -> Trace:
    """The period that repeats, or a window where none does."""
    end = supply.period * (1 if settled.periodic else periods_of_window(supply.scenario.mains.frequency))
    span, factor = (0.0, end), settled.source_factor
    stepper = supply.stepper(settled.state, settled.signature, span, delay=delay, mains_factor=factor)
    stepper.run_to(end)
    return stepper.trace()


def _read(
    scenario: Scenario, settled: Settled, trace: Trace, *, setting: tuple[float | None, float | None], orders: int
) -> Look:
    """All figures of a setting (dial, delay) from its trace, which is not kept with them."""
    repeats, end = settled.periodic, trace.span[1]
    periods = 1 if repeats else periods_of_window(scenario.mains.frequency)
    lines = lines_of(trace, periods, span=(0.0, end), orders=orders)
    source = source_lines(scenario, periods, count=lines.shape[1], mains_factor=settled.source_factor)
    peaks, squares = trace.groups("primary.current", np.zeros(len(trace.time), dtype=np.int64))
    rms = math.sqrt(float(squares[0]) / end)
    power = power_of(source, lines[0])
    voltages = trace.mean_squares(["plug.voltage", "mains.voltage"], 0.0, width=end, count=1)[:, 0]
    drop = 0.0 if repeats else _stored(trace, scenario, span=(0.0, end)) / end
    return Look(
        dial=setting[0],
        delay=setting[1],
        repeats=repeats,
        periods=periods,
        current=lines[:1],
        plug=lines[1:2],
        source=source[None],
        rms=rms,
        peak=float(peaks[0]),
        source_rms=math.sqrt(float(voltages[1])),
        plug_rms=math.sqrt(float(voltages[0])),
        source_power=power,
        plug_power=power - source_of(scenario).resistance * rms**2 - drop,
        settled=settled,
    )


def swept(scenario: Scenario, settings: Sequence[tuple[float | None, float | None]], *, orders: int = 40) -> list[Look]:
    """Several settings (dial, delay), each from the settled state of the one before.

    From rest where a dial turns a part of the circuit, as there each setting is a supply of its own.  While one is
    looked for the one before is read.
    """
    supply = supply_of(scenario)
    after: Settled | None = None
    with ThreadPoolExecutor(1) as reader:
        reading: list[Future[Look]] = []
        for dial, delay in settings:
            turned = with_dial(scenario, dial)
            supply = supply if turned is scenario else supply_of(turned)
            asked, before = supply.delay(dial, delay), after if turned is scenario else None
            after = settle_fed(supply, delay=asked, patience=FEW_PERIODS, after=before)
            trace = _recorded(supply, after, asked)
            reading.append(reader.submit(_read, turned, after, trace, setting=(dial, asked), orders=orders))
        return [look.result() for look in reading]


class WindowLooks:
    """Windows of 10 or 12 periods of a run under way, one by one, as a single look."""

    def __init__(self, scenario: Scenario, *, orders: int = 40) -> None:
        self.scenario, self.orders = scenario, orders
        self.periods = periods_of_window(scenario.mains.frequency)
        self.length = self.periods / scenario.mains.frequency
        self._lines: list[np.ndarray] = []
        self._figures: list[tuple[float, ...]] = []

    @property
    def count(self) -> int:
        """Windows read so far."""
        return len(self._lines)

    def add(self, trace: Trace, begin: float) -> None:
        """Read one window that a trace holds whole."""
        end = begin + self.length
        self._lines.append(lines_of(trace, self.periods, span=(begin, end), orders=self.orders))
        sums = trace.integrals(begin, end)
        extremes, _ = trace.extremes(["primary.current"], begin, end)
        self._figures.append(
            (
                sums.square("primary.current") / sums.length,
                float(np.abs(extremes).max()),
                sums.square("mains.voltage") / sums.length,
                sums.square("plug.voltage") / sums.length,
                sums.product("mains.voltage", "primary.current") / sums.length,
                sums.product("plug.voltage", "primary.current") / sums.length,
            )
        )

    def look(self, *, delay: float | None, trace: Trace | None = None) -> Look:
        """All windows read so far."""
        table, lines = np.array(self._figures), np.array(self._lines)
        means = table.mean(axis=0)
        source = source_lines(self.scenario, self.periods, count=lines.shape[2])
        return Look(
            dial=None,
            delay=delay,
            repeats=False,
            periods=self.periods,
            current=lines[:, 0],
            plug=lines[:, 1],
            source=np.repeat(source[None], len(lines), axis=0),
            rms=math.sqrt(means[0]),
            peak=float(table[:, 1].max()),
            source_rms=math.sqrt(means[2]),
            plug_rms=math.sqrt(means[3]),
            source_power=float(means[4]),
            plug_power=float(means[5]),
            trace=trace,
        )


def lines_of(trace: Trace, periods: int, *, span: tuple[float, float], orders: int) -> np.ndarray:
    """Lines of current and plug voltage over a span of so many periods, those between the orders too if it has many."""
    count = orders + 1 if periods == 1 else (orders + 1) * periods
    found = trace.fourier(READ, (np.arange(count) / periods).tolist(), begin=span[0], end=span[1])
    found[:, 0] *= 0.5
    return found


def source_lines(scenario: Scenario, periods: int, *, count: int, mains_factor: float = 1.0) -> np.ndarray:
    """Lines of the ideal source: it has whole orders only."""
    lines = np.zeros(count, complex)
    mains = source_of(scenario)
    lines[0] = mains.dc_offset
    for order, sine, cosine in source_terms(mains):
        if order * periods < count:
            lines[order * periods] = mains_factor * (cosine - 1j * sine)
    return lines


def power_of(voltage: np.ndarray, current: np.ndarray) -> float:
    """Mean of the product of two waves from their lines, exact where one of them has no others."""
    return float((voltage[0] * current[0]).real + 0.5 * np.sum(voltage[1:] * current[1:].conjugate()).real)


def reference_plug(look: Look, scenario: Scenario, impedance: tuple[float, float]) -> np.ndarray:
    """Lines of the voltage behind another impedance (resistance, inductance) that carries the same current."""
    resistance, inductance = impedance
    speeds = 2.0 * np.pi * scenario.mains.frequency * np.arange(look.current.shape[1]) / look.periods
    return look.source - (resistance + 1j * speeds * inductance) * look.current


def _stored(trace: Trace, scenario: Scenario, *, span: tuple[float, float]) -> float:
    """Energy that the inductance of the mains takes up over a span that does not repeat [J]."""
    ends = [trace.sample(["primary.current"], at, spacing=1e-9, count=1)[0, 0] for at in (span[0], span[1])]
    return 0.5 * source_of(scenario).inductance * float(ends[1] ** 2 - ends[0] ** 2)
