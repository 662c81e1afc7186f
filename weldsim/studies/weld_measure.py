"""Welds measured: one setting as a job that any executor can do, and when dip transfer counts as regular."""

from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from weldsim.analysis.dips import ARC, NOTHING, SHORT, DipMeter
from weldsim.frozen import dataclass
from weldsim.runs.commands import with_dial
from weldsim.runs.crew import Crew
from weldsim.runs.weld_runs import Weld, WeldPart
from weldsim.runs.wire_runs import CONDITIONS, WireSupply, delay_of
from weldsim.scenario.document import Scenario
from weldsim.studies.progress import Progress, silent

START = 0.5  # [s] from the trigger, not counted: bank, feed motor and arc length settle
RATES = (20.0, 200.0)  # [1/s] dips of short-circuit transfer, published for wires of 0.76 to 1.1 mm
SHORTS = (1e-3, 10e-3)  # [s] mean duration of its shorts
MOST_OUT = 0.05  # share of the time without arc or contact; common practice, no published source
FLUTTER = "flutter"  # the fault of an arc that is out for longer
BURNT_BACK = "burnt back"  # the fault of an arc that is longer than the torch is high
MOST_BURNT_BACK = 1e-3  # share of the time; more is no touch of it (a choice of this project)
MOST_SPREAD = 1.0  # of the dip period; events by chance have 1
_KIND_OF = {"clear": NOTHING, "touching": SHORT, "burning": ARC, "bridged": SHORT, "out": NOTHING}
KINDS = np.array([_KIND_OF[name] for name in CONDITIONS])
BURNING, OUT = CONDITIONS.index("burning"), CONDITIONS.index("out")


@dataclass(frozen=True)
class WeldJob:
    """One weld to be measured, small enough to be handed to another process."""

    scenario: Scenario
    dial: float | None = None
    delay: float | None = None
    feed: float | None = None
    seed: int = 1
    seconds: float = 2.0
    mains_factor: float = 1.0


def meter_for(supply: WireSupply) -> DipMeter:
    """A dip meter for the wire of a supply."""
    wire = supply.constants
    return DipMeter(tick=supply.tick, hold=wire.falling_current, height=wire.height)


def feed_meter(meter: DipMeter, part: WeldPart) -> None:
    """Let the meter see another part of the weld."""
    current, voltage = part.signals["output.current"], part.signals["output.voltage"]
    lost = (part.during == BURNING) & (part.condition == OUT)
    meter.feed(KINDS[part.during], current, voltage, gap=part.gap, bank=part.signals.get("bank.voltage"), lost=lost)


def measure(job: WeldJob) -> DipMeter:
    """The dips of one weld, its start left out, on a supply of its own."""
    supply = WireSupply(with_dial(job.scenario, job.dial))
    asked = delay_of(job.scenario, job.dial, job.delay)
    weld = Weld(supply, delay=asked, feed=job.feed, seed=job.seed, mains_factor=job.mains_factor)
    for _ in weld.parts(START):
        pass
    meter = meter_for(supply)
    for part in weld.parts(job.seconds):
        feed_meter(meter, part)
    return meter


def measure_many(
    jobs: Sequence[WeldJob],
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress = silent,
    what: str = "welds",
) -> list[DipMeter]:
    """All jobs, in their order; the same numbers whatever the workers (see ``Crew``)."""
    with Crew(workers, executor) as crew:
        return crew.all_done(measure, jobs, progress=progress, what=what)


def dip_rate(meter: DipMeter) -> float:
    """Shorts per second [1/s]."""
    return meter.duration.count / meter.length


def irregularities(meter: DipMeter) -> dict[str, str]:
    """What keeps a weld from being regular dip transfer, each in a word and in a phrase; empty where it is."""
    rate, short, out = dip_rate(meter), 1e3 * meter.duration.mean, 100.0 * meter.share(NOTHING)
    if meter.share(ARC) == 0.0 and meter.mean_current() < meter.hold:
        return {"no current": "the wire never strikes"}
    found = {}
    if meter.burnt_back_share > MOST_BURNT_BACK:
        found[BURNT_BACK] = (
            f"the wire burns back into the contact tube ({100.0 * meter.burnt_back_share:.3g} % of the time)"
        )
    if meter.stubs > 0.02 * max(meter.duration.count, 1) or meter.share(SHORT) > 0.9:
        found["stubbing"] = f"it stubs ({meter.stubs} shorts of 20 ms and more)"
    if rate < RATES[0]:
        found["few dips"] = f"only {rate:.3g} dips a second" + (", the arc is long" if meter.share(ARC) > 0.5 else "")
    elif rate > RATES[1]:
        found["many dips"] = f"{rate:.3g} dips a second, more than short-circuit transfer has"
    if not 1e3 * SHORTS[0] <= short <= 1e3 * SHORTS[1] and meter.duration.count:
        found["long shorts" if short > 1e3 * SHORTS[1] else "brief shorts"] = f"shorts of {short:.3g} ms"
    if out > 100.0 * MOST_OUT:
        found[FLUTTER] = f"the arc is out {out:.3g} % of the time"
    if meter.period.spread > MOST_SPREAD:
        found["no rhythm"] = f"dip periods spread by {100.0 * meter.period.spread:.0f} %, more than those of chance"
    return found
