"""Two measured sheets as cores of unloaded transformers, switched on at the crest: the last cycle is the closed loop.

Then the flux is a sine about zero from the first cycle on.  One litre of iron: joules of the ledger are kJ/m3.  What of
the measurements the sheets' constants were fitted to is told in weldsim/parts/measured_sheets.py; the conditions below
say "fitted" where it was.
"""

import csv
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np

from weldsim.frozen import dataclass
from weldsim.parts.loop_fit import FittedLoop
from weldsim.parts.measured_sheets import GRAIN_ORIENTED, NON_ORIENTED
from weldsim.studies.proofs.bench import Reading, Reference, Row, from_rest, side_by_side

SUBSYSTEM = "iron, measured loops"
DATA = Path(__file__).resolve().parents[2] / "data"
MU_0 = 4e-7 * math.pi
TURNS, SECTION, PATH = 200, 20e-4, 0.5
RING_DENSITY = 7600.0  # [kg/m3]
SAMPLES = 1000  # in the last cycle
RING = "open measurements of a ring of non-oriented sheet (statordata, MIT licence)"
SHEET = "open measurements of grain-oriented sheet (R. Szewczyk, MIT licence)"
INSTRUMENT = {1: (56.0, 0.351, 49.5e-3), 2: (55.6, 0.355, 50.1e-3)}  # the ring tester's A/m, T, J/kg of each stack
# What is fair for either set: see weldsim/data/README.md.
LOOP, INNER, OUTER, REMANENCE, PEAK_FIELD, EXCITING = 0.05, 0.10, 0.15, 0.06, 0.02, 0.05
STACKS_APART = {1: 0.0, 2: 0.03, 3: 0.08}  # by which the peak fields of the stacks differ from the first, measured

CORE = """
[mains]
voltage = "{voltage!r} V"
frequency = "50 Hz"
[transformer]
primary_turns = 200
secondary_turns = 20
[core]
section = "20 cm2"
path_length = "0.5 m"
magnetising_curve = [{curve}]
hysteresis = [{stops}]
[start]
mains_phase = "90 deg"
"""


@dataclass(frozen=True)
class Loop:
    """One closed loop from its upper tip down and back up: field [A/m] and flux density [T]."""

    field: np.ndarray
    density: np.ndarray

    @property
    def area(self) -> float:
        """Loss of a cycle [J/m3] by trapezoids."""
        return float(np.sum(0.5 * (self.field[1:] + self.field[:-1]) * np.diff(self.density)))

    @property
    def coercive_field(self) -> float:
        """Half the distance of the two branches at zero flux density [A/m]."""
        return _half_distance(self.density, self.field)

    @property
    def remanence(self) -> float:
        """Half the distance of the two branches at zero field [T]."""
        return -_half_distance(self.field, self.density)


def _half_distance(zeroed: np.ndarray, read: np.ndarray) -> float:
    """Half of what ``read`` is more where ``zeroed`` rises through zero than where it falls."""
    return 0.5 * (_passing(zeroed, read, rising=True) - _passing(zeroed, read, rising=False))


def _passing(zeroed: np.ndarray, read: np.ndarray, *, rising: bool) -> float:
    """Value of ``read`` where ``zeroed`` first passes zero upward or downward."""
    before, after = zeroed[:-1], zeroed[1:]
    k = int(np.argmax((before < 0.0) & (after >= 0.0) if rising else (before > 0.0) & (after <= 0.0)))
    return float(read[k] + zeroed[k] / (zeroed[k] - zeroed[k + 1]) * (read[k + 1] - read[k]))


@cache
def last_cycle(fit: FittedLoop, peak: float) -> tuple[Loop, float]:
    """The last of three cycles between -peak and peak [T], and its loss by the ledger [J/m3].

    A peak beyond the end of the sheet's curve is cut to it (1.4915 T for 1.494 T): what follows there is air.
    """
    peak = min(peak, fit.curve[-1][0] * (1.0 - 1e-6))
    first = [(b, h + sum(min(b / reach, 1.0) * limit for limit, reach in fit.stops)) for b, h in fit.curve[1:]]
    curve = ", ".join(f'{{field = "{h!r} A/m", flux_density = "{b!r} T"}}' for b, h in first)
    stops = ", ".join(f'{{field = "{limit!r} A/m", flux_density = "{reach!r} T"}}' for limit, reach in fit.stops)
    voltage = 100.0 * math.pi * TURNS * SECTION * peak / math.sqrt(2.0)
    recording = from_rest(CORE.format(voltage=voltage, curve=curve, stops=stops), 0.06, window=0.02)
    begin, end = recording.window
    names = ["core.magnetising_current", "core.flux_density"]
    current, density = recording.trace.sample(names, begin, spacing=0.02 / SAMPLES, count=SAMPLES)
    field, tip = current * TURNS / PATH, int(np.argmax(density))
    loop = Loop(*(np.concatenate([wave[tip:], wave[: tip + 1]]) for wave in (field, density)))
    lost = recording.trace.integrals(begin, end).energies()["loss"]["core hysteresis"]
    return loop, lost / (SECTION * PATH)


def _measured(name: str) -> np.ndarray:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return np.array([[float(value) for value in row] for row in list(csv.reader(file))[1:]])


def _peak(density: np.ndarray) -> float:
    """The lesser of the two tips of a measured loop [T]."""
    return float(min(density.max(), -density.min()))


def _rows(condition: str, theirs: Mapping[str, float], source: str) -> list[Reference]:
    return [
        Reference("iron", condition, quantity, value, "", source, "measured", "published")
        for quantity, value in theirs.items()
    ]


def nested() -> list[Row]:
    """Three nested loops of grain-oriented sheet, all of them fitted: what constant friction can do at once."""
    table = _measured("go_steel_minor_loops/m130_27s_loops.csv")
    rows, peaks = [], {}
    for number in (1, 2, 3):
        loop = Loop(*table[table[:, 0] == number][:, 1:].T)
        condition = f"grain-oriented, loop {number} of 3 (fitted)"
        peaks[condition] = _peak(loop.density)
        theirs = {
            "coercive field": loop.coercive_field,
            "loss of a cycle": loop.area,
            "remanence": loop.remanence,
            "field at the tip": float(loop.field.max()),
        }
        rows += _rows(condition, theirs, SHEET)

    def measure(condition: str) -> dict[str, Reading]:
        loop, lost = last_cycle(GRAIN_ORIENTED, peaks[condition])
        fair = OUTER if "loop 3" in condition else INNER
        return {
            "coercive field": Reading(loop.coercive_field, fair),
            "loss of a cycle": Reading(lost, fair),
            "remanence": Reading(loop.remanence, REMANENCE),
            "field at the tip": Reading(float(loop.field.max()), REMANENCE),
        }

    return side_by_side(SUBSYSTEM, rows, measure)


def ring() -> list[Row]:
    """Outer loop of two stacks of one non-oriented sheet: the first was fitted, the second was not."""
    rows, peaks = [], {}
    for stack, (coercive, remanence, energy) in INSTRUMENT.items():
        table = _measured(f"no20_ring_loops/dc_loop_lam{stack}.csv")
        condition = f"non-oriented, stack {stack}" + (" (fitted)" if stack == 1 else "")
        peaks[condition] = _peak(table[:, 1] + MU_0 * table[:, 0])
        theirs = {"coercive field": coercive, "remanence": remanence, "loss per mass and cycle": energy}
        rows += _rows(condition, theirs, RING)

    def measure(condition: str) -> dict[str, Reading]:
        loop, lost = last_cycle(NON_ORIENTED, peaks[condition])
        return {
            "coercive field": Reading(loop.coercive_field, LOOP),
            "remanence": Reading(loop.remanence, LOOP),
            "loss per mass and cycle": Reading(lost / RING_DENSITY, LOOP),
        }

    return side_by_side(SUBSYSTEM, rows, measure)


def ring_at_50_hertz() -> list[Row]:
    """Sinusoidal flux on three stacks, not fitted: peak field from 0.7 to 1.6 T, exciting power above 1.5 T."""
    table = _measured("no20_ring_loops/ac_sine_losses.csv")
    rows, peaks = [], {}
    for stack, _, polarisation, field, _, power, *_ in table[(table[:, 1] == 50.0) & (table[:, 2] > 0.69)]:
        condition = f"non-oriented, stack {stack:.0f}, 50 Hz, {polarisation:.4g} T"
        peaks[condition] = float(polarisation + MU_0 * field)
        theirs = {"peak field": field} | ({"exciting power per mass": power} if polarisation > 1.5 else {})
        rows += _rows(condition, theirs, RING)

    def measure(condition: str) -> dict[str, Reading]:
        loop, _ = last_cycle(NON_ORIENTED, peaks[condition])
        apart = STACKS_APART[int(condition.split()[2].strip(","))]
        rate = 100.0 * math.pi * peaks[condition] / math.sqrt(2.0)
        exciting = float(np.sqrt(np.mean(loop.field[1:] ** 2))) * rate / RING_DENSITY
        return {
            "peak field": Reading(float(loop.field.max()), PEAK_FIELD + apart),
            "exciting power per mass": Reading(exciting, EXCITING + apart),
        }

    return side_by_side(SUBSYSTEM, rows, measure)
