"""Which other signal tells two causes apart: all that can be measured, of both simulations, laid over each other."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from weldsim.analysis.folding import BINS, folded, least_remainder
from weldsim.frozen import dataclass
from weldsim.studies.compare_fits import SIGNS, Case, Found
from weldsim.studies.compare_fits import waves as sampled

MEASURABLE = (
    "output.voltage",
    "output.current",
    "terminal.voltage",
    "bank.voltage",
    "bank.current",
    "choke.current",
    "boost.current",
    "secondary.voltage",
    "secondary.current",
    "phase_control.voltage",
    "primary.current",
    "plug.voltage",
)
SEEN = 0.02  # of the rms: by less nobody tells two traces apart
SAME = 1e-3  # of the rms: what flows through blocked parts, and leakage
MOST_TOLD = 4  # signals
TRIED = 4  # causes beside the first, until one can be told from it
DUST = 1e-3  # of the rms: a mean below it is none


@dataclass(frozen=True)
class Telling:
    """A signal under the first cause and under another, ``against``: mean and rms of each, and how far ``apart``.

    That is the rms of their difference at its least over all shifts, over the larger rms; the probe may be reversed,
    and a fault may sit in the other half wave.
    """

    signal: str
    unit: str
    against: str
    first: tuple[float, float]
    second: tuple[float, float]
    apart: float

    def row(self) -> dict[str, Any]:
        """A case of the answer."""
        return {
            "kind": "telling",
            "signal": self.signal,
            "unit": self.unit,
            "against": self.against,
            "first_mean": self.first[0],
            "first_rms": self.first[1],
            "second_mean": self.second[0],
            "second_rms": self.second[1],
            "apart": self.apart,
        }


def telling(written: Case, causes: Sequence[Found], *, signal: str) -> list[Telling]:
    """The signals by which the first cause differs from the second, or the next that can be told, the clearest first.

    A fault of the measurement leaves the supply as it is written; then the same current in another place tells it.
    Else what carries the same as the captured signal (a choke in series with the output) is left out.
    """
    for other in causes[1 : 1 + TRIED]:
        if found := _between(written, (causes[0], other), signal=signal):
            return found
    return []


def _between(written: Case, pair: tuple[Found, Found], *, signal: str) -> list[Telling]:
    cases = [one.case or written for one in pair]
    units = [{one.name: one.unit for one in case.supply.system.signals} for case in (*cases, written)]
    names = [name for name in MEASURABLE if name != signal and all(name in one for one in units)]
    if all(one.case is not None for one in pair):
        own = waves_of(written, names)
        names = [name for name, wave in zip(names, own, strict=True) if not _same(wave, written.wave)]
    sides = [waves_of(case, names) for case in cases]
    against = pair[1].words
    found = [_told(name, units[0][name], against, waves=both) for name, *both in zip(names, *sides, strict=True)]
    return sorted((one for one in found if one.apart > SEEN), key=lambda one: -one.apart)[:MOST_TOLD]


def waves_of(case: Case, names: Sequence[str]) -> np.ndarray:
    """Signals of a case over its period, a row each."""
    return sampled(case.supply, case.settled, delay=case.delay, names=names)


def _same(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether two signals of the supply as written are one current, or one voltage."""
    return float(np.mean((one - other) ** 2)) <= SAME**2 * float(np.mean(other**2))


def _told(name: str, unit: str, against: str, *, waves: Sequence[np.ndarray]) -> Telling:
    """One signal under both."""
    one, other = waves
    first, second = _mean_and_rms(one), _mean_and_rms(other)
    largest = max(first[1], second[1])
    places = (np.arange(BINS) + 0.5) / BINS
    trace = folded(places, one, 1.0)
    apart = min(least_remainder(trace, other, sign=sign) for sign in SIGNS) / largest if largest > 0.0 else 0.0
    return Telling(name, unit, against, first, second, apart)


def _mean_and_rms(wave: np.ndarray) -> tuple[float, float]:
    mean, rms = float(wave.mean()), math.sqrt(float((wave**2).mean()))
    return (mean if abs(mean) > DUST * rms else 0.0), rms
