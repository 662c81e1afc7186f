"""What a trace that agrees does not show: faults and worn parts that change it by less than counts as a difference."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from weldsim.analysis.folding import BINS, folded, least_remainder
from weldsim.errors import WeldsimError
from weldsim.frozen import dataclass
from weldsim.studies.compare_causes import Value, Variation, faults_of, values_of
from weldsim.studies.compare_fits import SIGNS, Case, Trial
from weldsim.studies.compare_telling import MEASURABLE, waves_of
from weldsim.studies.progress import Progress

WORN = {  # what parts come to, as a factor (common practice: half a bank, shorted turns, a bad joint)
    "bank.capacitance": 0.5,
    "bank.resistance": 3.0,
    "choke.inductance": 0.5,
    "weld_leads.contact_resistance": 3.0,
}
OFF = {"delay": 5.0, "phase_control.asymmetry": 5.0}  # [deg] by which firing drifts (likewise)


@dataclass(frozen=True, eq=False)
class Unseen:
    """A fault or worn part, and what it changes of the trace, over its rms."""

    words: str
    takes: str
    changes: float
    case: Case

    def row(self) -> dict[str, Any]:
        """A case of the answer."""
        return {"kind": "unseen", "cause": self.words, "takes": self.takes, "changes": self.changes}


@dataclass(frozen=True)
class Shown:
    """The signal that shows most of what is unseen, and how much of it."""

    signal: str
    count: int


def unseen(trial: Trial, written: Case, *, least: float, progress: Progress) -> list[Unseen]:
    """Faults and worn parts that change the trace by less than ``least`` of its rms, the least of them first."""
    found = []
    candidates: list[tuple[str, str, Variation]] = [(one.words, "", one.variation) for one in faults_of(trial.scenario)]
    for value in values_of(trial.scenario, trial.delay):
        candidates += [(value.words, value.spoken(worn), value.change(worn)) for worn in _worn(value)]
    for number, (words, takes, variation) in enumerate(candidates):
        progress(number, len(candidates), "what would not be seen")
        try:
            case = trial.case(variation)  # from rest, as in the search: with a fault there may be several states
        except (WeldsimError, KeyError, ValueError):  # as in the search: it cannot be simulated, or has no such signal
            continue
        changes = _apart(written.wave, case.wave)
        if changes <= least:
            found.append(Unseen(words, takes, changes, case))
    return sorted(found, key=lambda one: one.changes)


def _worn(value: Value) -> list[float]:
    """What a value comes to when its part is worn; nothing of those that do not wear."""
    if not value.starts_inside:
        return []
    if value.key in WORN:
        return [value.written * WORN[value.key]]
    return [value.written + OFF[value.key]] if value.key in OFF else []


def _apart(one: np.ndarray, other: np.ndarray) -> float:
    """What remains of a wave under another at the best shift, over its rms; the probe may be reversed."""
    places = (np.arange(BINS) + 0.5) / BINS
    size = math.sqrt(float(np.mean(one**2)))
    trace = folded(places, one, 1.0)
    return min(least_remainder(trace, other, sign=sign) for sign in SIGNS) / size if size > 0.0 else 0.0


def shown_by(written: Case, found: Sequence[Unseen], *, signal: str, least: float) -> Shown | None:
    """The other signal in which most of them make a difference; None where none does."""
    has = [{one.name for one in case.supply.system.signals} for case in (written, *(one.case for one in found))]
    names = [name for name in MEASURABLE if name != signal and all(name in one for one in has)]
    own = waves_of(written, names)
    counts = dict.fromkeys(names, 0)
    for one in found:
        for name, before, after in zip(names, own, waves_of(one.case, names), strict=True):
            counts[name] += _apart(before, after) > least
    best = max(names, key=lambda name: counts[name], default="")
    return Shown(best, counts[best]) if best and counts[best] else None
