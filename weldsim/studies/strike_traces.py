"""Waveforms of a typical strike and a typical failure, with their moments named."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.wire_runs import CONDITIONS, REASONS, Trial, WireRun, WireSupply, phase_of

AFTER = 0.1  # [s] shown after the stable arc has begun
MOST_MOMENTS = 12  # told of a trace; a fluttering arc has hundreds
NAMED = {
    ("clear", "touching"): "first touch",
    ("touching", "burning"): "contact parts",
    ("burning", "bridged"): "drop touches",
    ("bridged", "burning"): "bridge parts",
    ("bridged", "touching"): "wire runs through",
    ("burning", "touching"): "wire touches",
    ("burning", "out"): "arc lost",
    ("out", "burning"): "arc back by itself",
    ("out", "touching"): "next touch",
}


@dataclass(frozen=True, eq=False)
class StrikeTrace:
    """One trial's waveforms, ``time`` [s] from the trigger, and its moments."""

    case: str
    trial: Trial
    time: np.ndarray
    condition: np.ndarray
    gap: np.ndarray
    signals: dict[str, np.ndarray]
    moments: list[tuple[float, str]]

    @property
    def name(self) -> str:
        """In a few words, for a heading."""
        who = {"with_boost": "with the boost", "without_boost": "without the boost"}.get(self.case, "")
        what = "struck" if self.trial.struck else f"failed: {self.trial.reason}"
        return f"trial {self.trial.trial} {who}".rstrip() + f", {what}"

    def rows(self) -> Iterator[dict[str, Any]]:
        """Its first moments and the last one as cases of the answer."""
        told = [*self.moments[:MOST_MOMENTS], *self.moments[MOST_MOMENTS:][-1:]]
        for time, what in told:
            yield {
                "kind": "moment",
                "case": self.case or "as it is",
                "trial": self.trial.trial,
                "time": time,
                "moment": what,
            }


def typical_traces(
    supply: WireSupply, done: Sequence[Trial], *, case: str, seed: int, delay: float | None, feed: float | None
) -> list[StrikeTrace]:
    """The strike whose time is the median, and the first failure of the most frequent reason."""
    chosen = []
    struck = sorted((one for one in done if one.struck), key=lambda one: (one.time_to_arc, one.trial))
    if struck:
        chosen.append(struck[(len(struck) - 1) // 2])
    failed = [one for one in done if not one.struck]
    if failed:
        commonest = max(REASONS, key=lambda reason: sum(one.reason == reason for one in failed))
        chosen.append(next(one for one in failed if one.reason == commonest))
    return [_trace(supply, one, case=case, seed=seed, delay=delay, feed=feed) for one in chosen]


def _trace(
    supply: WireSupply, trial: Trial, *, case: str, seed: int, delay: float | None, feed: float | None
) -> StrikeTrace:
    """The same trial again, recorded at every tick."""
    phase = phase_of(seed, trial.trial)
    run = WireRun(supply, seed=seed, trial=trial.trial, delay=delay, feed=feed, phase=phase, every=1)
    run.run(stop_when_struck=True)
    record = run.record[: int(run.count[12])]
    if trial.struck:
        record = record[record[:, 0] <= trial.time_to_arc + AFTER]
    condition = record[:, 1].astype(int)
    signals = {name: record[:, 3 + k] for k, name in enumerate(supply.recorded)}
    return StrikeTrace(
        case, trial, record[:, 0], condition, record[:, 2], signals, _moments(record[:, 0], condition, trial)
    )


def _moments(time: np.ndarray, condition: np.ndarray, trial: Trial) -> list[tuple[float, str]]:
    """What happened when: the trigger, the changes of the wire's end, the begin of the stable arc."""
    changes = np.flatnonzero(np.diff(condition)) + 1
    found = [(0.0, "trigger")]
    ends = [CONDITIONS[k] for k in condition]
    found += [(float(time[k]), NAMED.get((ends[k - 1], ends[k]), "change")) for k in changes]
    if trial.struck:
        found.append((trial.time_to_arc, "stable arc begins"))
    return sorted(found, key=lambda one: one[0])
