"""Weld: dip transfer for some seconds at one setting, and the range of dial settings in which it runs regularly."""

import dataclasses
import math
from collections.abc import Callable
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

import numpy as np

from weldsim.analysis.dips import ARC, NOTHING, PERIOD_BIN, SHORT, DipMeter
from weldsim.errors import QuestionError
from weldsim.runs.commands import with_dial
from weldsim.runs.run import Run
from weldsim.runs.tapped import tap_key
from weldsim.runs.weld_runs import FOR_THE_WELD, Weld, WeldPart
from weldsim.runs.weld_saving import WeldSaver, run_of_parts
from weldsim.runs.wire_runs import WireSupply, delay_of
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import MAINS_STEPS, Answer, Number
from weldsim.studies.choke_words import for_a_wire
from weldsim.studies.progress import Progress, silent
from weldsim.studies.weld_measure import (
    START,
    WeldJob,
    dip_rate,
    feed_meter,
    irregularities,
    measure_many,
    meter_for,
)
from weldsim.studies.weld_verdicts import verdicts

SHOWN = 0.25  # [s] of the end that the picture shows
RECORDED = (*FOR_THE_WELD, "terminal.voltage", "choke.current")
OTHERS = 5.0  # [s] at most of a weld at another mains voltage or dial: as long as the one asked for, as a rule
COARSE = 0.05  # steps of the dial in the search for the window; a quarter of it at its ends


def ask(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    seconds: float = 5.0,
    dial: float | None = None,
    delay: float | None = None,
    feed: float | None = None,
    seed: int = 1,
    travel: float | None = None,
    voltage_window: bool = False,
    spread: bool = True,
    workers: int | None = None,
    executor: Executor | None = None,
    save: str | Path | None = None,
    command: str = "weld",
    progress: Progress = silent,
) -> Answer:
    """A weld of so many seconds after its start, part by part in constant memory; see the rules of the wire.

    Parameters
    ----------
    scenario : Scenario
        Its [wire] is used whatever its load says; a default wire where it has none.
    seconds : float
        Length of the weld after its start of 0.5 s [s].
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg].
    feed : float or None
        Wire feed [m/s]; the scenario's own if None.
    seed : int
        Start of the random draws: contact, drops, phase of the mains at the trigger.
    travel : float or None
        Speed of the torch along the seam [m/s], for the heat per length.
    voltage_window : bool
        Whether to look for the lowest and highest dial at which it runs regularly at this feed.
    spread : bool
        Whether to weld at mains -10 and +10 % too.
    workers : int or None
        Threads; None: two.
    executor : concurrent.futures.Executor or None
        Where those welds run instead.
    save : path or None
        File that the whole weld is streamed into.

    Returns
    -------
    Answer : rows "density", "periods", "mains" and "window"; run "window", its end.

    Raises
    ------
    QuestionError : no length, no travel, or no dial to be varied; WiringError, SimulationError, RunFileError.
    """
    _check(scenario, seconds=seconds, travel=travel, voltage_window=voltage_window)
    supply = WireSupply(with_dial(scenario, dial))
    asked = delay_of(scenario, dial, delay)
    weld = Weld(supply, delay=asked, feed=feed, seed=seed, signals=RECORDED)
    meter, run = _weld(weld, seconds, save=save, command=command, progress=progress)
    job = WeldJob(scenario, dial, delay, feed, seed, min(seconds, OTHERS))
    many = partial(measure_many, workers=workers, executor=executor, progress=progress)
    rows = [_density_row(meter), _periods_row(meter)]
    numbers = figures(meter, travel)
    if spread:
        others = [step for step in MAINS_STEPS if step]
        found = many([_replaced(job, mains_factor=1.0 + 0.01 * step) for step in others], what="welds at other mains")
        at = {0: meter, **dict(zip(others, found, strict=True))}
        rows += [_case_row("mains", at[step], mains=0.01 * step) for step in MAINS_STEPS]
    if voltage_window:
        window = _window_rows(job, many)
        rows += window
        numbers |= window_numbers(window)
    return Answer(
        "weld",
        scenario,
        numbers,
        for_a_wire(scenario, verdicts(scenario, meter, numbers=numbers, rows=rows, travel=travel, others=job.seconds)),
        _assumptions(supply, seed=seed, seconds=seconds, feed=feed),
        rows=rows,
        runs={"window": run},
    )


def _check(scenario: Scenario, *, seconds: float, travel: float | None, voltage_window: bool) -> None:
    """Refuse what cannot be answered."""
    if not 0.0 < seconds < math.inf:
        raise QuestionError(f"a weld of {seconds:g} s says nothing", place="seconds", advice="ask for 1 s or more")
    if travel is not None and travel <= 0.0:
        raise QuestionError("a torch that stands has no heat per length", place="travel", advice="leave it out")
    if voltage_window and scenario.phase_control is None:
        raise QuestionError(
            "there is no dial",
            place="voltage window",
            advice=f"add a [phase_control], or go through taps: sweep --study weld --over {tap_key(scenario)}=...",
        )


def _replaced(job: WeldJob, **other: float | None) -> WeldJob:
    return dataclasses.replace(job, **other)  # type: ignore[arg-type]


def _weld(
    weld: Weld, seconds: float, *, save: str | Path | None, command: str, progress: Progress
) -> tuple[DipMeter, Run]:
    """The weld itself: measured, streamed where asked, its end kept."""
    meter, kept = meter_for(weld.supply), _Kept(SHOWN)
    whole = math.ceil(START + seconds)
    saver = WeldSaver(save, weld, command=command) if save is not None else None
    with saver or _NoFile():
        for length, counts in ((START, False), (seconds, True)):
            for part in weld.parts(length):
                if counts:
                    feed_meter(meter, part)
                if saver:
                    saver.add(part, counts=counts)
                kept.add(part)
                progress(min(int(weld.now), whole), whole, "seconds of the weld")
        if saver:
            saver.tell({name: (one.value, one.unit) for name, one in figures(meter).items()})
    return meter, run_of_parts(weld, kept.parts)


class _NoFile:
    """Stands where nothing is saved."""

    def __enter__(self) -> None:
        """Begin nothing."""

    def __exit__(self, *_: object) -> None:
        """End nothing."""


class _Kept:
    """The last parts of a weld, as many as are needed for so long [s]."""

    def __init__(self, length: float) -> None:
        self.length = length
        self.parts: list[WeldPart] = []

    def add(self, part: WeldPart) -> None:
        """Take the next part, forget what is too old."""
        since = float(part.time[-1]) - self.length
        self.parts = [_cut(one, since) for one in [*self.parts, part] if one.time[-1] >= since]


def _cut(part: WeldPart, since: float) -> WeldPart:
    first = int(np.searchsorted(part.time, since - 1e-9))
    waves = {name: wave[first:].copy() for name, wave in part.signals.items()}
    time, gap = part.time[first:].copy(), part.gap[first:].copy()
    return WeldPart(time, part.condition[first:].copy(), part.during[first:].copy(), gap, waves)


def figures(meter: DipMeter, travel: float | None = None) -> dict[str, Number]:
    """The numbers of one weld, by their public names."""
    length = meter.length
    power = meter.energy / length
    numbers = {
        "dip.rate": Number(dip_rate(meter), "1/s"),
        "dip.period.mean": Number(meter.period.mean, "s"),
        "dip.period.spread": Number(meter.period.spread, "1"),
        "short_circuit.duration.mean": Number(meter.duration.mean, "s"),
        "short_circuit.duration.max": Number(_known(meter.duration.largest), "s"),
        "short_circuit.current.mean": Number(meter.mean_current(SHORT), "A"),
        "short_circuit.voltage.mean": Number(meter.mean_voltage(SHORT), "V"),
        "short_circuit.peak_current.mean": Number(meter.peak.mean, "A"),
        "short_circuit.peak_current.max": Number(_known(meter.peak.largest), "A"),
        "short_circuit.peak_current.spread": Number(meter.peak.spread, "1"),
        "short_circuit.rupture_current.mean": Number(meter.rupture.mean, "A"),
        "short_circuit.current_rise.mean": Number(meter.rise.mean, "A/s"),
        "arc.current.mean": Number(meter.mean_current(ARC), "A"),
        "arc.voltage.mean": Number(meter.mean_voltage(ARC), "V"),
        "arc.least_current.mean": Number(meter.arc_minimum.mean, "A"),
        "arc.least_current.min": Number(_known(meter.arc_minimum.least), "A"),
        "arc.hold_limit": Number(meter.hold, "A"),
        "arc.below_hold.share": Number(meter.below_hold / max(meter.arc_minimum.count, 1), "1"),
        "arc.burnt_back.share": Number(meter.burnt_back_share, "1"),
        "arc.losses.rate": Number(meter.losses / length, "1/s"),
        "extinguished.share": Number(meter.share(NOTHING), "1"),
        "short_circuit.share": Number(meter.share(SHORT), "1"),
        "stubs.count": Number(meter.stubs, "1"),
        "output.current.mean": Number(meter.mean_current(), "A"),
        "output.current.rms": Number(math.sqrt(meter.squares[0] / meter.samples.sum()), "A"),
        "output.voltage.mean": Number(meter.mean_voltage(), "V"),
        "heat.power": Number(power, "W"),
    }
    return numbers if travel is None else numbers | {"heat.per_length": Number(power / travel, "J/m")}


def _known(value: float) -> float:
    """An extreme, unknown where nothing was counted."""
    return value if math.isfinite(value) else math.nan


def _case_row(kind: str, meter: DipMeter, **case: float | None) -> dict:
    """One weld among others, in short."""
    return {
        "kind": kind,
        **case,
        "current": meter.mean_current(),
        "voltage": meter.mean_voltage(),
        "dip_rate": dip_rate(meter),
        "short_duration": meter.duration.mean,
        "peak_current": meter.peak.mean,
        "extinguished": meter.share(NOTHING),
        "regular": not irregularities(meter),
        "reason": ", ".join(irregularities(meter)),
    }


def _window_rows(job: WeldJob, many: Callable[..., list[DipMeter]]) -> list[dict]:
    """The same weld over all dial settings, closer to each other where regular ones end."""
    coarse = _at_dials(job, [round(COARSE * k, 6) for k in range(round(1.0 / COARSE) + 1)], many)
    regular = [row["dial"] for row in coarse if row["regular"]]
    if not regular:
        regular = [max(coarse, key=lambda row: row["dip_rate"] * (1.0 - row["extinguished"]))["dial"]]
    steps = [COARSE * share for share in (0.25, 0.5, 0.75)]
    fine = {round(end + sign * step, 6) for end, sign in ((regular[0], -1), (regular[-1], 1)) for step in steps}
    return sorted([*coarse, *_at_dials(job, sorted(dial for dial in fine if 0.0 <= dial <= 1.0), many)], key=_dial)


def _dial(row: dict) -> float:
    return float(row["dial"])


def _at_dials(job: WeldJob, dials: list[float], many: Callable[..., list[DipMeter]]) -> list[dict]:
    """The weld at some dial settings."""
    found = many([_replaced(job, dial=dial, delay=None) for dial in dials], what="dial settings")
    return [
        _case_row("window", one, dial=dial, delay=delay_of(job.scenario, dial, None))
        for dial, one in zip(dials, found, strict=True)
    ]


def window_numbers(rows: list[dict]) -> dict[str, Number]:
    """Lowest and highest dial at which it runs regularly, with the voltages there; unknown where it never does."""
    regular = [row for row in rows if row["regular"]]
    first, last = (regular[0], regular[-1]) if regular else ({}, {})
    return {
        f"window.{what}.{end}": Number(row.get(what, math.nan), unit)
        for end, row in (("low", first), ("high", last))
        for what, unit in (("dial", "1"), ("voltage", "V"), ("current", "A"))
    }


def _density_row(meter: DipMeter) -> dict:
    """The cells of the volt-ampere picture that are not empty: their middles and their share of the time."""
    up, across = np.nonzero(meter.density)
    ampere, volt = meter.most_current / meter.bins, meter.most_voltage / meter.bins
    return {
        "kind": "density",
        "current": ((across + 0.5) * ampere).round(6).tolist(),
        "voltage": ((up + 0.5) * volt).round(6).tolist(),
        "share": (meter.density[up, across] / meter.density.sum()).tolist(),
        "cell_current": ampere,
        "cell_voltage": volt,
    }


def _periods_row(meter: DipMeter) -> dict:
    """The histogram of dip periods."""
    return {"kind": "periods", "width": PERIOD_BIN, "counts": meter.periods.tolist()}


def _assumptions(supply: WireSupply, *, seed: int, seconds: float, feed: float | None) -> list[str]:
    wire = supply.constants
    return [
        f"{seconds:g} s after a start of {START:g} s that is not counted, seed {seed}; feed "
        f"{60.0 * supply.fed(feed).feed:.3g} m/min, torch {1e3 * wire.height:.3g} mm above the work.",
        "Voltages at the arc circuit: behind the weld leads, with contact tube and extension. Figures from samples at "
        f"every tick of {1e6 * supply.tick:.0f} us, straight in between; the supply is exact in between.",
        "Regular: 20 to 200 dips a second, shorts of 1 to 10 ms (published for dip transfer), out at most 5 % of the "
        "time, hardly a short of 20 ms (common practice), dip periods less spread than those of chance.",
        "Wire, drop, bridge and arc follow simple rules whose constants are assumed; differences between supplies can "
        "be trusted more than any one figure.",
        "A supply model cannot tell bead, penetration, porosity or spatter as mass. The current at rupture is shown as "
        "the figure that goes with spatter, no more.",
    ]
